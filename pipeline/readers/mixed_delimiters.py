"""Rows that another delimiter separates than the rest of their file: a line pasted in, an export glued to another."""

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import product

import numpy as np
import polars as pl

from pipeline.readers.cell_kinds import kind_of
from pipeline.readers.lenient_csv import Marks, Splitter
from pipeline.readers.reader_output import cell_columns, frame_of

_OTHERS = (",", ";", "\t", "|", " ", ":")
_SAMPLE = 60
_MOST = 500


def mend(
    frame: pl.DataFrame,
    widths: np.ndarray,
    raw: Callable[[int, int], str],
    marks: Marks,
    in_order: bool = False,
) -> tuple[pl.DataFrame, np.ndarray, dict[int, str]]:
    """Read again the rows with one cell or few that another delimiter splits into just the table's width.

    `frame` and `widths` as in `Grid`; `raw` gives the text as written of the
    rows from one place to another. Returns both, mended, and row number → the
    delimiter that it used. A row that nothing fits stays as it is. Of a file that is `in_order` throughout, only blanks
    after each delimiter of a row go.
    """
    lengths = np.bincount(widths[widths > 1]) if (widths > 1).any() else np.zeros(1)
    usual, count = int(lengths.argmax()), int(lengths.max())
    if count < 3:
        return frame, widths, {}
    columns = cell_columns(usual)
    held = frame.select(pl.any_horizontal(pl.col(columns).is_not_null())).to_series().to_numpy()
    few = np.flatnonzero((widths != usual) & held)
    spaced = _spaced(frame, widths, usual) if marks.delimiter in (",", ";", "|") else few[:0]
    few = few if not in_order and len(few) <= min(_MOST, max(3, count // 4)) else few[:0]
    if not len(few) + len(spaced):
        return frame, widths, {}
    sample = frame.select(columns)[np.flatnonzero(widths == usual)[: _SAMPLE + 1]].rows()
    kinds = [Counter(kind_of(cell or "") for cell in column) for column in zip(*sample[1:], strict=True)]
    # a header row can only be told from a title where the row below it is data
    header = 0 in (*few[:1], *spaced[:1]) and _typed(frame.select(columns)[1:2].rows())
    odd = set(few.tolist())
    found: dict[int, tuple[list[str], str]] = {}
    gone: set[int] = set()
    for place in (*few.tolist(), *spaced.tolist()):
        if place in gone:
            continue
        others = (marks.delimiter + " ",) if place not in odd else (*_OTHERS, marks.delimiter + " ")
        # a line break inside one of its quoted cells has torn the row in two or three
        for last, other in product((place, place + 1, place + 2), others):
            if other == marks.delimiter or not odd.issuperset(range(place + 1, last + 1)):
                continue
            cells = _whole(raw(place, last), Marks(other, marks.quote, marks.escape))
            if in_order and _trimmed(cells) != _trimmed(frame.select(columns).row(place)):
                continue
            if len(cells) == usual and _fits(cells, kinds, int(widths[place]), other, header and place == 0):
                found[place] = cells, other
                gone.update(range(place + 1, last + 1))
                break
    if not found:
        return frame, widths, {}
    return _patched(frame, widths, found, gone)


def _spaced(frame: pl.DataFrame, widths: np.ndarray, usual: int) -> np.ndarray:
    """Rows with a blank after each delimiter, where hardly another row has one."""
    after = cell_columns(usual)[1:]
    if not frame.select(pl.any_horizontal(pl.col(after[:3]).str.starts_with(" ").any())).item():
        return np.zeros(0, dtype=np.int64)
    spaces = pl.sum_horizontal(pl.col(c).str.starts_with(" ").fill_null(False).cast(pl.Int32) for c in after)
    held = pl.sum_horizontal(pl.col(c).is_not_null().cast(pl.Int32) for c in after)
    # blanks before a quote are gone by now, so half will do: the row is split anew before it is believed
    rows = np.flatnonzero(frame.select((spaces >= 1) & (2 * spaces >= held)).to_series().to_numpy() & (widths == usual))
    return rows if len(rows) <= min(_MOST, len(widths) // 10) else rows[:0]


def _whole(text: str, marks: Marks) -> list[str]:
    found = Splitter(marks).record(text, 0)
    return found[0] if found and found[1] == len(text) else []


def _trimmed(cells: Sequence[str | None]) -> list[str]:
    return [(cell or "").strip(" ") for cell in cells]


def _typed(rows: list[tuple[str | None, ...]]) -> bool:
    return any(kind_of(cell or "") in ("number", "time") for row in rows for cell in row)


def _fits(cells: list[str], kinds: list[Counter[str]], before: int, other: str, header: bool) -> bool:
    """Whether the cells are such as their columns hold. The nearer the row came to the table's width by the file's own
    delimiter, the more is asked of the other one."""
    own = [kind_of(cell) for cell in cells]
    if any(kind == "odd" and not kinds[i]["odd"] for i, kind in enumerate(own)):
        return False
    few = before <= max(1, len(cells) // 2)
    if (
        header
        and (few or other.endswith(" "))
        and (len(cells) > 2 or other not in (" ", ":"))
        and all(kind in ("plain", "prose") for kind in own)
    ):
        return True
    if not few and other in (" ", ":"):
        return False
    return sum(kinds[i][kind] > 0 for i, kind in enumerate(own)) >= (0.7 if few else 1) * len(own)


def _patched(
    frame: pl.DataFrame, widths: np.ndarray, found: dict[int, tuple[list[str], str]], gone: set[int]
) -> tuple[pl.DataFrame, np.ndarray, dict[int, str]]:
    places = sorted(found)
    numbers = frame["row"].gather(places).to_list()
    rows = frame_of([found[p][0] for p in places], numbers, len(frame.columns) - 1).select(frame.columns)
    kept = np.ones(frame.height, dtype=bool)
    kept[[*places, *gone]] = False
    whole = pl.concat([frame.filter(pl.Series(kept)), rows]).sort("row", maintain_order=True)
    widths = widths.copy()
    widths[places] = [len(found[p][0]) for p in places]
    return whole, np.delete(widths, sorted(gone)), dict(zip(numbers, (found[p][1] for p in places), strict=True))
