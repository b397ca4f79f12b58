"""The frame around the pages."""

import gc
import re
import shutil
from pathlib import Path

import duckdb
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.database import newest
from tests.dashboard.conftest import heading, html
from tests.refreshed import refreshed

APP = str(Path(data.__file__).with_name("app.py"))


def test_the_frame_names_the_shop_and_links_every_page(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "refreshed 20" in html(test)
    labels = [link.proto.label for link in test.get("page_link")]
    pages = "Month", "Year", "Week", "Pieces", "Materials", "Rework", "Pricing", "Stock", "Log", "Files", "Settings"
    assert labels == list(pages)


def test_no_run_looks_for_garbage_in_what_is_loaded_once(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    assert not AppTest.from_file(APP, default_timeout=60).run().exception
    looked_through = {id(each) for each in gc.get_objects()}
    assert [each.__name__ for each in (data, duckdb, pytest) if id(vars(each)) in looked_through] == []


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
    with duckdb.connect(str(newest(shop))) as con:
        con.execute("drop schema money cascade")
    monkeypatch.setenv(data.SHOP_VARIABLE, str(shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "This database is of an older version." in html(test)
    assert "Two &lt;Benches&gt;" in html(test)


def test_a_database_that_lacks_a_column_says_what_to_run(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(demo, shop)
    with duckdb.connect(str(newest(shop))) as con:
        con.execute("alter table money.month drop column recorded")
    monkeypatch.setenv(data.SHOP_VARIABLE, str(shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert "This database is of an older version." in html(test)


def test_a_first_cost_without_hours_is_not_called_true(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = {
        "purchases": "date,item,category,quantity,unit,amount,lot\n2026-03-01,walnut slab,wood,12,bf,96,W-1\n",
        "pieces": "piece,product,lot,started,blank_length,blank_width,blank_thickness\n"
        "T-1,tray,W-1,2026-03-02,600 mm,300 mm,50 mm\n",
        "hours": "date,hours,operation\n2026-03-02,3:15,carving\n",
    }
    for record, text in rows.items():
        (tiny_shop / "inbox" / f"{record}.csv").write_text(text, encoding="utf-8")
    refreshed(tiny_shop)
    monkeypatch.setenv(data.SHOP_VARIABLE, str(tiny_shop))
    test = AppTest.from_file(APP, default_timeout=60).run()
    assert not test.exception
    assert re.match(r"T-1 cost \S+ so far; to its true cost go: hours with its tag\.", heading(test))
    # the hours go on the only piece there is, unless it is taken out
    assert [field.value for field in test.text_input if field.label == "Pieces"] == ["T-1"]
