"""The rows of the log's files: one CSV a record and day, written only as a refresh would read them back."""

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.errors import UserError
from pipeline.records import RECORDS
from pipeline.shop import Shop

if TYPE_CHECKING:
    from pipeline.cleaning import Cleaned

FOLDER = "log"


def header(record: str) -> list[str]:
    """The first line of its files: the record's own field names."""
    return [f.name for f in RECORDS[record]]


def file_of(home: Path, record: str, day: str) -> Path:
    """The day's file of a record; one that was changed by hand into another shape is left alone."""
    for number in range(1, 100):
        path = home / (f"{day}-{record}.csv" if number == 1 else f"{day}-{record}-{number}.csv")
        if not path.exists() or _lines(path)[:1] == [header(record)]:
            return path
    raise UserError("The log's files of this day were all changed by hand.", str(home), "Move them to the inbox.")


def _lines(path: Path) -> list[list[str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (FileNotFoundError, UnicodeDecodeError):
        return []
    return [line for line in csv.reader(io.StringIO(text, newline="")) if any(line)]


def rows_of(path: Path) -> list[list[str]]:
    """The rows of a file below its header; none where it is not there."""
    return _lines(path)[1:]


def text_of(record: str, rows: list[list[str]]) -> str:
    """The text of a file with these rows."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header(record), *rows])
    return out.getvalue()


def row_of(record: str, cells: Mapping[str, str]) -> list[str]:
    """The cells in the order of the record's fields, on one line each."""
    known = header(record)
    strange = sorted(set(cells) - set(known))
    if strange:
        raise UserError(f"A record of {record} has no field {strange[0]}.", mend=f"Known ones: {', '.join(known)}.")
    row = [" ".join(str(cells.get(name) or "").split()) for name in known]
    if not any(row):
        raise UserError("Nothing was filled in.", mend="Fill what you know; the fields that are needed say so.")
    return row


def check(shop: Shop, record: str, rows: list[list[str]], row: list[str]) -> None:
    """Raises `UserError` unless a refresh would load `row` from the file, and the file's other rows as before."""
    if missing := list(_missing(record, dict(zip(header(record), row, strict=True)))):
        raise UserError(
            f"Still needed: {', '.join(missing)}.", mend="Nothing was logged yet; what you filled in stays."
        )
    number, after = _cleaned(shop, record, [*rows, row])
    faults = {fault["row"]: fault for fault in after.rejected.rows(named=True)}
    if number in faults:
        own = faults[number]
        said = f" “{own['text']}”" if own["text"] else ""
        raise UserError(f"{own['field'].replace('_', ' ')}{said}: {own['reason']}", mend=own["suggestion"])
    others = after.frame.filter(after.frame["row"] != number)
    if rows and not others.equals(_cleaned(shop, record, rows)[1].frame):
        raise UserError(
            "With this entry the day's earlier ones would be read as something else.",
            mend="Write numbers with a point (12.50) and dates as 2026-05-31.",
        )


def _missing(record: str, cells: Mapping[str, str]) -> Iterator[str]:
    """All that the record still needs, as one says it."""
    filled = {name for name, text in cells.items() if text}
    yield from (f.name.replace("_", " ") for f in RECORDS[record] if f.needed(filled) and not cells[f.name])
    if record == "hours" and not cells["hours"] and not (cells["started_at"] and cells["ended_at"]):
        yield "hours (or the times it began and ended)"
    if record == "pieces" and cells["status"] == "finished" and not cells["finished"]:
        yield "the day it was finished"  # without it the piece counts nowhere as finished


def _cleaned(shop: Shop, record: str, rows: list[list[str]]) -> "tuple[int, Cleaned]":
    """The row number of the last of `rows` in its file, and what a refresh would make of the file."""
    from pipeline import mapping
    from pipeline.cleaning import clean
    from pipeline.proposing import suggestion
    from pipeline.readers.csv import tables_in

    name = f"{FOLDER}/{record}.csv"
    tables = [t for t in tables_in(text_of(record, rows).encode()) if t.frame.height]
    if len(tables) != 1 or tables[0].frame.height != len(rows):
        raise UserError("This row would not be read as a record.", mend="Fill more of its fields.")
    how = suggestion.choose(mapping.load(shop.path("mappings")), name, tables[0], shop)
    if not how or how.record != record:
        raise UserError(
            "A mapping of this shop takes the log's files for something else.",
            str(shop.path("mappings")),
            'Make its `files` narrower, so that it fits none of "log/*".',
        )
    return int(tables[0].frame["row"][-1]), clean(tables[0], how, shop, name)
