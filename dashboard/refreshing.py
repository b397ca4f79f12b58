"""Starting a refresh from a page, and how far it is."""

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from dashboard import data, widgets
from dashboard.verbatim import verbatim
from pipeline.pages import actions

LOOK_EVERY_S = 1.0
"""How often the page looks while a refresh runs."""

NEWER_EVERY_S = 5.0
"""How often an open page looks whether something newer was published."""


def bar(folder: Path) -> None:
    """A button that starts a refresh; while one runs, its progress. The page runs again when it is done."""
    every = LOOK_EVERY_S if actions.refresh_progress(folder).running else None
    st.fragment(_shown, run_every=every)(folder, every is not None)


def watch(folder: Path, seen: data.Edition | None) -> None:
    """Run the page again when a database newer than `seen` appears; until then it goes on with the one it has.

    `seen`: the newest file when the page began to run, though it may not open: once for each is enough.
    """
    st.fragment(_newer, run_every=NEWER_EVERY_S)(folder, seen)


def _newer(folder: Path, seen: data.Edition | None) -> None:
    if data.newest(folder) != seen:
        run_again("published")


def run_again(why: str) -> None:
    """Run the page again as soon as nobody is in the middle of something on it: `rest.js` presses the button then."""
    with st.container(key=f"newer-{why}"):
        if st.button("Show the newer figures", key=f"show-{why}"):
            st.rerun(scope="app")


def _shown(folder: Path, ran: bool) -> None:
    now = actions.refresh_progress(folder)
    if now.running:
        again = " It runs once more after that, for what came meanwhile." if now.again else ""
        st.progress(now.share, f"Working it out: {verbatim(now.stage)}.{again}")
        return
    if ran:
        run_again("done")
    if now.fault:
        fault(now.fault, now.mend)
    with st.container(horizontal=True, vertical_alignment="center", key="refresh"):
        pressed = st.button("Refresh now", key="refresh-now")
        if now.said:
            widgets.say(f"The last one is done. {now.said}", quiet=True)
    if pressed and attempt(lambda: actions.start_refresh(folder)):
        st.rerun(scope="app")


def fault(what: str, mend: str = "") -> None:
    """What went wrong, and what to do about it, as the page's alert."""
    st.error("  \n".join(verbatim(text) for text in (what, mend) if text))


def done(place: str, what: str) -> None:
    """Keep what was done, to be said at its place until something else is done: a page runs again by itself."""
    st.session_state["done"] = (place, what)
    st.session_state["just done"] = True


def say_what_was_done(place: str) -> None:
    """What was done last, if it was done here."""
    where, what = st.session_state.get("done", ("", ""))
    if where != place:
        return
    st.success(verbatim(what))
    if st.session_state.pop("just done", False):
        st.toast(verbatim(what))  # the place itself may lie below what a phone shows


def attempt(act: Callable[[], object]) -> bool:
    """Do it; where it can't be, say so and what to do about it. Gives whether it was done."""
    try:
        act()
    except actions.UserError as error:
        fault(error.what, error.mend)
        st.toast(verbatim(error.what))
        return False
    return True
