"""Fees of a channel that no setting says, and resin in units that can't be weighed. All reckoned by hand."""

from collections.abc import Callable
from typing import Any

import duckdb
import pytest

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
