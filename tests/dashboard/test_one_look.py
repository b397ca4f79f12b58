"""The headline of each page is one sentence that can be read at one look, over all months and in odd shops."""

from html import unescape
from pathlib import Path

import pytest

from dashboard import data
from tests.dashboard.conftest import Run, heading
from tests.one_look import HEIGHTS, too_much
from tests.refreshed import refreshed
from tests.whole import in_slice

BEGUN = {
    "pieces": "piece,product,species,finish,started,finished\nT-1,tray,white oak,oil and wax,2026-01-04,2026-01-20\n",
    "purchases": "date,item,category,quantity,unit,amount\n2026-01-02,casting resin,resin,2,kg,60\n",
    "pours": "date,pour,resin,part_a,part_b,unit,piece\n2026-01-06,P-1,casting resin,60,60,g,T-1\n",
}
HOURS = {"hours": "date,hours,person,operation,pieces\n2026-01-06,2,Ada,sanding,T-1\n2026-01-07,9,Ada,carving,T-1\n"}
LOOKS = {"inspections": "date,piece,defect,action\n2026-01-20,T-1,bubble,rework\n"}
SALES = {"sales": "date,channel,piece,price\n2026-01-30,market,T-1,15\n"}

ODD = {"no hours": BEGUN, "one month": BEGUN | HOURS, "a loss": BEGUN | HOURS | LOOKS | SALES, "nothing": {}}


def shop_of(folder: Path, rows: dict[str, str]) -> Path:
    for name, text in rows.items():
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    return folder


@pytest.mark.parametrize("rows", ODD.values(), ids=ODD)
def test_a_headline_is_one_short_sentence_in_an_odd_shop(page: Run, tiny_shop: Path, rows: dict[str, str]) -> None:
    shop = shop_of(tiny_shop, rows)
    for path in HEIGHTS:
        test = page(path, shop)
        assert not test.exception, path
        assert heading(test), path
        assert too_much(heading(test)) == "", path


@pytest.mark.parametrize("path", HEIGHTS)
def test_a_headline_is_one_short_sentence_in_every_month(page: Run, demo: Path, path: str) -> None:
    months = data.open_book(demo).months()["month"].to_list()
    for month in in_slice(months, 4, [*HEIGHTS].index(path)):  # over the pages, every month
        test = page(path, demo, month=f"{month:%Y-%m}")
        assert not test.exception, month
        assert too_much(heading(test)) == ""


@pytest.mark.parametrize(
    ("path", "chosen"),
    [
        ("rework", {"by": by, "counted": counted, **only})
        for by in ("species", "finish", "product", "coat", "supplier of the wood", "stirred too short", "cold room")
        for counted in ("came back for rework", "were scrapped", "showed a defect")
        for only in ({}, {"species": "American elm"})
    ]
    + [("materials", {"material": "wood"}), ("materials", {"resin": "coating resin", "span": "a month"})]
    + [("pricing", {"quote-product": "coaster run", "quantity": n, "quote-channel": "gallery"}) for n in ("1", "7")],
)
def test_a_headline_is_short_whatever_is_chosen(page: Run, demo: Path, path: str, chosen: dict[str, str]) -> None:
    test = page(path, demo, **chosen)
    assert not test.exception
    said = unescape(heading(test))
    assert too_much(said) == ""
    assert said[:1] in "“" or said[:1].isupper() or said.startswith(chosen.get("species", "In"))
    assert said.endswith(".")


def test_where_only_one_material_is_on_record_the_other_says_so(page: Run, tiny_shop: Path) -> None:
    shop = shop_of(tiny_shop, BEGUN)
    assert "resin" in heading(page("materials", shop))
    test = page("materials", shop, material="wood")
    assert not test.exception
    assert heading(test) == "No wood is on record yet."
