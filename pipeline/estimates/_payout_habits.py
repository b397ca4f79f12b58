"""How a channel pays out, told by all its payouts together: day after day without a gap, or each sale by itself.

One payout may fit several sales by chance. Three in a row that take up a channel's days one after the other do not; nor
does a channel of which nine in ten payouts are just one sale each.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate

from pipeline.estimates._expected_cash import LATE, LATE_NAMED, MOST_DAYS, Book, Row

IN_A_ROW, IN_A_ROW_UNNAMED = 3, 4
"""Payouts without a gap that are no chance: of lines that name the channel, and of lines that name nothing."""

STEADY = 4
"""Days by which one payout may be later after its sales than the one before: a weekend and a holiday."""

ALONE, FEWEST_ALONE = 0.9, 5
"""The share of a channel's payouts that are one sale each, and of how many at least, for that to be its habit."""


@dataclass(frozen=True)
class _Link:
    """A payout that takes up some days of a channel, so many days after the last, and the one before it; how many
    they are in a row, and by how many days together they were more or less late than the one before."""

    payment: Row
    first: int
    last: int
    late: int
    before: "_Link | None"
    length: int
    unsteady: int

    @property
    def rank(self) -> tuple[int, int]:
        """The lowest explains most."""
        return -self.length, self.unsteady


def by_habit(
    payouts: Sequence[Row], named: bool, days: list[list[int]], label: dict[int, int], book: Book
) -> list[tuple[Row, tuple[int, ...]]]:
    """The payouts that a channel's habit explains, with the rows that each pays; none where it shows no habit.

    `payouts` are those that can be the channel's, in order; `named` where each names it. `days` are the rows of its
    sales, day by day; `label` is sale → its postage.
    """
    found = []
    for kept in (False, True) if label else (False,):
        labels = label if kept else {}
        found += [_in_order(payouts, named, days, labels, book)]
        found += [_alone(payouts, days, labels, book)] if named else []
    return max(found, key=len, default=[])


def _with_labels(rows: Sequence[int], label: dict[int, int], book: Book) -> tuple[int, ...]:
    return (*rows, *(label[n] for n in rows if n in label))


def _cents(rows: Sequence[int], label: dict[int, int], book: Book) -> int:
    return sum(book.rows[n]["cents"] for n in _with_labels(rows, label, book))


def _in_order(
    payouts: Sequence[Row], named: bool, days: list[list[int]], label: dict[int, int], book: Book
) -> list[tuple[Row, tuple[int, ...]]]:
    """The payouts that take up the days one after the other, without a gap."""
    on = [book.rows[rows[0]]["on_date"] for rows in days]
    sums = [0, *accumulate(_cents(rows, label, book) for rows in days)]
    ends: dict[int, _Link] = {}
    links: list[_Link] = []
    for payment in payouts:
        new = [_linked(payment, *run, ends) for run in _runs(payment, named, on, sums)]
        if named:  # a payout of the channel that does not fit breaks the row
            ends = {}
        for link in new:
            if link.last not in ends or link.rank <= ends[link.last].rank:
                ends[link.last] = link
        links += new
    return list(_longest(links, IN_A_ROW if named else IN_A_ROW_UNNAMED, days, label, book))


def _runs(payment: Row, named: bool, on: list[date], sums: list[int]) -> Iterator[tuple[int, int, int]]:
    """The runs of whole days that come to a payout's amount, soon before it: first and last day, days late."""
    for last in _just_before(payment, LATE_NAMED if named else LATE, on):
        for first in range(max(0, last - MOST_DAYS + 1), last + 1):
            if sums[last + 1] - sums[first] == payment["amount_cents"]:
                yield first, last, (payment["on_date"] - on[last]).days


def _just_before(payment: Row, late: int, on: list[date]) -> range:
    """Where the days stand, of those in order, that are at most so many days before a payment."""
    return range(bisect_left(on, payment["on_date"] - timedelta(days=late)), bisect_right(on, payment["on_date"]))


def _linked(payment: Row, first: int, last: int, late: int, ends: dict[int, _Link]) -> _Link:
    before = ends.get(first - 1)
    if not before or abs(before.late - late) > STEADY:
        return _Link(payment, first, last, late, None, 1, 0)
    return _Link(payment, first, last, late, before, before.length + 1, before.unsteady + abs(before.late - late))


def _longest(
    links: list[_Link], fewest: int, days: list[list[int]], label: dict[int, int], book: Book
) -> Iterator[tuple[Row, tuple[int, ...]]]:
    """The payouts of the longest rows of links, the longest first, each payout and each day once."""
    paid: set[int] = set()
    taken: set[int] = set()
    for end in sorted(links, key=lambda link: link.rank):
        row: list[_Link] = []
        link: _Link | None = end
        while link:
            row.append(link)
            link = link.before
        spans = {day for each in row for day in range(each.first, each.last + 1)}
        if len(row) < fewest or spans & taken or any(id(each.payment) in paid for each in row):
            continue
        taken |= spans
        for each in row:
            paid.add(id(each.payment))
            rows = [n for day in days[each.first : each.last + 1] for n in day]
            yield each.payment, _with_labels(rows, label, book)


def _alone(
    payouts: Sequence[Row], days: list[list[int]], label: dict[int, int], book: Book
) -> list[tuple[Row, tuple[int, ...]]]:
    """The payouts that are one sale each, the oldest of its amount, where nearly all are; else none."""
    sales = [n for rows in days for n in rows]
    on = [book.rows[n]["on_date"] for n in sales]
    found, taken = [], set()
    for payment in payouts:
        for n in (sales[at] for at in _just_before(payment, LATE, on)):
            if n not in taken and _cents((n,), label, book) == payment["amount_cents"]:
                taken.add(n)
                found.append((payment, _with_labels((n,), label, book)))
                break
    return found if len(found) >= max(FEWEST_ALONE, ALONE * len(payouts)) else []
