"""Where a word that is asked about stands: the header of its column, and a row that has it, cell by cell."""

import polars as pl

from pipeline.mapping import Mapping, column_of
from pipeline.readers import TextTable
from pipeline.readers.reader_output import occurrences
from pipeline.records import RECORDS
from pipeline.reference import key

CELLS, LETTERS = 6, 40
"""So many cells of a row tell it, and so many letters of a cell."""


def example_row(table: TextTable, how: Mapping, word: str, places: pl.DataFrame) -> str:
    """`column “kind”, row 37: 2025-03-04, swap, 185.00`: the first of the rows (row, occurrence) `places`.

    Only columns that a field takes up are told, and of these no free text: what somebody noted is nobody's business. A
    cell that holds the word alone tells the column, else one that has it among others (`2 armfuls`).
    """
    rows = table.frame.with_columns(occurrences(table.frame["row"]))
    found = rows.join(places.sort("row", "occurrence").head(1), on=["row", "occurrence"], how="semi")
    if not found.height:
        return ""
    cells = found.row(0, named=True)
    texts = {name: " ".join(cells[name].split()) for name in _told(table, how) if cells[name]}
    alone = [name for name, text in texts.items() if key(text) == key(word)]
    within = [name for name, text in texts.items() if key(word) and key(word) in key(text)]
    if not (alone or within):
        return ""
    holder = (alone or within)[0]
    at = table.columns.index(holder)
    column = f"column “{table.names[at]}”, " if table.names and table.names[at] else ""
    shown = [name for name in texts if name != holder][: CELLS - 1]
    line = ", ".join(_short(text) for name, text in texts.items() if name in (*shown, holder))
    return f"{column}row {cells['row']}: {line}"


def _short(text: str) -> str:
    return text if len(text) <= LETTERS else f"{text[: LETTERS - 1]}…"


def _told(table: TextTable, how: Mapping) -> list[str]:
    """The columns that may be shown, in the order of the file."""
    private = {field.name for field in RECORDS[how.record] if field.kind == "text"}
    headers = [*(header for name, header in how.columns.items() if name not in private), *how.helpers.values()]
    wanted = {column_of(table, header) for header in headers}
    return [name for name in table.columns if name in wanted]
