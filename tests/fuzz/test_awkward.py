"""A check stops publishing only for a broken identity of ours: what a maker writes is set aside at worst, or a finding.

`tests/fuzz/awkward.py` makes the shops; run it for more of them than are tried here.
"""

from pathlib import Path

import awkward
import pytest

from pipeline import database
from pipeline.reports.check import findings

SETTINGS = 'currency = "EUR"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'
KIT = "date,item,category,quantity,unit,amount\n2026-10-11,clear casting resin kit,resin,{},119.00\n"
TRAY = ["piece,product,finished", "T-1,tray,2026-10-13"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [3, 5, 9, 13])  # each of these was stopped by a check or by a rule of a table
def test_what_is_read_is_published(tmp_path: Path, seed: int) -> None:
    assert awkward.publish(tmp_path, awkward.shop(seed), awkward.settings_of(seed)) == ""


@pytest.mark.parametrize("written", ["1,kit", "2,each", "3,kit", ","])
def test_a_kit_of_unknown_size_costs_no_piece_and_is_asked_about_first(tmp_path: Path, written: str) -> None:
    usage = ["date,item,quantity,unit,pieces", "2026-10-12,clear casting resin kit,300,g,T-1"]
    files = {"purchases": KIT.format(written).splitlines(), "usage": usage, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, SETTINGS) == ""
    with database.open_newest(tmp_path) as con:
        assert con.execute("select sum(made_cents) from cost.piece").fetchall() == [(0,)]
        number = {"1,kit": 1000, "2,each": 2000, "3,kit": 3000, ",": 1000}[written]
        lots = con.execute("select bought, on_hand, on_hand_cents from cost.lot").fetchall()
        assert lots == [(number, number, 11900)]
        first = findings(con)[0]
    assert (first.severity, first.kind, first.cents) == ("error", "size not known", 11900)
    assert "clear casting resin kit" in first.what
    assert "purchases.csv" in first.where


def test_a_kit_whose_size_is_known_is_used_by_weight(tmp_path: Path) -> None:
    usage = ["date,item,quantity,unit,pieces", "2026-10-12,clear casting resin kit,330,g,T-1"]
    known = '[[items]]\nname = "clear casting resin kit"\ncategory = "resin"\nkit = 1000\ndensity = 1.1\n'
    files = {"purchases": KIT.format("1,kit").splitlines(), "usage": usage, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, SETTINGS + known) == ""
    with database.open_newest(tmp_path) as con:
        # 1,000 ml at 1.1 g are 1,100 g; 330 g are three tenths of 119.00
        assert con.execute("select sum(made_cents) from cost.piece").fetchall() == [(3570,)]


POUR = ["pour,date,resin,part_a,part_b,unit,piece", "P-1,2026-10-12,coating resin,100,50,g,T-1"]


def figures(shop: Path, query: str) -> list[tuple[object, ...]]:
    with database.open_newest(shop) as con:
        return con.execute(query).fetchall()


@pytest.mark.parametrize("flow", ["fifo", "average"])
def test_what_was_bought_for_none_stays_on_the_shelf_and_is_asked_about(tmp_path: Path, flow: str) -> None:
    """Under the moving average the next draw, on goods without a receipt, once took the 30.00 of a line of none."""
    purchases = ["date,item,category,quantity,unit,amount", "2026-10-11,disc 120,abrasive,0,each,30.00"]
    usage = ["date,item,quantity,unit,pieces", "2026-10-12,disc 120,2,each,T-1"]
    files = {"purchases": purchases, "usage": usage, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, f'cost_flow = "{flow}"\n{SETTINGS}') == ""
    assert figures(tmp_path, "select bought, on_hand, on_hand_cents from cost.lot") == [(0, 0, 3000)]
    assert figures(tmp_path, "select made_cents from cost.piece") == [(0,)]
    assert figures(tmp_path, "select rows from checks.result where name = 'none_bought'") == [(1,)]


@pytest.mark.parametrize("flow", ["fifo", "average"])
@pytest.mark.parametrize(
    ("lines", "won"),
    [
        # for 1.00 with 119.00 off; for 40.00, and 90.00 back for half of it
        (["2026-10-10,coating resin,resin,2,kg,1.00,119.00"], 11800),
        (["2026-10-10,coating resin,resin,2,kg,40.00,", "2026-10-11,coating resin,resin,-1,kg,-90.00,"], 5000),
    ],
)
def test_what_came_back_beyond_the_cost_of_a_lot_is_won_and_no_piece_costs_less_than_nothing(
    tmp_path: Path, lines: list[str], won: int, flow: str
) -> None:
    purchases = ["date,item,category,quantity,unit,amount,discount", *lines]
    files = {"purchases": purchases, "pours": POUR, "pieces": TRAY}
    assert awkward.publish(tmp_path, files, f'cost_flow = "{flow}"\n{SETTINGS}') == ""
    assert figures(tmp_path, "select made_cents from cost.piece") == [(0,)]
    assert figures(tmp_path, "select landed_cents, on_hand_cents from cost.lot") == [(0, 0)]
    assert figures(tmp_path, "select loss_cents from money.month where month = '2026-10-01'") == [(-won,)]
    (told,) = figures(tmp_path, "select example from checks.result where name = 'back_above_cost' and rows > 0")
    assert f'"won_cents":{won}' in str(told[0])


def test_resin_that_went_back_whole_for_less_is_a_loss_and_no_stop(tmp_path: Path) -> None:
    purchases = [
        *("date,item,category,quantity,unit,amount", "2026-10-10,coating resin,resin,2,kg,40.00"),
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


@pytest.mark.parametrize("person", ["Ada", ""])
@pytest.mark.parametrize("cell", ["25:00", "90", "PT25H", '"1,234"', "1.234", '"1,234 h"', '"1,234.0"'])
def test_hours_that_nobody_can_work_in_a_day_end_in_a_question(tmp_path: Path, cell: str, person: str) -> None:
    """Kept and asked about, or, where it could be a thousand or a fraction, set aside with that question."""
    hours = ["date,hours,operation,person", f"2026-10-12,{cell},sanding,{person}"]
    assert awkward.publish(tmp_path, {"hours": hours}, SETTINGS) == ""
    with database.open_newest(tmp_path) as con:
        told = {finding.kind for finding in findings(con)}
        hints = con.execute("select suggestion from intake.rejected").fetchall()
    if "1,234.0" in cell or "234" not in cell:
        assert "day_too_long" in told and not hints
    else:
        assert len(hints) == 1 and "a thousand or a fraction" in hints[0][0]


def test_hours_of_a_thousand_that_the_file_shows_to_be_one_are_asked_about(tmp_path: Path) -> None:
    hours = ["date,hours,operation,person", '2026-10-12,"1,234",sanding,Ada', "2026-10-13,1.5,sanding,Ada"]
    assert awkward.publish(tmp_path, {"hours": hours}, SETTINGS) == ""
    assert figures(tmp_path, "select max(seconds) from records.hours") == [(1234 * 3600,)]
    assert figures(tmp_path, "select rows from checks.result where name = 'day_too_long'") == [(1,)]


@pytest.mark.slow
def test_what_was_saved_from_a_piece_and_is_used_on_it_again_leaves_with_it(tmp_path: Path) -> None:
    """The piece kept what it had been given back: both were told by the lot, and taken for what was saved."""
    assert awkward.publish(tmp_path, awkward.shop(88), awkward.settings_of(88)) == ""
