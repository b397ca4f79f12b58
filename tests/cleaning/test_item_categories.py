"""The category of what was bought, from the words of the item, or the shop's settings; none where it is not sure."""

import tracemalloc
from pathlib import Path

import polars as pl
import pytest

from pipeline.cleaning.item_categories import BY_WORDS, categories, with_categories
from pipeline.records import CATEGORIES
from pipeline.reference import rows
from pipeline.shop import load


@pytest.mark.parametrize(
    ("item", "category"),
    [
        ("white oak 8/4", "wood"),
        ("walnut slab", "wood"),
        ("Eichenbohle", "wood"),
        ("planches de noyer", "wood"),
        ("casting epoxy", "resin"),
        ("Epoxidharz klar", "resin"),
        ("walnut oil", "finish"),  # the wood only names the oil
        ("huile de noyer", "finish"),
        ("Sandpaper 120", "abrasive"),
        ("disco de lija 120", "abrasive"),
        ("Messingscharniere", "hardware"),
        ("wood glue", "consumable"),
        ("Versandkartons", "packaging"),
        ("cerniere in ottone", "hardware"),
        ("oak stain", ""),  # a stain is no wood, and no word of ours
        ("epoxy brush", ""),  # resin, or a brush
        ("mystery", ""),
        ("", ""),
        ("8/4 black walnut", "wood"),  # and no Lack
        ("8/4 black walnut, live edge", "wood"),
        ("Klarlack 1 l", "finish"),
        ("box of old chisels", "tool"),
        ("vis laiton 4x40", "hardware"),
        ("beeswax pellets", "finish"),
        ("yew rounds, 3 off", "wood"),
        ("deep pour 6 L kit", "resin"),
        ("150mm discs P80-P400", "abrasive"),
        ("Speiseöl f. Holz 500 ml", "finish"),  # what it is for is not what it is
        ("oil for wood", "finish"),
        ("Holz mit Klarlack", ""),  # a compound is a word too
    ],
)
def test_words_of_an_item(plain_shop, item, category):
    assert categories(plain_shop)(item) == category


def test_what_nothing_else_tells_is_what_its_supplier_sells_by_name(plain_shop):
    cells = pl.DataFrame(
        {
            "item": ["elm shake", "job lot", "sundries", "oddments"],
            "supplier": ["Tuckett Hardwoods", "Scierie des Vaux", "Ost Ltd", None],
        }
    )
    found = with_categories(cells, plain_shop)
    assert found["category"].to_list() == ["wood", "wood", None, None]
    assert found[BY_WORDS].to_list() == [True, True, False, False]  # listed as taken so


def test_the_shop_says_it_first(shop):
    assert categories(shop)("clock movement") == "hardware"
    assert categories(shop)("Clear resin") == "resin"


def test_each_word_is_of_one_category_that_there_is():
    listed = rows("item_words")
    assert {row["category"] for row in listed} <= set(CATEGORIES)
    by_word = {}
    for row in listed:
        assert row["source"]
        assert by_word.setdefault(row["word"], row["category"]) == row["category"], row["word"]


@pytest.mark.parametrize("item", ["x" * 70_000, "Eichen" + "x" * 70_000 + "bohle", "ab " * 20_000])
def test_a_cell_of_a_whole_page_takes_no_memory_of_its_square(item: str, tiny_shop: Path) -> None:
    category = categories(load(tiny_shop))
    tracemalloc.start()
    try:
        assert category(item) == ("wood" if "bohle" in item else "")
        assert tracemalloc.get_traced_memory()[1] < 20 * 2**20
    finally:
        tracemalloc.stop()
