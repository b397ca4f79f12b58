"""Tax in sales, from files to what is owed. 121 with VAT of 21 % in it is 100 and 21: council directive 2006/112/EC,
articles 73 and 78 (the taxable amount is without the tax itself, and has in it what the buyer pays for transport).
Reckoned by hand.
"""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

from pipeline.reports.check import findings
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

VAT = 'name = "Example"\ncurrency = "EUR"\nstart = 2026-01-01\ntax_regime = "vat"\n'
RATE = "[[tax_rates]]\nrates = [{ from = 2025-01-01, rate = 0.21 }, { from = 2026-02-01, rate = 0.25 }]\n"
RATE += '[[tax_rates]]\ncategory = "board"\nrate = 0.09\n'
HOLDS = '[[channels]]\nname = "market"\nprices_hold_tax = true\n'
PIECES = "piece,product,quantity,finished,status,opening_cost\nA,bowl,50,2026-01-02,finished,0\n"
PIECES += "B,board,50,2026-01-02,finished,0\n"
MONTH = "select revenue_cents + refund_cents, tax_owed_cents, cash_end_cents from money.month order by month"


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def sold(*rows: str) -> str:
    head = "date,channel,piece,quantity,price,discount,shipping_charged,sales_tax\n"
    return head + "".join(f"{row}\n" for row in rows)


def test_prices_that_hold_the_tax_are_parted(books: Books) -> None:
    sales = {  # a month's sale → revenue, tax, and cash of it
        "2025-01-10,market,A,1,121,,,": (10000, 2100, 12100),  # in the price
        "2025-02-10,market,A,1,121,,12.10,": (11000, 2310, 13310),  # on the postage too
        "2025-03-10,market,A,2,121,121,,": (10000, 2100, 12100),  # of what was left of the price
        "2025-04-10,market,A,3,10,,,": (2479, 521, 3000),  # a cent that no price of each takes
        "2025-05-10,market,A,1,121,,,11": (11000, 1100, 12100),  # what a file states stands
        "2025-06-10,market,B,1,109,,,": (10000, 900, 10900),  # at the rate of its product
        "2025-07-10,shop,A,1,100,,10,": (11000, 2310, 13310),  # on top of a price before tax
        "2025-08-10,market,A,1,121,,,0": (12100, 0, 12100),  # no tax, as stated
    }
    con = books(VAT.replace("2026", "2025") + HOLDS + RATE, pieces=PIECES.replace("2026", "2025"), sales=sold(*sales))
    months = [(0, 0, 0), *ask(con, MONTH)]
    of_each = [(revenue, tax - owed, cash - held) for (_, owed, held), (revenue, tax, cash) in pairwise(months)]
    assert of_each == list(sales.values())
    assert not [f for f in findings(con) if f.kind == "sale_without_tax"]


def test_a_rate_is_that_of_the_day_and_goes_back_with_what_came_back(books: Books) -> None:
    rows = ("2026-01-10,market,A,1,121,,,", "2026-01-20,market,A,-1,121,,,", "2026-02-10,market,A,1,125,,,")
    con = books(VAT + HOLDS + RATE, pieces=PIECES, sales=sold(*rows))
    assert ask(con, MONTH) == [(0, 0, 0), (10000, 2500, 12500)]


def test_what_came_back_gives_back_the_tax_of_its_sale(books: Books) -> None:
    """2006/112/EC, article 90: the taxable amount of the sale is reduced. Sold at 121 with 21 % in January and at 125
    with 25 % in February; in March the one of 121 comes back, then one of 125, then a board never sold there."""
    rows = ("2026-01-10,market,A,1,121,,,", "2026-02-10,market,A,1,125,,,", "2026-03-01,market,A,-1,121,,,")
    more = ("2026-04-01,market,A,-1,125,,,", "2026-05-01,market,B,-1,109,,,")
    con = books(VAT + HOLDS + RATE, pieces=PIECES, sales=sold(*rows, *more))
    net = [(10000, 2100), (10000, 4600), (-10000, 2500), (-10000, 0), (-10000, -900)]
    assert [row[:2] for row in ask(con, MONTH)] == net


def test_tax_that_the_channel_pays_is_parted_and_never_ours(books: Books) -> None:
    holds = HOLDS + 'tax_by = "channel"\n'
    con = books(VAT + holds + RATE, pieces=PIECES, sales=sold("2026-01-10,market,A,1,121,,,"))
    assert ask(con, MONTH) == [(10000, 0, 10000)]


def test_without_a_column_and_a_rate_check_says_which_channel_sold_without_tax(books: Books) -> None:
    rows = ("2026-01-10,market,A,1,121,,,", "2026-01-11,market,A,1,121,,,", "2026-01-12,shop,A,1,100,,,21")
    con = books(VAT + HOLDS, pieces=PIECES, sales=sold(*rows))
    assert [f.what for f in findings(con) if f.kind == "sale_without_tax"] == ["market: 2 sales without tax"]


def test_where_there_is_no_tax_nothing_is_parted(books: Books) -> None:
    none = VAT.replace("vat", "none")
    con = books(none + HOLDS + RATE, pieces=PIECES, sales=sold("2026-01-10,market,A,1,121,,,"))
    assert ask(con, MONTH) == [(12100, 0, 12100)]
