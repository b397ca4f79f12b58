"""Opening a shop's newest published database for a report."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.shop import load


@contextmanager
def opened(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """The newest database, read-only. Raises `UserError` if there is none, or if an older version made it."""
    load(folder)  # for its clear words when the folder is no shop
    with open_newest(folder) as con:
        try:
            yield con
        except (duckdb.CatalogException, duckdb.BinderException) as error:
            what = "The published database lacks something that is asked of it: an older version of the tool made it."
            raise UserError(what, str(folder), f"Make a new one with: kerfledger refresh {folder}") from error
