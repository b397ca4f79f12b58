"""What the Log begins with: the work that was done last, what a category needs, and the phones that are paired."""

import os
import shutil
import time
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import FLOOR_VARIABLE, data
from dashboard.floor import certificate
from dashboard.floor.follow import Follower
from dashboard.floor.offers import Offers
from dashboard.log_fields import BY_CATEGORY, FIRST
from pipeline.database import open_newest
from pipeline.pages import actions, devices, from_the_floor
from pipeline.pages.daylog import add, start, state, stop
from pipeline.shop import load
from tests.dashboard.conftest import Run, html
from tests.refreshed import refreshed

WHERE = "https://192.168.7.20:8502"


@pytest.fixture(autouse=True)
def no_refresh(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    asked: list[Path] = []
    monkeypatch.setattr(actions, "start_refresh", asked.append)
    return asked


def press(test: AppTest, label: str) -> AppTest:
    next(button for button in test.button if button.label == label).click().run()
    assert not test.exception
    return test


def values(test: AppTest) -> dict[str, object]:
    return {field.label: field.value for field in test.text_input if field.value}


def test_one_press_starts_the_timer_that_ran_last(page: Run, bare: Path) -> None:
    assert not [button for button in page("log", bare).button if button.label.startswith("Start again")]
    shop = load(bare)
    stop(shop, start(shop, {"operation": "sanding", "pieces": "T-1; T-2", "person": "Ada"}).id)
    test = press(page("log", bare), "Start again: sanding, T-1, T-2")
    (timer,) = state(shop).timers
    assert timer.cells == {"operation": "sanding", "pieces": "T-1; T-2", "person": "Ada"}
    assert "It runs: sanding, T-1, T-2." in test.success[0].value.replace("\\", "")
    assert not [button for button in test.button if button.label.startswith("Start again")], "it runs"


def test_a_form_begins_with_the_piece_person_and_resin_of_the_work_done_last(page: Run, bare: Path) -> None:
    shop = load(bare)
    add(shop, "pours", {"pour": "R-1", "date": "2026-03-02", "resin": "deep pour", "piece": "T-7"})
    assert values(page("log", bare, kind="Pour"))["Piece"] == "T-7"
    start(shop, {"operation": "sanding", "pieces": "T-8; T-9", "person": "Bo"})
    work = values(page("log", bare, kind="Work"))
    assert (work["Pieces"], work["Person"]) == ("T-8; T-9", "Bo")
    pour = values(page("log", bare, kind="Pour"))
    assert (pour["Resin"], pour.get("Piece")) == ("deep pour", None), "of two pieces none is the one that is poured"
    assert "T-8" not in str(values(page("log", bare, kind="Sale")).values())


def test_a_sale_a_purchase_and_a_piece_begin_with_what_the_last_one_of_the_day_said(page: Run, bare: Path) -> None:
    shop = load(bare)
    (bare / "inbox" / "purchases.csv").write_text(
        "date,supplier,item,category,amount\n2026-03-01,glue works,glue,consumable,4\n2026-03-02,a mill,oil,finish,9\n",
        encoding="utf-8",
    )
    (bare / "inbox" / "sales.csv").write_text("date,channel,product,price\n2026-03-01,fair,tray,9\n", encoding="utf-8")
    refreshed(bare)
    sale, purchase, piece = (page("log", bare, kind=kind) for kind in ("Sale", "Purchase", "New piece"))
    assert not {"Supplier", "Piece (needed)"} & {*values(purchase), *values(piece)}
    assert values(sale)["Channel (needed)"] == "fair"
    offered = html(purchase).replace("&quot;", '"')
    assert '["a mill", "glue works"]' in offered and '"fair"' in html(sale).replace("&quot;", '"')
    add(shop, "sales", {"date": "2026-03-02", "channel": "stall", "product": "tray", "price": "9"})
    add(shop, "purchases", {"date": "2026-03-02", "item": "x", "category": "tool", "amount": "9", "supplier": "a yard"})
    add(shop, "pieces", {"piece": "T-9", "product": "tray", "started": "2026-03-02"})
    assert values(page("log", bare, kind="Sale"))["Channel (needed)"] == "stall"
    assert values(page("log", bare, kind="Purchase"))["Supplier"] == "a yard"
    assert values(page("log", bare, kind="New piece"))["Piece (needed)"] == "T-10"


def test_a_purchase_is_asked_what_its_category_needs(page: Run, bare: Path) -> None:
    test = page("log", bare, kind="Purchase")

    def at_once(test: AppTest) -> int:
        """How many fields stand outside the fold."""
        return len(test.main.get("text_input")) + len(test.main.get("number_input"))

    every = at_once(test)
    for category, fields in BY_CATEGORY.items():
        test = test.pills(key=next(each.key for each in test.pills if each.key.startswith("chosen-"))).set_value(
            category
        )
        test = test.run()
        assert not test.exception
        fold = next(box for box in test.expander if box.label == "More fields")
        folded = {each.label for kind in ("text_input", "number_input", "date_input") for each in fold.get(kind)}
        assert "Note" in folded
        assert not {name.capitalize() for name in fields} & folded, category
        assert values(test)["Category (needed)"] == category
        assert at_once(test) == every, "none is lost"
    assert set(BY_CATEGORY["wood"]).isdisjoint(FIRST["purchases"])


def test_a_phone_is_paired_listed_and_sent_away(page: Run, bare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    test = page("log", bare, **{"shop-floor": "true"})
    assert f"kerfledger show {bare} --shop-floor" in test.code[0].value
    monkeypatch.setenv(FLOOR_VARIABLE, WHERE)
    path, _ = certificate.own(bare, "192.168.7.20", actions.log_now(bare))
    test = press(page("log", bare, **{"shop-floor": "true"}), "Pair a phone")
    number = test.session_state["pairing number"]
    said = html(test)
    assert certificate.fingerprint(path) in said
    assert f"{number[:4]} {number[4:]}" in said
    assert WHERE in said
    assert devices.pair(bare, "0" * 8 if number != "0" * 8 else "1" * 8, "x", time.time(), "192.168.7.66") is None
    assert "last from 192.168.7.66" in html(test.run())
    assert devices.pair(bare, number, "Bench *phone*", time.time())
    said = html(test.run())
    assert "Bench *phone*, last here" in said
    assert number[:4] + " " + number[4:] not in said
    press(test, r"Send Bench \*phone\* away")
    assert devices.devices(bare, time.time()) == []
    # a number that nobody used can be taken back
    press(press(test, "Pair a phone"), "Let nobody in by it")
    assert devices.open_number(bare) is None
    # all that the shop floor keeps is deleted while a number is shown
    test = press(test, "Pair a phone")
    shutil.rmtree(bare / devices.FOLDER)
    assert "The number holds no more." in [each.value.replace("\\", "") for each in test.run().success]
    assert "The certificate is gone from" in html(press(test, "Pair a phone"))


def test_what_the_floor_wrote_is_refreshed_and_what_is_published_is_offered_there(
    bare: Path, no_refresh: list[Path]
) -> None:
    follower = Follower(bare)
    follower.look()
    assert no_refresh == []
    from_the_floor.enter(bare, "pieces", {"piece": "T-5", "product": "tray", "started": "2026-03-02"}, "1" * 32)
    follower.look()
    follower.look()
    assert no_refresh == [bare]
    os.utime(bare / devices.FOLDER / "written", (1, 1))  # written by a clock that was put back
    follower.look()
    assert no_refresh == [bare, bare]
    (bare / "log" / ".running.json").unlink()  # it is known of the database alone
    refreshed(bare)
    assert "T-5" not in Offers(bare).of("hours").words.get("pieces", [])
    follower.look()
    assert "T-5" in Offers(bare).of("hours").words["pieces"]
    assert Offers(bare).of("pieces").taken["piece"] == {"T-5"}
    with open_newest(bare) as con:
        assert con.execute("select piece, started from records.pieces").fetchall() == [("T-5", date(2026, 3, 2))]
    assert data.newest(bare)
