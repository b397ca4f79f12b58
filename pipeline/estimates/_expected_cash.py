"""What records lead one to expect of cash, and which of it a payment pays already."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

Row = dict[str, Any]

LATE, LATE_NAMED, LATE_BILL, EARLY_BILL, LATE_REFUND = 10, 45, 45, 3, 30
"""Days that money takes: to be paid in or out, by a channel that is named, a bill, a card before its bill, a refund."""
MOST_DAYS = 35
"""Days with sales that one payout covers at most: those of a month."""


@dataclass(frozen=True)
class Fit:
    """Rows that a payment may be the twin of; `natural` where nothing older is passed over; the lowest rank first."""

    rows: tuple[int, ...]
    natural: bool
    rank: tuple[int, ...]


@dataclass
class Book:
    """What is expected, and which of it has a twin already."""

    rows: list[Row]
    taken: set[int]

    def free(self, numbers: Iterable[int]) -> bool:
        return not any(number in self.taken for number in numbers)


Fits = Callable[[Row], list[Fit]]


def days_after(row: Row, payment: Row) -> int:
    """Days from the record to the payment."""
    return (payment["on_date"] - row["on_date"]).days


def is_named(payment: Row, words: str | None) -> bool:
    """Whether a payment's note names it, as words of its own."""
    note = (payment["note"] or "").casefold()
    return bool(words and re.search(rf"(?<!\w){re.escape(words.casefold())}(?!\w)", note))


def first_of_month(day: date) -> date:
    return day.replace(day=1)


def grouped(book: Book, numbers: list[int], key: Callable[[date], date]) -> list[list[int]]:
    groups: dict[date, list[int]] = defaultdict(list)
    for n in numbers:
        groups[key(book.rows[n]["on_date"])].append(n)
    return list(groups.values())
