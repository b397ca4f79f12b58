"""The same files give the same figures to the last digit, however the rows lie and are shared out to cores."""

from pathlib import Path

import duckdb

from pipeline import database, tables
from pipeline.database.plan import read_plan
from pipeline.database.run import run_models


def test_the_order_of_rows_changes_no_digit(demo: Path) -> None:
    """The demo as it was published, and its records the other way round, on two cores."""
    with duckdb.connect() as con:
        con.execute("set threads = 2")
        attached = f"attach '{database.newest(demo)}' as published (read_only)"
        con.execute(attached)
        database.create_given(con)
        for table in tables.given_tables():
            con.execute(f"insert into {table} by name from (from published.{table} order by rowid desc)")
        con.execute("detach published")
        run_models(con, lambda _: None)
        con.execute(attached)
        differing = []
        for table in read_plan().models:
            rows = [sorted(con.execute(f"from {name}").fetchall(), key=repr) for name in (f"published.{table}", table)]
            if rows[0] != rows[1]:
                names = [column[0] for column in con.execute(f"from {table}").description]
                pairs = zip(*rows, strict=False)
                differing.append((table, {n for a, b in pairs for n, x, y in zip(names, a, b, strict=True) if x != y}))
    assert not differing, differing
