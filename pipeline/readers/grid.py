"""A text file as one grid of cells, before anybody asks which rows are titles, headers or data.

Files in order (quotes closed by the rules of RFC 4180, one kind of line end) are checked and counted as whole arrays and
parsed by Polars; all others take the careful way in `tokens`.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.readers.tables import cell_columns, frame_of
from pipeline.readers.tokens import Marks, careful_rows

# stands for a delimiter of several characters in the fast way; a control mark that no spreadsheet writes
_UNIT_SEPARATOR = b"\x1f"


@dataclass(frozen=True)
class Grid:
    """`frame` in the shape of `TextTable.frame`, blank rows included; `widths` is each row's number of cells as
    written; `mended` the rows that used another delimiter; `unclean` the number of rows with stray quotes."""

    frame: pl.DataFrame
    widths: np.ndarray
    mended: dict[int, str] = field(default_factory=dict)
    unclean: int = 0


def read_grid(data: bytes, marks: Marks) -> Grid:
    """The cells of UTF-8 `data`, by its marks."""
    return fast_grid(data, marks) or careful_grid(data, marks)


def careful_grid(data: bytes, marks: Marks) -> Grid:
    rows = careful_rows(data.decode(), marks)
    frame = frame_of(rows.cells, rows.numbers)
    return Grid(frame, np.array([len(c) for c in rows.cells], dtype=np.int64), rows.mended, rows.unclean)


def fast_grid(data: bytes, marks: Marks) -> Grid | None:
    """The cells of a file that is in order, else None. What Polars reads must agree with our own count of records."""
    if marks.escape and marks.escape.encode() in data:
        return None
    several = len(marks.delimiter.encode()) > 1
    if several:
        if _UNIT_SEPARATOR in data:
            return None
        data = data.replace(marks.delimiter.encode(), _UNIT_SEPARATOR)
    separator = _UNIT_SEPARATOR if several else marks.delimiter.encode() or _UNIT_SEPARATOR
    if (not marks.delimiter and _UNIT_SEPARATOR in data) or len(marks.quote.encode()) > 1:
        return None
    shape = _shape(data, separator, marks.quote.encode())
    if shape is None:
        return None
    numbers, widths, line_end = shape
    columns = cell_columns(int(widths.max(initial=0)))
    frame = _parse(data, separator.decode(), marks.quote, line_end, columns)
    if frame is None or frame.height != len(numbers):
        return None
    if several:
        frame = frame.with_columns(pl.all().str.replace_all("\x1f", marks.delimiter, literal=True))
    return Grid(frame.with_columns(pl.Series("row", numbers, dtype=pl.Int64)), widths)


def _parse(data: bytes, separator: str, quote: str, line_end: str, columns: list[str]) -> pl.DataFrame | None:
    try:
        frame = pl.read_csv(
            data,
            has_header=False,
            schema=dict.fromkeys(columns, pl.String),
            separator=separator,
            quote_char=quote or None,
            eol_char=line_end,
            missing_columns="insert",
            empty_string_is_null=True,
        )
    except pl.exceptions.PolarsError:
        # whatever Polars won't take is read the careful way
        return None
    return frame.with_columns(pl.when(pl.all() != "").then(pl.all()))


def _shape(data: bytes, separator: bytes, quote: bytes) -> tuple[np.ndarray, np.ndarray, str] | None:
    """The first line and the number of cells of each record, and the line end; None for a file not in order."""
    array = np.frombuffer(data, dtype=np.uint8)
    if not len(array):
        return None
    feeds, returns = _places(array, b"\n"), data.count(b"\r")
    if returns:
        if not len(feeds):
            feeds, line_end = _places(array, b"\r"), "\r"
        elif returns == len(feeds) and data.count(b"\r\n") == returns:
            line_end = "\n"
        else:
            return None
    else:
        line_end = "\n"
    quotes = _places(array, quote) if quote else feeds[:0]
    if not _in_order(array, quotes, separator, line_end.encode()):
        return None
    separators = _places(array, separator)
    ends = feeds
    if len(quotes):
        # an even number of quotes before it: outside of every quoted cell
        ends = feeds[np.searchsorted(quotes, feeds) % 2 == 0]
        separators = separators[np.searchsorted(quotes, separators) % 2 == 0]
    if not len(ends) or ends[-1] != len(array) - 1:
        ends = np.append(ends, len(array))
    numbers = np.searchsorted(feeds, np.concatenate(([0], ends[:-1] + 1))) + 1
    widths = np.diff(np.searchsorted(separators, ends), prepend=0) + 1
    return numbers, widths, line_end


def _places(array: np.ndarray, mark: bytes) -> np.ndarray:
    return np.flatnonzero(array == mark[0])


def _in_order(array: np.ndarray, quotes: np.ndarray, separator: bytes, line_end: bytes) -> bool:
    """Whether each quote opens a cell, closes one, or is doubled (RFC 4180, section 2, rules 5 to 7)."""
    if not len(quotes):
        return True
    if len(quotes) % 2:
        return False
    opens, closes = quotes[0::2], quotes[1::2]
    before = np.where(opens == 0, line_end[0], array[np.maximum(opens - 1, 0)])
    after = np.where(closes == len(array) - 1, line_end[0], array[np.minimum(closes + 1, len(array) - 1)])
    edges_before = (before == separator[0]) | (before == line_end[0])
    edges_after = (after == separator[0]) | (after == line_end[0]) | (after == ord("\r"))
    doubled = closes[:-1] + 1 == opens[1:]
    edges_before[1:] |= doubled
    edges_after[:-1] |= doubled
    return bool(edges_before.all() and edges_after.all())
