"""How much is in one of what is bought by the kit or the bottle, where its own name says so: a "deep pour 12 L kit".

It counts as if it stood in `[[items]]`, which comes first, and is listed with the words taken for likely ones.
"""

import polars as pl

from pipeline.cleaning.amounts_in_names import POURED, amount_in
from pipeline.cleaning.units import Units
from pipeline.reference import key
from pipeline.shop import Shop

_SIZES = {"mg": "kit_weight_mg", "ul": "kit_ul", "mm3": "kit_ul"}


def sized(items: pl.DataFrame, purchases: pl.DataFrame, shop: Shop) -> tuple[pl.DataFrame, dict[str, str]]:
    """The settings of items with those that a name tells, and item → what was taken for what is in one."""
    by_kit = pl.col("quantity_unit").is_null() | pl.col("quantity_unit").is_in(["each", "kit"])
    lines = purchases.filter(pl.col("category").is_in(POURED), by_kit).drop_nulls("item")
    first = lines.group_by("item").agg(pl.col("row_id").min()).sort("item")
    units = Units(shop.words.get("unit"))
    told = {key(name) for name in items["name"]}
    found = {name: size for name in first["item"] if key(name) not in told and (size := _size(name, units))}
    rows = [
        {"row_id": row_id, "position": place, "name": name, "from_date": shop["start"], found[name][0]: found[name][1]}
        for place, (name, row_id) in enumerate(first.filter(pl.col("item").is_in(list(found))).rows(), items.height + 1)
    ]
    more = pl.DataFrame(rows, schema=items.schema)
    return pl.concat([items, more]), {name: text for name, (_, _, text) in found.items()}


def _size(name: str, units: Units) -> tuple[str, int, str] | None:
    """The setting that the one amount in a name is, its value, and how it is written."""
    found = amount_in(name, units)
    return (_SIZES[found[1]], found[0], found[2]) if found else None
