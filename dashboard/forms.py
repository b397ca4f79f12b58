"""A form for a record, made from the record types: what matters at the bench first, all else behind a fold."""

from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import entry_check, fields, log_fields
from dashboard.entry_check import BETWEEN
from dashboard.fields import Offers
from dashboard.log_fields import BY_CATEGORY, FIRST, HOLDERS, UNITS
from dashboard.options import FormOptions
from dashboard.refreshing import attempt, fault
from dashboard.verbatim import verbatim
from pipeline.pages import actions
from pipeline.records import RECORDS, Field

ASKED = "asked whether meant"
"""Where it is kept which words of a form were asked about: pressed again, they are taken as they stand."""


def record_form(
    folder: Path,
    record: str,
    known: FormOptions,
    start: Mapping[str, Any],
    button: str,
    key: str = "",
    taken: Mapping[str, Collection[str]] | None = None,
    fill: Mapping[str, Any] | None = None,
    category: str = "",
) -> Any:
    """The form of a record. `start`: what a field says at first; `taken`: tags by field that another record has;
    `fill`: tags by field that come to be known later, for a field that nobody has touched by then; `category`: that of
    what was bought, whose own fields are shown at once too.

    Gives the entry that was logged, if one was; then the form is empty again. What can't be read is said, and stays to
    be mended.
    """
    number = turn(record, key)
    first = FIRST.get(record, tuple(f.name for f in RECORDS[record] if f.required)) + BY_CATEGORY.get(category, ())
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
    if not pressed:
        return None
    if has_one := entry_check.taken_tag(cells, taken or {}):
        fault(has_one.what, has_one.mend)
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


def as_known(folder: Path, record: str, cells: Mapping[str, str], known: FormOptions) -> dict[str, str] | None:
    """The cells with tags as they are on record; None where a word must be asked about, which is said."""
    found, asked = entry_check.as_known(folder, record, cells, known, sure := st.session_state.get(ASKED, set()))
    if not asked:
        return found
    st.session_state[ASKED] = sure | {(asked.field, asked.text)}
    fault(asked.what, asked.mend)
    return None


def bare_size(folder: Path, record: str, cells: Mapping[str, str], own: str) -> bool:
    """Whether a size, or much work, stands without a unit; then both readings of it are offered."""
    asked = entry_check.without_unit(folder, record, cells)
    if not asked:
        return False
    fault(asked.what, asked.mend)
    with st.container(horizontal=True, key=f"sizes{own}"):
        for answer in asked.answers:
            told = {f"{name}{own}": text for name, text in answer.items()}
            label = ", ".join(told.values())
            st.button(
                verbatim(label),
                key=f"size-{label.rpartition(' ')[2]}{own}",
                on_click=st.session_state.update,
                args=(told,),
            )
    return True


def turn(record: str, key: str = "") -> int:
    """How often this form was filled: with each entry it begins anew."""
    return int(st.session_state.setdefault(f"turn-{record}{key}", 0))


def _asked(
    field: Field, known: FormOptions, start: Mapping[str, Any], key: str, offers: Offers, fill: Mapping[str, str]
) -> str:
    """One field's widget; gives its text."""
    label = log_fields.label(field)
    value = start.get(field.name)
    named: dict[str, Any] = {"help": log_fields.meaning(field), "key": f"{field.name}{key}"}
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
    holder = _holder(example) if words else f"Such as {example}" if example else log_fields.sample(field)
    names = known.names if field.kind in ("tag", "word") else {}
    return fields.one_of(label, words, value, offers, names, placeholder=holder, **named)


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
