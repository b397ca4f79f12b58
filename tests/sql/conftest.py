"""Tests one model at a time: a few rows in, the model's rows out."""

from collections.abc import Callable, Iterator
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.database.plan import GIVEN, read_plan
from pipeline.database.run import prepare, run_one
from pipeline.refresh.refresh import layers

Rows = list[dict[str, Any]]

GATHERED = {
    *(
        "work.recorded_day",
        "work.first_owner",
        "cost.moved_entry",
        "work.sale_turn",
        "money.untaxed",
        "material._blank",
    ),
    *("cost._usual_line", "cost._usual_layer", "cost.unnamed"),
}
"""Models that say in one place what others read in records, settings and books: made of these, unless given rows."""


@pytest.fixture
def model(empty: duckdb.DuckDBPyConnection) -> Iterator[Callable[..., Rows]]:
    """`model("money.lost", cost__movement=[{"piece": "T-1", "cents": 5}])` → the rows that the model makes of them.

    An input is named with two underscores for the dot (a step keeps its own: `work___lot` is work._lot) and given as
    rows or a frame with only the columns that matter; the others are null. An input not given has no rows,
    but `settings.layer`: it has ours.
    `model("checks.oversold", …)` gives the offending rows of a check.
    """
    known = read_plan().models | {check.table: check for check in read_plan().checks}
    with duckdb.connect() as con:
        prepare(con, read_plan())
        for schema in GIVEN:
            con.execute(f"create schema {schema}")

        def make(table: str, **given: Rows | pl.DataFrame) -> Rows:
            rows = {name.replace("__", ".", 1): value for name, value in given.items()}
            gathered = known[table].inputs & GATHERED - set(rows)
            inputs = known[table].inputs.union(*(known[name].inputs for name in gathered)) - gathered
            if strange := set(rows) - inputs:
                raise AssertionError(f"{table} doesn't read {sorted(strange)}, only {sorted(inputs)}")
            for name in inputs:
                _fill(con, empty, name, rows.get(name, layers() if name == "settings.layer" else []))
            for name in gathered:
                run_one(con, name)
            if not table.startswith("checks."):
                run_one(con, table)
            result = con.execute(known[table].sql if table.startswith("checks.") else f"from {table}")
            names = [column[0] for column in result.description]
            return [dict(zip(names, row, strict=True)) for row in result.fetchall()]

        yield make


def _fill(
    con: duckdb.DuckDBPyConnection, empty: duckdb.DuckDBPyConnection, name: str, rows: Rows | pl.DataFrame
) -> None:
    columns = {row[0]: row[1] for row in empty.execute(f"describe {name}").fetchall()}
    typed = ", ".join(f'"{column}" {kind}' for column, kind in columns.items())
    con.execute(f"create or replace table {name} ({typed})")
    frame = rows if isinstance(rows, pl.DataFrame) else pl.DataFrame(rows, infer_schema_length=None)
    if strange := set(frame.columns) - set(columns):
        raise AssertionError(f"{name} has no columns {sorted(strange)}, only {sorted(columns)}")
    if frame.height:
        con.register("_rows", frame)
        con.execute(f"insert into {name} by name from _rows")
        con.unregister("_rows")
