"""What the parsers of one kind of text share: distinct texts in, values and faults out.

A parser takes the *distinct* texts of a column and gives one row a text: `text`, its value columns, and for a text that
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
    rows = []
    single = len(types) == 1
    empty = (None,) * len(types)
    for text in texts:
        try:
            value = read(text)
            rows.append((text, *((value,) if single else value), None, None))
        except UnreadableError as fault:
            rows.append((text, *empty, fault.code, fault.hint))
    return pl.DataFrame(rows, schema={"text": pl.String, **types, "code": pl.String, "hint": pl.String}, orient="row")


def fast(
    texts: pl.Series, plain: str, value: pl.Expr, read: Callable[[str], Any], types: Mapping[str, Any]
) -> pl.DataFrame:
    """Like `each`, but texts that match the pattern `plain` get `value` (an expression over `text`) in one sweep.

    `value` fills the first column of `types`; the others stay null for those texts.
    """
    frame = texts.rename("text").to_frame()
    easy = frame.filter(pl.col("text").str.contains(plain))
    hard = frame.filter(~pl.col("text").str.contains(plain))
    name, dtype = next(iter(types.items()))
    done = easy.with_columns(value.cast(dtype).alias(name))
    return pl.concat([done, each(hard["text"], read, types)], how="diagonal")


def one_of(words: Iterable[str]) -> str:
    """A regular expression that fits any of `words`, longest first."""
    return "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w)))
