"""Text files with a delimiter, read without hints: every cell stays the text that it was."""

import re
from pathlib import Path

from pipeline.readers.dialect import detect
from pipeline.readers.encoding import decode
from pipeline.readers.grid import read_grid
from pipeline.readers.lenient_csv import Marks
from pipeline.readers.limits import check_cells
from pipeline.readers.reader_output import TextTable
from pipeline.readers.strict_csv import strict_marks
from pipeline.readers.structure import tables_of

_LINE_ENDS = {"\r\n": "CRLF", "\n": "LF", "\r": "CR"}
_HEAD_BYTES = 400_000


def read_text(path: Path) -> list[TextTable]:
    """The tables of a delimited text file. An empty file gives one table without columns."""
    tables = tables_in(path.read_bytes())
    for table in tables:
        check_cells(table.frame, str(path))
    return tables


def tables_in(raw: bytes) -> list[TextTable]:
    """The tables of a delimited text, given as bytes in any usual encoding."""
    decoded = decode(raw)
    data = decoded.data
    zeros = data.count(b"\0")
    head = data[:_HEAD_BYTES].decode("utf-8", errors="ignore")
    marks = detect(head)
    if zeros and "\0" not in (marks.escape, marks.delimiter, marks.quote):
        # a NUL is padding that some tills leave behind; DuckDB and spreadsheets can't show it
        data = data.replace(b"\0", b"")
        marks = detect(head.replace("\0", ""))
    marks, in_order = _believed(marks, strict_marks(data), '"' in head)
    grid = read_grid(data, marks, in_order)
    ends = sorted({_LINE_ENDS[m] for m in re.findall(r"\r\n|\n|\r", head)})
    dialect: dict[str, object] = {
        "kind": "text",
        "encoding": decoded.encoding,
        "byte_order_mark": decoded.marked,
        "delimiter": marks.delimiter,
        "quote": marks.quote,
        "escape": marks.escape or "doubled",
        "line_end": " ".join(ends),
        "nul_bytes": zeros,
        "rows_with_stray_quotes": grid.unclean,
        "rows_with_another_delimiter": grid.mended,
    }
    return tables_of(grid.frame, grid.widths, dialect)


def _believed(found: Marks, strict: list[Marks], quoted: bool) -> tuple[Marks, bool]:
    """The marks to read by, and whether its quotes show the file to be in order throughout: then none is guessed."""
    if not strict or (not quoted and found.quote != '"'):
        return found, False
    if any(mark.delimiter in found.delimiter for mark in strict):
        # "||" and ", " part the same cells, and leave no empty ones or blanks behind
        same = found.delimiter == strict[0].delimiter
        return (strict[0] if quoted and same else found), quoted and same
    return strict[0], quoted
