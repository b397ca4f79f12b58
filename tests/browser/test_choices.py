"""A choice shows what the page is of, also after another choice has changed what can be chosen in it."""

from datetime import date
from pathlib import Path

import pytest

from pipeline.database import open_newest
from tests.browser.conftest import new_page, phone, wide
from tests.browser.hand import WAYS, heading, opened, settled, take_by_keys, typed_into, typed_till_taken

pytestmark = pytest.mark.browser

GROUP = "The pieces behind it (or click its mark)"


def box(screen, label: str):
    return screen.get_by_role("combobox", name=label, exact=True)


@wide
def test_a_group_is_of_the_factor_that_is_chosen(screen, demo: Path) -> None:
    with open_newest(demo) as con:
        levels = dict(con.execute("select factor, list(level order by level) from quality.rate group by 1").fetchall())
    opened(screen, "/rework?group-pieces=true")
    last = levels["species"][-1]
    take_by_keys(screen, box(screen, GROUP), last)
    screen.locator(f"[aria-label='pieces of species {last}']").wait_for()
    for factor in ("finish", "product"):
        take_by_keys(screen, box(screen, "By"), factor)
        region = screen.locator(f"[aria-label^='pieces of {factor}']")
        region.wait_for()
        settled(screen)
        level = region.get_attribute("aria-label").removeprefix(f"pieces of {factor} ")
        assert level in levels[factor]
        assert box(screen, GROUP).input_value() == level
        assert "group=" not in screen.url


@phone
def test_what_is_typed_into_a_filter_is_taken_however_fast_it_is_left(screen) -> None:
    opened(screen, "/")
    months = ("2026-04", "2026-03", "2026-05", "2026-02")
    for month, leave in zip(months, WAYS, strict=True):
        taken = screen.locator("h1.kl-answer", has_text=f"{date.fromisoformat(month + '-01'):%B %Y}")
        typed_till_taken(screen, screen.get_by_label("Month", exact=True), month, leave, taken)
        settled(screen)
    for leave in WAYS:
        month = screen.get_by_label("Month", exact=True)
        typed_into(screen, month, "qxj", leave)
        screen.locator(".kl-unfit", has_text="“qxj” is none of the rows here").wait_for()
        assert heading(screen).startswith("February 2026")
        screen.keyboard.press("Escape")
        assert month.input_value() == months[-1]


@wide
@pytest.mark.parametrize("enter", [True, False], ids=["chosen", "typed"])
def test_a_choice_that_a_link_follows_at_once_holds_on_the_next_page(screen, enter: bool) -> None:
    for month, link in (("2026-04", "Rework"), ("2026-03", "Materials")):
        opened(screen, "/")
        field = box(screen, "Month")
        there = screen.get_by_role("link", name=link, exact=True).first.bounding_box()
        field.evaluate("field => { field.focus(); field.select(); }")
        screen.keyboard.insert_text(month)
        screen.get_by_role("option", name=month).first.wait_for()
        if enter:
            screen.keyboard.press("Enter")
        screen.mouse.click(there["x"] + there["width"] / 2, there["y"] + there["height"] / 2)
        screen.wait_for_url(f"**/{link.lower()}?month={month}")
        settled(screen)
        assert f"month={month}" in screen.url


def test_a_field_that_is_taken_away_while_one_types_says_what_was_not_taken(browser, address: str) -> None:
    # a page of its own, since the script stays with it: not every browser says that a field is left which is taken away
    screen = new_page(browser, 360, address)
    screen.add_init_script("addEventListener('focusout', event => event.stopImmediatePropagation(), true)")
    opened(screen, "/?month=2026-04")
    field = box(screen, "Month")
    field.evaluate("field => { field.focus(); field.select(); }")
    screen.keyboard.insert_text("2026-03")
    # as a page does that is drawn anew: another field stands there, and the browser tells of no leaving
    field.evaluate(
        """field => {
            const held = field.closest("[data-testid=stSelectbox]").parentElement;
            const other = held.cloneNode(true);
            other.querySelector("input").value = "2026-04";
            held.replaceWith(other);
        }"""
    )
    screen.locator(".kl-unfit", has_text="“2026-03” was not taken: type it again").wait_for()
    screen.context.close()
