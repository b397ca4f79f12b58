"""What was closed stays closed, and Escape closes what is open, however long the server takes to answer."""

import re
from collections.abc import Callable

import pytest

from tests.browser.hand import opened, settled, take_by_keys

pytestmark = pytest.mark.browser

wide = pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
PAGE = "/materials?month=2026-05"
OPEN = f"{PAGE}&open=hours%3A2026-05-04"
INERT = "() => document.querySelector('#root').inert"


@pytest.fixture
def hold(screen) -> Callable[[bool], None]:
    """Hold back what the server answers, and let it through again."""
    held: list[tuple] = []
    holding = [False]

    def route(page) -> None:
        server = page.connect_to_server()
        page.on_message(server.send)
        server.on_message(lambda answer: held.append((page, answer)) if holding[0] else page.send(answer))

    def hold(on: bool) -> None:
        holding[0] = on
        while not on and held:
            page, answer = held.pop(0)
            page.send(answer)

    screen.route_web_socket(re.compile("_stcore/stream"), route)
    return hold


def dialog_opened(screen):
    """The dialog that the address opens, all of it there."""
    screen.goto(OPEN)
    dialog = screen.get_by_role("dialog")
    dialog.locator("details.kl-record").first.wait_for()
    settled(screen)
    assert screen.evaluate(INERT)
    return dialog


def stays_closed(screen) -> None:
    """The page as it is after a choice that the server has answered."""
    take_by_keys(screen, screen.get_by_label("Month", exact=True), "2026-03")
    screen.locator("h1.kl-answer", has_text="March 2026").wait_for()
    settled(screen)
    assert not screen.get_by_role("dialog").count()
    assert not screen.evaluate(INERT)
    assert "open=" not in screen.url


@wide
@pytest.mark.parametrize("way", ["Escape", "Close", "beside it"])
def test_a_choice_before_the_server_answers_does_not_open_it_again(screen, hold, way: str) -> None:
    dialog = dialog_opened(screen)
    hold(True)
    match way:
        case "Escape":
            screen.keyboard.press("Escape")
        case "Close":
            dialog.get_by_role("button", name="Close", exact=True).click()
        case _:
            screen.mouse.click(5, 400)
    dialog.wait_for(state="hidden")
    screen.wait_for_timeout(500)  # the server takes up that it is closed before it hears of the choice
    take_by_keys(screen, screen.get_by_label("Month", exact=True), "2026-04")
    screen.wait_for_timeout(500)
    hold(False)
    screen.locator("h1.kl-answer", has_text="April 2026").wait_for()
    stays_closed(screen)


@wide
def test_escape_closes_it_where_something_behind_it_holds_the_keys(screen) -> None:
    dialog = dialog_opened(screen)
    screen.evaluate("document.activeElement.blur()")
    screen.keyboard.press("Escape")
    dialog.wait_for(state="hidden")
    stays_closed(screen)


@wide
def test_escape_closes_what_is_off_the_screen_while_the_page_is_made(screen, hold) -> None:
    opened(screen, PAGE)
    hold(True)
    screen.evaluate("address => window.kerfledgerFollow(address)", OPEN.partition("/materials")[2])
    screen.wait_for_url(re.compile("open="))
    screen.keyboard.press("Escape")
    hold(False)
    screen.wait_for_url(lambda url: "open=" not in url)
    stays_closed(screen)
