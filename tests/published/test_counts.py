"""Counts are measurements: what a later one finds takes back what an earlier one missed. Reckoned by hand, but for what
is named.

OSX-F is Franklin, Graybeal and Cooper, "Principles of Accounting", volume 1 (Financial), OpenStax, CC BY-NC-SA 4.0.
"""

from collections.abc import Callable
from datetime import date

import pytest

from pipeline.reports.check import findings
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = "start = 2026-01-01\n"
BOUGHT = "date,receipt,item,category,quantity,unit,amount\n"
USED = "date,item,quantity,unit,pieces\n"
COUNTED = "date,item,category,quantity,unit,cause\n"
PIECES = "piece,product,started,finished,status\n"
BOARDS = PIECES + "".join(f"T-{n},board,2026-01-02,2026-0{n + 1}-25,finished\n" for n in range(1, 4))
# ten hinges at 1.00, then ten at 2.00
HINGES = BOUGHT + "2026-01-02,R-1,hinge,hardware,10,each,10\n2026-01-20,R-2,hinge,hardware,10,each,20\n"


def ask(con: AsAsked, query: str) -> list[tuple]:
    return con.execute(query).fetchall()


def used(*takings: tuple[str, int, str]) -> str:
    return USED + "".join(f"{day},hinge,{quantity},each,{piece}\n" for day, quantity, piece in takings)


def counted(*counts: tuple[str, int], cause: str = "count") -> str:
    return COUNTED + "".join(f"{day},hinge,hardware,{quantity},each,{cause}\n" for day, quantity in counts)


def lost(con: AsAsked) -> dict[date, int]:
    """What each day books as lost, below zero what it takes back."""
    return dict(
        ask(con, "select on_date, sum(cents)::bigint from cost.entry where place = 'waste' group by all order by 1")
    )


def made(con: AsAsked) -> dict[str, int]:
    return dict(ask(con, "select piece, made_cents from cost.piece where made_cents <> 0"))


def imputed(con: AsAsked) -> int:
    return ask(con, "select coalesce(sum(cents), 0)::bigint from cost.trace where from_place = 'imputed'")[0][0]


def shelf(con: AsAsked) -> list[tuple]:
    return ask(con, "select bought_on, on_hand, on_hand_cents from material.stock order by bought_on")


def test_an_error_of_a_count_turns_round_in_the_next_period(books: Books) -> None:
    """OSX-F 10.4: stock of 1,500 that a count missed; -360, then 3,054, together 2,694 as without the error."""
    toml, head = SHOP, "date,receipt,item,category,quantity,unit,amount\n"
    files = {
        # what is bought meanwhile is dearer
        "purchases": head + "2026-01-02,R-1,part,hardware,200,each,3000\n2026-02-02,R-2,part,hardware,50,each,1000\n",
        "usage": USED + "2026-01-10,part,60,each,A\n2026-02-10,part,20,each,B\n",
        "pieces": PIECES + "A,case,2026-01-05,2026-01-11,finished\nB,case,2026-02-05,2026-02-11,finished\n",
        "sales": "date,channel,piece,price\n2026-01-12,shop,A,2040\n2026-02-12,shop,B,1854\n",
    }
    months = "select result_cents from money.month order by month"
    right = COUNTED + "2026-01-31,part,hardware,140,each,count\n2026-02-28,part,hardware,170,each,count\n"
    assert ask(books(toml, counts=right, **files), months) == [(114_000,), (155_400,)]
    missed = COUNTED + "2026-01-31,part,hardware,40,each,count\n2026-02-28,part,hardware,170,each,count\n"
    con = books(toml, counts=missed, **files)
    assert ask(con, months) == [(-36_000,), (305_400,)]
    # the shelf is what it would have been
    stock = "select closing_cents, shortage_cents from money.stock_month where stage = 'materials' order by month"
    assert ask(con, stock) == [(60_000, 150_000), (280_000, -150_000)]
    assert imputed(con) == 0


def test_what_is_found_again_costs_what_it_cost_and_is_taken_first(books: Books) -> None:
    con = books(
        SHOP,
        purchases=HINGES,
        pieces=BOARDS,
        usage=used(("2026-02-10", 5, "T-1"), ("2026-03-10", 8, "T-2")),
        # 20 on the book, then 14 less the five used and the six that are here again
        counts=counted(("2026-01-31", 14), ("2026-02-28", 15)),
    )
    assert lost(con) == {date(2026, 1, 31): 600, date(2026, 2, 28): -600}
    # four at 1.00 and one at 2.00 while six were missed; then the six, and two at 2.00
    assert made(con) == {"T-1": 600, "T-2": 1000}
    assert imputed(con) == 0
    assert shelf(con) == [(date(2026, 1, 20), 7000, 1400)]
    papers = "select paid.receipt, sum(cents)::bigint from cost.trace join records.purchases as paid"
    papers += " on paid.row_id = paid_row_id where from_place = 'waste' group by all"
    assert ask(con, papers) == [("R-1", 600)]


def test_what_is_found_and_not_used_is_back_in_its_lot(books: Books) -> None:
    con = books(SHOP, purchases=HINGES, pieces=BOARDS, counts=counted(("2026-01-31", 7), ("2026-02-28", 12)))
    # 13 lost: ten at 1.00, three at 2.00; of these the first five are here again
    assert lost(con) == {date(2026, 1, 31): 1600, date(2026, 2, 28): -500}
    assert shelf(con) == [(date(2026, 1, 2), 5000, 500), (date(2026, 1, 20), 7000, 1400)]


def test_only_what_was_never_lost_is_imputed(books: Books) -> None:
    con = books(SHOP, purchases=HINGES, pieces=BOARDS, counts=counted(("2026-01-31", 18), ("2026-02-28", 23)))
    # two at 1.00 are back; three more than ever were there come at the last price
    assert lost(con) == {date(2026, 1, 31): 200, date(2026, 2, 28): -200}
    assert imputed(con) == 600
    assert sum(cents for _, _, cents in shelf(con)) == 3600


def test_what_is_lost_again_and_found_again_costs_the_same_each_time(books: Books) -> None:
    days = [f"2026-01-2{n}" for n in range(1, 7)]
    con = books(
        SHOP,
        purchases=HINGES,
        pieces=BOARDS,
        usage=used(("2026-02-10", 20, "T-1")),
        # four at 1.00 lost and found; then twelve: ten at 1.00, two at 2.00; seven of them found, then the rest
        counts=counted(*zip(days, (16, 20, 8, 15, 13, 20), strict=True)),
    )
    # the fifth loses two more of those at 1.00; the sixth finds what was lost first
    assert list(lost(con).values()) == [400, -400, 1400, -700, 200, -900]
    assert made(con) == {"T-1": 3000}
    assert (imputed(con), shelf(con)) == (0, [])


def test_what_was_taken_home_is_not_found_again(books: Books) -> None:
    home = counted(("2026-01-31", 14), cause="own use") + "2026-02-28,hinge,hardware,20,each,count\n"
    con = books(SHOP, purchases=HINGES, pieces=BOARDS, counts=home)
    assert lost(con) == {}
    assert imputed(con) == 1200


def test_by_the_moving_average_the_loss_comes_back_as_it_went(books: Books) -> None:
    bought = BOUGHT + "2026-01-02,R-1,hinge,hardware,10,each,10\n2026-01-03,R-2,hinge,hardware,10,each,30\n"
    con = books(
        SHOP + 'cost_flow = "average"\n',
        purchases=bought + "2026-02-02,R-3,hinge,hardware,10,each,50\n",
        pieces=BOARDS,
        usage=used(("2026-01-10", 4, "T-1"), ("2026-02-10", 4, "T-2"), ("2026-03-10", 11, "T-3")),
        counts=counted(("2026-01-31", 10), ("2026-02-28", 22)),
    )
    # 16 at 2.00, six lost; ten at 2.00 and ten at 5.00, four of them used at 3.50; 56.00 and the 12.00 that are back
    assert lost(con) == {date(2026, 1, 31): 1200, date(2026, 2, 28): -1200}
    assert made(con) == {"T-1": 800, "T-2": 1400, "T-3": 3400}
    assert imputed(con) == 0


def test_resin_that_is_found_again_is_short_no_more(books: Books) -> None:
    con = books(
        SHOP,
        purchases="date,item,category,quantity,unit,amount\n2026-01-02,clear cast,resin,1000,g,50\n",
        counts="date,item,category,quantity,unit\n2026-01-31,clear cast,resin,700,g\n"
        "2026-02-28,clear cast,resin,900,g\n",
    )
    grams = "select shortage_g, shortage_cents, found_g, on_hand_g, on_hand_cents from material.resin_balance"
    assert ask(con, grams + " order by month") == [
        (pytest.approx(300), 1500, 0, pytest.approx(700), 3500),
        (pytest.approx(-200), -1000, 0, pytest.approx(900), 4500),
    ]
    assert ask(con, "select shortage_g, on_hand_g from material.resin_lot") == [
        (pytest.approx(100), pytest.approx(900))
    ]


def asked_for(con: AsAsked) -> list[tuple[int, int | None]]:
    checks = ask(con, "select rows from checks.result where name = 'receipt_missing'")
    found = [(f.rows, f.cents) for f in findings(con) if f.kind == "missing receipt"]
    assert bool(checks[0][0]) == bool(found)
    return found


def test_no_receipt_is_asked_for_where_nothing_was_used(books: Books) -> None:
    more = counted(("2026-01-31", 23))
    assert asked_for(books(SHOP, purchases=HINGES, pieces=BOARDS, counts=more)) == []
    some = books(SHOP, purchases=HINGES, pieces=BOARDS, counts=more, usage=used(("2026-02-10", 20, "T-1")))
    assert asked_for(some) == []
    # the last one of these is one of the three that no receipt tells of
    most = books(SHOP, purchases=HINGES, pieces=BOARDS, counts=more, usage=used(("2026-02-10", 21, "T-1")))
    assert asked_for(most) == [(1, 600)]


SIZED = "piece,product,finish,started,finished,length,width,thickness\n"
TUNG = BOUGHT + "2026-01-02,R-1,tung oil,finish,1000,ml,100\n"
FINISHED = "date,hours,operation,pieces\n"


def trays(**finishes: str) -> dict[str, str]:
    """Pieces of one size, each finished for an hour in January: their records."""
    rows = "".join(f"{tag},tray,{oil},2026-01-05,2026-01-20,300 mm,200 mm,20 mm\n" for tag, oil in finishes.items())
    return {"pieces": SIZED + rows, "hours": FINISHED + "".join(f"2026-01-20,1,finishing,{tag}\n" for tag in finishes)}


def tung(*counts: tuple[str, int]) -> str:
    return COUNTED + "".join(f"{day},tung oil,finish,{ml},ml,count\n" for day, ml in counts)


def logged(con: AsAsked) -> dict[str, tuple[float, float]]:
    """Of each piece the share of its cost that rests on records alone, and what of it is estimated."""
    shares = ask(con, "select piece, logged_share, estimated_share from cost.piece where made_cents > 0")
    return {piece: (on_record, estimated) for piece, on_record, estimated in shares}


def oiled(con: AsAsked, layer: str = "finish") -> dict[str, int]:
    return dict(ask(con, f"select piece, {layer}_cents from cost.piece where {layer}_cents <> 0 order by piece"))


class TestWhoseFinishItIs:
    """What a count shows to be used goes to the pieces with that finish, first to those that did not log it. All trays
    have one surface; a millilitre costs 0.10."""

    def test_to_those_of_that_finish_that_did_not_log_it(self, books: Books) -> None:
        used_oil = USED + "2026-01-20,tung oil,200,ml,A\n"
        finishes = trays(A="tung oil", B="tung oil", C="tung oil", D="shellac")
        con = books(SHOP, purchases=TUNG, usage=used_oil, counts=tung(("2026-01-31", 500)), **finishes)
        assert oiled(con) == {"A": 2000, "B": 1500, "C": 1500}
        assert lost(con) == {}
        # how much of it is in either is on no record
        assert logged(con) == {"A": (1, 0), "B": (0, 1), "C": (0, 1)}

    def test_where_all_of_them_logged_it_to_all_of_them(self, books: Books) -> None:
        used_oil = USED + "2026-01-20,tung oil,100,ml,A\n2026-01-20,tung oil,200,ml,B\n"
        finishes = trays(A="tung oil", B="tung oil", D="shellac")
        con = books(SHOP, purchases=TUNG, usage=used_oil, counts=tung(("2026-01-31", 500)), **finishes)
        assert oiled(con) == {"A": 2000, "B": 3000}

    def test_an_item_of_another_name_is_the_finish_of_those_that_logged_it(self, books: Books) -> None:
        bought = BOUGHT + "2026-01-02,R-1,bench blend no 3,finish,1000,ml,100\n"
        used_oil = USED + "2026-01-20,bench blend no 3,200,ml,A\n"
        left = COUNTED + "2026-01-31,bench blend no 3,finish,500,ml,count\n"
        con = books(SHOP, purchases=bought, usage=used_oil, counts=left, **trays(A="oil", B="oil", D="shellac"))
        assert oiled(con) == {"A": 2000, "B": 3000}

    def test_where_none_of_them_was_worked_on_to_any_piece_that_was_finished(self, books: Books) -> None:
        con = books(SHOP, purchases=TUNG, counts=tung(("2026-01-31", 500)), **trays(D="shellac", E="wax"))
        assert oiled(con) == {"D": 2500, "E": 2500}

    def test_who_logged_no_finishing_had_it_on_the_day_it_was_finished(self, books: Books) -> None:
        finishes = trays(A="tung oil", B="tung oil", C="tung oil", D="shellac", E="tung oil")
        finishes["hours"] = FINISHED + "2026-01-19,1,finishing,A\n2026-01-19,1,sanding,B\n2026-01-19,1,sanding,D\n"
        finishes["pieces"] = finishes["pieces"].replace(
            "E,tray,tung oil,2026-01-05,2026-01-20", "E,tray,tung oil,2026-01-05,2026-02-20"
        )
        con = books(SHOP, purchases=TUNG, counts=tung(("2026-01-31", 400)), **finishes)
        assert oiled(con) == {"A": 2000, "B": 2000, "C": 2000}
        assert lost(con) == {}

    def test_without_a_count_it_is_spread_over_them_alone(self, books: Books) -> None:
        """Bought for ninety days where nothing says how long: 30 of them in January."""
        con = books(SHOP, purchases=TUNG, **trays(A="tung oil", B="tung oil", D="shellac"))
        assert set(oiled(con)) == {"A", "B"}
        con = books(SHOP, purchases=TUNG.replace("tung oil", "thinner"), **trays(A="tung oil", B="wax", D="shellac"))
        assert set(oiled(con)) == {"A", "B", "D"}

    def test_abrasives_go_over_sanding_as_they_did(self, books: Books) -> None:
        bought = BOUGHT + "2026-01-02,R-1,disc,abrasive,100,each,100\n"
        finishes = trays(A="tung oil", D="shellac")
        finishes["hours"] = FINISHED + "2026-01-20,3,sanding,A\n2026-01-20,1,sanding,D\n"
        used_disc = USED + "2026-01-20,disc,20,each,A\n"
        left = COUNTED + "2026-01-31,disc,abrasive,40,each,count\n"
        con = books(SHOP, purchases=bought, usage=used_disc, counts=left, **finishes)
        assert oiled(con, "abrasive") == {"A": 5000, "D": 1000}
        # what goes by hours, measured and logged, is no guess
        assert logged(con) == {"A": (1, 0), "D": (1, 0)}


@pytest.mark.parametrize("unit", ["kit", "set", "each", "l"])
def test_none_left_is_none_left_in_any_unit(books: Books, unit: str) -> None:
    """The size of a kit is not known: of two kits nothing could be said, of none it can."""
    bought = BOUGHT + "2026-01-02,R-1,clear resin,resin,1,kg,40\n"
    con = books(SHOP, purchases=bought, counts=COUNTED + f"2026-01-31,clear resin,resin,0,{unit},count\n")
    assert lost(con) == {date(2026, 1, 31): 4000}
    assert shelf(con) == []
    balance = "select month, counted_g from material.resin_balance order by month"
    assert ask(con, balance)[0] == (date(2026, 1, 1), 0)


class TestWhoseFittingItIs:
    """What a count shows to be used of a fitting goes to the pieces that ought to have it and did not log it, each so
    much as those that logged it have; the rest is lost. The first ten hinges cost 1.00, the next ten 2.00."""

    BOXES = PIECES + "".join(f"{tag},box,2026-01-05,2026-02-1{n},finished\n" for n, tag in enumerate("ABCD"))

    def test_to_those_that_did_not_log_it_and_the_rest_is_lost(self, books: Books) -> None:
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B"))
        # twenty less eight is twelve; one is here: eight for C and D, three are lost
        con = books(SHOP, purchases=HINGES, pieces=self.BOXES, usage=taken, counts=counted(("2026-02-28", 1)))
        # two at 1.00 and six at 2.00, together 14.00
        assert made(con) == {"A": 400, "B": 400, "C": 700, "D": 700}
        assert sum(lost(con).values()) == 600
        # that they are in them is told by the count and by what A and B have
        assert logged(con) == {"A": (1, 0), "B": (1, 0), "C": (0, 1), "D": (0, 1)}

    def test_where_fewer_than_half_have_it_it_is_lost(self, books: Books) -> None:
        taken = used(("2026-02-10", 4, "A"))
        con = books(SHOP, purchases=HINGES, pieces=self.BOXES, usage=taken, counts=counted(("2026-02-28", 14)))
        assert made(con) == {"A": 400}
        assert lost(con) == {date(2026, 2, 28): 200}

    def test_those_finished_before_the_last_count_took_none_since(self, books: Books) -> None:
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B"))
        days = counted(("2026-02-20", 12), ("2026-03-20", 8))
        con = books(SHOP, purchases=HINGES, pieces=self.BOXES, usage=taken, counts=days)
        assert made(con) == {"A": 400, "B": 400}
        assert sum(lost(con).values()) == 600

    def test_who_has_another_one_in_its_place_lacks_none(self, books: Books) -> None:
        # A, B have hinges, C has a latch in their place; D has nothing on record
        bought = HINGES + "2026-01-02,R-3,latch,hardware,10,each,10\n"
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B")) + "2026-02-12,latch,1,each,C\n"
        con = books(SHOP, purchases=bought, pieces=self.BOXES, usage=taken, counts=counted(("2026-02-28", 1)))
        # twenty less eight is twelve; one is here: four for D at 1.50 (two at 1.00, two at 2.00), seven lost
        assert made(con) == {"A": 400, "B": 400, "C": 100, "D": 600}
        assert sum(lost(con).values()) == 1400

    def test_who_has_another_one_beside_it_lacks_it(self, books: Books) -> None:
        # all have a latch, A and B hinges beside it: C and D lack theirs
        bought = HINGES + "2026-01-02,R-3,latch,hardware,10,each,10\n"
        latches = "".join(f"2026-02-1{n},latch,1,each,{tag}\n" for n, tag in enumerate("ABCD"))
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B")) + latches
        con = books(SHOP, purchases=bought, pieces=self.BOXES, usage=taken, counts=counted(("2026-02-28", 1)))
        assert made(con) == {"A": 500, "B": 500, "C": 800, "D": 800}
        assert sum(lost(con).values()) == 600

    def test_who_was_finished_before_any_was_bought_has_none(self, books: Books) -> None:
        early = self.BOXES.replace("C,box,2026-01-05,2026-02-12", "C,box,2026-01-05,2026-01-10")
        late = HINGES.replace("2026-01-02,R-1", "2026-01-18,R-1")
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B"))
        con = books(SHOP, purchases=late, pieces=early, usage=taken, counts=counted(("2026-02-28", 1)))
        # the first receipt is more than a week younger than C; of twelve four are D's, seven lost
        assert made(con) == {"A": 400, "B": 400, "D": 600}
        assert sum(lost(con).values()) == 1400

    def test_it_was_put_in_while_the_piece_was_made_though_that_was_sold_since(self, books: Books) -> None:
        # cost that turns up after a sale is cost of sales of the month in which it does
        taken = used(("2026-02-10", 4, "A"), ("2026-02-11", 4, "B"))
        sold = "date,channel,piece,price\n2026-02-20,market,C,50\n"
        day = counted(("2026-03-31", 8))
        con = books(SHOP, purchases=HINGES, pieces=self.BOXES, usage=taken, sales=sold, counts=day)
        # twenty less eight is twelve; eight are here: two each at 1.00 and 2.00 for C and D
        assert made(con) == {"A": 400, "B": 400, "C": 300, "D": 300}
        late = "select on_date, sum(cents) from cost.trace where piece = 'C' and to_place = 'sold' group by on_date"
        assert [row for row in ask(con, late) if row[1]] == [(date(2026, 3, 31), 300)]
        assert lost(con) == {}
