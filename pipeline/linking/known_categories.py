"""The category of what was bought, from all files at once: another row has it of the same item, or of its supplier.

An item that is of one category wherever it is told is of that one. A supplier of whom all rows are of one category
sells that, which is likely and not sure: of each such item it is asked.
"""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline.cleaning import Cleaned
from pipeline.tables import PLACE

LEAST_ROWS = 3
"""So many rows of a supplier must tell it."""


def settle(cleaned: Sequence[Cleaned]) -> list[Cleaned]:
    """The cleaned tables, with those rows of purchases loaded that lacked nothing but a category that others tell."""
    told = [c.frame.select("item", "supplier", "category") for c in cleaned if c.record == "purchases"]
    if not told or all(c.waiting.is_empty() for c in cleaned):
        return list(cleaned)
    rows = pl.concat(told).drop_nulls("category")
    items, suppliers = _one_each(rows, "item", 1), _one_each(rows, "supplier", LEAST_ROWS)
    return [c if c.waiting.is_empty() else _settled(c, items, suppliers) for c in cleaned]


def _one_each(rows: pl.DataFrame, name: str, least: int) -> pl.DataFrame:
    """Item or supplier → the only category that its rows have."""
    grouped = rows.drop_nulls(name).group_by(name).agg(pl.col("category").unique(), pl.len().alias("rows"))
    single = grouped.filter((pl.col("category").list.len() == 1) & (pl.col("rows") >= least))
    return single.select(name, pl.col("category").list.first().alias(f"by_{name}"))


def _settled(table: Cleaned, items: pl.DataFrame, suppliers: pl.DataFrame) -> Cleaned:
    waiting = table.waiting.join(items, on="item", how="left", maintain_order="left")
    waiting = waiting.join(suppliers, on="supplier", how="left", maintain_order="left")
    found = waiting.with_columns(pl.coalesce("by_item", "by_supplier").alias("category")).drop_nulls("category")
    if found.is_empty():
        return table
    likely = found.filter(pl.col("by_item").is_null()).select(*PLACE, told="supplier", category="category")
    lacking = table.lacking.join(found.filter(pl.col("by_item").is_not_null()), on=PLACE, how="anti")
    lacking = lacking.join(likely, on=PLACE, how="left", maintain_order="left")
    return replace(
        table,
        frame=pl.concat([table.frame, found.select(table.frame.columns)]).sort("row", "occurrence"),
        rejected=table.rejected.join(found, on=PLACE, how="anti", maintain_order="left"),
        lacking=lacking.with_columns(supplier="told", taken="category").select(table.lacking.columns),
    )
