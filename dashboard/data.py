"""The only reader of the published database: read-only, one connection a file, one method a published table.

Every figure is worked out before publishing. What stands here selects rows, joins them to where they come from, and
adds up nothing but counts of rows over files.
"""

import os
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import duckdb
import polars as pl

from dashboard import SHOP_VARIABLE
from dashboard.read.advice import Advice
from dashboard.read.cost import Cost
from dashboard.read.details import Behind
from dashboard.read.intake import Intake
from dashboard.read.material import Material
from dashboard.read.money import Money
from dashboard.read.price import Price
from dashboard.read.quality import Quality
from pipeline.pages import actions
from pipeline.records import RECORDS

ANSWERS, FRAMES = 200, 1000
"""Answers and frames kept for each database."""


class NothingPublishedError(Exception):
    """The shop has no published database that can be opened."""


class OutdatedError(Exception):
    """The published database lacks a table that a page reads: an older version of the tool made it."""


LACKING = (OutdatedError, pl.exceptions.ColumnNotFoundError, KeyError)
"""How a page may find that the database lacks something: a table, or a column of one (see `lacks`)."""


def lacks(error: Exception) -> bool:
    """Whether it is that. Any other name that a page looks up in vain is a fault of ours, and is told as one."""
    if not isinstance(error, KeyError):
        return True
    fields = {field.name for record in RECORDS.values() for field in record}
    return any(name in actions.meanings("columns") or name in fields for name in error.args)


@dataclass(frozen=True)
class Edition:
    """One published file. `stamp` tells it from another of the same name, made after the folder was emptied."""

    number: int
    path: Path
    stamp: tuple[int, int]

    def refreshed(self, zone: str | None) -> datetime:
        """When it was published by the clock of a time zone, or of this machine where none is named."""
        return datetime.fromtimestamp(self.stamp[0] / 1e9, ZoneInfo(zone) if zone else None)


class Book(Intake, Cost, Material, Quality, Money, Price, Advice, Behind):
    """One published database. Frames are kept, so that a page that runs again reads nothing again."""

    def __init__(self, edition: Edition) -> None:
        self.edition = edition
        self._con = actions.open_published(edition.path)
        self._kept: dict[tuple[str, str], pl.DataFrame] = {}
        self._meanings: dict[str, str] = {}
        self._answers: dict[str, Any] = {}

    def close(self) -> None:
        self._con.close()

    def _frame(self, query: str, **values: Any) -> pl.DataFrame:
        key = (query, repr(values))
        kept = self._kept.get(key)
        if kept is None:
            kept = self._read(query, values)
            if len(self._kept) >= FRAMES:
                self._kept.clear()  # an address can ask for ever something new
            self._kept[key] = kept
        return kept

    def _read(self, query: str, values: dict[str, Any]) -> pl.DataFrame:
        try:
            # a cursor of its own: two browsers read at the same time
            with self._con.cursor() as cursor:
                return cursor.sql(actions.one_select(cursor, query), params=values or None).pl()
        except (duckdb.CatalogException, duckdb.BinderException) as error:
            raise OutdatedError(str(error)) from error

    def kept(self, key: str, ask: Callable[[], Any]) -> Any:
        """The answer to a question about this database, asked once."""
        if key not in self._answers:
            if len(self._answers) >= ANSWERS:
                self._answers.clear()
            self._answers[key] = ask()
        return self._answers[key]

    def meaning(self, column: str) -> str | None:
        """What a column, or a figure of a quote, means: its name has one meaning everywhere."""
        if not self._meanings:
            known = self.dictionary().filter(pl.col("meaning").is_not_null()).select("column", "meaning")
            self._meanings = actions.meanings("quoted") | dict(known.reverse().rows())
        return self._meanings.get(column)


_OPEN: dict[Path, Book] = {}
_LOCK = threading.Lock()


def shop_folder() -> Path:
    """The shop folder that the server was started for."""
    return Path(os.environ.get(SHOP_VARIABLE, "."))


def editions(folder: Path) -> list[Edition]:
    """The published files of a shop, the newest first."""
    found = []
    for path in (folder / "database").glob("shop-*.duckdb"):
        match = re.fullmatch(r"shop-(\d{6,})\.duckdb", path.name)
        try:
            stat = path.stat()
        except OSError:
            continue  # swept since it was listed
        if match:
            found.append(Edition(int(match[1]), path, (stat.st_mtime_ns, stat.st_ino)))
    return sorted(found, key=lambda edition: edition.number, reverse=True)


def newest(folder: Path) -> Edition | None:
    """The newest published file, without opening it."""
    return next(iter(editions(folder)), None)


def open_book(folder: Path) -> Book:
    """The newest database that opens. Raises `NothingPublishedError` if there is none."""
    for _ in range(2):  # the one listed may have been swept meanwhile: list again
        for edition in editions(folder):
            try:
                return _book(edition)
            except (duckdb.Error, OSError):
                continue
    raise NothingPublishedError(str(folder))


def _book(edition: Edition) -> Book:
    with _LOCK:
        known = _OPEN.get(edition.path)
        if known and known.edition == edition:
            return known
        if known:
            # within one process DuckDB hands back the old file while a connection to its path is open
            _OPEN.pop(edition.path).close()
        book = Book(edition)
        # a browser that still shows an older file goes on with it until its next run
        for old in list(_OPEN)[:-2]:
            _OPEN.pop(old).close()
        _OPEN[edition.path] = book
        return book
