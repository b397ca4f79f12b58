"""How much is in one of what is bought by the kit or the bottle, but used by weight or volume: asked once an item.

It is asked of just those items of which `work.lot` has a line whose size is not known. The answer is an amount with its
unit, from which follows whether it stands in `[[items]]` as `kit_weight` or as `kit`.
"""

from collections.abc import Iterator

import polars as pl

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.units import Units
from pipeline.cleaning.worth import WORTH
from pipeline.errors import UserError
from pipeline.linking import Linked
from pipeline.proposing.questions import LITTLE, Choice, Question
from pipeline.records import STOCK_CATEGORIES
from pipeline.reference import key
from pipeline.shop import Shop

KIND = "size"
SIZE = "items.size"
"""Where a choice writes the size of one of an item: into its entry of `[[items]]`, under the name that its unit has."""

SUCH = {"metric": "2.4 kg or 2 l", "us": "5 lb or 64 fl oz"}
"""What one types, by the shop's units."""

BY_THE_PIECE = ("each", "kit")
POURED = ("mg", "ul", "mm3")
NAMED = {"mg": "kit_weight", "ul": "kit", "mm3": "kit"}
"""Base unit of an amount → the setting that says it, which is in thousands of that unit."""


def questions(linked: Linked, shop: Shop) -> Iterator[QuestionAt]:
    """What is in one of each item whose lines don't tell it, with the lines and the money that wait for it."""
    open_ = _lines(linked).join(items(linked, shop), on="item")
    by_piece = pl.col("quantity").is_null() | pl.col("quantity_unit").is_in(BY_THE_PIECE)
    open_ = open_.filter(by_piece, ~pl.col("unit").is_in(BY_THE_PIECE), ~pl.col("sized"))
    where = linked.row.select("row_id", "file", "sheet", "row", "occurrence")
    placed = open_.join(where, on="row_id").sort("item", "file", "sheet", "row", "occurrence")
    for (item, file, sheet), rows in placed.group_by("item", "file", "sheet", maintain_order=True):
        places = rows.select("row", "occurrence", pl.col("cents").abs().fill_null(0)).cast(pl.Schema(WORTH))
        cents = int(places["cents"].sum())
        question = _question(str(item), shop)
        yield QuestionAt(question, str(file), str(sheet), "", rows.height, cents, places=places)


def _question(item: str, shop: Shop) -> Question:
    such = SUCH[str(shop["units"])]
    ask = f"How much is in one “{item}”? By weight or by volume, with its unit, as its label says: {such}."
    choice = Choice(such, f"[[items]]: what is in one {item}", ((SIZE, item, ""),))
    return Question(KIND, key(item), ask, (choice,), LITTLE, "purchases", "quantity")


def _lines(linked: Linked) -> pl.DataFrame:
    """The lines that bring stock in: bought, or there at the start."""
    bought, counted = linked.records["purchases"], linked.records["counts"]
    bought = bought.filter(
        pl.col("category").is_in([name for name in STOCK_CATEGORIES if name != "wood"]),
        ~((pl.col("quantity") < 0) | (pl.col("amount_cents") < 0)).fill_null(value=False),
    )
    worth = counted.filter(pl.col("worth_cents").is_not_null(), (pl.col("category") != "wood").fill_null(value=True))
    columns = ("row_id", "item", "quantity", "quantity_unit")
    return pl.concat(
        [
            bought.select(*columns, cents="amount_cents"),
            worth.select(*columns, cents="worth_cents"),
        ]
    )


def items(linked: Linked, shop: Shop) -> pl.DataFrame:
    """Each item with its category, the unit that it is kept in, and whether the size of one is known; as `work.item`
    has it."""
    told = [
        linked.records[record].select(item=item, unit=unit, category=category)
        for record, item, unit, category in (
            ("purchases", "item", "quantity_unit", pl.col("category")),
            ("usage", "item", "quantity_unit", pl.lit(None)),
            ("counts", "item", "quantity_unit", pl.col("category")),
            ("pours", "resin", "part_a_unit", pl.lit("resin")),
            ("pours", "colourant", "colourant_quantity_unit", pl.lit("colourant")),
        )
    ]
    named = pl.concat([part.cast(pl.String) for part in told]).drop_nulls("item")
    poured = {*linked.records["pours"]["resin"].drop_nulls()}
    of_shop = {row["name"]: row for row in shop.tables["item"]}
    rows = []
    for (item,), of_item in named.group_by("item"):
        said = of_shop.get(item, {})
        category = said.get("category") or _most(of_item["category"])
        weighed = item in poured or category == "resin"
        sized = bool(said.get("kit_ul") or said.get("kit_weight_mg"))
        rows.append((item, category, _unit(said, weighed, sized, _most(of_item["unit"])), sized))
    columns = dict.fromkeys(("item", "category", "unit"), pl.String) | {"sized": pl.Boolean}
    return pl.DataFrame(rows, schema=columns, orient="row")


def _unit(said: dict[str, object], weighed: bool, sized: bool, usual: str | None) -> str:
    own = said.get("base_unit")
    if own in POURED:
        return str(own)
    if weighed or (sized and not own):
        return "mg"
    return str(own or usual or "each")


def _most(texts: pl.Series) -> str | None:
    """What stands there most often, of several the first by name."""
    counted = texts.drop_nulls().rename("text").value_counts().sort("count", "text", descending=[True, False])
    return counted["text"][0] if counted.height else None


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
