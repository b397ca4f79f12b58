"""An example of a check: a few rows, and the rows that the check finds among them."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import polars as pl

Rows = list[dict[str, Any]]
Given = Rows | pl.DataFrame


@dataclass(frozen=True)
class Example:
    """What the rows tell, the rows by table as the fixture `model` takes them, and what the check must find."""

    tells: str
    given: dict[str, Given] = field(hash=False)
    found: Rows = field(hash=False, default_factory=list)


Examples = dict[str, list[Example]]
"""By the name of the check."""


def fires(tells: str, found: Rows, **given: Given) -> Example:
    """Rows that the check must find something in, and what: every row of it, with every column."""
    return Example(tells, given, found)


def holds(tells: str, **given: Given) -> Example:
    """Rows near to some that fire, in which the check must find nothing."""
    return Example(tells, given)


def day(month: int, number: int, year: int = 2026) -> date:
    return date(year, month, number)


JAN, FEB, MAR = day(1, 1), day(2, 1), day(3, 1)
