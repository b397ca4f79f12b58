"""How long a quote takes, from the open database to the whole answer, by pieces of history.

    PYTHONPATH=. python tests/benchmarks/bench_quoting.py [PIECES …]

A made-up database of that many pieces (eight operations and six layers of material each, as in the demo) is read,
fitted and asked in one process whose libraries are loaded; the first line is a small shop's, to compare with.
"""

import statistics
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

# before numpy is loaded, as in the tool: small matrices are slow on many threads
import pipeline  # noqa: F401  isort: skip

import duckdb
import polars as pl

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from made_shops import made_shop

from pipeline.database import create_given
from pipeline.database.run import run_models
from pipeline.quoting.context import context_of
from pipeline.quoting.quote import quote
from pipeline.quoting.request import Request
from pipeline.shop import load

TODAY = date(2026, 1, 1)
OPERATIONS = ("sawing", "surfacing", "carving", "gluing", "pouring", "sanding", "finishing", "assembly")
LAYERS = ("wood", "resin", "resin waste", "abrasive", "finish", "hardware")
ASKED = Request("tray", "walnut", "oil", "400", "300", "30", quantity=3, carving_minutes=20, setup_minutes=30)
TIMES = 5

PERSON = {"name": "ada", "from_date": date(2024, 1, 1), "rate_cents": 2_500, "paid": False}
FEES = ("share_ppm", "fixed_cents", "payment_share_ppm", "payment_fixed_cents", "tax_ppm", "booth_share_ppm")
FEES += ("shipping_charged_cents", "shipping_paid_cents")
CHANNELS = [
    {"channel": name, "from_date": date(2024, 1, 1), "tax_by": "us", **dict(zip(FEES, fees, strict=True))}
    for name, fees in (
        ("web", (65_000, 20, 30_000, 25, 0, 0, 500, 800)),
        ("market", (0, 0, 20_000, 10, 0, 40_000, 0, 0)),
    )
]


def fill(con: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    con.register("_rows", rows)
    con.execute(f"insert into {table} by name from _rows")
    con.unregister("_rows")


def database(folder: Path, pieces: int) -> Path:
    """A database with every table, those of a quote filled."""
    history = made_shop(1, pieces).with_columns(own_labour_cents="labour_cents")
    steps = [("bench", step, 1 / len(OPERATIONS)) for step in OPERATIONS]
    steps += [("material", step, 1 / len(LAYERS)) for step in LAYERS]
    parts = pl.DataFrame(steps, schema=["split_of", "step", "mean_share"], orient="row")
    split = history.group_by("product").len("pieces").join(parts, how="cross")
    path = folder / f"{pieces}.duckdb"
    with duckdb.connect(str(path)) as con:
        create_given(con)
        run_models(con, lambda _: None)
        fill(con, "price.history", history)
        fill(con, "settings.person_rate", pl.DataFrame([PERSON]))
        fill(con, "price.channel", pl.DataFrame(CHANNELS))
        fill(con, "price.split", split)
    return path


def main() -> None:
    sizes = [int(text) for text in sys.argv[1:]] or [200, 10_000]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "shop.toml").write_text("start = 2024-01-01\n", encoding="utf-8")
        shop = load(folder)
        first = None
        for pieces in sizes:
            path = database(folder, pieces)
            steps: dict[str, list[float]] = {"read": [], "fit": [], "answer": [], "all": []}
            for _ in range(TIMES + 1):
                with duckdb.connect(str(path), read_only=True) as con:
                    con.execute("select 1").fetchall()
                    begin = time.perf_counter()
                    opened = context_of(shop, con, TODAY)
                    read = time.perf_counter()
                    _ = opened.predictor
                    fitted = time.perf_counter()
                    quote(opened, ASKED)
                    done = time.perf_counter()
                took = (read - begin, fitted - read, done - fitted, done - begin)
                for step, seconds in zip(steps, took, strict=True):
                    steps[step].append(1000 * seconds)
            # the first round loads libraries
            middle = {step: statistics.median(values[1:]) for step, values in steps.items()}
            first = first or middle["all"]
            told = ", ".join(f"{step} {ms:.0f} ms" for step, ms in middle.items())
            print(f"{pieces:>7,} pieces: {told} ({middle['all'] / first:.1f} times the first)")


if __name__ == "__main__":
    main()
