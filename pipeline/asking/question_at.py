"""A question where it comes up: in which table, over how many rows, and how much money hangs on them."""

from collections.abc import Mapping as Values
from dataclasses import dataclass

import polars as pl

from pipeline.cleaning import KINDS, column_formats
from pipeline.cleaning.parsed import About, parse
from pipeline.mapping import Mapping
from pipeline.mapping.private_columns import share_true
from pipeline.proposing.questions import MONEY_LIKE, Question
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop

AMOUNTS = {
    "sales": "price",
    "purchases": "amount",
    "payments": "amount",
    "orders": "price",
    "pieces": "list_price",
    "counts": "worth",
}
"""The money of a record's row, by which its questions are ranked."""

_MOSTLY = 0.6


@dataclass(frozen=True)
class QuestionAt:
    """A question of one table: its file, its sheet, the mapping file that it is read by ("" = none), its rows, the
    cents that hang on them, and its headings."""

    question: Question
    file: str
    sheet: str
    mapping: str
    rows: int
    cents: int
    headings: tuple[str, ...] = ()


def worth(table: TextTable, how: Mapping, shop: Shop, file: str) -> pl.DataFrame:
    """What each row of a table is about, in cents without a sign: its amount, or its hours at the highest pay."""
    record = RECORDS[how.record]
    cells = column_formats.in_usual_marks(column_formats.cells(table, how, record), record)
    shown = column_formats.evidence(cells, how, record, file, shop)

    def values(name: str) -> pl.Series:
        field = record.field(name)
        if name not in cells.columns:
            return pl.Series([None] * cells.height, dtype=pl.Int64)
        about = column_formats.about(table, how, field, shop, shown)
        return parse(cells[name].rename("text"), KINDS[field.kind], about)["value"].cast(pl.Int64)

    if how.record == "hours":
        cents = values("hours") * int(pay(shop)) // 3600
    elif how.record in AMOUNTS:
        cents = values(AMOUNTS[how.record])
        if how.record == "sales":
            cents = cents * values("quantity").fill_null(1)
    else:
        cents = pl.Series([0] * cells.height, dtype=pl.Int64)
    return cells.select("row", "occurrence").with_columns(cents.abs().fill_null(0).alias("cents"))


def pay(shop: Shop) -> float:
    """Cents for an hour of the person who costs most."""
    return max((row["rate_cents"] or 0 for row in shop.tables["person_rate"]), default=0)


def worth_of_all(table: TextTable, shop: Shop, record: str) -> int:
    """The cents of a table of which nobody knows yet what it holds: its column with most money in it; of what may be
    hours, those at the highest pay."""
    sums = [_sum(table.frame[name], shop) for name in table.columns]
    if record == "hours":
        sums = [_hours(table.frame[name], shop) for name in table.columns]
    return max(sums, default=0)


def _sum(texts: pl.Series, shop: Shop) -> int:
    found = texts.drop_nulls().rename("text")
    if share_true(found.str.contains(MONEY_LIKE)) < _MOSTLY:
        return 0
    return _total(found, "sales", "price", shop)


def _hours(texts: pl.Series, shop: Shop) -> int:
    found = texts.drop_nulls().rename("text")
    seconds = _total(found, "hours", "hours", shop) if found.len() else 0
    return int(seconds * pay(shop)) // 3600 if seconds < found.len() * 86_400 else 0


def _total(texts: pl.Series, record: str, name: str, shop: Shop) -> int:
    field = RECORDS[record].field(name)
    decimal = column_formats.numbers.certain(texts)
    about = About(field, shop, decimal=decimal if decimal in (".", ",") else ".")
    return int(parse(texts, KINDS[field.kind], about)["value"].cast(pl.Int64).abs().sum() or 0)


def of_table(question: Question, at: Values[str, str], rows: int, cents: int) -> QuestionAt:
    """A question about a whole table; `at` has its file, its sheet and its mapping."""
    return QuestionAt(question, at["file"], at["sheet"], at["mapping"], rows, cents)
