"""What was there when the records began: a receipt from before is in the count of that day. Common practice, no source;
figures reckoned by hand."""

from collections.abc import Callable

import pytest

from pipeline.reports.check import findings
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = "start = 2026-01-01\n"
BOUGHT = "date,receipt,item,category,quantity,unit,amount,freight\n"
HINGES = BOUGHT + "2025-11-10,R-1,hinge,hardware,20,each,20,2\n2026-01-20,R-2,hinge,hardware,10,each,20,\n"
COUNTED = "date,item,category,quantity,unit,worth\n2026-01-01,hinge,hardware,12,each,13.20\n"
USED = "date,item,quantity,unit,pieces\n2026-02-10,hinge,14,each,T-1\n"
PIECES = "piece,product,started,finished,status\nT-1,board,2026-02-02,2026-02-20,finished\n"


def ask(con: AsAsked, query: str) -> list[tuple]:
    return con.execute(query).fetchall()


def receipts(con: AsAsked) -> list[tuple]:
    """Where each receipt's cents went first."""
    query = "select receipt, other_place, -sum(cents)::bigint from cost.entry join records.purchases as bought"
    return ask(con, query + " on bought.row_id = entry.row_id where place = 'receipt' group by all order by all")


def made(con: AsAsked) -> dict[str, int]:
    return dict(ask(con, "select piece, made_cents from cost.piece where made_cents <> 0"))


def cash(con: AsAsked) -> list[tuple]:
    return ask(con, "select cash_out_cents, bills_owed_cents from money.month order by month")


def asked(con: AsAsked) -> set[str]:
    return {f.kind for f in findings(con) if f.kind in ("missing receipt", "opening_uncounted")}


def test_a_receipt_from_before_the_start_is_in_the_count(books: Books) -> None:
    con = books(SHOP, purchases=HINGES, counts=COUNTED, usage=USED, pieces=PIECES)
    assert receipts(con) == [("R-1", "setting", 2200), ("R-2", "stock", 2000)]
    # twelve for 13.20 and two at 2.00; eight at 2.00 are left
    assert made(con) == {"T-1": 1720}
    stock = "select opening_cents, bought_cents, closing_cents from money.stock_month where stage = 'materials'"
    assert ask(con, stock + " order by month") == [(1320, 2000, 3320), (3320, 0, 1600)]
    assert cash(con) == [(2000, 0), (0, 0)]
    assert asked(con) == set()


@pytest.mark.parametrize("start", ("2026-01-15", "2026-02-01"))
def test_it_is_no_cash_of_the_month_that_the_start_lies_in(books: Books, start: str) -> None:
    bought = BOUGHT + "2026-01-05,R-1,hinge,hardware,20,each,20,2\n2026-02-03,R-2,hinge,hardware,10,each,20,\n"
    counted = COUNTED.replace("2026-01-01", start)
    con = books(f"start = {start}\n", purchases=bought, counts=counted, usage=USED, pieces=PIECES)
    assert [out for out, _ in cash(con)][-1] == 2000
    assert sum(out for out, _ in cash(con)) == 2000
    assert made(con) == {"T-1": 1720}


def test_its_bill_that_is_paid_later_was_owed(books: Books) -> None:
    paid = "date,kind,amount,receipt\n2026-01-10,supplier,22,R-1\n"
    con = books(SHOP, purchases=HINGES, counts=COUNTED, usage=USED, pieces=PIECES, payments=paid)
    assert cash(con) == [(4200, 0), (0, 0)]
    assert made(con) == {"T-1": 1720}


def test_tax_that_came_back_before_the_start_is_none_of_its_months(books: Books) -> None:
    toml = SHOP + 'tax_regime = "vat"\ntax_reclaimable = true\n'
    head = "date,receipt,item,category,quantity,unit,amount,tax\n"
    bought = head + "2025-11-10,R-1,hinge,hardware,20,each,20,4\n2026-01-20,R-2,hinge,hardware,10,each,20,4\n"
    con = books(toml, purchases=bought, counts=COUNTED, usage=USED, pieces=PIECES)
    assert ask(con, "select tax_owed_cents from money.month order by month") == [(-400,), (-400,)]
    assert cash(con) == [(2400, 0), (0, 0)]


def test_what_went_back_before_the_start_is_in_the_count_too(books: Books) -> None:
    back = HINGES + "2025-12-01,R-3,hinge,hardware,-5,each,-5,\n"
    # two things on one receipt, of which one was counted
    back += "2025-12-05,R-4,hinge,hardware,3,each,3,\n2025-12-05,R-4,screw,hardware,100,each,9,4\n"
    con = books(SHOP, purchases=back, counts=COUNTED, usage=USED, pieces=PIECES)
    assert receipts(con) == [
        ("R-1", "setting", 2200), ("R-2", "stock", 2000), ("R-3", "setting", -500), ("R-4", "setting", 400),
        ("R-4", "stock", 1200),
    ]  # fmt: skip
    assert made(con) == {"T-1": 1720}
    # nobody counted the screws
    assert asked(con) == {"opening_uncounted"}


def test_what_nobody_counted_is_taken_to_have_been_there(books: Books) -> None:
    con = books(SHOP, purchases=HINGES, usage=USED, pieces=PIECES)
    assert receipts(con) == [("R-1", "stock", 2200), ("R-2", "stock", 2000)]
    assert made(con) == {"T-1": 1540}
    assert asked(con) == {"opening_uncounted"}
    # all that was there is assumed, and so is what a piece took of it: 14 of the 20 for 22.00
    assumed = "select from_place, sum(cents)::bigint from cost.trace where assumed group by all order by all"
    assert ask(con, assumed) == [("receipt", 2200), ("stock", 1540)]
    assert ask(con, "select assumed_share from cost.piece") == [(1.0,)]


def test_what_was_counted_is_not_assumed(books: Books) -> None:
    con = books(SHOP, purchases=HINGES, counts=COUNTED, usage=USED, pieces=PIECES)
    assert ask(con, "select count(*) from cost.trace where assumed") == [(0,)]


def test_a_use_from_before_the_start_asks_for_no_receipt(books: Books) -> None:
    used = USED + "2025-12-20,hinge,5,each,T-0\n"
    pieces = PIECES + "T-0,board,2025-12-02,2026-01-10,finished\n"
    con = books(SHOP, purchases=HINGES, counts=COUNTED, usage=used, pieces=pieces)
    # five at what those cost that were counted
    assert made(con) == {"T-0": 550, "T-1": 1720}
    assert asked(con) == set()


SLABS = "date,receipt,item,category,amount,lot,species,length,width,thickness\n" + "".join(
    f"2025-12-01,R-{n},slab,wood,{n}00,W-{n},walnut,1000 mm,200 mm,50 mm\n" for n in (1, 2, 3)
)
CUT = "piece,product,lot,species,started,blank_length,blank_width,blank_thickness\n" + "".join(
    f"T-{n},board,W-{n},walnut,2026-01-05,200 mm,200 mm,50 mm\n" for n in (1, 2)
)


def test_a_slab_that_was_counted_costs_what_it_was_worth_then(books: Books) -> None:
    half = "date,item,category,lot,species,quantity,unit,worth\n2026-01-01,slab,wood,W-1,walnut,0.005,m3,40\n"
    con = books(SHOP, purchases=SLABS, pieces=CUT, counts=half)
    # 2 of 5 litres for 40.00; W-2 was not counted, but is cut from; W-3 was gone
    assert receipts(con) == [("R-1", "setting", 10000), ("R-2", "stock", 20000), ("R-3", "setting", 30000)]
    assert made(con) == {"T-1": 1600, "T-2": 4000}
