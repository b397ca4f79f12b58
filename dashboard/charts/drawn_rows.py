"""The rows that a picture draws, as a table: what its marks say when they are pointed at, one row a mark.

Headings and units are those of the hints, so that a picture and its table can't say different things.
"""

from collections.abc import Iterator
from typing import Any

import polars as pl

NOISE = 6
"""Decimals that are kept: of minor units turned into major ones the rest is noise of the multiplication."""


def rows_of(spec: dict[str, Any]) -> pl.DataFrame:
    """One row a mark, in the order drawn, of a specification whose data stand in it; money in major units, shares in
    percent. Each set of data has columns of its own: where a picture has several, each leaves those of the others
    empty."""
    shown: dict[str, dict[str, dict[str, Any]]] = {}
    for name, encoding in _marks(spec, None):
        known = {field for row in spec["datasets"][name][:1] for field in row}
        shown[name] = shown.get(name, {}) | _columns(encoding, known)
    frames = [_frame(spec["datasets"][name], columns) for name, columns in shown.items()]
    return pl.concat(frames, how="diagonal_relaxed") if frames else pl.DataFrame()


def _marks(spec: dict[str, Any], outer: str | None) -> Iterator[tuple[str, dict[str, Any]]]:
    """The data and encoding of each kind of mark that says something."""
    name = spec.get("data", {}).get("name", outer)
    for layer in spec.get("layer", ()):
        yield from _marks(layer, name)
    encoding = spec.get("encoding", {})
    if name is not None and encoding.get("tooltip"):
        yield name, encoding


def _columns(encoding: dict[str, Any], known: set[str]) -> dict[str, dict[str, Any]]:
    """Heading → what stands under it. A figure of which the hint makes a text is taken from the axis of that name."""
    axes = [encoding[axis] for axis in ("x", "y") if axis in encoding]
    numbers = {axis["axis"]["title"]: axis for axis in axes if (axis.get("axis") or {}).get("title")}
    told = {hint.get("title", hint["field"]): hint for hint in encoding["tooltip"]}
    return {heading: hint if hint["field"] in known else numbers[heading] for heading, hint in told.items()}


def _frame(rows: list[dict[str, Any]], columns: dict[str, dict[str, Any]]) -> pl.DataFrame:
    found = {}
    for heading, column in columns.items():
        percent = (column.get("format") or (column.get("axis") or {}).get("format") or "").endswith("%")
        values = [row[column["field"]] for row in rows]
        named = f"{heading} (%)" if percent else heading
        found[named] = pl.Series([_plain(value, 100 if percent else 1) for value in values], strict=False)
    return pl.DataFrame(found)


def _plain(value: Any, factor: int) -> Any:
    return round(value * factor, NOISE) if isinstance(value, float) else value
