"""The money that a row is about, by which its questions are ranked: its amount, or its hours at the highest pay."""

import polars as pl

from pipeline.shop import Shop

WORTH: dict[str, type[pl.DataType]] = {"row": pl.Int64, "occurrence": pl.Int64, "cents": pl.Int64}

AMOUNTS = {
    "sales": "price",
    "purchases": "amount",
    "payments": "amount",
    "orders": "price",
    "pieces": "list_price",
    "counts": "worth",
}
"""Record → the field of a row's money."""


def worth(frame: pl.DataFrame, record: str, shop: Shop) -> pl.DataFrame:
    """The cents that each row of a cleaned table is about, without a sign; 0 where nothing says it."""
    cents = pl.lit(0)
    if record == "hours":
        cents = pl.col("seconds") * int(pay(shop)) // 3600
    elif record == "sales":
        cents = pl.col("price_cents") * pl.col("quantity").fill_null(1)
    elif record in AMOUNTS:
        cents = pl.col(f"{AMOUNTS[record]}_cents")
    return frame.select("row", "occurrence", cents.abs().fill_null(0).alias("cents")).cast(pl.Schema(WORTH))


def pay(shop: Shop) -> float:
    """Cents for an hour of the person who costs most."""
    return max((row["rate_cents"] or 0 for row in shop.tables.get("person_rate", [])), default=0)
