"""What only the maker knows, asked once for the whole shop: each question with its choices, most money first."""

from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, widgets, words
from dashboard.fields import form
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.verbatim import verbatim
from dashboard.widgets import Page
from pipeline.pages import actions

PLACE = "questions"
"""Where on the page it is said what was answered."""

AT_ONCE = 1
"""So many questions are shown, so that the page stays short on a phone; the others stand behind a fold."""

BUTTONS = 3
"""So many of the likeliest answers are buttons; all of them stand in a list below."""


def show(page: Page, folder: Path) -> None:
    """The questions that are open, the first ones with their answers as buttons."""
    asked = page.book.questions()
    answered: dict[str, object] = st.session_state.setdefault("answered", {})
    edition = data.newest(folder)
    open_ = asked.filter(~pl.col("question").is_in([name for name, at in answered.items() if at == edition]))
    if not asked.height:
        say_what_was_done(PLACE)
        return
    widgets.part(f"{words.count(open_.height, 'question')} that only you can answer", PLACE)
    say_what_was_done(PLACE)
    if open_.height < asked.height:
        widgets.say("What was answered is being worked in; the next refresh goes by it.", quiet=True)
    choices = page.book.question_choices()
    _each(page, folder, open_.head(AT_ONCE), choices)
    if open_.height > AT_ONCE:
        more = words.count(open_.height - AT_ONCE, "more question")
        if box := widgets.folded(more, "more-questions"):
            with box:
                _each(page, folder, open_.slice(AT_ONCE), choices)


def _each(page: Page, folder: Path, asked: pl.DataFrame, choices: pl.DataFrame) -> None:
    for row in asked.iter_rows(named=True):
        with st.container(border=True, gap="xsmall", key=f"question-{row['question']}"):
            widgets.say(row["ask"])
            widgets.say(_hangs(page, row), quiet=True)
            _answers(folder, row, choices.filter(question=row["question"]))


def _hangs(page: Page, row: dict[str, Any]) -> str:
    money = page.money(row["worth_cents"]) if row["worth_cents"] else ""
    several = f", in {words.count(row['files'], 'file')}" if row["files"] > 1 else ""
    return actions.what_hangs(row, money, several)


def _answers(folder: Path, row: dict[str, Any], choices: pl.DataFrame) -> None:
    labels = dict(choices.select("choice", "label").rows())
    name = row["question"]
    if row["wants"]:
        _told(folder, row, labels[1])
        return
    with st.container(horizontal=True, key=f"choices-{name}"):
        for number, label in list(labels.items())[:BUTTONS]:
            if st.button(verbatim(label), key=f"choice-{name}-{number}"):
                _answer(folder, row, number, label)
    if len(labels) <= BUTTONS:
        return
    rest = dict(list(labels.items())[BUTTONS:])
    holder = f"{words.count(len(rest), 'more answer')}: choose one"
    widgets.choosable(f"other-{name}", rest)
    number = st.selectbox(
        "Or", list(rest), None, format_func=lambda at: rest[at], key=f"other-{name}", placeholder=holder,
        label_visibility="collapsed",
    )  # fmt: skip
    if number and st.button("Answer so", key=f"answer-{name}", type="primary"):
        _answer(folder, row, number, rest[number])


def _told(folder: Path, row: dict[str, Any], such: str) -> None:
    """A field for what is answered in words."""
    with form(f"tell-{row['question']}"):
        text = st.text_input("In one there is", placeholder=f"Such as {such}", key=f"told-{row['question']}")
        pressed = st.form_submit_button("Answer so", type="primary")
    if pressed:
        _answer(folder, row, text.strip(), text.strip())


def _answer(folder: Path, row: dict[str, Any], number: int | str, label: str) -> None:
    told: list[str] = []
    if not attempt(lambda: told.extend(actions.answer_question(folder, row["question"], number))):
        return
    st.session_state["answered"][row["question"]] = data.newest(folder)
    done(PLACE, f"{row['ask']} {label}. It stands in {', '.join(told)}; the figures follow.")
    st.rerun(scope="app")
