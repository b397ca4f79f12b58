"""What the parsers of one kind of text share: distinct texts in, values and faults out.

A reader takes the *distinct* texts of a column and gives one row a text: `text`, its value columns, and for a text that
can't be read `code` (a key of `FAULTS`) and `hint` (what to do about this very text, "" for the fault's usual mend).
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.records import Field
from pipeline.shop import Shop


class UnreadableError(Exception):
    """Raised by the reader of one text, caught by `each`; never leaves the package."""

    def __init__(self, code: str, hint: str = "") -> None:
        super().__init__(code)
        self.code, self.hint = code, hint


@dataclass(frozen=True)
class About:
    """What is known of a column besides its texts.

    `unit` is the unit of bare numbers ("" = none known), `order` the date order and `decimal` the decimal mark found or
    told for the file ("" = not known, "?" = the file contradicts itself), `header` stands above the column.
    """

    field: Field
    shop: Shop
    unit: str = ""
    order: str = ""
    decimal: str = ""
    header: str = ""


def each(texts: pl.Series, read: Callable[[str], Any], types: Mapping[str, Any]) -> pl.DataFrame:
    """Read every distinct text; `read` gives a value, or a tuple of them where `types` names several columns."""
    found: list[Any] = []
    codes: list[str | None] = []
    hints: list[str | None] = []
    for text in texts:
        try:
            found.append(read(text))
            codes.append(None)
            hints.append(None)
        except UnreadableError as fault:
            found.append(None)
            codes.append(fault.code)
            hints.append(fault.hint)
    columns = [found] if len(types) == 1 else [[v and v[i] for v in found] for i in range(len(types))]
    values = [pl.Series(name, column, kind) for column, (name, kind) in zip(columns, types.items(), strict=True)]
    code, hint = pl.Series("code", codes, pl.String), pl.Series("hint", hints, pl.String)
    return pl.DataFrame([texts.alias("text"), *values, code, hint])


@dataclass(frozen=True)
class Kind:
    """How a kind of field is read.

    `read` takes distinct texts. `easy` may give, for the plainest notation, a pattern and an expression over `text`
    with the value that `read` would give: those cells are read in one sweep, which makes a million rows quick.
    """

    read: Callable[[pl.Series, About], pl.DataFrame]
    easy: Callable[[About], tuple[str, pl.Expr]] | None = None


def parse(texts: pl.Series, kind: Kind, about: About) -> pl.DataFrame:
    """One row a cell, in order: `text`, the value columns, and for a cell that can't be read `code` and `hint`."""
    frame = texts.rename("text").to_frame()
    if kind.easy is None:
        done = kind.read(texts.drop_nulls().unique(), about)
        return frame.join(done, on="text", how="left", maintain_order="left")
    pattern, value = kind.easy(about)
    frame = frame.with_columns(pl.col("text").str.contains(pattern).alias("easy"))
    hard = frame.filter(~pl.col("easy"))["text"].unique()
    done = kind.read(hard, about)
    easy = pl.when("easy").then(value.cast(done.schema["value"]))
    if hard.is_empty():
        return frame.select("text", easy.alias("value"))
    joined = frame.join(done, on="text", how="left", maintain_order="left")
    return joined.with_columns(easy.otherwise("value").alias("value")).drop("easy")


def one_of(words: Iterable[str]) -> str:
    """A regular expression that fits any of `words`, longest first."""
    return "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w)))
