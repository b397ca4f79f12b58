"""Figures of the trade through the real way in: a file of a shop, read, cleaned, linked and modelled."""

from pathlib import Path

import duckdb
import pytest

from pipeline.database import open_published
from tests.refreshed import refreshed

SHOP = """
start = 2026-01-01

[[items]]
name = "coating resin"
category = "resin"
density = 1.05
density_a = 1.12
density_b = 0.98
kit = 3785.411784

[[items]]
name = "deep resin"
category = "resin"
density = 1.1
density_a = 1.12
density_b = 0.96
parts_a = 3
parts_b = 1

[[items]]
name = "weighed resin"
category = "resin"
density = 1.1
density_a = 1.0
density_b = 0.94
parts_by = "weight"
parts_a = 100
parts_b = 47

[[items]]
name = "plain resin"
category = "resin"

[[purposes]]
name = "flood"
thickness_mm = 1.0

[[purposes]]
name = "seal"
thickness_mm = 3.175
"""
PURCHASES = """date,item,category,quantity,amount,lot,species,length,width,thickness,diameter,count
2026-01-05,coating resin,resin,1 gal,90,,,,,,,
2026-01-05,coating resin,resin,1 kit,90,,,,,,,
2026-01-05,deep resin,resin,3 kg,60,,,,,,,
2026-01-05,plain resin,resin,1 l,30,,,,,,,
2026-01-06,ash boards,wood,,80,L-1,white ash,8 ft,6 1/4 in,8/4,,1
2026-01-06,ash boards,wood,,80,L-2,white ash,13 ft,10 in,4/4,,1
2026-01-06,ash boards,wood,10 bf,80,L-3,white ash,,,,,
2026-01-06,ash slab,wood,,80,L-4,white ash,8 ft,20 in,2 in,,1
2026-01-06,ash round,wood,,80,L-5,white ash,,,2 in,20 in,1
"""
PIECES = """piece,product,species,length,width,thickness,started,lot
T-1,table,white ash,1 m,1 m,20 mm,2026-01-10,L-4
T-2,shelf,white ash,154 in,1 ft,20 mm,2026-01-10,L-4
"""
POURS = """pour,date,purpose,resin,part_a,part_b,piece,deposited,left_in_cup,spilled,trimmed
R-1,2026-01-12,flood,coating resin,100 g,87.5 g,T-1,,,,
R-2,2026-01-12,flood,coating resin,1 fl oz,1 fl oz,T-1,,,,
R-3,2026-01-13,casting,deep resin,350 g,100 g,T-1,400 g,30 g,10 g,50 g
R-4,2026-01-13,flood,coating resin,100 g,100 g,T-1,,,,
R-6,2026-01-14,flood,weighed resin,200 ml,100 ml,T-1,,,,
R-7,2026-01-14,flood,weighed resin,200 g,94 g,T-1,,,,
R-5,2026-01-14,seal,coating resin,2 l,2 l,T-2,,,,
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("trade") / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    for name, text in (("purchases", PURCHASES), ("pieces", PIECES), ("pours", POURS)):
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    return open_published(newest(folder))


def newest(folder: Path) -> Path:
    return max((folder / "database").glob("*.duckdb"))


def one(book: duckdb.DuckDBPyConnection, query: str, *values: object) -> tuple:
    (row,) = book.execute(query, list(values)).fetchall()
    return row


def test_a_gallon_of_resin_weighs_its_volume_times_density(book) -> None:
    # US gallon = 3785.411784 ml exactly (Pint 0.25.3, default_en.txt); at 1.05 g/ml, the ideal mix of 1.12 and 0.98
    weights = book.execute("select bought from cost.lot where item = 'coating resin'")
    # a kit of a gallon is the same
    assert weights.fetchall() == [(3_974_683,), (3_974_683,)]


def test_without_a_density_a_litre_weighs_1100_grams(book) -> None:
    # clear systems range from about 1.05 to 1.15 g/ml (from memory); taking 1.00 would understate mass by 9 %
    (density,) = one(book, "select value from material.figure where figure = 'mixed density'")
    assert one(book, "select bought from cost.lot where item = 'plain resin'") == (round(density * 1_000_000),)


def test_the_density_that_stands_in_is_near_what_a_maker_s_page_prints(book) -> None:
    # a resin maker's coverage page: 9.23 lb or 4195 g per US gallon, as printed: 1.106 and 1.108 g/ml
    (density,) = one(book, "select value from material.figure where figure = 'mixed density'")
    for grams in (4195, 9.23 * 453.59237):
        assert density == pytest.approx(grams / 3785.411784, rel=0.01)


def test_equal_volumes_are_on_ratio_by_weight_or_by_volume(book) -> None:
    # mixed 1:1 by volume (common practice, no source); with 1.12 and 0.98 g/ml that is 100 : 87.5 by weight
    for pour in ("R-1", "R-2"):
        ratio, off = one(book, "select mix_ratio_share, off_ratio from material.pour where pour = ?", pour)
        assert ratio == pytest.approx(1, abs=1e-4)
        assert not off
    # equal weights aren't equal volumes: an eighth off
    ratio, off = one(book, "select mix_ratio_share, off_ratio from material.pour where pour = 'R-4'")
    assert (ratio, off) == (pytest.approx(0.875, abs=1e-4), True)


def test_three_and_a_half_to_one_by_weight_is_three_to_one_by_volume(book) -> None:
    # a resin maker's guide: 3.5:1 by weight = 3:1 by volume, so part A is 1.167 times part B
    ratio, off = one(book, "select mix_ratio_share, off_ratio from material.pour where pour = 'R-3'")
    assert (ratio, off) == (pytest.approx(1, abs=1e-4), False)
    (share,) = one(book, "select part_a_weight_share from material.mix_hint where resin = 'deep resin'")
    assert share == pytest.approx(3.5 / 4.5, abs=1e-6)


def test_two_to_one_by_volume_is_100_to_47_by_weight_where_b_is_0_94_times_a(book) -> None:
    # a resin maker's guide: 100:47 by weight = 2:1 by volume
    (parts,) = one(book, "select value from material.figure where figure = 'weight of b for 100 of a at 2:1 by volume'")
    assert parts / 100 * 2 == pytest.approx(0.94)
    # so 2:1 by volume, and the same by weight, are on the ratio that shop.toml gives by weight
    for pour in ("R-6", "R-7"):
        assert one(book, "select mix_ratio_share from material.pour where pour = ?", pour)[0] == pytest.approx(
            1, abs=1e-4
        )
    (share,) = one(book, "select part_a_volume_share from material.mix_hint where resin = 'weighed resin'")
    assert share == pytest.approx(2 / 3)


def test_fluid_ounces_are_29_57_ml(book) -> None:
    # US fluid ounce = gallon / 128 = 29.5735295625 ml exactly (Pint 0.25.3, default_en.txt)
    mixed = one(book, "select mixed_g from material.pour where pour = 'R-2'")[0]
    assert mixed == pytest.approx(29.5735295625 * (1.12 + 0.98), abs=0.002)


def test_a_litre_covers_a_square_metre_at_a_millimetre(book) -> None:
    # arithmetic: 1 l at 1 mm = 1 m2, so the table of a square metre needs a litre, 1050 g of this resin
    need = one(book, "select need_g, top_dm2, thickness_basis from material.pour_need where pour = 'R-1'")
    assert need == (pytest.approx(1050), pytest.approx(100), "set")


def test_a_gallon_covers_12_83_square_feet_at_an_eighth_of_an_inch(book) -> None:
    # arithmetic: 231 in3 over 1/8 in are 1848 in2 = 12.83 ft2; working coverage is printed as 12 to 16 ft2 a gallon
    # (interestingthings.com), so above 12.83 the coat is thinner. Here a board of 1 by 12.83 ft.
    need, top = one(book, "select need_g, top_dm2 from material.pour_need where pour = 'R-5'")
    assert top / 9.290304 == pytest.approx(12.83, abs=5e-3)
    assert need / 1.05 == pytest.approx(3785.411784, rel=5e-4)


def test_what_was_mixed_is_poured_or_waste(book) -> None:
    # arithmetic: mixed = in the piece + left in cup + spilled + trimmed + the rest, which is a remainder and named so
    names = "mixed_g, good_g, left_in_cup_g, spilled_g, trimmed_g, unexplained_g"
    row = one(book, f"select {names} from material.pour where pour = 'R-3'")
    assert row == pytest.approx((450, 350, 30, 10, 50, 10))


def test_board_feet_by_surface_measure(book) -> None:
    # americanhardwood.org, "Measurement": 2 in x 6 1/4 in x 8 ft tallies 8; by solid volume it is 8.333
    feet, basis, litres = one(
        book, "select board_feet, board_feet_basis, bought_dm3 from material.wood_yield where lot = 'L-1'"
    )
    assert (feet, basis) == (8, "surface measure")
    assert litres / 2.359737216 == pytest.approx(8.333, abs=5e-4)
    # gophuongdong.com, "American hardwood lumber measurement": 10 in x 13 ft is 11 of surface measure, and 4/4 an inch
    assert one(book, "select board_feet from material.wood_yield where lot = 'L-2'") == (11,)


def test_a_board_foot_is_144_cubic_inches(book) -> None:
    # 1 ft x 1 ft x 1 in = 2.359737216 l (Pint 0.25.3, default_en.txt; americanhardwood.org); 1 m3 is 423.776 of them
    feet, litres = one(book, "select board_feet, bought_dm3 from material.wood_yield where lot = 'L-3'")
    assert (feet, litres) == (pytest.approx(10, abs=1e-6), pytest.approx(23.59737216, abs=1e-6))
    assert 1000 / litres * feet == pytest.approx(423.776, abs=5e-4)


def test_a_live_edge_slab_and_a_round_have_their_solid_volume_and_say_so(book) -> None:
    # no standard rule was found for either; the measured width or diameter is used, and named
    slab = one(book, "select board_feet, board_feet_basis from material.wood_yield where lot = 'L-4'")
    assert slab == (pytest.approx(96 * 20 * 2 / 144, abs=1e-4), "solid volume by the width as written")
    disc = one(book, "select board_feet, board_feet_basis from material.wood_yield where lot = 'L-5'")
    assert disc == (pytest.approx(3.14159265 / 4 * 400 * 2 / 144, abs=1e-4), "solid volume by the diameter as written")


def test_the_flood_coat_of_reference_is_an_eighth_of_an_inch(book) -> None:
    # interestingthings.com: about 1/8 in (3 mm) a coat
    value, source = one(book, "select value, source from material.figure where figure = 'flood thickness'")
    assert value == pytest.approx(25.4 / 8, abs=0.2)
    assert "interestingthings.com" in source
