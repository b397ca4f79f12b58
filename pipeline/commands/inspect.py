"""How the tool reads a file, shown without a shop: the dialect, the header, the rows."""

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.mapping.private_columns import private_columns, shown
from pipeline.readers import TextTable, read
from pipeline.readers.separate_process import apart

FIRST_ROWS = 8
PRIVATE = "(about a buyer)"
"""What is shown in the place of such a cell."""
_WIDEST = 28
_BATCH = 20_000
_SHOWN_IN_FULL = 20


def peek(paths: Sequence[Path], as_json: bool = False, as_csv: bool = False) -> Iterator[str]:
    """The text to print, piece by piece, for the tables of some files; nothing of a column about buyers.

    Plain text for people by default; `as_json` gives one JSON list with an object a table; `as_csv` the cells of every
    table as RFC 4180 CSV in UTF-8 with LF, text unchanged, a blank line between tables. Raises `UserError` from `read`.
    """
    if as_json:
        yield (
            json.dumps(
                [_facts(path, table) for path in paths for table in _tables(path)],
                ensure_ascii=False,
                indent=2,
                default=str,
            )
            + "\n"
        )
        return
    first = True
    for path in paths:
        for table in _tables(path):
            if not first:
                yield "\n"
            first = False
            yield from csv_text(table) if as_csv else _view(path, table)


def _tables(path: Path) -> list[TextTable]:
    return apart(None, path, str(path), tables, path)


def tables(path: Path) -> list[TextTable]:
    """A file's tables as they may be shown."""
    found = []
    for table in read(path):
        private = [pl.when(pl.col(c).is_not_null()).then(pl.lit(PRIVATE)).alias(c) for c in private_columns(table)]
        frame, ignored = table.frame.with_columns(private), shown(table.ignored, table)
        found.append(replace(table, frame=frame, ignored=ignored))
    return found


def _facts(path: Path, table: TextTable) -> dict[str, object]:
    ignored = [{"row": r, "reason": reason, "text": text} for r, reason, text in table.ignored.iter_rows()]
    rows = [
        {"row": row[-1], "cells": list(row[:-1])}
        for row in table.frame.select([*table.columns, "row"]).head(FIRST_ROWS).iter_rows()
    ]
    return {
        "file": str(path),
        "sheet": table.sheet,
        "names": list(table.names),
        "rows": table.frame.height,
        "first_rows": rows,
        "ignored": ignored,
        "masked": table.masked,
        "dialect": table.dialect,
    }


def csv_text(table: TextTable) -> Iterator[str]:
    """A table as RFC 4180 CSV, header rows first. A row keeps the number of cells that it has in the file, so that
    nothing is added that was not there."""
    facts: dict[str, Any] = table.dialect
    header = facts.get("header") or ([list(table.names)] if table.names else [])
    ragged, usual = facts.get("ragged", {}), facts.get("cells", len(table.columns))
    yield _lines(header)
    frame = table.frame.select([*table.columns, "row"])
    for batch in frame.iter_slices(_BATCH):
        yield _lines([row[: ragged.get(row[-1], usual)] for row in batch.iter_rows()])


def _lines(rows: Sequence[Sequence[str | None]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _view(path: Path, table: TextTable) -> Iterator[str]:
    place = f"{path.name}, {table.sheet}" if table.sheet else path.name
    yield f"{place}: {_count(table.frame.height, 'row')}, {_count(len(table.columns), 'column')}\n"
    yield "".join(
        f"  {name}: {_word(value)}\n"
        for name, value in table.dialect.items()
        if name != "header" and value not in ("", [], {}, 0, False)
    )
    if table.masked:
        yield f"  masked: {_count(table.masked, 'mail, phone or street', 'mails, phones or streets')}\n"
    reasons = table.ignored.group_by("reason", maintain_order=True).len().rows()
    if reasons:
        yield f"  ignored: {', '.join(f'{count} {reason}' for reason, count in reasons)}\n"
    for row, reason, text in table.ignored.filter(table.ignored["reason"] != "blank").head(_SHOWN_IN_FULL).iter_rows():
        yield f"    row {row} ({reason}): {_short(text or PRIVATE, 90)}\n"
    names = [name or f"({place + 1})" for place, name in enumerate(table.names or [""] * len(table.columns))]
    yield _grid(
        ["row", *names],
        [
            [str(r[-1]), *(c or "" for c in r[:-1])]
            for r in table.frame.select([*table.columns, "row"]).head(FIRST_ROWS).iter_rows()
        ],
    )


def _grid(names: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [[_short(cell, _WIDEST) for cell in line] for line in (names, *rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(names))]
    drawn = [
        "  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines
    ]
    return "\n".join([drawn[0], "  " + "  ".join("-" * w for w in widths), *drawn[1:]]) + "\n"


def _short(text: str, most: int) -> str:
    flat = " ".join(text.split()) if "\n" in text or "\r" in text or "\t" in text else text
    return flat if len(flat) <= most else flat[: most - 1] + "…"


def _word(value: object) -> str:
    if isinstance(value, dict) and len(value) > _SHOWN_IN_FULL:
        return f"{len(value)} rows"
    return repr(value) if isinstance(value, str) and not value.isalnum() else str(value)


def _count(number: int, noun: str, several: str = "") -> str:
    return f"{number:,} {noun if number == 1 else several or f'{noun}s'}"
