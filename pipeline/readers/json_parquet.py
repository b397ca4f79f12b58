"""Files that know their columns: JSON (a list of objects, or one object a line) and Parquet, as text.

A value keeps the text that it has in the file; a list or an object inside a cell stays JSON text.
"""

import json
from collections.abc import Iterator
from datetime import time
from pathlib import Path

import polars as pl

from pipeline.errors import UserError
from pipeline.readers.encoding import decode
from pipeline.readers.limits import CELLS, NESTING, check_cells, check_columns, gave_up
from pipeline.readers.reader_output import TextTable, cell_columns, clock_text, frame_of, ignored_of


class _Number(str):
    """A number as it is written: 12.50 keeps its zero."""


def read_json(path: Path) -> list[TextTable]:
    """One table a list of objects. `row` is the line for JSON lines, else the place in the list from 1."""
    text = decode(path.read_bytes()).data.decode()
    lists = _lists(text, path)
    return [_json_table(sheet, objects, path) for sheet, objects in lists]


def _lists(text: str, path: Path) -> list[tuple[str, list[tuple[int, object]]]]:
    if not text.strip():
        return [("", [])]
    try:
        whole = _load(text, path, 1)
    except UserError:
        if "\n" not in text.strip():
            raise
        return [("", list(_lines(text, path)))]
    if isinstance(whole, list):
        return [("", list(enumerate(whole, 1)))]
    if isinstance(whole, dict):
        nested = {k: v for k, v in whole.items() if isinstance(v, list) and v and all(isinstance(o, dict) for o in v)}
        if nested:
            return [(name if len(nested) > 1 else "", list(enumerate(objects, 1))) for name, objects in nested.items()]
        return [("", [(1, whole)])]
    raise UserError("The file holds no list of objects.", str(path), "Export it as a table.")


def _lines(text: str, path: Path) -> Iterator[tuple[int, object]]:
    for number, line in enumerate(text.split("\n"), 1):
        if line.strip():
            yield number, _load(line, path, number)


def _load(text: str, path: Path, line: int) -> object:
    try:
        return json.loads(text, parse_float=_Number, parse_int=_Number, parse_constant=_Number)
    except RecursionError:
        raise _too_deep(path) from None
    except json.JSONDecodeError as error:
        where = f"{path}, line {line + error.lineno - 1}"
        raise UserError(f"That is no JSON: {error.msg}.", where, "Export it again.") from None


def _too_deep(path: Path) -> UserError:
    return UserError(f"The JSON is nested more than {NESTING} deep.", str(path), "Export it as a table.")


def _json_table(sheet: str, objects: list[tuple[int, object]], path: Path) -> TextTable:
    kept = [(row, _writable(value)) for row, value in objects if isinstance(value, dict)]
    names = list(dict.fromkeys(name for _, value in kept for name in value))
    check_columns(len(names), str(path))
    if len(names) * len(kept) > CELLS:
        raise UserError(f"The file has more than {CELLS:,} cells.", str(path), "Split it.")
    try:
        rows = [[_cell(value.get(name)) for name in names] for _, value in kept]
        ignored = [(row, "no object", _cell(value) or "null") for row, value in objects if not isinstance(value, dict)]
    except RecursionError:
        raise _too_deep(path) from None
    frame = frame_of(rows, [row for row, _ in kept], len(names))
    check_cells(frame, str(path))
    return TextTable(sheet, tuple(names), frame, ignored_of(ignored), {"kind": "json", "header": [names]})


def _cell(value: object) -> str | None:
    text = _text(value)
    return None if text is None else _whole(text)


def _whole(text: str) -> str:
    """A text without half a character (a lone surrogate, which JSON can write out): it can't be stored."""
    return text if text.isascii() else text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _writable(value: dict[str, object]) -> dict[str, object]:
    return {_whole(name): each for name, each in value.items()}


def _text(value: object) -> str | None:
    if value is None or isinstance(value, str):
        return None if value is None else str(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return _json(value, 0)


def _json(value: object, depth: int) -> str:
    """JSON text with the numbers as they were written."""
    if depth > NESTING:
        raise RecursionError
    if isinstance(value, _Number):
        return str(value)
    if isinstance(value, dict):
        return (
            "{"
            + ", ".join(f"{json.dumps(k, ensure_ascii=False)}: {_json(v, depth + 1)}" for k, v in value.items())
            + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(_json(v, depth + 1) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def read_parquet(path: Path) -> list[TextTable]:
    """The table of a Parquet file: dates and times in ISO 8601, numbers by their shortest text."""
    try:
        size = pl.scan_parquet(path, glob=False).select(pl.len()).collect().item()
        width = len(pl.read_parquet_schema(path))
        check_columns(width, str(path))
        if size * width > CELLS:
            raise UserError(f"The file has more than {CELLS:,} cells.", str(path), "Split it.")
        frame = pl.read_parquet(path, glob=False)
    except UserError:
        raise
    except BaseException as error:
        if not gave_up(error, (pl.exceptions.PolarsError, OSError)):
            raise
        raise UserError("The Parquet file can't be read: it is damaged.", str(path), "Export it again.") from None
    columns = cell_columns(frame.width)
    names = tuple(frame.columns)
    texts = frame.rename(dict(zip(names, columns, strict=True)))
    texts = texts.select(_column(texts[c]) for c in columns) if columns else texts
    texts = texts.with_columns(pl.when(pl.all() != "").then(pl.all()))
    texts = texts.with_columns(pl.int_range(1, frame.height + 1, dtype=pl.Int64).alias("row"))
    check_cells(texts, str(path))
    return [TextTable("", names, texts, ignored_of([]), {"kind": "parquet", "header": [list(names)]})]


def _column(series: pl.Series) -> pl.Series:
    kind = series.dtype
    if isinstance(kind, pl.Datetime):
        days_only = bool((series.dt.time() == time(0)).all())
        return series.dt.strftime("%Y-%m-%d" if days_only else "%Y-%m-%d %H:%M:%S")
    if isinstance(kind, pl.Duration):
        return pl.select(clock_text(pl.lit(series.dt.total_seconds()))).to_series().alias(series.name)
    if kind.is_nested():
        values = [None if v is None else json.dumps(v, ensure_ascii=False, default=str) for v in series.to_list()]
        return pl.Series(series.name, values, dtype=pl.String)
    if kind == pl.Binary:
        return series.bin.encode("hex")
    return series.cast(pl.String)
