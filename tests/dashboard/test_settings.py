"""The Settings page: every setting has its place, what can't be taken is said, hostile texts do no harm."""

import json
import re
import uuid
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.setting_words import LABELS, SECTIONS, TAUGHT
from pipeline.changing import trial
from pipeline.pages import shop_settings
from pipeline.refresh import background
from tests.dashboard.conftest import Run, heading, html
from tests.refreshed import TINY_SHOP

HOSTILE = "<img src=x onerror=alert(1)> **b** [a](http://x) $x$ :red[c] `d` \\ \" ' # = [[people]]"
FOLDS = {section.key: "true" for section in SECTIONS} | {TAUGHT: "true"}
LATER = {"kind": "month's profit", "of": "2026-04", "before": 5000, "after": 2000}


@pytest.fixture(autouse=True)
def no_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """No refresh and no trial begins: what a trial finds is written by hand."""
    monkeypatch.setattr(background, "start", lambda _: None)

    def begin(folder: Path, planned: object) -> str:
        name = uuid.uuid4().hex
        home = folder / "database" / trial.HOME / name
        home.mkdir(parents=True, exist_ok=True)
        (home / "state.json").write_text(json.dumps({"running": False, "differing": [LATER]}), encoding="utf-8")
        return name

    monkeypatch.setattr(trial, "begin", begin)


def typed(test: AppTest, label: str, text: str) -> None:
    next(field for field in test.text_input if field.label == label).set_value(text)


def press(test: AppTest, label: str) -> AppTest:
    next(button for button in test.button if button.label == label).click().run()
    assert not test.exception
    return test


def test_every_setting_has_its_place_and_its_name() -> None:
    assert {section.table for section in SECTIONS} == set(shop_settings.SETTINGS)
    known = {(t.name, s.name) for t in shop_settings.SETTINGS.values() for s in (*t.settings, *t.dated_settings)}
    assert set(LABELS) <= known
    keys = [section.key for section in SECTIONS]
    assert len({*keys, TAUGHT}) == len(keys) + 1


def test_a_raise_is_seen_saved_and_taken_back(page: Run, bare: Path) -> None:
    before = (bare / "shop.toml").read_bytes()
    test = page("settings", bare, pay="true")
    assert heading(test) == "By what is set for 1 person and 0 channels; the records begin on 2026-01-01."
    typed(test, "Pay for one hour, in EUR", "x")
    press(test, "See what changes")
    assert [error.value.count("is no number") for error in test.error] == [1]
    typed(test, "Pay for one hour, in EUR", "36")
    press(test, "See what changes")
    assert not test.error and (bare / "shop.toml").read_bytes() == before
    assert "Month&#x27;s profit: 2026-04" in html(test) and "€50.00" in html(test) and "€20.00" in html(test)
    press(test, "Save it")
    after = (bare / "shop.toml").read_text(encoding="utf-8")
    assert after.count("[[people.rates]]") == 2 and "rate = 36" in after
    assert "36.00" in html(test) and "Last change" in html(test)
    press(test, "Take it back")
    assert (bare / "shop.toml").read_bytes() == before


def test_the_second_of_two_tabs_sees_what_the_first_one_saved(page: Run, bare: Path) -> None:
    one, other = page("settings", bare, pay="true"), page("settings", bare, pay="true")
    late = page("settings", bare, pay="true")
    for test, rate in ((one, "36"), (late, "38")):
        typed(test, "Pay for one hour, in EUR", rate)
        press(test, "See what changes")
    press(one, "Save it")
    saved = (bare / "shop.toml").read_bytes()
    press(late, "Save it")
    assert "changed meanwhile" in late.error[0].value and "rate = 36" in late.error[0].value
    typed(other, "Pay for one hour, in EUR", "40")
    press(other, "See what changes")
    assert "was changed since" in other.error[0].value and "rate = 36" in other.error[0].value
    assert (bare / "shop.toml").read_bytes() == saved
    press(other, "See what changes")  # what was typed still stands there
    press(other, "Save it")
    assert "rate = 40" in (bare / "shop.toml").read_text(encoding="utf-8")


def test_a_hand_that_changed_the_file_since_is_told_and_nothing_is_lost(page: Run, bare: Path) -> None:
    test = page("settings", bare, pay="true")
    typed(test, "Pay for one hour, in EUR", "36")
    press(press(test, "See what changes"), "Save it")
    by_hand = (bare / "shop.toml").read_text(encoding="utf-8") + "\n# by hand\n"
    (bare / "shop.toml").write_text(by_hand, encoding="utf-8")
    press(test, "Take it back")
    assert "changed by hand since" in test.error[0].value and "by hand" in test.error[0].value
    assert (bare / "shop.toml").read_text(encoding="utf-8") == by_hand


@pytest.mark.parametrize("broken", ["start = \n", TINY_SHOP + "[[pools]]\nname = 7\n", TINY_SHOP + "nonsense = 1\n"])
def test_a_file_that_can_t_be_used_is_told_with_its_line_and_left(page: Run, bare: Path, broken: str) -> None:
    (bare / "shop.toml").write_text(broken, encoding="utf-8")
    test = page("settings", bare, **FOLDS)
    assert not test.exception and heading(test) == "The settings can&#x27;t be read."
    assert re.search(r"line \d", test.error[0].value) and not test.text_input
    assert (bare / "shop.toml").read_text(encoding="utf-8") == broken


def test_hostile_texts_of_the_file_are_shown_as_they_stand(page: Run, bare: Path) -> None:
    from pipeline.shop.settings_text import toml

    name = toml(HOSTILE)
    lists = "".join(
        f"\n[[{t.section}]]\nname = {name}\n" + ("day = 2026-02-01\n" if t.name == "change" else "")
        + ("price = 1\n" if t.name == "price_list" else "")
        for t in shop_settings.SETTINGS.values()
        if t.section and t.settings[0].name == "name" and not t.settings[0].choices and t.name not in ("pool", "event")
    )  # fmt: skip
    text = TINY_SHOP + lists + f"\n[words.species]\n{name} = {name}\n"
    (bare / "shop.toml").write_text(text, encoding="utf-8")
    test = page("settings", bare, **FOLDS)
    assert not test.exception
    assert "<img" not in html(test) and html(test).count("&lt;img") > 6


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.key)
def test_hostile_texts_in_every_field_are_told_or_written_as_texts(page: Run, bare: Path, section: object) -> None:
    before = (bare / "shop.toml").read_bytes()
    test = page("settings", bare, **{section.key: "true"})  # type: ignore[attr-defined]
    for field in test.text_input:
        field.set_value(HOSTILE)
    press(test, "See what changes")
    assert test.error or any(button.label == "Save it" for button in test.button)
    assert all("<img" not in error.value.replace("\\<", "") for error in test.error)
    assert (bare / "shop.toml").read_bytes() == before


def test_a_word_is_taught_with_any_letters(page: Run, bare: Path) -> None:
    test = page("settings", bare, **{TAUGHT: "true"})
    typed(test, "Word, as you write it", HOSTILE)
    typed(test, "What it means", "white oak")
    press(press(test, "See what changes"), "Save it")
    assert shop_settings.now(bare).words == {"species": {HOSTILE: "white oak"}}
    assert "<img" not in html(test)
