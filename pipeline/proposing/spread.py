"""Columns of hours, each of one person or one kind of work, that together are the hours of a table; and columns of
amounts, each of one item, that together are what was used on its pieces."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.cleaning.column_formats import unit_in_header
from pipeline.cleaning.durations import UNITS
from pipeline.cleaning.item_categories import categories
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.spread_columns import NOTHING
from pipeline.cleaning.synonyms import Words
from pipeline.mapping.private_columns import share_true
from pipeline.proposing import header_names
from pipeline.proposing.columns import Column
from pipeline.proposing.weighing import WeighedColumn
from pipeline.records import RECORDS
from pipeline.reference import key, synonyms
from pipeline.shop import Shop

LEAST, READABLE, CLOCKED = 2, 0.95, 0.5
LEAST_ITEMS, HALF = 2, 0.5
"""So many columns are called by items that are known, so much of all."""
_AMOUNT = r"^\s*\d{1,4}(?:[.,]\d)?\s*$"
"""No money, which has its cents."""
_NAME = re.compile(r"^[^\W\d_]{2,}(?:[ '-][^\W\d_]+)?$")


@dataclass(frozen=True)
class Spread:
    """The record of a table, the field of it that the headers of columns say, and header → its text."""

    record: str
    field: str
    columns: dict[str, str]


def find(columns: Sequence[WeighedColumn], shop: Shop) -> Spread | None:
    """The columns of hours that are called by people or by work, at least two, where no column is the hours by name.
    A name is that of a person where the shop knows it, or where its column says that it is time."""
    field = RECORDS["hours"].field("hours")
    timed = [c for c in columns if _is_time(c, shop)]
    if any(header_names.weight(c.header, "hours", "hours", field.kind) >= header_names.OF_WORDS for c in timed):
        return None
    work, people = Words("operation", shop), {}
    named = {*map(key, Words("person", shop).own_names()), *shop.seen.get("person", ())}
    known = {header for headers in synonyms("hours").values() for header in headers}
    found: dict[str, str] = {}
    for column in timed:
        name = _without_unit(column.header)
        if _known(work, name):
            found[column.header] = name
        elif key(name) in named or (_says_time(column) and _NAME.match(name) and key(name) not in known):
            people[column.header] = name
    for said, columns_ in (("operation", found), ("person", people)):
        if len(columns_) >= LEAST and len(columns_) >= len(found) + len(people) - len(columns_):
            return Spread("hours", said, columns_)
    return _items(columns, shop)


def _items(columns: Sequence[WeighedColumn], shop: Shop) -> Spread | None:
    """The columns of amounts that are called by items, beside a day and the tags of pieces."""
    plain = [c for c in columns if c.texts.len()]
    tags, days = RECORDS["usage"].field("pieces"), RECORDS["usage"].field("date")
    tagged = [c for c in plain if header_names.weight(c.header, "usage", "pieces", "tags") >= header_names.SPELLED]
    if not any(c.fit(tags, shop) >= READABLE for c in tagged) or not any(c.fit(days, shop) >= READABLE for c in plain):
        return None
    category, seen = categories(shop), shop.seen.get("item", frozenset())
    amounts = [c for c in plain if share_true(c.texts.str.contains(_AMOUNT)) == 1 and not _is_field(c)]
    names = {c.header: _item_called(c.header) for c in amounts}
    known = [name for name in names.values() if category(name) or key(name) in seen]
    if len(known) < LEAST_ITEMS or len(known) < HALF * len(names):
        return None
    return Spread("usage", "item", names)


def _is_field(column: Column) -> bool:
    """Whether a column is called by a field, of what is used or of a piece, and by no item."""
    of = ("usage", "pieces", "hours")
    return any(
        header_names.weight(column.header, record, field.name, field.kind) >= header_names.SPELLED
        for record in of
        for field in RECORDS[record]
        if field.name not in ("item", "finish")
    )


def _item_called(header: str) -> str:
    unit = unit_in_header(header, "quantity")
    return re.sub(rf"[(\[]?\b{re.escape(unit)}\b[)\]]?", "", header).strip(" ,:") if unit else header.strip()


def _is_time(column: WeighedColumn, shop: Shop) -> bool:
    texts = column.texts.filter(~column.texts.str.contains(NOTHING))
    if (
        not texts.len()
        or share_true(texts.str.contains(r"^\d{1,2}(?:[.,:hu]\d{0,2})?(?::\d\d)?\s*(?:h|u|min|m|['′’])?$")) < READABLE
    ):
        return False
    return column.fit(RECORDS["hours"].field("hours"), shop) >= READABLE or bool(
        unit_in_header(column.header, "duration")
    )


def _says_time(column: Column) -> bool:
    """Whether its header has a unit of time, or half of what stands below are hours and minutes: no mood or weight
    looks so."""
    filled = column.texts.filter(~column.texts.str.contains(NOTHING))
    clocked = share_true(filled.str.contains(r"^\d{1,2}[:hu](?:\d\d)?(?::\d\d)?$|^\d+\s*(?:min\.?|['′’])$")) >= CLOCKED
    return _without_unit(column.header) != column.header or clocked


def _without_unit(header: str) -> str:
    words = re.sub(r"[()\[\]:.,]", " ", header).split()
    return " ".join(word for word in words if word.casefold() not in UNITS)


def _known(work: Words, text: str) -> bool:
    try:
        return bool(text) and work.find(text) is not None
    except UnreadableError:
        return True


def columns_of(found: Spread | None, columns: Sequence[Column]) -> list[Column]:
    """Those of the columns that are spread; none where nothing is."""
    return [column for column in columns if found and column.header in found.columns]
