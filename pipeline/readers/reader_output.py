"""What a reader hands on: tables of text, each row with the place where it stood."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

UNREADABLE = "unreadable"
"""In the dialect of a table that can't be read while the others of its file can: why, and what to do."""

MESSAGE = "message"
"""In the dialect of a table without rows: what is said of its file."""

IGNORED_SCHEMA = {"row": pl.Int64, "reason": pl.String, "text": pl.String}


@dataclass(frozen=True)
class OneRecord:
    """What the rows of a part of a table have in common, where the column under `header` says of each which record it
    is: the `record` ("" = it is not known), the `field` that this column tells too ("" = none), and the `word` in it
    that nobody knows."""

    header: str
    record: str = ""
    field: str = ""
    word: str = ""


@dataclass(frozen=True)
class TextTable:
    """A table of text as it stood in a file.

    `sheet` is "" for the only table of a text file, the sheet's name in a workbook, and ends in "table 2" for a
    further table. `names` are the header cells as written, "" where a column has none, and () where there is no
    header. `frame` has the String columns c0, c1, … (null = an empty or absent cell) and `row` (Int64), the line or
    sheet row where the record starts, counted from 1. `ignored` has `row`, `reason` and `text`: every row that is no
    data is there. Several rows may share a number (see `occurrences`). `dialect` says what was found: encoding,
    delimiter, quote, header rows, kind of sheet. `masked` counts the mails, phones and streets that were masked.
    `sections` are the rows that head the rows below them, as (row, text), once they are told from data; `above` are
    the words of a lone line before a blank one, which is a table of its own: it may head this one. `part`: what its
    rows have in common, where they are those of one record of a log of several.
    """

    sheet: str
    names: tuple[str, ...]
    frame: pl.DataFrame
    ignored: pl.DataFrame
    dialect: dict[str, object] = field(default_factory=dict)
    masked: int = 0
    sections: tuple[tuple[int, str], ...] = ()
    above: str = ""
    part: OneRecord | None = None

    @property
    def titles(self) -> list[str]:
        """What the lines above the header say."""
        lines = self.ignored.filter(reason="title")["text"].drop_nulls().to_list()
        return [self.above, *lines] if self.above else lines

    @property
    def columns(self) -> list[str]:
        """The names of the cell columns of `frame`, in order."""
        return [name for name in self.frame.columns if name != "row"]


def cell_columns(count: int) -> list[str]:
    return [f"c{i}" for i in range(count)]


def frame_of(rows: Sequence[Sequence[str | None]], numbers: Sequence[int], width: int | None = None) -> pl.DataFrame:
    """A frame in the shape of `TextTable.frame`. Short rows are filled with null; an empty text is null."""
    width = max((len(row) for row in rows), default=0) if width is None else width
    columns = {
        name: pl.Series(name, [(row[i] or None) if i < len(row) else None for row in rows], dtype=pl.String)
        for i, name in enumerate(cell_columns(width))
    }
    return pl.DataFrame({**columns, "row": pl.Series("row", list(numbers), dtype=pl.Int64)})


def ignored_of(entries: Sequence[tuple[int, str, str]]) -> pl.DataFrame:
    """A frame in the shape of `TextTable.ignored` from (row, reason, text)."""
    return pl.DataFrame(list(entries), schema=IGNORED_SCHEMA, orient="row").sort("row", maintain_order=True)


def unreadable_table(sheet: str, why: str, kind: str) -> TextTable:
    """What stands for a table that can't be read, beside the others of its file."""
    return TextTable(sheet, (), pl.DataFrame(schema={"row": pl.Int64}), ignored_of([]), {"kind": kind, UNREADABLE: why})


def occurrences(rows: pl.Series) -> pl.Series:
    """Which row of its line each one is, from 0: one line can hold several, as each time of a repeating event."""
    if (rows.diff().drop_nulls() > 0).all():
        return pl.repeat(0, rows.len(), dtype=pl.Int64, eager=True).alias("occurrence")
    again = pl.int_range(pl.len(), dtype=pl.Int64).over("row").alias("occurrence")
    return rows.alias("row").to_frame().select(again).to_series()


def clock_text(seconds: pl.Expr) -> pl.Expr:
    """Whole seconds as hours:minutes:seconds, more than a day too; null for less than none."""
    parts = (seconds // 3600, seconds // 60 % 60, seconds % 60)
    text = pl.concat_str([part.cast(pl.Int64).cast(pl.String).str.zfill(2) for part in parts], separator=":")
    return pl.when(seconds >= 0).then(text)
