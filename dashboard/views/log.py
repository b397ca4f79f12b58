"""What was done today? Timers and forms for the shop floor, on a phone."""

from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, parts, plain, refreshing, words
from dashboard.charts.log import days
from dashboard.forms import record_form, turn
from dashboard.page import Page
from dashboard.refreshing import attempt
from pipeline import actions

QUESTION = "What was done today?"

KINDS = {
    "Work": "hours",
    "Pour": "pours",
    "Inspection": "inspections",
    "Material used": "usage",
    "Sale": "sales",
    "Purchase": "purchases",
    "New piece": "pieces",
    "Count": "counts",
}
TIMER_EVERY_S = 20.0
WEEKS = 4

MIND = {
    "pours": "uncured resin and hardener can hurt skin and lungs: gloves, fresh air, and what the product's data sheet "
    "says about mixing, heat and cure.",
    "hours": "dust and torches can hurt: extraction, a mask that fits, and what your local code says about fire.",
    "pieces": "nothing here says that a finish is fit for food: ask the product's data sheet, and let it cure in full.",
    "sales": "whether tax is due, and how much, is for your tax office or a licensed accountant to say.",
}


def show(page: Page) -> None:
    body(data.shop_folder(), page)


def body(folder: Path, page: Page | None) -> None:
    """The page; `page` is None while nothing is published."""
    now = actions.log_now(folder)
    state = actions.log_state(folder)
    today = [entry for entry in state.entries if entry.at[:10] == f"{now:%Y-%m-%d}"]
    parts.answer(QUESTION, _sentence(today, state.timers))
    said = st.session_state.pop("log said", "")
    if said:
        st.success(said)
    st.fragment(_timers, run_every=TIMER_EVERY_S if state.timers else None)(folder)
    known = known_words(folder, page)
    _start(folder, known)
    chosen = st.pills("Log something that is done", list(KINDS), key="kind", bind="query-params")
    if chosen in KINDS:
        log_form(folder, KINDS[chosen], page)
    _day(folder, today)
    refreshing.bar(folder)
    if page:
        _picture(page)
    else:
        _no_hours()
    parts.caution(MIND.get(KINDS.get(chosen or "", ""), MIND["hours"]))


def log_form(folder: Path, record: str, page: Page | None, key: str = "", button: str = "Log it") -> None:
    """The form of one record, with what this shop knows to choose from."""
    now = actions.log_now(folder)
    start: dict[str, Any] = {"date": now.date()}
    known = known_words(folder, page, record)
    people = known.get("person", [])
    if record == "hours" and people:
        start["person"] = people[0]
    if record == "pours":
        start |= {"pour": f"P-{now:%y%m%d-%H%M}", "unit": "g"}
    if record == "usage":
        start["unit"] = "each"
    if record == "pieces":
        start |= {"started": now.date(), "status": "in progress"}
    # a tag that has its number by the minute must stay what it was while the form is filled
    start = st.session_state.setdefault(f"start-{record}{key}-{turn(record, key)}", start)
    taken = own_tags(folder, page) if record == "pieces" else set()
    if record_form(folder, record, known, start, button, key, taken):
        st.session_state["log said"] = "It is in the log. The figures follow as soon as they are worked out."
        st.rerun(scope="app")


def own_tags(folder: Path, page: Page | None) -> set[str]:
    """The tags of all pieces, on record or logged a moment ago."""
    logged = {
        entry.cells.get("piece", "").upper() for entry in actions.log_state(folder).entries if entry.record == "pieces"
    }
    return logged | (set(page.book.pieces()["piece"]) if page else set())


def known_words(folder: Path, page: Page | None, record: str = "hours") -> dict[str, list[str]]:
    """The words to choose from by field: the shop's own, those of the records, and what was logged a moment ago."""
    known = actions.field_words(folder, record)
    logged = [entry.cells for entry in reversed(actions.log_state(folder).entries)]

    def own(name: str) -> list[str]:
        return [cells[name] for cells in logged if name in cells]

    pieces, lots, items = own("piece"), own("lot"), [*own("item"), *own("resin")]
    orders: list[str] = own("order_no")
    if page:
        made = page.book.pieces()
        open_first = made.sort(pl.col("finished").is_not_null(), maintain_order=True)
        pieces += open_first["piece"].to_list()
        bought = page.book.lots()
        lots += bought["lot"].drop_nulls().to_list()
        items += bought["item"].drop_nulls().to_list()
        known["product"] = [*known.get("product", []), *made["product"].drop_nulls().unique(maintain_order=True)]
    found = {"piece": pieces, "pieces": pieces, "lot": lots, "order_no": orders}
    found |= {name: [*known.get(name, []), *items] for name in ("item", "resin", "colourant")}
    if record == "pieces":
        del found["piece"]  # a new piece has a tag that nothing has yet
    return known | {name: list(dict.fromkeys(w for w in list_ if w)) for name, list_ in found.items()}


def _sentence(today: list[Any], timers: list[Any]) -> str:
    logged = f"{words.count(len(today), 'entry', 'entries')} logged today"
    if not timers:
        return f"{logged}; no timer runs."
    first = timers[0].cells
    on = f" on {first['pieces']}" if first.get("pieces") else ""
    more = f" and {words.count(len(timers) - 1, 'more timer')}" if len(timers) > 1 else ""
    return f"{logged}; {first.get('operation', 'work')}{on} runs since {timers[0].since[11:16]}{more}."


def _timers(folder: Path) -> None:
    """The timers that run, whichever browser started them."""
    now = actions.log_now(folder)
    for timer in actions.log_state(folder).timers:
        seconds = timer.seconds(now)
        what = ", ".join(
            timer.cells.get(name, "") for name in ("operation", "pieces", "machine") if timer.cells.get(name)
        )
        with st.container(border=True, key=f"timer-{timer.id}"):
            parts.say(f"{what or 'work'}: {seconds // 3600}:{seconds // 60 % 60:02} h since {timer.since[11:16]}")
            with st.container(horizontal=True):
                stopped = st.button("Stop and log it", type="primary", key=f"stop-{timer.id}")
                thrown = st.button("Throw away", type="tertiary", key=f"drop-{timer.id}")
        if stopped and attempt(partial(actions.stop_timer, folder, timer.id, {})):
            st.session_state["log said"] = f"Logged: {what or 'work'}, {seconds // 3600}:{seconds // 60 % 60:02} h."
            st.rerun(scope="app")
        if thrown and attempt(partial(actions.drop_timer, folder, timer.id)):
            st.rerun(scope="app")


def _start(folder: Path, known: dict[str, list[str]]) -> None:
    parts.part("Start a timer")
    turn = st.session_state.setdefault("timer turn", 0)
    with st.form(f"timer-{turn}", enter_to_submit=False):
        operation = st.selectbox(
            "Operation", known.get("operation", []), None, accept_new_options=True, key=f"timer-operation-{turn}",
            placeholder="Choose, or type your own",
        )  # fmt: skip
        pieces = st.multiselect(
            "Pieces", known.get("pieces", []), accept_new_options=True, key=f"timer-pieces-{turn}", placeholder="T-001"
        )
        people, machines = known.get("person", []), known.get("machine", [])
        person = st.selectbox("Who", people, key=f"timer-person-{turn}") if len(people) > 1 else "".join(people[:1])
        machine = st.selectbox("Machine", machines, None, key=f"timer-machine-{turn}") if machines else None
        rework = st.checkbox("It mends earlier work (rework)", key=f"timer-rework-{turn}")
        pressed = st.form_submit_button("Start", type="primary", width="stretch")
    if not pressed:
        return
    cells = {
        "operation": operation or "",
        "pieces": "; ".join(pieces),
        "person": person or "",
        "machine": machine or "",
    }
    cells |= {"rework": "yes"} if rework else {}
    if attempt(lambda: actions.start_timer(folder, cells)):
        st.session_state["timer turn"] = turn + 1
        st.rerun(scope="app")


def _day(folder: Path, today: list[Any]) -> None:
    parts.part("The day so far")
    if not today:
        parts.say("Nothing yet.", quiet=True)
        return
    lines = [(entry.at[11:16], entry.record, _told(entry.cells)) for entry in reversed(today)]
    frame = pl.DataFrame(lines, schema=["at", "record", "what"], orient="row")
    plain.table(frame, {"at": "At", "record": "Record", "what": "What"}, "the day so far")
    if st.button("Take the last entry back", key="undo") and attempt(lambda: actions.undo_entry(folder)):
        st.session_state["log said"] = f"Taken back: {lines[0][1]}, {lines[0][2]}."
        st.rerun(scope="app")


def _told(cells: dict[str, str]) -> str:
    shown = {name: text for name, text in cells.items() if name not in ("date", "person", "attended", "started_at")}
    return ", ".join(f"{name.replace('_', ' ')} {text}" for name, text in shown.items() if text != "no")


def _no_hours() -> None:
    parts.empty("No hours are on record yet.", "Start a timer, or log work that is done: both become rows of hours.")


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
    opens = {f"{day:%Y-%m-%d}": parts.behind("hours", day) for day in sorted(set(hours["day"]), reverse=True)}
    parts.picture(
        days(frame, title, page.look),
        alt,
        "log-days",
        "name",
        opens=opens,
        asks="The hours of a day (or click its bar)",
    )
