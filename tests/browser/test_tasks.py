"""The tasks that write, in a real browser: log, drop a file in and mend it, begin from nothing."""

import csv
import re
import time
from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from pathlib import Path

import pytest
from filelock import FileLock

from pipeline.database import newest, open_newest
from pipeline.new_shop import new_shop
from pipeline.pages import actions, entries
from pipeline.refresh import background
from pipeline.reports import month as month_report
from pipeline.shop import load
from tests.browser.conftest import laid, nothing_uncaught, phone, wide
from tests.browser.hand import PATIENCE_S, WAYS, alert, choose, opened, pressed, settled, typed_into
from tests.refreshed import refreshed

pytestmark = pytest.mark.browser

PIECES = "piece,product,species,started\n" + "".join(f"T-{n},tray,white oak,2026-03-0{n}\n" for n in (1, 2, 3))
HOURS = "date,hours,person,operation,pieces\n" + "".join(f"2026-03-0{n},2:00,Me,carving,T-{n}\n" for n in (1, 2, 3))
SALES = "date,channel,product,piece,price\n2026-03-05,market,tray,T-1,95\n2026-03-06,market,tray,T-2,ninety\n"
RESIN = "date,item,category,quantity,unit,amount\n2026-03-02,clear resin,resin,1,kg,40\n"
ODD = "When,Who,Thing,Got\n2026-03-07,Ann,tray,60\n2026-03-08,Bo,bowl,45\n"


@pytest.fixture(scope="module")
def three_pieces(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop of three pieces, past its first steps. Only looked at: each test writes in a copy."""
    folder = tmp_path_factory.mktemp("three") / "shop"
    new_shop(folder, date(2026, 1, 1))
    for name, text in (("pieces", PIECES), ("hours", HOURS)):
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    return folder


@pytest.fixture
def shop(three_pieces: Path, bench: tuple[Path, str]) -> Iterator[Path]:
    yield from until_it_rests(laid(three_pieces, bench[0]))


def until_it_rests(shop: Path) -> Iterator[Path]:
    yield shop
    wait(lambda: not background.progress(shop).running)  # what was begun ends before its folder goes
    nothing_uncaught(shop)


@pytest.fixture
def no_refresh(shop: Path) -> Iterator[None]:
    """A refresh seems to be under way all the while, so that none is begun."""
    with FileLock(shop / "database" / background._WORKER):
        yield


@pytest.fixture
def address(shop: Path, bench: tuple[Path, str]) -> str:
    return bench[1]


def comes(shop: Path, query: str, rows: list[tuple]) -> None:
    """Wait until a published database answers so; each is asked once."""
    looked_at: list[Path | None] = [None]

    def answers() -> bool:
        before, looked_at[0] = looked_at[0], newest(shop)
        return looked_at[0] != before and asked(shop, query) == rows

    wait(answers)


def wait(until: Callable[[], object]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not until():
        assert time.monotonic() < end, "it never came"
        time.sleep(0.2)


def logged(shop: Path, record: str) -> list[dict[str, str]]:
    found = []
    for path in sorted((shop / "log").glob(f"*-{record}.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            found += [{name: text for name, text in row.items() if text} for row in csv.DictReader(file)]
    return found


def asked(shop: Path, query: str) -> list[tuple]:
    with open_newest(shop) as con:
        return con.execute(query).fetchall()


SMALL_AT_THE_BENCH = """() => [".stButton button", ".stFormSubmitButton button", "[data-testid=stButtonGroup] button",
    ".stExpander summary", ".stTextInput input", ".stSelectbox input", "[data-testid=stDateInputField]",
    "[data-testid=stDateInputCalendarButton]", "[data-testid=stNumberInputContainer]", ".stCheckbox label"]
    .flatMap(of => [...document.querySelectorAll(`[data-testid=stMain] ${of}`)])
    .filter(each => each.checkVisibility() && each.getBoundingClientRect().height < 47.5)
    .map(each => each.ariaLabel || each.textContent)"""
"""What a hand in a glove has to hit on the Log and is lower than 48 pixels."""


def fits(screen) -> None:
    wide = screen.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= screen.viewport_size["width"]
    assert not screen.locator("[data-testid=stException], .kl-fault").count()


@phone
def test_work_is_timed_logged_and_taken_back(no_refresh: None, screen, shop: Path) -> None:
    opened(screen, "/log")
    choose(screen, "Operation", "sanding")
    choose(screen, "Pieces", "T-2")
    screen.keyboard.press("Escape")
    if screen.viewport_size["width"] < 640:
        assert screen.evaluate(SMALL_AT_THE_BENCH) == []
    screen.get_by_role("button", name="Start", exact=True).click()
    screen.get_by_text("sanding, T-2 · tray · white oak: 0:00 h since").wait_for()
    assert re.search(r"sanding on T-2 runs since \d\d:\d\d", screen.locator("h1.kl-answer").inner_text())
    fits(screen)
    # another browser, or the same after a restart, sees it run
    opened(screen, "/log")
    screen.get_by_role("button", name="Stop and log it").click()
    told = "under a minute, sanding, T-2 · tray · white oak, Me"
    alert(screen, rf"Logged at \d\d:\d\d: {told}").wait_for()
    (row,) = logged(shop, "hours")
    assert (row["operation"], row["pieces"], row["person"]) == ("sanding", "T-2", "Me")
    assert "1 entry logged today; no timer runs." in screen.locator("h1.kl-answer").inner_text()
    screen.get_by_role("button", name=f"Take the last entry back: {told}").click()
    alert(screen, f"Taken back: {told}").wait_for()
    # the refresh that is under way may have read it: its row stays, and counts no more
    assert logged(shop, "hours") == [row]
    own = load(shop)
    assert [entry.taken_back for day in entries.days(own) for entry in entries.of_day(own, day)] == [True]
    screen.get_by_role("button", name="Stop and log it").wait_for()  # it runs again


@wide
def test_a_pour_is_logged_and_what_is_wrong_is_said(screen, shop: Path) -> None:
    opened(screen, "/log?kind=Pour")
    pour = screen.get_by_label("Pour (needed)", exact=True)
    pour.wait_for()
    pour.fill("P-1")
    screen.get_by_label("Resin", exact=True).fill("coating resin")  # nothing is known to choose from
    screen.get_by_label("Part a", exact=True).fill("60.125")
    screen.get_by_label("Part b", exact=True).fill("30")
    choose(screen, "Piece", "T-3")
    screen.get_by_label("Stir minutes", exact=True).fill("a while")
    screen.get_by_role("button", name="Log it").click()
    screen.get_by_test_id("stAlert").get_by_text("Not a duration").wait_for()
    assert logged(shop, "pours") == []
    screen.get_by_label("Stir minutes", exact=True).fill("4")  # all else is still there
    screen.get_by_role("button", name="Log it").click()
    alert(screen, "Logged at .*: P-1, .*part a 60.125 g, part b 30 g, T-3 · tray · white oak").wait_for()
    (row,) = logged(shop, "pours")
    assert (row["pour"], row["part_a"], row["part_b"], row["unit"], row["piece"]) == (
        "P-1",
        "60.1250",
        "30",
        "g",
        "T-3",
    )
    fits(screen)
    comes(shop, "select pour, part_a, part_a_unit from records.pours", [("P-1", 60125, "mg")])


@pytest.mark.parametrize("screen", [360], ids=["phone"], indirect=True)
def test_newer_figures_wait_for_a_form_that_is_half_filled(screen, shop: Path) -> None:
    opened(screen, "/log?kind=Pour")
    pour = screen.get_by_label("Pour (needed)", exact=True)
    pour.fill("P-9")
    resin = screen.get_by_label("Resin", exact=True)
    resin.fill("a resin of my own")  # none is known yet to choose from
    with (shop / "inbox" / "pieces.csv").open("a", encoding="utf-8") as file:
        file.write("T-4,tray,white oak,2026-03-04\n")
    (shop / "inbox" / "purchases.csv").write_text(RESIN, encoding="utf-8")
    refreshed(shop)
    newer = screen.get_by_role("button", name="Show the newer figures")
    newer.wait_for()
    time.sleep(3)  # twice as long as a page rests that nobody fills a form on
    assert newer.is_visible()
    assert pour.input_value() == "P-9"
    # one comes above the form as the page is drawn anew: the keys stay in the field
    actions.start_timer(shop, {"operation": "carving"})
    pour.focus()
    screen.evaluate("window.typedInto = document.activeElement")
    newer.evaluate("button => button.click()")
    newer.wait_for(state="hidden")
    screen.get_by_role("button", name="Stop and log it").wait_for()
    settled(screen)
    assert screen.evaluate("document.activeElement === window.typedInto")
    choose(screen, "Piece", "T-4")
    assert pour.input_value() == "P-9"
    assert resin.input_value() == "a resin of my own"
    resin.click()
    screen.get_by_role("option", name="clear resin").wait_for()
    screen.keyboard.press("Tab")
    assert resin.input_value() == "a resin of my own"


@wide
def test_a_bad_file_is_dropped_in_and_mended(screen, shop: Path, tmp_path: Path) -> None:
    bad = tmp_path / "sales.csv"
    bad.write_text(SALES, encoding="utf-8")
    opened(screen, "/files")
    screen.locator("[data-testid=stFileUploader] input[type=file]").set_input_files(bad)
    screen.get_by_text("It is in your shop as inbox/sales.csv").wait_for()
    screen.get_by_text("1 would be in the figures").wait_for()
    comes(shop, "select count(*) from intake.rejected", [(1,)])
    screen.locator("h1.kl-answer", has_text="1 row is set aside").wait_for(timeout=60_000)
    settled(screen)
    screen.get_by_role("link", name="inbox/sales.csv, row 3").click()
    price = screen.get_by_label("Price", exact=True)
    price.wait_for()
    assert price.input_value() == "ninety"
    fits(screen)
    price.fill("9O")  # still wrong: said, not saved
    screen.get_by_role("button", name="Put the mended row in its place").click()
    screen.get_by_text("Not an amount", exact=False).last.wait_for()
    assert not list((shop / "mends").glob("*.csv"))
    price.fill("90")
    screen.get_by_role("button", name="Put the mended row in its place").click()
    alert(screen, "Mended: inbox/sales.csv, row 3").wait_for()
    comes(shop, "select sum(price_cents)::bigint from records.sales", [(18500,)])
    assert (shop / "inbox" / "sales.csv").read_text(encoding="utf-8") == SALES
    screen.locator("h1.kl-answer", has_text="no row is set aside").wait_for(timeout=60_000)


def from_a_row_below(leave: Callable, screen, box) -> None:
    """Leave a field whose list stands on the row below the one that was typed, by no wish of who typed."""
    screen.get_by_role("option", name="channel", exact=True).wait_for()
    box.dispatch_event("keydown", {"key": "ArrowDown", "bubbles": True})
    leave(screen, box)


@phone
def test_a_file_with_columns_of_its_own_is_settled(screen, shop: Path, tmp_path: Path) -> None:
    odd = tmp_path / "till book.csv"
    odd.write_text(ODD, encoding="utf-8")
    opened(screen, "/files")
    screen.locator("[data-testid=stFileUploader] input[type=file]").set_input_files(odd)
    screen.get_by_text("It is in your shop as inbox/till book.csv").wait_for()
    record = screen.get_by_label("A row of it is", exact=True)
    record.wait_for()
    choose(screen, "A row of it is", "handed over")
    columns = {"When": "date", "Who": "channel", "Thing": "product", "Got": "price"}
    for (header, field), leave in zip(columns.items(), WAYS, strict=True):
        settled(screen)
        own = screen.get_by_role("combobox", name=re.compile(f"“{header}”"))
        # "channel fee" holds the letters of "channel": the list of a slow machine may stand on it
        typed_into(screen, own, field, partial(from_a_row_below, leave) if field == "channel" else leave)
    read = screen.get_by_text("So read, 2 of 2 rows would be in the figures")
    # what a slow machine did not take is said beside its field, and typed anew
    lost = screen.locator(".kl-unfit", has_text="was not taken: type it again")
    for _ in range(3):
        read.or_(lost).first.wait_for()
        if read.count():
            break
        for header, field in columns.items():
            settled(screen)
            box = screen.get_by_role("combobox", name=re.compile(f"“{header}”"))
            if box.input_value() != field:
                typed_into(screen, box, field, WAYS[0])
    read.wait_for()
    fits(screen)
    saved = shop / "mappings" / "till-book.toml"
    pressed(screen.get_by_role("button", name="Save it and refresh"), saved.is_file)
    comes(shop, "select sum(price_cents)::bigint from records.sales", [(10500,)])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_month_report_prints_on_two_sheets(browser, demo: Path, paper: str) -> None:
    with open_newest(demo) as con:
        months = [row[0] for row in con.execute("select month from money.month order by pieces_sold desc").fetchall()]
        pages = {f"{month:%Y-%m}": month_report.html(con, month) for month in (*months[:4], months[-1])}
    page = browser.new_page()
    fetched: list[str] = []
    page.on("request", lambda request: fetched.append(request.url))
    for name, html in pages.items():
        page.set_content(html)
        sheets = len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(format=paper)))
        assert sheets == 2, name
    page.close()
    assert fetched == []
