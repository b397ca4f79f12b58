"""What each table was made from and what it holds, so that a refresh makes only what has changed.

A draft begins with the tables of the last published database, all empty. A model whose inputs hold what they held then
takes its rows over; another is made, and where it comes out as it was, what reads it is not made for its sake. One that
can't have rows, for want of any in its inputs (`no_rows.py`), isn't made either.

A table's content is told by the number of its rows and the sum of their hashes: in whatever order they stand, they
are the same rows. The sum, since of two equal rows an exclusive or would leave nothing.
"""

import platform
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from hashlib import blake2b
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

if TYPE_CHECKING:
    from pipeline.database.plan import Model

TABLE = "intake._digest"

EMPTY = "0 0"
"""The content of a table without rows."""

_LIBRARIES = ("duckdb", "polars", "numpy", "scipy", "pint")
_CODE = (".py", ".sql", ".toml", ".csv")


@dataclass
class Digests:
    """Table → what it was made from and its content: as the last published database has them, and as this one does."""

    last: dict[str, tuple[str, str]] = field(default_factory=dict)
    now: dict[str, tuple[str, str]] = field(default_factory=dict)

    def given(self, table: str, content: str) -> None:
        """Note what a given table holds."""
        self.now[table] = version(), content

    def made(self, con: duckdb.DuckDBPyConnection, model: "Model", failed: bool = False, rows: bool = True) -> None:
        """Note what a table made just now holds; a view, what it puts together. What `failed` is tried again next.
        `rows`: whether it has any, as far as is known."""
        made_from = self.made_from(model)
        # a view is known to have no rows here where it would be in a draft that begins from the last database
        held = made_from if model.view and not self.leaves_empty(model) else EMPTY
        if rows and not model.view:
            held = con.execute(content(model.table)).fetchall()[0][0]
        self.now[model.table] = "" if failed else made_from, held

    def leaves_empty(self, model: "Model") -> bool:
        """Whether what a SELECT gives can have no rows, by what its inputs hold."""
        without = {table for table in model.inputs if self.now.get(table, ("", ""))[1] == EMPTY}
        return any(tables <= without for tables in model.empty_if)

    def without_rows(self, model: "Model") -> bool:
        """Whether the table can have no rows, and then note that it has none."""
        if not self.leaves_empty(model):
            return False
        self.now[model.table] = self.made_from(model), EMPTY
        return True

    def take_over(self, model: "Model") -> bool:
        """Whether the table's rows are to be taken over from the last database, and then note that they are."""
        there = self.last.get(model.table)
        if not there or there[0] != self.made_from(model):
            return False
        self.now[model.table] = there
        return True

    def filled(self, model: "Model") -> bool:
        """Whether there are rows to be taken over."""
        return not model.view and self.now[model.table][1] != EMPTY

    def made_from(self, model: "Model") -> str:
        """A digest of the model and of all that its inputs hold."""
        parts = [model.table, model.sql, *model.key, "", *model.checks]
        parts += [f"{name} {self.now[name][1]}" for name in sorted(model.inputs)]
        return blake2b("\0".join(parts).encode(), digest_size=16).hexdigest()

    def unchanged(self, tables: Iterable[str]) -> bool:
        """Whether each of the tables is known to hold what it held in the last database."""
        return all(table in self.last and self.last[table][1] == self.now[table][1] for table in tables)

    def write(self, con: duckdb.DuckDBPyConnection) -> None:
        """Store them in the draft, for the next one."""
        rows = [[table, *told] for table, told in sorted(self.now.items())]
        con.execute(
            f"insert into {TABLE} select unnest(?::varchar[]), unnest(?::varchar[]), unnest(?::varchar[])",
            list(map(list, zip(*rows, strict=True))),
        )


def content(relation: str) -> str:
    """The query of one text, the content of a relation. `relation` is the tool's own SQL."""
    return f"select count(*) || ' ' || coalesce(sum(hash(_row)), 0) from {relation} as _row"


def begin(con: duckdb.DuckDBPyConnection, last: Path | None) -> Digests | None:
    """Give the draft in use all tables of `last`, empty, and keep that attached as `last`. None where there is no
    last database, or it is damaged, or another version of the tool or of a library made it.
    """
    if not last:
        return None
    try:
        con.execute("attach ? as last (read_only)", [str(last.absolute())])
    except duckdb.Error:
        return None
    told = _told(con)
    if told.get("settings.shop", ("", ""))[0] != version():
        con.execute("detach last")
        return None
    con.execute("copy from database last to draft (schema)")
    return Digests(told)


def _told(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[str, str]]:
    try:
        return {table: (made_from, held) for table, made_from, held in con.execute(f"from last.{TABLE}").fetchall()}
    except duckdb.Error:
        return {}


def create(con: duckdb.DuckDBPyConnection) -> Digests:
    """Make the table that they are stored in, of a draft that begins with nothing."""
    con.execute(f"create table {TABLE} (name varchar, made_from varchar, content varchar)")
    return Digests()


@cache
def version() -> str:
    """A digest of all that may change a figure besides the shop's files: our own code, the libraries, the machine."""
    from importlib.metadata import version as version_of  # slow to load, and asked by a refresh alone

    hashed = blake2b(digest_size=16)
    for name in _LIBRARIES:
        hashed.update(f"{name} {version_of(name)}\n".encode())
    hashed.update(f"{platform.python_version()} {platform.machine()} {platform.system()}\n".encode())
    for package in ("pipeline", "sql"):
        for name, text in sorted(_texts(files(package), package)):
            hashed.update(f"{name} {len(text)}\n".encode() + text)
    return hashed.hexdigest()


def _texts(folder: Traversable, name: str) -> Iterable[tuple[str, bytes]]:
    for entry in folder.iterdir():
        inner = f"{name}/{entry.name}"
        if entry.is_dir():
            yield from _texts(entry, inner)
        elif entry.name.endswith(_CODE):
            yield inner, entry.read_bytes()
