"""A year of an invented shop's sales and bills, and the bank's lines that pay them, with which line pays what.

Habits, each shop with some of them: fees held back; money that comes one to five days late; payouts by the week, the
month or the day; postage kept by the channel or paid by the shop; two markets in one deposit; a refund in a payout;
takings of cash that never reach the bank; lines that name channel or market, and lines that name nothing; a payout for
one sale alone; prices from a short list, so that sums meet by chance.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Any

import polars as pl

FIRST, DAYS = date(2026, 1, 1), 365
PRICES = (1200, 1500, 1800, 2500, 4500, 6000, 9500, 12000, 18000)
MARKETS = ("Spring fair", "Abbey yard", "Harbour days", "Mill green")
SUPPLIERS = ("Sawmill", "Resin works", "Grit house")

_EXPECTED = {
    "kind": pl.String,
    "on_date": pl.Date,
    "row_id": pl.Int64,
    "name": pl.String,
    "words": pl.String,
    "event": pl.String,
    "cents": pl.Int64,
    "postage_cents": pl.Int64,
}
_PAYMENTS = {
    "row_id": pl.Int64,
    "on_date": pl.Date,
    "kind": pl.String,
    "amount_cents": pl.Int64,
    "order_no": pl.String,
    "receipt": pl.String,
    "event": pl.String,
    "note": pl.String,
}


@dataclass
class Bank:
    """What records lead one to expect, the bank's lines, and line → the rows that it pays, as (kind, row_id)."""

    expected: list[dict[str, Any]] = field(default_factory=list)
    payments: list[dict[str, Any]] = field(default_factory=list)
    pays: dict[int, set[tuple[str, int]]] = field(default_factory=dict)

    def tables(self) -> dict[str, pl.DataFrame]:
        """The two tables that the links are made from."""
        return {
            "records.payments": pl.DataFrame(self.payments, schema=_PAYMENTS),
            "money._expected": pl.DataFrame(self.expected, schema=_EXPECTED),
        }

    def expect(self, kind: str, day: date, name: str, words: str, cents: int, **more: Any) -> dict[str, Any]:
        """One more row that is expected. One with postage of its own brings a row for that."""
        row_id = more.pop("row_id", len(self.expected) + 1)
        row = {"kind": kind, "on_date": day, "row_id": row_id, "name": name, "words": words, "event": None}
        self.expected.append(row | {"cents": cents, "postage_cents": 0} | more)
        return self.expected[-1]

    def pay(self, kind: str, day: date, rows: Iterable[dict[str, Any]], note: str = "", event: str = "") -> None:
        """One more line of the bank, for just these rows. None for what comes to nothing."""
        rows = list(rows)
        cents = sum(row["cents"] for row in rows) * (1 if kind == "payout" else -1)
        if cents <= 0:
            return
        number = 100_000 + len(self.payments)
        line = {"row_id": number, "on_date": day, "kind": kind, "amount_cents": cents, "order_no": None}
        self.payments.append(line | {"receipt": None, "event": event or None, "note": note or None})
        self.pays[number] = {(row["kind"], row["row_id"]) for row in rows}


@dataclass
class Links:
    """How the links that were found compare with what is true: lines of the bank, those linked without a question,
    with one, and not at all; of those without one, how many pay other rows, and how many other money: not the same
    cents of the same channel, market, receipt or pool. `off`: cents by which cash is wrong, of each shop
    without questions."""

    lines: int = 0
    sure: int = 0
    asked: int = 0
    none: int = 0
    other_rows: int = 0
    other_money: int = 0
    off: list[int] = field(default_factory=list)

    def add(self, bank: Bank, found: pl.DataFrame) -> None:
        """Count one shop's links, `found` as `money.twin`."""
        rows = {(row["kind"], row["row_id"]): row for row in bank.expected}
        got: dict[int, set[tuple[str, int]]] = defaultdict(set)
        sure: dict[int, bool] = {}
        for payment, kind, row_id, _day, is_sure in found.rows():
            got[payment].add((kind, row_id))
            sure[payment] = is_sure
        for payment, true in bank.pays.items():
            self.lines += 1
            self.none += payment not in got
            self.asked += sure.get(payment) is False
            if sure.get(payment):
                self.sure += 1
                self.other_rows += _alike(got[payment], rows) != _alike(true, rows)
                self.other_money += _money(got[payment], rows) != _money(true, rows)
        if all(sure.get(payment) for payment in bank.pays):
            paid = {key for each in bank.pays.values() for key in each}
            linked = {key for each in got.values() for key in each}
            self.off.append(sum(rows[key]["cents"] for key in linked) - sum(rows[key]["cents"] for key in paid))


def _alike(keys: set[tuple[str, int]], rows: dict[tuple[str, int], dict[str, Any]]) -> list[tuple[object, ...]]:
    """The rows, but for which of several that differ in their day alone."""
    return sorted((rows[k]["kind"], rows[k]["name"], rows[k]["event"] or "", rows[k]["cents"]) for k in keys)


def _money(keys: set[tuple[str, int]], rows: dict[tuple[str, int], dict[str, Any]]) -> dict[tuple[object, ...], int]:
    """The cents of each channel, market, receipt or pool; what comes to nothing is left out."""
    sums: dict[tuple[object, ...], int] = defaultdict(int)
    for kind, name, event, cents in _alike(keys, rows):
        sums[kind, name, event] += cents  # type: ignore[operator]
    return {key: cents for key, cents in sums.items() if cents}


def draw_bank(random: Random) -> Bank:
    """One invented shop's year."""
    bank = Bank()
    _markets(bank, random)
    for channel in random.sample(("webshop", "gallery", "commission"), random.randint(1, 3)):
        _channel(bank, random, channel)
    _bills(bank, random)
    if random.random() < 0.4:  # cash that is spent before it sees the bank
        for _ in range(random.randint(5, 40)):
            bank.expect("sale", _day(random), "studio", "studio", random.choice(PRICES))
    bank.payments.sort(key=lambda line: (line["on_date"], line["row_id"]))
    return bank


def _day(random: Random) -> date:
    return FIRST + timedelta(days=random.randrange(DAYS))


def _banked(day: date, late: int) -> date:
    """The day that money arrives, so many days later and on a working day."""
    on = day + timedelta(days=late)
    return on + timedelta(days=max(0, 7 - on.weekday()) if on.weekday() > 4 else 0)


def _markets(bank: Bank, random: Random) -> None:
    """Market days, paid in by themselves or two at a time, by card terminal with its fee held back, or not at all."""
    named, together = random.random() < 0.5, random.random() < 0.3
    fee, late = random.choice((0, 0, 175, 250)), random.randint(1, 5)
    open_: list[tuple[str, list[dict[str, Any]]]] = []
    day = FIRST + timedelta(days=random.randrange(20))
    while day < FIRST + timedelta(days=DAYS):
        name = random.choice(MARKETS)
        event = f"{name} {day:%B}"
        rows = []
        for later in range(random.randint(1, 2)):
            for _ in range(random.randint(2, 12)):
                price = random.choice(PRICES)
                due = price - price * fee // 10_000
                on = day + timedelta(days=later)
                rows.append(bank.expect("sale", on, "market", "market", due, event=event))
        if random.random() < 0.05:
            open_.clear()
        else:
            open_.append((event, rows))
        if open_ and (not together or len(open_) == 2):
            said = open_[0][0] if named and len(open_) == 1 else ""
            on = _banked(max(row["on_date"] for _, part in open_ for row in part), late)
            bank.pay("payout", on, [row for _, part in open_ for row in part], event=said)
            open_.clear()
        day += timedelta(days=random.randint(2, 5) if together and open_ else random.randint(9, 40))


def _channel(bank: Bank, random: Random, channel: str) -> None:
    """Sales over the year, paid out by the day, the week or the month, fees and perhaps postage held back."""
    fee, keeps_postage = random.choice((0, 650, 900)), random.random() < 0.3
    posts, every = random.random() < 0.6, random.choice(("day", "week", "month", "one"))
    note, late = random.choice(("", f"payout {channel}", "transfer")), random.randint(1, 5)
    due: dict[object, list[dict[str, Any]]] = defaultdict(list)
    for day in sorted(_day(random) for _ in range(random.randint(15, 120))):
        price = random.choice(PRICES)
        if random.random() < 0.04:
            price = -price  # what came back
        cents = price - price * fee // 10_000
        postage = random.choice((495, 620, 890)) if posts and price > 0 else 0
        row = bank.expect("sale", day, channel, channel, cents, postage_cents=postage)
        key = {"day": day, "week": day.isocalendar()[:2], "month": (day.year, day.month), "one": row["row_id"]}[every]
        due[key].append(row)
        if postage:
            label = bank.expect("postage", day, "postage", "post", -postage, row_id=row["row_id"])
            if keeps_postage:
                due[key].append(label)
            elif random.random() < 0.5:
                bank.pay("supplier", day + timedelta(days=random.randint(0, 2)), [label], note="post")
    open_: list[dict[str, Any]] = []
    for rows in due.values():
        open_ += rows
        if sum(row["cents"] for row in open_) > 0:  # what comes to less than nothing is taken off the next payout
            bank.pay("payout", _banked(max(row["on_date"] for row in open_), late), open_, note=note)
            open_ = []


def _bills(bank: Bank, random: Random) -> None:
    """Receipts of one or more lines and a rent by the month, paid by the bank, or by cash that nobody sees."""
    for number in range(random.randint(5, 30)):
        supplier, day = random.choice(SUPPLIERS), _day(random)
        lines = [
            bank.expect("receipt", day, f"R-{number}/{supplier}", supplier, -random.choice(PRICES))
            for _ in range(random.randint(1, 3))
        ]
        if random.random() < 0.8:
            note = supplier if random.random() < 0.6 else ""
            bank.pay("supplier", day + timedelta(days=random.choice((0, 1, 3, 14, 30))), lines, note=note)
    rent = random.choice((25000, 42000))
    for month in range(1, 13):
        row = bank.expect("pool", date(2026, month, 1), "rent", "rent", -rent)
        if random.random() < 0.9:
            bank.pay("supplier", date(2026, month, random.randint(1, 5)), [row], note=random.choice(("rent", "")))
