"""What several commands do: refresh and tell of it, open the database, print; and the codes that they end with."""

import json
import shlex
from collections.abc import Iterable
from contextlib import AbstractContextManager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

FINE, FINDINGS, WRONG_CALL, BUG = 0, 1, 2, 3


def refreshed(folder: Path, as_json: bool, on: date | None = None, anew: bool = False) -> int:
    """Refresh a shop and say what came of it; gives the code to end with."""
    from pipeline.processes.workers import other_processes
    from pipeline.shop.contents import LAST_REFRESH, changed_since

    # first of all, so that they load the libraries while this process does; not where there is nothing to do
    with other_processes(at_once=anew or changed_since(folder, folder / LAST_REFRESH)) as other:
        from pipeline.refresh.refresh import refresh
        from pipeline.reports.refreshed import data, progress, progress_end, text
        from pipeline.shop import load

        summary = refresh(load(folder), progress(), other, on, anew)
    progress_end()
    printed(data(summary), text(summary, shlex.quote(str(folder))), as_json)
    return FINE if summary.published else FINDINGS


def open_database(folder: Path) -> "AbstractContextManager[duckdb.DuckDBPyConnection]":
    """The newest published database of a shop, to be read."""
    from pipeline.database.open_database import opened

    return opened(folder)


def money_digits(folder: Path) -> int:
    """How many digits the shop's money has after its point."""
    from pipeline.shop import load

    return load(folder).minor_digits


def printed(data: Any, text: Iterable[str], as_json: bool) -> None:
    """Print what was found, as JSON or as lines of text."""
    if as_json:
        print(json.dumps(data, indent=2, default=str, ensure_ascii=False))
        return
    for line in text:
        print(line)
