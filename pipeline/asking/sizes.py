"""How much is in one of what is bought by the kit or the bottle, but used by weight or volume: asked once an item.

It is asked of the items in `work.unsized`. The answer is an amount with its unit, from which follows whether it stands
in `[[items]]` as `kit_weight` or as `kit`.
"""

from collections.abc import Iterator

import duckdb
import polars as pl

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.units import Units
from pipeline.cleaning.worth import WORTH
from pipeline.errors import UserError
from pipeline.proposing.question import LITTLE, Choice, Question
from pipeline.reference import key
from pipeline.shop import Shop

KIND = "size"
SIZE = "items.size"
"""Where a choice writes the size of one of an item: into its entry of `[[items]]`, under the name that its unit has."""

SUCH = {"metric": "2.4 kg or 2 l", "us": "5 lb or 64 fl oz"}
"""What one types, by the shop's units."""

NAMED = {"mg": "kit_weight", "ul": "kit", "mm3": "kit"}
"""Base unit of an amount → the setting that says it, which is in thousands of that unit."""


def questions(con: duckdb.DuckDBPyConnection, shop: Shop) -> Iterator[QuestionAt]:
    """What is in one of each item whose lines don't tell it, with the lines and the money that wait for it."""
    placed = con.sql("""
        select lines.item, place.file, place.sheet, place.row, place.occurrence, lines.cents
        from work.unsized as lines
        join intake.row as place on place.row_id = lines.row_id
        order by all
    """).pl()
    for (item, file, sheet), rows in placed.group_by("item", "file", "sheet", maintain_order=True):
        places = rows.select("row", "occurrence", "cents").cast(pl.Schema(WORTH))
        question = _question(str(item), shop)
        yield QuestionAt(question, str(file), str(sheet), "", rows.height, int(places["cents"].sum()), places=places)


def _question(item: str, shop: Shop) -> Question:
    such = SUCH[str(shop["units"])]
    ask = f"How much is in one “{item}”? By weight or by volume, with its unit, as its label says: {such}."
    choice = Choice(such, f"[[items]]: what is in one {item}", ((SIZE, item, ""),))
    return Question(KIND, key(item), ask, (choice,), LITTLE, "purchases", "quantity")


def setting(text: str, shop: Shop) -> tuple[str, float | int]:
    """The setting of an item that an amount such as `2.4 kg` or `64 fl oz` is, and its value. `UserError` if none."""
    try:
        amount, base = Reader(Units(shop.words.get("unit"))).read(text)
    except UnreadableError as error:
        raise UserError(f"“{text[:40]}” is no amount with a unit.", mend=_mend(shop)) from error
    if base not in NAMED or amount <= 0:
        raise UserError(f"“{text[:40]}” is neither a weight nor a volume.", mend=_mend(shop))
    return NAMED[base], amount / 1000 if amount % 1000 else amount // 1000


def _mend(shop: Shop) -> str:
    return f"Say it with its unit, as the label does, such as {SUCH[str(shop['units'])]}."
