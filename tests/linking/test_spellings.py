"""Which names of items are asked about."""

import polars as pl
import pytest

from pipeline.linking import Linked
from pipeline.linking.spellings import nearest, unknown_items
from pipeline.shop import Shop


def asked(items: tuple[str, ...] = (), **words: list[str]) -> list[tuple[object, ...]]:
    """word, nearest, rows of the names asked about; `words`: record → its items."""
    fields = {"purchases": ["item"], "counts": ["item"], "usage": ["item"], "pours": ["resin", "colourant"]}
    linked = Linked()
    number, places = 0, []
    for record, names in fields.items():
        given = words.get(record, [])
        ids = list(range(number, number + len(given)))
        number += len(given)
        places += [{"row_id": i, "file": f"inbox/{record}.csv"} for i in ids]
        columns = {
            name: pl.Series(given if name == names[0] else [None] * len(given), dtype=pl.String) for name in names
        }
        linked.records[record] = pl.DataFrame({"row_id": pl.Series(ids, dtype=pl.Int64), **columns})
    linked.row = pl.DataFrame(places, schema={"row_id": pl.Int64, "file": pl.String})
    shop = Shop(None, {"item": [{"name": name} for name in items]})  # type: ignore[arg-type]
    return unknown_items(linked, shop).select("word", "nearest", "rows").rows()


def test_what_was_bought_or_counted_is_known() -> None:
    assert asked(purchases=["epoxy", "disc 120", "oil"], counts=["wax"], usage=["wax", "oil"], pours=["epoxy"]) == []


def test_what_nobody_ever_bought_is_asked_about_with_the_nearest_that_was() -> None:
    assert asked(purchases=["epoxy", "oil"], pours=["epoxi", "epoxi"]) == [("epoxi", "epoxy", 2)]
    assert asked(purchases=["epoxy"], usage=["sawdust"]) == [("sawdust", None, 1)]


def test_a_rare_name_close_to_a_frequent_one_is_asked_about() -> None:
    often = ["casting resin"] * 6
    assert asked(purchases=[*often, "castng resin"]) == [("castng resin", "casting resin", 1)]
    assert asked(purchases=[*often, *["castng resin"] * 3]) == []  # written so often, it is meant
    assert asked(purchases=["casting resin", "castng resin"]) == []  # which of the two is right, nobody can tell


def test_other_figures_are_another_thing() -> None:
    assert asked(purchases=[*["sanding disc 120"] * 9, "sanding disc 180"]) == []
    assert nearest("disc 180", ["disc 120"], 0.1) == ""
    assert nearest("disk 120", ["disc 120", "disc 180"], 0.7) == "disc 120"
    assert nearest("Eiche Bohlen 40 mm", ["Esche Bohlen 40 mm"], 0.7) == ""


@pytest.mark.parametrize("word", ["castng resin", "Castng Resin"])
def test_a_name_that_the_shop_lists_is_known(word: str) -> None:
    assert asked(("Castng resin",), purchases=["casting resin"] * 9, usage=[word.lower()]) == []


def test_other_vocabularies_are_left_alone() -> None:
    linked = Linked()
    row = {"vocabulary": "species", "word": "wallnut", "nearest": "black walnut", "rows": 1, "file": "a.csv"}
    item = row | {"vocabulary": "item", "word": "gloves", "nearest": None}
    linked.unknown_word = pl.DataFrame([row, item], schema=linked.unknown_word.schema)
    empty = {"row_id": pl.Int64, "item": pl.String, "resin": pl.String, "colourant": pl.String}
    linked.records = dict.fromkeys(("purchases", "counts", "usage", "pours"), pl.DataFrame(schema=empty))
    shop = Shop(None, {"item": []})  # type: ignore[arg-type]
    assert unknown_items(linked, shop).rows() == [("species", "wallnut", "black walnut", 1, "a.csv")]
