"""A real Chromium in front of a running dashboard.

Without Chromium these tests are skipped with the reason; where CI=true that is a failure, so that nobody is fooled.
"""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import pytest

from pipeline import serve

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-first-run",
]  # fmt: skip
START_S = 60


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
    """Where the dashboard of a shop listens, served as `kerfledger show` does."""
    port = serve.free_port(0)
    environment = os.environ | {serve.SHOP_VARIABLE: str(shop), "PYTHONPATH": str(Path(__file__).parents[2])}
    app = serve.app_file()
    server = subprocess.Popen(
        serve.command(app, port, screen=False),
        cwd=app.parent,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(port, server)
        yield f"http://{serve.HOST}:{port}"
    finally:
        server.terminate()
        server.wait()


@pytest.fixture(scope="session")
def address(demo: Path) -> Iterator[str]:
    """Where the dashboard of the demo shop listens."""
    with serving(demo) as found:
        yield found


def wait_for(port: int, server: "subprocess.Popen[bytes]") -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end:
        assert server.poll() is None, "the server ended"
        with socket.socket() as probe:
            if probe.connect_ex((serve.HOST, port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError("the server doesn't listen")


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    path = chromium()
    sync_api = needed("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(params=[1280, 360], ids=["wide", "phone"])
def screen(request: pytest.FixtureRequest, browser, address: str) -> Iterator[object]:
    """A page of the browser at a laptop's and at a phone's width. What its console says as an error fails the test."""
    page = browser.new_page(viewport={"width": request.param, "height": 900}, base_url=address)
    page.set_default_timeout(30_000)
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
