"""Saved quotes: one `quotes/<tag>.json` each, written under the shop's lock and read back by every refresh."""

import json
import math
import re
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.database import lock
from pipeline.errors import UserError
from pipeline.shop import format_versions, is_a_programs_own
from pipeline.tables import in_polars, intake
from pipeline.writing import whole
from pipeline.writing.file_names import everywhere

if TYPE_CHECKING:
    import polars as pl

FOLDER = "quotes"
MOST_BYTES = 2**20
_TAG = re.compile(r"[A-Z0-9][A-Z0-9_.-]{0,39}")
_NUMBERED = re.compile(r"Q-(\d+)\.json", re.IGNORECASE)
_TYPES: dict[str, Any] = {"VARCHAR": str, "DATE": str, "BIGINT": int, "DOUBLE": (int, float)}
_NEEDED = ("on_date", "product", "quantity", "predicted_10_cents", "predicted_50_cents", "predicted_90_cents")


def save(shop_folder: Path, quote: Mapping[str, Any], tag: str = "", sheet: str = "") -> Path:
    """Write the quote under `tag`, else under the next number (Q-001), with its sheet beside it. Gives its file.

    `quote` has the columns of intake.quote but `quote` and `file`, and whatever else its reader wants to keep. Raises
    `UserError` for a tag that is taken: a promise that was made is not written over.
    """
    tag = tag.strip().upper()
    if tag and (not _TAG.fullmatch(tag) or everywhere(tag, "") != tag):
        raise UserError(f"A quote can't be called {tag!r}.", mend="Use letters, digits, points and dashes: Q-012.")
    home = shop_folder / FOLDER
    whole.make_folder(home)
    with lock(shop_folder):
        file = home / f"{tag or _next(home)}.json"
        if file.exists():
            raise UserError("There is a quote of this name.", str(file), "Give it another name, or none.")
        if sheet:
            whole.write_ahead(file.with_suffix(".html"), sheet.replace(TAG_OF_SHEET, file.stem))
        told = {**quote, format_versions.KEY: format_versions.NEWEST["quote"], "quote": file.stem}
        whole.write(file, json.dumps(told, indent=2, default=str, ensure_ascii=False) + "\n")
    return file


TAG_OF_SHEET = "{quote}"
"""Stands on a sheet where the tag comes once the quote is saved."""


def read(file: Path) -> dict[str, Any]:
    """A saved quote as it was written. Raises `UserError` for a file that holds none."""
    mend = "Put the file back as it was written, or take it away."
    try:
        if not file.is_file() or file.stat().st_size > MOST_BYTES:
            raise UserError("This file holds no quote.", str(file), mend)
        quote = json.loads(file.read_text(encoding="utf-8"))
        json.dumps(quote, ensure_ascii=False).encode()  # half a character can be written out in JSON, and not stored
    except (ValueError, OSError, RecursionError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no JSON in UTF-8, or nested too deep"
        raise UserError(f"This quote can't be read: {why}.", str(file), mend) from None
    if not isinstance(quote, dict):
        raise UserError("This file holds no quote.", str(file), mend)
    format_versions.refuse_newer("quote", quote.get(format_versions.KEY), str(file))
    for name, kind in intake("quote").items():
        value = quote.get(name)
        if name not in ("quote", "file") and not _fits(value, kind, name in _NEEDED):
            raise UserError(f"In this quote `{name}` can't be {value!r}.", str(file), mend)
    return quote


def frame(shop_folder: Path) -> "tuple[pl.DataFrame, list[tuple[str, str]]]":
    """All saved quotes as intake.quote, by their files' names, and the files that can't be read with the reason."""
    import polars as pl

    rows: list[dict[str, Any]] = []
    broken: list[tuple[str, str]] = []
    for file in _files(shop_folder):
        name = file.relative_to(shop_folder).as_posix().encode("utf-8", "backslashreplace").decode()
        try:
            quote = read(file)
        except UserError as error:
            broken.append((name, error.what))
            continue
        if any(row["quote"] == file.stem.upper() for row in rows):
            broken.append((name, "Another file holds a quote of this name."))
            continue
        day = date.fromisoformat(quote["on_date"])
        row = {c: quote.get(c) for c in intake("quote")}
        rows.append(row | {"quote": file.stem.upper(), "file": name, "on_date": day})
    return pl.DataFrame(rows, schema=in_polars(intake("quote"))), broken


def _fits(value: Any, kind: str, needed: bool) -> bool:
    if value is None:
        return not needed
    if isinstance(value, bool) or not isinstance(value, _TYPES[kind]):
        return False
    if kind == "DATE":
        return bool(re.fullmatch(r"\d{4}-\d{2}-\d{2}", value)) and _is_date(value)
    if kind == "BIGINT":
        return abs(value) < 10**15
    return kind != "DOUBLE" or (abs(value) < 10**15 and math.isfinite(value))


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _files(shop_folder: Path) -> Iterator[Path]:
    home = shop_folder.resolve()
    for file in sorted((shop_folder / FOLDER).glob("*.json")):
        # what leads outside of the shop folder is nobody's quote
        if file.resolve().is_relative_to(home) and not is_a_programs_own(file):
            yield file


def _next(home: Path) -> str:
    taken = [int(match[1]) for file in home.iterdir() if (match := _NUMBERED.fullmatch(file.name))]
    return f"Q-{max(taken, default=0) + 1:03}"
