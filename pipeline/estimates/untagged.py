"""Which piece an untagged sale took: of its product the one nearest in price, of those the oldest.

Every sale leaves fewer pieces to the next one, so this steps through the sales of a product in order of their day.
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
    found: list[Taken] = []
    for product, sales in (
        tables["work._untagged"].sort("on_date", "day_turn", "row_id").partition_by("product", as_dict=True).items()
    ):
        if product in shelf:
            found += _of_product(sales, shelf[product].sort("finished_on", "piece", "ready_on"))
    schema = {"row_id": pl.Int64, "piece": pl.String, "units": pl.Int64, "on_date": pl.Date}
    return pl.DataFrame(found, schema=schema, orient="row")


def _of_product(sales: pl.DataFrame, shelf: pl.DataFrame) -> list[Taken]:
    pieces, left = shelf["piece"].to_list(), shelf["units"].to_numpy().copy()
    ready = shelf["ready_on"].to_physical().to_numpy()
    asked = shelf["list_price_cents"].cast(pl.Float64).to_numpy()
    days = sales["on_date"].to_physical().to_numpy()
    # a sale may take units of a piece that were there on several days
    found: dict[tuple[int, str, date], int] = defaultdict(int)
    for (row_id, on_date, price, units), day in zip(
        sales.select("row_id", "on_date", "price_cents", "units").iter_rows(), days, strict=True
    ):
        away = np.nan_to_num(np.abs(asked - price), nan=np.inf)  # one without a price asked is taken last
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
        ("work._untagged", "work._unsold"),
        COLUMNS,
        guess,
        "One row per untagged sale and piece that it is taken to be of: nearest in price, then oldest.",
        key=("row_id", "piece"),
    ),
)
