"""A piece in work: which facts of it are still missing, and one form that finishes it."""

from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import data, widgets
from dashboard.options import form_options
from dashboard.refreshing import attempt, done, fault, say_what_was_done
from dashboard.sections import entries
from dashboard.view_context import Page
from pipeline.pages import actions

PLACE = "finish"
"""Where on the page it is said that a piece was finished."""

WANTED = ("finished", "status", "length", "width", "thickness", "diameter", "list_price")
"""What the form asks for first."""

IN_WORK = "in progress"


def show(page: Page, piece: dict[str, Any]) -> None:
    """For a piece in work: what is missing, and the form behind a fold. Its row stays; a mend takes its place."""
    say_what_was_done(PLACE)
    if piece["status"] != IN_WORK:
        return
    tag, folder = piece["piece"], data.shop_folder()
    if box := widgets.folded(f"{tag} is in work: finish it", "finish-it"):
        with box:
            _form(page, folder, tag)


def _form(page: Page, folder: Path, tag: str) -> None:
    place = page.book.piece_place(tag)
    found: list[dict[str, Any]] = []
    if not place or not attempt(lambda: found.extend(actions.rows_to_mend(folder, [place]))):
        return
    if not found:
        fault("The row of this piece is no longer as the last refresh found it.", "Refresh, then look again.")
        return
    row = found[0]
    missing = _missing(row)
    widgets.say(f"Still missing: {', '.join(missing)}." if missing else "All its facts are there.")
    cells: dict[str, Any] = {name: row.get(name) for name in row}
    cells |= {"finished": row.get("finished") or f"{actions.log_now(folder):%Y-%m-%d}", "status": "finished"}
    sent = entries.changed(
        folder, "pieces", cells, form_options(folder, page, "pieces"), "Finish it", f"finish-{tag}", WANTED
    )
    if sent is not None and attempt(lambda: actions.mend_rows(folder, [{**row, **sent}])):
        done(PLACE, f"{tag} is {sent['status'] or IN_WORK}. What its row said before is kept; the figures follow.")
        st.rerun(scope="app")


def _missing(row: dict[str, Any]) -> list[str]:
    """The facts that a finished piece has and this one lacks, as one says them."""
    sizes = ("thickness",) if row.get("diameter") else ("length", "width", "thickness")
    wanted = {"the day it was finished": ("finished",), "its size": sizes, "its price": ("list_price",)}
    return [said for said, names in wanted.items() if not all(row.get(name) for name in names)]
