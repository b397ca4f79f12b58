"""The forms of the Settings page: another figure from a day on, an entry mended, a new one, and words taught."""

from collections.abc import Mapping
from datetime import date
from hashlib import blake2b
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import widgets
from dashboard.fields import Offers, choice_of, form, offer, one_of
from dashboard.refreshing import fault
from dashboard.sections import settings_trial
from dashboard.setting_words import TAUGHT, Section, label, usual
from dashboard.verbatim import verbatim
from pipeline.pages import actions, shop_settings
from pipeline.pages.shop_settings import Change, Entry, Setting

NEW = "A new one"
YES_NO = ("yes", "no")
EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)
"""The days that a field takes."""


def show(folder: Path, section: Section, stand: Any) -> None:
    """Choose what to change, its form, and what the change would do."""
    table = shop_settings.SETTINGS[section.table]
    if not table.section:
        name: str | None = ""
    elif section.table == "rule":
        name = ""
    else:
        names = stand.names(section.table)
        options = [*names, NEW]
        widgets.choosable(f"which-{section.key}", options, options[0])
        name = st.selectbox("Change", options, 0, key=f"which-{section.key}", format_func=lambda n: n)
        name = None if name == NEW and NEW not in names else name
    if name is None:
        _form(folder, section, stand, Change(shop_settings.NEW, section.table), {})
        return
    there = stand.of(section.table, name)
    way, since = _way(section, there)
    if not there:
        return
    entry = next((each for each in reversed(there) if each.since == since), there[-1])
    # what another page adds meanwhile must not make this another form
    asked = Change(way, section.table, name, entry.since if way == shop_settings.MEND else None)
    _form(folder, section, stand, asked, _known(stand, section, way, there, entry))


def _way(section: Section, there: list[Entry]) -> tuple[str, date | None]:
    """What about a thing is to change, chosen where there is a choice."""
    table = shop_settings.SETTINGS[section.table]
    last = there[-1].since if there else None
    if not shop_settings.is_dated(table):
        return shop_settings.MEND, last
    ways: dict[str, tuple[str, date | None]] = {"from a day on": (shop_settings.LATER, last)}
    for entry in reversed(there):
        ways[f"what holds since {entry.since or 'the start'}"] = (shop_settings.MEND, entry.since)
    if shop_settings.always_of(table):
        ways["what holds on every day"] = (shop_settings.ALWAYS, last)
    key = f"how-{section.key}"
    widgets.choosable(key, ways, next(iter(ways)))
    return ways[st.selectbox("Which figures", list(ways), 0, key=key)]


def _known(stand: Any, section: Section, way: str, there: list[Entry], entry: Entry) -> dict[str, Any]:
    """What the fields say at first."""
    if way == shop_settings.ALWAYS or not shop_settings.is_dated(shop_settings.SETTINGS[section.table]):
        return dict(entry.always)
    if way == shop_settings.MEND:
        return dict(entry.dated)
    today = stand.shop.now().date()
    return shop_settings.known_on(there, today, stand.start, section.table == "rule")


def _settings(asked: Change) -> tuple[Setting, ...]:
    table = shop_settings.SETTINGS[asked.table]
    always, dated = shop_settings.always_of(table), shop_settings.dated_of(table)
    if asked.way == shop_settings.NEW:
        return (*always, *dated)
    return always if asked.way == shop_settings.ALWAYS else dated or always


def _form(folder: Path, section: Section, stand: Any, asked: Change, known: Mapping[str, Any]) -> None:
    turn = int(st.session_state.setdefault(f"turn-{section.key}", 0))
    own = f"{section.key}-{asked.way}-{_digest(asked)}-{turn}"
    drawn = st.session_state.setdefault(f"drawn-{own}", stand.content)
    table = shop_settings.SETTINGS[asked.table]
    marked: dict[str, str] = st.session_state.get(f"marked-{own}", {})
    typed: dict[str, str] = {}
    offers: Offers = {}
    if not shop_settings.is_dated(table) and asked.table not in ("event", "change", "goal"):
        widgets.say("What stands here holds for the whole history: it has no day of its own.", quiet=True)
    with form(f"settings-{own}"):
        if asked.way == shop_settings.LATER or (table.dated and asked.way == shop_settings.NEW):
            typed["from"] = _day(asked, stand, own)
            _mark(marked.get("from"))
        elif asked.way == shop_settings.MEND and shop_settings.is_dated(table) and asked.since:
            typed["from"] = _chosen_day("From (needed)", asked.since, key=f"from-{own}")
            _mark(marked.get("from"))
        for setting in _settings(asked):
            typed[setting.name] = _field(setting, asked.table, stand, known.get(setting.name), own, offers)
            _mark(marked.get(setting.name))
        pressed = st.form_submit_button("See what changes", type="primary", width="stretch")
        out = _may_go(asked, stand) and st.form_submit_button("Take this entry out …", width="stretch")
    offer(offers, f"settings-{section.key}")
    if pressed or out:
        wanted = Change(shop_settings.OUT if out else asked.way, asked.table, asked.name, asked.since, typed)
        _look(folder, own, section.key, drawn, wanted)
    settings_trial.show(folder, section.key, own)


def _look(folder: Path, own: str, place: str, drawn: bytes, asked: Change) -> None:
    """Begin to work out what a change would do; what can't be taken is said beside its field."""
    before = st.session_state.pop(f"marked-{own}", {})
    try:
        planned = shop_settings.plan(folder, drawn, asked)
        settings_trial.begin(folder, place, own, planned)
    except shop_settings.UnfitError as error:
        st.session_state[f"marked-{own}"] = error.fields
        st.rerun(scope="app")
    except actions.UserError as error:
        fault(error.what, error.mend)
        try:
            st.session_state[f"drawn-{own}"] = shop_settings.now(folder).content
        except actions.UserError as worse:
            fault(worse.what, worse.mend)
        return
    if before:
        st.rerun(scope="app")


def _mark(wrong: str | None) -> None:
    """What is wrong with a field, beside it."""
    if wrong:
        st.error(verbatim(wrong))


def _day(asked: Change, stand: Any, own: str) -> str:
    later = asked.way == shop_settings.LATER
    named = "From (needed)" if later else "From; empty: from the start"
    help_ = "What came before that day stays as it was." if later else None
    return _chosen_day(named, stand.shop.now().date() if later else None, key=f"from-{own}", help=help_)


def _chosen_day(label: str, value: date | None, **named: Any) -> str:
    """A day, of any year: a saw may be older than the ten years that such a field takes by itself."""
    ends = (min(value or EARLIEST, EARLIEST), max(value or LATEST, LATEST))
    chosen = st.date_input(label, value, *ends, **named)
    return chosen.isoformat() if isinstance(chosen, date) else ""


def _field(setting: Setting, table: str, stand: Any, value: Any, own: str, offers: Offers) -> str:
    named: dict[str, Any] = {"help": verbatim(setting.why), "key": f"set-{setting.name}-{own}"}
    money = f", in {stand.shop['currency']}" if setting.kind in ("money", "rate") else ""
    said = verbatim(f"{label(table, setting)}{money}")
    if setting.kind == "date":
        return _chosen_day(said, value if isinstance(value, date) else None, **named)
    text = shop_settings.as_typed(setting, value, stand.shop.minor_digits)
    named["placeholder"] = usual(setting, stand.shop.minor_digits) or None
    if setting.kind == "yes_no" or setting.choices:
        return choice_of(said, YES_NO if setting.kind == "yes_no" else setting.choices, text, offers, {}, **named)
    return one_of(said, (), text, offers, {}, **named)


def _may_go(asked: Change, stand: Any) -> bool:
    entry = [each for each in stand.of(asked.table, asked.name) if each.since == asked.since]
    return asked.way == shop_settings.MEND and bool(entry) and bool(entry[-1].at)


def _digest(asked: Change) -> str:
    return blake2b(f"{asked.name}\0{asked.since}".encode("utf-8", "surrogatepass"), digest_size=6).hexdigest()


def show_words(folder: Path, stand: Any) -> None:
    """The form that teaches a word: of which kind, the word, and what it means."""
    turn = int(st.session_state.setdefault(f"turn-{TAUGHT}", 0))
    widgets.choosable("vocabulary", shop_settings.VOCABULARIES, "species")
    place = shop_settings.VOCABULARIES.index("species")
    kind = st.selectbox(
        "Kind of word", shop_settings.VOCABULARIES, place, key="vocabulary", format_func=lambda n: n.replace("_", " ")
    )
    own = f"{TAUGHT}-{kind}-{turn}"
    drawn = st.session_state.setdefault(f"drawn-{own}", stand.content)
    marked: dict[str, str] = st.session_state.get(f"marked-{own}", {})
    offers: Offers = {}
    with form(f"settings-{own}"):
        known = list(stand.words.get(kind, {}))
        word = one_of(
            "Word, as you write it", known, "", offers, {}, key=f"word-{own}", placeholder="Such as a nickname"
        )
        _mark(marked.get("word"))
        means = shop_settings.CHOICES.get(kind, tuple(dict.fromkeys(stand.words.get(kind, {}).values())))
        hint = "Empty: the word is taught no more."
        meaning = one_of("What it means", means, "", offers, {}, key=f"meaning-{own}", placeholder=hint)
        _mark(marked.get("meaning"))
        pressed = st.form_submit_button("See what changes", type="primary", width="stretch")
    offer(offers, f"settings-{TAUGHT}")
    if pressed:
        _look(folder, own, TAUGHT, drawn, Change(shop_settings.WORD, kind, typed={"word": word, "meaning": meaning}))
    settings_trial.show(folder, TAUGHT, own)
