"""What was closed stays closed, and Escape closes what is open, however long the server takes to answer."""

import re
from collections.abc import Callable, Iterator

import pytest

from tests.browser.conftest import new_page, without_errors
from tests.browser.hand import opened, settled, take_by_keys

pytestmark = pytest.mark.browser

PAGE = "/materials?month=2026-05"
OPEN = f"{PAGE}&open=hours%3A2026-05-04"
INERT = "() => document.querySelector('#root').inert"


@pytest.fixture(scope="module")
def held_page(browser, address: str) -> Iterator[tuple[object, Callable[[bool], None]]]:
    """A laptop's page, and what holds back what the server answers it, and lets it through again."""
    page = new_page(browser, 1280, address)
    held: list[tuple] = []
    holding = [False]

    def route(socket) -> None:
        server = socket.connect_to_server()
        socket.on_message(server.send)
        server.on_message(lambda answer: held.append((socket, answer)) if holding[0] else socket.send(answer))

    def hold(on: bool) -> None:
        holding[0] = on
        while not on and held:
            socket, answer = held.pop(0)
            socket.send(answer)

    page.route_web_socket(re.compile("_stcore/stream"), route)
    yield page, hold
    page.context.close()


@pytest.fixture
def screen(held_page) -> Iterator[object]:
    with without_errors(held_page[0]) as page:
        yield page


@pytest.fixture
def hold(held_page) -> Iterator[Callable[[bool], None]]:
    yield held_page[1]
    held_page[1](False)


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


def test_escape_closes_it_where_something_behind_it_holds_the_keys(screen) -> None:
    dialog = dialog_opened(screen)
    screen.evaluate("document.activeElement.blur()")
    screen.keyboard.press("Escape")
    dialog.wait_for(state="hidden")
    stays_closed(screen)


def test_escape_closes_what_is_off_the_screen_while_the_page_is_made(screen, hold) -> None:
    opened(screen, PAGE)
    hold(True)
    screen.evaluate("address => window.kerfledgerFollow(address)", OPEN.partition("/materials")[2])
    screen.wait_for_url(re.compile("open="))
    screen.keyboard.press("Escape")
    hold(False)
    screen.wait_for_url(lambda url: "open=" not in url)
    stays_closed(screen)
