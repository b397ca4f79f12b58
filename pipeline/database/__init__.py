"""The only writer of DuckDB: the given tables, and publishing in one step.

A refresh builds `database/shop-000042.draft` and, when all is well, renames it to `.duckdb`. An open file is never
replaced: that fails on Windows, and within one process DuckDB hands back the old database while it is open.
"""

import errno
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
from filelock import FileLock, Timeout

from pipeline.database.digests import EMPTY, Digests, begin, content, create
from pipeline.errors import UserError, call
from pipeline.tables import given_tables, in_polars, meanings
from pipeline.writing import whole

if TYPE_CHECKING:
    import polars as pl

KEPT = 3
"""How many published databases stay, so that whoever has an older one open can go on."""

LOCK_WAIT_S = 600.0

FILLED_LATER = {"intake.failed_estimate"}
"""Given tables that are filled while the models run."""

_SPILT = ".spilt"

# a shop has some two hundred tables, most of them small: each takes a block at least
_STORED = "recovery_mode no_wal_writes, block_size 16384"


def create_given(con: duckdb.DuckDBPyConnection) -> None:
    """Make the given tables, empty and commented."""
    statements = ["create schema settings;", "create schema intake;", "create schema records;"]
    for table, columns in given_tables().items():
        names = ", ".join(f'"{name}" {kind}' for name, kind in columns.items())
        statements.append(f"create table {table} ({names});")
    for thing, meaning in meanings().items():
        quoted = meaning.replace("'", "''")
        statements.append(f"comment on {thing} is '{quoted}';")
    con.execute("\n".join(statements))


def load(con: duckdb.DuckDBPyConnection, frames: "Mapping[str, pl.DataFrame]", digests: Digests | None = None) -> None:
    """Fill given tables, by `schema.name`, from frames with exactly their columns. Raises TypeError for others.

    `digests`: is told what each of them then holds, and each other that no frame fills.
    """
    tables = given_tables()
    for table, frame in frames.items():
        if not require(frame, table, tables[table]).height:
            continue
        con.register("_frame", frame)
        con.execute(f"insert into {table} by name from _frame")
        con.unregister("_frame")
    if digests:
        for table in frames.keys() | tables.keys() - FILLED_LATER - digests.now.keys():
            filled = table in frames and frames[table].height
            digests.given(table, con.execute(content(table)).fetchall()[0][0] if filled else EMPTY)


def require(frame: "pl.DataFrame", table: str, columns: Mapping[str, str]) -> "pl.DataFrame":
    """The frame, if it has just these columns, in any order, and types."""
    if set(frame.columns) != set(columns):
        strange, missing = sorted(set(frame.columns) - set(columns)), sorted(set(columns) - set(frame.columns))
        raise TypeError(f"{table}: columns too many {strange}, missing {missing}")
    wanted = in_polars(columns)
    wrong = {name: str(kind) for name, kind in frame.schema.items() if kind != wanted[name]}
    if wrong:
        raise TypeError(f"{table}: columns of another type than {columns}: {wrong}")
    return frame


@contextmanager
def lock(folder: Path, wait_s: float = LOCK_WAIT_S) -> Iterator[None]:
    """Hold the shop's lock: one process at a time writes. Raises `UserError` if it doesn't come free."""
    path = folder / "database" / ".lock"
    whole.make_folder(path.parent)
    held = FileLock(path, timeout=wait_s)
    try:
        held.acquire()
    except Timeout:
        raise UserError(
            "Another refresh of this shop is still running.", str(path), "Let it end, then try again."
        ) from None
    except OSError as error:
        raise whole.unwritten(path, error) from error
    try:
        yield
    finally:
        held.release()


@dataclass
class Draft:
    """A database being built. `publish` puts it in place; one that isn't published is thrown away."""

    con: duckdb.DuckDBPyConnection
    path: Path
    digests: Digests = field(default_factory=Digests)
    published: Path | None = None

    def publish(self) -> Path:
        """Write all of it to the disk, then show it under its final name. The connection is closed."""
        final = self.path.with_suffix(".duckdb")
        with _told(self.path):
            self.con.execute("checkpoint draft")
            self.con.close()
            whole.sync(self.path)
            whole.rename(self.path, final)
        self.published = final
        return final


@contextmanager
def draft(folder: Path, anew: bool = False) -> Iterator[Draft]:
    """A new draft with the given tables, for whoever holds the shop's lock. Sweeps old databases and stale drafts.

    It has the tables of the last published database, empty, where that is of our version; unless `anew`.
    """
    home = whole.make_folder(folder / "database")
    # under the lock, a draft that is already there belongs to a refresh that died
    for stale in (*home.glob("shop-*.draft"), *home.glob("shop-*.draft.wal")):
        _discard(stale)
    shutil.rmtree(home / _SPILT, ignore_errors=True)
    taken = [number for number, _ in _numbered(home)]
    path = home / f"shop-{max(taken, default=0) + 1:06}.draft"
    # what doesn't fit into memory is spilt where the shop's own files are, not wherever the command was called
    building = Draft(duckdb.connect(config={"temp_directory": str(home.absolute() / _SPILT)}), path)
    try:
        with _told(path):
            # a draft that isn't finished is thrown away, so a log of its writes would be as much again for nothing
            building.con.execute(f"attach ? as draft ({_STORED})", [str(path.absolute())])
            building.con.execute("use draft")
            begun = None if anew else begin(building.con, newest(folder))
            # what came with the last file, such as its views, reaches nothing beside these two
            building.con.execute("set enable_external_access = false")
            if not begun:
                create_given(building.con)
            building.digests = begun or create(building.con)
            yield building
    finally:
        building.con.close()
        if not building.published:
            _discard(path)
            _discard(path.with_name(path.name + ".wal"))
        for _, old in _numbered(home)[KEPT:]:
            _discard(old)


def newest(folder: Path) -> Path | None:
    """The newest published database of a shop folder."""
    found = _numbered(folder / "database")
    return found[0][1] if found else None


READ_ONLY = {"enable_external_access": "false", "lock_configuration": "true"}
"""How a published database is opened: nothing in a statement reaches a file, and no statement changes that.

One process can't have a file open in two ways, so there is one.
"""


def open_published(path: Path) -> duckdb.DuckDBPyConnection:
    """A read-only connection to a published database, the one way to open it."""
    return duckdb.connect(str(path.absolute()), read_only=True, config=dict(READ_ONLY))


def one_select(con: duckdb.DuckDBPyConnection, query: str) -> duckdb.Statement:
    """The one SELECT that a query is. Raises `ValueError` for another statement, or several: DuckDB would run all."""
    found = con.extract_statements(query)
    if len(found) != 1 or found[0].type != duckdb.StatementType.SELECT:
        raise ValueError("a published database answers one SELECT at a time")
    return found[0]


def open_newest(folder: Path) -> duckdb.DuckDBPyConnection:
    """A read-only connection to the newest database that opens. Raises `UserError` if there is none."""
    again = f"Run: {call('refresh', folder)}"
    for _ in range(2):  # the one listed may have been swept meanwhile: list again
        found = _numbered(folder / "database")
        for _, path in found:
            with suppress(duckdb.Error, OSError):
                return open_published(path)
    if found:
        raise UserError("The published database can't be opened: it is damaged.", str(found[0][1]), again)
    raise UserError("Nothing is published for this shop yet.", str(folder), again)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """What the disk refuses while a draft is built, as a `UserError`."""
    try:
        yield
    except Exception as error:
        cause = error if isinstance(error, duckdb.Error) else error.__cause__  # a model says which one it was
        if isinstance(cause, duckdb.OutOfMemoryException):
            what = "There is too little memory, or room on the disk, to work this out."
            raise UserError(what, str(path), "Close other programs, or make room, then try again.") from error
        number = next((n for n in whole.KNOWN if os.strerror(n) in str(cause)), 0)
        if isinstance(cause, duckdb.IOException) or (isinstance(cause, duckdb.FatalException) and number):
            # of a library's message nothing is shown: it holds statements and its own places
            raise whole.unwritten(path, OSError(number or errno.EIO, "")) from error
        raise


def _numbered(home: Path) -> list[tuple[int, Path]]:
    matches = ((re.fullmatch(r"shop-(\d{6,})\.duckdb", path.name), path) for path in home.glob("shop-*.duckdb"))
    return sorted(((int(match[1]), path) for match, path in matches if match), reverse=True)


def _discard(path: Path) -> None:
    # what is still open elsewhere can't be deleted on Windows; a later refresh will
    with suppress(OSError):
        path.unlink(missing_ok=True)
