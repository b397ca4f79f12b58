"""The day's entries of the log, each as one says it, and taking the last one back."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import simple_table, widgets
from dashboard.entry_words import entry_in_words
from dashboard.options import FormOptions
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.verbatim import verbatim
from pipeline.pages import actions

PLACE = "day"

LONGEST = 90
"""Characters of an entry on a button."""


def show(folder: Path, today: list[Any], known: FormOptions, kinds: Mapping[str, str]) -> None:
    """Today's entries, the last first; the last of all can be taken back. `kinds`: record → as the page calls it."""
    widgets.part("The day so far")
    lines = [
        (entry.at[11:16], f"{kinds.get(entry.record, entry.record)}: {entry_in_words(entry, known)}")
        for entry in reversed(today)
    ]
    if lines:
        frame = pl.DataFrame(lines, schema=["at", "what"], orient="row")
        simple_table.table(frame, {"at": "At", "what": "What"}, "the day so far")
    else:
        widgets.say("Nothing yet.", quiet=True)
    entries = actions.log_state(folder).entries
    if entries:
        _take_back(folder, entries[-1], known)
    say_what_was_done(PLACE)


def _take_back(folder: Path, last: Any, known: FormOptions) -> None:
    what = entry_in_words(last, known)
    label = what if len(what) <= LONGEST else f"{what[: LONGEST - 1]}…"
    pressed = st.button(f"Take the last entry back: {verbatim(label)}", key="undo")
    if pressed and attempt(lambda: actions.undo_entry(folder)):
        again = " Its timer runs again." if last.timer else ""
        done(PLACE, f"Taken back: {what}.{again} The figures follow.")
        st.rerun(scope="app")
