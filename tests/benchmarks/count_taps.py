"""Counts what a finger does for each form of the log on a phone: taps, and keys, before and now.

Run it as `uv run python -m tests.benchmarks.count_taps`. The shop has pieces, a slab, a kit and a channel already; each
entry is made twice, since the second of a day begins with what the first one said. Nothing is timed, and nothing
asserted but that every entry was logged.
"""

import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

from playwright.sync_api import sync_playwright

from pipeline.new_shop import new_shop
from tests.browser.conftest import FLAGS, chromium, new_page, serving
from tests.browser.finger import Finger
from tests.browser.hand import alert, opened, seen, settled
from tests.browser.test_tasks import logged
from tests.refreshed import refreshed

BEFORE = {"purchase": (14, 60), "piece": (9, 42), "pour": (11, 22), "sale": (5, 9)}
"""Taps and keys of each form before it began with what was chosen last, as they were counted then by hand."""

FILES = {
    "purchases": "date,supplier,item,category,quantity,unit,amount,lot\n"
    "2026-03-01,timber yard,oak slab,wood,1,each,90,W-1\n"
    "2026-03-01,resin shop,clear casting resin kit,resin,1,kit,119,\n",
    "pieces": "piece,product,species,started,status,lot\nT-1,serving tray,white oak,2026-03-02,in progress,W-1\n"
    "T-2,serving tray,white oak,2026-03-02,finished,W-1\nT-3,serving tray,white oak,2026-03-02,finished,W-1\n",
    "sales": "date,channel,product,price\n2026-03-08,market,serving tray,80\n",
}


def kind(finger: Finger, name: str) -> None:
    finger.tap(seen(finger.screen.get_by_role("radio", name=name, exact=True)).first)
    seen(finger.screen.get_by_role("button", name="Log it", exact=True)).first.wait_for()
    settled(finger.screen)


def log_it(finger: Finger) -> None:
    finger.press("Log it")
    alert(finger.screen, "Logged at").first.wait_for()


def purchase(finger: Finger, again: int) -> None:
    kind(finger, "Purchase")
    finger.tap(seen(finger.screen.get_by_role("radio", name="resin", exact=True)).first)
    finger.screen.wait_for_timeout(500)
    settled(finger.screen)
    finger.choose("Supplier", "resin shop")
    finger.choose("Item (needed)", "clear casting resin kit")
    finger.fill("Quantity", "1")
    finger.choose("Unit", "kit")
    finger.fill("Amount (needed)", "119")
    log_it(finger)


def piece(finger: Finger, again: int) -> None:
    kind(finger, "New piece")
    finger.fill("Piece (needed)", f"T-{4 + again}")
    finger.choose("Product (needed)", "serving tray")
    finger.choose("Lot", "W-1")
    for label, size in (("length", "500 mm"), ("width", "300 mm"), ("thickness", "40 mm")):
        finger.fill(f"Blank {label}", size)
    log_it(finger)


def pour(finger: Finger, again: int) -> None:
    kind(finger, "Pour")
    finger.choose("Resin", "clear casting resin kit")
    finger.fill("Part a", "200")
    finger.fill("Part b", "100")
    finger.choose("Piece", "T-1")
    log_it(finger)


def sale(finger: Finger, again: int) -> None:
    kind(finger, "Sale")
    finger.choose("Channel (needed)", "market")
    finger.choose("Piece", f"T-{2 + again}")
    finger.fill("Price (needed)", "80")
    log_it(finger)


FORMS: dict[str, tuple[str, Callable[[Finger, int], None]]] = {
    "purchase": ("purchases", purchase),
    "piece": ("pieces", piece),
    "pour": ("pours", pour),
    "sale": ("sales", sale),
}


def counted(shop: Path, address: str, browser: object) -> list[tuple[str, list[tuple[int, int]]]]:
    """Taps and keys of each form, the first time and the second."""
    found = []
    for name, (record, fill) in FORMS.items():
        page = new_page(browser, 360, address, has_touch=True, is_mobile=True)
        times = []
        for again in range(2):
            opened(page, "/log")
            finger = Finger(page)
            fill(finger, again)
            assert len(logged(shop, record)) == again + 1, name
            times.append((finger.taps, finger.keys))
        page.context.close()
        found.append((name, times))
    return found


def main() -> None:
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        shop = Path(home) / "shop"
        new_shop(shop, date(2026, 1, 1))
        for name, text in FILES.items():
            (shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
        refreshed(shop)
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        with serving(shop) as address:
            table = counted(shop, address, browser)
        browser.close()
    print(f"{'form':<10}{'before':>18}{'now':>18}{'again':>18}")
    for name, times in table:
        cells = (f"{taps} taps, {keys} keys" for taps, keys in (BEFORE[name], *times))
        print(f"{name:<10}" + "".join(f"{cell:>18}" for cell in cells))


if __name__ == "__main__":
    main()
