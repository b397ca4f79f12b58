"""How long pieces wait for a buyer, from files; reckoned by hand."""

from collections.abc import Callable

from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'


def test_what_was_made_to_order_waited_for_nobody(books: Books) -> None:
    """Seven trays of 1 March: two wait 10 and 20 days and one is unsold. Of those with an order one was ordered before
    it was made, one's order was called off and it is still there, one was only ordered when it had stood for 15 days;
    and one was handed over before it was finished."""
    con = books(
        SHOP,
        orders="order_no,date,product,cancelled\nO-1,2026-02-01,tray,\nO-2,2026-02-01,tray,2026-02-20\n"
        "O-3,2026-03-16,tray,\n",
        pieces="piece,product,started,finished,order_no\n"
        "T-1,tray,2026-02-10,2026-03-01,\nT-2,tray,2026-02-10,2026-03-01,\nT-3,tray,2026-02-10,2026-03-01,\n"
        "T-4,tray,2026-02-10,2026-03-01,O-1\nT-5,tray,2026-02-10,2026-03-01,O-2\n"
        "T-6,tray,2026-02-10,2026-03-01,O-3\nT-7,tray,2026-02-10,2026-03-01,\n",
        sales="date,piece,channel,price\n2026-03-11,T-1,web,50\n2026-03-21,T-2,web,50\n2026-03-04,T-4,web,80\n"
        "2026-03-16,T-6,web,50\n2026-02-25,T-7,web,60\n",
        hours="date,person,hours,operation\n2026-03-31,,1,sweeping\n",
    )
    ordered = con.execute("select piece from price.history where made_to_order order by piece").fetchall()
    assert ordered == [("T-4",), ("T-7",)]
    query = "select pieces, sold_pieces, ordered_pieces, median_days from price.sell_time where factor = 'product'"
    # 10, 15 and 20 days of five: the third takes it to two in five
    assert con.execute(query).fetchall() == [(5, 3, 2, 20)]
