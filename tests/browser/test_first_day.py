"""The first day by hand: how much is in a kit, a size without a unit, an old entry. The whole of it is by taps."""

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import expect

from pipeline.new_shop import new_shop
from pipeline.pages import daylog
from pipeline.shop import load
from tests.browser.conftest import laid, phone, wide
from tests.browser.hand import PATIENCE_S, alert, choose, opened, seen, settled
from tests.browser.test_tasks import comes, fits, logged, until_it_rests
from tests.refreshed import refreshed

pytestmark = pytest.mark.browser

KIT = "date,item,category,quantity,unit,amount\n2026-01-11,clear casting resin kit,resin,1,kit,119.00\n"
PIECES = "piece,product,started,status\nT-1,tray,2026-01-02,in progress\n"


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A kit whose size nobody knows, a piece in work, and an hour that was logged days ago."""
    folder = tmp_path_factory.mktemp("begun") / "shop"
    new_shop(folder, date(2026, 1, 1))
    for name, text in (("purchases", KIT), ("pieces", PIECES)):
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    cells = {"date": "2026-01-05", "hours": "2:00", "person": "Me", "operation": "sanding", "pieces": "T-1"}
    entry = daylog.add(load(folder), "hours", cells)
    old = folder / "log" / "2026-01-05-hours.csv"
    (folder / "log" / entry.file).rename(old)
    (folder / "log" / ".running.json").unlink()
    refreshed(folder)
    return folder


@pytest.fixture
def shop(begun: Path, bench: tuple[Path, str]) -> Iterator[Path]:
    yield from until_it_rests(laid(begun, bench[0]))


@pytest.fixture
def address(shop: Path, bench: tuple[Path, str]) -> str:
    return bench[1]


@phone
def test_how_much_is_in_a_kit_is_answered_on_the_first_page(screen, shop: Path) -> None:
    opened(screen, "/")
    screen.get_by_text("How much is in one “clear casting resin kit”?", exact=False).first.wait_for()
    field = screen.get_by_label("In one there is", exact=True)
    field.fill("a lot")
    screen.get_by_role("button", name="Answer so").click()
    alert(screen, "is no amount with a unit").wait_for()
    assert field.input_value() == "a lot"
    fits(screen)
    field.fill("3 kg")
    screen.get_by_role("button", name="Answer so").click()
    alert(screen, "3 kg. It stands in shop.toml").wait_for()
    comes(shop, "select quantity, unit from work.lot", [(3_000_000, "mg")])


@wide
def test_a_size_without_a_unit_is_offered_both_ways_and_what_is_typed_stays(screen, shop: Path) -> None:
    opened(screen, "/log?kind=New piece")
    screen.get_by_label("Piece (needed)", exact=True).fill("T-9")
    screen.get_by_label("Product (needed)", exact=True).fill("tray")
    screen.get_by_label("Length", exact=True).fill("2000")
    screen.get_by_role("button", name="Log it").click()
    alert(screen, "In what unit is it: Length 2000?").wait_for()
    both = screen.get_by_role("button", name=re.compile(r"^2000 (mm|in)$"))
    assert both.all_inner_texts() == ["2000 mm", "2000 in"]
    fits(screen)
    both.first.click()
    expect(screen.get_by_label("Length", exact=True)).to_have_value("2000 mm", timeout=PATIENCE_S * 1000)
    assert screen.get_by_label("Product (needed)", exact=True).input_value() == "tray"
    screen.get_by_role("button", name="Log it").click()
    alert(screen, r"Logged at .*: T-9").wait_for()
    (row,) = logged(shop, "pieces")
    assert (row["piece"], row["product"], row["length"]) == ("T-9", "tray", "2000 mm")


@phone
def test_an_entry_of_another_day_is_changed_and_taken_back(screen, shop: Path) -> None:
    before = (shop / "log" / "2026-01-05-hours.csv").read_bytes()
    opened(screen, "/log")
    screen.get_by_text("Change an entry of any day").click()
    settled(screen)
    choose(screen, "Entry", "Work")
    settled(screen)
    hours = seen(screen.get_by_label("Hours", exact=True)).last
    assert hours.input_value() == "2:00"
    hours.fill("1:30")
    screen.get_by_role("button", name="Change it").click()
    alert(screen, "Changed: 1. Work: 2:00 h").wait_for()
    fits(screen)
    comes(shop, "select seconds from records.hours", [(5400,)])
    settled(screen)
    choose(screen, "Entry", "1:30")
    settled(screen)
    screen.get_by_role("button", name="Take it back", exact=True).click()
    alert(screen, "Taken back: 1. Work: 1:30 h").wait_for()
    comes(shop, "select count(*) from records.hours", [(0,)])
    assert (shop / "log" / "2026-01-05-hours.csv").read_bytes() == before
