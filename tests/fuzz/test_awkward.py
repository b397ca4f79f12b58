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
