"""Wood is the wood that its item is called by, so that what a piece of it takes is paid for. Names of woods: the
reference table; which words of them shops use: common practice, no source."""

from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipeline.linking.wood_of_items import species_of
from pipeline.reference import names

OWN = {"English oak", "white oak", "ek", "Eiche", "carvalho"}


@pytest.mark.parametrize(
    ("item", "own", "species"),
    [
        ("White oak boards, 8/4", {"black walnut"}, "white oak"),
        ("black walnut slab no 3", set(), "black walnut"),
        ("ekbräda 25 mm", {"ek"}, ""),  # too short to begin a word
        ("bräda av ek", {"ek"}, "ek"),
        ("Eichenbohle 52 mm", {"eiche"}, "eiche"),
        ("deska dębowa", {"dębowa"}, "dębowa"),
        ("oak offcuts", {"white oak", "black walnut"}, "white oak"),
        ("oak offcuts", {"white oak", "English oak"}, ""),  # which of the two, only the maker knows
        ("oak and white oak", {"black walnut"}, "white oak"),
        ("walnut and cherry box", {"walnut", "cherry"}, ""),
        ("tealight holders", {"tea"}, ""),
        ("mystery log", {"white oak"}, ""),
        ("", {"white oak"}, ""),
    ],
)
def test_the_longest_name_in_an_item_is_its_wood(item: str, own: set[str], species: str) -> None:
    assert species_of(item, names("species"), sorted(own)) == species


SHOP = 'currency = "EUR"\nname = "A"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'


def test_a_piece_pays_for_wood_whose_species_only_the_item_says(
    books: Callable[..., duckdb.DuckDBPyConnection], tmp_path: Path
) -> None:
    # reckoned by hand: 10 dm³ for 80.00, of which a piece takes 2 dm³
    con = books(
        SHOP,
        purchases="date,item,category,quantity,unit,amount\n"
        "2026-01-02,Oak board,wood,10,dm3,80\n2026-01-02,Larchwood plank,wood,10,dm3,50\n",
        counts="date,item,category,quantity,unit\n2026-01-31,oak board,wood,8,dm3\n",
        pieces="piece,product,species,blank_length,blank_width,blank_thickness,started,finished\n"
        "P-1,board,oak,50 cm,20 cm,2 cm,2026-01-05,2026-01-08\n",
    )
    wood = "select species, wood_cents from cost.piece"
    assert con.execute(wood).fetchall() == [("English oak", 1600)]
    bought = con.execute("select item, species from records.purchases order by item").fetchall()
    assert bought == [("larchwood plank", None), ("oak board", "English oak")]
    assert con.execute("select species from records.counts").fetchall() == [("English oak",)]
    assert con.execute("select count(*) from work.missing").fetchall() == [(0,)]
