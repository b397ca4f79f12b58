"""How long work took, where a cell says it together with another one: "90" beside a column that says "min", and two
times of the day in one cell, "9:15-10:15"."""

import re
from dataclasses import replace

import polars as pl

from pipeline.cleaning.durations import UNITS
from pipeline.mapping import Mapping, column_of
from pipeline.readers.reader_output import TextTable

UNIT_OF_TIME = "unit_of_time"
"""The helping column that says the unit of each row's hours."""

BARE = r"^\d*[.,]?\d+$"
_CLOCK = r"\d{1,2}(?:[:.h][0-5]\d\s*(?:[ap]\.?m?\.?)?|\s*[ap]\.?m?\.?)"
_BETWEEN = r"\s*(?:-|–|—|to|bis|à|tot)\s*"
SPAN = rf"^(?i:{_CLOCK}{_BETWEEN}(?:{_CLOCK}|\d{{1,2}})|\d{{1,2}}{_BETWEEN}{_CLOCK})$"
"""Two times of the day, one of them at least with its minutes: "2-3" may be hours, "24-031" a tag."""
_SPAN, _PARTED = re.compile(SPAN), re.compile(_BETWEEN, re.IGNORECASE)


def is_unit(text: str) -> bool:
    return text.casefold().rstrip(".") in UNITS


def with_units(table: TextTable, mapping: Mapping) -> TextTable:
    """The table with the unit of each row's hours behind its number, where a column of its own says it."""
    hours, unit = (
        column_of(table, said) for said in (mapping.columns.get("hours", ""), mapping.helpers.get(UNIT_OF_TIME, ""))
    )
    if not hours or not unit:
        return table
    bare = pl.col(hours).str.strip_chars().str.contains(BARE) & pl.col(unit).is_not_null()
    joined = pl.when(bare).then(pl.concat_str(hours, unit, separator=" ")).otherwise(hours).alias(hours)
    return replace(table, frame=table.frame.with_columns(joined))


def span(text: str) -> dict[str, str] | None:
    """From when to when, of a cell that says both; None for any other."""
    if not _SPAN.fullmatch(text.strip()):
        return None
    start, end = _PARTED.split(text.strip(), maxsplit=1)
    return {"started_at": start, "ended_at": end}
