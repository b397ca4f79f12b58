"""A phone at the bench, 360 pixels wide: paired by the number, it loses nothing while the server is gone."""

from pathlib import Path

import pytest

from tests.browser.hand import PATIENCE_S
from tests.browser.test_access import violations
from tests.dashboard.floor.conftest import ADDRESS, Served, serving

pytestmark = pytest.mark.browser
TARGET = 48

SMALL = """() => [...document.querySelectorAll("button, input, select, summary, label.tick")]
  .filter((each) => each.offsetParent && each.type !== "checkbox")
  .filter((each) => { const { width, height } = each.getBoundingClientRect(); return Math.min(width, height) < %d; })
  .map((each) => each.outerHTML)"""


def fits(phone) -> None:
    """Nothing is wider than the screen, all that is tapped is large enough for a glove, and anybody can read it."""
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360
    assert phone.evaluate(SMALL % TARGET) == []
    for scheme in ("dark", "light"):
        phone.emulate_media(color_scheme=scheme)
        assert violations(phone) == []


def tap(phone, name: str) -> None:
    phone.get_by_role("button", name=name, exact=True).tap()


def test_what_is_logged_while_the_server_is_gone_is_written_once(browser, tiny_shop: Path) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, ignore_https_errors=True)
    context.set_default_timeout(PATIENCE_S * 1000)
    phone, thrown = context.new_page(), []
    phone.on("pageerror", lambda error: thrown.append(error))
    try:
        with serving(tiny_shop) as served:
            paired(phone, served)
            # what is typed stays, whatever happens to the page
            tap(phone, "Work")
            phone.locator("#hours-operation").fill("sanding")
            phone.reload()
            assert phone.locator("#hours-operation").input_value() == "sanding"
            fits(phone)
            port = served.port
        phone.get_by_text("No connection. What you log waits on this device.").wait_for()
        tap(phone, "Log it")
        phone.get_by_text("Still needed: hours").wait_for()
        phone.locator("#hours-hours").fill("1:30")
        tap(phone, "Log it")
        phone.get_by_text("No connection. 1 entry waits on this device").wait_for()
        tap(phone, "Work")
        phone.locator("#hours-operation").fill("sandin")
        tap(phone, "Start a timer now")
        phone.get_by_text("No connection. 2 entries wait on this device").wait_for()
        with serving(tiny_shop, port) as served:
            # the first answer is lost on its way: the entry is written, and the phone can't know it
            lost: list[int] = []

            def lose(route) -> None:
                lost.append(route.fetch().status)
                route.abort()

            phone.route("**/entry", lose, times=1)
            phone.get_by_text("Is sanding meant?").wait_for()
            assert lost == [200]
            tap(phone, "sanding")
            phone.get_by_role("button", name="Stop and log it").tap()
            again = phone.get_by_role("button", name="Start again: sanding")
            again.wait_for()
            phone.locator("#written li", has_text="1:30 h").wait_for()
            assert phone.locator("#written li").count() == 2
            assert [row.split(",")[5] for row in served.rows()] == ["sanding", "sanding"]
            assert sum(",1:30," in row for row in served.rows()) == 1
            # what a category needs, and nothing that another needs
            tap(phone, "Purchase")
            phone.locator("#purchases-category").fill("overhead")
            phone.locator("#purchases-pool").wait_for()
            assert not phone.locator("#purchases-thickness").is_visible()
            fits(phone)
            again.tap()
            phone.get_by_role("button", name="Stop and log it").wait_for()
        assert thrown == []
    finally:
        context.close()


def paired(phone, served: Served) -> None:
    """Pair the phone by the number, as its page asks for it."""
    phone.goto(f"https://{ADDRESS}:{served.port}/")
    fits(phone)
    phone.get_by_label("The number").fill("0000 0000")
    phone.get_by_label("What this device is called").fill("Bench phone")
    number = served.number()
    tap(phone, "Pair it")
    phone.get_by_text("This number lets nobody in").wait_for()
    phone.get_by_label("The number").fill(f"{number[:4]} {number[4:]}")
    tap(phone, "Pair it")
    phone.get_by_text("Connected. Nothing waits.").wait_for()
