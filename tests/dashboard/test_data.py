"""The only reader of the published database."""

import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import duckdb
import polars as pl
import pytest

from dashboard import data
from dashboard.read.tables import SHOWN
from dashboard.widgets import last_day
from pipeline.database import newest

Publish = Callable[..., Path]


def shop_row(name: str) -> dict[str, object]:
    return {"row_id": 1, "name": name, "currency": "EUR", "units": "metric"}


def test_the_newest_that_opens_is_read(published: Publish) -> None:
    shop = published(settings__shop=[shop_row("first")])
    published(settings__shop=[shop_row("second")])
    assert data.open_book(shop).shop()["name"] == "second"
    (shop / "database" / "shop-000003.duckdb").write_bytes(b"no database")
    assert data.newest(shop).number == 3
    assert data.open_book(shop).shop()["name"] == "second"


def test_one_file_has_one_connection(published: Publish) -> None:
    shop = published(settings__shop=[shop_row("one")])
    assert data.open_book(shop) is data.open_book(shop)


def test_an_open_book_goes_on_while_a_newer_one_is_published(published: Publish) -> None:
    shop = published(settings__shop=[shop_row("old")])
    old = data.open_book(shop)
    published(settings__shop=[shop_row("new")])
    assert data.open_book(shop).shop()["name"] == "new"
    assert old.shop()["name"] == "old"
    assert old.files().height == 0


def test_a_database_made_anew_under_the_same_number_is_not_mistaken_for_the_old_one(published: Publish) -> None:
    shop = published(settings__shop=[shop_row("before")])
    assert data.open_book(shop).shop()["name"] == "before"
    shutil.rmtree(shop / "database")
    published(settings__shop=[shop_row("after")])
    assert data.newest(shop).number == 1
    assert data.open_book(shop).shop()["name"] == "after"


def test_what_is_no_published_file_is_passed_over(tiny_shop: Path) -> None:
    home = tiny_shop / "database"
    home.mkdir()
    for name in ("shop-000009.draft", "shop-9.duckdb", "shop-000002.duckdb.wal"):
        (home / name).write_bytes(b"")
    assert data.editions(tiny_shop) == []
    with pytest.raises(data.NothingPublishedError):
        data.open_book(tiny_shop)


def test_the_book_can_only_be_read(published: Publish) -> None:
    book = data.open_book(published(settings__shop=[shop_row("one")]))
    for query in ("create table settings.mine (x int)", "from settings.shop; from settings.shop", "checkpoint", ""):
        with pytest.raises(ValueError, match="one SELECT"):
            book._frame(query)
    for query in ("select * from read_text('/etc/hostname')", "select * from glob('*')"):
        with pytest.raises(duckdb.PermissionException):
            book._frame(query)


def test_a_missing_table_is_a_matter_of_version(published: Publish) -> None:
    shop = published(settings__shop=[shop_row("one")])
    with duckdb.connect(str(newest(shop))) as con:
        con.execute("drop table money.month")
    with pytest.raises(data.OutdatedError):
        data.open_book(shop).months()


def test_a_trace_names_both_records(published: Publish) -> None:
    row = {"record": "hours", "file": "inbox/h.csv", "sheet": "", "row": 7, "state": "loaded", "row_id": 1}
    paid = {"record": "settings.person_rate", "file": "shop.toml", "sheet": "people", "row": 2, "row_id": 2}
    moved = {"row_id": 1, "paid_row_id": 2, "from_place": "labour", "to_place": "piece", "layer": "labour"}
    sold = moved | {"from_place": "piece", "to_place": "sold"}
    shop = published(
        settings__shop=[shop_row("one")],
        intake__row=[row, paid | {"state": "loaded"}],
        settings__person_rate=[{"row_id": 2, "name": "Ada", "rate_cents": 3000}],
        records__hours=[{"row_id": 1, "operation": "sanding", "seconds": 5400}],
        work__hours=[{"row_id": 1, "seconds": 7200, "driver": "area", "attended": True}],
        work__hours_piece=[{"row_id": 1, "piece": "T-1", "seconds": 5400, "shared_by": "area"}],
        cost__moved=[m | {"piece": "T-1", "cents": 4500} for m in (moved, sold)],
    )
    book = data.open_book(shop)
    trace = book.piece_trace("T-1", "labour")
    assert trace.select("file", "row", "paid_file", "paid_sheet", "paid_row").rows() == [
        ("inbox/h.csv", 7, "shop.toml", "people", 2)
    ]
    assert trace.select("share_seconds", "all_seconds", "shared_by").rows() == [(5400, 7200, "area")]
    found = book.records([1, 2, 99])
    assert found[1]["operation"] == "sanding"
    assert found[2]["rate_cents"] == 3000
    assert set(found) == {1, 2}


def test_what_was_asked_for_a_piece_stands_with_its_day_before_what_it_brought(published: Publish) -> None:
    files = [{"record": r, "file": f"inbox/{r}.csv", "row": n, "row_id": n} for n, r in ((2, "pieces"), (3, "moves"))]
    prices = [(date(1, 1, 1), 40_000, 2), (date(2026, 3, 9), 25_000, 3)]
    shop = published(
        settings__shop=[shop_row("one")],
        intake__row=files,
        work__list_price=[
            {"piece": "A", "from_date": day, "list_price_cents": cents, "row_id": row} for day, cents, row in prices
        ],
        money__sold=[{"piece": "A", "on_date": date(2026, 3, 20), "units": 1, "price_cents": 24_000, "row_id": 9}],
    )
    told = data.open_book(shop).piece_left("A").select("on_date", "what", "price_cents", "file", "row")
    assert told.rows() == [
        (None, "price asked", 40_000, "inbox/pieces.csv", 2),
        (date(2026, 3, 9), "price asked", 25_000, "inbox/moves.csv", 3),
        (date(2026, 3, 20), "sold", 24_000, None, None),
    ]


def test_rows_by_fate_of_no_files_are_none(published: Publish) -> None:
    assert set(data.open_book(published(settings__shop=[shop_row("one")])).rows_by_fate().values()) == {0}


def test_a_refresh_is_told_by_the_clock_of_the_shop() -> None:
    edition = data.Edition(1, Path("shop-000001.duckdb"), (1_767_225_600 * 10**9, 0))  # 2026-01-01 00:00 UTC
    assert f"{edition.refreshed('America/Chicago'):%Y-%m-%d %H:%M}" == "2025-12-31 18:00"
    assert edition.refreshed("") == datetime.fromtimestamp(1_767_225_600)


def test_the_records_behind_what_sales_brought_add_up_to_it(demo: Path) -> None:
    book = data.open_book(demo)
    event = book.events().filter(pl.col("units") > 1).row(0, named=True)
    sold = book.event_records(event["event"]).filter(pl.col("operation") == "sold")
    assert sold["cents"].sum() == event["taken_cents"]
    month = date(2026, 5, 1)
    groups = book.margins(month).filter(pl.col("factor").is_in(["channel", "product"]), pl.col("units") > 0)
    assert groups.height > 3
    for factor, level, brought in groups.select("factor", "level", "net_revenue_cents").iter_rows():
        records = book.sold_records(factor, level, month, last_day(month))
        assert records.height < SHOWN
        assert records["cents"].sum() == brought, level


def test_a_name_that_is_no_column_is_a_fault_of_ours() -> None:
    """One of today's columns is looked up in vain where the database is older; any other name never was one."""
    assert data.lacks(data.OutdatedError("money.month"))
    assert data.lacks(KeyError("own_use_cents"))
    assert data.lacks(KeyError("blank_length"))
    assert not data.lacks(KeyError("walnut"))
    assert not data.lacks(KeyError())
