"""Files into tables of text. `READERS` says which function reads which suffix; a new format is one line here."""

from collections.abc import Callable, Collection
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.calendar import read_calendar
from pipeline.readers.csv import read_text
from pipeline.readers.json_parquet import read_json, read_parquet
from pipeline.readers.limits import check_file
from pipeline.readers.mask_contacts import masked
from pipeline.readers.reader_output import UNREADABLE, TextTable
from pipeline.readers.workbook import read_workbook

__all__ = ["READERS", "TYPED", "UNREADABLE", "TextTable", "read"]

READERS: dict[str, Callable[[Path], list[TextTable]]] = {
    ".csv": read_text,
    ".tsv": read_text,
    ".txt": read_text,
    ".xlsx": read_workbook,
    ".ods": read_workbook,
    ".ics": read_calendar,
    ".json": read_json,
    ".jsonl": read_json,
    ".parquet": read_parquet,
}

TYPED = (".xlsx", ".ods", ".json", ".jsonl", ".parquet")
"""Of these, those whose numbers are typed: they come with a point for decimals, whatever a program showed."""


def read(path: Path, time_zone: str = "", operations: Collection[str] = ()) -> list[TextTable]:
    """Every table of a file, without mails, phones and streets in its notes, titles and descriptions.

    `time_zone` puts a calendar's events on the shop's own days; `operations` are the shop's own words for work.

    `UserError` for an unknown suffix, and for a file that is too large or can't be read.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        kind = path.suffix or "a file without a suffix"
        raise UserError(f"No reader for {kind}.", str(path), f"Readable: {', '.join(READERS)}.")
    check_file(path)
    found = read_calendar(path, time_zone, operations) if reader is read_calendar else reader(path)
    return [masked(table) for table in found]
