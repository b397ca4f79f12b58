"""Fees of a channel that no setting says, and resin in units that can't be weighed. All reckoned by hand."""

from collections.abc import Callable
from typing import Any

import duckdb
import pytest

from pipeline.reports.check import findings

Books = Callable[..., duckdb.DuckDBPyConnection]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'
SALES = "date,channel,product,price,channel_fee,payment_fee\n2026-02-03,web,tray,100,6.50,3\n"


def ask(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


@pytest.mark.parametrize(
    ("said", "share", "payment"),
    [
        # 6.50 and 3.00 of 100.00
        ("", 65_000, 30_000),
        ('[[channels]]\nname = "web"\n', 65_000, 30_000),
        ('[[channels]]\nname = "web"\ntax_by = "channel"\n', 65_000, 30_000),
        ('[[channels]]\nname = "web"\n[[channels.fees]]\nfrom = 2026-01-01\n', 65_000, 30_000),
        # a fee that is said is the fee, and the others are none; none at all can be said too
        ('[[channels]]\nname = "web"\nfixed = 0.20\n', 0, 0),
        ('[[channels]]\nname = "web"\nshare = 0\n', 0, 0),
        ('[[channels]]\nname = "web"\n[[channels.fees]]\nfrom = 2026-01-01\nshare = 0.08\n', 80_000, 0),
    ],
)
def test_a_channel_named_without_fees_has_those_of_its_sales(books: Books, said: str, share: int, payment: int) -> None:
    con = books(SHOP + said, sales=SALES)
    assert ask(con, "select share_ppm, payment_share_ppm from price.channel") == [(share, payment)]


def test_one_fee_that_is_said_fills_empty_cells_by_itself(books: Books) -> None:
    """5 % of 100.00; what is not said beside it is no fee."""
    toml = SHOP + '[[channels]]\nname = "web"\nshare = 0.05\n'
    con = books(toml, sales="date,channel,product,price\n2026-02-03,web,tray,100\n")
    assert ask(con, "select operation, cents from cost.trace where from_place = 'fee'") == [("channel fee", 500)]


# Resin by the set: 300 g of what came as one set for 197.80.

TRAY = "piece,product,started,finished,status\nT-1,tray,2026-01-08,2026-01-20,finished\n"
SET = "date,receipt,item,category,quantity,unit,amount\n2026-01-05,R-1,clear,{},1,{},197.80\n"
POUR = "pour,date,purpose,resin,part_a,part_b,deposited,piece\nP-1,2026-01-10,flood,clear,200 g,100 g,300 g,T-1\n"
TAKEN = "date,item,quantity,unit,pieces\n2026-01-10,clear,300,g,T-1\n"


def worst(con: duckdb.DuckDBPyConnection) -> tuple[str, str, int | None]:
    first = findings(con)[0]
    return first.severity, first.kind, first.cents


@pytest.mark.parametrize("unit", ["set", "kit", "each"])
@pytest.mark.parametrize("category", ["resin", "finish", "consumable", "hardware"])
@pytest.mark.parametrize("base", ["", 'base_unit = "each"'])
def test_a_pour_of_what_was_bought_by_the_set_costs_nothing_until_its_size_is_known(
    books: Books, unit: str, category: str, base: str
) -> None:
    item = f'[[items]]\nname = "clear"\n{base}\n' if base else ""
    con = books(SHOP + item, purchases=SET.format(category, unit), pours=POUR, pieces=TRAY)
    assert ask(con, "select made_cents from cost.piece") == [(0,)]
    # what it cost stays on the shelf, and is what the first finding is about
    assert ask(con, "select on_hand_cents from cost.lot") == [(19_780,)]
    assert worst(con) == ("error", "size not known", 19_780)
    assert ask(con, "select name from checks.result where severity = 'error' and rows > 0") == []


@pytest.mark.parametrize("unit", ["set", "kit", "each"])
@pytest.mark.parametrize(
    ("size", "cents"),
    [
        # 300 of 1,200 g
        ("kit_weight = 1200", 4945),
        # 300 g are 250 of 1,000 ml at 1.2 g/ml
        ("kit = 1000\ndensity = 1.2", 4945),
        ('kit_weight = 1200\ndensity = 1.2\nbase_unit = "ul"', 4945),
        ('kit = 1000\ndensity = 1.2\nbase_unit = "ul"', 4945),
        # both told, and they do not agree: it is kept by weight, and the weight holds
        ("kit = 900\nkit_weight = 1200", 4945),
    ],
)
def test_a_kits_size_is_told_by_weight_or_by_volume(books: Books, unit: str, size: str, cents: int) -> None:
    toml = f'{SHOP}[[items]]\nname = "clear"\n{size}\n'
    con = books(toml, purchases=SET.format("resin", unit), pours=POUR, pieces=TRAY)
    assert ask(con, "select made_cents from cost.piece") == [(cents,)]
    assert [f.kind for f in findings(con) if f.severity == "error"] == []


def test_a_kit_that_is_not_poured_is_kept_as_its_size_is_told(books: Books) -> None:
    """50 of 500 ml for 40.00, and 30 of 300 g for 15.00."""
    toml = SHOP + '[[items]]\nname = "hard wax"\nkit = 500\n[[items]]\nname = "paste"\nkit_weight = 300\n'
    bought = "date,receipt,item,category,quantity,unit,amount\n2026-01-05,R-1,hard wax,finish,1,each,40\n"
    bought += "2026-01-05,R-2,paste,finish,1,kit,15\n"
    used = "date,item,quantity,unit,pieces\n2026-01-10,hard wax,50,ml,T-1\n2026-01-10,paste,30,g,T-1\n"
    con = books(toml, purchases=bought, usage=used, pieces=TRAY)
    assert ask(con, "select made_cents from cost.piece") == [(550,)]


@pytest.mark.parametrize("category", ["finish", "consumable", "hardware", "resin", "colourant"])
def test_a_use_in_a_unit_that_its_item_is_not_bought_in_is_told(books: Books, category: str) -> None:
    con = books(SHOP, purchases=SET.format(category, "each"), usage=TAKEN, pieces=TRAY)
    assert ask(con, "select made_cents from cost.piece") == [(0,)]
    assert worst(con) == ("error", "size not known", 19_780)
