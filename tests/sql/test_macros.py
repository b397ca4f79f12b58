"""The whole-number arithmetic that every model shares, against fractions."""

from fractions import Fraction
from importlib.resources import files
from itertools import product

import duckdb

EDGES = (0, 1, 2, 3, 7, 1999, 1_999_999_999, 2_000_000_000, 2_000_000_001, 10**12)


def half_up(number: int, part: int, whole: int) -> int:
    """`part` of `whole` parts of `number`, rounded half up, symmetric in the number's sign."""
    size = (Fraction(abs(number)) * part / whole + Fraction(1, 2)).__floor__()
    return -size if number < 0 else size


def test_cut_rounds_half_up_on_both_sides_of_where_it_leaves_bigint() -> None:
    numbers = [*EDGES, *(-n for n in EDGES)]
    cases = [(n, k, w) for n, k, w in product(numbers, EDGES, EDGES) if w and k <= w]
    with duckdb.connect() as con:
        con.execute(files("sql").joinpath("macros.sql").read_text(encoding="utf-8"))
        for kind in ("bigint", "hugeint"):
            con.execute(f"create or replace table cases (n {kind}, k {kind}, w {kind})")
            con.executemany("insert into cases values (?, ?, ?)", cases)
            found = con.execute("select cut(n, k, w), typeof(cut(n, k, w)) from cases order by rowid").fetchall()
            assert found == [(half_up(*case), "BIGINT") for case in cases]
