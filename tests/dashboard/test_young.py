"""A shop with a few days of records: what is on record is told, and no figure of next to nothing looks firm."""

import re
from html import unescape
from pathlib import Path

import duckdb
import pytest

from dashboard import words
from dashboard.app import VIEWS
from pipeline import database, enough
from pipeline.reports.trace import text, trace
from tests.dashboard.conftest import Run, heading, html
from tests.refreshed import TINY_SHOP, refreshed

SIZES = "length,width,thickness"
PIECE = f"piece,product,species,finish,lot,blank_length,blank_width,blank_thickness,{SIZES},started,finished,status"
ROWS = {
    "pieces": f"""{PIECE}
T-1,tray,black walnut,oil and wax,W-1,450 mm,320 mm,30 mm,400 mm,300 mm,22 mm,2026-06-01,2026-06-04,finished
T-2,tray,black walnut,epoxy flood coat,W-1,450 mm,320 mm,30 mm,400 mm,300 mm,22 mm,2026-06-02,2026-06-05,finished
B-1,board,black walnut,oil and wax,W-1,300 mm,250 mm,30 mm,280 mm,220 mm,25 mm,2026-06-03,,in progress
""",
    "purchases": f"""date,item,category,quantity,unit,amount,lot,species,{SIZES}
2026-06-01,walnut slab,wood,1,each,120,W-1,black walnut,2000 mm,400 mm,50 mm
2026-06-01,casting resin,resin,2,kg,60,,,,,
2026-06-01,abrasive sheet,abrasive,50,each,25,,,,,
""",
    "pours": "date,pour,resin,purpose,part_a,part_b,unit,piece,left_in_cup\n"
    "2026-06-03,P-1,casting resin,flood,60,60,g,T-2,10\n",
    "hours": """date,hours,person,operation,pieces,rework
2026-06-02,0.05,Ada,sanding,T-1,
2026-06-03,1.5,Ada,sanding,T-2,
2026-06-05,0.5,Ada,sanding,T-2,yes
2026-06-06,0.75,Ada,market,,
""",
    "inspections": "date,piece,defect,action\n2026-06-05,T-2,bubble,rework\n2026-06-04,T-1,none,accept\n",
    "sales": "date,channel,piece,price,event\n2026-06-06,market,T-1,3257,FAIR\n",
}

SAYS = {
    "month": "too few hours", "pieces": "the middle one of 2", "materials": "too few pours", "rework": "too few months",
    "pricing": "can't be priced yet", "stock": "can't be said yet: too few months",
}  # fmt: skip
"""What a page says in place of a figure that it would tell of more records."""

FIRM = (
    r"\d %",  # shares
    r"\busual\b[^.|]{0,40}?[€\d]",  # what is usual
    r"\d[\d,.]* (an hour|a month)\b",
    r"0\.0 (kg|lb)",  # little of a large unit
)
"""What must stand nowhere."""

OWN = re.compile(
    r"\d+ % of its cost is estimated|(assumed|estimated|logged|Rests on records \|) \d+ %|(pay|resin) \+ 10 %"
)
"""Of one piece how much of its own cost is on record is no rate, but a sum; and what if pay were dearer is asked."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("few-days") / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(
        TINY_SHOP.replace("2026-01-01", "2026-06-01") + '\n[[channels]]\nname = "market"\n', encoding="utf-8"
    )
    for name, rows in ROWS.items():
        (folder / "inbox" / f"{name}.csv").write_text(rows, encoding="utf-8")
    refreshed(folder)
    return folder


def plain(test) -> str:
    """All words of a page with the labels of its folds: its tables, what explains a word and rules in force apart."""
    aside = r'<span class="kl-tip".*?</span>|<table.*?</table>|<p class="kl-rules".*?</p>'
    without = re.sub(aside, "", html(test), flags=re.S)
    cells = re.sub(r"</(td|th|dt|dd|li|p|h1|h2)>", " | ", without)
    return "\n".join([unescape(re.sub("<[^>]+>", "", cells)), *(each.label for each in test.expander)])


def firm(said: str) -> list[str]:
    told = OWN.sub("", said)
    return [told[max(found.start() - 40, 0) : found.end()] for each in FIRM for found in re.finditer(each, told)]


@pytest.mark.parametrize("path", [view.path for view in VIEWS])
def test_no_figure_of_a_few_days_looks_firm(page: Run, shop: Path, path: str) -> None:
    test = page(path, shop)
    folds = {each.proto.query_param_key for each in test.expander if each.proto.query_param_key}
    test = page(path, shop, **dict.fromkeys(folds, "true"), **({"material": "resin"} if path == "materials" else {}))
    assert not test.exception
    assert len(html(test)) > 100
    assert firm(plain(test)) == []
    assert SAYS.get(path, "") in plain(test)
    if path == "year":
        assert heading(test).endswith(("of 2026 is over yet.", "after your own pay.")), heading(test)


def test_the_wood_of_a_few_pieces_has_no_yield_and_one_piece_no_usual_cost(page: Run, shop: Path) -> None:
    wood = page("materials", shop, material="wood", **{"wood-groups": "true", "lots": "true"})
    assert firm(plain(wood)) == []
    one = page("pieces", shop, piece="T-1", layers="true", left="true")
    assert firm(plain(one)) == []
    assert "too few hours of your own in it" in plain(one)  # three minutes would be 65,000 an hour


def test_the_trace_tells_no_usual_cost_of_two_pieces(shop: Path) -> None:
    with database.open_newest(shop) as con:
        said = "\n".join(text(trace(con, "T-1"), 2))
    assert "usual" not in said
    assert "too few own hours to say" in said


def test_what_is_looked_for_is_found() -> None:
    assert firm("92 % of the resin | usual 0.00 | pays 65,000.00 an hour | 0.5 h a month | 0.0 kg")
    assert firm("assumed 0 %, estimated 3 % | 1 of 2 pieces | 120 of it") == []


def test_the_models_take_the_numbers_that_stand_in_one_place(empty: duckdb.DuckDBPyConnection) -> None:
    assert empty.execute("select few(), few_months()").fetchone() == (enough.FEW, enough.FEW_MONTHS)
    assert (words.FEW, words.FEW_MONTHS) == (enough.FEW, enough.FEW_MONTHS)
    for of, hours in {"a month": 4.0, "a market day": 1.0, "a piece": 0.25}.items():
        least = int(3600 * hours)
        told = empty.execute(
            "select for_an_hour(100, $least, $of), for_an_hour(100, $least - 1, $of)", {"least": least, "of": of}
        )
        assert told.fetchone() == (int(100 * 3600 / least), None)
