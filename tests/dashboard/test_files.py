"""The Files page: a file that lacks a column is settled in the browser, and what would go wrong is said before."""

import shutil
from pathlib import Path

import pytest

from dashboard.sections import inbox
from pipeline import actions, mapping
from tests.dashboard.conftest import Run, html

TILL = "Day,Article,Piece,Qty,Price\n2026-05-02,tray,P0301,1,95\n2026-05-02,coaster,,2,62\n"


@pytest.fixture
def shop(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo in which no refresh begins."""
    folder = tmp_path / "shop"
    shutil.copytree(demo, folder)
    monkeypatch.setattr(actions, "start_refresh", lambda _: None)
    return folder


def test_a_needed_field_without_a_column_is_the_same_in_all_rows(page: Run, shop: Path) -> None:
    file = actions.drop_file(shop, "till book.csv", TILL.encode())
    test = page("files", shop)
    test.selectbox(key="settle").set_value(file).run()
    test.selectbox(key=f"record-{file}-").set_value("sales").run()
    assert "Still needed: channel." in html(test)
    assert inbox.MONEY_OF["price"] in html(test)
    channel = next(box for box in test.selectbox if box.label == "Channel: the same in all rows")
    channel.set_value("market").run()
    assert not test.exception
    assert "Still needed" not in html(test)
    assert "So read, 2 of 2 rows would be in the figures." in html(test)
    assert "Is P-0301 meant?" in html(test)
    assert "1 of them more than one at the price of each" in html(test)
    test.button(key=f"save-{file}-").click().run()
    assert not test.exception
    assert mapping.read(shop / "mappings" / "till-book.toml").constants == {"channel": "market"}
