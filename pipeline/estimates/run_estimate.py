"""An estimate's table in the database: filled, or left empty and told, since no estimate may stop the books."""

from collections.abc import Callable

import duckdb
import polars as pl

from pipeline.estimates import Node, attempt, estimate
from pipeline.processes.workers import Limit, Workers
from pipeline.tables import in_polars
from pipeline.writing.internal_errors import place_of

LIMIT = Limit(seconds=120, memory=2**30, times_by_clock=6)
"""What one estimate may take in another process; one of 50,000 pieces takes some seconds and a tenth of that."""


def make_or_tell(
    con: duckdb.DuckDBPyConnection,
    node: Node,
    test: Callable[[], None],
    other: Workers | None = None,
    there: bool = False,
) -> str:
    """Fill the node's table; where the node raises, or `test` of its table does, leave it empty, tell it in
    intake.failed_estimate, and give what was raised where. `other`: a process that works it out. `there`: the table is.
    """
    fault = fill(con, node, other, there)
    try:
        if not fault:
            test()
    except Exception as error:
        con.execute(f"delete from {node.table}")
        fault = place_of(error)
    if fault:
        con.execute("insert into intake.failed_estimate values (?, ?, ?)", [node.table, node.meaning, fault])
    return fault


def fill(con: duckdb.DuckDBPyConnection, node: Node, other: Workers | None = None, there: bool = False) -> str:
    """Make the node's table, or fill it where it is `there`, of rows in a fixed order. The answer is what was raised
    where, the table then empty.
    """
    inputs = {name: con.sql(f"from {name} order by all").pl() for name in node.inputs}
    try:
        found, fault = other.within(LIMIT, estimate, node.table, inputs).result() if other else attempt(node, inputs)
    except Exception as error:  # the other process died, or took too much
        found, fault = pl.DataFrame(schema=in_polars(node.columns)), place_of(error)
    typed = ", ".join(f'"{name}"::{kind} as "{name}"' for name, kind in node.columns.items())
    con.register("_result", found)
    begin = f"insert into {node.table}" if there else f"create or replace table {node.table} as"
    con.execute(f"{begin} select {typed} from _result")
    con.unregister("_result")
    return fault
