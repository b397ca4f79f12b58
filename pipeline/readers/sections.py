"""Section rows ("2025", "Q1", "Bought in March") and subtotals between the rows of a table, told from its data."""

import re
from dataclasses import replace

import polars as pl

from pipeline.readers.cell_kinds import kind_of
from pipeline.readers.heading import TOTAL
from pipeline.readers.periods import period_of
from pipeline.readers.reader_output import IGNORED_SCHEMA, TextTable
from pipeline.reference import words_for

SECTION, TOTAL_ROW = "section", "total"
"""Why such a row is no record, as it is listed."""

_LEAST_WIDTH = 3
_WEEK = re.compile(rf"(?:{'|'.join(words_for('phrases', 'week'))})\.?\s*\d{{1,2}}\b.*", re.IGNORECASE)
_FILLED = 0.9


def without_sections(table: TextTable) -> TextTable:
    """The table without rows that head a part of it or add one up: they are ignored, and its `sections` say what they
    said. A row with a single cell can be no record where others have three or more."""
    if len(table.columns) < _LEAST_WIDTH or table.frame.height < 2:
        return table
    frame = table.frame.with_row_index("at")
    cells = [pl.col(c).str.strip_chars().replace("", None) for c in table.columns]
    frame = frame.with_columns(cells).with_columns(
        held=pl.sum_horizontal(pl.col(c).is_not_null().cast(pl.Int32) for c in table.columns),
        first=pl.coalesce(table.columns),
    )
    usual = int(frame["held"].mode().max() or 0)  # type: ignore[arg-type]
    if usual < _LEAST_WIDTH:
        return table
    sections = _sections(frame.filter(held=1), frame.filter(pl.col("held") > 1), table.columns)
    rest = frame.filter(~pl.col("at").is_in(sections))
    gone = dict.fromkeys(sections, SECTION) | dict.fromkeys(_totals(rest, table.columns, usual), TOTAL_ROW)
    if not gone:
        return table
    told = frame.filter(pl.col("at").is_in(list(gone)))
    text = pl.concat_str(pl.col(table.columns), separator=" | ", ignore_nulls=True).alias("text")
    reason = pl.col("at").replace_strict(gone, return_dtype=pl.String).alias("reason")
    ignored = pl.concat([table.ignored, told.select("row", reason, text).cast(pl.Schema(IGNORED_SCHEMA))])
    return replace(
        table,
        frame=table.frame.filter(~frame["at"].is_in(list(gone))),
        ignored=ignored.sort("row", maintain_order=True),
        sections=tuple((row, text) for row, text in told.filter(held=1).select("row", "first").rows()),
    )


def _sections(lone: pl.DataFrame, full: pl.DataFrame, columns: list[str]) -> list[int]:
    """The rows with one cell that head the rows below them, by their place."""
    if lone.is_empty():
        return []
    found, begin = [], columns[:2]
    texts = {c: set(full[c].drop_nulls()) for c in begin}
    undated = {c: set(full.filter(pl.col(c).is_null())["at"]) for c in begin}
    for at, text, *cells in lone.select("at", "first", *begin).rows():
        column = next((c for c, cell in zip(begin, cells, strict=True) if cell is not None), None)
        if column is None or TOTAL.fullmatch(text):
            continue
        period = period_of(text)
        if period.day:  # a day is a heading where the rows below it have none of their own
            if at + 1 in undated[column]:
                found.append(at)
        elif (
            period.spoken
            or _WEEK.fullmatch(text)
            or (column == columns[0] and _is_words(text) and text not in texts[column])
        ):
            found.append(at)
    return found


def _is_words(text: str) -> bool:
    return kind_of(text) in ("plain", "prose") and not any(character.isdigit() for character in text)


def _totals(frame: pl.DataFrame, columns: list[str], usual: int) -> list[int]:
    """Rows that begin with a word for a total, hold nothing else but numbers, and lack what other rows always have."""
    named = frame.filter(
        pl.col("held") < usual, pl.col("first").str.contains(rf"^(?i:{TOTAL.pattern})$"), pl.col("held") > 0
    )
    if named.is_empty():
        return []
    always = [c for c in columns if frame[c].null_count() <= (1 - _FILLED) * frame.height + named.height]
    found = []
    for at, first, *cells in named.select("at", "first", *columns).rows():
        others = [cell for cell in cells if cell is not None and cell != first]
        lacks = any(cell is None for c, cell in zip(columns, cells, strict=True) if c in always)
        if lacks and all(kind_of(cell) == "number" for cell in others):
            found.append(at)
    return found
