"""Hours with a column for each person, or for each kind of work: "Wren h", "Oskar h" become rows of their own; so do
amounts used with a column for each item: "Oil ml", "Discs P120"."""

from dataclasses import replace

import polars as pl

from pipeline.cleaning.column_formats import unit_in_header
from pipeline.mapping import SPREAD, Mapping, column_of
from pipeline.readers.reader_output import TextTable

NOTHING = r"^\s*(?:0+(?:[.,:]0+)?|[-–—])\s*$"
"""What stands where somebody did nothing."""


def unfolded(table: TextTable, mapping: Mapping) -> tuple[TextTable, Mapping]:
    """The table with a row for each of its spread columns that has something, and the mapping by which that is read.
    A row in which none has anything stays, and is set aside for want of it."""
    found = {column: text for header, text in mapping.spread.items() if (column := column_of(table, header))}
    plain = replace(mapping, spread={}, spread_over="")
    if not found:
        return table, plain
    value_name = SPREAD[mapping.record][0]
    headers = dict(zip(table.columns, table.names, strict=False))
    parts = []
    for place, (column, text) in enumerate(found.items()):
        unit = _unit(headers.get(column, ""), mapping.record, table.frame[column])
        cell = pl.col(column).str.strip_chars()
        bare = cell.str.contains(r"^[\d.,]+$") & pl.lit(bool(unit))
        timed = pl.when(bare).then(cell + pl.lit(f" {unit}")).otherwise(cell)
        filled = pl.when(~cell.str.contains(NOTHING)).then(timed)
        parts.append(table.frame.with_columns(_value=filled, _said=pl.lit(text), _at=pl.lit(place)))
    rows = pl.concat([part.with_row_index("_row") for part in parts])
    some = pl.col("_value").is_not_null()
    # of a row in which nobody did anything one stays
    kept = rows.filter(some | (~some.any().over("_row") & (pl.col("_at") == 0))).sort("_row", "_at")
    kept = kept.with_columns(pl.when(some).then("_said").alias("_said"))
    width = len(table.columns)
    value, said = f"c{width}", f"c{width + 1}"
    frame = kept.select(*table.columns, pl.col("_value").alias(value), pl.col("_said").alias(said), "row")
    names = (*table.names, *[""] * (width - len(table.names)), HOURS, OVER)
    columns = plain.columns | {value_name: HOURS, mapping.spread_over: OVER}
    return replace(table, frame=frame, names=names), replace(plain, columns=columns)


def _unit(header: str, record: str, texts: pl.Series) -> str:
    """The unit of a column's bare numbers: its header's; what is used in whole numbers without one is counted."""
    if record == "hours":
        return unit_in_header(header, "duration")
    whole = texts.drop_nulls().str.contains(r"^\s*\d{1,3}\s*$").all()
    return unit_in_header(header, "quantity") or ("each" if whole else "")


HOURS, OVER = "amount of that column", "what that column is called"
"""What the headers of the two columns are that the spread ones become."""
