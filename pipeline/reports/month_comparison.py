"""The difference between two months' results in sentences: its largest causes each way, and what it left the owners.

The figures are rows of `money.bridge` with the words of `money.difference`, and the two rows of `money.month`.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pipeline.reports.words import amount

Row = Mapping[str, Any]

NAMED = 2
"""Causes that a sentence names of each way."""


def sentences(parts: Sequence[Row], now: Row, past: Row, currency: str, digits: int) -> Iterator[str]:
    """What made the difference, and what was left for the owners' pay; nothing where no part differs."""
    if not any(part["cents"] for part in parts):
        return
    yield _difference(parts, now, past, currency, digits)
    if _own_pay(now) or _own_pay(past):
        yield _owners(now, past, currency, digits)


def main_cause(parts: Sequence[Row]) -> str:
    """What made most of the difference; empty where nothing pulled the way that the month went."""
    along, _ = _causes(parts)
    return _words(along[0]) if along else ""


def _causes(parts: Sequence[Row]) -> tuple[list[Row], list[Row]]:
    """The parts that pull the way the month went, and those against it, each from the largest."""
    by_size = sorted((p for p in parts if p["cents"]), key=lambda p: (-abs(p["cents"]), p["part_number"]))
    difference = by_size[0]["result_cents"] - by_size[0]["other_result_cents"] if by_size else 0
    along = [part for part in by_size if part["cents"] * difference > 0]
    return along, [part for part in by_size if part["cents"] * difference <= 0]


def _words(part: Row) -> str:
    return str(part["better"] if part["cents"] > 0 else part["worse"])


def _difference(parts: Sequence[Row], now: Row, past: Row, currency: str, digits: int) -> str:
    along, against = _causes(parts)
    cents = now["result_cents"] - past["result_cents"]
    so_far = "" if now["whole"] else " so far"
    more = f"{_more(cents) if cents else 'more or less'} than {past['month']:%B %Y}"
    said = f"{now['month']:%B %Y}{so_far} made {_money(abs(cents), digits)} {currency} {more}"
    if along:
        said += f", mainly by {_listed(along, digits)}"
    if against:
        said += f"; against that stood {_listed(against, digits)}"
    return f"{said}."


def _listed(causes: Sequence[Row], digits: int) -> str:
    return " and ".join(
        f"{_words(part)} ({'+' if part['cents'] > 0 else '−'}{_money(abs(part['cents']), digits)})"
        for part in causes[:NAMED]
    )


def _owners(now: Row, past: Row, currency: str, digits: int) -> str:
    def left(row: Row, unit: str = "") -> str:
        terms = (row["result_cents"], _own_pay(row), row["owners_result_cents"])
        result, pay, owners = (_money(cents, digits) for cents in terms)
        return f"{result} + {pay} = {owners}{unit} in {row['month']:%B %Y}"

    def change(cents: int) -> str:
        return f"{_money(abs(cents), digits)} {_more(cents)}"

    all_in_all = change(now["owners_result_cents"] - past["owners_result_cents"])
    in_result = change(now["result_cents"] - past["result_cents"])
    in_pay = change(_own_pay(now) - _own_pay(past))
    return (
        "What was left for the owners' pay is the result with the own pay counted in it added back: "
        f"{left(past, f' {currency}')}, {left(now)}. "
        f"From one to the other it is {all_in_all}: {in_result} in the result, {in_pay} in the own pay counted."
    )


def _own_pay(month: Row) -> int:
    return int(month["owners_result_cents"] - month["result_cents"])


def _more(cents: int) -> str:
    return "less" if cents < 0 else "more"


def _money(cents: int, digits: int) -> str:
    return amount(cents, digits).replace("-", "\u2212")
