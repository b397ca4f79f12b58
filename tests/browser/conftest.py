"""A real Chromium in front of a running dashboard.

Without Chromium these tests are skipped with the reason; where CI=true that is a failure, so that nobody is fooled.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import pytest

from pipeline.new_shop import new_shop
from pipeline.refresh import background
from tests.browser.hand import PATIENCE_S, WATCH
from tests.refreshed import refreshed
from tests.shown import shown
from tests.whole import WHOLE

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-first-run",
    "--js-flags=--no-opt --no-maglev",  # no page lives long enough for its scripts to be worth optimizing
]  # fmt: skip


def chromium() -> str:
    found = next(
        (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
    )
    return found or _missing("no Chromium on this machine: apt-get install chromium")


def needed(module: str) -> ModuleType:
    """A library that the tests in a browser need."""
    try:
        return import_module(module)
    except ImportError:
        return _missing(f"{module} isn't installed: uv sync")


def _missing(reason: str) -> NoReturn:
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@contextmanager
def serving(shop: Path) -> Iterator[str]:
    """Where the dashboard of a shop listens. A fault that a page met meanwhile fails the test, seen or not."""
    with shown(shop) as running:
        yield running.address
    nothing_uncaught(shop)


def nothing_uncaught(shop: Path) -> None:
    log = (shop / "database" / "dashboard.log").read_text(encoding="utf-8")
    assert "Uncaught" not in log, log


@pytest.fixture(scope="session")
def address(demo: Path) -> Iterator[str]:
    """Where the dashboard of the demo shop listens."""
    with serving(demo) as found:
        yield found


@pytest.fixture(scope="session")
def young(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with settings alone, as it is once it was shown: nothing is on record. Only looked at."""
    folder = tmp_path_factory.mktemp("young") / "shop"
    new_shop(folder, date(2026, 1, 1))
    refreshed(folder)
    return folder


@pytest.fixture(scope="session")
def bench(young: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A shop folder that may be written to, and where it is served: `laid` makes it another shop."""
    folder = laid(young, tmp_path_factory.mktemp("bench") / "shop")
    with serving(folder) as found:
        yield folder, found


def laid(shop: Path, folder: Path) -> Path:
    """Make a folder that is served hold just what a shop's does; only what its server has noted stays, and the lock of
    the process that waits to refresh it: so that the next test need not begin another."""
    stay = ("dashboard.log", background._WAITING)
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and path != folder / "database":
            path.rmdir()
        elif path.is_file() and path not in [folder / "database" / name for name in stay]:
            path.unlink()
    return shutil.copytree(shop, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns(*stay))


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    path = chromium()
    sync_api = needed("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def pages(browser) -> Iterator[Callable[[int, str], object]]:
    """`pages(1280, address)` → the browser's page at that width. It is kept: what it has read of scripts is read once.

    Each load of it is a session of its own for the server.
    """
    kept: dict[tuple[int, str], object] = {}

    def page(width: int, address: str) -> object:
        if (width, address) not in kept or kept[width, address].is_closed():
            kept[width, address] = new_page(browser, width, address)
            # it would run in the pages of all tests after the one that adds it
            kept[width, address].add_init_script = None
        return kept[width, address]

    yield page
    for each in kept.values():
        each.context.close()


def new_page(browser, width: int, address: str, **more: object) -> object:
    """A page of its own, with patience for a slow machine, and what tells whether the server has answered."""
    context = browser.new_context(
        viewport={"width": width, "height": 900}, base_url=address, reduced_motion="reduce", **more
    )
    context.set_default_timeout(PATIENCE_S * 1000)
    context.add_init_script(WATCH)
    return context.new_page()


def at_width(width: int, name: str) -> pytest.MarkDecorator:
    """For a test of what a page does, not of how it looks, which is the same at both widths: it takes one of them, and
    the test beside it the other."""
    both = [(width, name), *((other, its) for other, its in WIDTHS.items() if WHOLE and other != width)]
    return pytest.mark.parametrize("screen", [each for each, _ in both], ids=[its for _, its in both], indirect=True)


WIDTHS = {1280: "wide", 360: "phone"}
wide, phone = (at_width(*each) for each in WIDTHS.items())


@pytest.fixture(params=[*WIDTHS], ids=[*WIDTHS.values()])
def screen(request: pytest.FixtureRequest, pages, address: str) -> Iterator[object]:
    """A page of the browser at a laptop's and at a phone's width. What its console says as an error fails the test."""
    with without_errors(pages(request.param, address)) as page:
        yield page


@contextmanager
def without_errors(page) -> Iterator[object]:
    """A page that is kept, as if it were new. What its console says as an error fails the test."""
    errors: list[str] = []

    def thrown(error) -> None:
        errors.append(str(error))

    def said(message) -> None:
        if message.type == "error":
            errors.append(f"{message.text} {message.location}")

    page.on("pageerror", thrown)
    page.on("console", said)
    page.emulate_media(color_scheme="light")
    yield page
    page.remove_listener("pageerror", thrown)
    page.remove_listener("console", said)
    left(page)
    # opened on a page's own address, Streamlit looks for its services below that address first, and then at the root
    assert [error for error in errors if "/_stcore/" not in error] == []


def left(page) -> None:
    """Leave the page for one that asks nothing of the server, as if its tab were closed."""
    try:
        page.mouse.move(0, 0)
        page.goto("/_stcore/health")
    except Exception:
        page.close()  # the next test has a new one
        raise
