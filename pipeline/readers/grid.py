"""A text file as one grid of cells, before anybody asks which rows are titles, headers or data.

Files in order (quotes closed by the rules of RFC 4180, one kind of line end) are checked and counted as whole arrays
and parsed by Polars; all others take the careful way in `lenient_csv`.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.readers.lenient_csv import Marks, careful_rows
from pipeline.readers.limits import check_columns
from pipeline.readers.mixed_delimiters import mend
from pipeline.readers.reader_output import cell_columns, frame_of

# stands for a delimiter of several characters in the fast way; a control mark that no spreadsheet writes
_UNIT_SEPARATOR = b"\x1f"
# stands for a quote in the midst of a cell's text, which can't open or close anything
_STRAY = b"\x1e"


@dataclass(frozen=True)
class Grid:
    """`frame` in the shape of `TextTable.frame`, blank rows included; `widths` is each row's number of cells as
    written; `mended` the rows that used another delimiter; `unclean` the number of rows with stray quotes."""

    frame: pl.DataFrame
    widths: np.ndarray
    mended: dict[int, str] = field(default_factory=dict)
    unclean: int = 0


def read_grid(data: bytes, marks: Marks, in_order: bool = False) -> Grid:
    """The cells of UTF-8 `data`, by its marks; of a file known to be in order no row is read by another delimiter."""
    return fast_grid(data, marks, in_order) or careful_grid(data, marks)


def careful_grid(data: bytes, marks: Marks) -> Grid:
    """The cells of any text, row by row."""
    text = data.decode()
    rows = careful_rows(text, marks)
    widths = np.array([len(c) for c in rows.cells], dtype=np.int64)
    check_columns(int(widths.max(initial=0)), f"line {rows.numbers[int(widths.argmax())] if len(widths) else 1}")
    frame = frame_of(rows.cells, rows.numbers)
    return Grid(
        *mend(frame, widths, lambda first, last: text[rows.spans[first][0] : rows.spans[last][1]], marks), rows.unclean
    )


def fast_grid(data: bytes, marks: Marks, in_order: bool = False) -> Grid | None:
    """The cells of a file that is in order, else None. What Polars reads must agree with our own count of records."""
    if marks.escape and marks.escape.encode() in data:
        return None
    several = len(marks.delimiter.encode()) > 1
    separator = _UNIT_SEPARATOR if several or not marks.delimiter else marks.delimiter.encode()
    if (separator != marks.delimiter.encode() and separator in data) or len(marks.quote.encode()) > 1:
        return None
    if several:
        data = data.replace(marks.delimiter.encode(), separator)
    shape = shape_of(data, separator, marks.quote.encode())
    masked = shape is None and _STRAY not in data
    if masked:
        data = _mask_stray(data, separator, marks.quote.encode())
        shape = shape_of(data, separator, marks.quote.encode())
    if shape is None:
        return None
    widest = int(shape.widths.argmax())
    check_columns(int(shape.widths[widest]), f"line {shape.numbers[widest]}")
    frame = _parse(data, separator.decode(), marks.quote, shape.line_end, cell_columns(int(shape.widths.max())))
    if frame is None or frame.height != len(shape.numbers):
        return None
    if several:
        frame = frame.with_columns(pl.all().str.replace_all("\x1f", marks.delimiter, literal=True))
    if masked:
        frame = frame.with_columns(pl.all().str.replace_all(_STRAY.decode(), marks.quote, literal=True))
    frame = frame.with_columns(pl.Series("row", shape.numbers, dtype=pl.Int64))

    def raw(first: int, last: int) -> str:
        start = int(shape.ends[first - 1]) + 1 if first else 0
        text = data[start : int(shape.ends[last])].replace(separator, marks.delimiter.encode()).decode().rstrip("\r")
        return text.replace(_STRAY.decode(), marks.quote) if masked else text

    return Grid(*mend(frame, shape.widths, raw, marks, in_order))


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


@dataclass(frozen=True)
class Shape:
    """Per record: the line where it starts, the place of its end in the data, its number of cells; the line end."""

    numbers: np.ndarray
    ends: np.ndarray
    widths: np.ndarray
    line_end: str


def shape_of(data: bytes, separator: bytes, quote: bytes) -> Shape | None:
    """The records of a file in order; None for one that is not."""
    array = np.frombuffer(data, dtype=np.uint8)
    if not len(array):
        return None
    quotes = _places(array, quote) if quote and quote in data else np.zeros(0, dtype=np.int64)
    feeds, returns = _places(array, b"\n"), _places(array, b"\r") if b"\r" in data else quotes[:0]
    only_returns = bool(len(returns)) and not len(feeds)
    if only_returns:
        feeds = returns
    elif len(_outside(quotes, _alone(array, returns))):
        return None
    line_end = b"\r" if only_returns else b"\n"
    if not _in_order(array, quotes, separator, line_end):
        return None
    separators, ends = _outside(quotes, _places(array, separator)), _outside(quotes, feeds)
    if not len(ends) or ends[-1] != len(array) - 1:
        ends = np.append(ends, len(array))
    lines = feeds if only_returns else np.sort(np.concatenate((feeds, _alone(array, returns))))
    numbers = np.searchsorted(lines, np.concatenate(([0], ends[:-1] + 1))) + 1
    widths = np.diff(np.searchsorted(separators, ends), prepend=0) + 1
    return Shape(numbers, ends, widths, line_end.decode())


def _outside(quotes: np.ndarray, places: np.ndarray) -> np.ndarray:
    """The places outside of every quoted cell: those with an even number of quotes before them."""
    return places[np.searchsorted(quotes, places) % 2 == 0] if len(quotes) else places


def _alone(array: np.ndarray, returns: np.ndarray) -> np.ndarray:
    """Carriage returns that no line feed follows."""
    following = array[np.minimum(returns + 1, len(array) - 1)]
    return returns[(following != ord("\n")) | (returns == len(array) - 1)]


def _places(array: np.ndarray, mark: bytes) -> np.ndarray:
    return np.flatnonzero(array == mark[0])


def _mask_stray(data: bytes, separator: bytes, quote: bytes) -> bytes:
    """The data with `_STRAY` for each quote that has text on both sides: a 5" clamp."""
    array = np.frombuffer(data, dtype=np.uint8).copy()
    quotes = _places(array, quote)
    quotes = quotes[(quotes > 0) & (quotes < len(array) - 2)]
    ends = np.frombuffer(separator + b"\r\n", dtype=np.uint8)
    blanks = np.frombuffer(b" \t", dtype=np.uint8)
    before, after, beyond = array[quotes - 1], array[quotes + 1], array[quotes + 2]
    edges = np.concatenate((ends, np.frombuffer(quote, dtype=np.uint8)))
    # blanks between a quote and a separator are layout, so that quote may open or close a cell
    text_before = ~np.isin(before, np.concatenate((edges, blanks)))
    text_after = ~np.isin(after, edges) & ~(np.isin(after, blanks) & np.isin(beyond, np.concatenate((ends, blanks))))
    array[quotes[text_before & text_after]] = _STRAY[0]
    return array.tobytes()


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
