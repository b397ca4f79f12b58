"""The money that a row is about, by which its questions are ranked: its amount, or its hours at the highest pay.

A file is read without knowing what an hour costs: of hours their seconds are kept, and turned into money by `priced`.
"""

import polars as pl

from pipeline.shop import Shop

WORTH: dict[str, type[pl.DataType]] = {"row": pl.Int64, "occurrence": pl.Int64, "cents": pl.Int64}

AS_READ = WORTH | {"seconds": pl.Int64}
"""What a file tells of a row's worth: its cents, and the seconds of hours, which are none yet."""

AMOUNTS = {
    "sales": "price",
    "purchases": "amount",
    "payments": "amount",
    "orders": "price",
    "pieces": "list_price",
    "counts": "worth",
}
"""Record → the field of a row's money."""


def worth(frame: pl.DataFrame, record: str) -> pl.DataFrame:
    """The cents and seconds that each row of a cleaned table is about, without a sign; 0 where nothing says it."""
    cents, seconds = pl.lit(0), pl.lit(0)
    if record == "hours":
        seconds = pl.col("seconds")
    elif record == "sales":
        cents = pl.col("price_cents") * pl.col("quantity").fill_null(1)
    elif record in AMOUNTS:
        cents = pl.col(f"{AMOUNTS[record]}_cents")
    told = (each.abs().fill_null(0).alias(name) for name, each in (("cents", cents), ("seconds", seconds)))
    return frame.select("row", "occurrence", *told).cast(pl.Schema(AS_READ))


def priced(rows: pl.DataFrame, an_hour: float) -> pl.DataFrame:
    """Rows `AS_READ` as those of `WORTH`: their seconds at so many cents an hour."""
    if "seconds" not in rows.columns:
        return rows
    cents = pl.col("cents") + pl.col("seconds") * int(an_hour) // 3600
    return rows.select("row", "occurrence", cents.alias("cents"))


def pay(shop: Shop) -> float:
    """Cents for an hour of the person who costs most."""
    return max((row["rate_cents"] or 0 for row in shop.tables.get("person_rate", [])), default=0)
