"""How do I begin? From nothing to the first true cost of a piece, step by step."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, links, refreshing, simple_table, widgets, words
from dashboard.data import Book
from dashboard.entry_words import on_no_piece
from dashboard.options import form_options
from dashboard.refreshing import attempt
from dashboard.sections import questions, take_out
from dashboard.view_context import Page
from dashboard.views import log
from pipeline.pages import actions

QUESTION = "How do I begin?"
YOUNG = 3
"""With fewer pieces than this that have a cost, the shop is still led by the hand."""


@dataclass(frozen=True)
class Step:
    """A record that the first true cost needs: what to do, and why."""

    record: str
    title: str
    why: str


STEPS = (
    Step(
        "purchases",
        "Write down what you bought for it",
        "A line of a receipt: a board, a kit of resin, a can of oil. The wood's tag (lot) is what a piece names later; "
        "with length, width and thickness under “More fields” the piece takes just its share of it.",
    ),
    Step(
        "pieces",
        "Name the piece",
        "Give it a tag of your own, such as T-001, the tag of the wood it is cut from, and the size of its blank. When "
        "it is done, its size and the day.",
    ),
    Step(
        "hours",
        "Log the work on it",
        "Each stretch of work with the piece's tag: from here, or with a timer on the Log page while you work.",
    ),
)


def is_young(book: Book) -> bool:
    """Whether the shop is still to be led by the hand."""
    try:
        return book.pieces().filter(pl.col("made_cents") > 0).height < YOUNG
    except data.OutdatedError:
        return False  # the page says so itself


def show(page: Page) -> None:
    _body(data.shop_folder(), page)


def show_unpublished(folder: Path) -> None:
    """The same while there is no database at all."""
    _body(folder, None)


def _body(folder: Path, page: Page | None) -> None:
    try:
        settings = actions.shop_settings(folder)
    except actions.UserError as error:
        widgets.answer(QUESTION, "First mend shop.toml: 0 settings can be read.")
        refreshing.fault(f"{error.what} {error.where}", error.mend)
        return
    costed = page.book.pieces().filter(pl.col("made_cents") > 0) if page else pl.DataFrame()
    counted = set(_published(page))
    done = counted | {entry.record for entry in actions.log_state(folder).entries if _is_of_a_piece(entry)}
    missing = [step for step in STEPS if step.record not in done]
    sentence = _sentence(page, costed, missing, [step for step in STEPS if step.record not in counted])
    widgets.answer(QUESTION, sentence)
    if page:
        questions.show(page, folder)
    _shop(folder, settings)
    for number, step in enumerate(STEPS, 2):
        _step(folder, page, number, step, step.record in done, step in missing[:1])
    widgets.part(f"{len(STEPS) + 2}. See what it cost")
    if missing:
        widgets.say("After each record the figures are worked out anew; this page then says what is still missing.")
    if page and costed.height:
        widgets.say(sentence)  # here ends the way, far below the page's head
        _first_cost(page, costed)
    if not missing:  # before that nothing is to be seen of a refresh
        refreshing.bar(folder)
    _files(folder)
    widgets.part("Or begin with a backup")
    take_out.of_a_backup(folder)
    widgets.caution(
        "these are figures to steer by, and no tax advice; uncured resin, dust and torches can hurt: follow the "
        "product's data sheet, your local codes and licensed practice."
    )


def _published(page: Page | None) -> Iterator[str]:
    """The records that the figures count; hours where they are of a piece, since others are in no piece's cost."""
    if page:
        files = page.book.files()
        yield from files.filter((pl.col("loaded") > 0) & (pl.col("record") != "hours"))["record"]
        if page.book.pieces().filter(pl.col("hours") > 0).height:
            yield "hours"


def _is_of_a_piece(entry: Any) -> bool:
    return not on_no_piece(entry.record, entry.cells)


def _sentence(page: Page | None, costed: pl.DataFrame, missing: list[Step], uncounted: list[Step]) -> str:
    """What is known; a cost is true only when each kind of record is counted in it."""
    if page and costed.height:
        first = costed.row(0, named=True)
        cost = page.money(first["unit_cents"])
        if not uncounted and not first["hours"]:
            return f"{first['piece']} cost {cost} so far, without an hour of work: log the hours with its tag."
        if not uncounted and first["without_material"]:
            return f"{first['piece']} cost {cost} so far, without what it is made of: name its wood, log its resin."
        if not uncounted and first["without_cost"]:
            lacking = ", ".join(
                f"{words.layer(layer)} ({item})" for layer, item in page.book.without_cost(first["piece"])
            )
            return f"{first['piece']} cost {cost} so far, without what nobody knows the cost of: {lacking}."
        if not uncounted:
            return f"{first['piece']} truly cost {cost}: the first of your pieces with a cost."
        left = ", ".join("hours with its tag" if step.record == "hours" else step.record for step in uncounted)
        return f"{first['piece']} cost {cost} so far; to its true cost {'go' if missing else 'come next'}: {left}."
    if missing:
        to_go = words.count(len(missing), "record")
        return f"{to_go} to go to the true cost of your first piece: {', '.join(step.record for step in missing)}."
    return "All 3 records are there: the cost of your first piece is worked out next."


def _first_cost(page: Page, costed: pl.DataFrame) -> None:
    first = costed.row(0, named=True)
    columns = [
        widgets.Column("layer", "What went into it", words.layer),
        widgets.Column("cents", "Cost", page.money, number=True),
    ]
    widgets.table(page, page.book.piece_layers(first["piece"]).filter(pl.col("cents") != 0), columns, "first-cost")
    there = escape(links.address("pieces?piece", first["piece"], {}), quote=True)
    link = f'<a href="{there}" target="_self">All of {escape(first["piece"])}</a>'
    told = "the records behind each line, and what was guessed for want of a record."
    st.html(f'<p class="kl-rules">{link}: {told}</p>')


def _shop(folder: Path, settings: dict[str, list[dict[str, Any]]]) -> None:
    widgets.part("1. Look through the shop's settings")
    file = escape(str(folder / "shop.toml"))
    # a path has no spaces to wrap at
    st.html(
        '<p style="overflow-wrap: anywhere">Change them on the <a href="settings" target="_self">Settings page</a>, '
        f"which shows first what that changes. They stand in {file}, each with a line that says why.</p>"
    )
    lines = [
        ("Who works", _paid(settings)),
        ("Machines", _names(settings["machine"])),
        ("Rent, power and other bills", _names(settings["pool"])),
        ("Where you sell", _names(settings["channel"])),
    ]
    simple_table.table(
        pl.DataFrame(lines, schema=["what", "said"], orient="row"), {"what": "What", "said": "As set"}, "settings"
    )


def _paid(settings: dict[str, list[dict[str, Any]]]) -> str:
    """Who works, at what rate: it is most of a first cost, and a new shop's is only a guess."""
    money = words.Money(settings["shop"][0]["currency"])
    rates = {row["name"]: row["rate_cents"] for row in settings["person_rate"]}
    return ", ".join(f"{name} at {money.rate(cents)} an hour" for name, cents in rates.items()) or "nobody yet"


def _names(rows: list[dict[str, Any]]) -> str:
    return ", ".join(dict.fromkeys(str(row["name"]) for row in rows)) or "none yet"


def _step(folder: Path, page: Page | None, number: int, step: Step, done: bool, is_next: bool) -> None:
    """One step; of those that are missing only the next stands open, so that the page stays in reach of a thumb."""
    widgets.part(f"{number}. {step.title}{' ✓' if done else ''}")
    widgets.say(step.why)
    only = _only_piece(folder, page) if step.record == "hours" else ""
    given = {"pieces": [only]} if only else {}
    with st.expander("Write another one" if done else "Write it here", expanded=is_next):
        log.log_form(folder, step.record, page, key="-start", button="Put it on record", given=given)


def _only_piece(folder: Path, page: Page | None) -> str:
    """The tag of the piece while there is just one."""
    pieces = form_options(folder, page).words.get("pieces", [])
    return pieces[0] if len(pieces) == 1 else ""


def _files(folder: Path) -> None:
    widgets.part("Or drop in files that you have")
    widgets.say(
        "Receipts, till exports, a notebook of hours, in any usual layout: the Files page shows how they are read."
    )
    suffixes, most = actions.file_limits()
    files = st.file_uploader("Files for the inbox", suffixes, True, key="start-files", max_upload_size=most // 2**20)
    fresh = [file for file in files if file.file_id not in st.session_state.setdefault("dropped", set())]
    for file in fresh:
        st.session_state["dropped"].add(file.file_id)
        attempt(partial(actions.drop_file, folder, file.name, file.getvalue()))
    if fresh and attempt(lambda: actions.start_refresh(folder)):
        st.rerun(scope="app")
