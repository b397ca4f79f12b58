"""Which payment is a second view of what other records tell already: takings paid in, a payout and its sales, a bill.

Matched by amount, day and channel. A payment's twin is sure where it is the only one that fits and nothing older of its
kind is left open; else the likeliest is taken and asked about.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.estimates import Node
from pipeline.tables import in_polars

Row = dict[str, Any]

COLUMNS = {"payment_id": "BIGINT", "kind": "VARCHAR", "row_id": "BIGINT", "on_date": "DATE", "sure": "BOOLEAN"}

LATE, LATE_NAMED, LATE_BILL, EARLY_BILL, LATE_REFUND = 10, 45, 45, 3, 30
"""Days that money takes: to be paid in or out, by a channel that is named, a bill, a card before its bill, a refund."""
MOST_DAYS = 35
"""Days with sales that one payout covers at most: those of a month."""
ROUNDS = 6


@dataclass(frozen=True)
class _Fit:
    """Rows that a payment may be the twin of; `natural` where nothing older is passed over; the lowest rank first."""

    rows: tuple[int, ...]
    natural: bool
    rank: tuple[int, ...]


@dataclass
class _Book:
    """What is expected, and which of it has a twin already."""

    rows: list[Row]
    taken: set[int]

    def free(self, numbers: Iterable[int]) -> bool:
        return not any(number in self.taken for number in numbers)


Fits = Callable[[Row], list[_Fit]]


def twins(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`money.twin`: a row a payment and row that it pays."""
    paid = tables["records.payments"].filter(pl.col("order_no").is_null())
    payments = list(
        paid.sort("on_date", "kind", "amount_cents", "note", "row_id", nulls_last=True).iter_rows(named=True)
    )
    order = ("on_date", "kind", "name", "event", "cents", "row_id")
    book = _Book(list(tables["money._expected"].sort(*order, nulls_last=True).iter_rows(named=True)), set())
    by_kind: dict[str, list[int]] = defaultdict(list)
    for number, row in enumerate(book.rows):
        by_kind[row["kind"]].append(number)
    refunds = [p for p in payments if p["kind"] == "refund" and p["amount_cents"] > 0]
    bills = [p for p in payments if p["kind"] == "supplier" and p["receipt"] is None]
    payouts = [p for p in payments if p["kind"] == "payout"]
    found = [
        *_resolved(refunds, _refund_fits(book, by_kind["sale"]), book),
        *_resolved(bills, _bill_fits(book, by_kind), book),
        *_resolved(payouts, _payout_fits(book, by_kind["sale"], by_kind["postage"]), book),
    ]
    told = [
        (payment["row_id"], book.rows[n]["kind"], book.rows[n]["row_id"], book.rows[n]["on_date"], sure)
        for payment, fit, sure in found
        for n in fit.rows
    ]
    return pl.DataFrame(told, schema=in_polars(COLUMNS), orient="row")


def _resolved(payments: list[Row], fits: Fits, book: _Book) -> Iterator[tuple[Row, _Fit, bool]]:
    """First all that leaves no choice, again and again, for each leaves less to the others; then the likeliest."""
    left = payments
    for _ in range(ROUNDS):
        open_ = [(payment, _free(fits(payment), book)) for payment in left]
        claims: dict[int, int] = defaultdict(int)
        for _payment, possible in open_:
            for number in {n for fit in possible for n in fit.rows}:
                claims[number] += 1
        sure = [
            (payment, possible[0])
            for payment, possible in open_
            if len(possible) == 1 and possible[0].natural and all(claims[n] == 1 for n in possible[0].rows)
        ]
        for payment, fit in sure:
            book.taken.update(fit.rows)
            yield payment, fit, True
        done = {id(payment) for payment, _fit in sure}
        left = [payment for payment in left if id(payment) not in done]
        if not sure:
            break
    for payment in left:
        possible = _free(fits(payment), book)
        if possible:
            best = min(possible, key=lambda fit: (not fit.natural, fit.rank))
            book.taken.update(best.rows)
            yield payment, best, False


def _free(fits: list[_Fit], book: _Book) -> list[_Fit]:
    by_rows = {fit.rows: fit for fit in sorted(fits, key=lambda fit: fit.natural) if book.free(fit.rows)}
    return list(by_rows.values())


def _away(row: Row, payment: Row) -> int:
    """Days from the record to the payment."""
    return (payment["on_date"] - row["on_date"]).days


def _names(payment: Row, words: str | None) -> bool:
    """Whether a payment's note names it, as words of its own."""
    note = (payment["note"] or "").casefold()
    return bool(words and re.search(rf"(?<!\w){re.escape(words.casefold())}(?!\w)", note))


# --- refunds: what came back ------------------------------------------------------------------------------------------


def _refund_fits(book: _Book, sales: list[int]) -> Fits:
    back = [n for n in sales if book.rows[n]["cents"] < 0]

    def fits(payment: Row) -> list[_Fit]:
        near = [(n, _away(book.rows[n], payment)) for n in back if n not in book.taken]
        near = [(n, days) for n, days in near if -LATE <= days <= LATE_REFUND]
        exact = [n for n, _ in near if book.rows[n]["cents"] == -payment["amount_cents"]]
        part = [n for n, days in near if days >= 0 and 2 * payment["amount_cents"] >= -book.rows[n]["cents"]]
        part = [n for n in part if payment["amount_cents"] < -book.rows[n]["cents"]]
        days = dict(near)
        chosen = exact or part
        return [_Fit((n,), bool(exact), (abs(days[n]), n)) for n in chosen]

    return fits


# --- bills: receipts, pools, postage ----------------------------------------------------------------------------------


def _bill_fits(book: _Book, by_kind: dict[str, list[int]]) -> Fits:
    groups: dict[int, list[tuple[str, tuple[int, ...]]]] = defaultdict(list)

    def add(kind: str, rows: list[int]) -> None:
        groups[sum(book.rows[n]["cents"] for n in rows)].append((kind, tuple(rows)))

    papers: dict[str, list[int]] = defaultdict(list)
    for n in by_kind["receipt"]:
        papers[book.rows[n]["name"]].append(n)
    for rows in papers.values():
        add("receipt", rows)
    for kind in ("pool", "equipment", "postage"):
        for n in by_kind[kind]:
            add(kind, [n])
    for posted in (_by(book, by_kind["postage"], lambda day: day), _by(book, by_kind["postage"], _month)):
        for rows in posted:
            if len(rows) > 1:
                add("postage", rows)

    def fits(payment: Row) -> list[_Fit]:
        found = []
        for kind, rows in groups.get(-payment["amount_cents"], []):
            last = book.rows[rows[-1]]
            days = _away(last, payment)
            tier = _tier(kind, last, payment, days)
            if tier is not None and book.free(rows):
                named = any(_names(payment, book.rows[rows[0]][key]) for key in ("words", "name"))
                found.append((_Fit(rows, True, (tier, abs(days), rows[0])), named))
        named_ones = [fit for fit, named in found if named]
        chosen = named_ones or [fit for fit, _ in found]
        first = min((fit.rank[0] for fit in chosen), default=0)
        return [fit for fit in chosen if fit.rank[0] == first]

    return fits


def _tier(kind: str, row: Row, payment: Row, days: int) -> int | None:
    """How near in time a bill is to its payment: 0, the usual, 1, or not at all."""
    if kind in ("pool", "equipment"):
        same = _month(row["on_date"]) == _month(payment["on_date"])
        return 0 if same else 1 if -LATE <= days <= LATE_BILL else None
    late = LATE_BILL if kind == "receipt" else MOST_DAYS
    return 0 if -EARLY_BILL <= days <= late else None


def _month(day: date) -> date:
    return day.replace(day=1)


def _by(book: _Book, numbers: list[int], key: Callable[[date], date]) -> list[list[int]]:
    groups: dict[date, list[int]] = defaultdict(list)
    for n in numbers:
        groups[key(book.rows[n]["on_date"])].append(n)
    return list(groups.values())


# --- payouts: the sales of a channel or market, whole days of them ----------------------------------------------------


@dataclass(frozen=True)
class _Stream:
    """The days of one channel, or of one market: their sales, what is due, and the postage of those sales."""

    channel: str | None
    event: str | None
    days: list[list[int]]


def _streams(book: _Book, sales: list[int]) -> list[_Stream]:
    groups: dict[tuple[str | None, str | None], list[int]] = defaultdict(list)
    for n in sales:
        groups[book.rows[n]["name"], book.rows[n]["event"]].append(n)
    return [_Stream(*key, _by(book, rows, lambda day: day)) for key, rows in groups.items()]


def _payout_fits(book: _Book, sales: list[int], postage: list[int]) -> Fits:
    """Whole days in a row of one stream, one sale alone, or what is open of two streams; each with its postage kept
    by the channel, or not."""
    label = {book.rows[n]["row_id"]: n for n in postage}
    streams = _streams(book, sales)
    runs: dict[int, list[tuple[int, tuple[int, ...], int, int]]] = defaultdict(list)
    for number, stream in enumerate(streams):
        for first in range(len(stream.days)):
            for last in range(first, min(first + MOST_DAYS, len(stream.days))):
                rows = tuple(n for day in stream.days[first : last + 1] for n in day)
                for total, told in _ways(book, rows, label):
                    runs[total].append((number, told, first, last))
    single: dict[int, list[tuple[int, tuple[int, ...]]]] = defaultdict(list)
    for number, stream in enumerate(streams):
        for day in stream.days:
            for n in day if len(day) > 1 else []:
                for total, told in _ways(book, (n,), label):
                    single[total].append((number, told))

    def fits(payment: Row) -> list[_Fit]:
        asked, named = _asked(payment, streams)
        late = LATE_NAMED if named else LATE
        found = []
        for number, rows, first, last in runs.get(payment["amount_cents"], []):
            days = _away(book.rows[_last_sale(book, rows)], payment)
            if number in asked and 0 <= days <= late and book.free(rows):
                natural = _whole_months(book, streams[number], first, last) or not _older(book, streams[number], first)
                found.append(_Fit(rows, natural, (0, days, first)))
        for number, rows in single.get(payment["amount_cents"], []):
            days = _away(book.rows[rows[0]], payment)
            if number in asked and 0 <= days <= LATE and book.free(rows):
                found.append(_Fit(rows, True, (1, days, rows[0])))
        return found or _of_two(payment, book, [streams[n] for n in asked], label)

    return fits


def _ways(book: _Book, rows: tuple[int, ...], label: dict[int, int]) -> list[tuple[int, tuple[int, ...]]]:
    """What some sales come to, and what after their postage, with the rows that are told by either."""
    due = sum(book.rows[n]["cents"] for n in rows)
    posted = [label[book.rows[n]["row_id"]] for n in rows if book.rows[n]["row_id"] in label]
    ways = [(due, rows)]
    if posted:
        ways.append((due + sum(book.rows[n]["cents"] for n in posted), (*rows, *posted)))
    return ways


def _last_sale(book: _Book, rows: tuple[int, ...]) -> int:
    return max((n for n in rows if book.rows[n]["kind"] == "sale"), key=lambda n: book.rows[n]["on_date"])


def _asked(payment: Row, streams: list[_Stream]) -> tuple[set[int], bool]:
    """The streams that a payment can be of, and whether it names them."""
    if payment["event"]:
        return {k for k, stream in enumerate(streams) if stream.event == payment["event"]}, True
    by_note = {k for k, stream in enumerate(streams) if _names(payment, stream.channel)}
    return (by_note, True) if by_note else (set(range(len(streams))), False)


def _whole_months(book: _Book, stream: _Stream, first: int, last: int) -> bool:
    """Whether a run is all that a stream has of its month, or months: many channels pay by the month."""
    months = [_month(book.rows[day[0]]["on_date"]) for day in stream.days]
    begins = first == 0 or months[first - 1] != months[first]
    return begins and (last + 1 == len(months) or months[last + 1] != months[last])


def _older(book: _Book, stream: _Stream, first: int) -> bool:
    """Whether days just before a run are still open: then it passes them over."""
    begin = book.rows[stream.days[first][0]]["on_date"] - timedelta(days=LATE_NAMED)
    before = (day for day in stream.days[:first] if book.rows[day[0]]["on_date"] >= begin)
    return any(book.free([n]) for day in before for n in day)


def _of_two(payment: Row, book: _Book, streams: list[_Stream], label: dict[int, int]) -> list[_Fit]:
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
    return [_Fit(rows, True, (2, 0, rows[0])) for rows in sorted(found)]


def _open(payment: Row, book: _Book, stream: _Stream, label: dict[int, int]) -> Iterator[tuple[int, tuple[int, ...]]]:
    rows: tuple[int, ...] = ()
    for day in stream.days:
        days = _away(book.rows[day[0]], payment)
        if days < 0:
            return
        free = tuple(n for n in day if n not in book.taken)
        if days > LATE_NAMED or not free:
            continue
        rows += free
        if days <= LATE:
            yield from _ways(book, rows, label)


NODES = (
    Node(
        "money.twin",
        ("records.payments", "money._expected"),
        COLUMNS,
        twins,
        "One row per payment and row that it is a second view of: counted once, by the payment; `sure` where only that"
        " row fits.",
        key=("payment_id", "kind", "row_id", "on_date"),
    ),
)
