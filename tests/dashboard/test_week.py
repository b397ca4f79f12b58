"""Each line of the week leads to where its thing is done or seen: followed for every kind of line there is."""

from html import unescape
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data, details
from dashboard.data import Book
from dashboard.view_context import page_of
from dashboard.views import this_week
from tests.dashboard.conftest import Run, heading, html
from tests.dashboard.test_behind import opened

ROW: dict[str, Any] = {
    "subject": "", "about": "", "times": 2, "at_stake_cents": 5000, "price_cents": 100, "ask_cents": 200,
    "sure_share": 1.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def book(demo: Path) -> Book:
    return data.open_book(demo)


def lines(book: Book, deed: str) -> list[dict[str, Any]]:
    """The lines of a kind that the demo has, first and last; of two kinds that it has none of, one made."""
    found = book.worth_doing().filter(deed=deed).to_dicts()
    made = {
        "find": [
            ROW | {"subject": "deep pour resin", "about": "deep pour resin"},
            ROW | {"subject": "yellow birch", "about": "wood/yellow birch"},
        ],
        "reconcile": [ROW | {"subject": "2026-09"}],
    }
    return ([found[0], found[-1]] if found else []) or made[deed]


def followed(page: Run, demo: Path, opens: str, value: str) -> AppTest:
    path, _, name = opens.partition("?")
    return page(path, demo, **{name: value}) if path else opened(value)


def said(test: AppTest) -> str:
    """All letters of a page: its own, and what its choices and fields show."""
    shown = [str(each.value) for each in (*test.selectbox, *test.button_group, *test.text_input)]
    return unescape("\n".join([html(test), *shown]))


@pytest.mark.parametrize("deed", this_week.WORTH)
def test_each_kind_of_line_leads_where_its_thing_is(
    page: Run, demo: Path, book: Book, deed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    for row in lines(book, deed):
        what, why, (opens, value) = this_week._DEEDS[deed](page_of(book), row)
        assert what
        assert why
        test = followed(page, demo, opens, value)
        assert not test.exception
        there = said(test)
        assert details.GONE not in there, (opens, value)
        assert "Nothing is shown for this address" not in there, (opens, value)
        if deed in ("price", "change"):
            assert row["subject"] in there
        if deed == "try":
            assert this_week.rework_details.FACTORS[row["about"]] in there
        if deed in ("find", "use", "name"):
            assert "kl-record" in there
        if deed in ("reconcile", "close"):
            assert this_week._month(row["subject"]) in unescape(heading(test))


def test_a_product_is_not_to_be_stopped_for_a_few_units(book: Book) -> None:
    few, enough = (this_week._change(page_of(book), ROW | {"subject": "tray", "times": n})[:2] for n in (1, 5))
    assert few == (
        "See why tray left less than it cost",
        "1 unit sold in a year, at $1.00: too few to say that it always does.",
    )
    assert enough == ("Change or stop tray", "5 units of a year, at $1.00 on average, left less than they cost.")


def test_all_kinds_are_named_and_shown() -> None:
    assert set(this_week._DEEDS) == set(this_week.WORTH)
