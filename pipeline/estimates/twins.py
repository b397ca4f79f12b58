"""Which payment is a second view of what other records tell already: takings paid in, a payout and its sales, a bill.

Matched by amount, day and channel. A payment's twin is sure where it is the only one that fits and nothing older of its
kind is left open; else the likeliest is taken and asked about.
"""

from collections import defaultdict
from collections.abc import Iterator

import polars as pl

from pipeline.estimates import Node, _payouts
from pipeline.estimates._expected_cash import (
    EARLY_BILL,
    LATE,
    LATE_BILL,
    LATE_REFUND,
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
from pipeline.tables import in_polars

COLUMNS = {"payment_id": "BIGINT", "kind": "VARCHAR", "row_id": "BIGINT", "on_date": "DATE", "sure": "BOOLEAN"}

ROUNDS = 6


def twins(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`money.twin`: a row a payment and row that it pays."""
    paid = tables["records.payments"].filter(pl.col("order_no").is_null())
    payments = list(
        paid.sort("on_date", "kind", "amount_cents", "note", "row_id", nulls_last=True).iter_rows(named=True)
    )
    order = ("on_date", "kind", "name", "event", "cents", "row_id")
    book = Book(list(tables["money._expected"].sort(*order, nulls_last=True).iter_rows(named=True)), set())
    by_kind: dict[str, list[int]] = defaultdict(list)
    for number, row in enumerate(book.rows):
        by_kind[row["kind"]].append(number)
    refunds = [p for p in payments if p["kind"] == "refund" and p["amount_cents"] > 0]
    bills = [p for p in payments if p["kind"] == "supplier" and p["receipt"] is None]
    payouts = [p for p in payments if p["kind"] == "payout"]
    streams = _payouts.streams_of(book, by_kind["sale"])
    habitual = list(_payouts.habitual(payouts, book, streams, by_kind["postage"]))
    explained = {id(payment) for payment, _ in habitual}
    payouts = [payment for payment in payouts if id(payment) not in explained]
    found = [
        *((payment, fit, True) for payment, fit in habitual),
        *_resolved(refunds, _refund_fits(book, by_kind["sale"]), book),
        *_resolved(bills, _bill_fits(book, by_kind), book),
        *_resolved(payouts, _payouts.payout_fits(book, streams, by_kind["postage"]), book),
    ]
    told = [
        (payment["row_id"], book.rows[n]["kind"], book.rows[n]["row_id"], book.rows[n]["on_date"], sure)
        for payment, fit, sure in found
        for n in fit.rows
    ]
    return pl.DataFrame(told, schema=in_polars(COLUMNS), orient="row")


def _resolved(payments: list[Row], fits: Fits, book: Book) -> Iterator[tuple[Row, Fit, bool]]:
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
    for payment, fit in _alike(left, fits, book):
        book.taken.update(fit.rows)
        left = [other for other in left if other is not payment]
        yield payment, fit, True
    for payment in left:
        possible = _free(fits(payment), book)
        if possible:
            best = min(possible, key=lambda fit: (not fit.natural, fit.rank))
            book.taken.update(best.rows)
            yield payment, best, False


def _alike(payments: list[Row], fits: Fits, book: Book) -> list[tuple[Row, Fit]]:
    """Payments that could pay one of several rows as like as stamps, which no other kind of payment could pay: each the
    oldest that is left."""
    possible = {payment["row_id"]: _free(fits(payment), book) for payment in payments}
    kinds = {key: {_looks(fit, book) for fit in found} for key, found in possible.items()}
    claimed: dict[int, set[object]] = defaultdict(set)
    for key, found in possible.items():
        for number in {n for fit in found for n in fit.rows}:
            claimed[number] |= kinds[key]
    chosen: list[tuple[Row, Fit]] = []
    taken: set[int] = set()
    for payment in payments:
        found = possible[payment["row_id"]]
        rows = {n for fit in found for n in fit.rows}
        # less than what came back was worth may be an allowance on something else
        if payment["kind"] == "refund" and not all(fit.natural for fit in found):
            continue
        if len(kinds[payment["row_id"]]) != 1 or any(len(claimed[n]) != 1 for n in rows):
            continue
        for fit in sorted(found, key=lambda fit: fit.rows):
            if taken.isdisjoint(fit.rows):
                taken.update(fit.rows)
                chosen.append((payment, fit))
                break
    return chosen


def _looks(fit: Fit, book: Book) -> tuple[object, ...]:
    """What rows are, but for which of several alike."""
    rows = (book.rows[n] for n in fit.rows)
    return tuple(sorted((row["kind"], row["name"] or "", row["event"] or "", row["cents"]) for row in rows))


def _free(fits: list[Fit], book: Book) -> list[Fit]:
    by_rows = {fit.rows: fit for fit in sorted(fits, key=lambda fit: fit.natural) if book.free(fit.rows)}
    return list(by_rows.values())


# --- refunds: what came back ------------------------------------------------------------------------------------------


def _refund_fits(book: Book, sales: list[int]) -> Fits:
    back = [n for n in sales if book.rows[n]["cents"] < 0]

    def fits(payment: Row) -> list[Fit]:
        near = [(n, days_after(book.rows[n], payment)) for n in back if n not in book.taken]
        near = [(n, days) for n, days in near if -LATE <= days <= LATE_REFUND]
        exact = [n for n, _ in near if book.rows[n]["cents"] == -payment["amount_cents"]]
        part = [n for n, days in near if days >= 0 and 2 * payment["amount_cents"] >= -book.rows[n]["cents"]]
        part = [n for n in part if payment["amount_cents"] < -book.rows[n]["cents"]]
        # what is given back at one market is for nothing that came back elsewhere
        part = [n for n in part if payment["event"] in (None, book.rows[n]["event"])]
        days = dict(near)
        chosen = exact or part
        return [Fit((n,), bool(exact), (abs(days[n]), n)) for n in chosen]

    return fits


# --- bills: receipts, pools, postage ----------------------------------------------------------------------------------


def _bill_fits(book: Book, by_kind: dict[str, list[int]]) -> Fits:
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
    for posted in (
        grouped(book, by_kind["postage"], lambda day: day),
        grouped(book, by_kind["postage"], first_of_month),
    ):
        for rows in posted:
            if len(rows) > 1:
                add("postage", rows)

    def fits(payment: Row) -> list[Fit]:
        found = []
        for kind, rows in groups.get(-payment["amount_cents"], []):
            last = book.rows[rows[-1]]
            days = days_after(last, payment)
            tier = _tier(kind, last, payment, days)
            if tier is not None and book.free(rows):
                named = any(is_named(payment, book.rows[rows[0]][key]) for key in ("words", "name"))
                found.append((Fit(rows, True, (tier, abs(days), rows[0])), named))
        named_ones = [fit for fit, named in found if named]
        chosen = named_ones or [fit for fit, _ in found]
        first = min((fit.rank[0] for fit in chosen), default=0)
        return [fit for fit in chosen if fit.rank[0] == first]

    return fits


def _tier(kind: str, row: Row, payment: Row, days: int) -> int | None:
    """How near in time a bill is to its payment: 0, the usual, 1, or not at all."""
    if kind in ("pool", "equipment"):
        same = first_of_month(row["on_date"]) == first_of_month(payment["on_date"])
        return 0 if same else 1 if -LATE <= days <= LATE_BILL else None
    late = LATE_BILL if kind == "receipt" else MOST_DAYS
    return 0 if -EARLY_BILL <= days <= late else None


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
