"""Which rows of a grid are titles, headers, data, totals and footers, and where one table ends and the next begins.

Judged on the first and last rows of a block; only the search for further tables looks at every row, as whole columns.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import polars as pl

from pipeline.readers.heading import Head, find_foot, find_head, is_heading, typed_columns
from pipeline.readers.reader_output import TextTable, ignored_of

HEAD_ROWS = 60
FOOT_ROWS = 25
MOST_TABLES = 500
MOST_RAGGED = 50_000


@dataclass(frozen=True)
class Sheet:
    """A grid with what is asked of it again and again: `filled`, the cells of each row that hold more than blanks,
    and `widths`, the cells of each row as written."""

    frame: pl.DataFrame
    columns: list[str]
    filled: np.ndarray
    widths: np.ndarray

    def cells(self, rows: Sequence[int] | np.ndarray) -> list[list[str]]:
        """The cells of some rows, "" for an empty one; each row as wide as it was written."""
        part = self.frame.select(self.columns)[np.asarray(rows, dtype=np.int64)]
        return [[cell or "" for cell in row[: self.widths[i]]] for i, row in zip(rows, part.iter_rows(), strict=True)]

    def numbers(self, rows: Sequence[int] | np.ndarray) -> list[int]:
        return self.frame["row"].gather(np.asarray(rows, dtype=np.int64)).to_list()


@dataclass(frozen=True)
class Merge:
    """A cell that spans the columns `first` to `last` (from 0) of a sheet's row (from 1)."""

    row: int
    first: int
    last: int


@dataclass(frozen=True)
class Block:
    """A table's place: its rows (places in the grid, none blank) and how it begins."""

    rows: np.ndarray
    head: Head


def tables_of(
    frame: pl.DataFrame,
    widths: np.ndarray,
    dialect: dict[str, object],
    sheet: str = "",
    merges: Sequence[Merge] = (),
) -> list[TextTable]:
    """The tables of a grid (in the shape of `TextTable.frame`, blank rows included). At least one, even if empty."""
    columns = [c for c in frame.columns if c != "row"]
    grid = Sheet(frame, columns, _filled(frame, columns), widths)
    blocks = _blocks(grid)
    blank = np.flatnonzero(grid.filled == 0)
    if not blocks:
        nothing = pl.DataFrame(schema={"row": pl.Int64})
        return [TextTable(sheet, (), nothing, ignored_of([(n, "blank", "") for n in grid.numbers(blank)]), dialect)]
    tables = []
    for place, block in enumerate(blocks):
        further = f"{sheet} table {place + 1}".strip() if place else sheet
        begins = int(block.rows[0]) if place else 0
        ends = int(blocks[place + 1].rows[0]) if place + 1 < len(blocks) else frame.height
        table = _table(grid, block, blank[(blank >= begins) & (blank < ends)], dialect, further, merges)
        tables.append(replace(table, above=_lone_line(grid, blocks[place - 1]) if place and table.names else ""))
    return tables


def _lone_line(grid: Sheet, block: Block) -> str:
    """The words of a block that is one line and no header; "" for any other."""
    alone = len(block.rows) == 1 and not block.head.headers
    return " ".join(filter(None, map(str.strip, grid.cells(block.rows)[0]))) if alone else ""


def _filled(frame: pl.DataFrame, columns: Sequence[str]) -> np.ndarray:
    if not columns:
        return np.zeros(frame.height, dtype=np.int64)
    held = [pl.col(c).str.contains(r"\S").fill_null(False).cast(pl.Int32) for c in columns]
    return frame.select(pl.sum_horizontal(held)).to_series().to_numpy().astype(np.int64)


def _table(
    grid: Sheet,
    block: Block,
    blank: np.ndarray,
    dialect: dict[str, object],
    sheet: str,
    merges: Sequence[Merge],
) -> TextTable:
    titles, headers, body = np.split(block.rows, [block.head.titles, block.head.titles + block.head.headers])
    reasons = find_foot(grid.cells(body[-FOOT_ROWS:]), grid.cells(body[: HEAD_ROWS * 2])) if len(body) > 1 else []
    body, foot = np.split(body, [len(body) - len(reasons)])
    header = grid.cells(headers)
    usual = max(map(len, header)) if header else int(np.bincount(grid.widths[body]).argmax())
    width = int(grid.widths[np.concatenate((headers, body))].max())
    ignored = [
        *((n, "title", _text(c)) for n, c in zip(grid.numbers(titles), grid.cells(titles), strict=True)),
        *((n, "header", _text(c)) for n, c in zip(grid.numbers(headers), header, strict=True)),
        *((n, r, _text(c)) for n, r, c in zip(grid.numbers(foot), reasons, grid.cells(foot), strict=True)),
        *((n, "blank", "") for n in grid.numbers(blank)),
    ]
    found = dialect | {
        "header_rows": grid.numbers(headers),
        "header": header,
        "cells": usual,
        "ragged": _ragged(grid, body, usual),
    }
    spans = [any(merge.row == number for merge in merges) for number in grid.numbers(headers)]
    names = join_headers(_fill_merged(header, grid.numbers(headers), merges), width, spans)
    frame = grid.frame.select([*grid.columns[:width], "row"])[body]
    return TextTable(sheet, names, frame, ignored_of(ignored), found)


def _fill_merged(rows: list[list[str]], numbers: list[int], merges: Sequence[Merge]) -> list[list[str]]:
    """Header rows with a merged cell's text in each column that it spans."""
    filled = [list(row) for row in rows]
    for merge in merges:
        if merge.row in numbers and 0 <= merge.first < len(filled[0]):
            row = filled[numbers.index(merge.row)]
            row[merge.first : merge.last + 1] = [row[merge.first]] * (min(merge.last + 1, len(row)) - merge.first)
    return filled


def _text(cells: Sequence[str]) -> str:
    return " | ".join(cell for cell in cells if cell.strip())


def _ragged(grid: Sheet, body: np.ndarray, usual: int) -> dict[int, int]:
    """Row → its number of cells as written, for rows with other than the usual number."""
    other = body[grid.widths[body] != usual][:MOST_RAGGED]
    return dict(zip(grid.numbers(other), grid.widths[other].tolist(), strict=True))


def join_headers(rows: list[list[str]], width: int, spans: Sequence[bool] = ()) -> tuple[str, ...]:
    """One name a column. In a header of several rows, a name over several columns stands at the first of them only,
    unless the workbook tells what it `spans`."""
    if not rows:
        return ()
    padded = [[*row, *[""] * (width - len(row))] for row in rows]
    if len(padded) == 1:
        return tuple(padded[0])
    known = [*spans, *[False] * (len(rows) - len(spans))]
    above = [row if known[i] else _spread(row, padded[i + 1 :]) for i, row in enumerate(padded[:-1])]
    columns = zip(*above, padded[-1], strict=True)
    return tuple(" ".join(dict.fromkeys(part.strip() for part in parts if part.strip())) for parts in columns)


def _spread(row: list[str], below: list[list[str]]) -> list[str]:
    spread: list[str] = []
    for i, cell in enumerate(row):
        carried = (
            spread[-1] if spread and any(r[i].strip() for r in below) and any(r[i - 1].strip() for r in below) else ""
        )
        spread.append(cell if cell.strip() else carried)
    return spread


def _blocks(grid: Sheet) -> list[Block]:
    """The tables' places. A run of rows after a blank row is a table of its own only if it begins like one."""
    rows = np.flatnonzero(grid.filled > 0)
    if not len(rows):
        return []
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    if len(runs) > MOST_TABLES:
        # blank rows everywhere are a habit, not a border
        runs = [rows]
    blocks: list[Block] = []
    pending = rows[:0]
    for place, run in enumerate(runs):
        rest = runs[place + 1 :]
        if rest and _is_preamble(grid, run, rest[0]):
            pending = np.concatenate((pending, run))
            continue
        if blocks and not len(pending) and not _begins_table(grid, run, blocks[-1]):
            blocks[-1] = replace(blocks[-1], rows=np.concatenate((blocks[-1].rows, run)))
            continue
        if blocks and len(pending) and not _begins_table(grid, run, blocks[-1]):
            blocks[-1] = replace(blocks[-1], rows=np.concatenate((blocks[-1].rows, pending, run)))
            pending = rows[:0]
            continue
        whole = np.concatenate((pending, run))
        blocks.append(Block(whole, find_head(grid.cells(whole[:HEAD_ROWS]), known_titles=len(pending))))
        pending = rows[:0]
    return [part for block in blocks for part in _split_inside(grid, block)]


def _is_preamble(grid: Sheet, run: np.ndarray, following: np.ndarray) -> bool:
    """A few rows with hardly a cell, before a wider run."""
    wide = int(np.median(grid.filled[following[:HEAD_ROWS]]))
    most = int(grid.filled[run].max())
    if len(following) < 2 and len(run) > 1:
        return False
    return len(run) <= 40 and wide >= 2 and (most <= 1 or (most <= 2 and wide >= 4 and len(run) <= 12))


def _begins_table(grid: Sheet, run: np.ndarray, before: Block) -> bool:
    """Whether a run after a blank row begins with a header of its own."""
    if len(run) < 2:
        return bool(before.head.headers) and grid.cells(run) == grid.cells(before.rows[before.head.titles :][:1])
    head = find_head(grid.cells(run[:HEAD_ROWS]))
    if not head.headers:
        return False
    first = grid.cells(run[head.titles : head.titles + 1])[0]
    header = grid.cells(before.rows[before.head.titles :][:1])[0] if before.head.headers else []
    if first == header:
        return True
    below = grid.cells(run[head.titles + 1 :][:HEAD_ROWS])
    other_width = len([c for c in first if c.strip()]) != len([c for c in header if c.strip()])
    return is_heading(first, below, at_least=1) or (
        other_width and len(below) >= 2 and all(len(r) == len(first) for r in below[:3])
    )


def _split_inside(grid: Sheet, block: Block) -> list[Block]:
    """Further tables without a blank row before them: the header again, or another header that breaks the types."""
    start = block.head.titles + block.head.headers
    body = block.rows[start:]
    if len(body) < 2:
        return [block]
    header = grid.cells(block.rows[block.head.titles :][:1])[0] if block.head.headers else []
    places = sorted({*_repeats(grid, body, header), *_breaks(grid, body, header)})
    if not places or len(places) > MOST_TABLES:
        return [block]
    cuts = [0, *(start + p for p in places), len(block.rows)]
    parts = [block.rows[a:b] for a, b in pairwise(cuts) if b > a]
    return [
        Block(parts[0], block.head),
        *(Block(p, find_head(grid.cells(p[:HEAD_ROWS]), surely=True)) for p in parts[1:]),
    ]


def _repeats(grid: Sheet, body: np.ndarray, header: list[str]) -> list[int]:
    if sum(bool(c.strip()) for c in header) < 2:
        return []
    same = pl.all_horizontal(
        *(
            pl.col(c).eq_missing(pl.lit(cell or None, dtype=pl.String))
            for c, cell in zip(grid.columns, header, strict=False)
        )
    )
    return np.flatnonzero(grid.frame.select(same).to_series().to_numpy()[body]).tolist()


def _breaks(grid: Sheet, body: np.ndarray, header: list[str]) -> list[int]:
    """Rows that read like a header: words where the table has numbers or dates, or at a lasting change of width."""
    widths, filled = grid.widths[body], grid.filled[body]
    sample = grid.cells(body[:HEAD_ROWS])
    typed = [grid.columns[i] for i in typed_columns(sample)][:4]
    changes = np.flatnonzero((widths[1:-1] != widths[:-2]) & (widths[1:-1] == widths[2:])) + 1
    places = set(changes.tolist()[: MOST_TABLES * 4])
    if typed:
        words = [pl.col(c).str.contains(r"^[^\d]*\p{L}[^\d]*$").fill_null(False).cast(pl.Int8) for c in typed]
        count = grid.frame.select(pl.sum_horizontal(words)).to_series().to_numpy()[body]
        mask = (count >= max(1, (len(typed) + 1) // 2)) & (filled >= 2)
        places |= set(np.flatnonzero(mask).tolist()[: MOST_TABLES * 4])
    found = []
    for place in sorted(p for p in places if p + 1 < len(body)):
        cells = grid.cells(body[place : place + 1])[0]
        below = grid.cells(body[place + 1 : place + 13])
        changed = place in changes.tolist()
        below = [row for row in below if len(row) == len(cells)] if changed else below
        if is_heading(cells, below, at_least=1 if changed else 2):
            found.append(place)
    return [p for p in found if p - 1 not in found]
