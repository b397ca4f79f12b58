"""A real Chromium in front of a running dashboard.

Without Chromium these tests are skipped with the reason; where CI=true that is a failure, so that nobody is fooled.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import pytest

from tests.browser.hand import PATIENCE_S, WATCH
from tests.shown import shown

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-first-run",
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
    log = (shop / "database" / "dashboard.log").read_text(encoding="utf-8")
    assert "Uncaught" not in log, log


@pytest.fixture(scope="session")
def address(demo: Path) -> Iterator[str]:
    """Where the dashboard of the demo shop listens."""
    with serving(demo) as found:
        yield found


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    path = chromium()
    sync_api = needed("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def contexts(browser) -> Iterator[Callable[..., object]]:
    """`contexts(1280, address)` → the profile of a browser at that width. Its pages share what they have fetched."""
    made: dict[tuple[int, str], object] = {}

    def context(width: int, address: str) -> object:
        if (width, address) not in made:
            made[width, address] = browser.new_context(viewport={"width": width, "height": 900}, base_url=address)
            ready(made[width, address])
        return made[width, address]

    yield context
    for each in made.values():
        each.close()


def ready(context) -> None:
    """Patience for a slow machine, and what tells whether the server has answered."""
    context.set_default_timeout(PATIENCE_S * 1000)
    context.add_init_script(WATCH)


@pytest.fixture(params=[1280, 360], ids=["wide", "phone"])
def screen(request: pytest.FixtureRequest, contexts, address: str) -> Iterator[object]:
    """A page of the browser at a laptop's and at a phone's width. What its console says as an error fails the test."""
    page = contexts(request.param, address).new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console",
        lambda message: errors.append(f"{message.text} {message.location}") if message.type == "error" else None,
    )
    yield page
    page.close()
    # opened on a page's own address, Streamlit looks for its services below that address first, and then at the root
    assert [error for error in errors if "/_stcore/" not in error] == []
