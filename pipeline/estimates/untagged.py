"""Which piece an untagged sale took: of its product the one nearest in price, of those the oldest.

Every sale leaves fewer pieces to the next one, so this steps through the sales of a product in order of their day.
Nearest is the price that was asked on that day; before the first one that one stands in, since it was on offer.
"""

from collections import defaultdict
from datetime import date

import numpy as np
import polars as pl

from pipeline.estimates import Node

Taken = tuple[int, str, int, date]

COLUMNS = {"row_id": "BIGINT", "piece": "VARCHAR", "units": "BIGINT", "on_date": "DATE"}


def guess(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`work.guessed_sale`: a row a sale and piece; a sale that finds nothing on the shelf has none."""
    shelf = tables["work._unsold"].partition_by("product", as_dict=True)
    asked = tables["work.list_price"].sort("piece", "from_date")
    found: list[Taken] = []
    for product, sales in (
        tables["work._untagged"].sort("on_date", "day_turn", "row_id").partition_by("product", as_dict=True).items()
    ):
        if product in shelf:
            on_shelf = shelf[product].sort("finished_on", "piece", "ready_on")
            found += _of_product(sales, on_shelf, _Asked(on_shelf["piece"], asked))
    schema = {"row_id": pl.Int64, "piece": pl.String, "units": pl.Int64, "on_date": pl.Date}
    return pl.DataFrame(found, schema=schema, orient="row")


class _Asked:
    """What is asked for each row of a shelf, from day to day: NaN where nothing ever is."""

    def __init__(self, pieces: pl.Series, prices: pl.DataFrame) -> None:
        own = prices.filter(pl.col("piece").is_in(pieces.implode()))
        first = own.group_by("piece").agg(pl.col("list_price_cents").first())
        rows = pl.DataFrame({"piece": pieces}).with_row_index("place")
        begun = rows.join(first, on="piece", how="left", maintain_order="left")
        self._asked = begun["list_price_cents"].cast(pl.Float64).fill_null(np.nan).to_numpy().copy()
        again = rows.join(own.filter(pl.col("piece").is_duplicated()), on="piece").sort("from_date", "place")
        self._changes = again.select(pl.col("from_date").to_physical(), "place", "list_price_cents").rows()
        self._next = 0

    def on(self, day: int) -> np.ndarray:
        """The prices of a day, which is no earlier than the last one asked for."""
        while self._next < len(self._changes) and self._changes[self._next][0] <= day:
            _, place, cents = self._changes[self._next]
            self._asked[place] = cents
            self._next += 1
        return self._asked


def _of_product(sales: pl.DataFrame, shelf: pl.DataFrame, asked: _Asked) -> list[Taken]:
    pieces, left = shelf["piece"].to_list(), shelf["units"].to_numpy().copy()
    ready = shelf["ready_on"].to_physical().to_numpy()
    days = sales["on_date"].to_physical().to_numpy()
    # a sale may take units of a piece that were there on several days
    found: dict[tuple[int, str, date], int] = defaultdict(int)
    for (row_id, on_date, price, units), day in zip(
        sales.select("row_id", "on_date", "price_cents", "units").iter_rows(), days, strict=True
    ):
        away = np.nan_to_num(np.abs(asked.on(day) - price), nan=np.inf)  # one without a price asked is taken last
        while units:
            here = np.flatnonzero((left > 0) & (ready <= day))
            if not len(here):
                break
            nearest = here[np.argmin(away[here])]  # the first of equals: the oldest
            taken = min(units, int(left[nearest]))
            left[nearest] -= taken
            units -= taken
            found[row_id, pieces[nearest], on_date] += taken
    return [(row_id, piece, units, on_date) for (row_id, piece, on_date), units in found.items()]


NODES = (
    Node(
        "work.guessed_sale",
        ("work._untagged", "work._unsold", "work.list_price"),
        COLUMNS,
        guess,
        "One row per untagged sale and piece that it is taken to be of: nearest in price, then oldest.",
        key=("row_id", "piece"),
    ),
)
