"""Cash counts once, however many files tell of it, from files to the month. Reckoned by hand, but for what is named.

OSX-F is Franklin, Graybeal and Cooper, "Principles of Accounting", volume 1 (Financial), OpenStax, CC BY-NC-SA 4.0.
"""

from collections.abc import Callable
from typing import Any

import pytest

from pipeline.reports.not_looked_at import not_looked_at
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "EUR"\nstart = 2026-01-01\n'
PIECES = "piece,product,quantity,finished,status,opening_cost\nA,bowl,50,2026-01-02,finished,0\n"
CASH = "select cash_end_cents from money.month order by month"
NET = "select revenue_cents + refund_cents from money.month order by month"


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def sold(*rows: str) -> str:
    head = "date,channel,event,piece,quantity,price,channel_fee,shipping_paid,order_no\n"
    return head + "".join(f"{row}\n" for row in rows)


def paid(*rows: str) -> str:
    return "date,kind,amount,order_no,receipt,event,note\n" + "".join(f"{row}\n" for row in rows)


def questions(con: AsAsked) -> int:
    return ask(con, "select count(distinct payment_id) from money.twin where not sure")[0][0]


def test_an_allowance_lessens_the_revenue_of_its_day(books: Books) -> None:
    """OSX-F 6.4: an allowance for damage, paid back in cash, is a contra to revenue on its own day."""
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold("2026-01-10,shop,,A,5,60,,,"),
        payments=paid("2026-02-03,refund,100,,,,"),
    )
    assert ask(con, NET) == [(30000,), (-10000,)]
    assert ask(con, "select refund_cents from money.month order by month") == [(0,), (-10000,)]
    assert ask(con, CASH) == [(30000,), (20000,)]
    assert ask(con, "select customers_owe_cents from money.month order by month") == [(0,), (0,)]


def test_one_allowance_changes_no_earlier_return(books: Books) -> None:
    """Two come back in January for cash that no payment tells; 15 given back in February for a scratch."""
    rows = ("2026-01-10,shop,,A,5,60,,,", "2026-01-20,shop,,A,-2,60,,,")
    without = books(SHOP, pieces=PIECES, sales=sold(*rows))
    assert ask(without, CASH) == [(18000,)]
    con = books(SHOP, pieces=PIECES, sales=sold(*rows), payments=paid("2026-02-03,refund,15,,,,"))
    assert ask(con, CASH) == [(18000,), (16500,)]
    assert ask(con, NET) == [(18000,), (-1500,)]


def test_a_refund_is_the_twin_of_what_came_back_for_it(books: Books) -> None:
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold("2026-01-10,shop,,A,5,60,,,", "2026-01-20,shop,,A,-2,60,,,", "2026-01-22,shop,,A,-1,60,,,"),
        payments=paid("2026-01-23,refund,120,,,,"),
    )
    assert ask(con, NET) == [(12000,)]
    assert ask(con, CASH) == [(12000,)]  # 300 - 120 by the refund - 60 on the day
    assert questions(con) == 0


def test_less_than_what_came_back_cost_is_asked_about_and_of_another_market_no_twin(books: Books) -> None:
    """20 came back in January, and in February 10 were given back: perhaps for that; at a market, not."""
    rows = ("2026-01-10,shop,,A,3,20,,,", "2026-01-20,shop,,A,-1,20,,,", "2026-02-08,shop,FAIR,A,1,100,,,")
    con = books(SHOP, pieces=PIECES, sales=sold(*rows), payments=paid("2026-02-09,refund,10,,,,"))
    assert questions(con) == 1
    con = books(SHOP, pieces=PIECES, sales=sold(*rows), payments=paid("2026-02-09,refund,10,,,FAIR,"))
    assert ask(con, NET) == [(4000,), (9000,)]
    assert ask(con, CASH) == [(4000,), (13000,)]


def test_an_allowance_on_an_order_that_was_paid(books: Books) -> None:
    """300 paid in full, 45 given back for a crack, and the bowl stays with its buyer."""
    con = books(
        SHOP,
        pieces=PIECES,
        orders="order_no,date,channel\nO-1,2026-01-02,shop\n",
        sales=sold("2026-01-10,shop,,A,1,300,,,O-1"),
        payments=paid("2026-01-03,deposit,100,O-1,,,", "2026-01-10,balance,200,O-1,,,", "2026-02-05,refund,45,O-1,,,"),
    )
    assert ask(con, NET) == [(30000,), (-4500,)]
    assert ask(con, CASH) == [(30000,), (25500,)]
    assert ask(con, "select customers_owe_cents, deposits_owed_cents from money.month order by month") == [(0, 0)] * 2


@pytest.mark.parametrize("balance", ["", "2026-01-10,balance,240,O-1,,,"])
def test_goods_back_on_an_order_are_no_allowance(books: Books, balance: str) -> None:
    con = books(
        SHOP,
        pieces=PIECES,
        orders="order_no,date,channel\nO-1,2026-01-02,shop\n",
        sales=sold("2026-01-10,shop,,A,1,300,,,O-1", "2026-01-20,shop,,A,-1,300,,,O-1"),
        payments=paid("2026-01-03,deposit,60,O-1,,,", *([balance] if balance else []), "2026-01-22,refund,300,O-1,,,"),
    )
    assert ask(con, NET) == [(0,)]
    assert ask(con, CASH) == [(0,)]


def test_a_deposit_paid_back_is_no_allowance(books: Books) -> None:
    con = books(
        SHOP,
        orders="order_no,date,channel,cancelled\nO-1,2026-01-02,shop,2026-01-09\n",
        payments=paid("2026-01-03,deposit,60,O-1,,,", "2026-01-10,refund,60,O-1,,,"),
    )
    assert ask(con, NET) == [(0,)]
    assert ask(con, CASH) == [(0,)]


def test_a_voucher_is_no_cash(books: Books) -> None:
    """Sold for 50; a bowl of 80 is paid with it and 30 in coins: in January on the day, in February a day late.

    In March the voucher is worth more than the day's takings: it takes no cash away, and its buyer is owed the 20.
    """
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold("2026-01-10,shop,,A,1,80,,,", "2026-02-10,shop,,A,1,80,,,", "2026-03-10,shop,,A,1,30,,,"),
        payments=paid(
            *("2026-01-04,voucher sold,50,,,,", "2026-01-10,voucher used,50,,,,"),
            *("2026-02-04,voucher sold,50,,,,", "2026-02-11,voucher used,50,,,,"),
            *("2026-03-04,voucher sold,50,,,,", "2026-03-10,voucher used,50,,,,"),
        ),
    )
    query = "select cash_in_cents, cash_out_cents, vouchers_owed_cents, customers_owe_cents from money.month"
    assert ask(con, f"{query} order by month") == [(8000, 0, 0, 0), (8000, 0, 0, 0), (5000, 0, 0, -2000)]
    assert ask(con, CASH) == [(8000,), (16000,), (21000,)]


def test_a_months_amount_and_its_bank_line_are_one(books: Books) -> None:
    pool = '[[pools]]\nname = "rent"\namount = 400\n'
    con = books(
        SHOP + "opening_cash = 1000\n" + pool,
        payments=paid("2026-01-03,supplier,400,,,,rent January", "2026-02-02,supplier,400,,,,"),
    )
    assert ask(con, CASH) == [(60000,), (20000,)]
    assert ask(con, "select bills_owed_cents, cash_assumed_cents from money.month order by month") == [(0, 0), (0, 0)]
    assert ask(con, "select kind, sure from money.twin") == [("pool", True)] * 2


def test_a_receipt_and_its_bank_line_are_one_and_other_receipts_stay_paid(books: Books) -> None:
    con = books(
        SHOP + "opening_cash = 1000\n",
        purchases="date,receipt,supplier,item,category,quantity,unit,amount,freight\n"
        "2026-01-05,R-1,North,screw,hardware,10,each,100,8\n2026-01-05,R-1,North,hinge,hardware,10,each,50,\n"
        "2026-01-06,R-2,South,oil,finish,1,l,40,\n",
        payments=paid("2026-01-08,supplier,158,,,,"),
    )
    assert ask(con, "select cash_end_cents, bills_owed_cents from money.month") == [(80200, 0)]


def test_takings_and_their_paying_in_are_one(books: Books) -> None:
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold(
            "2026-01-30,market,SPRING,A,2,60,,,", "2026-01-30,market,SPRING,A,1,55,,,", "2026-01-12,shop,,A,1,40,,,"
        ),
        payments=paid("2026-02-02,payout,175,,,,paid in"),
    )
    # 40 in the till in January, 175 owed until it is on the account
    assert ask(con, CASH) == [(4000,), (21500,)]
    assert ask(con, "select customers_owe_cents from money.month order by month") == [(17500,), (0,)]
    assert questions(con) == 0


def test_a_payout_net_of_fees_and_postage_and_its_sales_are_one(books: Books) -> None:
    """Two at 60 less 6 of fees and 5.50 of postage each: 97; another the day after, not yet paid out."""
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold(*(f"2026-01-{day},web,,A,1,60,6,5.50," for day in (10, 11)), "2026-01-30,web,,A,1,60,6,5.50,"),
        payments=paid("2026-01-14,payout,97,,,,web"),
    )
    assert ask(con, "select cash_end_cents + 550, customers_owe_cents, selling_cents from money.month") == [
        (9700, 5400, 3450)
    ]


def test_two_markets_in_one_deposit(books: Books) -> None:
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold(
            "2026-01-10,market,EAST,A,2,61,,,", "2026-01-11,market,WEST,A,1,47,,,", "2026-01-11,shop,,A,1,20,,,"
        ),
        payments=paid("2026-01-13,payout,169,,,,"),
    )
    assert ask(con, "select cash_end_cents, customers_owe_cents from money.month") == [(18900, 0)]
    assert questions(con) == 0


def test_what_could_be_either_is_asked_about(books: Books) -> None:
    con = books(
        SHOP,
        pieces=PIECES,
        sales=sold("2026-01-10,market,EAST,A,1,60,,,", "2026-01-10,market,WEST,A,1,60,,,"),
        payments=paid("2026-01-13,payout,60,,,,"),
    )
    assert ask(con, "select cash_end_cents, customers_owe_cents from money.month") == [(12000, 0)]
    assert questions(con) == 1


STATEMENT = "date,kind,amount,balance,note\n"


def test_a_running_balance_proves_cash_month_by_month(books: Books) -> None:
    """Rows of a day in any order: 500 at the start, 60 paid in and 100 of rent out in January, 12 in February."""
    rows = "2026-01-30,supplier,-100,460,rent\n2026-01-30,payout,60,560,\n2026-02-05,supplier,-12,448,\n"
    given = {
        "pieces": PIECES,
        "sales": sold("2026-01-28,market,SPRING,A,1,60,,,"),
        "purchases": "date,receipt,item,category,quantity,unit,amount\n2026-02-04,R-1,oil,finish,1,l,12\n",
        "payments": STATEMENT + rows,
    }
    settings = SHOP + 'opening_cash = 500\n[[pools]]\nname = "rent"\namounts = [{ from = 2026-01-01, amount = 100 },'
    settings += " { from = 2026-02-01, amount = 0 }]\n"
    con = books(settings, **given)
    query = "select statement_cents, books_cash_cents from money.cash_proof order by month"
    assert ask(con, query) == [(46000, 46000), (44800, 44800)]
    assert ask(con, "select rows from checks.result where name = 'cash_differs'") == [(0,)]
    assert not [line for line in not_looked_at(con) if "cash" in line]
    # a sale for which no money came: cash is above the bank from February on
    con = books(settings, **given | {"sales": sold("2026-01-28,market,SPRING,A,1,60,,,", "2026-02-03,shop,,A,1,25,,,")})
    ((example,),) = ask(con, "select example from checks.result where name = 'cash_differs'")
    assert '"month":"2026-02-01"' in example and '"differs_cents":2500' in example


def test_months_that_no_balance_proves_are_counted(books: Books) -> None:
    con = books(
        SHOP + "opening_cash = 500\n",
        pieces=PIECES,
        sales=sold("2026-01-28,market,SPRING,A,1,60,,,", "2026-03-02,market,,A,1,60,,,"),
        payments=STATEMENT + "2026-01-30,payout,60,560,\n",
    )
    assert [line for line in not_looked_at(con) if "cash" in line] == [
        "Not looked at: cash of 2 of 3 months, at whose end no bank balance stands in the records."
    ]
