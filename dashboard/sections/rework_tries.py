"""What to try against rework: what is cheap to try in practice first, a product last, each with both of its counts.

A comparison names no cause: so each is a try, and what it might save stands beside what the pieces earn.
"""

from typing import Any

import polars as pl

from dashboard.sections import rework_details
from dashboard.widgets import Page

TRIES = {
    "off_ratio": "try weighing both parts for 20 pours",
    "short_stir": "try the data sheet's time for 20 pours",
    "early_touch": "try the data sheet's cure time for 20 pieces",
    "cold": "try the data sheet's room temperature for 20 pours",
    "damp": "try drier air, by the data sheet, for 20 pours",
    "wet_wood": "try wood as dry as the data sheets ask for 20 pieces",
    "unsealed": "try a seal coat first on 20 pieces",
    "supplier": "try the next board from another supplier",
    "species": "look at the last ones before you buy more",
    "finish": "look at the last ones before you change it",
    "product": "look at the last ones before you make fewer",
}
"""What one can do about a factor, in the order of what it takes (common practice, no source)."""


def tries(page: Page) -> list[str]:
    """A line for each group or practice that is clear of luck, the cheapest to try first."""
    order = list(TRIES)
    clear = page.book.savings().filter("clear", pl.col("factor").is_in(order))
    practice = sorted(clear.iter_rows(named=True), key=lambda row: (_effort(row["factor"]), order.index(row["factor"])))
    return [line(page, row) for row in practice]


def _effort(factor: str) -> int:
    """How much it takes to try: a practice, another supplier, another wood, another finish, another product."""
    return {"supplier": 1, "species": 2, "finish": 3, "product": 4}.get(factor, 0)


def line(page: Page, row: dict[str, Any]) -> str:
    """A row of the savings in words: both counts, the try, what hangs on it, and what the pieces earn."""
    told = page.book.came_back(row["factor"], row["level"])
    counts = f"{told['events']} of {told['pieces']} came back, else {told['other_events']} of {told['other_pieces']}"
    name = rework_details.group_name(row)
    said = f"{name[:1].upper()}{name[1:]}: {counts}; {TRIES[row['factor']]}. "
    beyond = rework_details.beyond(page, row)
    return f"{said}{beyond[:1].upper()}{beyond[1:]}; {rework_details.earned(page, row)}."
