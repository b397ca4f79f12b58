"""How many records a figure takes before it is told: of fewer, pages, reports and commands say that it can't be said.

It holds for what is reckoned from records to say how things usually are: shares, medians, figures for an hour or a
month. A sum is told whatever it rests on: it is what is on record. `sql/macros.sql` has the same numbers, and
how many hours a figure for an hour takes.
"""

FEW = 5
"""Pieces, pours or sales behind a share or a usual figure. Of four, one more or less moves a share by 25 points,
and two odd ones make the median (common practice, no source)."""

FEW_MONTHS = 3
"""Whole months behind a figure for a month, as for a rate of rent: fewer may all be busy ones, or all slack."""


def firm(figure: str, records: float | None, few: str = "too few records", least: float = FEW) -> str:
    """A figure that rests on so many records, or that they are too few for it."""
    return figure if (records or 0) >= least else few
