"""Plain text: kept as written."""

import polars as pl

from pipeline.cleaning.parsed import About, fast

LONGEST = 1_000
LONGEST_NOTE = 32_767
"""A note can be as long as the longest cell of a workbook; any other cell that long is a quote that never closed."""


def texts(distinct: pl.Series, about: About) -> pl.DataFrame:
    value = pl.col("text").str.to_uppercase() if about.field.name == "paid_currency" else pl.col("text")
    return fast(distinct, "", value, str, {"value": pl.String})
