"""The careful way from text to rows of cells, for files whose quotes, separators or line ends are not in order.

A quote closes a cell only where a separator or the end of the line follows, so stray quotes inside a cell stay text.
Where a row's quotes don't add up, the few other ways to read that row are tried, and the first one that gives the
width which the table has is taken; with none, the row keeps the cells it has.

A loop over rows, since each row's start depends on where the one before it ended; files in order never come here.
"""

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product

_LINE_END = re.compile(r"\r\n|\n|\r")
_WINDOWS = (1, 2, 3, 5, 9, 20)
_PRESUMED = (0, 1, 2, 3, 4, 6, 9)
_TRIES = 300
_SAMPLE_LINES = 1_000


@dataclass(frozen=True)
class Marks:
    """The marks of a file: `delimiter` (one or more characters, "" = one column only), `quote` ("" = none) and
    `escape` ("" = a quote inside a cell is doubled)."""

    delimiter: str
    quote: str = '"'
    escape: str = ""


@dataclass
class Rows:
    """Rows as read: their `cells`; `numbers` of the lines where they start, from 1; `spans` of their text;
    `unclean`, how many rows had quotes that don't add up."""

    cells: list[list[str]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    spans: list[tuple[int, int]] = field(default_factory=list)
    unclean: int = 0


class Splitter:
    """Reads cells and records by one set of marks."""

    def __init__(self, marks: Marks) -> None:
        self.marks = marks
        d, q, e = re.escape(marks.delimiter), re.escape(marks.quote), re.escape(marks.escape)
        end = rf"(?={d}|[\r\n]|\Z)" if d else r"(?=[\r\n]|\Z)"
        # blanks around a quoted cell are layout, unless blanks are what separates
        self.pad = "" if marks.delimiter[:1] in (" ", "\t") else "[ \t]*+"
        self.plain = re.compile(rf"(?:(?!{d})[^\r\n])*+" if d else r"[^\r\n]*+")
        self.opening = re.compile(rf"{self.pad}{q}") if q else None
        self.closing = re.compile(rf"{q}{self.pad}{end}")
        # a quote after a separator opens a cell: the one before it was never closed
        after = rf"(?<!{d})(?<![\r\n])" if d else r"(?<![\r\n])"
        stray = rf"{after}{q}(?!{self.pad}{end})"
        self.border = re.compile(rf"{q}{d}|{d}{q}")
        escaped = rf"{e}[\s\S]" if marks.escape == "\\" else rf"{e}{q}|{e}(?!{q})"
        inner = rf"[^{q}{e}]++|{escaped}|{stray}" if e else rf"[^{q}]++|{q}{q}|{stray}"
        self.quoted = re.compile(rf"{self.pad}{q}((?:{inner})*+){q}{self.pad}{end}") if q else None

    def record(self, text: str, start: int) -> tuple[list[str], int] | None:
        """The cells of the record at `start` and the place of its line end. None when its quotes don't add up."""
        cells: list[str] = []
        delimiter, step = self.marks.delimiter, len(self.marks.delimiter)
        while True:
            if self.opening is not None and self.opening.match(text, start):
                found = self.quoted.match(text, start) if self.quoted else None
                if found is None:
                    return None
                cells.append(self.unescape(found[1]))
            else:
                found = self.plain.match(text, start)
                assert found is not None
                cells.append(self.bare(found[0]))
            start = found.end()
            if not step or not text.startswith(delimiter, start):
                return cells, start
            start += step

    def unescape(self, inner: str) -> str:
        quote, escape = self.marks.quote, self.marks.escape
        if not escape:
            return inner.replace(quote + quote, quote)
        # only the backslash is known to escape itself
        either = escape + quote if escape == "\\" else quote
        return re.sub(f"{re.escape(escape)}([{re.escape(either)}])", r"\1", inner)

    def bare(self, text: str) -> str:
        """An unquoted cell: text as it stands, less the escape before a quote."""
        escape = self.marks.escape
        return text.replace(escape + self.marks.quote, self.marks.quote) if escape and escape in text else text

    def ways(self, text: str, start: int, stop: int, width: int | None, presumed: int) -> list[str] | None:
        """A way to read text[start:stop] as exactly `width` cells (any number when None), or None.

        It may presume at most so much: that a quote after another one closes its cell (1), that a quote at a cell's
        start is text (2), that a cell holds what looks like a border between cells (2 each).
        """
        self._left = _TRIES
        return self._ways(text, start, stop, width, presumed)

    def _ways(self, text: str, start: int, stop: int, width: int | None, allowed: int) -> list[str] | None:
        self._left -= 1
        if self._left < 0 or (width is not None and width < 1):
            return None
        step = len(self.marks.delimiter)
        for cell, end, presumed in self._cells(text, start, stop):
            if presumed > allowed:
                continue
            if end == stop:
                if width in (None, 1):
                    return [cell]
                continue
            if not step or not text.startswith(self.marks.delimiter, end):
                continue
            rest = self._ways(text, end + step, stop, None if width is None else width - 1, allowed - presumed)
            if rest is not None:
                return [cell, *rest]
        return None

    def _cells(self, text: str, start: int, stop: int) -> Iterator[tuple[str, int, int]]:
        opened = self.opening.match(text, start, stop) if self.opening is not None else None
        if opened:
            for close in self.closing.finditer(text, opened.end(), stop):
                inner = text[opened.end() : close.start()]
                doubled = bool(inner) and inner[-1] in self.marks.quote + self.marks.escape
                yield self.unescape(inner), close.end(), doubled + 2 * len(self.border.findall(inner))
        plain = self.plain.match(text, start, stop)
        if plain is not None:
            yield self.bare(plain[0]), plain.end(), 2 if opened else 0


def careful_rows(text: str, marks: Marks, limit: int | None = None) -> Rows:
    """Every record of `text` (the first `limit` ones). Blank lines are rows with one empty cell."""
    splitter = Splitter(marks)
    starts = [0, *(m.end() for m in _LINE_END.finditer(text))]
    ends = [m.start() for m in _LINE_END.finditer(text)]
    if starts[-1] == len(text) and len(starts) > 1:
        starts.pop()
    else:
        ends.append(len(text))
    rows = Rows()
    if not text:
        return rows
    usual = _usual_widths(text, splitter, starts)
    line = 0
    while line < len(starts) and (limit is None or len(rows.cells) < limit):
        start = starts[line]
        cells, last = _one(text, splitter, starts, ends, line, usual, rows)
        rows.cells.append(cells)
        rows.numbers.append(line + 1)
        rows.spans.append((start, ends[last]))
        line = last + 1
        if len(cells) in usual and usual[0] != len(cells):
            usual = [len(cells), *(w for w in usual if w != len(cells))]
    return rows


def _one(
    text: str, splitter: Splitter, starts: list[int], ends: list[int], line: int, usual: Sequence[int], rows: Rows
) -> tuple[list[str], int]:
    """The cells of the record that starts on `line`, and its last line."""
    strict = splitter.record(text, starts[line])
    if strict is not None:
        last = bisect_right(starts, strict[1]) - 1
        torn = splitter.marks.delimiter and any(splitter.marks.delimiter in c for c in strict[0] if _LINE_END.search(c))
        # a cell with line ends and delimiters in a row of an odd width may be several rows, for want of a quote
        if last == line or len(strict[0]) in usual or not torn:
            return strict[0], last
    rows.unclean += 1
    windows = sorted({min(line + lines, len(starts)) - 1 for lines in _WINDOWS})
    for presumed, last, width in product(_PRESUMED, windows, usual):
        if width < 2 and last > line:
            continue
        found = splitter.ways(text, starts[line], ends[last], width, presumed)
        if found is not None:
            return found, last
    if strict is not None and bisect_right(starts, strict[1]) - 1 - line <= max(_WINDOWS):
        return strict[0], bisect_right(starts, strict[1]) - 1
    alone = splitter.ways(text, starts[line], ends[line], None, max(_PRESUMED))
    return alone or text[starts[line] : ends[line]].split(splitter.marks.delimiter or None), line


def _usual_widths(text: str, splitter: Splitter, starts: list[int]) -> list[int]:
    """The widths that many rows have, the most usual first; from rows that read cleanly within one line."""
    counts: Counter[int] = Counter()
    # the head of a long text, and as much from its middle
    for line in (0, len(starts) // 2) if len(starts) > 2 * _SAMPLE_LINES else (0,):
        for _ in range(_SAMPLE_LINES):
            if line >= len(starts):
                break
            found = splitter.record(text, starts[line])
            if found is not None and (len(found[0]) > 1 or found[0][0].strip()):
                counts[len(found[0])] += 1
            line = bisect_right(starts, found[1]) if found is not None else line + 1
    least = max(2, sum(counts.values()) // 10)
    usual = [width for width, count in counts.most_common() if count >= least]
    return usual or [width for width, _ in counts.most_common(1)] or [1]
