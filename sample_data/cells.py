"""How a file writes a value: many hands, many habits."""

import random
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from pipeline.records import RECORDS
from sample_data import workshop as w
from sample_data.paper import Paper
from sample_data.story import Row

Format = Callable[[Row, int], Any]


def cells(row: Row, forms: list[tuple[str, Format]], number: int) -> list[Any]:
    """The cells of one row of a file; `number` is its place, for habits that change from row to row."""
    return [form(row, number) for _, form in forms]


def formats(rng: random.Random, paper: Paper) -> list[tuple[str, Format]]:
    """Each column's field with the way in which this file writes it."""
    fields = {f.name: f for f in RECORDS[paper.record]}
    return [
        (name, _format(rng, paper, name, fields[name].kind if name in fields else "text")) for name in paper.columns
    ]


def _format(rng: random.Random, paper: Paper, name: str, kind: str) -> Format:
    """How this file writes this field: a function from row and row number to the cell."""
    in_book = bool(paper.sheet)
    comma = paper.decimal == ","
    repeated = paper.repeats_total or name not in ("tax", "freight", "discount", "total")
    last_receipt = [""]

    def on_date(row: Row, number: int) -> Any:
        day = row.get(name)
        return None if day is None else (date.fromordinal(day) if in_book else _day(day, paper.date))

    def money(row: Row, number: int) -> Any:
        cents = row.get(name)
        if not repeated:
            # the sums of a receipt stand on its first line
            fresh = number == 0 or row.get("receipt") != last_receipt[0]
            last_receipt[0] = row.get("receipt") or ""
            cents = cents if fresh else None
        if cents is None:
            return None
        return cents / 100 if in_book else _money(cents, paper.money, comma)

    def quantity(row: Row, number: int) -> Any:
        return _quantity(row.get(name), paper, comma)

    def unit(row: Row, number: int) -> Any:
        given = row.get("quantity")
        return given[1] if given else None

    def length(row: Row, number: int) -> Any:
        um = row.get(name)
        return None if um is None else _length(um, paper.length, name, comma, in_book)

    def duration(row: Row, number: int) -> Any:
        seconds = row.get(name)
        return None if seconds is None else _duration(seconds, paper.durations, number, name, comma)

    def clock(row: Row, number: int) -> Any:
        # the 2025 notebook has both times on most rows, and hours on the rest
        if number % 5 == 0 and not paper.calendar:
            return None
        begin = 8 * 3600 + (number * 1260) % 14400
        second = begin + (row["hours"] if name == "ended_at" else 0)
        return f"{second // 3600 % 24:02d}:{second % 3600 // 60:02d}"

    def word(row: Row, number: int) -> Any:
        text = row.get(name)
        return _spell(rng, name, text) if paper.spelt and text else text

    def tags(row: Row, number: int) -> Any:
        return _tags(row.get(name) or [], number)

    def yes_no(row: Row, number: int) -> Any:
        value = row.get(name)
        if name == "rework" and not value:
            return None
        return None if value is None else ("yes" if value else "no")

    def temperature(row: Row, number: int) -> Any:
        celsius = row.get(name)
        if celsius is None:
            return None
        return f"{celsius * 1.8 + 32:.1f}" if paper.fahrenheit else _comma(f"{celsius} C", comma)

    def percent(row: Row, number: int) -> Any:
        return None if row.get(name) is None else f"{row[name]} %"

    def plain(row: Row, number: int) -> Any:
        return row.get(name)

    if kind == "duration" and paper.durations == "clock":
        return lambda row, number: duration(row, number) if number % 5 == 0 else None
    by_kind = {
        "date": on_date,
        "money": money,
        "quantity": quantity,
        "unit": unit,
        "length": length,
        "duration": duration,
    }
    by_kind |= {
        "time": clock,
        "word": word,
        "tags": tags,
        "yes_no": yes_no,
        "temperature": temperature,
        "percent": percent,
    }
    return by_kind.get(kind, plain)


@lru_cache(maxsize=8192)
def _day(day: int, form: str) -> str:
    return date.fromordinal(day).strftime(form)


def _comma(text: str, comma: bool) -> str:
    return text.replace(".", ",") if comma else text


def _money(cents: int, sign: str, comma: bool) -> str:
    whole, rest = divmod(abs(cents), 100)
    minus = "-" if cents < 0 else ""
    if sign:
        # an accountant's hand: thousands marks, and brackets for what came back
        return f"({sign}{whole:,}.{rest:02d})" if cents < 0 else f"{sign}{whole:,}.{rest:02d}"
    if comma:
        return f"{minus}{f'{whole:,}'.replace(',', '.')},{rest:02d}"
    return f"{minus}{whole}.{rest:02d}"


def _quantity(given: Any, paper: Paper, comma: bool) -> str | None:
    if given is None:
        return None
    if isinstance(given, int):
        return str(given)
    number, unit = given
    if paper.ounces:
        # this log has bare numbers; its headers name the units
        return f"{number / w.ML_PER_FLUID_OUNCE:.1f}" if unit == "ml" else str(number)
    if paper.unit_column:
        packs, _, each = str(number).rpartition(" x ")
        return _comma(str(Decimal(packs or 1) * Decimal(each)), comma)
    return _comma(f"{number} {unit}", comma)


_EIGHTHS = ("", " 1/8", " 1/4", " 3/8", " 1/2", " 5/8", " 3/4", " 7/8")


def _length(um: int, unit: str, name: str, comma: bool, in_book: bool) -> Any:
    if unit == "in":
        if name == "thickness" and not in_book and um % 6350 == 0:
            return f"{um // 6350}/4"
        sixteenths = round(um / 1587.5)
        whole, rest = divmod(sixteenths, 16)
        part = f"{rest}/16" if rest % 2 else _EIGHTHS[rest // 2].strip()
        if in_book and not part:
            return whole
        return f"{whole} {part}".strip() if whole else part
    if unit == "cm" and name != "thickness":
        return _comma(_short(um / 10000), comma)
    if unit == "mm in cell":
        return f"{_short(um / 1000)} mm"
    return um // 1000 if in_book else _comma(_short(um / 1000), comma)


def _short(number: float) -> str:
    return f"{number:.4f}".rstrip("0").rstrip(".")


def _duration(seconds: int, style: str, number: int, name: str, comma: bool) -> str:
    if name == "stir_minutes":
        text = _comma(_short(seconds / 60), comma)
        return text if style == "minutes" else f"{text} min"
    if name == "cured_hours":
        return str(seconds // 3600) if style == "minutes" else f"{seconds // 3600} h"
    minutes = seconds // 60
    if style == "mixed":
        forms = (
            _short(seconds / 3600),
            f"{minutes // 60}:{minutes % 60:02d}",
            f"{minutes} min",
            f"{minutes // 60}h{minutes % 60:02d}",
        )
        return forms[number * 7 % 4]
    return _comma(_short(seconds / 3600), comma)


def _tags(tags: list[str], number: int) -> str | None:
    if not tags:
        return None
    if len(tags) > 1 and [int(t[2:]) for t in tags] == list(range(int(tags[0][2:]), int(tags[0][2:]) + len(tags))):
        return f"{tags[0]}..{tags[-1]}"
    return "; ".join(tags)


_OPERATIONS = {"sawing": "cutting", "surfacing": "planing", "carving": "CNC", "finishing": "oiling", "sanding": "sand"}


def _spell(rng: random.Random, name: str, text: str) -> str:
    if name == "species":
        return rng.choice(w.WOODS[text].spellings)
    if name == "finish":
        return rng.choice(w.FINISH_SPELLINGS[text])
    if name == "operation" and rng.random() < 0.3:
        return _OPERATIONS.get(text, text)
    return text
