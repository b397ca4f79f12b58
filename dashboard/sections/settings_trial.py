"""What a change of the settings would do to the figures, shown before it is saved; saving it, or leaving it."""

from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, refreshing, simple_table, widgets, words
from dashboard.refreshing import attempt, done, fault, run_again
from dashboard.verbatim import verbatim
from pipeline.pages import shop_settings

PLACE = "settings"
"""Where on the page it is said what was saved."""

FIRST = 4
"""So many figures of a kind are shown at once."""

KINDS = {
    "month's profit": ("Month's profit", "months"),
    "pay an hour": ("Pay for an hour", "months"),
    "cost of a piece": ("Cost of a piece", "pieces"),
    "price to ask": ("Price to ask", "products"),
    "rows": ("Rows", "rows"),
}
"""A kind of figure: how it is called, and what it is counted in."""

_KEY = "trial"


def begin(folder: Path, place: str, own: str, planned: Any) -> None:
    """Begin a trial for a form; the one before it is forgotten."""
    leave(folder)
    name = shop_settings.begin_trial(folder, planned)
    st.session_state[_KEY] = {"name": name, "place": place, "own": own, "planned": planned}


def leave(folder: Path) -> None:
    """Forget the trial."""
    if kept := st.session_state.pop(_KEY, None):
        shop_settings.end_trial(folder, kept["name"])


def show(folder: Path, place: str, own: str) -> None:
    """The trial of this form, if there is one: how far it is, or what it found."""
    kept = st.session_state.get(_KEY)
    if not kept or kept["own"] != own:
        return
    running = shop_settings.trial_state(folder, kept["name"]).running
    every = refreshing.LOOK_EVERY_S if running else None
    st.fragment(_shown, run_every=every)(folder, kept, running)


def _shown(folder: Path, kept: dict[str, Any], ran: bool) -> None:
    now = shop_settings.trial_state(folder, kept["name"])
    with st.container(border=True, key=f"trial-{kept['place']}"):
        widgets.say(f"{kept['planned'].said}. It is not saved yet.")
        if now.running or ran:
            st.progress(now.share, f"Working out what changes: {verbatim(now.stage)}")
            if ran and not now.running:
                run_again("trial")
            if st.button("Leave it", key=f"leave-{kept['name']}"):
                leave(folder)
                st.rerun(scope="app")
            return
        if now.fault:
            fault(now.fault, now.mend)
        else:
            _differing(now.differing)
        with st.container(horizontal=True, key=f"save-or-leave-{kept['place']}"):
            label = "Save it all the same" if now.fault else "Save it"
            saved = st.button(label, type="primary", key=f"save-{kept['name']}")
            left = st.button("Leave it", key=f"leave-{kept['name']}")
    if saved and attempt(lambda: shop_settings.save(folder, kept["planned"])):
        place = kept["place"]
        leave(folder)
        st.session_state[f"turn-{place}"] = int(st.session_state.get(f"turn-{place}", 0)) + 1
        done(PLACE, f"Saved: {kept['planned'].said}. The figures follow.")
        st.rerun(scope="app")
    if left:
        leave(folder)
        st.rerun(scope="app")


def _differing(found: list[dict[str, Any]]) -> None:
    if not found:
        widgets.say("No figure changes.")
        return
    money = words.Money(data.open_book(data.shop_folder()).shop()["currency"])
    parts, shown, rest = [], [], []
    for kind, (_, things) in KINDS.items():
        own = [row for row in found if row["kind"] == kind]
        if not own:
            continue
        if kind != "rows":
            parts.append(f"{KINDS[kind][0].lower()} of {len(own):,} {things if len(own) > 1 else things[:-1]}")
        shown += own[:FIRST]
        rest += own[FIRST:]
    widgets.say(f"What changes: {', '.join(parts)}." if parts else "What changes:")
    _table(shown, money, "What would change")
    if rest:
        with st.expander(verbatim(f"{len(rest):,} more figures that change")):
            _table(rest, money, "What else would change")


def _table(rows: list[dict[str, Any]], money: words.Money, name: str) -> None:
    def write(row: dict[str, Any], when: str) -> str:
        value = row[when]
        return words.DASH if value is None else f"{value:,}" if row["kind"] == "rows" else money(value)

    told = [
        {"of": f"{KINDS[row['kind']][0]}: {row['of']}", "before": write(row, "before"), "after": write(row, "after")}
        for row in rows
    ]
    frame = pl.DataFrame(told, schema=dict.fromkeys(("of", "before", "after"), pl.String))
    simple_table.table(frame, {"of": "Figure", "before": "Now", "after": "Then"}, name, ("before", "after"))
