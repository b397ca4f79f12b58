"""An entry of the log, of whatever day, opened, changed or taken back: what it said before stays in the log's file."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import streamlit as st

from dashboard import widgets
from dashboard.entry_words import entry_in_words
from dashboard.fields import Offers, choice_of, form, offer, one_of
from dashboard.forms import bare_size
from dashboard.log_fields import FIRST, PLACEHOLDERS
from dashboard.options import FormOptions, form_options
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.view_context import Page
from pipeline.pages import actions
from pipeline.records import RECORDS, Field

PLACE = "entries"
"""Where on the page it is said what became of an entry."""


def show(folder: Path, page: Page | None, kinds: Mapping[str, str]) -> None:
    """A fold with the days of the log, and the entries of one. `kinds`: record → as the page calls it."""
    say_what_was_done(PLACE)
    days = actions.log_days(folder)
    if not days:
        return
    if box := widgets.folded("Change an entry of any day, or take it back", "entries"):
        with box:
            widgets.choosable("entry-day", days, days[0])
            chosen = st.selectbox("Day of the log", days, key="entry-day")
            _of_day(folder, page, chosen or days[0], kinds)


def _of_day(folder: Path, page: Page | None, on: str, kinds: Mapping[str, str]) -> None:
    known = form_options(folder, page)
    found = {
        _named(entry, on, known, kinds, number): entry for number, entry in enumerate(actions.log_of_day(folder, on), 1)
    }
    widgets.choosable("entry", found)
    chosen = st.selectbox("Entry", list(found), None, key="entry", placeholder="Choose an entry")
    if not chosen:
        return
    entry = found[chosen]
    key = f"{entry.row['file']}-{entry.row['row']}"
    cells = changed(folder, entry.record, entry.cells, form_options(folder, page, entry.record), "Change it", key)
    if cells is not None and attempt(lambda: actions.mend_rows(folder, [entry.row | cells])):
        _said(f"Changed: {chosen}. What it said before is kept; the figures follow.")
    if entry.taken_back:
        if st.button("Take it in again", key=f"again-{key}") and attempt(
            lambda: actions.mend_rows(folder, [entry.row | entry.cells])
        ):
            _said(f"It counts again: {chosen}. The figures follow.")
    elif st.button("Take it back", key=f"back-{key}") and attempt(lambda: actions.no_record(folder, entry.row)):
        _said(f"Taken back: {chosen}. It is kept, and in no figure; the figures follow.")


def _said(what: str) -> None:
    st.session_state.pop("entry", None)
    done(PLACE, what)
    st.rerun(scope="app")


def _named(entry: Any, on: str, known: FormOptions, kinds: Mapping[str, str], number: int) -> str:
    told = SimpleNamespace(record=entry.record, cells=entry.cells, at=on)
    state = ", taken back" if entry.taken_back else ", changed since" if entry.changed else ""
    return f"{number}. {kinds.get(entry.record, entry.record)}: {entry_in_words(told, known)}{state}"


def changed(
    folder: Path,
    record: str,
    cells: Mapping[str, str | None],
    known: FormOptions,
    button: str,
    key: str,
    first: Sequence[str] = (),
) -> dict[str, str] | None:
    """A form over the cells of a row that is there; gives all of them once it is sent. `first`: what is not folded."""
    offers: Offers = {}
    shown = first or FIRST.get(record, ())
    with form(f"change-{key}"):
        found = {name: _cell(RECORDS[record].field(name), cells.get(name), known, offers, key) for name in shown}
        with st.expander("More fields"):
            for field in RECORDS[record]:
                if field.name not in found:
                    found[field.name] = _cell(field, cells.get(field.name), known, offers, key)
        pressed = st.form_submit_button(button, type="primary", width="stretch")
    offer(offers, f"change-{key}")
    new = {name: text for name, text in found.items() if text != (cells.get(name) or "")}
    blank = dict.fromkeys(found, "")
    return None if not pressed or bare_size(folder, record, blank | new, f"-{key}") else found


def _cell(field: Field, text: str | None, known: FormOptions, offers: Offers, key: str) -> str:
    label = field.name.replace("_", " ").capitalize()
    named: dict[str, Any] = {"key": f"{field.name}-{key}", "help": field.meaning}
    words = known.words.get(field.name, [])
    if field.kind == "date":
        try:
            value = date.fromisoformat(text) if text else None
        except ValueError:
            return st.text_input(label, text or "", **named)
        chosen = st.date_input(label, value, **named)
        return chosen.isoformat() if isinstance(chosen, date) else ""
    choices = ("yes", "no") if field.kind == "yes_no" else field.choices
    if choices:
        return choice_of(label, choices, text, offers, {}, placeholder="Choose", **named)
    if words and field.kind in ("tag", "word", "unit"):
        return one_of(label, words, text, offers, {}, **named)
    return st.text_input(label, text or "", placeholder=PLACEHOLDERS.get(field.kind), **named).strip()
