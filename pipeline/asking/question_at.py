"""A question where it comes up: in which table, over how many rows, and how much money hangs on them."""

from collections.abc import Mapping as Values
from dataclasses import dataclass

import polars as pl

from pipeline.cleaning import KINDS, column_formats
from pipeline.cleaning.parsed import About, parse
from pipeline.cleaning.worth import pay
from pipeline.mapping.private_columns import share_true
from pipeline.proposing.questions import MONEY_LIKE, Question
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop

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
