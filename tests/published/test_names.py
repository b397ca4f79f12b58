"""What a receipt's own words say of where it belongs: a pool, a machine, a market. All reckoned by hand."""

from collections.abc import Callable
from typing import Any

from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'
POOL = '[[pools]]\nname = "{}"\nsource = "{}"\namount = {}\n'
BILLS = "date,receipt,item,supplier,category,amount,pool\n"


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def test_an_overhead_receipt_that_names_a_pool_is_that_pools(books: Books) -> None:
    bills = [  # item, supplier, pool; where it goes, under which name, and whether that is assumed
        ("Electricity", "City Works", "", ("pool", "electricity", True)),
        ("bill of May", "Electricity", "", ("pool", "electricity", True)),
        ("electricity for May", "City Works", "", ("pool", "electricity", True)),
        # its cell says so
        ("bill", "", "electricity", ("pool", "electricity", False)),
        # the longer name is the one that is meant
        ("hall electricity for May", "", "", ("pool", "hall electricity", True)),
        # a word that only begins like it, and two pools that fit alike
        ("electricityless", "City Works", "", ("period", "electricityless", False)),
        ("water and light", "", "", ("period", "water and light", False)),
        # a machine's own receipts
        ("band saw", "", "", ("pool", "band saw", True)),
        # what a monthly amount stands for is paid by the receipt, and no cost twice
        ("Rent", "Landlord", "", ("setting", "rent", True)),
    ]
    toml = SHOP + "".join(
        POOL.format(name, "receipts", 0) for name in ("electricity", "hall electricity", "water", "light")
    )
    toml += POOL.format("rent", "amount", 90) + '[[machines]]\nname = "band saw"\n'
    # of 90.00, 91.00 and so on, so that each can be told
    rows = [f"2026-01-05,R-{n},{item},{who},overhead,{n},{pool}\n" for n, (item, who, pool, _) in enumerate(bills, 90)]
    con = books(toml, purchases=BILLS + "".join(rows))
    went = ask(con, "select to_place, lower(item), assumed from cost.trace where from_place = 'receipt' order by cents")
    assert went == [found for *_, found in bills]
    amounts = ask(con, "select cents from cost.trace where from_place = 'receipt' order by cents")
    assert amounts == [(100 * n,) for n in range(90, 99)]


def test_rent_is_a_cost_of_its_month_once(books: Books) -> None:
    """90.00 a month, and the receipt for it: 90.00 not absorbed in January, as there is no work."""
    con = books(
        SHOP + POOL.format("rent", "amount", 90), purchases=BILLS + "2026-01-05,R-1,Rent,Landlord,overhead,90,\n"
    )
    assert ask(con, "select sum(cents)::bigint from cost.trace where to_place = 'period'") == [(9000,)]
    # the month's amount is owed, and the receipt pays it: 90.00 go out of the till, not 180.00
    assert ask(con, "select cents from money.cash_month where line = 'cash'") == [(-9000,)]


def test_a_booths_receipt_makes_the_event_though_nothing_was_sold(books: Books) -> None:
    con = books(SHOP, purchases="date,receipt,item,category,amount,event\n2026-03-07,R-1,booth,selling,60,SPRING\n")
    events = ask(con, "select event, on_date::varchar, taken_cents, booth_cents, result_cents from money.event")
    assert events == [("SPRING", "2026-03-07", 0, 6000, -6000)]


def test_no_piece_is_paid_for_being_made_by_a_credit_above_all_bills(books: Books) -> None:
    """Reckoned by hand: 90.00 of light and 500.00 back, so no rate; what came back is a gain of its month.

    The scrapped piece's month allows a share of good pieces that cost less than nothing: none of the scrap.
    """
    con = books(
        SHOP + "normal_scrap = 0.1\nnormal_rework = 0.1\n" + POOL.format("light", "receipts", 0),
        pieces="piece,product,started,finished,status\nT-1,tray,2026-01-10,2026-01-20,\nT-2,tray,2026-01-10,,scrapped\n",
        hours="date,person,operation,hours,pieces,rework\n2026-01-12,Ada,sanding,1,T-1,\n2026-01-13,Ada,sanding,1,T-1,yes\n"
        "2026-01-14,Ada,sanding,1,T-2,\n",
        purchases="date,receipt,item,category,amount\n2026-01-05,R-1,light,overhead,90\n2026-01-06,R-2,light,overhead,-500\n",
    )
    assert ask(
        con, "select sum(cents)::bigint from cost.trace where layer = 'overhead' and 'piece' in (to_place, from_place)"
    ) == [(None,)]
    assert ask(con, "select not_absorbed_cents from money.pool_month where pool = 'light'") == [(-41000,)]
    assert ask(con, "select min(made_cents) >= 0 from cost.piece") == [(True,)]
