"""A column of a table and what was proposed for it: its header, its field, how sure, why, and what stands in it."""

from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True)
class Column:
    """A column that may be mapped: its name in the table, its header, and its distinct texts that are not empty."""

    name: str
    header: str
    texts: pl.Series


@dataclass(frozen=True)
class ColumnGuess:
    """One column: its header, the field proposed ("" = none), how sure (0 to 1), why, and what stands in it."""

    column: str
    header: str
    field: str
    confidence: float
    why: str  # "name", "content", "private", "not needed", "helper", "not known", "need": no other is
    samples: tuple[str, ...]
