"""One thing to mend, and reading it from a published database."""

from dataclasses import dataclass
from typing import Any

import duckdb

from pipeline.database import one_select


@dataclass(frozen=True)
class Finding:
    """One thing to mend. An `error` is wrong as it stands; a `warning` was guessed at, or left out.

    `cents` is the cost that rests on it, where that is known; `rows` is how many rows, files or pieces it concerns;
    `pieces` are their tags, the one that would gain the most first, where it is about pieces.
    """

    severity: str
    kind: str
    what: str
    rows: int
    cents: int | None = None
    where: str = ""
    mend: str = ""
    pieces: tuple[str, ...] = ()


def rows_of(con: duckdb.DuckDBPyConnection, query: str, **values: object) -> list[dict[str, Any]]:
    """The rows of one SELECT, column → value; `values` are bound, those that the query names."""
    asked = {name: value for name, value in values.items() if f"${name}" in query}
    result = con.execute(one_select(con, query), asked or None)
    names = [column[0] for column in result.description]
    return [dict(zip(names, row, strict=True)) for row in result.fetchall()]
