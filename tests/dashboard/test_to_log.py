"""What to log better stands on the Files page as the command ranks it, with the pieces that it is about."""

import re
from pathlib import Path

from pipeline.database import open_newest
from pipeline.pages.to_log import to_log
from pipeline.reports import check
from tests.dashboard.conftest import Run, html


def test_the_list_is_the_command_s_with_its_pieces(page: Run, demo: Path) -> None:
    found = to_log(demo)
    with open_newest(demo) as con:
        told = [finding for finding in check.findings(con) if finding.pieces]
        made = dict(con.execute("select piece, made_cents from cost.piece").fetchall())
    assert [each["what"] for each in found] == [finding.what for finding in told]
    assert all(len(each["pieces"]) == len(set(each["pieces"])) == f.rows for each, f in zip(found, told, strict=True))
    assert all(each["cents"] <= sum(made[tag] for tag in each["pieces"]) for each in found if each["cents"])
    test = page("files", demo, **{"log-better": "true"})
    assert not test.exception and html(test).count("would gain the most") > 1
    (label,) = [fold.label for fold in test.expander if fold.label.startswith("What to log better")]
    assert re.sub(r"[^\d.,]+", " ", label).split() == [f"{len(found)}", ",", f"{found[0]['cents'] / 100:,.2f}"]
    third = found[2]
    test.selectbox(key="log-better-of").set_value(third["what"]).run()
    assert not test.exception and f"piece={third['pieces'][0]}" in html(test)


def test_a_shop_without_pieces_has_nothing_to_log_better(bare: Path) -> None:
    assert to_log(bare) == []
