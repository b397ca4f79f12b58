"""A page run headless on a published database, and a shop that has records of everything but very few."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from tests.refreshed import refreshed

Run = Callable[..., AppTest]


def _one_page(path: str) -> None:
    # a script of its own: Streamlit runs its source, so it brings its imports along
    from dashboard import data, widgets
    from dashboard.app import START, VIEWS, draw

    view = next(view for view in (START, *VIEWS) if view.path == path)
    draw(view, widgets.page_of(data.open_book(data.shop_folder())))


@pytest.fixture(autouse=True)
def own_main() -> Iterator[ModuleType]:
    """The module that was begun with: a page run headless puts its script there, which no other process can begin."""
    kept = sys.modules["__main__"]
    yield kept
    sys.modules["__main__"] = kept


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> Run:
    """`page("month", folder, month="2026-05")` runs one page of a shop, with what is chosen in its address."""

    def run(path: str, folder: Path, **chosen: str) -> AppTest:
        monkeypatch.setenv(data.SHOP_VARIABLE, str(folder))
        test = AppTest.from_function(_one_page, args=(path,), default_timeout=60)
        for name, value in chosen.items():
            test.query_params[name] = value
        return test.run()

    return run


@pytest.fixture
def bare(tiny_shop: Path) -> Path:
    """A shop whose first refresh found nothing."""
    refreshed(tiny_shop)
    return tiny_shop


def html(test: AppTest) -> str:
    """All that a page says in our own words."""
    return "\n".join(element.proto.body for element in test.get("html"))


def heading(test: AppTest) -> str:
    """The page's answer."""
    body = html(test)
    return body.partition('<h1 class="kl-answer">')[2].partition("</h1>")[0]
