"""Whether a price beside a quantity is for each or for the whole row, by what several rows of one thing show."""

import polars as pl

from pipeline.proposing.columns import Column
from pipeline.proposing.helper_columns import amounts_of
from pipeline.readers.reader_output import TextTable

LEAST_VOTES, AGREE = 4, 0.8
"""So many rows at least show the one or the other, and this share of them the same."""
SLACK = 0.02
"""Two prices of one thing are the same within this share: cents are rounded."""


def shown(table: TextTable, count: Column, money: Column, thing: Column | None) -> str:
    """What rows say: "row" where two of a thing cost twice as much as one, "each" where they cost the same, else "".

    `thing` is the column that says what was sold; without one all rows are of one thing.
    """
    amounts = amounts_of(table, [count, money])
    if amounts.width < 2:
        return ""
    rows = amounts.select(count=pl.col(count.name).abs(), money=pl.col(money.name).abs()).with_columns(
        thing=table.frame[thing.name].str.strip_chars().str.to_lowercase() if thing else pl.lit("")
    )
    rows = rows.filter((pl.col("count") > 0) & (pl.col("money") > 0)).drop_nulls().with_row_index("at")
    votes = {said: _rows_alike(rows, price) for said, price in (("each", pl.col("money")), ("row", _OF_ONE))}
    most = max(votes, key=lambda said: votes[said])
    enough = votes[most] >= max(LEAST_VOTES, AGREE * sum(votes.values()))
    return most if enough else ""


_OF_ONE = pl.col("money") / pl.col("count")


def _rows_alike(rows: pl.DataFrame, price: pl.Expr) -> int:
    """How many rows have a price that another row of the same thing and of another number has too."""
    priced = rows.with_columns(price=price, near=(price.log() / SLACK).round())
    steps = [priced.with_columns(near=pl.col("near") + step) for step in (-1, 0, 1)]
    beside = priced.join(pl.concat(steps), on=["thing", "near"], suffix="_other")
    alike = (pl.col("price") - pl.col("price_other")).abs() <= SLACK * pl.col("price_other")
    return beside.filter(alike & (pl.col("count") != pl.col("count_other")))["at"].n_unique()
