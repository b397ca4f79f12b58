"""What do the figures go by, and how do I change it?"""

from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, refreshing, simple_table, widgets, words
from dashboard.refreshing import attempt, done, fault, say_what_was_done
from dashboard.sections import settings_form, settings_trial
from dashboard.setting_words import SECTIONS, TAUGHT, Section, label
from dashboard.verbatim import verbatim
from dashboard.widgets import Page
from pipeline.pages import actions, shop_settings
from pipeline.pages.shop_settings import Setting

QUESTION = "What do the figures go by?"

MOST_ROWS = 10
"""A table with more is folded."""


def show(page: Page) -> None:
    folder = data.shop_folder()
    shop_settings.sweep_trials(folder)
    try:
        stand = shop_settings.now(folder)
    except actions.UserError as error:
        widgets.answer(QUESTION, "The settings can't be read.")
        fault(f"{error.what} {error.where}", f"{error.mend} Nothing is written over it from here.")
        if (folder / "shop.toml").is_file():
            _last_change(folder)
        return
    widgets.answer(QUESTION, _sentence(stand))
    widgets.say(
        "Pay, rent, fees and tax change from a day on, and what came before stays. Before anything is saved, you see "
        "which figures it changes.",
        quiet=True,
    )
    say_what_was_done(settings_trial.PLACE)
    _last_change(folder)
    refreshing.bar(folder)
    with st.container(gap="xsmall"):
        for section in SECTIONS:
            _section(folder, section, stand)
        _words(folder, stand)
    widgets.caution("what the tax office wants, ask a licensed accountant; what resin and dust want, the data sheets.")


def _sentence(stand: Any) -> str:
    people, channels = (len(stand.names(table)) for table in ("person_rate", "channel"))
    return (
        f"By what is set for {words.count(people, 'person', 'people')} and {words.count(channels, 'channel')}; "
        f"the records begin on {stand.start}."
    )


def _last_change(folder: Path) -> None:
    """The last change, and taking it back."""
    last = shop_settings.last_change(folder)
    if not last:
        return
    since = " The file was changed by hand since." if last.changed_since else ""
    widgets.say(f"Last change, {last.at[:10]}: {last.said}.{since}", quiet=True)
    told: list[str] = []
    if st.button("Take it back", key="undo-settings") and attempt(lambda: told.append(shop_settings.undo(folder))):
        settings_trial.leave(folder)
        done(settings_trial.PLACE, f"Taken back: {told[0]}. The figures follow.")
        st.rerun(scope="app")


def _section(folder: Path, section: Section, stand: Any) -> None:
    names = stand.names(section.table)
    counted = f" · {len(names)}" if section.table not in ("shop", "rule") else ""
    box = widgets.folded(f"{section.title}{counted}", section.key)
    if not box:
        return
    with box:
        _table(section, stand)
        if section.mind:
            widgets.caution(section.mind[:1].lower() + section.mind[1:])
        settings_form.show(folder, section, stand)


def _table(section: Section, stand: Any) -> None:
    """What is said, by the day from which it holds."""
    table = shop_settings.SETTINGS[section.table]
    entries = stand.entries[section.table]
    settings = (*shop_settings.always_of(table), *shop_settings.dated_of(table))
    said = [entry.always | entry.dated for entry in entries]
    used = [setting for setting in settings if any(setting.name in one for one in said)]
    if not used:
        widgets.say("Nothing is set here yet.", quiet=True)
        return
    if section.table == "shop":
        rows = [
            {"what": label("shop", s).removesuffix(" (needed)"), "says": _written(stand, s, said[0].get(s.name))}
            for s in used
        ]
        simple_table.table(pl.DataFrame(rows), {"what": "Setting", "says": "Says"}, section.title)
        return
    dated = shop_settings.is_dated(table)
    frame = pl.DataFrame(
        [
            ({"from": str(entry.since or "the start"), "until": _until(stand, section.table, entry)} if dated else {})
            | {setting.name: _written(stand, setting, one.get(setting.name)) for setting in used}
            for entry, one in zip(entries, said, strict=True)
        ]
    )
    first = [setting for setting in used if setting.name in ("name", "regime", "category") and setting in used[:2]]
    others = [setting for setting in used if setting not in first]
    own = [*first, *sorted(others, key=lambda s: s not in shop_settings.dated_of(table))]
    # what it is and its first figure stand where a phone shows them
    headings = {setting.name: _heading(section.table, setting) for setting in own[: len(first) + dated]}
    headings |= {"from": "From", "until": "Until"} if dated else {}
    headings |= {setting.name: _heading(section.table, setting) for setting in own}
    whole = {"from", "until"} | {setting.name for setting in own if setting.kind not in ("text", "names")}
    if frame.height <= MOST_ROWS:
        simple_table.table(frame, headings, section.title, whole)
        return
    with st.expander(verbatim(f"All {frame.height}, as a table"), key=f"table-{section.key}"):
        simple_table.table(frame, headings, section.title, whole)


def _heading(table: str, setting: Setting) -> str:
    return label(table, setting).removesuffix(" (needed)")


def _until(stand: Any, table: str, entry: Any) -> str:
    """The day on which another entry takes over; "now" where it is in force."""
    today: date = stand.shop.now().date()
    begins = entry.since or stand.start
    later = [each.since for each in stand.of(table, entry.name) if each.since and each.since > begins]
    if begins > today:
        return "not yet"
    return f"before {min(later)}" if later and min(later) <= today else "now"


def _written(stand: Any, setting: Setting, value: Any) -> str:
    return shop_settings.as_typed(setting, value, stand.shop.minor_digits) or words.DASH


def _words(folder: Path, stand: Any) -> None:
    taught = [
        {"kind": kind.replace("_", " "), "word": word, "means": means}
        for kind, meanings in stand.words.items()
        for word, means in meanings.items()
    ]
    if not (box := widgets.folded(f"Words taught · {len(taught)}", TAUGHT)):
        return
    with box:
        if taught:
            headings = {"kind": "Kind", "word": "Word", "means": "Means"}
            with st.expander(verbatim(f"All {len(taught)}, as a table"), key="table-words"):
                simple_table.table(pl.DataFrame(taught), headings, "Words taught")
        settings_form.show_words(folder, stand)
