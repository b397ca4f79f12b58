"""A small editor for rows set aside: their cells as they stand, mended in `mends/`; the files stay as they are."""

from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import links, widgets, words
from dashboard.fields import Offers, choice_of, form, offer
from dashboard.refreshing import attempt, done, fault
from pipeline.pages import actions
from pipeline.records import RECORDS

PLACE = "mends"
"""Where on the page a mend is said."""

TOLD = ("file", "sheet", "row", "occurrence", "record", "reason", "suggestion", "mark")


def row(folder: Path, told: dict[str, Any]) -> None:
    """The form of one row set aside, with its cells as they stand."""
    try:
        found = actions.rows_to_mend(folder, [told])
    except actions.UserError as error:
        fault(error.what, error.mend)
        return
    if not found:
        fault("This row is no longer as the last refresh found it.", "Refresh, then look again.")
        return
    _form(folder, told, found[0])


def _form(folder: Path, told: dict[str, Any], row: dict[str, str | None]) -> None:
    """The cell to be mended with its button; the row's other cells are told, and can be changed behind a fold."""
    record = RECORDS[told["record"]]
    widgets.say(f"{told['reason']} {told['suggestion']}")
    others = [name for name in row if name not in (*TOLD, told["field"])]
    if context := ", ".join(f"{name.replace('_', ' ')} {row[name]}" for name in others if row[name]):
        widgets.say(f"In the row: {context}.", quiet=True)
    key = f"{row['file']}-{row['sheet']}-{row['row']}-{row['occurrence']}"

    def cell(name: str) -> str:
        return _cell(record.field(name), row[name], f"{name}-{key}", offers)

    offers: Offers = {}
    with form(f"mend-{key}"):
        cells = {told["field"]: cell(told["field"])} if told["field"] in row else {}
        pressed = st.form_submit_button("Put the mended row in its place", type="primary", width="stretch")
        with st.expander("The other fields of the row", expanded=not cells):
            cells |= {name: cell(name) for name in others}
    offer(offers, f"mend-{key}")
    if pressed and attempt(lambda: actions.mend_rows(folder, [{**row, **cells}])):
        place = words.place(row["file"], row["sheet"], told["row"], told["occurrence"])
        done(PLACE, f"Mended: {place}. Your file stays as it is; the figures follow.")
        links.close()
        st.rerun(scope="app")
    widgets.say(
        "A total, a heading or a note is no record: then it counts for nothing, and stays in your file.", quiet=True
    )
    if st.button("It is no record", key=f"none-{key}") and attempt(lambda: actions.no_record(folder, row)):
        place = words.place(row["file"], row["sheet"], told["row"], told["occurrence"])
        done(PLACE, f"No record: {place}. Your file stays as it is; the figures follow.")
        links.close()
        st.rerun(scope="app")


def _cell(field: Any, text: str | None, key: str, offers: Offers) -> str:
    label = field.name.replace("_", " ").capitalize()
    if field.choices:
        return choice_of(label, field.choices, text, offers, {}, key=key, help=field.meaning, placeholder="Choose")
    return st.text_input(label, text or "", key=key, help=field.meaning)
