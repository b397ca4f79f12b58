"""A check stops publishing only for a broken identity of ours: what a maker writes is set aside at worst, or a finding.

`tests/fuzz/awkward.py` makes the shops; run it for more of them than are tried here.
"""

from pathlib import Path

import awkward
import pytest

from pipeline import database
from pipeline.database.plan import read_plan
from pipeline.reports.check import findings

SETTINGS = 'currency = "EUR"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'
BOUGHT = "date,item,category,quantity,unit,amount"
USED = "date,item,quantity,unit,pieces"
TRAY = ["piece,product,finished", "T-1,tray,2026-10-13"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [3, 5, 9, 13])  # each of these was stopped by a check or by a rule of a table
def test_what_is_read_is_published(tmp_path: Path, seed: int) -> None:
    assert awkward.publish(tmp_path, awkward.shop(seed), awkward.settings_of(seed)) == ""


def test_a_kit_of_unknown_size_costs_no_piece_and_is_asked_about_first(tmp_path: Path) -> None:
    kits = [  # what the receipt says, and how many that is
        ("clear resin kit", "1,kit", 1000),
        ("coat resin kit", "2,each", 2000),
        ("deep resin kit", "3,kit", 3000),
        ("epoxy resin kit", ",", 1000),
    ]
    files = {
        "purchases": [BOUGHT, *(f"2026-10-11,{item},resin,{written},119.00" for item, written, _ in kits)],
        "usage": [USED, *(f"2026-10-12,{item},300,g,T-1" for item, *_ in kits)],
        "pieces": TRAY,
    }
    assert awkward.publish(tmp_path, files, SETTINGS) == ""
    with database.open_newest(tmp_path) as con:
        assert con.execute("select sum(made_cents) from cost.piece").fetchall() == [(0,)]
        lots = con.execute("select item, bought, on_hand, on_hand_cents from cost.lot order by item").fetchall()
        assert lots == [(item, number, number, 11900) for item, _, number in kits]
        first = findings(con)[: len(kits)]
    assert [(each.severity, each.kind, each.cents) for each in first] == [("error", "size not known", 11900)] * len(
        kits
    )
    for item, *_ in kits:
        (about,) = [each for each in first if item in each.what]
        assert "purchases.csv" in about.where


def test_a_kit_whose_size_is_known_is_used_by_weight(tmp_path: Path) -> None:
    purchases = [BOUGHT, "2026-10-11,clear casting resin kit,resin,1,kit,119.00"]
    usage = [USED, "2026-10-12,clear casting resin kit,330,g,T-1"]
    known = '[[items]]\nname = "clear casting resin kit"\ncategory = "resin"\nkit = 1000\ndensity = 1.1\n'
    files = {"purchases": purchases, "usage": usage, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, SETTINGS + known) == ""
    with database.open_newest(tmp_path) as con:
        # 1,000 ml at 1.1 g are 1,100 g; 330 g are three tenths of 119.00
        assert con.execute("select sum(made_cents) from cost.piece").fetchall() == [(3570,)]


def figures(shop: Path, query: str) -> list[tuple[object, ...]]:
    with database.open_newest(shop) as con:
        return con.execute(query).fetchall()


@pytest.mark.parametrize("flow", ["fifo", "average"])
def test_what_was_bought_for_none_stays_on_the_shelf_and_is_asked_about(tmp_path: Path, flow: str) -> None:
    """Under the moving average the next draw, on goods without a receipt, once took the 30.00 of a line of none."""
    purchases = [BOUGHT, "2026-10-11,disc 120,abrasive,0,each,30.00"]
    usage = [USED, "2026-10-12,disc 120,2,each,T-1"]
    files = {"purchases": purchases, "usage": usage, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, f'cost_flow = "{flow}"\n{SETTINGS}') == ""
    assert figures(tmp_path, "select bought, on_hand, on_hand_cents from cost.lot") == [(0, 0, 3000)]
    assert figures(tmp_path, "select made_cents from cost.piece") == [(0,)]
    assert figures(tmp_path, "select rows from checks.result where name = 'none_bought'") == [(1,)]


@pytest.mark.parametrize("flow", ["fifo", "average"])
def test_what_came_back_beyond_the_cost_of_a_lot_is_won_and_no_piece_costs_less_than_nothing(
    tmp_path: Path, flow: str
) -> None:
    """September's for 1.00 with 119.00 off; October's for 40.00, and 90.00 back for half of it."""
    purchases = [
        *("date,item,category,quantity,unit,amount,discount", "2026-09-10,coating resin,resin,2,kg,1.00,119.00"),
        *("2026-10-10,casting resin,resin,2,kg,40.00,", "2026-10-11,casting resin,resin,-1,kg,-90.00,"),
    ]
    pours = [
        *("pour,date,resin,part_a,part_b,unit,piece", "P-1,2026-09-12,coating resin,100,50,g,T-1"),
        "P-2,2026-10-12,casting resin,100,50,g,T-2",
    ]
    pieces = ["piece,product,finished", "T-1,tray,2026-09-13", "T-2,tray,2026-10-13"]
    files = {"purchases": purchases, "pours": pours, "pieces": pieces}
    assert awkward.publish(tmp_path, files, f'cost_flow = "{flow}"\n{SETTINGS}') == ""
    assert figures(tmp_path, "select made_cents from cost.piece") == [(0,), (0,)]
    assert figures(tmp_path, "select landed_cents, on_hand_cents from cost.lot") == [(0, 0), (0, 0)]
    losses = "select month(month), loss_cents from money.month where loss_cents <> 0 order by month"
    assert figures(tmp_path, losses) == [(9, -11800), (10, -5000)]
    (check,) = [each for each in read_plan().checks if each.table == "checks.back_above_cost"]
    assert figures(tmp_path, f"select won_cents from ({check.sql}) order by all") == [(5000,), (11800,)]
    assert figures(tmp_path, "select rows from checks.result where name = 'back_above_cost'") == [(2,)]


def test_resin_that_went_back_whole_for_less_is_a_loss_and_no_stop(tmp_path: Path) -> None:
    purchases = [
        *(BOUGHT, "2026-10-10,coating resin,resin,2,kg,40.00"),
        "2026-10-11,coating resin,resin,-2,kg,-30.00",
    ]
    assert awkward.publish(tmp_path, {"purchases": purchases}, SETTINGS) == ""
    assert figures(tmp_path, "select loss_cents from money.month where month = '2026-10-01'") == [(1000,)]
    balance = "select on_hand_g, on_hand_cents from material.resin_balance where month = '2026-10-01'"
    assert figures(tmp_path, balance) == [(0, 0)]


def test_a_purchase_of_no_receipt_is_paid_though_another_receipt_has_its_payment(tmp_path: Path) -> None:
    purchases = [
        *("date,receipt,item,category,quantity,unit,amount", "2026-10-01,R-1,oil,finish,1,l,30.00"),
        "2026-10-02,,gloves,consumable,10,each,5.00",
    ]
    payments = ["date,kind,amount,receipt", "2026-11-05,supplier,30.00,R-1"]
    assert awkward.publish(tmp_path, {"purchases": purchases, "payments": payments}, SETTINGS) == ""
    cash = "select month, cash_end_cents, bills_owed_cents from money.month where month >= '2026-10-01' order by month"
    assert [row[1:] for row in figures(tmp_path, cash)] == [(-500, 3000), (-3500, 0)]


def test_hours_that_nobody_can_work_in_a_day_end_in_a_question(tmp_path: Path) -> None:
    """Kept and asked about, or, where it could be a thousand or a fraction, set aside with that question.

    Each stands in a file of its own, on a day of its own.
    """
    kept = ("25:00", "90", "PT25H", '"1,234.0"')
    aside = ('"1,234"', "1.234", '"1,234 h"')
    cases = [(cell, person) for cell in (*kept, *aside) for person in ("Ada", "")]
    hours = {
        f"hours_{day}": ["date,hours,operation,person", f"2026-10-{day},{cell},sanding,{person}"]
        for day, (cell, person) in enumerate(cases, 10)
    }
    assert awkward.publish(tmp_path, hours, SETTINGS) == ""
    days = figures(tmp_path, "select day(on_date) from records.hours order by all")
    assert days == [(day,) for day, (cell, _) in enumerate(cases, 10) if cell in kept]
    with database.open_newest(tmp_path) as con:
        assert [each.rows for each in findings(con) if each.kind == "day_too_long"] == [len(days)]
        told = con.execute("select file, suggestion from intake.rejected order by file").fetchall()
    assert [file for file, _ in told] == [
        f"inbox/hours_{day}.csv" for day, (cell, _) in enumerate(cases, 10) if cell in aside
    ]
    assert all("a thousand or a fraction" in hint for _, hint in told)


def test_hours_of_a_thousand_that_the_file_shows_to_be_one_are_asked_about(tmp_path: Path) -> None:
    hours = ["date,hours,operation,person", '2026-10-12,"1,234",sanding,Ada', "2026-10-13,1.5,sanding,Ada"]
    assert awkward.publish(tmp_path, {"hours": hours}, SETTINGS) == ""
    assert figures(tmp_path, "select max(seconds) from records.hours") == [(1234 * 3600,)]
    assert figures(tmp_path, "select rows from checks.result where name = 'day_too_long'") == [(1,)]


@pytest.mark.slow
def test_what_was_saved_from_a_piece_and_is_used_on_it_again_leaves_with_it(tmp_path: Path) -> None:
    """The piece kept what it had been given back: both were told by the lot, and taken for what was saved."""
    assert awkward.publish(tmp_path, awkward.shop(88), awkward.settings_of(88)) == ""
