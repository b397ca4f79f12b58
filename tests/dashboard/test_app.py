"""The frame around the pages."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from tests.dashboard.conftest import heading, html

APP = str(Path(data.__file__).with_name("app.py"))


def test_the_frame_names_the_shop_and_links_every_page(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "as of the refresh of 20" in html(test)
    labels = [link.proto.label for link in test.get("page_link")]
    assert labels == ["Month", "Pieces", "Materials", "Rework", "Pricing", "Stock", "Log", "Files"]


def test_a_shop_with_nothing_published_is_led_by_the_hand(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(tiny_shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert heading(test) == "3 records to go to the true cost of your first piece: purchases, pieces, hours."
    assert str(tiny_shop / "shop.toml") in html(test)


def test_a_shop_with_a_broken_shop_toml_says_so(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tiny_shop / "shop.toml").write_text("name = 'no end", encoding="utf-8")
    monkeypatch.setenv(data.SHOP_VARIABLE, str(tiny_shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "can't be read" in test.error[0].value


def test_a_young_shop_begins_with_the_steps(bare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(bare))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert [link.proto.label for link in test.get("page_link")][:2] == ["Start", "Month"]
    assert "true cost of your first piece" in heading(test)


def test_a_database_of_an_older_version_says_what_to_run(published, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = published(settings__shop=[{"row_id": 1, "name": "Two <Benches>", "currency": "EUR", "units": "metric"}])
    monkeypatch.setenv(data.SHOP_VARIABLE, str(shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "This database is of an older version." in html(test)
    assert "Two &lt;Benches&gt;" in html(test)
