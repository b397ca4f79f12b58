"""What to log better, most money first: each with its pieces, and what would mend it."""

from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import widgets, words
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from dashboard.widgets import Column
from pipeline.pages import to_log

FOLD = "log-better"


def show(page: Page, folder: Path) -> None:
    """A fold with the list, and the pieces behind a line of it."""
    found: list[dict[str, Any]] = page.book.kept("to log", lambda: to_log.to_log(folder))
    box = widgets.folded(f"What to log better: {_first(page, found)}", FOLD)
    if not box:
        return
    with box:
        if not found:
            widgets.say("Nothing in the cost of the pieces was guessed at.", quiet=True)
            return
        columns = [
            Column("what", "What is missing", long=True),
            Column("cents", "Rests on it", page.money, number=True),
            Column("mend", "What would mend it", long=True),
        ]
        frame = pl.DataFrame(found, schema_overrides={"cents": pl.Int64})
        widgets.table(page, frame, columns, FOLD, 8, leads=lambda row: ("pieces?piece", row["pieces"][0]))
        _pieces(page, {row["what"]: row["pieces"] for row in found})


def _first(page: Page, found: list[dict[str, Any]]) -> str:
    if not found:
        return "nothing that the cost of the pieces shows"
    things, cents = words.count(len(found), "thing"), found[0]["cents"]
    return f"{things}, and {page.money(cents)} of cost rests on the dearest" if cents else things


def _pieces(page: Page, behind: dict[str, list[str]]) -> None:
    widgets.choosable("log-better-of", behind)
    chosen = st.selectbox(
        verbatim("The pieces of"), list(behind), None, key="log-better-of", placeholder="Choose a line of the list"
    )
    if not chosen:
        return
    tags = behind[chosen]
    order = pl.DataFrame({"piece": tags, "place": range(len(tags))})
    frame = page.book.pieces().join(order, on="piece").sort("place")
    columns = [
        Column("piece", "Piece"),
        Column("product", "Product"),
        Column("status", "Status"),
        Column("made_cents", "Cost", page.money, number=True),
    ]
    widgets.table(page, frame, columns, "log-better-pieces", 10, leads=lambda row: ("pieces?piece", row["piece"]))
