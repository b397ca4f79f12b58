"""Files into tables of text. `READERS` says which function reads which suffix; a new format is one line here."""

from collections.abc import Callable
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.csv import read_text
from pipeline.readers.tables import TextTable
from pipeline.readers.workbook import read_workbook

READERS: dict[str, Callable[[Path], list[TextTable]]] = {
    ".csv": read_text,
    ".tsv": read_text,
    ".txt": read_text,
    ".xlsx": read_workbook,
    ".ods": read_workbook,
}


def read(path: Path) -> list[TextTable]:
    """Every table of a file. `UserError` for an unknown suffix, and for a file that is too large or can't be read."""
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise UserError(
            f"No reader for {path.suffix or 'a file without a suffix'}.", str(path), f"Readable: {', '.join(READERS)}."
        )
    if not path.is_file():
        raise UserError("There is no such file.", str(path), "Check its name.")
    return reader(path)
