"""A shop's database, made once for all tests of a process that begin with just the same files.

Each begins with the database of a shop without records, made once a process: what is as there need not be made again,
and `refresh/test_only_what_changed.py` proves that the figures are the same.
"""

import atexit
import re
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline import database
from pipeline.database.plan import LAYERS, Plan, read_plan
from pipeline.refresh.refresh import refresh
from pipeline.shop import load

TINY_SHOP = """
name = "Two Benches"
currency = "EUR"
start = 2026-01-01

[[people]]
name = "Ada"
rate = 30
"""


def refreshed(folder: Path) -> None:
    """Refresh the shop; a first refresh of files that another test had just so is copied from there.

    For tests of what is made of a refresh. Those of the refresh itself call it. It fails where a check of severity
    error finds something.
    """
    if (folder / "database").exists():
        _refresh(folder)
        return
    kept = _kept() / _digest(folder)
    if not kept.exists():
        _refresh(begun(folder))
        shutil.copytree(folder / "database", kept)
        return
    shutil.copytree(kept, folder / "database")


def begun(folder: Path) -> Path:
    """The shop, with the database of one without records where it has none: a refresh begins there."""
    if not (folder / "database").exists():
        shutil.copytree(without_records().parent, folder / "database")
    return folder


@cache
def without_records() -> Path:
    """The published database of a shop that has settings alone."""
    folder = _kept() / "without"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    published = refresh(load(folder)).published
    assert published
    return published


class AsAsked:
    """The published database of a shop, whose tables are made as they are asked for.

    At once are made the tables that checks of severity error look at, and those are run; all others when a statement
    names the first of them: a model costs as much of a tiny shop as of a large one. Read-only.
    """

    def __init__(self, folder: Path) -> None:
        self.folder, self.whole = begun(folder), False
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("pipeline.refresh.refresh.read_plan", _looked_at)
            _refresh(folder)
        self.con = database.open_newest(folder)

    def execute(self, query: str | duckdb.Statement, *values: Any) -> duckdb.DuckDBPyConnection:
        self._make_what_it_names(query if isinstance(query, str) else query.query)
        return self.con.execute(query, *values)

    def extract_statements(self, query: str) -> list[duckdb.Statement]:
        return self.con.extract_statements(query)

    def close(self) -> None:
        self.con.close()

    def _make_what_it_names(self, query: str) -> None:
        if self.whole or set(_NAMED.findall(query)) <= _looked_at().models.keys():
            return
        self.con.close()
        shutil.rmtree(self.folder / "database" / ".read")  # else it is seen that nothing has changed
        _refresh(self.folder)
        self.con, self.whole = database.open_newest(self.folder), True


_NAMED = re.compile(rf"\b(?:{'|'.join([*LAYERS, 'checks'])})\.\w+")
"""Where a statement names a table that is made."""


@cache
def _looked_at() -> Plan:
    """Of the plan, the models that checks of severity error need, and all checks that need no other."""
    plan = read_plan()
    only = led_to({table for check in plan.checks if check.severity == "error" for table in check.inputs})
    others = plan.models.keys() - only.models.keys()
    return replace(only, checks=tuple(check for check in plan.checks if not check.inputs & others))


def led_to(tables: Iterable[str]) -> Plan:
    """The plan with those models alone that lead to the tables."""
    models, wanted = read_plan().models, {*tables}
    for name in reversed(models):
        wanted |= models[name].inputs if name in wanted else set()
    return replace(read_plan(), models={name: models[name] for name in models if name in wanted})


def _refresh(folder: Path) -> None:
    assert refresh(load(folder)).errors == []


@cache
def _kept() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="refreshed-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _digest(folder: Path) -> str:
    """What all files of the shop hold, by name."""
    hashed = blake2b()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name, content = str(path.relative_to(folder)).encode(), path.read_bytes()
        hashed.update(b"%d %d " % (len(name), len(content)) + name + content)
    return hashed.hexdigest()
