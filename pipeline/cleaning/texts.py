"""Plain text: kept as written."""

import polars as pl

from pipeline.cleaning.parsed import About, each

LONGEST = 1_000
LONGEST_NOTE = 32_767
"""A note can be as long as the longest cell of a workbook; any other cell that long is a quote that never closed."""


def texts(distinct: pl.Series, about: About) -> pl.DataFrame:
    return each(distinct, str.upper if about.field.name == "paid_currency" else str, {"value": pl.String})


def easy(about: About) -> tuple[str, pl.Expr]:
    return "", pl.col("text").str.to_uppercase() if about.field.name == "paid_currency" else pl.col("text")
