"""A shop folder and an open database with a made-up history, for the tests of quotes."""

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
from made_shops import made_shop

TODAY = date(2026, 1, 1)
PERSON = {"name": "ada", "from_date": date(2024, 1, 1), "rate_cents": 2_500, "paid": False}
FREE = {"share_ppm": 0, "fixed_cents": 0, "payment_share_ppm": 0, "payment_fixed_cents": 0, "tax_by": "us", "sales": 0}
FREE |= {"tax_ppm": 0, "booth_share_ppm": 0, "shipping_charged_cents": 0, "shipping_paid_cents": 0}
OPERATIONS = ("sawing", "carving", "sanding", "finishing")


def channel(name: str, day: date = date(2024, 1, 1), **fees: Any) -> dict[str, Any]:
    return {"channel": name, "from_date": day} | FREE | fees


def fill(con: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    con.register("_rows", rows)
    con.execute(f"insert into {table} by name from _rows")
    con.unregister("_rows")


def history(pieces: int = 200) -> pl.DataFrame:
    """Own labour is not paid out, and prices keep no habit."""
    odd = pl.int_range(pl.len()) * 37 % 101
    return made_shop(3, pieces).with_columns(own_labour_cents="labour_cents", price_cents=pl.col("price_cents") + odd)


def fill_all(con: duckdb.DuckDBPyConnection, channels: list[dict[str, Any]], pieces: int = 200) -> None:
    """Fill the tables of a quote; every piece was a quarter each of four operations, wood and finish in halves."""
    made = history(pieces)
    counts = made.group_by("product", maintain_order=True).len("pieces").with_columns(pl.col("pieces").cast(pl.Int64))
    steps = [("bench", step, 1 / len(OPERATIONS)) for step in OPERATIONS]
    steps += [("material", step, 0.5) for step in ("wood", "finish")]
    parts = pl.DataFrame(steps, schema=["split_of", "step", "mean_share"], orient="row")
    fill(con, "price.history", made)
    fill(con, "settings.person_rate", pl.DataFrame([PERSON]))
    fill(con, "price.channel", pl.DataFrame(channels))
    fill(con, "price.split", counts.join(parts, how="cross"))
    resin = {"flow": "casting resin", "category": "resin", "unit": "mg", "cents": 3_000, "quantity": 1_000_000}
    fill(con, "price.today", pl.DataFrame([resin]))
    pour = {"pour": "R-1", "resin": "casting resin", "mixed_g": 100.0, "good_g": 80.0, "mix_estimated": False}
    fill(con, "material.pour", pl.DataFrame([pour]))


def shop_folder(folder: Path, more: str = "") -> Path:
    (folder / "shop.toml").write_text(
        f'name = "Two Benches"\ncurrency = "EUR"\nstart = 2024-01-01\n{more}', encoding="utf-8"
    )
    return folder
