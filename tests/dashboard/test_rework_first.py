"""Which group the page of rework names first: the one that its picture puts highest, of those likely worse."""

import polars as pl

from dashboard.views import rework
from dashboard.widgets import ANY


def test_the_group_named_first_is_the_highest_of_those_likely_worse() -> None:
    rates = pl.DataFrame(
        {
            "level": ["ash", "elm", "oak", "pine"],
            "verdict": ["very likely worse", "likely worse", "too few", "no different"],
            "chance_worse": [0.99, 0.93, 0.9, 0.6],
            "adjusted": [0.2, 0.3, 0.4, 0.25],
        }
    )
    first = rework._first(rates, ANY)
    assert first is not None
    assert first["level"] == "elm"
    chosen = rework._first(rates, "pine")
    assert chosen is not None
    assert chosen["level"] == "pine"
    assert rework._first(rates.filter(pl.col("level") == "oak"), ANY) is None
