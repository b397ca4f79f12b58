"""What was worked on last, to begin the next entry with: its piece, person and resin, and the timer that ran last.

Of sales and purchases it is where the last one of the same day was made.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.entry_words import NO_PIECE, on_no_piece
from dashboard.options import FormOptions

FILLED = ("hours", "pours", "inspections", "usage")
"""Records of work on a piece, whose forms begin with the piece that was worked on last."""

AGAIN = {"sales": ("event",), "purchases": ("supplier",)}
"""What one entry of a day mostly has from the one before it: sales at one stall, the lines of one receipt."""

TIMED = ("operation", "pieces", "person", "machine", "rework", "event", "note")
"""What a timer may be given of a row of hours: its times are its own."""


def filled_in(state: Any, people: Sequence[str]) -> dict[str, str]:
    """The pieces, person and resin of the timer that was started last, else of the entry that was written last."""
    cells = [timer.cells for timer in reversed(state.timers)] + [entry.cells for entry in reversed(state.entries)]
    newest = cells[0] if cells else {}
    usual = next(iter(people), "")
    return {
        "pieces": newest.get("pieces") or newest.get("piece", ""),
        "person": newest.get("person") or _newest("person", cells) or usual,
        "resin": _newest("resin", cells),
    }


def as_before(state: Any, record: str, day: str) -> dict[str, str]:
    """What the last entry of a record that was written on a day, as `2026-05-31`, says of where it was made."""
    last = next((each for each in reversed(state.entries) if each.record == record and each.at[:10] == day), None)
    return {name: last.cells[name] for name in AGAIN.get(record, ()) if name in last.cells} if last else {}


def last_timer(state: Any) -> dict[str, str] | None:
    """What the timer was for that ran last, to start it again; None where none has ended."""
    last = next((entry.timer for entry in reversed(state.entries) if entry.timer), None)
    return {name: text for name, text in last["cells"].items() if name in TIMED} if last else None


def work_in_words(cells: Mapping[str, str], known: FormOptions) -> str:
    """What a timer runs for, in words."""
    pieces = [known.said(tag.upper()) for tag in cells.get("pieces", "").split("; ") if tag]
    none = NO_PIECE if on_no_piece("hours", cells) else ""
    return ", ".join(part for part in (cells.get("operation") or "work", *pieces, cells.get("machine"), none) if part)


def _newest(name: str, cells: Sequence[Mapping[str, str]]) -> str:
    return next((each[name] for each in cells if each.get(name)), "")
