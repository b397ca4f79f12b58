"""What a receipt's own words say of where it belongs: a pool, a machine, a market. All reckoned by hand."""

from collections.abc import Callable
from typing import Any

import duckdb
import pytest

Books = Callable[..., duckdb.DuckDBPyConnection]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'
POOL = '[[pools]]\nname = "{}"\nsource = "{}"\namount = {}\n'
BILL = "date,receipt,item,supplier,category,amount,pool,machine\n2026-01-05,R-1,{},{},overhead,90,{},{}\n"


def ask(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def went(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    return ask(con, "select to_place, item, cents, assumed from cost.trace where from_place = 'receipt'")


@pytest.mark.parametrize(
    ("item", "supplier", "pool", "found"),
    [
        ("Electricity", "City Works", "", ("pool", "electricity", 9000, True)),
        ("bill of May", "Electricity", "", ("pool", "electricity", 9000, True)),
        ("electricity for May", "City Works", "", ("pool", "electricity", 9000, True)),
        # its cell says so
        ("bill", "", "electricity", ("pool", "electricity", 9000, False)),
        # the longer name is the one that is meant
        ("hall electricity for May", "", "", ("pool", "hall electricity", 9000, True)),
        # a word that only begins like it, and two pools that fit alike
        ("electricityless", "City Works", "", ("period", "electricityless", 9000, False)),
        ("water and light", "", "", ("period", "water and light", 9000, False)),
        # a machine's own receipts
        ("band saw", "", "", ("pool", "band saw", 9000, True)),
        # what a monthly amount stands for is paid by the receipt, and no cost twice
        ("Rent", "Landlord", "", ("setting", "rent", 9000, True)),
    ],
)
def test_an_overhead_receipt_that_names_a_pool_is_that_pools(
    books: Books, item: str, supplier: str, pool: str, found: tuple[str, str, int, bool]
) -> None:
    toml = SHOP + "".join(
        POOL.format(name, "receipts", 0) for name in ("electricity", "hall electricity", "water", "light")
    )
    toml += POOL.format("rent", "amount", 90) + '[[machines]]\nname = "band saw"\n'
    con = books(toml, purchases=BILL.format(item, supplier, pool, ""))
    [(place, what, cents, assumed)] = went(con)
    assert (place, what.lower(), cents, assumed) == found


def test_rent_is_a_cost_of_its_month_once(books: Books) -> None:
    """90.00 a month, and the receipt for it: 90.00 not absorbed in January, as there is no work."""
    con = books(SHOP + POOL.format("rent", "amount", 90), purchases=BILL.format("Rent", "Landlord", "", ""))
    assert ask(con, "select sum(cents)::bigint from cost.trace where to_place = 'period'") == [(9000,)]
    # the month's amount is owed, and the receipt pays it: 90.00 go out of the till, not 180.00
    assert ask(con, "select cents from money.cash_month where line = 'cash'") == [(-9000,)]


def test_a_booths_receipt_makes_the_event_though_nothing_was_sold(books: Books) -> None:
    con = books(SHOP, purchases="date,receipt,item,category,amount,event\n2026-03-07,R-1,booth,selling,60,SPRING\n")
    events = ask(con, "select event, on_date::varchar, taken_cents, booth_cents, result_cents from money.event")
    assert events == [("SPRING", "2026-03-07", 0, 6000, -6000)]
