"""A form for a record, made from the record types: what matters at the bench first, all else behind a fold."""

import re
from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import fields
from dashboard.fields import BETWEEN, Offers
from dashboard.options import FormOptions
from dashboard.refreshing import attempt, fault
from dashboard.verbatim import verbatim
from pipeline.pages import actions
from pipeline.records import RECORDS, Field

FIRST: dict[str, tuple[str, ...]] = {
    "hours": ("date", "hours", "operation", "pieces", "person", "rework"),
    "pours": ("pour", "date", "purpose", "resin", "part_a", "part_b", "unit", "piece", "left_in_cup", "stir_minutes"),
    "inspections": ("date", "piece", "defect", "action", "found_at", "cause"),
    "usage": ("date", "item", "quantity", "unit", "pieces"),
    "sales": ("date", "channel", "piece", "quantity", "price", "discount", "sales_tax", "event"),
    "purchases": ("date", "supplier", "item", "category", "quantity", "unit", "amount", "tax", "lot"),
    "pieces": (
        *("piece", "product", "species", "finish", "lot", "started", "finished", "status"),
        *("length", "width", "thickness", "blank_length", "blank_width", "blank_thickness"),
    ),
    "counts": ("date", "item", "category", "quantity", "unit"),
}
"""The fields shown at once, by record."""

HOLDERS = {"price": "for each one"}
"""What stands in an empty number, where its name alone would be read as what several of a thing brought together."""

ASKED = "asked whether meant"
"""Where it is kept which words of a form were asked about: pressed again, they are taken as they stand."""

UNITS = ("g", "ml", "kg", "l", "oz", "lb", "fl oz", "gal", "bf", "each", "kit")
PLACEHOLDERS = {
    "length": "400 mm or 16 in",
    "time": "14:30",
    "temperature": "20 C or 68 F",
    "percent": "45 %",
    "number": "1.5",
}


def record_form(
    folder: Path,
    record: str,
    known: FormOptions,
    start: Mapping[str, Any],
    button: str,
    key: str = "",
    taken: Mapping[str, Collection[str]] | None = None,
    fill: Mapping[str, Any] | None = None,
) -> Any:
    """The form of a record. `start`: what a field says at first; `taken`: tags by field that another record has;
    `fill`: tags by field that come to be known later, for a field that nobody has touched by then.

    Gives the entry that was logged, if one was; then the form is empty again. What can't be read is said, and stays to
    be mended.
    """
    number = turn(record, key)
    first = FIRST.get(record, tuple(f.name for f in RECORDS[record] if f.required))
    with fields.form(f"log-{record}{key}-{number}"):
        offers: Offers = {}
        own = f"-{record}{key}-{number}"
        later = {name: BETWEEN.join(tags) for name, tags in (fill or {}).items()}
        cells = {name: _asked(RECORDS[record].field(name), known, start, own, offers, later) for name in first}
        with st.expander("More fields"):
            for field in RECORDS[record]:
                if field.name not in first:
                    cells[field.name] = _asked(field, known, start, own, offers, later)
        pressed = st.form_submit_button(button, type="primary", width="stretch")
    fields.offer(offers, f"{record}{key}")
    if not pressed or _is_taken(cells, taken or {}):
        return None
    meant = as_known(folder, record, cells, known)
    if meant is None or bare_size(folder, record, meant, own):
        return None
    cells = meant
    logged: list[Any] = []
    if not attempt(lambda: logged.append(actions.log_entry(folder, record, cells))):
        return None
    st.session_state[f"turn-{record}{key}"] = number + 1
    return logged[0]


def _is_taken(cells: Mapping[str, str], taken: Mapping[str, Collection[str]]) -> bool:
    for name, tags in taken.items():
        tag = cells.get(name, "").strip().upper()
        if tag in tags:
            fault(
                f"{tag} is a {name} already.",
                "Give this one a tag of its own; what changed about the other is mended in its row.",
            )
            return True
    return False


def as_known(folder: Path, record: str, cells: Mapping[str, str], known: FormOptions) -> dict[str, str] | None:
    """The cells with tags as they are on record; None where a word must be asked about, which is said."""
    found = dict(cells)
    as_said = {name: tag for tag, name in known.names.items()}
    for field in RECORDS[record]:
        words = known.words.get(field.name, [])
        if field.kind not in ("tag", "tags", "word") or not words or not cells.get(field.name):
            continue
        parts = fields.parts(cells[field.name]) if field.kind == "tags" else [cells[field.name]]
        for place, text in enumerate(parts):
            if text in as_said:
                parts[place] = text = as_said[text]
            near = [] if text in words else actions.likely_meant(folder, record, field.name, text, words)
            if len(near) == 1 and field.kind != "word":
                parts[place] = near[0]
            elif near and st.session_state.get(ASKED) != (field.name, text):
                st.session_state[ASKED] = (field.name, text)
                fault(
                    f"“{text}” is not on record. Is {' or '.join(near[:3])} meant?",
                    f"Choose it under “{_label(field)}”, or press again to log “{text}” as it stands.",
                )
                return None
        found[field.name] = BETWEEN.join(parts)
    return found


BARE_SIZE = r"\d+(?:[.,]\d+)?(?:\s+\d+/\d+)?|\d+/\d+"
"""A size that says no unit."""


def bare_size(folder: Path, record: str, cells: Mapping[str, str], own: str) -> bool:
    """Whether a size stands without a unit; then both readings of it are offered, the shop's usual unit first."""
    shop = actions.shop_settings(folder)["shop"][0]
    if shop["sizes_in"]:
        return False
    bare = [f for f in RECORDS[record] if f.kind == "length" and re.fullmatch(BARE_SIZE, cells.get(f.name, "").strip())]
    if not bare:
        return False
    said = ", ".join(f"{_label(field)} {cells[field.name].strip()}" for field in bare)
    fault(f"In what unit is it: {said}?", "Choose one, and send the form again; nothing was logged yet.")
    with st.container(horizontal=True, key=f"sizes{own}"):
        for unit in ("in", "mm") if shop["units"] == "us" else ("mm", "in"):
            told = {f"{field.name}{own}": f"{cells[field.name].strip()} {unit}" for field in bare}
            label = ", ".join(told.values())
            st.button(verbatim(label), key=f"size-{unit}{own}", on_click=st.session_state.update, args=(told,))
    return True


def _label(field: Field) -> str:
    return field.name.replace("_", " ").capitalize() + (" (needed)" if field.required else "")


def _help(field: Field) -> str | None:
    """The field's meaning, where it says more than its name does."""
    said = field.meaning.rstrip(".").casefold().removeprefix("the ")
    return None if said == field.name.replace("_", " ") else field.meaning


def turn(record: str, key: str = "") -> int:
    """How often this form was filled: with each entry it begins anew."""
    return int(st.session_state.setdefault(f"turn-{record}{key}", 0))


def _asked(
    field: Field, known: FormOptions, start: Mapping[str, Any], key: str, offers: Offers, fill: Mapping[str, str]
) -> str:
    """One field's widget; gives its text."""
    label = _label(field)
    value = start.get(field.name)
    named: dict[str, Any] = {"help": _help(field), "key": f"{field.name}{key}"}
    words = known.words.get(field.name, [])
    match field.kind:
        case "date":
            chosen = st.date_input(label, value, **named)
            return chosen.isoformat() if isinstance(chosen, date) else ""
        case "yes_no":
            return "yes" if st.checkbox(label, bool(field.default if value is None else value), **named) else "no"
        case "money" | "quantity" | "count":
            return number_text(_number(field, label, value, named))
        case "choice":
            return fields.choice_of(label, _choices(field, value), value, offers, {}, placeholder="Choose", **named)
        case "tags":
            return BETWEEN.join(choose_tags(label, known, field.name, offers, value, fill.get(field.name, ""), **named))
        case "unit":
            words = words or UNITS
    # words beside an example: alone in its field it reads as filled in
    example = known.examples.get(field.name, "")
    holder = _holder(example) if words else f"Such as {example}" if example else _sample(field)
    names = known.names if field.kind in ("tag", "word") else {}
    return fields.one_of(label, words, value, offers, names, placeholder=holder, **named)


def _sample(field: Field) -> str | None:
    if field.kind != "duration":
        return PLACEHOLDERS.get(field.kind)
    return "3:30 or 3.5 min" if "minutes" in field.name else "1:45 or 105 min"


def choose_tags(
    label: str, known: FormOptions, name: str, offers: Offers, value: Any = None, fill: str = "", **named: Any
) -> list[str]:
    """A field for several tags, each offered with what it is."""
    holder = _holder(known.examples.get(name, ""))
    words = known.words.get(name, [])
    return fields.several_of(label, words, value, offers, known.names, fill, placeholder=holder, **named)


def _number(field: Field, label: str, value: Any, named: dict[str, Any]) -> Any:
    least: Any = None if field.sign == "any" else 0
    if field.kind == "count":
        first: Any = field.default if value is None else value
        return st.number_input(label, least, value=first, step=1, **named)
    shape = "%.2f" if field.kind == "money" else "%g"
    named |= {"placeholder": HOLDERS.get(field.name)}
    return st.number_input(label, least if least is None else 0.0, value=value, step=1.0, format=shape, **named)


def _choices(field: Field, value: str | None) -> list[str]:
    return list(dict.fromkeys([*([value] if value else []), *field.choices]))


def _holder(example: str) -> str:
    return f"Choose, or type one as {example}" if example else "Choose, or type your own"


def number_text(value: float | int | None) -> str:
    """A number as a file says it, with a point. Three decimals get a fourth: `1.234` could be a thousand and more."""
    if value is None:
        return ""
    text = f"{value:.10f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
    return f"{text}0" if len(text.partition(".")[2]) == 3 else text
