"""A shop's first piece by a finger alone, on a phone: from `kerfledger new` to what it cost and what its month made.

The cost is reckoned by hand below, by the rules that the README gives: a blank's share of its slab, resin by the gram
of its kit, hours at the rate of their day.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from pipeline.commands import main
from pipeline.shop import load
from tests.browser.conftest import laid, new_page, without_errors
from tests.browser.finger import Finger
from tests.browser.hand import PATIENCE_S, alert, seen, settled
from tests.browser.test_tasks import asked, comes, fits, until_it_rests

pytestmark = pytest.mark.browser

SLAB, KIT, PRICE = Decimal("90.00"), Decimal("119.00"), Decimal("260.00")
MM_OF_SLAB, MM_OF_BLANK = 1000, 500  # of its length; width and thickness are those of the slab
G_OF_KIT, G_POURED = 3000, 200 + 100
RATE, RAISED = Decimal("25.00"), Decimal("32.00")  # the first as `kerfledger new` has it
HOURS_BEFORE, HOURS_TODAY = Decimal("2.00"), Decimal("1.50")


def by_hand() -> Decimal:
    """What the piece cost, without the tool."""
    wood = SLAB * MM_OF_BLANK / MM_OF_SLAB
    resin = KIT * G_POURED / G_OF_KIT
    return wood + resin + HOURS_BEFORE * RATE + HOURS_TODAY * RAISED


@pytest.fixture
def shop(tmp_path: Path, bench: tuple[Path, str]) -> Iterator[Path]:
    folder = tmp_path / "shop"
    assert main(["new", str(folder), "--start", f"{date.today() - timedelta(days=60)}"]) == 0
    assert main(["refresh", str(folder)]) == 0
    yield from until_it_rests(laid(folder, bench[0]))


@pytest.fixture
def finger(browser, shop: Path, bench: tuple[Path, str]) -> Iterator[Finger]:
    page = new_page(browser, 360, bench[1], has_touch=True, is_mobile=True)
    with without_errors(page) as screen:
        yield Finger(screen)
    page.context.close()


def go(finger: Finger, page: str) -> None:
    finger.tap(finger.screen.get_by_role("link", name=page, exact=True))
    finger.screen.wait_for_url(f"**/{page.lower()}*")
    finger.settled()


def kind(finger: Finger, name: str) -> None:
    """Choose what to log."""
    finger.tap(seen(finger.screen.get_by_role("radio", name=name, exact=True)).first)
    seen(finger.screen.get_by_role("button", name="Log it", exact=True)).first.wait_for()
    finger.settled()


def put(finger: Finger, button: str, says: str) -> None:
    finger.press(button)
    alert(finger.screen, says).first.wait_for()
    finger.settled()


def test_the_first_piece_by_taps_alone(finger: Finger, shop: Path) -> None:
    screen, now = finger.screen, load(shop).now().date()
    screen.goto("/")
    settled(screen)
    begun_with = screen.locator("h1.kl-answer").inner_text()
    assert "3 records to go" in begun_with

    # a slab, on the first page
    finger.tap(seen(screen.get_by_role("radio", name="wood", exact=True)).first)
    seen(screen.get_by_label("Thickness", exact=True)).first.wait_for()
    finger.settled()
    finger.fill("Item (needed)", "oak slab")
    finger.fill("Quantity", "1")
    finger.choose("Unit", "each")
    finger.fill("Amount (needed)", str(SLAB))
    finger.fill("Lot", "W-1")
    for label, size in (("Length", f"{MM_OF_SLAB} mm"), ("Width", "300 mm"), ("Thickness", "40 mm")):
        finger.fill(label, size)
    finger.press("Put it on record")
    screen.locator("h1.kl-answer", has_text="2 records to go").wait_for()
    finger.settled()

    # the piece
    finger.fill("Piece (needed)", "T-1")
    finger.fill("Product (needed)", "tray")
    finger.choose("Lot", "W-1")
    for label, size in (("length", f"{MM_OF_BLANK} mm"), ("width", "300 mm"), ("thickness", "40 mm")):
        finger.fill(f"Blank {label}", size)
    finger.press("Put it on record")
    screen.locator("h1.kl-answer", has_text="1 record to go").wait_for()

    # work of the day before, then its cost so far
    finger.day("Date", f"{now - timedelta(days=1)}")
    finger.fill("Hours", "2:00")
    finger.choose("Operation (needed)", "sanding")  # the only piece there is has been chosen already
    finger.press("Put it on record")
    so_far = SLAB * MM_OF_BLANK / MM_OF_SLAB + HOURS_BEFORE * RATE
    screen.locator("h1.kl-answer", has_text=f"T-1 truly cost ${so_far:,.2f}").wait_for()
    fits(screen)

    # a kit, of which nobody knows yet how much is in it; then that
    go(finger, "Log")
    kind(finger, "Purchase")
    finger.tap(seen(screen.get_by_role("radio", name="resin", exact=True)).first)
    expect(finger.field("Category (needed)")).to_have_value("resin", timeout=PATIENCE_S * 1000)
    finger.settled()
    finger.fill("Item (needed)", "clear casting resin kit")
    finger.fill("Quantity", "1")
    finger.choose("Unit", "kit")
    finger.fill("Amount (needed)", str(KIT))
    put(finger, "Log it", "Logged at")
    comes(shop, "select count(*) from intake.question where kind = 'size'", [(1,)])
    go(finger, "Files")
    screen.get_by_text("How much is in one “clear casting resin kit”?", exact=False).first.wait_for()
    finger.fill("In one there is", f"{G_OF_KIT} g")
    put(finger, "Answer so", "It stands in shop.toml")

    # a timer, stopped at once: that is wrong, the work took an hour and a half
    go(finger, "Log")
    finger.choose("Operation", "carving")
    finger.choose("Pieces", "T-1")
    finger.press("Start")
    screen.get_by_role("button", name="Stop and log it").wait_for()
    put(finger, "Stop and log it", "Logged at .*carving")

    # a pour, an inspection
    kind(finger, "Pour")
    finger.fill("Part a", "200")
    finger.fill("Part b", "100")
    put(finger, "Log it", "Logged at .*part a 200 g")
    kind(finger, "Inspection")
    put(finger, "Log it", "nothing found: it passed")

    # the timer's entry is mended
    finger.tap(screen.get_by_text("Change an entry of any day", exact=False).first)
    finger.settled()
    finger.choose("Entry", "carving")
    finger.settled()
    hours = seen(screen.get_by_label("Hours", exact=True)).last
    finger.tap(hours)
    hours.press("ControlOrMeta+a")
    screen.keyboard.type("1:30")
    put(finger, "Change it", "Changed: .*carving")
    fits(screen)

    # finished, and sold
    comes(shop, "select seconds from records.hours order by seconds", [(5400,), (7200,)])
    go(finger, "Pieces")
    finger.tap(screen.get_by_text("T-1 is in work: finish it").first)
    finger.settled()
    screen.get_by_text("Still missing: the day it was finished, its size, its price.").wait_for()
    sizes = (("Length", "480 mm"), ("Width", "280 mm"), ("Thickness", "36 mm"), ("List price", str(PRICE)))
    for label, text in sizes:
        finger.fill(label, text)
    put(finger, "Finish it", "T-1 is finished")
    comes(shop, "select status, length_um from records.pieces", [("finished", 480_000)])
    go(finger, "Log")
    kind(finger, "Sale")
    finger.fill("Channel (needed)", "market")  # none is known yet to choose from
    finger.choose("Piece", "T-1")
    finger.fill("Price (needed)", str(PRICE))
    put(finger, "Log it", "Logged at .*T-1")
    comes(shop, "select price_cents from records.sales", [(int(PRICE * 100),)])

    # another hourly rate from today on
    go(finger, "Settings")
    finger.tap(screen.get_by_text("People and pay", exact=False).first)
    finger.settled()
    finger.fill("Pay for one hour, in USD", str(RAISED))
    finger.press("See what changes")
    screen.get_by_role("region", name="What would change").wait_for()
    put(finger, "Save it", f"Saved: Me, from {now}")

    cost = by_hand()
    comes(shop, "select unit_cents from cost.piece", [(int(cost * 100),)])
    month = "select result_cents from money.month where pieces_sold > 0"
    assert asked(shop, month) == [(int((PRICE - cost) * 100),)]
    go(finger, "Pieces")
    screen.get_by_text(f"${cost:,.2f}").first.wait_for()
    go(finger, "Month")
    finger.choose("Month", f"{now:%Y-%m}")
    screen.locator("h1.kl-answer", has_text=f"made ${PRICE - cost:,.0f} after your own pay").wait_for()
    fits(screen)
