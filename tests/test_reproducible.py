"""The same files give the same figures to the last digit, however the rows lie and are shared out to cores."""

from pathlib import Path

import duckdb
import polars as pl

from pipeline import database, models
from pipeline.linking import link
from pipeline.pile import Pile, read_pile
from pipeline.refresh import tables
from pipeline.shop import load

DEMO = Path(__file__).parents[1] / "sample_data" / "demo"


def run(given: dict[str, pl.DataFrame], threads: int, order: int) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute(f"set threads = {threads}")
    database.create_given(con)
    database.load(con, {name: frame[::order] for name, frame in given.items()})
    models.run(con, lambda _: None, models.plan())
    return con


def test_the_order_of_rows_changes_no_digit() -> None:
    shop = load(DEMO)
    pile = read_pile(shop, lambda _: None)
    given = tables(link(pile.cleaned, shop), Pile())
    one, two = run(given, 1, 1), run(given, 2, -1)
    differing = []
    for table in models.plan().models:
        rows = [sorted(con.execute(f"from {table}").fetchall(), key=repr) for con in (one, two)]
        if rows[0] != rows[1]:
            names = [column[0] for column in one.execute(f"from {table}").description]
            pairs = zip(*rows, strict=False)
            differing.append((table, {n for a, b in pairs for n, x, y in zip(names, a, b, strict=True) if x != y}))
    assert not differing, differing
