"""Counts of what is only half known: kits of unknown size, and what goes into pieces that nobody logs the hours of.
Reckoned by hand."""

from pipeline.reports.check import findings
from tests.published.test_counts import (
    BOARDS,
    BOUGHT,
    COUNTED,
    SHOP,
    TUNG,
    Books,
    ask,
    imputed,
    logged,
    lost,
    made,
    oiled,
    trays,
    tung,
)

KITS = BOUGHT + "2026-01-05,R-1,clear,resin,2,kit,200\n"
POURED = "pour,date,purpose,resin,part_a,part_b,deposited,piece\nP-1,2026-01-10,flood,clear,200 g,100 g,300 g,T-1\n"


def kits(*counts: tuple[str, int, str]) -> str:
    return COUNTED + "".join(f"{day},clear,resin,{quantity},{unit},count\n" for day, quantity, unit in counts)


class TestKitsOfUnknownSize:
    """Two kits for 200.00, and 300 g poured: how much of a kit that was nobody can say, so it costs nothing; what a
    count shows to be gone is on no shelf, and stays a loss until a size is told."""

    def test_what_a_count_no_longer_finds_is_lost_and_what_it_finds_again_is_back(self, books: Books) -> None:
        months = {  # counts → what each day loses, and what is left
            (("2026-01-31", 0, "kit"),): ([20000], 0),
            (("2026-01-31", 0, "g"),): ([20000], 0),
            (("2026-01-31", 1, "kit"),): ([10000], 10000),
            (("2026-01-31", 0, "each"), ("2026-02-28", 1, "kit")): ([20000, -10000], 10000),
        }
        for counts, (gone, left) in months.items():
            con = books(SHOP, purchases=KITS, pours=POURED, pieces=BOARDS, counts=kits(*counts))
            assert list(lost(con).values()) == gone, counts
            assert ask(con, "select sum(on_hand_cents)::bigint from cost.lot") == [(left,)]
            assert (made(con), imputed(con)) == ({}, 0)
            first = findings(con)[0]
            assert (first.severity, first.kind, first.cents) == ("error", "size not known", 20000)
            balance = "select sum(on_hand_cents)::bigint from material.resin_balance group by month order by month"
            assert ask(con, balance)[-1] == (left,)

    def test_more_kits_than_were_bought_come_at_the_price_of_the_last(self, books: Books) -> None:
        con = books(SHOP, purchases=KITS, pours=POURED, pieces=BOARDS, counts=kits(("2026-01-31", 3, "kit")))
        assert (lost(con), imputed(con)) == ({}, 10000)

    def test_none_left_of_what_came_by_weight_and_by_the_kit_is_none_of_either(self, books: Books) -> None:
        both = KITS + "2026-01-04,R-2,clear,resin,1,kg,40\n"
        again = kits(("2026-01-31", 0, "kit"), ("2026-02-10", 1, "kit"), ("2026-02-11", 500, "g"))
        con = books(SHOP, purchases=both, pours=POURED, pieces=BOARDS, counts=again)
        # 300 of 1,000 g for 12.00 in the board; 28.00 and both kits; then a kit, and 500 g
        assert list(lost(con).values()) == [22800, -10000, -2000]
        assert made(con) == {"T-1": 1200}

    def test_what_was_there_at_the_start_is_gone_too_and_none_at_the_start_is_no_lot(self, books: Books) -> None:
        head = (
            "date,item,category,quantity,unit,worth\n2026-01-01,clear,resin,{},kit,{}\n2026-01-31,clear,resin,0,kit,\n"
        )
        con = books(SHOP, pours=POURED, pieces=BOARDS, counts=head.format(1, 100))
        assert list(lost(con).values()) == [10000]
        old = KITS.replace("2026-01-05", "2025-12-05")
        con = books(SHOP, purchases=old, pours=POURED, pieces=BOARDS, counts=head.format(0, 0))
        assert lost(con) == {}
        assert ask(con, "select sum(bought)::bigint, sum(on_hand_cents)::bigint from cost.lot") == [(0, 0)]

    def test_a_size_that_is_told_later_puts_the_pour_in_the_piece(self, books: Books) -> None:
        told = SHOP + '[[items]]\nname = "clear"\nkit_weight = 500\n'
        con = books(told, purchases=KITS, pours=POURED, pieces=BOARDS, counts=kits(("2026-01-31", 1, "kit")))
        # 300 of 1,000 g at 0.20; 200 g are not there any more
        assert (made(con), list(lost(con).values())) == ({"T-1": 6000}, [4000])


class TestNobodyLogsTheWork:
    """A shop without hours: what a count shows to be used of a finish is on what was finished since then."""

    def test_a_finish_goes_by_surface_by_units_where_nothing_has_a_size(self, books: Books) -> None:
        sized = trays(A="tung oil", B="", D="shellac", E="")["pieces"]
        sized = sized.replace("E,tray,,2026-01-05,2026-01-20", "E,tray,,2026-01-05,2026-02-20")
        unsized = "piece,product,finish,quantity,started,finished\n"
        unsized += "A,tray,tung oil,1,2026-01-05,2026-01-20\nB,tray,tung oil,4,2026-01-05,2026-01-25\n"
        shops: dict[str, tuple[str, dict[str, int]]] = {
            "its own": (sized, {"A": 5000}),
            "nobody's": (sized.replace("tung oil", "wax"), {"A": 1667, "B": 1666, "D": 1667}),
            "units": (unsized, {"A": 1000, "B": 4000}),
        }
        for pieces, cents in shops.values():
            con = books(SHOP, purchases=TUNG, counts=tung(("2026-01-31", 500)), pieces=pieces)
            assert oiled(con) == cents
            assert lost(con) == {}
            assert {logged(con)[piece] for piece in cents} == {(0, 1)}

    def test_an_abrasive_and_gloves_go_by_hours_alone_and_are_a_cost_of_the_month(self, books: Books) -> None:
        bought = BOUGHT + "2026-01-02,R-1,disc,abrasive,100,each,100\n2026-01-02,R-2,gloves,consumable,100,each,50\n"
        left = COUNTED + "2026-01-31,disc,abrasive,40,each,count\n2026-01-31,gloves,consumable,40,each,count\n"
        con = books(SHOP, purchases=bought, counts=left, pieces=trays(A="")["pieces"])
        assert (made(con), list(lost(con).values())) == ({}, [9000])

    def test_what_was_there_at_the_start_was_counted_and_is_found_again(self, books: Books) -> None:
        opening = "date,item,category,quantity,unit,worth\n2026-01-01,tung oil,finish,1000,ml,100\n"
        opening += "".join(
            f"2026-0{n},tung oil,finish,{ml},ml,\n" for n, ml in (("1-10", 900), ("1-31", 400), ("2-28", 450))
        )
        con = books(SHOP, counts=opening, pieces=trays(A="tung oil", B="tung oil")["pieces"])
        # before anything was finished a tenth is lost, and half of that turns up
        assert list(lost(con).values()) == [1000, -500]
        assert oiled(con) == {"A": 2500, "B": 2500}
