"""What was done today? Timers and forms for the shop floor, on a phone."""

from collections.abc import Mapping
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, refreshing, widgets, words
from dashboard.charts.log import days
from dashboard.entry_check import BETWEEN, parts
from dashboard.entry_words import entry_in_words
from dashboard.fields import Offers, form, offer, one_of
from dashboard.forms import as_known, choose_tags, record_form, turn
from dashboard.last_work import FILLED, as_before, filled_in, last_timer, work_in_words
from dashboard.log_fields import FIRST_UNIT, KINDS, MIND
from dashboard.options import FormOptions, form_options, last_sold_through, with_said_before
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.sections import day, entries, shop_floor
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from dashboard.wrong_address import look_up
from pipeline.pages import actions
from pipeline.records import CATEGORIES

QUESTION = "What was done today?"

TIMERS, START = "timers", "start"
"""Where on the page a timer's end and its beginning are said."""

TIMER_EVERY_S = 20.0
WEEKS = 4


def show(page: Page) -> None:
    body(data.shop_folder(), page)


def body(folder: Path, page: Page | None) -> None:
    """The page; `page` is None while nothing is published."""
    now = actions.log_now(folder)
    state = actions.log_state(folder)
    today = [entry for entry in state.entries if entry.at[:10] == f"{now:%Y-%m-%d}"]
    of_hours = form_options(folder, page)
    widgets.answer(QUESTION, _sentence(today, state.timers))
    st.fragment(_timers, run_every=TIMER_EVERY_S if state.timers else None)(folder, of_hours)
    _again(folder, state, of_hours)
    _start(folder, of_hours)
    look_up("Log something that is done", "kind", ["", *KINDS])
    chosen = st.pills("Log something that is done", list(KINDS), key="kind", bind="query-params")
    if chosen in KINDS:
        log_form(folder, KINDS[chosen], page)
    kinds = {record: kind for kind, record in KINDS.items()}
    day.show(folder, today, of_hours, kinds)
    entries.show(folder, page, kinds)
    shop_floor.show(folder)
    refreshing.bar(folder)
    if page:
        _picture(page)
    else:
        _no_hours()
    widgets.caution(MIND.get(KINDS.get(chosen or "", ""), MIND["hours"]))


def log_form(
    folder: Path,
    record: str,
    page: Page | None,
    key: str = "",
    button: str = "Log it",
    given: Mapping[str, Any] | None = None,
) -> None:
    """The form of one record, with what this shop knows to choose from; below it what it logged.

    `given`: what some of its fields say at first, lists of tags as soon as it is known.
    """
    now = actions.log_now(folder)
    start: dict[str, Any] = {"date": now.date(), **(given or {})}
    offered = with_said_before(form_options(folder, page, record), folder, page)
    people = offered.words.get("person", [])
    if record == "hours" and people:
        start["person"] = people[0]
    worked_on: dict[str, Any] = {}
    if record in FILLED and not (key or given):
        told = filled_in(actions.log_state(folder), people)
        worked_on = {"pieces": parts(told["pieces"])} if told["pieces"] else {}
        start |= {"person": told["person"], "resin": told["resin"]} | worked_on
        start["piece"] = told["pieces"] if BETWEEN.strip() not in told["pieces"] else ""
    if record == "pours":
        start["pour"] = offered.examples["pour"]
    if record in FIRST_UNIT:
        start["unit"] = FIRST_UNIT[record]
    if record == "pieces":
        start |= {"started": now.date(), "status": "in progress"}
        if offered.taken["piece"]:  # of the first piece the maker says how tags look
            start["piece"] = offered.examples["piece"]
    if record == "sales":
        start["channel"] = last_sold_through(folder, page)
    start |= as_before(actions.log_state(folder), record, f"{now:%Y-%m-%d}")
    # a tag that follows on the newest must stay what it was while the form is filled
    start = st.session_state.setdefault(f"start-{record}{key}-{turn(record, key)}", start)
    taken = {"piece": offered.taken["piece"]} if record == "pieces" else {}
    if record == "pours":  # a pour may have several rows; the tag that we give it must not be of another one
        taken["pour"] = offered.taken["pour"] & {start["pour"]}
    place = f"{record}{key}"
    category = _category(record, key) if record == "purchases" else ""
    if entry := record_form(folder, record, offered, start, button, key, taken, given or worked_on, category):
        done(place, f"Logged at {entry.at[11:16]}: {entry_in_words(entry, offered)}. The figures follow.")
        st.rerun(scope="app")
    say_what_was_done(place)


def _category(record: str, key: str) -> str:
    """The category of what was bought, chosen above the form: below stands what a purchase of it is asked."""
    place = f"category-{record}{key}-{turn(record, key)}"
    chosen = f"chosen-{place}"

    def take_over() -> None:
        if picked := st.session_state.get(chosen):
            st.session_state[place] = picked

    return st.pills("What was bought", CATEGORIES, key=chosen, on_change=take_over) or ""


def _again(folder: Path, state: Any, of_hours: FormOptions) -> None:
    """One press starts the timer that ran last, unless it runs."""
    last = last_timer(state)
    if not last or any(timer.cells == last for timer in state.timers):
        return
    what = work_in_words(last, of_hours)
    if st.button(f"Start again: {verbatim(what)}", key="again") and attempt(lambda: actions.start_timer(folder, last)):
        done(TIMERS, f"It runs: {what}.")
        st.rerun(scope="app")


def _sentence(today: list[Any], timers: list[Any]) -> str:
    logged = f"{words.count(len(today), 'entry', 'entries')} logged today"
    if not timers:
        return f"{logged}; no timer runs."
    first = timers[0].cells
    on = f" on {first.get('pieces') or 'no piece'}"
    more = f" and {words.count(len(timers) - 1, 'more timer')}" if len(timers) > 1 else ""
    return f"{logged}; {first.get('operation', 'work')}{on} runs since {timers[0].since[11:16]}{more}."


def _timers(folder: Path, of_hours: FormOptions) -> None:
    """The timers that run, whichever browser started them."""
    now = actions.log_now(folder)
    for timer in actions.log_state(folder).timers:
        seconds = timer.seconds(now)
        what = work_in_words(timer.cells, of_hours)
        with st.container(border=True, key=f"timer-{timer.id}"):
            widgets.say(f"{what}: {seconds // 3600}:{seconds // 60 % 60:02} h since {timer.since[11:16]}")
            with st.container(horizontal=True):
                stopped = st.button("Stop and log it", type="primary", key=f"stop-{timer.id}")
                thrown = st.button("Throw away", type="tertiary", key=f"drop-{timer.id}")
        entries: list[Any] = []
        if stopped and attempt(partial(_stop, folder, timer.id, entries)):
            done(
                TIMERS,
                f"Logged at {entries[0].at[11:16]}: {entry_in_words(entries[0], of_hours)}. The figures follow.",
            )
            st.rerun(scope="app")
        if thrown and attempt(partial(actions.drop_timer, folder, timer.id)):
            done(TIMERS, f"Thrown away, and not logged: {what}.")
            st.rerun(scope="app")
    say_what_was_done(TIMERS)


def _stop(folder: Path, timer: str, entries: list[Any]) -> None:
    entries.append(actions.stop_timer(folder, timer, {}))


def _start(folder: Path, of_hours: FormOptions) -> None:
    widgets.part("Start a timer")
    turn = st.session_state.setdefault("timer turn", 0)
    words = of_hours.words
    with form(f"timer-{turn}"):
        offers: Offers = {}
        operation = one_of(
            "Operation", words.get("operation", []), None, offers, {}, key=f"timer-operation-{turn}",
            placeholder="Choose, or type your own",
        )  # fmt: skip
        pieces = choose_tags("Pieces", of_hours, "pieces", offers, key=f"timer-pieces-{turn}")
        people, machines = words.get("person", []), words.get("machine", [])
        person = "".join(people[:1])
        if len(people) > 1:
            person = one_of("Who", people, person, offers, {}, key=f"timer-person-{turn}")
        machine = ""
        if machines:
            machine = one_of("Machine", machines, "", offers, {}, key=f"timer-machine-{turn}", placeholder="Choose")
        rework = st.checkbox("It mends earlier work (rework)", key=f"timer-rework-{turn}")
        pressed = st.form_submit_button("Start", type="primary", width="stretch")
    offer(offers, "timer")
    say_what_was_done(START)
    if not pressed:
        return
    cells = {
        "operation": operation or "",
        "pieces": "; ".join(pieces),
        "person": person or "",
        "machine": machine or "",
    }
    cells |= {"rework": "yes"} if rework else {}
    meant = as_known(folder, "hours", cells, of_hours)
    if meant is None:
        return
    cells = meant
    if attempt(lambda: actions.start_timer(folder, cells)):
        done(START, f"It runs: {work_in_words(cells, of_hours)}. Stop it above.")
        st.session_state["timer turn"] = turn + 1
        st.rerun(scope="app")


def _no_hours() -> None:
    widgets.empty("No hours are on record yet.", "Start a timer, or log work that is done: both become rows of hours.")


def every_day(hours: pl.DataFrame, last: date, days: int) -> pl.DataFrame:
    """The days with hours, whose bars lead somewhere, then each other of the `days` up to `last` with none."""
    every = pl.DataFrame({"day": [last - timedelta(days=back) for back in range(days)], "hours": 0.0})
    return pl.concat([hours, every.join(hours, on="day", how="anti")])


def _picture(page: Page) -> None:
    hours = page.book.logged_days(WEEKS * 7)
    if not hours.height:
        _no_hours()
        return
    last: date = hours["day"].max()  # type: ignore[assignment]
    count = hours.filter(pl.col("hours") > 0)["day"].n_unique()
    title = f"{count} of the {WEEKS * 7} days up to {last:%Y-%m-%d} have hours on record"
    frame = every_day(hours, last, WEEKS * 7)
    alt = f"{title}. Bars of the hours logged by day; work that nobody logs is guessed at, or costs nothing."
    opens = {f"{day:%Y-%m-%d}": widgets.behind("hours", day) for day in sorted(set(hours["day"]), reverse=True)}
    widgets.picture(
        days(frame, title, page.look),
        alt,
        "log-days",
        "name",
        opens=opens,
        asks="The hours of a day (or click its bar)",
    )
