"""Which way money goes, from files to the month, however an export writes its signs. All reckoned by hand.

A return is a contra to the sale (OpenStax, Principles of Accounting, Financial, 6.3): what was taken off the price, the
tax and the fee of what came back go back with it.
"""

from collections.abc import Callable
from typing import Any

from pipeline.reports.check import findings
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "EUR"\nstart = 2026-01-01\ntax_regime = "vat"\n'
PIECES = "piece,product,finished,status,opening_cost\n"
PIECES += "".join(f"{tag},bowl,2026-01-02,finished,10\n" for tag in "ABCD")
SALES = "date,channel,piece,quantity,price,discount,shipping_charged,sales_tax,channel_fee,payment_fee,shipping_paid\n"
MONTH = "select revenue_cents + refund_cents, selling_cents, tax_cents, cash_end_cents from money.month order by month"


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def asked(con: AsAsked) -> list[str]:
    return [found.kind for found in findings(con) if found.kind.startswith("asked")]


def test_what_came_back_turns_all_its_money_round(books: Books) -> None:
    """Sold at 50 less 5, with 4 shipping, 10.29 tax, fees of 3 and 1 and postage of 6; all of it came back.

    One file writes what came back without a minus, and another month's file with one.
    """
    con = books(
        SHOP,
        pieces=PIECES,
        sales=SALES + "2026-01-05,web,A,1,50,5,4,10.29,3,1,6\n2026-01-09,web,A,-1,50,5,4,10.29,3,1,6\n",
        more_sales=SALES + "2026-02-05,web,B,1,50,5,4,10.29,3,1,6\n2026-02-09,web,B,-1,50,-5,-4,-10.29,-3,-1,-6\n",
    )
    assert ask(con, MONTH) == [(0, 0, 0, 0)] * 2
    assert asked(con) == []


def test_money_and_units_both_with_a_minus_are_one_return(books: Books) -> None:
    con = books(
        SHOP, pieces=PIECES, sales="date,channel,piece,quantity,price\n2026-01-05,web,A,1,50\n2026-01-09,web,A,-1,-50\n"
    )
    assert ask(con, "select revenue_cents, refund_cents, cash_end_cents from money.month") == [(5000, -5000, 0)]


def test_a_columns_own_habit_says_what_a_minus_means(books: Books) -> None:
    """Two at 50 less 5 each: 90; 3 and 1 of fees and 6 of postage each: 20; tax of 9.45 each: 18.90.

    One file writes them without a minus, and another month's file with one.
    """
    plain = "".join(f"2026-01-05,web,{piece},1,50,5,,9.45,3,1,6\n" for piece in "AB")
    minus = "".join(f"2026-02-05,web,{piece},1,50,-5,,-9.45,-3,-1,-6\n" for piece in "CD")
    con = books(SHOP, pieces=PIECES, sales=SALES + plain, more_sales=SALES + minus)
    assert ask(con, MONTH) == [(9000, 2000, 1890, 8890), (9000, 2000, 1890, 2 * 8890)]
    assert asked(con) == []


def test_a_fee_with_both_signs_is_a_cost_and_asked_about_once(books: Books) -> None:
    rows = "2026-01-05,web,A,1,50,,,,-3,,\n2026-01-05,web,B,1,50,,,,3,,\n"
    con = books(SHOP, pieces=PIECES, sales=SALES + rows)
    assert ask(con, MONTH) == [(10000, 600, 0, 9400)]
    (found,) = [f for f in findings(con) if f.kind == "asked: sign-cost"]
    assert found.where.startswith("inbox/sales.csv") and "channel_fee" in found.what and found.rows == 1


def test_a_receipts_discount_and_freight_with_a_minus_lower_and_raise_it(books: Books) -> None:
    """100 less 10, with 4 of freight: 94, whichever way a column writes them."""
    con = books(
        SHOP,
        purchases="date,receipt,item,category,quantity,unit,amount,discount,freight\n"
        "2026-01-05,R-1,screw,hardware,10,each,100,-10,-4\n",
    )
    assert ask(con, "select landed_cents from cost.lot") == [(9400,)]
    assert ask(con, "select cash_end_cents from money.month") == [(-9400,)]


def test_a_credit_note_is_money_back_whichever_way_it_is_written(books: Books) -> None:
    """10 bought for 100 with 21 of tax that comes back; 2 of them sent back for 20 with 4.20. Three months' files."""
    head = "date,receipt,item,category,quantity,unit,amount,tax,total\n"
    written = {"screw": "20,4.20,24.20", "nail": "-20,-4.20,-24.20", "hook": "-20,4.20,-24.20"}
    files = {
        f"purchases_{item}": f"{head}2026-0{n}-05,R-{n},{item},hardware,10,each,100,21,121\n"
        f"2026-0{n}-09,C-{n},{item},hardware,-2,each,{credit}\n"
        for n, (item, credit) in enumerate(written.items(), 1)
    }
    con = books(SHOP + "tax_reclaimable = true\n", **files)
    owed = ask(con, "select tax_owed_cents, cash_end_cents from money.month order by month")
    assert owed == [(-1680 * n, -9680 * n) for n in (1, 2, 3)]
    landed = dict(ask(con, "select item, sum(landed_cents)::bigint from cost.lot group by item"))
    assert landed == dict.fromkeys(written, 8000)
    assert not [f for f in findings(con) if f.kind == "receipt_total"]


def test_signs_that_lead_to_a_receipts_total_are_no_habit(books: Books) -> None:
    """The receipt's own tax of 16.80 stands on the line that takes 20 off: 100 - 20 + 16.80."""
    con = books(
        SHOP,
        purchases="date,receipt,item,category,quantity,unit,amount,tax,total\n"
        "2026-01-05,R-1,screw,hardware,10,each,100,,96.80\n2026-01-05,R-1,hinge,hardware,-2,each,-20,16.80,\n",
    )
    assert ask(con, "select cash_end_cents from money.month") == [(-9680,)]


def bank(kinds: tuple[str, ...], other: str) -> dict[str, str]:
    """A statement for each month, with 40 of one kind that the bank wrote with a minus, and another payment."""
    return {
        f"payments_{n}": f"date,kind,amount,note\n2026-0{n}-05,{kind},-40,\n2026-0{n}-06,{other},\n"
        for n, kind in enumerate(kinds, 1)
    }


FLOWS = "select cash_in_cents, cash_out_cents from money.month order by month"


def test_a_banks_minus_is_money_out_whatever_the_kind(books: Books) -> None:
    con = books(SHOP, **bank(("supplier", "pay", "drawing", "tax", "refund"), "capital,100"))
    assert ask(con, FLOWS) == [(10000, 4000)] * 5
    assert asked(con) == []


def test_a_banks_minus_is_money_out_of_what_else_comes_in(books: Books) -> None:
    con = books(SHOP, **bank(("payout", "deposit", "capital", "loan", "claim", "balance"), "supplier,-10"))
    assert ask(con, FLOWS) == [(0, 5000)] * 6


def test_money_that_a_supplier_gave_back_has_no_minus_at_a_bank_and_is_asked_about(books: Books) -> None:
    con = books(
        SHOP, payments="date,kind,amount\n2026-01-05,supplier,-40\n2026-01-06,supplier,-10\n2026-01-07,supplier,5\n"
    )
    assert ask(con, "select cash_in_cents, cash_out_cents from money.month") == [(500, 5000)]
    assert asked(con) == ["asked: sign-bank"]


def test_amounts_as_the_kind_says_need_no_minus(books: Books) -> None:
    con = books(SHOP, payments="date,kind,amount\n2026-01-05,supplier,40\n2026-01-06,capital,100\n")
    assert ask(con, "select cash_in_cents, cash_out_cents from money.month") == [(10000, 4000)]


def test_tax_and_discount_that_several_lines_state_are_each_lines_own(books: Books) -> None:
    """100 at 21 % less 10, and 100 at 9 %, with 20 of freight for both; a receipt's own tax of 30 is shared."""
    con = books(
        SHOP,
        purchases="date,receipt,item,category,quantity,unit,amount,tax,discount,freight\n"
        "2026-01-05,R-1,screw,hardware,10,each,100,18.90,10,20\n2026-01-05,R-1,hinge,hardware,10,each,100,9,0,\n"
        "2026-01-06,R-2,nail,hardware,10,each,100,30,,\n2026-01-06,R-2,hook,hardware,10,each,50,,,\n",
    )
    landed = "select item, landed_cents from cost.lot order by item"
    assert ask(con, landed) == [("hinge", 11900), ("hook", 6000), ("nail", 12000), ("screw", 11890)]


BILLS = "date,receipt,item,category,quantity,unit,amount,tax,freight,discount,total\n"


def test_a_list_of_expenses_that_writes_its_bills_with_a_minus_earns_nothing(books: Books) -> None:
    """40 with 8.40 of tax, 30 less 3 and 5 of freight, 200 of rent: 280.40. Of the hinges 8 came back in February.

    In March the freight stands in a row of its own: 10 and 20, and 6 of freight for both.
    """
    con = books(
        SHOP + "opening_cash = 1000\n",
        purchases=BILLS + "2026-01-03,R-1,hinge,hardware,10,each,-40,-8.40,,,-48.40\n"
        "2026-01-04,R-2,oil,finish,1,l,-30,,-5,-3,-32\n2026-01-05,,rent,overhead,,,-200,,,,\n"
        "2026-02-06,,hinge,hardware,-2,each,8,,,,\n",
        more_purchases=BILLS + "2026-03-03,R-3,nail,hardware,10,each,-10,,,,\n"
        "2026-03-03,R-3,hook,hardware,10,each,-20,,,,\n2026-03-03,R-3,freight,overhead,,,-6,,,,\n",
    )
    cash = "select cash_in_cents, cash_out_cents, result_cents from money.month order by month"
    assert ask(con, cash) == [(0, 28040, -20000), (800, 0, 0), (0, 3600, 0)]
    landed = dict(ask(con, "select item, landed_cents from cost.lot"))
    assert landed == {"hinge": 4840 - 800, "oil": 3200, "nail": 1200, "hook": 2400}
    assert asked(con) == []


def test_a_bill_that_no_habit_explains_is_asked_about(books: Books) -> None:
    """One of three has a minus beside a quantity; two alone may be credits; of four, one has none. Asked a file."""
    head = "date,item,category,quantity,unit,amount\n"
    con = books(
        SHOP + "opening_cash = 1000\n",
        purchases=head + "2026-01-03,hinge,hardware,10,each,40\n2026-01-04,oil,finish,1,l,30\n"
        "2026-01-05,hook,hardware,4,each,-8\n2026-01-05,rent,overhead,,,-20\n",
        few_purchases=head + "2026-02-03,hinge,hardware,10,each,-40\n2026-02-04,rent,overhead,,,-200\n",
        four_purchases=head + "2026-03-03,hinge,hardware,10,each,-40\n2026-03-04,oil,finish,1,l,-30\n"
        "2026-03-05,rent,overhead,,,-200\n2026-03-06,rent,overhead,,,50\n",
    )
    assert asked(con) == ["asked: sign-bill"]
    assert ask(con, "select file, rows from intake.question_file order by file") == [
        ("inbox/few_purchases.csv", 2),
        ("inbox/four_purchases.csv", 1),
        ("inbox/purchases.csv", 1),
    ]
    cash = "select cash_in_cents, cash_out_cents from money.month order by month"
    assert ask(con, cash)[2] == (5000, 27000)
