"""How a block of rows begins and ends: titles, header rows, totals, footers. Judged by what the cells look like."""

import functools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.readers.cell_kinds import kind_of
from pipeline.reference import words_for

MOST_HEADER_ROWS = 6
TOTAL = re.compile("|".join(words_for("phrases", "total row")), re.IGNORECASE)
_TYPED = ("number", "time")
_WORDS = ("plain", "prose", "odd")


@dataclass(frozen=True)
class Head:
    """How a block begins: so many rows of titles, then so many of header (0 = none), then data."""

    titles: int = 0
    headers: int = 0


@functools.lru_cache(100_000)
def _kind(cell: str) -> str:
    """A stray quote at its edge makes a number no word."""
    return kind_of(cell.strip("\"' "))


def _held(row: Sequence[str]) -> int:
    return sum(bool(cell.strip()) for cell in row)


def _usual(counts: Sequence[int]) -> int:
    """The most usual count, the larger one on a tie."""
    return max(Counter(counts).items(), key=lambda item: (item[1], item[0]))[0] if counts else 0


def column_kinds(rows: Sequence[Sequence[str]], width: int) -> list[Counter[str]]:
    """What each column's cells look like, empty ones and n/a left out."""
    kinds: list[Counter[str]] = [Counter() for _ in range(width)]
    for row in rows:
        for i, cell in enumerate(row[:width]):
            kind = _kind(cell)
            if kind not in ("empty", "nothing"):
                kinds[i][kind] += 1
    return kinds


def typed_columns(rows: Sequence[Sequence[str]], share: float = 0.7) -> list[int]:
    """The columns that hold numbers or dates nearly everywhere."""
    kinds = column_kinds(rows, max((len(r) for r in rows), default=0))
    return [i for i, k in enumerate(kinds) if k and max(k["number"], k["time"]) >= share * sum(k.values())]


def is_heading(cells: Sequence[str], below: Sequence[Sequence[str]], at_least: int) -> bool:
    """Whether `cells` are words only, over at least so many columns of numbers or dates."""
    kinds = [_kind(cell) for cell in cells]
    if any(kind in _TYPED for kind in kinds) or _held(cells) < 2 or not below:
        return False
    return sum(kinds[i] in _WORDS for i in typed_columns(below) if i < len(kinds)) >= at_least


def find_head(rows: Sequence[Sequence[str]], known_titles: int = 0, surely: bool = False) -> Head:
    """How a block with these first rows (none blank) begins. `surely`: its first row is known to be a header."""
    if surely:
        return Head(0, 1 + _more_headers(rows))
    rest = rows[known_titles:]
    width = _usual([_held(row) for row in rest])
    titles = known_titles + _titles(rest, width)
    rest = rows[titles:]
    if not rest or not _has_header(rest[0], rest[1:]):
        return Head(titles, 0)
    headers = 1 + _more_headers(rest)
    above = 0
    while titles - above > known_titles and _is_group(rows[titles - above - 1], rest[0]):
        above += 1
    return Head(titles - above, headers + above)


def _titles(rows: Sequence[Sequence[str]], width: int) -> int:
    """Rows at the top with far fewer cells than the table. None where every row is so."""
    if width < 2:
        return 0
    least = max(2, (width + 1) // 2)
    for i, row in enumerate(rows):
        if _held(row) >= least and not (len(row) == 2 < width - 2):
            # a row of names with gaps above data is still the header
            named = (
                i
                and _held(rows[i - 1]) >= 2
                and _held(rows[i - 1]) * 3 >= width
                and is_heading(rows[i - 1], rows[i:], 1)
            )
            return i - 1 if named and not is_heading(row, rows[i + 1 :], 1) else i
    return 0


def _is_group(row: Sequence[str], header: Sequence[str]) -> bool:
    """A row of names above the header that each span some of its columns."""
    held = [i for i, cell in enumerate(row) if cell.strip()]
    if not held or held[-1] >= len(header) or any(_kind(row[i]) not in _WORDS or len(row[i]) > 40 for i in held):
        return False
    return held[0] > 0 or (len(held) >= 2 and held[-1] >= 2)


def _has_header(first: Sequence[str], below: Sequence[Sequence[str]]) -> bool:
    kinds = [_kind(cell) for cell in first]
    if not below:
        return not any(kind in _TYPED or kind == "address" for kind in kinds)
    sample = below[3:] if len(below) >= 6 else below
    typed = [i for i in typed_columns(sample, 0.5) if i < len(first)]
    words = sum(kinds[i] in _WORDS for i in typed)
    figures = sum(kinds[i] in _TYPED for i in typed)
    if words or figures:
        return words > 2 * figures
    if any(kind in _TYPED for kind in kinds):
        return False
    return not _like_the_rest(first, below)


def _like_the_rest(first: Sequence[str], below: Sequence[Sequence[str]]) -> bool:
    """In a table of words only: whether the first row's cells come again below, or have the same shape of tag."""
    votes = 0
    below = [row for row in below if row != first]
    for i, cell in enumerate(first):
        column = [row[i].strip() for row in below if i < len(row) and row[i].strip()]
        if not cell.strip() or not column:
            continue
        shapes = Counter(_shape(c) for c in column)
        shape, count = shapes.most_common(1)[0]
        if cell.strip() in column:
            votes += 1
        elif "0" in shape and count >= 0.8 * len(column):
            votes += 2 if _shape(cell.strip()) == shape else -2
    return votes > 0


def _shape(text: str) -> str:
    return re.sub(r"[^\W\d_]+", "a", re.sub(r"\d+", "0", text))


def _more_headers(rows: Sequence[Sequence[str]]) -> int:
    """Rows after the first header row that are header too: words where the table below has numbers or dates."""
    more = 0
    while more < MOST_HEADER_ROWS - 1 and more + 2 < len(rows):
        row, below = rows[more + 1], rows[more + 2 :]
        typed = typed_columns(below[2:] if len(below) > 5 else below, 0.5)
        kinds = [_kind(cell) for cell in row]
        held = [i for i in typed if i < len(kinds) and kinds[i] != "empty"]
        if (
            _heads_a_part(row, rows[0])
            or any(kind in _TYPED for kind in kinds)
            or not held
            or 2 * sum(kinds[i] in _WORDS for i in held) < len(held)
        ):
            break
        if len(held) < 2 <= len(typed) and _held(row) > len(held) + 1:
            # one odd word in a full row is a bad cell, not a header
            break
        more += 1
    return more


def _heads_a_part(row: Sequence[str], header: Sequence[str]) -> bool:
    """Whether a row has its first cell alone, below a header with a name for each column: it heads a part."""
    return len(header) >= 3 and _held(header) == len(header) and _held(row) == 1 and bool(row[0].strip())


def find_foot(tail: Sequence[Sequence[str]], body: Sequence[Sequence[str]]) -> list[str]:
    """The reasons ("total", "footer") for the last rows of `tail` that are no data, in order; [] when all are data."""
    held = [_held(row) for row in body]
    width = _usual(held)
    if width < 2 or sum(h <= 1 for h in held) > 0.1 * len(held) + len(tail):
        return []
    kinds = column_kinds(body, max(len(row) for row in body))
    reasons: list[str] = []
    for row in reversed(tail[1:]):
        reason = _foot_reason(row, width, kinds)
        if not reason:
            break
        reasons.append(reason)
    return reasons[::-1]


def _foot_reason(row: Sequence[str], width: int, kinds: Sequence[Counter[str]]) -> str:
    held = [i for i, cell in enumerate(row) if cell.strip()]
    first = row[held[0]].strip()
    if TOTAL.fullmatch(first) and len(held) < width:
        return "total"
    fits = [_kind(row[i]) in _TYPED and kinds[i][_kind(row[i])] > 0 for i in held if i < len(kinds)]
    if any(fits):
        return ""
    if len(held) == 1 and (width >= 3 or (held[0] == 0 and kind_of(first) in ("prose", "odd"))):
        return "footer"
    return "footer" if len(held) == 2 and width >= 5 else ""
