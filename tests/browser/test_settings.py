"""On a phone an hourly rate is changed from a day on: tried, saved, taken back. What is typed stays meanwhile."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.browser.conftest import laid, new_page, without_errors
from tests.browser.hand import alert, opened, settled, shows
from tests.browser.test_tasks import until_it_rests
from tests.changing.test_trial import FILES
from tests.refreshed import TINY_SHOP, refreshed

pytestmark = pytest.mark.browser

LATER = "from = 2026-04-01\nrate = 36\n"


@pytest.fixture
def shop(tmp_path: Path, bench: tuple[Path, str]) -> Iterator[Path]:
    folder = tmp_path / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    for name, text in FILES.items():
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    yield from until_it_rests(laid(folder, bench[0]))


@pytest.fixture
def screen(browser, shop: Path, bench: tuple[Path, str]) -> Iterator[object]:
    page = new_page(browser, 360, bench[1], has_touch=True, is_mobile=True)
    with without_errors(page) as found:
        yield found
    page.context.close()


def day(screen, text: str) -> None:
    """Type a day into the field that has a part for each of year, month and day."""
    for part, digits in zip(("year", "month", "day"), text.split("-"), strict=True):
        box = screen.get_by_role("spinbutton", name=re.compile(part, re.IGNORECASE)).first
        box.focus()
        screen.keyboard.type(digits)


def test_a_raise_is_tried_saved_and_taken_back(screen, shop: Path) -> None:
    before = (shop / "shop.toml").read_bytes()
    opened(screen, "/settings?pay=true")
    rate = screen.get_by_label("Pay for one hour, in EUR", exact=True)
    see = screen.get_by_role("button", name="See what changes")
    shows(rate, "30.00")
    assert see.bounding_box()["height"] >= 44
    day(screen, "2026-04-01")
    rate.fill("thirty")
    see.click()
    alert(screen, "“thirty” is no number").wait_for()
    rate.fill("36")
    # newer figures come in meanwhile: what is typed stays
    refresh(load(shop), anew=True)
    screen.get_by_role("button", name="Show the newer figures").first.dispatch_event("click")
    settled(screen)
    assert rate.input_value() == "36"
    see.click()
    found = screen.get_by_role("region", name="What would change")
    found.wait_for()
    assert "Month's profit: 2026-04" in found.inner_text() and "T-2" in found.inner_text()
    assert re.search(r"€50\.00\s+€20\.00", found.inner_text()), found.inner_text()
    assert (shop / "shop.toml").read_bytes() == before
    screen.get_by_role("button", name="Save it").click()
    alert(screen, "Saved: Ada, from 2026-04-01").first.wait_for()
    assert LATER in (shop / "shop.toml").read_text(encoding="utf-8")
    screen.get_by_role("button", name="Take it back").click()
    alert(screen, "Taken back: Ada, from 2026-04-01").first.wait_for()
    assert (shop / "shop.toml").read_bytes() == before
    wide = screen.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= screen.viewport_size["width"]
