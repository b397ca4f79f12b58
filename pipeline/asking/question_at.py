"""A question where it comes up: in which table, over how many rows, and how much money hangs on them."""

from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.cleaning import KINDS, column_formats
from pipeline.cleaning.parsed import About, parse
from pipeline.cleaning.worth import WORTH, priced
from pipeline.mapping.private_columns import share_true
from pipeline.proposing.question import Question
from pipeline.proposing.questions import MONEY_LIKE
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop

_MOSTLY = 0.6


@dataclass(frozen=True)
class QuestionAt:
    """A question of one table: its file, its sheet, the mapping file that it is read by ("" = none), its rows, the
    cents that hang on them, its headings, and which rows those are with the cents of each: none where all are. As a
    file tells it there are `seconds` too, of hours, which `at_pay` turns into money. `stands` says of a word in which
    column it is, and a row that has it."""

    question: Question
    file: str
    sheet: str
    mapping: str
    rows: int
    cents: int
    headings: tuple[str, ...] = ()
    places: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=WORTH))
    seconds: int = 0
    stands: str = ""


def at_pay(asked: QuestionAt, an_hour: float) -> QuestionAt:
    """The question with its seconds as money, at so many cents an hour."""
    rows = priced(asked.places, an_hour)
    if not asked.seconds:
        return replace(asked, places=rows)
    cents = int(rows["cents"].sum()) if rows.height else asked.cents + int(asked.seconds * an_hour) // 3600
    return replace(asked, cents=cents, places=rows, seconds=0)


def worth_of_all(table: TextTable, shop: Shop, record: str) -> tuple[int, int]:
    """The cents and the seconds of a table of which nobody knows yet what it holds: of its column with most money in
    it; of what may be hours, of the one with most of those."""
    if record == "hours":
        return 0, max((_seconds(table.frame[name], shop) for name in table.columns), default=0)
    return max((_sum(table.frame[name], shop) for name in table.columns), default=0), 0


def _sum(texts: pl.Series, shop: Shop) -> int:
    found = texts.drop_nulls().rename("text")
    if share_true(found.str.contains(MONEY_LIKE)) < _MOSTLY:
        return 0
    return _total(found, "sales", "price", shop)


def _seconds(texts: pl.Series, shop: Shop) -> int:
    found = texts.drop_nulls().rename("text")
    seconds = _total(found, "hours", "hours", shop) if found.len() else 0
    return seconds if seconds < found.len() * 86_400 else 0


def _total(texts: pl.Series, record: str, name: str, shop: Shop) -> int:
    of = RECORDS[record].field(name)
    decimal = column_formats.numbers.certain(texts)
    about = About(of, shop, decimal=decimal if decimal in (".", ",") else ".")
    return int(parse(texts, KINDS[of.kind], about)["value"].cast(pl.Int64).abs().sum() or 0)
