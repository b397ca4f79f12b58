"""Nothing physical is in a piece for nothing unseen: a property of random shops, and the resin of pours that name none.

Common practice, no source: what is in a piece costs something, and a figure that leaves it out says so.
"""

import random
from pathlib import Path

import pytest

from pipeline.asking.answer import answer
from pipeline.database import open_newest
from pipeline.reports import trace as report
from tests.refreshed import refreshed

SHOP = 'currency = "USD"\nstart = 2026-10-01\n\n[[people]]\nname = "Me"\nrate = 30\n'
BOUGHT = "date,item,category,quantity,unit,amount\n"
ONE = BOUGHT + "2026-10-01,clear,resin,2,kg,80\n"
TWO = ONE + "2026-10-02,deep,resin,1,kg,50\n"
PIECE = "piece,product,started,finished,status\nT-1,tray,2026-10-03,2026-10-05,finished\n"
POURS = "pour,date,purpose,resin,part_a,part_b,deposited,unit,piece\nP-1,2026-10-03,casting,,100,50,150,g,T-1\n"
COST = "select resin_cents + resin_waste_cents, logged_share, assumed_share, without_cost from cost.piece"


def test_a_pour_that_names_no_resin_takes_the_only_one_there_is(books) -> None:
    con = books(SHOP, purchases=ONE, pieces=PIECE, pours=POURS)
    assert con.execute(COST).fetchall() == [(600, 0, 1, 0)]
    assert con.execute("select count(*) from intake.question").fetchall() == [(0,)]


def test_one_bought_later_is_none_of_an_earlier_day(books) -> None:
    later = TWO.replace("2026-10-02", "2026-10-20")
    assert books(SHOP, purchases=later, pieces=PIECE, pours=POURS).execute(COST).fetchone() == (600, 0, 1, 0)


def test_that_of_its_lot_is_certain(books) -> None:
    lots = TWO.replace("amount\n", "amount,lot\n").replace("80\n", "80,R-1\n").replace("50\n", "50,R-2\n")
    pours = POURS.replace("piece\n", "piece,lot\n").replace("T-1\n", "T-1,R-2\n")
    assert books(SHOP, purchases=lots, pieces=PIECE, pours=pours).execute(COST).fetchone() == (750, 1, 0, 0)


def test_of_several_it_is_asked_and_nothing_is_called_logged_until_then(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    (shop / "inbox").mkdir(parents=True)
    (shop / "shop.toml").write_text(SHOP, encoding="utf-8")
    for name, text in {"purchases": TWO, "pieces": PIECE, "pours": POURS}.items():
        (shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    hours = "date,hours,person,operation,pieces\n2026-10-03,1:00,Me,sanding,T-1\n"
    (shop / "inbox" / "hours.csv").write_text(hours, encoding="utf-8")
    refreshed(shop)
    with open_newest(shop) as con:
        assert con.execute(COST).fetchall() == [(0, None, 0, 1)]
        assert con.execute("select layer, item from cost.without_cost").fetchall() == [("resin", "resin of P-1")]
        told = con.execute("select rows from checks.result where name = 'pour_without_resin'")
        assert told.fetchall() == [(1,)]
        ((question,),) = con.execute("select question from intake.question").fetchall()
        labels = con.execute("select label from intake.question_choice order by choice").fetchall()
    assert labels == [("clear",), ("deep",)]
    answer(shop, question, 2)
    refreshed(shop)
    with open_newest(shop) as con:
        assert con.execute(COST).fetchall() == [(750, 1, 0, 0)]
        assert con.execute("select count(*) from intake.question").fetchall() == [(0,)]


def random_shop(seed: int) -> tuple[dict[str, str], set[str]]:
    """A shop of eight pieces; which of them hold something physical that nothing gives a cost."""
    r, free = random.Random(seed), set()
    purchases = [
        "2026-10-01,clear,resin,2,kg,80,,",
        "2026-10-01,unsized,resin,1,kit,119,,",
        "2026-10-01,oil,finish,1,l,30,,",
        "2026-10-01,screws,hardware,100,each,12,,",
        "2026-10-01,slab,wood,20,bf,160,W-1,white oak",
        "2026-10-01,found,wood,20,bf,0,W-0,ash",
    ]
    pieces, pours, usage, hours = [], [], [], []
    for number in range(8):
        tag, wood = f"T-{number}", r.choice(("W-1,,300 mm", "W-0,,300 mm", ",cherry,300 mm", ",cherry,", ",,"))
        lot, species, size = wood.split(",")
        sizes = f"{size},{size},{'40 mm' if size else ''}"
        pieces.append(f"{tag},tray-{number},{lot},{species},{sizes},2026-10-02,2026-10-05,finished")
        if species:
            free.add(tag)
        poured = r.randrange(3)
        if r.random() < 0.3:
            hours.append(f"2026-10-03,1:00,Me,pouring,{tag}\n")
            free |= set() if poured else {tag}
        for place in range(poured):
            resin = r.choice(("clear", "clear", "unsized", "never bought", ""))
            dye = r.choice(("", "", "never bought dye,1 g", "odd dye,"))
            pours.append(f"P-{number}{place},2026-10-03,{resin},100,50,g,{tag},{dye or ','}")
            if resin != "clear" or dye:
                free.add(tag)
        for item, amount, costs in (
            ("oil", "20,ml", True), ("oil", "1,m", False), ("screws", "4,each", True), ("wax", "20,g", False),
        ):  # fmt: skip
            if r.random() < 0.2:
                usage.append(f"2026-10-04,{item},{amount},{tag}")
                free |= set() if costs else {tag}
    return {
        "purchases": "date,item,category,quantity,unit,amount,lot,species\n" + "\n".join(purchases) + "\n",
        "pieces": "piece,product,lot,species,blank_length,blank_width,blank_thickness,started,finished,status\n"
        + "\n".join(pieces) + "\n",
        "pours": "pour,date,resin,part_a,part_b,unit,piece,colourant,colourant_quantity\n" + "\n".join(pours) + "\n",
        "usage": "date,item,quantity,unit,pieces\n" + "\n".join(usage) + "\n",
        "hours": "date,hours,person,operation,pieces\n"
        + "".join([f"2026-10-04,1:00,Me,sanding,T-{number}\n" for number in range(8)] + hours),
    }, free  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_no_piece_is_called_logged_in_full_while_something_in_it_has_no_cost(books, seed: int) -> None:
    files, free = random_shop(seed)
    con = books(SHOP, **files)
    found = con.execute("select piece, logged_share is null, without_cost > 0 from cost.piece").fetchall()
    assert {piece for piece, _, without in found if without} == free
    assert all(unknown == without for _, unknown, without in found)


def test_a_piece_of_labour_alone_is_told_to_lack_what_it_is_made_of(books) -> None:
    hours = "date,hours,person,operation,pieces\n2026-10-03,1:00,Me,sanding,T-1\n"
    pieces, pours = PIECE + "T-2,tray,2026-10-03,2026-10-05,finished\n", POURS.replace("T-1", "T-2")
    con = books(SHOP, pieces=pieces, hours=hours, pours=pours, purchases=ONE)
    found = con.execute("select piece, without_material, made_cents from cost.piece order by piece").fetchall()
    assert found == [("T-1", True, 3000), ("T-2", False, 600)]
    said = "\n".join(report.text(report.trace(con, "T-1"), 2))
    assert "logged" not in said
    assert "nothing that it is made of is on record" in said


def test_pouring_hours_without_a_pour_say_that_resin_is_lacking(books) -> None:
    hours = "date,hours,person,operation,pieces\n2026-10-03,1:00,Me,pouring,T-1;T-2\n2026-10-03,1:00,Me,sanding,T-3\n"
    pieces = PIECE + "".join(f"T-{n},tray,2026-10-03,2026-10-05,finished\n" for n in (2, 3))
    con = books(SHOP, pieces=pieces, hours=hours, pours=POURS.replace("T-1", "T-2"), purchases=ONE)
    shares = con.execute("select piece, logged_share is null, without_cost from cost.piece order by piece").fetchall()
    assert shares == [("T-1", True, 1), ("T-2", False, 0), ("T-3", False, 0)]
    told = con.execute("select rows, example ->> 'piece' from checks.result where name = 'hours_without_pour'")
    assert told.fetchall() == [(1, "T-1")]
