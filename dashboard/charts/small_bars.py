"""Bars too small to be told apart, drawn as one: "Other, 4 small". Their sum stays what it was."""

from collections.abc import Collection

import polars as pl

SMALL = 0.05
"""A bar under this share of the largest can't be read beside it."""


def small(frame: pl.DataFrame, name: str, amount: str, keep: Collection[str] = ()) -> list[str]:
    """The names whose bars are small beside the largest; none where it is only one, which needs as much room alone.

    Those to `keep` stand by themselves however small they are.
    """
    sums = frame.group_by(name, maintain_order=True).agg(pl.col(amount).sum().abs())
    few: list[str] = sums.filter(pl.col(amount) < SMALL * pl.col(amount).max())[name].to_list()
    few = [each for each in few if each not in keep]
    return few if len(few) > 1 else []


def other(few: list[str]) -> str:
    """What the bar is called that stands for them."""
    return f"Other, {len(few)} small"


def gathered(frame: pl.DataFrame, name: str, few: list[str]) -> pl.DataFrame:
    """The frame with the small ones of that name as one row, in the place of the last; what differs among them in
    another text (what was decided) stays apart, and all whole and broken numbers are added up."""
    order = frame.columns
    number = pl.selectors.numeric()
    apart = [column for column in frame.select(~number).columns if column != name]
    is_few = pl.col(name).is_in(few)
    placed = frame.with_row_index("place").with_columns(
        pl.when(is_few).then(pl.lit(other(few))).otherwise(pl.col(name)).alias(name),
        pl.when(is_few).then(pl.col("place").filter(is_few).max()).otherwise(pl.col("place")).alias("place"),
    )
    summed = placed.group_by(name, *apart, "place", maintain_order=True).agg(number.exclude("place").sum())
    return summed.sort("place", maintain_order=True).select(order)
