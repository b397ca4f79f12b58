"""The same files give the same figures to the last digit, however the rows lie and are shared out to cores."""

from pathlib import Path

import duckdb
import polars as pl

from pipeline import database
from pipeline.database.plan import read_plan
from pipeline.database.run import run_models
from pipeline.linking import link
from pipeline.refresh.read_files import FilesRead, read_files
from pipeline.refresh.refresh import tables
from pipeline.shop import load

DEMO = Path(__file__).parents[2] / "sample_data" / "demo"


def run(given: dict[str, pl.DataFrame], threads: int, order: int) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute(f"set threads = {threads}")
    database.create_given(con)
    database.load(con, {name: frame[::order] for name, frame in given.items()})
    run_models(con, lambda _: None, read_plan())
    return con


def test_the_order_of_rows_changes_no_digit() -> None:
    shop = load(DEMO)
    pile = read_files(shop, lambda _: None)
    given = tables(link(pile.cleaned, shop), FilesRead())
    one, two = run(given, 1, 1), run(given, 2, -1)
    differing = []
    for table in read_plan().models:
        rows = [sorted(con.execute(f"from {table}").fetchall(), key=repr) for con in (one, two)]
        if rows[0] != rows[1]:
            names = [column[0] for column in one.execute(f"from {table}").description]
            pairs = zip(*rows, strict=False)
            differing.append((table, {n for a, b in pairs for n, x, y in zip(names, a, b, strict=True) if x != y}))
    assert not differing, differing
