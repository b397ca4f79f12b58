"""How far the cells of a workbook's sheets reach, from its own XML, before a library makes room for all of it.

One cell in the last corner of a sheet (XFD1048576), or a row repeated a million times, asks for hundreds of gigabytes.
"""

import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree
from xml.parsers import expat

from pipeline.readers.limits import AREA, COLUMNS, DAMAGED, SPARSE

MOST_SCANNED = 2**26
"""Bytes of a sheet; a larger one holds so many cells that it can't be sparse, and the clock stands by."""

_CELL = re.compile(rb'<c [^>]*?r="([A-Z]+)(\d+)"(?:[^>]*[^/])?>')
_TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0"
_OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0"


def too_far(path: Path) -> dict[str, str]:
    """Sheet → why it is not read, for each sheet whose cells reach too far. Damaged parts are left to their reader."""
    try:
        with zipfile.ZipFile(path) as archive:
            extents = _ods(archive) if path.suffix.lower() == ".ods" else _xlsx(archive)
    except DAMAGED:
        return {}
    return {sheet: why for sheet, extent in extents.items() if (why := _why(*extent))}


def _why(rows: int, columns: int, cells: int) -> str:
    if columns <= COLUMNS and (rows * columns <= AREA or rows * columns <= SPARSE * cells):
        return ""
    return (
        f"The sheet reaches over {rows:,} rows and {columns:,} columns with {cells:,} filled cells. "
        "Delete the cells far off the table, and save it again."
    )


def _xlsx(archive: zipfile.ZipFile) -> dict[str, tuple[int, int, int]]:
    found = {}
    for name, part in parts(archive).items():
        if archive.getinfo(part).file_size <= MOST_SCANNED:
            cells = _CELL.findall(archive.read(part))
            columns = {place_of(letters) for letters, _ in cells}
            found[name] = max((int(row) for _, row in cells), default=0), max(columns, default=-1) + 1, len(cells)
    return found


def _ods(archive: zipfile.ZipFile) -> dict[str, tuple[int, int, int]]:
    if archive.getinfo("content.xml").file_size > MOST_SCANNED:
        return {}
    reach = _Reach()
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler, parser.EndElementHandler = reach.begin, reach.end
    parser.Parse(archive.read("content.xml"), True)
    return reach.found


class _Reach:
    """Rows, columns and filled cells of each sheet of an .ods (OpenDocument 1.3, part 3, 9.1), repeats counted."""

    def __init__(self) -> None:
        self.found: dict[str, tuple[int, int, int]] = {}
        self._sheet = ""
        self._row = self._repeats = self._column = self._last = self._filled = 0

    def begin(self, name: str, given: dict[str, str]) -> None:
        if name == f"{_TABLE} table":
            self._sheet, self._row = given.get(f"{_TABLE} name", ""), 0
            self.found[self._sheet] = 0, 0, 0
        elif name == f"{_TABLE} table-row":
            self._repeats, self._column = _count(given, "rows"), 0
            self._last = self._filled = 0
        elif name in (f"{_TABLE} table-cell", f"{_TABLE} covered-table-cell"):
            self._column += _count(given, "columns")
            if f"{_OFFICE} value-type" in given:
                self._last = self._column
                self._filled += 1

    def end(self, name: str) -> None:
        if name != f"{_TABLE} table-row" or self._sheet not in self.found:
            return
        self._row += self._repeats
        if self._filled:
            _, columns, cells = self.found[self._sheet]
            self.found[self._sheet] = self._row, max(columns, self._last), cells + self._filled


def _count(given: dict[str, str], what: str) -> int:
    text = given.get(f"{_TABLE} number-{what}-repeated", "1")
    return int(text) if text.isdecimal() else 1


def parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name → its part of an .xlsx; none where the archive names them in a way of its own."""
    names = set(archive.namelist())
    if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= names:
        return {}
    rels = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {rel.get("Id"): (rel.get("Target") or "").lstrip("/") for rel in rels}
    found = {}
    for sheet in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        if sheet.tag.endswith("}sheet"):
            target = next((targets.get(v, "") for k, v in sheet.attrib.items() if k.endswith("}id")), "")
            part = target if target.startswith("xl/") else f"xl/{target}"
            if part in names:
                found[sheet.get("name") or ""] = part
    return found


def place_of(letters: bytes) -> int:
    """A column's place, from 0, by its letters."""
    place = 0
    for letter in letters:
        place = place * 26 + letter - ord("A") + 1
    return place - 1
