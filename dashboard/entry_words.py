"""An entry of the log in words: what was done, how long or how much, on which piece."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from dashboard import words
from dashboard.log_fields import FIRST
from dashboard.options import FormOptions
from pipeline.pages import actions
from pipeline.records import RECORDS, Record

BARE = {
    *("operation", "piece", "pieces", "product", "species", "finish", "item", "category", "resin", "purpose", "pour"),
    *("defect", "action", "channel", "supplier", "status", "person", "machine", "event", "change"),
}
"""Fields whose word says by itself what it is."""

NO_PIECE = "on no piece: a cost of the month"

PASSED = "nothing found: it passed"


def entry_in_words(entry: Any, known: FormOptions) -> str:
    """An entry in words: what was done, how long or how much, on which piece."""
    record, cells = RECORDS[entry.record], entry.cells
    names_of = replace(known, names={}) if record.key else known  # a new piece says itself what it is
    names = dict.fromkeys((*FIRST.get(entry.record, ()), *(field.name for field in record)))
    said = [*_parts(record, [name for name in names if name in cells], cells, entry.at[:10], names_of)]
    if record.name == "inspections" and passed(cells):
        said.append(PASSED)
    return ", ".join([*said, NO_PIECE] if on_no_piece(entry.record, cells) else said)


def passed(cells: Mapping[str, str]) -> bool:
    """Whether an inspection names no defect and asks for nothing: then it counts as passed."""
    return cells.get("defect", "none") in ("", "none") and cells.get("action", "accept") in ("", "accept")


def on_no_piece(record: str, cells: Mapping[str, str]) -> bool:
    """Whether it is work that is in no piece's cost, and of no market either."""
    return record == "hours" and not cells.get("pieces") and not cells.get("event")


def _parts(record: Record, names: list[str], cells: dict[str, str], day: str, known: FormOptions) -> Iterator[str]:
    for field in map(record.field, names):
        name, text = field.name.replace("_", " "), cells[field.name]
        match field.kind:
            case "date":
                if text != day:
                    yield f"{name} {text}"
            case "time":
                if "hours" not in cells:
                    yield f"{name} {text}"
            case "yes_no":
                if (text == "yes") != bool(field.default):
                    yield name if text == "yes" else f"not {name}"
            case "duration" if field.name == "hours":
                yield _length(text)
            case "duration":
                seconds = actions.seconds_of(record.name, field.name, text)
                what = name.removesuffix(" minutes").removesuffix(" hours")
                yield f"{name} {text}" if seconds is None else f"{what} {words.lasted(seconds)}"
            case "money":
                yield f"{name} {_amount(text, known)}"
            case "tags":
                yield ", ".join(known.said(tag.upper()) for tag in text.split("; "))
            case "quantity":
                amount = f"{_plain(text)} {cells.get('unit', '')}".strip()
                yield amount if field.name == "quantity" else f"{name} {amount}"
            case "unit":
                pass
            case "count" if text == str(field.default):
                pass
            case "tag" if field.name in BARE:
                yield known.said(text.upper())
            case _:
                yield text if field.name in BARE else f"{name} {text}"


def _plain(text: str) -> str:
    """`60.1250`, as a form writes it for the reader, is 60.125."""
    return text.rstrip("0").rstrip(".") if re.fullmatch(r"-?\d+\.\d+", text) else text


def _amount(text: str, known: FormOptions) -> str:
    """`310` → `$310.00`; an amount in words stays as it is."""
    if not known.currency or not re.fullmatch(r"-?\d+(\.\d+)?", text):
        return text
    money = words.Money(known.currency)
    return money(round(float(text) * 10**money.digits))


def _length(text: str) -> str:
    """`1:45:10` → `1:45 h`; a length in words stays as it is."""
    clock = re.fullmatch(r"(\d+):(\d\d)(?::\d\d)?", text)
    if not clock:
        return text
    return f"{clock[1]}:{clock[2]} h" if int(clock[1]) or int(clock[2]) else "under a minute"
