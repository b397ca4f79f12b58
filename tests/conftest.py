"""What several areas of the tests share: a tiny shop, one with a database made by hand, and the demo shop."""

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import polars as pl
import pytest
from filelock import FileLock

from pipeline import database
from pipeline.commands import main
from pipeline.database.run import run_checks, run_models
from tests.refreshed import TINY_SHOP, refreshed
from tests.turns import pytest_collection_modifyitems, pytest_configure, pytest_terminal_summary  # noqa: F401

# a test may begin a process: where nothing is kept of what is compiled, each would compile all libraries again
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False


@pytest.fixture
def tiny_shop(tmp_path: Path) -> Path:
    """A shop folder with a `shop.toml` and an empty inbox."""
    folder = tmp_path / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    return folder


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Callable[..., duckdb.DuckDBPyConnection]]:
    """`books('currency = "EUR" …', sales="date,…\\n…")` → the published database of a shop with just those files.

    The settings are the text of `shop.toml`; each record is the text of a canonical CSV. It fails where a row is set
    aside or a check of severity error finds something. A second call changes the files and refreshes again.
    """
    folder = tmp_path / "books"
    opened: list[duckdb.DuckDBPyConnection] = []

    def begun(settings: str, **records: str) -> duckdb.DuckDBPyConnection:
        (folder / "inbox").mkdir(parents=True, exist_ok=True)
        (folder / "shop.toml").write_text(settings, encoding="utf-8")
        for name, text in records.items():
            (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
        refreshed(folder)
        con = database.open_newest(folder)
        opened.append(con)
        assert con.execute("from intake.rejected").fetchall() == []
        return con

    yield begun
    for con in opened:
        con.close()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop with its published database, made once for all tests of a run. Read it only."""
    home = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        home = home.parent  # of all processes of the run
    folder = home / "demo" / "demo-shop"
    with FileLock(home / "demo.lock"):
        if not folder.is_dir():
            assert main(["demo", str(folder), "--no-show"]) == 0
    return folder


@pytest.fixture(scope="session")
def empty() -> Iterator[duckdb.DuckDBPyConnection]:
    """Every table over no records: that alone proves that all models parse and bind."""
    with duckdb.connect() as con:
        database.create_given(con)
        run_models(con, lambda _: None)
        run_checks(con)
        yield con


@pytest.fixture(scope="session")
def empty_file(empty: duckdb.DuckDBPyConnection, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database file with every table over no records."""
    path = tmp_path_factory.mktemp("empty") / "empty.duckdb"
    empty.execute("attach ? as kept", [str(path)])
    empty.execute("copy from database memory to kept")
    empty.execute("detach kept")
    return path


@pytest.fixture
def published(tiny_shop: Path, empty_file: Path) -> Callable[..., Path]:
    """`published(cost__trace=[{…}], intake__row=[{…}])` publishes a database with just those rows; gives the shop."""

    def publish(**tables: list[dict[str, object]]) -> Path:
        home = tiny_shop / "database"
        home.mkdir(exist_ok=True)
        draft = home / "made.draft"
        shutil.copyfile(empty_file, draft)
        with duckdb.connect(str(draft)) as con:
            for name, rows in tables.items():
                _insert(con, name.replace("__", ".", 1), rows)
        draft.rename(home / f"shop-{len(list(home.glob('shop-*.duckdb'))) + 1:06}.duckdb")
        return tiny_shop

    return publish


def _insert(con: duckdb.DuckDBPyConnection, table: str, rows: list[dict[str, object]]) -> None:
    schema, _, name = table.partition(".")
    view = "select 1 from duckdb_views() where schema_name = ? and view_name = ?"
    if con.execute(view, [schema, name]).fetchall():  # as a table it can be given rows
        con.execute(f"create table {schema}._made as from {table} limit 0")
        con.execute(f"drop view {table}")
        con.execute(f"alter table {schema}._made rename to {name}")
    con.register("_rows", pl.DataFrame(rows, infer_schema_length=None))
    con.execute(f"insert into {table} by name from _rows")
    con.unregister("_rows")
