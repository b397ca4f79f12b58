"""The worked piece of the README: its table, the pipeline, and arithmetic by hand say the same.

An invented piece; the rules it follows are the product's own (see the README).
"""

import re
from fractions import Fraction
from pathlib import Path

import pytest

from pipeline import database
from tests.refreshed import refreshed

SHOP = """
name = "Worked Piece"
start = 2026-01-01
[[people]]
name = "Ada"
rate = 30
[[machines]]
name = "router"
rate = 12
[[pools]]
name = "rent"
amount = 500
basis = "budget"
rate = 6
"""
FILES = {
    "purchases": """date,receipt,item,category,quantity,amount,tax,freight,lot,species,length,width,thickness
2026-01-02,R1,walnut slab,wood,,200.00,16.00,20.00,W-1,walnut,2000 mm,400 mm,50 mm
2026-01-03,R2,clock movement,hardware,10 each,85.00,,,,,,,
""",
    "pieces": """
piece,product,species,quantity,length,width,thickness,lot,blank_length,blank_width,blank_thickness,finished
P-1,tray,walnut,1,400 mm,300 mm,20 mm,W-1,450 mm,350 mm,50 mm,2026-01-20
P-2,coaster,walnut,6,100 mm,100 mm,10 mm,W-1,110 mm,110 mm,50 mm,2026-01-25
""",
    "hours": """date,hours,person,operation,pieces,machine,attended
2026-01-06,2,Ada,sanding,P-1; P-2,,
2026-01-07,1.5,Ada,carving,P-1,router,no
2026-01-09,1:45,Ada,assembly,P-1,,
""",
    "usage": """date,item,quantity,pieces
2026-01-12,clock movement,1 each,P-1
""",
    "sales": """date,channel,piece,price,channel_fee
2026-01-28,market,P-1,240.00,12.00
""",
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop of the worked piece, through the whole pipeline."""
    folder = tmp_path_factory.mktemp("worked-piece")
    (folder / "inbox").mkdir()
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    for name, text in FILES.items():
        (folder / "inbox" / f"{name}.csv").write_text(text.lstrip(), encoding="utf-8")
    refreshed(folder)
    return folder


@pytest.fixture
def trace(shop: Path) -> dict[tuple[str, str | None], int]:
    """Cents of P-1 by layer and operation."""
    with database.open_newest(shop) as con:
        query = (
            "select layer, case when layer = 'labour' then operation end, sum(cents) from cost.trace"
            " where to_place = 'piece' and piece = 'P-1' group by all"
        )
        return {(layer, operation): int(cents) for layer, operation, cents in con.execute(query).fetchall()}


def half_up(value: Fraction) -> int:
    return int(value + Fraction(1, 2))


def test_the_table_of_the_readme_is_true(trace: dict[tuple[str, str | None], int]) -> None:
    surface = 2 * (400 * 300 + 400 * 20 + 300 * 20)
    coasters = 6 * 2 * (100 * 100 + 2 * 100 * 10)
    sanding_seconds = half_up(Fraction(7200 * surface, surface + coasters))
    by_hand = {
        ("wood", None): half_up(Fraction(23600 * 450 * 350 * 50, 2000 * 400 * 50)),
        ("labour", "sanding"): half_up(Fraction(6000 * surface, surface + coasters)),
        ("labour", "assembly"): half_up(Fraction(3000 * 105, 60)),
        ("machine", None): half_up(Fraction(1200 * 3, 2)),
        ("hardware", None): 850,
        # the coasters' sanding comes between the two in the month's running hours
        ("overhead", None): half_up(Fraction(sanding_seconds, 6)) + half_up(Fraction(7200 + 6300, 6)) - 1200,
    }
    assert trace == by_hand

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    printed = dict(re.findall(r"^\| ([a-z, ]+) \| [^|]+ \| (\d+\.\d\d) \|$", readme, flags=re.M))
    named = {", ".join(filter(None, key)): f"{cents / 100:.2f}" for key, cents in by_hand.items()}
    assert printed == named
    assert f"**{sum(by_hand.values()) / 100:.2f}**" in readme


def test_the_bench_pay_of_the_readme_is_true(shop: Path, trace: dict[tuple[str, str | None], int]) -> None:
    own = trace["labour", "sanding"] + trace["labour", "assembly"]
    # 2 h shared by surface, and 1:45
    seconds = half_up(Fraction(7200 * 268, 412)) + 6300
    by_hand = half_up(Fraction((24000 - 1200 - sum(trace.values()) + own) * 3600, seconds))
    with database.open_newest(shop) as con:
        assert con.execute("select bench_pay_cents from money.bench_pay where piece = 'P-1'").fetchall() == [(by_hand,)]
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert f"P-1 paid {by_hand / 100:.2f} an hour" in readme
