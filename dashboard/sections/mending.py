"""A small editor for rows set aside: their cells as they stand, mended in `mends/`; the files stay as they are."""

from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import opening, parts
from dashboard.refreshing import attempt, fault
from pipeline import actions
from pipeline.records import RECORDS

CHOSEN_FROM = 200
TOLD = ("file", "sheet", "row", "record", "reason", "suggestion", "mark")


def editor(folder: Path, rejected: pl.DataFrame) -> None:
    """Choose a row set aside, mend its cells, put it in place."""
    rows = {_named(row): row for row in rejected.head(CHOSEN_FROM).iter_rows(named=True)}
    if st.session_state.get("mend") not in rows:
        st.session_state.pop("mend", None)
    chosen = st.selectbox("Mend a row", list(rows), None, key="mend", placeholder="Choose a row")
    said = st.session_state.pop("mended", "")
    if said:
        st.success(said)
    if not chosen:
        return
    row(folder, rows[chosen])


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


def _named(row: dict[str, Any]) -> str:
    place = ", ".join(filter(None, (row["file"], row["sheet"], f"row {row['row']}")))
    return f"{place}: {row['field'].replace('_', ' ')}"


def _form(folder: Path, told: dict[str, Any], row: dict[str, str | None]) -> None:
    record = RECORDS[told["record"]]
    parts.say(f"{told['reason']} {told['suggestion']}")
    names = [name for name in row if name not in TOLD]
    names.sort(key=lambda name: name != told["field"])  # what is to be mended first
    key = f"{row['file']}-{row['sheet']}-{row['row']}"
    with st.form(f"mend-{key}", enter_to_submit=False):
        cells = {name: _cell(record.field(name), row[name], f"{name}-{key}") for name in names}
        pressed = st.form_submit_button("Put the mended row in its place", type="primary", width="stretch")
    if pressed and attempt(lambda: actions.mend_rows(folder, [{**row, **cells}])):
        st.session_state["mended"] = (
            f"Row {row['row']} is mended in mends/. Your file stays as it is; the figures follow."
        )
        opening.close()
        st.rerun(scope="app")


def _cell(field: Any, text: str | None, key: str) -> str:
    label = field.name.replace("_", " ").capitalize()
    if field.choices and text in (None, *field.choices):
        place = field.choices.index(text) if text else None
        return st.selectbox(label, field.choices, place, key=key, help=field.meaning) or ""
    return st.text_input(label, text or "", key=key, help=field.meaning)
