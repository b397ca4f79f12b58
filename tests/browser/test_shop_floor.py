"""A phone at the bench, 360 pixels wide: paired by the number, it loses nothing while the server is gone."""

import base64
import hashlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import expect

from dashboard.floor import certificate
from pipeline.pages import devices
from tests.browser.conftest import FLAGS, chromium
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
            # a page that was open over night says this day; what somebody has typed stays
            phone.locator("#hours-date").evaluate("date => { date.value = '2020-01-01' }")
            expect(phone.locator("#hours-date")).not_to_have_value("2020-01-01", timeout=PATIENCE_S * 1000)
            phone.get_by_text("Leave this page open: this browser can't open it again").wait_for()
            fits(phone)
            port = served.port
        phone.get_by_text("No connection. What you log waits on this device.").wait_for()
        tap(phone, "Log it")
        phone.get_by_text("Still needed: hours").wait_for()
        phone.locator("#hours-hours").fill("1:30")
        tap(phone, "Log it")
        phone.get_by_text("No connection. 1 entry waits on this device").wait_for()
        # the browser has no room for more
        phone.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full') } }")
        tap(phone, "Work")
        phone.locator("#hours-operation").fill("sandin")
        tap(phone, "Start a timer now")
        phone.get_by_text("No connection. 2 entries wait on this device").wait_for()
        phone.get_by_text("leave this page open until all is written").wait_for()
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
            phone.reload()  # its room is as large as before, and what was kept then is sent again, and written once
            phone.locator("#line", has_text="1:30 h").wait_for()
            assert sum(",1:30," in row for row in served.rows()) == 1
            # a phone that was sent away keeps nothing of the shop, and what it was told to log
            (device,) = devices.devices(tiny_shop, served.clock())
            devices.send_away(tiny_shop, device.id, served.clock())
            phone.get_by_text("This device is no longer paired.").wait_for()
            assert not phone.get_by_role("button", name="Stop and log it").is_visible()
            tap(phone, "Work")
            phone.locator("#hours-operation").fill("sanding")
            phone.locator("#hours-hours").fill("0:10")
            tap(phone, "Log it")
            phone.get_by_text("1 entry waits here, and nothing is lost").wait_for()
            assert phone.evaluate("Object.keys(localStorage).filter((name) => name.endsWith('now'))") == []
            paired(phone, served)
            phone.get_by_text("It waits here since before this device was paired.").wait_for()
            assert sum(",0:10," in row for row in served.rows()) == 0
            tap(phone, "Send it again")
            phone.locator("#written li", has_text="0:10 h").wait_for()
        assert thrown == []
    finally:
        context.close()


def test_a_browser_that_trusts_the_certificate_opens_the_log_without_a_connection(browser, tiny_shop: Path) -> None:
    """Service workers are for secure contexts without a fault of the certificate (W3C, Service Workers)."""
    path, _ = certificate.own(tiny_shop, ADDRESS, datetime.now(UTC))
    key = x509.load_pem_x509_certificate(path.read_bytes()).public_key()
    digest = hashlib.sha256(key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).digest()
    trusted = f"--ignore-certificate-errors-spki-list={base64.b64encode(digest).decode()}"
    with browser.browser_type.launch(executable_path=chromium(), args=[*FLAGS, trusted]) as trusting:
        phone = trusting.new_page(viewport={"width": 360, "height": 740}, has_touch=True)
        phone.set_default_timeout(PATIENCE_S * 1000)
        with serving(tiny_shop) as served:
            paired(phone, served)
            phone.get_by_text("this page can be opened again from its address").wait_for()
            port = served.port
        phone.goto("about:blank")
        phone.goto(f"https://{ADDRESS}:{port}/")
        phone.get_by_text("No connection. What you log waits on this device.").wait_for()
        phone.get_by_role("button", name="Work", exact=True).click()
        phone.locator("#hours-operation").fill("sanding")
        phone.locator("#hours-hours").fill("0:20")
        phone.get_by_role("button", name="Log it", exact=True).click()
        phone.reload()
        phone.get_by_text("No connection. 1 entry waits on this device").wait_for()
        with serving(tiny_shop, port) as served:
            phone.locator("#written li", has_text="0:20 h").wait_for()
            assert len(served.rows()) == 1


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
