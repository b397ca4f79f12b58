"""The forms of the log: numbers as a file says them, every field of every record, tags that are taken."""

import re
import shutil
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import forms
from dashboard.entry_words import entry_in_words
from dashboard.forms import number_text
from dashboard.log_fields import FIRST, KINDS
from dashboard.options import FormOptions, next_tag
from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.pages import actions
from pipeline.pages.daylog import Entry
from pipeline.records import RECORDS
from pipeline.shop import load
from tests.dashboard.conftest import Run, heading, html


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, ""), (12, "12"), (0.1, "0.1"), (12.5, "12.5"), (1.234, "1.2340"), (-3.25, "-3.25"), (1e6, "1000000")],
)  # fmt: skip
def test_a_number_stands_as_a_file_says_it(value: float | int | None, text: str) -> None:
    assert number_text(value) == text


def test_what_is_shown_first_are_fields_of_the_record() -> None:
    for record, names in FIRST.items():
        fields = {field.name for field in RECORDS[record]}
        assert set(names) <= fields
        assert {field.name for field in RECORDS[record] if field.required} <= set(names)
    assert set(KINDS.values()) <= set(FIRST)


@pytest.mark.parametrize(
    ("tags", "following"),
    [
        (["P-0403", "P-0402"], "P-0404"),
        (["P-0403", "P-0409", "W-900"], "P-0410"),  # past all that begin like the newest
        (["P-99"], "P-100"),
        (["TRAY-2026-7", "P-1"], "TRAY-2026-8"),
        (["BIG ONE"], ""),
        ([], ""),
    ],
)
def test_a_new_tag_follows_on_the_newest(tags: list[str], following: str) -> None:
    assert next_tag(tags) == following


@pytest.mark.parametrize(
    ("record", "cells", "words"),
    [
        (
            "hours",
            {"date": "2026-05-04", "hours": "1:45:10", "operation": "sanding", "pieces": "t-1; T-2", "attended": "yes"},
            "1:45 h, sanding, T-1 · tray, T-2",
        ),
        (
            "hours",
            {"date": "2026-05-03", "hours": "0:00:20", "attended": "no"},
            "date 2026-05-03, under a minute, not attended, on no piece: a cost of the month",
        ),
        (
            "pours",
            {
                "pour": "R-1",
                "date": "2026-05-04",
                "resin": "coating resin",
                "part_a": "60",
                "unit": "g",
                "piece": "T-1",
            },
            "R-1, coating resin, part a 60 g, T-1 · tray",
        ),
        (
            "pours",
            {"pour": "R-1", "part_a": "60.1250", "unit": "g", "stir_minutes": "3:30"},
            "R-1, part a 60.125 g, stir 3 min 30 s",
        ),
        ("usage", {"item": "oil", "quantity": "30", "unit": "ml", "lot": "W-1"}, "oil, 30 ml, lot W-1"),
        ("sales", {"channel": "market", "piece": "T-1", "price": "95"}, "market, T-1 · tray, price $95.00"),
    ],
)
def test_an_entry_is_told_as_one_says_it(record: str, cells: dict[str, str], words: str) -> None:
    row = [cells.get(field.name, "") for field in RECORDS[record]]
    entry = Entry("1", "2026-05-04T09:31:00-05:00", record, "file.csv", row)
    assert entry_in_words(entry, FormOptions(names={"T-1": "T-1 · tray"}, currency="USD")) == words


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """No refresh begins in the background."""
    monkeypatch.setattr(actions, "start_refresh", lambda _: None)


@pytest.mark.parametrize("kind", KINDS)
def test_each_record_has_a_form_with_all_its_fields(page: Run, bare: Path, kind: str) -> None:
    test = page("log", bare, kind=kind)
    assert not test.exception
    widgets = [
        *test.text_input,
        *test.number_input,
        *test.date_input,
        *test.selectbox,
        *test.multiselect,
        *test.checkbox,
    ]
    labels = {re.sub(r" \(needed.*\)$", "", widget.label) for widget in widgets}
    assert {f.name.replace("_", " ").capitalize() for f in RECORDS[KINDS[kind]]} <= labels


def by_label(test: AppTest, kind: str, label: str) -> object:
    return next(widget for widget in test.get(kind) if widget.label == label)


@pytest.mark.usefixtures("quiet")
def test_a_tag_that_is_taken_is_not_given_twice(page: Run, bare: Path) -> None:
    test = page("log", bare, kind="New piece")
    for turn in (1, 2):
        by_label(test, "text_input", "Piece (needed)").set_value("t-1")  # type: ignore[attr-defined]
        by_label(test, "text_input", "Product (needed)").set_value("tray")  # type: ignore[attr-defined]
        next(button for button in test.button if button.label == "Log it").click().run()
        assert not test.exception
        assert turn == 1 or "T-1 is a piece already" in test.error[0].value.replace("\\", "")
    assert [entry.cells["piece"] for entry in actions.log_state(load(bare).folder).entries] == ["t-1"]
    assert heading(test).startswith("1 entry logged today")
    assert "New piece: T-1, tray, in progress" in html(test)


@pytest.mark.usefixtures("quiet")
def test_a_change_is_marked_compared_and_taken_back(
    page: Run, demo: Path, tmp_path: Path, own_main: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(demo, shop)
    test = page("rework", shop, **{"mark-change": "true"})
    by_label(test, "date_input", "Date (needed)").set_value(date(2026, 1, 1))  # type: ignore[attr-defined]
    by_label(test, "text_input", "Change (needed)").set_value("warmer room")  # type: ignore[attr-defined]
    next(button for button in test.button if button.label == "Mark it").click().run()
    assert not test.exception
    assert "It is marked." in test.success[0].value
    assert "Marked last: warmer room, from 2026-01-01." in html(test)
    monkeypatch.setitem(sys.modules, "__main__", own_main)
    assert main(["refresh", str(shop)]) == 0
    with open_newest(shop) as con:
        found = con.execute("select distinct day from quality.change where change = 'warmer room'").fetchall()
    assert found == [(date(2026, 1, 1),)]
    test = page("rework", shop, **{"before-and-after": "true"})
    assert "Before and after a change: 2 changes" in [box.label for box in test.expander]
    assert "warmer room" in html(test).partition('aria-label="changes"')[2].partition("</table>")[0]
    test.button(key="undo-change").click().run()
    assert not test.exception
    assert "Taken back: warmer room." in test.success[0].value
    # a refresh has read it: its row stays, and the next one knows that it was taken back
    assert main(["refresh", str(shop)]) == 0
    with open_newest(shop) as con:
        assert not con.execute("from quality.change where change = 'warmer room'").fetchall()


def test_a_tag_or_word_typed_otherwise_is_the_known_one_or_asked_about(
    tiny_shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    monkeypatch.setattr(forms, "fault", lambda what, mend: said.append(what))
    monkeypatch.setattr(forms.st, "session_state", {})
    known = FormOptions({"pieces": ["P-0396", "P-0397", "T-12", "Q-12"], "operation": ["sanding", "carving"]})

    def meant(pieces: str, operation: str) -> dict[str, str] | None:
        return forms.as_known(tiny_shop, "hours", {"pieces": pieces, "operation": operation, "hours": "1:30"}, known)

    assert meant("0396; p0397; NEW-1", "carving") == {
        "pieces": "P-0396; P-0397; NEW-1",
        "operation": "carving",
        "hours": "1:30",
    }
    assert meant("12", "carving") is None  # of two: asked
    assert meant("P-0396", "sandng") is None
    assert said == ["“12” is not on record. Is Q-12 or T-12 meant?", "“sandng” is not on record. Is sanding meant?"]
    assert meant("P-0396", "sandng") == {"pieces": "P-0396", "operation": "sandng", "hours": "1:30"}  # pressed again
    assert len(said) == 2
