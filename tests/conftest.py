"""What several areas of the tests share: a tiny shop, one with a database made by hand, and the demo shop."""

from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline import database
from pipeline.commands import main
from pipeline.database.plan import read_plan
from pipeline.database.run import run_checks, run_models
from tests.refreshed import refreshed

TINY_SHOP = """
name = "Two Benches"
currency = "EUR"
start = 2026-01-01

[[people]]
name = "Ada"
rate = 30
"""


@pytest.fixture
def tiny_shop(tmp_path: Path) -> Path:
    """A shop folder with a `shop.toml` and an empty inbox."""
    folder = tmp_path / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    return folder


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Callable[..., duckdb.DuckDBPyConnection]]:
    """`books('currency = "EUR" …', sales="date,…\\n…")` → the published database of a shop with just those files.

    The settings are the text of `shop.toml`; each record is the text of a canonical CSV. It fails where a row is set
    aside or a check of severity error finds something. A second call changes the files and refreshes again.
    """
    folder = tmp_path / "books"
    opened: list[duckdb.DuckDBPyConnection] = []

    def begun(settings: str, **records: str) -> duckdb.DuckDBPyConnection:
        (folder / "inbox").mkdir(parents=True, exist_ok=True)
        (folder / "shop.toml").write_text(settings, encoding="utf-8")
        for name, text in records.items():
            (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
        refreshed(folder)
        con = database.open_newest(folder)
        opened.append(con)
        assert con.execute("from intake.rejected").fetchall() == []
        return con

    yield begun
    for con in opened:
        con.close()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop with its published database, made once for all tests. Read it only."""
    folder = tmp_path_factory.mktemp("demo") / "demo-shop"
    assert main(["demo", str(folder), "--no-show"]) == 0
    return folder


@pytest.fixture(scope="session")
def empty() -> Iterator[duckdb.DuckDBPyConnection]:
    """Every table over no records: that alone proves that all models parse and bind."""
    with duckdb.connect() as con:
        database.create_given(con)
        run_models(con, lambda _: None)
        run_checks(con)
        yield con


TRACE = {
    "on_date": "DATE", "row_id": "BIGINT", "paid_row_id": "BIGINT", "from_place": "VARCHAR", "to_place": "VARCHAR",
    "layer": "VARCHAR", "origin": "VARCHAR", "operation": "VARCHAR", "piece": "VARCHAR", "lot": "VARCHAR",
    "item": "VARCHAR", "cents": "BIGINT", "quantity": "BIGINT", "unit": "VARCHAR", "rework": "BOOLEAN",
    "assumed": "BOOLEAN", "estimated": "BOOLEAN",
}  # fmt: skip
PIECE = {
    "piece": "VARCHAR", "product": "VARCHAR", "species": "VARCHAR", "finish": "VARCHAR", "quantity": "BIGINT",
    "made_cents": "BIGINT", "unit_cents": "BIGINT", "logged_share": "DOUBLE", "assumed_share": "DOUBLE",
    "estimated_share": "DOUBLE",
}  # fmt: skip
HOURS = {"row_id": "BIGINT", "seconds": "BIGINT", "driver": "VARCHAR", "attended": "BOOLEAN"}
SHARE = {"row_id": "BIGINT", "piece": "VARCHAR", "seconds": "BIGINT", "shared_by": "VARCHAR", "assumed": "BOOLEAN"}
RESULT = {"name": "VARCHAR", "severity": "VARCHAR", "rows": "BIGINT", "meaning": "VARCHAR", "example": "VARCHAR"}
BENCH_PAY = {"piece": "VARCHAR", "bench_pay_cents": "BIGINT"}
LINE = {"piece": "VARCHAR", "layer": "VARCHAR", "operation": "VARCHAR", "usual_cents": "BIGINT"}
BY_HAND = {
    "work.unmeasured": {"row_id": "BIGINT", "item": "VARCHAR"},
    "money.untaxed": {"channel": "VARCHAR", "sales": "BIGINT", "first_on": "DATE"},
    "work.lot": {"lot_id": "BIGINT", "flow": "VARCHAR", "item": "VARCHAR"},
    "work.item": {"item": "VARCHAR", "unit": "VARCHAR"},
    "cost.lot": {"lot_id": "BIGINT", "item": "VARCHAR", "landed_cents": "BIGINT"},
    "cost.piece_line": LINE,
    "work.hours_missing": {"row_id": "BIGINT"}, "work.machine_missing": {"row_id": "BIGINT"},
    "work.use_missing": {"row_id": "BIGINT", "flow": "VARCHAR"},
    "work.pour": {"row_id": "BIGINT", "mix_estimated": "BOOLEAN"},
    "money.bench_pay": BENCH_PAY,
    "cost.trace": TRACE, "cost.piece": PIECE, "work.hours": HOURS, "work.hours_piece": SHARE, "checks.result": RESULT,
}  # fmt: skip


@pytest.fixture
def published(tiny_shop: Path) -> Callable[..., Path]:
    """`published(cost__trace=[{…}], intake__row=[{…}])` publishes a database with just those rows; gives the shop."""

    def publish(**tables: list[dict[str, object]]) -> Path:
        with database.draft(tiny_shop) as draft:
            draft.con.execute(read_plan().macros)
            for table, columns in BY_HAND.items():
                draft.con.execute(f"create schema if not exists {table.partition('.')[0]}")
                draft.con.execute(f"create table {table} ({', '.join(f'{c} {t}' for c, t in columns.items())})")
            for name, rows in tables.items():
                _insert(draft.con, name.replace("__", ".", 1), rows)
            draft.publish()
        return tiny_shop

    return publish


def _insert(con: duckdb.DuckDBPyConnection, table: str, rows: list[dict[str, object]]) -> None:
    con.register("_rows", pl.DataFrame(rows, infer_schema_length=None))
    con.execute(f"insert into {table} by name from _rows")
    con.unregister("_rows")
