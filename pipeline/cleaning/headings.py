"""What headings say of the rows below them: the year of a date without one, a day, the category of what was bought."""

import re
from itertools import accumulate

import polars as pl

from pipeline.cleaning.dates import WEEKDAY, YEARLESS
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.synonyms import Words
from pipeline.mapping import Mapping
from pipeline.readers.periods import period_of
from pipeline.readers.reader_output import TextTable
from pipeline.records import Field, Record
from pipeline.shop import Shop

_DAY_ALONE = rf"{WEEKDAY}\d{{1,2}}(?:st|nd|rd|th|\.)?$"
_HALF_A_YEAR = 6

LINES = 2
"""So many lines without a day and a supplier are a habit of the file."""


def applied(
    found: pl.DataFrame, table: TextTable, mapping: Mapping, record: Record, file: str, year: int = 0
) -> pl.DataFrame:
    """The cells of a table (`column_formats.cells`) with what its section rows, headers, titles and names say; where
    these say no year, that of the shop's other files."""
    for field in record:
        if field.kind == "date" and field.name in found.columns:
            found = found.with_columns(_dated(found, field, table, mapping, file, year))
    return found


def continued(cells: pl.DataFrame, record: Record) -> tuple[pl.DataFrame, int]:
    """Lines of receipts whose day and supplier stand on the first line alone, each with those of the line above, and
    how many these are. Only where all lines without a day lack the supplier too: else one of them is missing."""
    named = [name for name in ("date", "supplier", "receipt") if name in cells.columns]
    if record.name != "purchases" or not {"date", "supplier", "item"} <= {*cells.columns} or cells.is_empty():
        return cells, 0
    bare = cells.select(pl.all_horizontal(pl.col(named).is_null()) & pl.col("item").is_not_null()).to_series()
    dayless = cells["date"].is_null() & cells["item"].is_not_null()
    if int(bare.sum()) < LINES or bare[0] or not (dayless == bare).all():
        return cells, 0
    above = [pl.when(bare).then(pl.col(name).forward_fill()).otherwise(name).alias(name) for name in named]
    return cells.with_columns(above), int(bare.sum())


def _dated(found: pl.DataFrame, field: Field, table: TextTable, mapping: Mapping, file: str, others: int) -> pl.Series:
    """The cells of a date field, each with the year that its own cell lacks."""
    texts = found[field.name]
    yearless = texts.str.contains(YEARLESS)
    bare = texts.str.contains(_DAY_ALONE)
    empty = texts.is_null() & pl.lit(field.name == "date")
    above = {period.month for period in map(period_of, table.titles) if period.month}
    first = above.pop() if len(above) == 1 else 0  # a title right above the headers may head the first part
    if not (table.sections or yearless.any() or (first and bare.any())):
        return texts
    below = _below(found["row"], table)
    whole = mapping.year or _year_of(table, mapping.columns.get(field.name, ""), file) or others
    periods = [period_of(text) for _, text in table.sections]
    years = _held([period.year for period in periods], whole)
    months = _held([period.month for period in periods], first, [bool(period.year) for period in periods])
    days = [text if period.day else None for period, (_, text) in zip(periods, table.sections, strict=True)]
    told = pl.DataFrame(
        {
            "text": texts,
            "year": pl.Series([year or None for year in years], dtype=pl.Int64).gather(below) + _years_on(texts, table),
            "month": pl.Series([month or None for month in months], dtype=pl.Int64).gather(below),
            "day": pl.Series([None, *days], dtype=pl.String).gather(below),
        }
    )
    bare_text = pl.col("text").str.strip_chars_end(". ")
    mark = bare_text.str.extract(r"([./-])")
    with_year = pl.concat_str(bare_text, pl.coalesce(mark, pl.lit(" ")), pl.col("year").cast(pl.String))
    from_day = pl.concat_str(
        pl.col("year").cast(pl.String),
        pl.col("month").cast(pl.String).str.zfill(2),
        pl.col("text").str.extract(r"(\d{1,2})\D*$").str.zfill(2),
        separator="-",
    )
    made = (
        pl.when(yearless.fill_null(False) & pl.col("year").is_not_null())
        .then(with_year)
        .when(bare.fill_null(False) & pl.col("year").is_not_null() & pl.col("month").is_not_null())
        .then(from_day)
        .when(empty)
        .then("day")
        .otherwise("text")
    )
    return told.select(made.alias(field.name)).to_series()


def _years_on(texts: pl.Series, table: TextTable) -> pl.Series:
    """How many years after the first each row is, where dates without one go on past December; none below headings,
    which say it themselves."""
    none = pl.repeat(0, texts.len(), dtype=pl.Int64, eager=True)
    if table.sections:
        return none
    pairs = texts.str.extract_groups(r"^\D*(\d{1,2})\s*[./-]\s*(\d{1,2})\D*$").struct.unnest()
    first, second = (pairs[name].cast(pl.Int64) for name in ("1", "2"))
    month = second if (first > 12).any() else first if (second > 12).any() else None
    if month is None:
        return none
    step = month.forward_fill().diff().fill_null(0)
    turns = step <= -_HALF_A_YEAR
    # only where the rows stand in the order of their days
    in_order = int(((step < 0) & ~turns).sum()) == 0
    return turns.cast(pl.Int64).cum_sum() if in_order else none


def _held(values: list[int], first: int, anew: list[bool] | None = None) -> list[int]:
    """What holds above all sections, and below each of them, as the last one that says it."""
    resets = anew or [False] * len(values)
    pairs = list(zip(values, resets, strict=True))
    return list(accumulate(pairs, lambda last, pair: pair[0] or (0 if pair[1] else last), initial=first))


def _below(rows: pl.Series, table: TextTable) -> pl.Series:
    """Which section each row stands below, counted from 1; 0 = none."""
    starts = pl.Series([row for row, _ in table.sections], dtype=pl.Int64)
    return starts.search_sorted(rows.cast(pl.Int64), side="right")


def _year_of(table: TextTable, header: str, file: str) -> int:
    """The year that the column's header, the titles, the sheet and the file's name agree on; 0 where they don't."""
    if year := period_of(header).year:
        return year
    said = {
        period.year for period in map(period_of, (*table.titles, table.sheet, *re.split(r"[/\\]", file))) if period.year
    }
    return said.pop() if len(said) == 1 else 0


def category_below(found: pl.DataFrame, table: TextTable, shop: Shop) -> pl.DataFrame:
    """The rows without a category below a heading that is one: "Resin", and all that was bought of it."""
    if not table.sections or "item" not in found.columns:
        return found
    words = Words("category", shop)
    named = [_known(words, text) for _, text in table.sections]
    if not any(named):
        return found
    given = pl.Series("category", [None, *named], dtype=pl.String).gather(_below(found["row"], table))
    own = found["category"] if "category" in found.columns else pl.Series("category", [None] * found.height, pl.String)
    return found.with_columns(pl.select(pl.coalesce(own, given).alias("category")).to_series())


def _known(words: Words, text: str) -> str | None:
    try:
        return words.find(text)
    except UnreadableError:
        return None
