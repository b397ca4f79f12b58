"""Which delimiter, quote and escape mark a text uses, found from the text itself.

Every likely set of marks is tried on a sample, and the one with the highest consistency wins: the regularity of the
row lengths times the share of cells that look like a value of a known kind. The idea is that of G. van den Burg,
A. Nazábal and C. Sutton, "Wrangling messy CSV files by detecting row and type patterns", Data Mining and Knowledge
Discovery 33 (2019); the patterns and the ties are our own.
"""

import functools
import re
from collections import Counter
from dataclasses import replace
from itertools import product

from pipeline.readers.cell_kinds import kind_of
from pipeline.readers.heading import typed_columns
from pipeline.readers.lenient_csv import Marks, Splitter

SAMPLE_LINES = 120
SAMPLE_CHARACTERS = 40_000
_USUAL = (",", ";", "\t", "|")
# marks that stand inside values all the time; delimiters only if nothing else makes a table
_INSIDE_VALUES = set("-./_'\"()+%°?$€£`´\\\r\n :")
_WEIGHT = {",": 1.0, ";": 1.0, "\t": 1.0, "|": 0.99, " ": 0.75, ":": 0.6}
_KNOWN = {
    "empty": 1.0,
    "number": 1.0,
    "time": 1.0,
    "nothing": 1.0,
    "address": 1.0,
    "plain": 0.95,
    "prose": 0.85,
    "odd": 0.1,
    "joined": 0.4,
    "border": -1.0,
}
_EDGES = re.compile(r"(?:^|[,;\t| :])([^\w\s,;:.()\[\]{}<>#&+-])(?=[\s\S]{0,300}?\1(?:[,;\t| :\r\n]|\Z))", re.MULTILINE)
_BARE = {",", ";", "|", ",,", ";;"}
_CERTAIN = ("number", "time", "address")
_LINE_END = re.compile(r"[\r\n]")
_LINE_ENDS = re.compile(r"[\r\n]+")
_JOINED = re.compile(r"\w[,;|\t]\w")
_RUN = re.compile(r"[^\w\s\"']{2,6}|[^\w\s\"'.)!?%]\s|\s[^\w\s\"'(#$&+-]\s|\t{2,}| {2,}")


def detect(text: str) -> Marks:
    """The marks of a text. A text in which nothing separates has the delimiter ""."""
    sample = _sample(text)
    if not sample.strip():
        return Marks(",")
    quotes, escapes = _quotes(sample), _escapes(sample, '"')
    if quotes == ['"'] and escapes == [""]:
        plain = [marks for d in _USUAL if d in sample and _is_plain(sample, marks := Marks(d))]
        if len(plain) == 1:
            return _longest(sample, plain[0])
    best, best_score = Marks("", '"'), 0.0
    for quote in quotes:
        if quote != '"' and _is_regular(sample, best) and not _mostly_quoted(sample, replace(best, quote=quote)):
            # rows of one length with the usual quote: an apostrophe here and there is text
            continue
        for delimiter, escape in product(("", *_delimiters(sample)), _escapes(sample, quote)):
            if quote in delimiter or (escape and escape in delimiter):
                continue
            if escape and delimiter and _needs_none(sample, Marks(delimiter, quote)):
                continue
            marks = Marks(delimiter, quote, escape)
            score = consistency(sample, marks)
            if score > best_score + 1e-9:
                best, best_score = marks, score
    return _with_escape(sample, _longest(sample, best), best_score)


def _is_regular(sample: str, marks: Marks) -> bool:
    rows, unclean, _ = _rows(sample, marks)
    return not unclean and len(rows[0]) > 1 and all(len(row) == len(rows[0]) for row in rows)


def _mostly_quoted(sample: str, marks: Marks) -> bool:
    rows, _, quoted = _rows(sample, marks)
    # the best delimiter so far may be made of the quote itself: |,| in |a|,|b|
    return marks.quote in marks.delimiter or 2 * quoted >= sum(bool(cell.strip()) for row in rows for cell in row)


def _is_plain(sample: str, marks: Marks) -> bool:
    """Whether the marks leave no doubt: every row of one length of three or more, hardly a cell of no known kind."""
    rows, unclean, _ = _rows(sample, marks)
    if unclean or len(rows) < 3 or len(rows[0]) < 3 or any(len(row) != len(rows[0]) for row in rows):
        return False
    kinds = Counter(_kind(cell) for row in rows for cell in row)
    return (
        kinds["odd"] + kinds["joined"] + kinds["border"] <= 0.05 * kinds.total()
        and kinds["empty"] <= 0.4 * kinds.total()
    )


def consistency(sample: str, marks: Marks) -> float:
    """Regularity of the row lengths times the share of known cells; 0 = no table at all. At most about 1."""
    rows, unclean, quoted = _rows(sample, marks)
    if not rows:
        return 0.0
    wholes = [kind_of(line) in _CERTAIN for line in _LINE_ENDS.split(sample) if line.strip()]
    certain = sum(wholes) / len(wholes)
    lengths = Counter(len(row) for row in rows)
    # a lone cell says next to nothing of a pattern, so that one column wins only where all else is ragged
    lone = 0.03 if certain > 0.8 else 0.003
    pattern = sum(n * (max(lone, length - 1) / length) * (n / len(rows)) ** 0.5 for length, n in lengths.items()) / len(
        rows
    )
    if max(lengths) > 1:
        # titles may stand above a table, but below its first row a delimiter is nearly everywhere
        below = rows[next(i for i, row in enumerate(rows) if len(row) > 1) :]
        pattern *= (sum(len(row) > 1 for row in below) / len(below)) ** 2
    cells = [cell for row in rows for cell in row]
    kinds = [_kind(cell) for cell in cells]
    known = sum(_KNOWN[kind] for kind in kinds) / len(cells)
    if marks.delimiter and marks.delimiter not in _USUAL:
        # a time, an address or a phrase has marks of its own inside
        known *= 1 - certain
        regular = quoted and max(lengths.values()) >= 0.9 * len(rows)
        if marks.delimiter == " " and not regular and not typed_columns(rows):
            known *= 0.001
    blank = sum(not cell.strip() for cell in cells) / len(cells)
    weight = _WEIGHT.get(marks.delimiter, 0.9 if len(marks.delimiter) == 1 else 0.995)
    broken = unclean / (len(rows) + unclean)
    return pattern * known * weight * (1 - broken) * (1 - 0.3 * blank) + 0.02 * min(1.0, quoted / len(cells))


def _kind(cell: str) -> str:
    if cell.strip() in _BARE:
        return "border"
    kind = kind_of(cell)
    return "joined" if kind in ("plain", "prose") and _JOINED.search(cell) else kind


def _longest(sample: str, marks: Marks) -> Marks:
    """The longest delimiter that gives the same cells: with "||" or ", " one of a single character does it too, but
    leaves empty cells or blanks behind."""

    def held(one: Marks) -> list[list[str]]:
        return [[cell.strip() for cell in row if cell.strip()] for row in _rows(sample, one)[0]]

    if not marks.delimiter:
        return marks
    cells = held(marks)
    longer = [d for d in _delimiters(sample) if marks.delimiter in d and len(d) > len(marks.delimiter)]
    for delimiter in sorted(longer, key=len, reverse=True):
        if held(longer_marks := replace(marks, delimiter=delimiter)) == cells:
            return longer_marks
    return marks


@functools.lru_cache(64)
def _rows(sample: str, marks: Marks) -> tuple[list[list[str]], int, int]:
    splitter = Splitter(marks)
    rows, unclean, quoted, place = [], 0, 0, 0
    quote = marks.quote
    while place < len(sample):
        end = _line_end(sample, place)
        line = sample[place:end]
        if not quote or quote not in line:
            # nothing opens a cell here, and an escape mark alone escapes nothing
            cells = line.split(marks.delimiter) if marks.delimiter else [line]
            if line.strip():
                rows.append(cells)
            place = end + (2 if sample.startswith("\r\n", end) else 1)
            continue
        found = splitter.record(sample, place)
        if found is None:
            unclean += 1
            cells = line.split(marks.delimiter) if marks.delimiter else [line]
        else:
            cells, end = found
            if quote:
                quoted += sample.count(quote, place, end) // 2
        if any(cell.strip() for cell in cells):
            rows.append(cells)
        place = end + (2 if sample.startswith("\r\n", end) else 1)
    return rows, unclean, quoted


def _line_end(text: str, place: int) -> int:
    found = _LINE_END.search(text, place)
    return found.start() if found else len(text)


def _sample(text: str) -> str:
    """The first lines, and some from the middle of a long text: its head may be all titles."""
    head = _cut(text, 0, SAMPLE_LINES)
    if len(text) < 4 * SAMPLE_CHARACTERS:
        return head
    return head + _cut(text, _line_end(text, len(text) // 2) + 1, SAMPLE_LINES // 2)


def _cut(text: str, start: int, lines: int) -> str:
    place = start
    for _ in range(lines):
        place = _line_end(text, place) + 1
        if place >= len(text) or place - start > SAMPLE_CHARACTERS:
            break
    return text[start:place]


def _delimiters(sample: str) -> list[str]:
    lines = [line for line in _LINE_ENDS.split(sample) if line.strip()]
    marks = Counter(c for line in lines for c in set(line) if not c.isalnum() and c not in "\"'\r\n")
    often = [c for c, n in marks.most_common() if n >= 0.4 * len(lines)]
    single = [c for c in _USUAL if marks[c]] + [c for c in often if c not in _USUAL and c not in _INSIDE_VALUES]
    single += [c for c in (" ", ":") if c in often]
    runs = Counter(run for line in lines for run in set(_RUN.findall(line)))
    several = [run for run, n in runs.most_common(12) if n >= 0.4 * len(lines) and not set(run) & set("/.-_\\")]
    repeated = [c + c for c in single if sample.count(c + c) >= len(lines) * 0.4]
    return list(dict.fromkeys([*single, *several, *repeated]))[:24]


def _quotes(sample: str) -> list[str]:
    """Marks that stand at both edges of cells, and ", which is the usual one."""
    edges = Counter(found[1] for found in _EDGES.finditer(sample))
    return ['"', *(mark for mark, count in edges.most_common(4) if count >= 2 and mark != '"')]


def _with_escape(sample: str, marks: Marks, score: float) -> Marks:
    """The escape mark, if every quote inside cells has the same mark before it and the rows come out as well."""
    if marks.escape or _needs_none(sample, marks):
        return marks
    for mark in _escapes(sample, marks.quote)[1:]:
        other = Marks(marks.delimiter, marks.quote, mark)
        if (
            mark not in marks.delimiter
            and consistency(sample, other) >= score - 1e-6
            and _always_escaped(sample, other)
        ):
            return other
    return marks


def _needs_none(sample: str, marks: Marks) -> bool:
    """Every quote stands at the edge of a cell or is doubled: a mark before some is text."""
    quoted = Splitter(marks).quoted
    if not quoted:
        return False
    bodies = [found[1].replace(marks.quote * 2, "") for found in quoted.finditer(sample)]
    return marks.quote not in quoted.sub("", sample) and not any(marks.quote in body for body in bodies)


def _escapes(sample: str, quote: str) -> list[str]:
    """Marks that stand before quotes again and again; "" (a quote is doubled) comes first."""
    before = Counter(found[1] for found in re.finditer(rf"([^\w\s{re.escape(quote)}]){re.escape(quote)}", sample))
    # a full stop or a separator often stands before a quote, and is no escape mark
    likely = [m for m, n in before.most_common(6) if m in "\\\0" or (n >= 2 and m not in ".:,;|-()[]{}")]
    return ["", *likely[:3]]


def _always_escaped(sample: str, marks: Marks) -> bool:
    """No quote inside a quoted cell stands without the mark, and none is doubled."""
    splitter = Splitter(marks)
    quote, escape = marks.quote, marks.escape
    bodies = [m[1] for m in splitter.quoted.finditer(sample)] if splitter.quoted else []
    with_quotes = [b for b in bodies if quote in b]
    return bool(with_quotes) and all(quote not in re.sub(re.escape(escape) + r"[\s\S]", "", b) for b in with_quotes)
