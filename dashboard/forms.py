"""A form for a record, made from the record types: what matters at the bench first, all else behind a fold."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard.refreshing import attempt, fault
from pipeline import actions
from pipeline.records import RECORDS, Field

FIRST: dict[str, tuple[str, ...]] = {
    "hours": ("date", "hours", "operation", "pieces", "person", "rework"),
    "pours": ("pour", "date", "purpose", "resin", "part_a", "part_b", "unit", "piece", "left_in_cup", "stir_minutes"),
    "inspections": ("date", "piece", "defect", "action", "found_at", "cause"),
    "usage": ("date", "item", "quantity", "unit", "pieces"),
    "sales": ("date", "channel", "piece", "price", "sales_tax", "event"),
    "purchases": ("date", "supplier", "item", "category", "quantity", "unit", "amount", "tax", "lot"),
    "pieces": (
        *("piece", "product", "species", "finish", "lot", "started", "finished", "status"),
        *("length", "width", "thickness", "blank_length", "blank_width", "blank_thickness"),
    ),
    "counts": ("date", "item", "category", "quantity", "unit"),
}
"""The fields shown at once, by record."""

UNITS = ("g", "ml", "kg", "l", "oz", "lb", "fl oz", "gal", "bf", "each", "kit")
PLACEHOLDERS = {
    "length": "400 mm or 16 in",
    "duration": "1:45 or 105 min",
    "time": "14:30",
    "temperature": "20 C or 68 F",
    "percent": "45 %",
    "number": "1.5",
    "tag": "T-001",
}


def record_form(
    folder: Path,
    record: str,
    known: Mapping[str, Sequence[str]],
    start: Mapping[str, Any],
    button: str,
    key: str = "",
    taken: Collection[str] = (),
) -> bool:
    """The form of a record. `known`: words to choose from by field; `start`: what a field says at first; `taken`: tags
    that another record has, so that this one can't.

    Gives whether an entry was logged; then the form is empty again. What can't be read is said, and stays to be mended.
    """
    number = turn(record, key)
    first = FIRST.get(record, tuple(f.name for f in RECORDS[record] if f.required))
    with st.form(f"log-{record}{key}-{number}", enter_to_submit=False):
        cells = {name: _asked(RECORDS[record].field(name), known, start, f"-{record}{key}-{number}") for name in first}
        with st.expander("More fields"):
            for field in RECORDS[record]:
                if field.name not in first:
                    cells[field.name] = _asked(field, known, start, f"-{record}{key}-{number}")
        pressed = st.form_submit_button(button, type="primary", width="stretch")
    tag = cells.get(RECORDS[record].key, "").strip().upper()
    if pressed and tag and tag in taken:
        fault(
            f"{tag} is a piece already.",
            "Give this one a tag of its own; what changed about the other is mended in its row.",
        )
        return False
    if not pressed or not attempt(lambda: actions.log_entry(folder, record, cells)):
        return False
    st.session_state[f"turn-{record}{key}"] = number + 1
    return True


def turn(record: str, key: str = "") -> int:
    """How often this form was filled: with each entry it begins anew."""
    return int(st.session_state.setdefault(f"turn-{record}{key}", 0))


def _asked(field: Field, known: Mapping[str, Sequence[str]], start: Mapping[str, Any], key: str) -> str:
    """One field's widget; gives its text."""
    label = field.name.replace("_", " ").capitalize() + (" (needed)" if field.required else "")
    value = start.get(field.name)
    named: dict[str, Any] = {"help": field.meaning, "key": f"{field.name}{key}"}
    match field.kind:
        case "date":
            chosen = st.date_input(label, value, **named)
            return chosen.isoformat() if isinstance(chosen, date) else ""
        case "yes_no":
            return "yes" if st.checkbox(label, bool(field.default if value is None else value), **named) else "no"
        case "money" | "quantity" | "count":
            return number_text(_number(field, label, value, named))
        case "choice":
            return _one(label, field.choices, value, named, new=False)
        case "tags":
            options = list(known.get(field.name, ()))
            tags = st.multiselect(label, options, value, accept_new_options=True, placeholder="T-001", **named)
            return "; ".join(tags)
        case "unit":
            return _one(label, known.get("unit", UNITS), value, named)
        case "word" | "tag" if known.get(field.name):
            return _one(label, known[field.name], value, named)
    return st.text_input(label, value or "", placeholder=PLACEHOLDERS.get(field.kind), **named) or ""


def _number(field: Field, label: str, value: Any, named: dict[str, Any]) -> Any:
    least: Any = None if field.sign == "any" else 0
    if field.kind == "count":
        first: Any = field.default if value is None else value
        return st.number_input(label, least, value=first, step=1, **named)
    shape = "%.2f" if field.kind == "money" else "%g"
    return st.number_input(label, least if least is None else 0.0, value=value, step=1.0, format=shape, **named)


def _one(label: str, words: Sequence[str], value: str | None, named: dict[str, Any], new: bool = True) -> str:
    options = list(dict.fromkeys([*([value] if value else []), *words]))
    place = options.index(value) if value else None
    holder = "Choose, or type your own" if new else "Choose"
    return st.selectbox(label, options, place, accept_new_options=new, placeholder=holder, **named) or ""


def number_text(value: float | int | None) -> str:
    """A number as a file says it, with a point. Three decimals get a fourth: `1.234` could be a thousand and more."""
    if value is None:
        return ""
    text = f"{value:.10f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
    return f"{text}0" if len(text.partition(".")[2]) == 3 else text
