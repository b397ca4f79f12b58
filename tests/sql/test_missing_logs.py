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
HEADS = {
    "pieces": "piece,product,species,finish,length,width,thickness,started,finished\n",
    "hours": "date,hours,person,operation,pieces,machine,attended,rework\n",
    "usage": "date,item,quantity,unit,pieces\n",
    "purchases": "date,receipt,item,category,quantity,unit,amount\n",
    "pours": "pour,date,purpose,resin,part_a,part_b,unit,left_in_cup,piece\n",
}

Rows = dict[str, str]


def files(*parts: Rows) -> Rows:
    """Rows of several products as the files of one shop."""
    return {
        name: head + "".join(part.get(name, "") for part in parts)
        for name, head in HEADS.items()
        if any(name in part for part in parts)
    }


def pieces(tag: str, *finishes: str) -> str:
    """Pieces of one product and one size, T-1 and on where the tag is T."""
    rows = [
        f"{tag}-{n},tray {tag},,{finish},300 mm,200 mm,20 mm,2026-02-01,2026-02-20"
        for n, finish in enumerate(finishes, start=1)
    ]
    return "\n".join(rows) + "\n"


def hours(*rows: tuple[str, str, float]) -> str:
    """Hours of Ada: piece, operation, hours."""
    return "".join(f"2026-02-10,{spent},Ada,{operation},{piece},,,\n" for piece, operation, spent in rows)


def of_piece(con: duckdb.DuckDBPyConnection, piece: str, columns: str = "labour_cents, logged_share") -> tuple:
    (found,) = con.execute(f"select {columns} from cost.piece where piece = ?", [piece]).fetchall()
    return found


REWORKED = {
    "pieces": pieces("A", *["oil"] * 4),
    "hours": hours(("A-1", "sanding", 2), ("A-2", "sanding", 2), ("A-3", "sanding", 2))
    + "2026-02-12,0.5,Ada,sanding,A-4,,,yes\n",
}


def test_a_row_marked_rework_does_not_stand_for_the_operation(shop: duckdb.DuckDBPyConnection) -> None:
    # half an hour of rework, and the two hours that the others took
    assert of_piece(shop, "A-4", "labour_cents, rework_cents") == (7500, 1500)
    assert of_piece(shop, "A-4")[1] == pytest.approx(0.2)


# three in wax took an hour of sawing each, four in oil three: a finish is put on later than that
SAWN = {
    "pieces": pieces("B", "wax", "wax", "wax", *["oil"] * 4, "wax"),
    "hours": hours(
        *((f"B-{n}", "sawing", 1) for n in (1, 2, 3)),
        *((f"B-{n}", "sawing", 3) for n in (4, 5, 6, 7)),
    ),
}


def test_a_finish_has_no_bearing_on_sawing(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "B-8")[0] == 9000


def test_a_small_group_is_drawn_to_its_product(books: Books) -> None:
    # two in wax took an hour of finishing, six in oil three; the two count as two pieces beside four of the product,
    # of which the middle one took three: (2 x 1 + 4 x 3) / 6 hours
    rows = hours(*((f"T-{n}", "finishing", 1) for n in (1, 2)), *((f"T-{n}", "finishing", 3) for n in range(3, 9)))
    con = books(SHOP, **files({"pieces": pieces("T", "wax", "wax", *["oil"] * 6, "wax"), "hours": rows}))
    assert of_piece(con, "T-9")[0] == 7000


CARVED = {
    "pieces": pieces("C", *["oil"] * 4),
    "hours": "".join(f"2026-02-10,2,Ada,carving,C-{n},router,no,\n" for n in (1, 2, 3)),
}


def test_a_machine_that_nobody_logged_ran_as_long_as_is_usual(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "C-1", "machine_cents, logged_share") == (2400, 1)
    assert of_piece(shop, "C-4", "machine_cents, logged_share, labour_cents") == (2400, 0, 0)


SURFACED = {
    "pieces": pieces("D", *["oil"] * 4),
    "hours": "".join(f"2026-02-10,2,Ada,surfacing,D-{n},router,,\n" for n in (1, 2, 3))
    + "2026-02-10,2,Ada,surfacing,D-4,,,\n",
}


def test_work_that_is_logged_without_its_machine_may_have_been_done_by_hand(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "D-4", "machine_cents, labour_cents, logged_share") == (0, 6000, 1)


def test_overhead_on_hours_that_nobody_logged_is_no_more_logged_than_these(books: Books) -> None:
    pool = '[[pools]]\nname = "rent"\nbasis = "budget"\nrate = 6\namount = 100\n'
    rows = hours(*((f"T-{n}", "sanding", 1) for n in (1, 2, 3)))
    con = books(SHOP + pool, **files({"pieces": pieces("T", *["oil"] * 4), "hours": rows}))
    assert of_piece(con, "T-4", "labour_cents, overhead_cents, logged_share") == (3000, 600, 0)


def hinged(tag: str, hinge: str, count: int = 4) -> Rows:
    """Pieces of which the first three have two hinges each, of twenty for 40.00."""
    return {
        "pieces": pieces(tag, *["oil"] * count),
        "usage": "".join(f"2026-02-10,{hinge},2,each,{tag}-{n}\n" for n in (1, 2, 3)),
        "purchases": f"2026-01-05,R-{tag},{hinge},hardware,20,each,40.00\n",
    }


BRASS = hinged("E", "brass hinge")


def test_a_fitting_that_all_others_have_is_taken_from_the_shelf(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "E-4", "hardware_cents, estimated_share") == (400, 1)
    [found] = [finding for finding in missing(shop) if "hinge" in finding.what]
    assert found.what == "1 piece lacks brass hinge, which nearly all like it have: 100 % of their cost is estimated"
    # eight hinges of twenty are gone
    assert shop.execute("select on_hand from cost.lot where item = 'brass hinge'").fetchall() == [(12000,)]


NONE = hinged("F", "iron hinge")
NONE["usage"] += "2026-02-10,iron hinge,0,each,F-4\n"
ANOTHER = hinged("G", "copper hinge")
ANOTHER["usage"] += "2026-02-10,steel hinge,2,each,G-4\n"
ANOTHER["purchases"] += "2026-01-05,R-0,steel hinge,hardware,20,each,10.00\n"


def test_a_piece_that_has_none_or_another_one_lacks_no_fitting(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "F-4", "hardware_cents") == (0,)
    assert of_piece(shop, "G-4", "hardware_cents") == (100,)


OF_SOME = hinged("H", "tin hinge", 5)


def test_a_fitting_of_some_pieces_is_no_lack_of_the_others(shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(shop, "H-4", "hardware_cents") == (0,)


RESIN = {"purchases": "2026-01-05,R-1,clear cast,resin,2000,g,40.00\n"}


def poured(tag: str, *grams: str) -> str:
    """A flood coat on each piece, half of it either part."""
    rows = [
        f"P-{tag}{n},2026-02-10,flood,clear cast,{part},{part},g,,{tag}-{n}\n" for n, part in enumerate(grams, start=1)
    ]
    return "".join(rows)


WIDE = {
    "pieces": pieces("I", *["oil"] * 3) + "I-4,tray I,,oil,600 mm,200 mm,20 mm,2026-02-01,2026-02-20\n",
    "pours": poured("I", "40", "50", "60", ""),
}


def test_a_pour_that_nobody_weighed_on_twice_the_surface_takes_twice_as_much(shop: duckdb.DuckDBPyConnection) -> None:
    # whole surfaces: 2 x (600 x 200 + 600 x 20 + 200 x 20) to 2 x (300 x 200 + 300 x 20 + 200 x 20) mm2 = 136 to 70
    [(grams,)] = shop.execute("select mixed_g from material.pour where pour = 'P-I4'").fetchall()
    assert grams == pytest.approx(100 * 136 / 70, abs=0.001)


@pytest.fixture
def shop(books: Books) -> duckdb.DuckDBPyConnection:
    """All products above in one shop."""
    parts = (REWORKED, SAWN, CARVED, SURFACED, BRASS, NONE, ANOTHER, OF_SOME, WIDE)
    return books(SHOP, **files(*parts, RESIN))


UNWEIGHED = {"pieces": pieces("A", *["oil"] * 4), "pours": poured("A", "40", "50", "60", "")}


def test_a_pour_that_nobody_weighed_takes_what_its_size_and_purpose_do(resin_shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(resin_shop, "A-4", "resin_cents, logged_share") == (200, 0)
    pour = resin_shop.execute("select mix_estimated, mixed_g from material.pour where pour = 'P-A4'").fetchall()
    assert pour == [(True, 100)]
    [found] = [finding for finding in missing(resin_shop) if "weighed" in finding.what]
    assert found.what.startswith("1 piece takes a pour that nobody weighed")


OF_MOST = {"pieces": pieces("B", *["oil"] * 4), "pours": poured("B", "40", "50", "60")}


def test_resin_that_most_of_a_product_have_is_lacking_where_there_is_no_pour(
    resin_shop: duckdb.DuckDBPyConnection,
) -> None:
    assert of_piece(resin_shop, "B-4", "resin_cents, logged_share") == (200, 0)


NOT_OF_A_THIRD = {"pieces": pieces("C", *["oil"] * 5), "pours": poured("C", "40", "50", "60")}


def test_resin_that_a_third_of_a_product_do_without_is_no_lack(resin_shop: duckdb.DuckDBPyConnection) -> None:
    assert of_piece(resin_shop, "C-4", "resin_cents") == (0,)


@pytest.fixture
def resin_shop(books: Books) -> duckdb.DuckDBPyConnection:
    """The three products above in one shop."""
    return books(SHOP, **files(UNWEIGHED, OF_MOST, NOT_OF_A_THIRD, RESIN))


def test_a_pour_that_names_its_deposit_alone_took_that_and_its_rests(books: Books) -> None:
    rows = "pour,date,purpose,resin,unit,deposited,left_in_cup,piece\nP-1,2026-02-10,flood,clear cast,g,90,10,T-1\n"
    con = books(SHOP, **files({"pieces": pieces("T", "oil")}, RESIN), pours=rows)
    # what it took is on record, though not as weights of the parts
    assert of_piece(con, "T-1", "resin_cents, resin_waste_cents, logged_share") == (180, 20, 1)


def test_check_says_what_it_has_not_looked_at(books: Books) -> None:
    given = files({"pieces": pieces("T", *["oil"] * 4), "pours": poured("T", "40", "50", "60", "50")}, RESIN)
    con = books(SHOP, **given)
    assert [line.split(".")[0] for line in not_looked_at(con)] == [
        "Not looked at: cash",
        "Not looked at: the shelf",
        "Not looked at: waste of resin",
        "Not looked at: what stands in no file",
    ]
    counted = "date,item,quantity,unit\n2026-02-25,clear cast,1600,g\n"
    weighed = given["pours"].replace("left_in_cup", "deposited").replace(",g,,", ",g,70,")
    con = books(SHOP, **given | {"pours": weighed}, counts=counted)
    assert [line.split(".")[0] for line in not_looked_at(con)] == [
        "Not looked at: cash",
        "Not looked at: what stands in no file",
    ]


ALONE = 'currency = "EUR"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'


def test_in_a_shop_of_one_hours_without_a_person_are_that_persons(books: Books) -> None:
    con = books(ALONE, **files({"pieces": pieces("T", "oil"), "hours": "2026-02-10,2,,sanding,T-1,,,\n"}))
    assert of_piece(con, "T-1") == (6000, 1)
    assert list(missing(con)) == []


def test_hours_from_before_the_second_person_came_are_the_first_ones(books: Books) -> None:
    later = '[[people]]\nname = "Ben"\nrole = "employee"\nrates = [{ from = 2026-03-01, rate = 20 }]\n'
    rows = "2026-02-10,2,,sanding,T-1,,,\n2026-03-10,2,,sanding,T-2,,,\n"
    con = books(ALONE + later, **files({"pieces": pieces("T", "oil", "oil"), "hours": rows}))
    assert (of_piece(con, "T-1"), of_piece(con, "T-2")) == ((6000, 1), (6000, 0))


def test_hours_without_a_person_and_hours_without_a_piece_are_told_apart(books: Books) -> None:
    people = ALONE + '[[people]]\nname = "Ben"\nrole = "employee"\nrate = 20\n'
    rows = hours(("T-1", "sanding", 2), ("T-2", "sanding", 2), ("T-3", "sanding", 2))
    rows += "2026-02-10,2,,carving,T-1,,,\n2026-02-11,2,Ada,sanding,,,,\n"
    con = books(people, **files({"pieces": pieces("T", *["oil"] * 4), "hours": rows}))
    found = {finding.what.partition(":")[0]: finding.cents for finding in missing(con)}
    assert found == {
        "1 piece takes hours that name no piece": 6000,
        "1 piece takes hours that name no person": 6000,
    }
