"""Rows that say several things of one kind become a row for each: columns of hours or amounts, a pour over pieces."""

from pipeline.cleaning import poured_together, spread_columns
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable


def unfolded(table: TextTable, mapping: Mapping) -> tuple[TextTable, Mapping]:
    """The table with a row for each record, and the mapping by which that is read."""
    if mapping.spread:
        return spread_columns.unfolded(table, mapping)
    return poured_together.unfolded(table, mapping)
