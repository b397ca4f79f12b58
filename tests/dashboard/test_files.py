"""The Files page: a file that lacks a column is settled in the browser, and what would go wrong is said before."""

import shutil
from pathlib import Path

import pytest

from dashboard.sections import inbox, questions
from dashboard.views import files
from pipeline import mapping
from pipeline.database import open_newest
from pipeline.pages import actions
from tests.dashboard.conftest import Run, heading, html
from tests.dashboard.test_behind import opened
from tests.refreshed import refreshed

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
    test = page("files", shop, **{"by-file": "true"})
    test.selectbox(key="settle").set_value(file).run()
    test.selectbox(key=f"record-{file}-").set_value("sales").run()
    assert "Still needed: channel." in html(test)
    assert inbox.MONEY_OF["price"] in html(test)
    channel = next(box for box in test.text_input if box.label == "Channel: the same in all rows")
    channel.set_value("market").run()
    assert not test.exception
    assert "Still needed" not in html(test)
    assert "So read, 2 of 2 rows would be in the figures." in html(test)
    assert "Is P-0301 meant?" in html(test)
    assert "1 of them more than one at the price of each" in html(test)
    test.button(key=f"save-{file}-").click().run()
    assert not test.exception
    assert mapping.read(shop / "mappings" / "till-book.toml").constants == {"channel": "market"}


def test_what_leads_nowhere_and_what_is_open_leads_to_its_mending(page: Run, bare: Path) -> None:
    (bare / "inbox" / "hours.csv").write_text(
        "date,hours,operation,pieces\n2026-05-02,1:30,sandng,P0301\n", encoding="utf-8"
    )
    (bare / "inbox" / "odd.csv").write_text("foo,bar\nP0301,7.50\nP0301,9.25\n", encoding="utf-8")
    refreshed(bare)
    test = page("files", bare)
    assert not test.exception
    assert heading(test) == (
        "1 of 5 rows are in the figures; no row is set aside; 1 file with 2 rows still to be settled."
    )
    with open_newest(bare) as con:
        examples = dict(con.execute("select name, example from checks.result where rows > 0").fetchall())
    leads = {name: files._finding({"example": examples[name]}) for name in ("word_unknown", "tag_unlinked")}
    for name, says in (("word_unknown", "under [words.operation]"), ("tag_unlinked", "P0301 leads nowhere")):
        lead = leads[name]
        assert lead
        said = html(opened(lead[1]))
        assert says in said
        assert 'class="kl-record"' in said


def test_a_question_is_answered_on_the_page_by_a_button_or_from_the_list(
    page: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shop / "inbox" / "looks.csv").write_text("date,piece,defect,action\n2026-05-02,P-0301,scratch,zwirbeln\n")
    (shop / "inbox" / "till.csv").write_text(
        "Date,Channel,Product,Price,Zwickel\n2026-05-02,market,tray,95.00,1.25\n2026-05-03,market,tray,95.00,2.50\n"
    )
    refreshed(shop)
    test = page("files", shop)
    with open_newest(shop) as con:
        asked = dict(con.execute("select ask, question from intake.question").fetchall())
    fee = next(name for ask, name in asked.items() if "Zwickel" in ask)
    assert "190.00 hang on it" in html(test).replace("\xa0", " ")
    test.button(key=f"choice-{fee}-1").click().run()
    assert not test.exception
    assert mapping.read(shop / "mappings" / "till.toml").rest == "ask"
    assert f"choice-{fee}-1" not in [button.key for button in test.button]
    look = next(name for ask, name in asked.items() if "zwirbeln" in ask)
    monkeypatch.setattr(questions, "AT_ONCE", 100)
    test = page("files", shop)
    test.selectbox(key=f"other-{look}").set_value(4).run()
    test.button(key=f"answer-{look}").click().run()
    assert not test.exception
    assert '"zwirbeln" =' in (shop / "shop.toml").read_text(encoding="utf-8").replace("zwirbeln =", '"zwirbeln" =')
