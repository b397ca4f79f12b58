"""Opening a shop's newest published database, for all that read it."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import duckdb
from polars.exceptions import PolarsError

from pipeline import database
from pipeline.database.run import run_checks, run_models
from pipeline.errors import UserError, call
from pipeline.shop import load

_COLUMNS = "select schema_name, table_name, column_name, data_type from duckdb_columns() where not internal"
_OUTDATED = "The published database lacks something that is asked of it: an older version of the tool made it."
_DAMAGED = "The published database is damaged."
_DAMAGES = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException, duckdb.SerializationException)
_LACKING = (duckdb.Error, KeyError, IndexError, TypeError, AttributeError, PolarsError)
"""What is raised where a column or a row is missed; DuckDB has several ways to say so."""


@contextmanager
def opened(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """The newest database, read-only. Raises `UserError` if there is none, or a damaged one, or an older version's."""
    load(folder)  # for its clear words when the folder is no shop
    again = f"Make a new one with: {call('refresh', folder)}"
    with database.open_newest(folder) as con:
        try:
            yield con
        except _DAMAGES as error:
            raise UserError(_DAMAGED, str(folder), again) from error
        except _LACKING as error:
            # a column that is missed, a table without its row: our fault only where the database is as we make it
            if _is_ours(con):
                raise
            raise UserError(_OUTDATED, str(folder), again) from error


def _is_ours(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether it has the tables and columns that a refresh makes now."""
    try:
        there = set(con.execute(_COLUMNS).fetchall())
    except duckdb.Error:
        return False
    return _made_now() <= there


@cache
def _made_now() -> frozenset[tuple[str, ...]]:
    with duckdb.connect() as fresh:
        database.create_given(fresh)
        run_models(fresh, lambda _: None)
        run_checks(fresh)
        return frozenset(fresh.execute(_COLUMNS).fetchall())
