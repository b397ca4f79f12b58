"""A year's goal: what is there of it, how likely it still is, and the form that sets it."""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, widgets, words
from dashboard.fields import form
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.verbatim import verbatim
from dashboard.widgets import Page
from pipeline.pages import actions

PLACE = "goal"
KINDS = {"result": "Result with own pay", "pay": "An hour paid", "pieces": "Pieces handed over"}
FEWEST = 6
"""Of fewer whole months with records nothing is said of those to come, as `money.goal` has it."""

Row = dict[str, Any]


def in_short(goals: pl.DataFrame) -> str:
    """How likely the first goal still is, as the end of a sentence; nothing where there is none to tell."""
    if not goals.height:
        return ""
    first = goals.row(0, named=True)
    if first["reached"] is not None:
        return f"; its goal was {'reached' if first['reached'] else 'missed'}"
    return f"; its goal is {words.chance(first['goal_chance'])} likely" if first["goal_chance"] is not None else ""


def show(page: Page, year: int, goals: pl.DataFrame) -> None:
    """Each goal in a sentence or two, and a fold to set them."""
    widgets.part(f"What you want of {year}", PLACE)
    say_what_was_done(PLACE)
    for row in goals.iter_rows(named=True):
        widgets.say(_line(page, row))
    if goals.height and goals["goal_chance"].is_not_null().any():
        months = words.count(max(goals["known_months"].to_list()), "whole month")
        widgets.say(
            f"How likely: told from your last {months} with records, by how they scatter, grow, and differ by season. "
            "Of the month that runs, only the days to come are guessed. "
            "What none of them shows, such as a first big market, is not in it.",
            quiet=True,
        )
    label = f"Set a goal for {year}" if not goals.height else f"Change the goal for {year}"
    if box := widgets.folded(label, "set-goal"):
        with box:
            _form(page, year, goals)


def _line(page: Page, row: Row) -> str:
    write = _writing(page, row["goal_kind"])
    said = f"{KINDS[row['goal_kind']]}: {write(row['target'])} wanted"
    if row["months"]:
        there = write(row["so_far"]) if row["so_far"] is not None else "not to be said for want of hours"
        said += f", {there} in {words.count(row['months'], 'month')}"
    if row["reached"]:
        return f"{said}: reached{' already' if row['months_left'] else ''}."
    unrecorded = _unrecorded(row)
    if not row["months_left"]:
        return f"{said}: missed." if row["reached"] is False else f"{said}. {unrecorded}".strip()
    if row["goal_chance"] is None:
        known = words.count(row["known_months"], "whole month")
        has = "has" if row["known_months"] == 1 else "have"
        if row["known_months"] < FEWEST:
            return f"{said}. How likely it is can't be said yet: {known} {has} records, and it takes {FEWEST}."
        return f"{said}. How likely it is can't be said: no hours of yours are on record."
    ends = f"{write(row['likely_low'])} to {write(row['likely_high'])}"
    left = words.count(row["months_left"], "month")
    return (
        f"{said}. With {left} to come the year likely ends at {ends} (4 years in 5). The goal is "
        f"{words.chance(row['goal_chance'])} likely. {unrecorded}"
    ).strip()


def _unrecorded(row: Row) -> str:
    """What is not known of the year, since no record of it is there; nothing where each of its months has some."""
    missing = row["months_unrecorded"]
    if not row["months"] and not row["months_left"]:
        return f"No month of {row['year']} has a record: whether it was reached isn't known."
    has = "month of the year has" if missing == 1 else "months of the year have"
    return f"{missing} {has} no record: what that brought isn't in it." if missing else ""


def _writing(page: Page, kind: str) -> words.Unit:
    return {"result": page.money.round, "pay": page.money.exact}.get(kind, words.decimal(0))


def _form(page: Page, year: int, goals: pl.DataFrame) -> None:
    now = dict(goals.select("goal_kind", "target").rows())
    widgets.say("Fill in one of them or several; an empty one is no goal.", quiet=True)
    told = {}
    with form(f"goal-{year}"):
        for kind, label in KINDS.items():
            unit = "" if kind == "pieces" else f", in {page.money.currency}"
            start = _as_typed(page, kind, now.get(kind))
            told[kind] = st.text_input(verbatim(f"{label}{unit}"), start, key=f"goal-{year}-{kind}")
        pressed = st.form_submit_button("Set it", type="primary")
    if pressed and attempt(lambda: actions.set_goal(data.shop_folder(), year, told)):
        done(PLACE, f"The goal for {year} stands in shop.toml; the figures follow.")
        st.rerun(scope="app")


def _as_typed(page: Page, kind: str, target: float | None) -> str:
    """A goal as one types it: `12000`, `25.50`."""
    if target is None:
        return ""
    plain = words.half_up(target if kind == "pieces" else target * page.scale, 0 if kind == "pieces" else 2)
    return str(int(plain)) if plain == int(plain) else str(plain)
