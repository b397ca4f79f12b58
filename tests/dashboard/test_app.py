"""The frame around the pages."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from tests.dashboard.conftest import html

APP = str(Path(data.__file__).with_name("app.py"))


def test_the_frame_names_the_shop_and_links_every_page(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "as of the refresh of 20" in html(test)
    labels = [link.proto.label for link in test.get("page_link")]
    assert labels == ["Month", "Pieces", "Materials", "Rework", "Files"]


def test_a_shop_with_nothing_published_says_what_to_run(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(tiny_shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert f"kerfledger refresh {tiny_shop}" in html(test)


def test_a_database_of_an_older_version_says_what_to_run(published, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = published(settings__shop=[{"row_id": 1, "name": "Two <Benches>", "currency": "EUR", "units": "metric"}])
    monkeypatch.setenv(data.SHOP_VARIABLE, str(shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "This database is of an older version." in html(test)
    assert "Two &lt;Benches&gt;" in html(test)
