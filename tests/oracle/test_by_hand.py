"""Small shops whose trace is worked out on paper: shop work, turns of lots, goods sent back, salvage of scrap."""

from datetime import date

import duckdb
from shops import MadeShop, Rows
from test_books import assert_agree

HEAD = """start = 2026-01-01
normal_scrap = 0.5
[[people]]
name = "Ada"
rate = 30
[[people]]
name = "Ben"
role = "employee"
paid = true
rate = 20
"""


def published(toml: str, **rows: Rows) -> duckdb.DuckDBPyConnection:
    """The trace of the shop, with which the oracle agrees."""
    return assert_agree(MadeShop(HEAD + toml, rows))


def moved(con: duckdb.DuckDBPyConnection, where: str, what: str = "piece, layer, origin") -> dict[object, int]:
    rows = con.execute(f"select {what}, sum(cents)::bigint from cost.trace where {where} group by all").fetchall()
    return {row[:-1] if len(row) > 2 else row[0]: row[-1] for row in rows}


def test_own_pay_for_cleaning_stays_own_pay_in_the_pieces() -> None:
    hours = [
        {"date": "2026-01-10", "hours": "10", "operation": "assembly", "pieces": "T-1", "person": "Ada"},
        {"date": "2026-01-11", "hours": "5", "operation": "assembly", "pieces": "T-2", "person": "Ben"},
        {"date": "2026-01-12", "hours": "2", "operation": "cleaning", "person": "Ada"},
        {"date": "2026-01-13", "hours": "1", "operation": "cleaning", "person": "Ben"},
        {"date": "2026-01-14", "hours": "1", "operation": "office", "person": "Ada"},
    ]
    pieces = [{"piece": tag, "product": "board", "started": "2026-01-05"} for tag in ("T-1", "T-2")]
    pool = '[[pools]]\nname = "rent"\namount = 100\noperations = ["cleaning"]\n'
    con = published(pool, pieces=pieces, hours=hours)
    # rent 100.00, Ada's 60.00 and Ben's 20.00 are 180.00 for 15 bench hours: 120.00 on T-1, 60.00 on T-2
    # 80 of 180 are pay: 53.33 on T-1, three quarters of it Ada's; T-2 has what is left
    assert moved(con, "from_place = 'pool' and to_place = 'piece'") == {
        ("T-1", "overhead", "overhead"): 6667,
        ("T-1", "overhead", "labour"): 1333,
        ("T-1", "overhead", "own labour"): 4000,
        ("T-2", "overhead", "overhead"): 3333,
        ("T-2", "overhead", "labour"): 667,
        ("T-2", "overhead", "own labour"): 2000,
    }
    # no pool names the office
    assert moved(con, "to_place = 'period'", "operation") == {"office": 3000}
    assert con.execute("select own_labour_cents from cost.piece order by piece").fetchall() == [(34000,), (2000,)]


def test_packing_and_cleaning_that_name_a_piece_are_no_cost_of_it() -> None:
    hours = [
        {"date": "2026-01-10", "hours": "2", "operation": "assembly", "pieces": "T-1", "person": "Ada"},
        {"date": "2026-01-12", "hours": "1", "operation": "packing", "pieces": "T-1", "person": "Ada"},
        {"date": "2026-01-12", "hours": "3", "operation": "cleaning", "pieces": "T-1", "person": "Ben"},
    ]
    pieces = [{"piece": "T-1", "product": "board", "started": "2026-01-05", "finished": "2026-01-11"}]
    con = published("", pieces=pieces, hours=hours)
    # two hours at the bench; an hour of packing and three of cleaning are costs of their month
    assert moved(con, "from_place = 'labour'", "to_place, operation") == {
        ("piece", "assembly"): 6000,
        ("period", "packing"): 3000,
        ("period", "cleaning"): 6000,
    }
    assert con.execute("select made_cents, hours from cost.piece").fetchall() == [(6000, 2)]


def test_what_a_budgeted_rate_leaves_of_cleaning_is_a_cost_of_the_month_by_origin() -> None:
    hours = [
        {"date": "2026-01-10", "hours": "10", "operation": "assembly", "pieces": "T-1", "person": "Ada"},
        {"date": "2026-01-12", "hours": "2", "operation": "cleaning", "person": "Ada"},
    ]
    pieces = [{"piece": "T-1", "product": "board", "started": "2026-01-05"}]
    pool = '[[pools]]\nname = "rent"\namount = 100\noperations = ["cleaning"]\nbasis = "budget"\nrate = 12\n'
    con = published(pool, pieces=pieces, hours=hours)
    # 10 hours at 12.00 are 120.00, of a pool of 160.00 with 60.00 of own pay in it: 60 of 160 is 45.00
    assert moved(con, "from_place = 'pool' and to_place = 'piece'", "origin") == {"overhead": 7500, "own labour": 4500}
    assert moved(con, "to_place = 'period'", "origin") == {"overhead": 2500, "own labour": 1500}
    assert moved(con, "to_place = 'period'", "on_date") == {date(2026, 1, 31): 4000}


def hinges(day: str, quantity: int, amount: str, **more: str) -> dict[str, str]:
    row = {"date": day, "receipt": f"R-{day}-{amount}", "item": "brass hinge", "category": "hardware", "unit": "each"}
    return row | {"quantity": str(quantity), "amount": amount} | more


def test_what_goes_back_comes_off_the_latest_purchase_then_off_the_one_before() -> None:
    bought = [
        hinges("2026-01-02", 10, "20.00"),
        hinges("2026-01-05", 4, "12.00"),
        # 6 go back for 9.00: all 4 of the latest, which cost 12.00, and 2 of the one before, which cost 4.00
        hinges("2026-01-08", -6, "-9.00"),
        hinges("2026-01-20", 5, "5.00"),
    ]
    used = [{"date": "2026-01-25", "item": "brass hinge", "quantity": "8", "unit": "each", "pieces": "T-1"}]
    pieces = [{"piece": "T-1", "product": "board", "started": "2026-01-05"}]
    con = published("", purchases=bought, usage=used, pieces=pieces)
    # 12.00 was paid for the four and 6.75 came back, 12 of 16 parts: the other 5.25 are lost that day
    assert moved(con, "to_place = 'waste'", "on_date") == {date(2026, 1, 8): 525}
    # ten less two for 20.00 less 2.25 is what the eight cost; the five bought later are on the shelf
    assert moved(con, "to_place = 'piece'", "piece") == {"T-1": 1775}
    assert con.execute("select bought_on, bought, on_hand, on_hand_cents from cost.lot order by all").fetchall() == [
        (date(2026, 1, 2), 8000, 0, 0),
        (date(2026, 1, 5), 0, 0, 0),
        (date(2026, 1, 20), 5000, 5000, 500),
    ]


def test_what_nobody_bought_can_only_lessen_the_losses() -> None:
    bought = [
        hinges("2026-01-02", 4, "12.00", lot="L-1"),
        # the lot holds 4 of the 6; nothing was bought before it
        hinges("2026-01-08", -6, "-18.00", returns="L-1"),
    ]
    con = published("", purchases=bought)
    assert moved(con, "from_place = 'waste'", "to_place") == {"receipt": 600}
    assert con.execute("select bought, on_hand, on_hand_cents from cost.lot").fetchall() == [(0, 0, 0)]


def test_what_was_there_at_the_start_goes_before_what_was_bought_that_day() -> None:
    opening = {"date": "2026-01-02", "item": "brass hinge", "category": "hardware", "quantity": "4", "unit": "each"}
    used = [{"date": "2026-01-02", "item": "brass hinge", "quantity": "6", "unit": "each", "pieces": "T-1"}]
    con = published(
        "",
        # 2 of the 6 bought at 2.00 go back the same day
        purchases=[hinges("2026-01-02", 6, "12.00"), hinges("2026-01-02", -2, "-4.00")],
        counts=[opening | {"worth": "4.00"}],
        usage=used,
        pieces=[{"piece": "T-1", "product": "board", "started": "2026-01-02"}],
    )
    # four at 1.00, then two at 2.00; two at 2.00 are left
    assert moved(con, "to_place = 'piece'", "piece") == {"T-1": 800}
    assert con.execute("select sum(on_hand), sum(on_hand_cents) from cost.lot").fetchall() == [(2000, 400)]


SCRAP = {"piece": "T-1", "product": "board", "started": "2026-01-05", "status": "scrapped", "ended": "2026-01-20"}
GOOD = {"piece": "T-2", "product": "board", "started": "2026-01-05", "finished": "2026-01-25", "status": "finished"}
SAVED = {"item": "brass hinge", "category": "hardware", "quantity": "4", "unit": "each", "piece": "T-1"}


def test_what_is_saved_from_scrap_comes_off_it_before_the_good_pieces_take_it() -> None:
    # five spoiled units at 2,000 with a disposal price of 600 each: 10,000 out of the job, 3,000 salvage, 7,000 net
    # (Datar & Rajan, Horngren's Cost Accounting, 16th ed., ch. 18, spoilage in job costing); a hundredth of it here
    bought = [hinges("2026-01-02", 10, "100.00"), hinges("2026-01-03", 10, "300.00")]
    used = [
        {"date": "2026-01-10", "item": "brass hinge", "quantity": "10", "unit": "each", "pieces": "T-1"},
        {"date": "2026-01-10", "item": "brass hinge", "quantity": "10", "unit": "each", "pieces": "T-2"},
        {"date": "2026-02-10", "item": "brass hinge", "quantity": "4", "unit": "each", "pieces": "T-3"},
    ]
    later = {"piece": "T-3", "product": "board", "started": "2026-02-01"}
    con = published(
        "",
        purchases=bought,
        usage=used,
        pieces=[SCRAP, GOOD, later],
        counts=[SAVED | {"date": "2026-01-20", "worth": "30.00"}],
    )
    # the first ten cost 100.00; 30.00 of it goes back to the shelf, 70.00 is scrap, all within half of 300.00
    assert moved(con, "piece = 'T-1' and to_place = 'stock'", "from_place") == {"piece": 3000}
    assert moved(con, "layer = 'spoilage'", "to_place, piece") == {("piece", "T-2"): 7000}
    assert moved(con, "piece = 'T-3'", "from_place") == {"stock": 3000}
    assert moved(con, "to_place = 'waste'", "from_place") == {}


def test_salvage_beyond_the_wood_in_it_leaves_own_pay_for_last() -> None:
    bought = [hinges("2026-01-02", 10, "20.00")]
    used = [{"date": "2026-01-10", "item": "brass hinge", "quantity": "10", "unit": "each", "pieces": "T-1"}]
    hours = [
        {"date": "2026-01-10", "hours": "1", "operation": "assembly", "pieces": "T-1", "person": "Ben"},
        {"date": "2026-01-11", "hours": "1", "operation": "assembly", "pieces": "T-1", "person": "Ada"},
    ]
    con = published(
        "",
        purchases=bought,
        usage=used,
        hours=hours,
        pieces=[SCRAP],
        counts=[SAVED | {"date": "2026-01-20", "worth": "25.00"}],
    )
    # 20.00 of hinges, 20.00 of Ben's pay and 30.00 of Ada's, less 25.00: all of Ada's is lost, and 15.00 of the rest
    lost = "select origin, sum(case when to_place = 'waste' then cents else -cents end)::bigint from cost.trace"
    lost += " where 'waste' in (from_place, to_place) group by all having sum(cents) <> 0"
    found = dict(con.execute(lost).fetchall())
    assert found["own labour"] == 3000
    assert sum(found.values()) == 4500
    assert con.execute("select landed_cents, on_hand_cents from cost.lot where bought = 4000").fetchall() == [
        (2500, 2500)
    ]


def test_what_is_saved_from_a_piece_that_is_still_there_costs_nothing_yet() -> None:
    bought = [hinges("2026-01-02", 10, "20.00")]
    used = [{"date": "2026-01-10", "item": "brass hinge", "quantity": "10", "unit": "each", "pieces": "T-2"}]
    pieces = [GOOD, SCRAP]
    counts = [SAVED | {"date": "2026-01-30", "worth": "5.00", "piece": "T-2"}]
    con = published("", purchases=bought, usage=used, pieces=pieces, counts=counts)
    assert moved(con, "piece = 'T-2' and cents > 0", "from_place") == {"stock": 2000}
    assert con.execute("select landed_cents from cost.lot order by bought").fetchall() == [(0,), (2000,)]


def test_a_test_piece_waits_for_its_orders_first_piece_and_stays_with_it() -> None:
    orders = [{"order_no": "O-1", "date": "2026-01-02", "channel": "fair", "price": "900"}]
    test = {"piece": "T-1", "product": "board", "started": "2026-01-05", "status": "test", "ended": "2026-01-20"}
    one = {"piece": "T-2", "product": "board", "started": "2026-03-03", "finished": "2026-03-20", "status": "finished"}
    hours = [{"date": "2026-01-10", "hours": "2", "operation": "assembly", "pieces": "T-1", "person": "Ben"}]
    made = [row | {"order_no": "O-1"} for row in (test, one)]
    spoilage = ("layer = 'spoilage' or to_place = 'pool'", "on_date::varchar, to_place, piece")
    waiting = published("", pieces=made[:1], orders=orders, hours=hours)
    assert moved(waiting, *spoilage) == {}
    assert moved(published("", pieces=made, orders=orders, hours=hours), *spoilage) == {
        ("2026-03-03", "pool", "T-1"): 4000,
        ("2026-03-31", "piece", "T-2"): 4000,
    }
    # scrapped in a later month: March stays as it was, and what the piece took over is lost with it
    made[1] |= {"status": "scrapped", "ended": "2026-04-09"}
    assert moved(published("", pieces=made, orders=orders, hours=hours), *spoilage) == {
        ("2026-03-03", "pool", "T-1"): 4000,
        ("2026-03-31", "piece", "T-2"): 4000,
        ("2026-04-09", "waste", "T-2"): 4000,
    }
    # cancelled before there was one: a cost of that month
    orders[0]["cancelled"] = "2026-02-14"
    assert moved(published("", pieces=made[:1], orders=orders, hours=hours), *spoilage) == {
        ("2026-02-14", "pool", "T-1"): 4000,
        ("2026-02-28", "period", None): 4000,
    }
