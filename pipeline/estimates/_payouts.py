"""Which sales a payout pays: whole days of a channel or market, one sale alone, or what is open of two."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from pipeline.estimates._expected_cash import (
    LATE,
    LATE_NAMED,
    MOST_DAYS,
    Book,
    Fit,
    Fits,
    Row,
    days_after,
    first_of_month,
    grouped,
    is_named,
)
from pipeline.estimates._payout_habits import by_habit


@dataclass(frozen=True)
class Stream:
    """The days of one channel, or of one market: their sales, what is due, and the postage of those sales."""

    channel: str | None
    event: str | None
    days: list[list[int]]


def streams_of(book: Book, sales: list[int]) -> list[Stream]:
    """The sales by channel and market, each in days."""
    groups: dict[tuple[str | None, str | None], list[int]] = defaultdict(list)
    for n in sales:
        groups[book.rows[n]["name"], book.rows[n]["event"]].append(n)
    return [Stream(*key, grouped(book, rows, lambda day: day)) for key, rows in groups.items()]


def payout_fits(book: Book, streams: list[Stream], postage: list[int]) -> Fits:
    """Whole days in a row of one stream, one sale alone, or what is open of two streams; each with its postage kept
    by the channel, or not."""
    label = {book.rows[n]["row_id"]: n for n in postage}
    runs: dict[int, list[tuple[int, tuple[int, ...], int, int]]] = defaultdict(list)
    for number, stream in enumerate(streams):
        for first in range(len(stream.days)):
            for last in range(first, min(first + MOST_DAYS, len(stream.days))):
                rows = tuple(n for day in stream.days[first : last + 1] for n in day)
                for total, told in _totals(book, rows, label):
                    runs[total].append((number, told, first, last))
    single: dict[int, list[tuple[int, tuple[int, ...]]]] = defaultdict(list)
    for number, stream in enumerate(streams):
        for day in stream.days:
            for n in day if len(day) > 1 else []:
                for total, told in _totals(book, (n,), label):
                    single[total].append((number, told))

    def fits(payment: Row) -> list[Fit]:
        asked, named = _asked_streams(payment, streams)
        late = LATE_NAMED if named else LATE
        found = []
        for number, rows, first, last in runs.get(payment["amount_cents"], []):
            days = days_after(book.rows[_last_sale(book, rows)], payment)
            if number in asked and 0 <= days <= late and book.free(rows):
                natural = _whole_months(book, streams[number], first, last) or not _older(book, streams[number], first)
                found.append(Fit(rows, natural, (0, days, first)))
        for number, rows in single.get(payment["amount_cents"], []):
            days = days_after(book.rows[rows[0]], payment)
            if number in asked and 0 <= days <= LATE and book.free(rows):
                found.append(Fit(rows, True, (1, days, rows[0])))
        return found or _of_two(payment, book, [streams[n] for n in asked], label)

    return fits


def habitual(payouts: list[Row], book: Book, streams: list[Stream], postage: list[int]) -> Iterator[tuple[Row, Fit]]:
    """The payouts that a channel's habit explains, which with their rows are taken.

    Of those that name nothing none that two channels' habits explain.
    """
    by_sale = {book.rows[n]["row_id"]: n for n in postage}
    asked = [(payment, *_asked_streams(payment, streams)) for payment in payouts if not payment["event"]]
    for named in (True, False):
        found: dict[int, list[tuple[Row, tuple[int, ...]]]] = defaultdict(list)
        for number, stream in enumerate(streams):
            own = [payment for payment, numbers, by_name in asked if by_name is named and number in numbers]
            days = [[n for n in day if n not in book.taken] for day in stream.days]
            days = [day for day in days if day]
            label = {n: by_sale[row] for day in days for n in day if (row := book.rows[n]["row_id"]) in by_sale}
            for payment, rows in by_habit(own, named, days, label, book):
                found[payment["row_id"]].append((payment, rows))
        for payment, rows in (each[0] for each in found.values() if len(each) == 1):
            book.taken.update(rows)
            yield payment, Fit(rows, True, (0, 0, rows[0]))


def _totals(book: Book, rows: tuple[int, ...], label: dict[int, int]) -> list[tuple[int, tuple[int, ...]]]:
    """What some sales come to, and what after their postage, with the rows that are told by either."""
    due = sum(book.rows[n]["cents"] for n in rows)
    posted = [label[book.rows[n]["row_id"]] for n in rows if book.rows[n]["row_id"] in label]
    ways = [(due, rows)]
    if posted:
        ways.append((due + sum(book.rows[n]["cents"] for n in posted), (*rows, *posted)))
    return ways


def _last_sale(book: Book, rows: tuple[int, ...]) -> int:
    return max((n for n in rows if book.rows[n]["kind"] == "sale"), key=lambda n: book.rows[n]["on_date"])


def _asked_streams(payment: Row, streams: list[Stream]) -> tuple[set[int], bool]:
    """The streams that a payment can be of, and whether it names them."""
    if payment["event"]:
        return {k for k, stream in enumerate(streams) if stream.event == payment["event"]}, True
    by_note = {k for k, stream in enumerate(streams) if is_named(payment, stream.channel)}
    return (by_note, True) if by_note else (set(range(len(streams))), False)


def _whole_months(book: Book, stream: Stream, first: int, last: int) -> bool:
    """Whether a run is all that a stream has of its month, or months: many channels pay by the month."""
    months = [first_of_month(book.rows[day[0]]["on_date"]) for day in stream.days]
    begins = first == 0 or months[first - 1] != months[first]
    return begins and (last + 1 == len(months) or months[last + 1] != months[last])


def _older(book: Book, stream: Stream, first: int) -> bool:
    """Whether days just before a run are still open: then it passes them over."""
    begin = book.rows[stream.days[first][0]]["on_date"] - timedelta(days=LATE_NAMED)
    before = (day for day in stream.days[:first] if book.rows[day[0]]["on_date"] >= begin)
    return any(book.free([n]) for day in before for n in day)


def _of_two(payment: Row, book: Book, streams: list[Stream], label: dict[int, int]) -> list[Fit]:
    """All that is open of each of two streams up to a day, in one deposit."""
    open_ = [
        (k, total, rows) for k, stream in enumerate(streams) for total, rows in _open(payment, book, stream, label)
    ]
    by_total: dict[int, list[tuple[int, tuple[int, ...]]]] = defaultdict(list)
    for k, total, rows in open_:
        by_total[total].append((k, rows))
    found = set()
    for k, total, rows in open_:
        for other, more in by_total.get(payment["amount_cents"] - total, []):
            if other > k:
                found.add((*rows, *more))
    return [Fit(rows, True, (2, 0, rows[0])) for rows in sorted(found)]


def _open(payment: Row, book: Book, stream: Stream, label: dict[int, int]) -> Iterator[tuple[int, tuple[int, ...]]]:
    rows: tuple[int, ...] = ()
    for day in stream.days:
        days = days_after(book.rows[day[0]], payment)
        if days < 0:
            return
        free = tuple(n for n in day if n not in book.taken)
        if days > LATE_NAMED or not free:
            continue
        rows += free
        if days <= LATE:
            yield from _totals(book, rows, label)
