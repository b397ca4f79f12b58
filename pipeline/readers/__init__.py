"""Files into tables of text. `READERS` says which function reads which suffix; a new format is one line here."""

from collections.abc import Callable, Collection
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.calendar import read_calendar
from pipeline.readers.csv import read_text
from pipeline.readers.json_parquet import read_json, read_parquet
from pipeline.readers.limits import check_file
from pipeline.readers.mask_contacts import masked
from pipeline.readers.pdf import PAPERS, PICTURES, as_paper, read_pdf
from pipeline.readers.reader_output import MESSAGE, UNREADABLE, TextTable
from pipeline.readers.workbook import read_workbook
from pipeline.readers.xml_document import read_xml

__all__ = ["MESSAGE", "PAPERS", "READERS", "TYPED", "UNREADABLE", "TextTable", "read"]

READERS: dict[str, Callable[..., list[TextTable]]] = {
    ".csv": read_text,
    ".tsv": read_text,
    ".txt": read_text,
    ".xlsx": read_workbook,
    ".ods": read_workbook,
    ".ics": read_calendar,
    ".json": read_json,
    ".jsonl": read_json,
    ".parquet": read_parquet,
    ".xml": read_xml,
    ".pdf": read_pdf,
    **dict.fromkeys(PICTURES, as_paper),
}

TYPED = (".xlsx", ".ods", ".json", ".jsonl", ".parquet", ".xml", ".pdf")
"""Of these, those whose numbers are typed: they come with a point for decimals, whatever a program showed."""


def read(path: Path, time_zone: str = "", operations: Collection[str] = (), own_name: str = "") -> list[TextTable]:
    """Every table of a file, without mails, phones and streets in its notes, titles and descriptions.

    `time_zone` puts a calendar's events on the shop's own days; `operations` are the shop's own words for work;
    by `own_name`, what the shop is called, an invoice is told to be its own.

    `UserError` for an unknown suffix, and for a file that is too large or can't be read.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        kind = path.suffix or "a file without a suffix"
        raise UserError(f"No reader for {kind}.", str(path), f"Readable: {', '.join(READERS)}.")
    check_file(path)
    given: tuple[object, ...] = {
        read_calendar: (time_zone, operations),
        read_xml: (own_name,),
        read_pdf: (own_name,),
    }.get(reader, ())
    found = reader(path, *given)
    return [masked(table) for table in found]
