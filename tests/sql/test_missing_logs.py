"""What nobody logged though most comparable pieces have it, from files to the cost of a piece. Reckoned by hand."""

from collections.abc import Callable

import duckdb
import pytest

from pipeline.reports.missing import missing
from pipeline.reports.not_looked_at import not_looked_at

Books = Callable[..., duckdb.DuckDBPyConnection]

SHOP = """
currency = "EUR"
start = 2026-01-01
[[people]]
name = "Ada"
rate = 30
[[machines]]
name = "router"
rate = 12
"""
PIECES = "piece,product,species,finish,length,width,thickness,started,finished\n"
HOURS = "date,hours,person,operation,pieces,machine,attended,rework\n"
BOUGHT = "date,receipt,item,category,quantity,unit,amount\n"


def pieces(*finishes: str, product: str = "tray") -> str:
    """Pieces of one size, T-1 and on."""
    rows = [
        f"T-{n},{product},,{finish},300 mm,200 mm,20 mm,2026-02-01,2026-02-20"
        for n, finish in enumerate(finishes, start=1)
    ]
    return PIECES + "\n".join(rows) + "\n"


def hours(*rows: tuple[str, str, float]) -> str:
    """Hours of Ada: piece, operation, hours."""
    return HOURS + "".join(f"2026-02-10,{spent},Ada,{operation},{piece},,,\n" for piece, operation, spent in rows)


def of_piece(con: duckdb.DuckDBPyConnection, piece: str, columns: str = "labour_cents, logged_share") -> tuple:
    (found,) = con.execute(f"select {columns} from cost.piece where piece = ?", [piece]).fetchall()
    return found


def test_a_row_marked_rework_does_not_stand_for_the_operation(books: Books) -> None:
    rows = hours(("T-1", "sanding", 2), ("T-2", "sanding", 2), ("T-3", "sanding", 2))
    rows += "2026-02-12,0.5,Ada,sanding,T-4,,,yes\n"
    con = books(SHOP, pieces=pieces(*["oil"] * 4), hours=rows)
    # half an hour of rework, and the two hours that the others took
    assert of_piece(con, "T-4", "labour_cents, rework_cents") == (7500, 1500)
    assert of_piece(con, "T-4")[1] == pytest.approx(0.2)


def test_a_finish_has_no_bearing_on_sawing(books: Books) -> None:
    # three in wax took an hour of sawing each, four in oil three: a finish is put on later than that
    rows = hours(*((f"T-{n}", "sawing", 1) for n in (1, 2, 3)), *((f"T-{n}", "sawing", 3) for n in (4, 5, 6, 7)))
    con = books(SHOP, pieces=pieces("wax", "wax", "wax", *["oil"] * 4, "wax"), hours=rows)
    assert of_piece(con, "T-8")[0] == 9000


def test_a_small_group_is_drawn_to_its_product(books: Books) -> None:
    # two in wax took an hour of finishing, six in oil three; the two count as two pieces beside four of the product,
    # of which the middle one took three: (2 x 1 + 4 x 3) / 6 hours
    rows = hours(*((f"T-{n}", "finishing", 1) for n in (1, 2)), *((f"T-{n}", "finishing", 3) for n in range(3, 9)))
    con = books(SHOP, pieces=pieces("wax", "wax", *["oil"] * 6, "wax"), hours=rows)
    assert of_piece(con, "T-9")[0] == 7000


def test_a_machine_that_nobody_logged_ran_as_long_as_is_usual(books: Books) -> None:
    rows = HOURS + "".join(f"2026-02-10,2,Ada,carving,T-{n},router,no,\n" for n in (1, 2, 3))
    con = books(SHOP, pieces=pieces(*["oil"] * 4), hours=rows)
    assert of_piece(con, "T-1", "machine_cents, logged_share") == (2400, 1)
    assert of_piece(con, "T-4", "machine_cents, logged_share, labour_cents") == (2400, 0, 0)


def test_work_that_is_logged_without_its_machine_may_have_been_done_by_hand(books: Books) -> None:
    rows = HOURS + "".join(f"2026-02-10,2,Ada,surfacing,T-{n},router,,\n" for n in (1, 2, 3))
    con = books(SHOP, pieces=pieces(*["oil"] * 4), hours=rows + "2026-02-10,2,Ada,surfacing,T-4,,,\n")
    assert of_piece(con, "T-4", "machine_cents, labour_cents, logged_share") == (0, 6000, 1)


def test_resin_that_a_third_of_a_product_do_without_is_no_lack(books: Books) -> None:
    con = books(SHOP, pieces=pieces(*["oil"] * 5), pours=poured("40", "50", "60"), purchases=RESIN)
    assert of_piece(con, "T-4", "resin_cents") == (0,)


def test_overhead_on_hours_that_nobody_logged_is_no_more_logged_than_these(books: Books) -> None:
    pool = '[[pools]]\nname = "rent"\nbasis = "budget"\nrate = 6\namount = 100\n'
    rows = hours(*((f"T-{n}", "sanding", 1) for n in (1, 2, 3)))
    con = books(SHOP + pool, pieces=pieces(*["oil"] * 4), hours=rows)
    assert of_piece(con, "T-4", "labour_cents, overhead_cents, logged_share") == (3000, 600, 0)


USED = "date,item,quantity,unit,pieces\n"
HINGES = BOUGHT + "2026-01-05,R-1,brass hinge,hardware,20,each,40.00\n"


def test_a_fitting_that_all_others_have_is_taken_from_the_shelf(books: Books) -> None:
    used = USED + "".join(f"2026-02-10,brass hinge,2,each,T-{n}\n" for n in (1, 2, 3))
    con = books(SHOP, pieces=pieces(*["oil"] * 4), usage=used, purchases=HINGES)
    assert of_piece(con, "T-4", "hardware_cents, estimated_share") == (400, 1)
    [found] = [finding for finding in missing(con) if "hinge" in finding.what]
    assert found.what == "1 piece lacks brass hinge, which nearly all like it have: 100 % of their cost is estimated"
    # eight hinges of twenty are gone
    assert con.execute("select on_hand from cost.lot where item = 'brass hinge'").fetchall() == [(12000,)]


@pytest.mark.parametrize(
    ("row", "cents"), [("2026-02-10,brass hinge,0,each,T-4", 0), ("2026-02-10,steel hinge,2,each,T-4", 100)]
)
def test_a_piece_that_has_none_or_another_one_lacks_no_fitting(books: Books, row: str, cents: int) -> None:
    used = USED + "".join(f"2026-02-10,brass hinge,2,each,T-{n}\n" for n in (1, 2, 3)) + row + "\n"
    bought = HINGES + "2026-01-05,R-2,steel hinge,hardware,20,each,10.00\n"
    con = books(SHOP, pieces=pieces(*["oil"] * 4), usage=used, purchases=bought)
    assert of_piece(con, "T-4", "hardware_cents") == (cents,)


def test_a_fitting_of_some_pieces_is_no_lack_of_the_others(books: Books) -> None:
    used = USED + "".join(f"2026-02-10,brass hinge,2,each,T-{n}\n" for n in (1, 2, 3))
    con = books(SHOP, pieces=pieces(*["oil"] * 5), usage=used, purchases=HINGES)
    assert of_piece(con, "T-4", "hardware_cents") == (0,)


RESIN = BOUGHT + "2026-01-05,R-1,clear cast,resin,2000,g,40.00\n"
POURS = "pour,date,purpose,resin,part_a,part_b,unit,left_in_cup,piece\n"


def poured(*grams: str) -> str:
    """A flood coat on each piece, half of it either part."""
    rows = [f"P-{n},2026-02-10,flood,clear cast,{part},{part},g,,T-{n}\n" for n, part in enumerate(grams, start=1)]
    return POURS + "".join(rows)


def test_a_pour_that_nobody_weighed_takes_what_its_size_and_purpose_do(books: Books) -> None:
    con = books(SHOP, pieces=pieces(*["oil"] * 4), pours=poured("40", "50", "60", ""), purchases=RESIN)
    assert of_piece(con, "T-4", "resin_cents, logged_share") == (200, 0)
    assert con.execute("select mix_estimated, mixed_g from material.pour where pour = 'P-4'").fetchall() == [
        (True, 100)
    ]
    [found] = [finding for finding in missing(con) if "weighed" in finding.what]
    assert found.what.startswith("1 piece takes a pour that nobody weighed")


def test_a_pour_that_nobody_weighed_on_twice_the_surface_takes_twice_as_much(books: Books) -> None:
    wide = pieces(*["oil"] * 3) + "T-4,tray,,oil,600 mm,200 mm,20 mm,2026-02-01,2026-02-20\n"
    con = books(SHOP, pieces=wide, pours=poured("40", "50", "60", ""), purchases=RESIN)
    # whole surfaces: 2 x (600 x 200 + 600 x 20 + 200 x 20) to 2 x (300 x 200 + 300 x 20 + 200 x 20) mm2 = 136 to 70
    [(grams,)] = con.execute("select mixed_g from material.pour where pour = 'P-4'").fetchall()
    assert grams == pytest.approx(100 * 136 / 70, abs=0.001)


def test_resin_that_most_of_a_product_have_is_lacking_where_there_is_no_pour(books: Books) -> None:
    con = books(SHOP, pieces=pieces(*["oil"] * 4), pours=poured("40", "50", "60"), purchases=RESIN)
    assert of_piece(con, "T-4", "resin_cents, logged_share") == (200, 0)


def test_a_pour_that_names_its_deposit_alone_took_that_and_its_rests(books: Books) -> None:
    rows = "pour,date,purpose,resin,unit,deposited,left_in_cup,piece\nP-1,2026-02-10,flood,clear cast,g,90,10,T-1\n"
    con = books(SHOP, pieces=pieces("oil"), pours=rows, purchases=RESIN)
    # what it took is on record, though not as weights of the parts
    assert of_piece(con, "T-1", "resin_cents, resin_waste_cents, logged_share") == (180, 20, 1)


def test_check_says_what_it_has_not_looked_at(books: Books) -> None:
    con = books(SHOP, pieces=pieces(*["oil"] * 4), pours=poured("40", "50", "60", "50"), purchases=RESIN)
    assert [line.split(".")[0] for line in not_looked_at(con)] == [
        "Not looked at: cash",
        "Not looked at: the shelf",
        "Not looked at: waste of resin",
        "Not looked at: what stands in no file",
    ]
    counted = "date,item,quantity,unit\n2026-02-25,clear cast,1600,g\n"
    weighed = poured("40", "50", "60", "50").replace("left_in_cup", "deposited").replace(",g,,", ",g,70,")
    con = books(SHOP, pieces=pieces(*["oil"] * 4), pours=weighed, counts=counted)
    assert [line.split(".")[0] for line in not_looked_at(con)] == [
        "Not looked at: cash",
        "Not looked at: what stands in no file",
    ]


ALONE = 'currency = "EUR"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'


def test_in_a_shop_of_one_hours_without_a_person_are_that_persons(books: Books) -> None:
    rows = HOURS + "2026-02-10,2,,sanding,T-1,,,\n"
    con = books(ALONE, pieces=pieces("oil"), hours=rows)
    assert of_piece(con, "T-1") == (6000, 1)
    assert list(missing(con)) == []


def test_hours_from_before_the_second_person_came_are_the_first_ones(books: Books) -> None:
    later = '[[people]]\nname = "Ben"\nrole = "employee"\nrates = [{ from = 2026-03-01, rate = 20 }]\n'
    rows = HOURS + "2026-02-10,2,,sanding,T-1,,,\n2026-03-10,2,,sanding,T-2,,,\n"
    con = books(ALONE + later, pieces=pieces("oil", "oil"), hours=rows)
    assert (of_piece(con, "T-1"), of_piece(con, "T-2")) == ((6000, 1), (6000, 0))


def test_hours_without_a_person_and_hours_without_a_piece_are_told_apart(books: Books) -> None:
    people = ALONE + '[[people]]\nname = "Ben"\nrole = "employee"\nrate = 20\n'
    rows = hours(("T-1", "sanding", 2), ("T-2", "sanding", 2), ("T-3", "sanding", 2))
    rows += "2026-02-10,2,,carving,T-1,,,\n2026-02-11,2,Ada,sanding,,,,\n"
    con = books(people, pieces=pieces(*["oil"] * 4), hours=rows)
    found = {finding.what.partition(":")[0]: finding.cents for finding in missing(con)}
    assert found == {
        "1 piece takes hours that name no piece": 6000,
        "1 piece takes hours that name no person": 6000,
    }
