"""Marking the day of a change in the shop: it goes to the log, as any record does, and can be taken back."""

from pathlib import Path

import streamlit as st

from dashboard import widgets
from dashboard.forms import record_form
from dashboard.options import FormOptions
from dashboard.refreshing import attempt
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from pipeline.pages import actions

RECORD = "changes"


def show(folder: Path, page: Page) -> None:
    """The form, what was marked last, and taking that back."""
    if said := st.session_state.pop("change said", ""):
        st.success(verbatim(said))
    if box := widgets.folded("Mark a change: a new finish, a new habit, a new tool", "mark-change"):
        with box:
            widgets.say("Say since when and what. Mark it on its day, before you know whether it helps.", quiet=True)
            start = {"date": actions.log_now(folder).date()}
            if record_form(folder, RECORD, FormOptions(), start, "Mark it", key="-rework"):
                st.session_state["change said"] = "It is marked. It is compared as soon as the figures are worked out."
                st.rerun(scope="app")
    last = next(iter(reversed(actions.log_state(folder).entries)), None)
    if not last or last.record != RECORD:
        return  # only the last entry of the log can be taken back
    widgets.say(f"Marked last: {last.cells['change']}, from {last.cells['date']}.", quiet=True)
    if st.button("Take it back", key="undo-change") and attempt(lambda: actions.undo_entry(folder)):
        st.session_state["change said"] = f"Taken back: {last.cells['change']}."
        st.rerun(scope="app")
