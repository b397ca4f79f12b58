"""One walk through each page as a maker would take it: on a laptop and on a phone, with the mouse and with keys."""

import re
from pathlib import Path

import pytest

from dashboard.app import VIEWS
from pipeline.database import open_newest
from tests.browser.hand import click_mark, heading, opened, settled, take_by_keys

pytestmark = pytest.mark.browser


def go(screen, title: str) -> None:
    view = next(view for view in VIEWS if view.title == title)
    screen.locator(".st-key-pages").get_by_role("link", name=title, exact=True).click()
    if view is not VIEWS[0] or not screen.url.partition("?")[0].endswith("/"):
        screen.wait_for_url(re.compile(f"/{view.path}(\\?|$)"))
    settled(screen)


@pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
def test_each_picture_has_words_for_those_who_cannot_see_it(screen) -> None:
    opened(screen, "/?difference=true&course=true")
    pictures = screen.locator("[data-testid=stVegaLiteChart]")
    pictures.nth(3).locator("svg").wait_for()
    said = [picture.get_attribute("aria-label") or "" for picture in pictures.all()]
    assert len(said) == 4  # the steps, the bridge, and two courses
    assert all(re.search(r"\d", words) for words in said)
    assert "Bars from sales, cost by cost, to the result" in said[0]
    assert "what made the difference" in said[1]


def test_from_a_piece_to_its_records(screen, demo: Path) -> None:
    tag, cents = open_newest(demo).execute(
        "select piece, labour_cents from cost.piece where labour_cents > 0 order by made_cents desc limit 1"
    ).fetchall()[0]  # fmt: skip
    opened(screen, f"/pieces?piece={tag}")
    assert tag in heading(screen)
    screen.get_by_text("Its cost layer by layer, with the records").click()
    line = screen.locator("table.kl tr", has=screen.get_by_role("link", name="work", exact=True))
    assert f"${cents / 100:,.2f}" in line.inner_text()
    line.get_by_role("link").click()
    record = screen.get_by_role("dialog").locator("details.kl-record").first
    assert re.search(r"inbox/hours/.*, row \d+ · paid by \w+'s hourly rate in shop.toml, from ", record.inner_text())
    # the record itself: by keyboard, as any of it can be
    record.locator("summary").focus()
    screen.keyboard.press("Enter")
    assert "operation" in record.locator("dl").first.inner_text()
    assert "rate" in record.locator("dl").last.inner_text()


def test_a_bar_opens_the_records_behind_it(screen) -> None:
    opened(screen, "/pieces")
    bar = screen.locator("[data-testid=stVegaLiteChart] [aria-roledescription=bar]").first
    dialog = screen.get_by_role("dialog")
    click_mark(bar, dialog.locator("details.kl-record").first)
    assert re.search(r"inbox/.*, row \d+", dialog.inner_text())
    screen.keyboard.press("Escape")
    dialog.wait_for(state="hidden")


def test_what_is_chosen_holds_across_pages_and_stands_in_the_address(screen) -> None:
    opened(screen, "/?month=2026-05")
    assert heading(screen).startswith("May 2026")
    go(screen, "Pieces")
    go(screen, "Materials")
    assert "May 2026" in heading(screen)
    assert "month=2026-05" in screen.url


def test_a_choice_is_made_with_keys_alone(screen) -> None:
    opened(screen, "/")
    month = screen.get_by_label("Month", exact=True)
    take_by_keys(screen, month, "2026-04")
    screen.locator("h1.kl-answer", has_text="April 2026").wait_for()
    assert "month=2026-04" in screen.url


@pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
def test_a_table_downloads(screen, tmp_path: Path) -> None:
    opened(screen, "/files")
    with screen.expect_download() as started:
        screen.get_by_role("button", name="Download as CSV").first.click()
    file = tmp_path / "got.csv"
    started.value.save_as(file)
    header = file.read_text(encoding="utf-8").partition("\n")[0]
    assert header.startswith("file,sheet,row,occurrence,record,code,field,text,reason,suggestion")
