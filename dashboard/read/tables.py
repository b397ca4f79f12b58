"""What every reader of published tables shares."""

from abc import ABC, abstractmethod
from typing import Any

import polars as pl

SHOWN = 200
"""Rows of a trace that a page shows at most, dearest first."""

INTO_PIECES = """(
    select * from (select * replace (into_piece(from_place, to_place, layer, item, cents) as cents) from cost.moved)
    where cents is not null
)"""
"""The rows of the trace that are what pieces cost: none of them is of what left a piece, which is summed here."""

PROVENANCE = """
    because.record, because.file, because.sheet, because.row,
    paid.record as paid_record, paid.file as paid_file, paid.sheet as paid_sheet, paid.row as paid_row
"""


class Tables(ABC):
    """Reads with SQL; what was read once is kept."""

    @abstractmethod
    def _frame(self, query: str, **values: Any) -> pl.DataFrame:
        """What the query selects."""
