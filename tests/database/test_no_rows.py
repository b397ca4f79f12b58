"""Which tables without rows leave a query without rows: told from its parse, proved by running it."""

import json

import duckdb
import pytest

from pipeline.database.no_rows import NEVER, leave_empty, of_a_row
from pipeline.database.plan import read_plan

MACROS = """
-- twice(sum(a)) would be something else
create macro twice(n) as n * abs(2);
create macro all_of(n) as sum(n);
"""
TABLES = ("s.t", "s.u", "s.v")


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute(f"create schema s; {MACROS}")
    for n, table in enumerate(TABLES):
        con.execute(f"create table {table} as select a, a as b, [a, a] as many from range({n}, {n} + 3) as _(a)")
    return con


@pytest.mark.parametrize(
    ("sql", "options"),
    [
        ("from s.t", ["t"]),
        ("select a, abs(b) from s.t where a in (select a from s.u)", ["t"]),
        ("select t.a from s.t as t join s.u as u using (a)", ["t", "u"]),
        ("select t.a from s.t as t, s.u as u", ["t", "u"]),
        ("select t.a from s.t as t left join s.u as u using (a)", ["t"]),
        ("select u.a from s.t as t right join s.u as u using (a)", ["u"]),
        ("select a from s.t full join s.u using (a)", ["tu"]),
        ("select a from s.t semi join s.u using (a)", ["t", "u"]),
        ("select a from s.t anti join s.u using (a)", ["t"]),
        ("select t.a from s.t as t asof join s.u as u on t.a >= u.a", ["t", "u"]),
        ("select t.a from s.t as t asof left join s.u as u on t.a >= u.a", ["t"]),
        ("select a from s.t union all by name select a from s.u", ["tu"]),
        ("select a from s.t union select t.a from s.u as t join s.v as v using (a)", ["tu", "tv"]),
        ("select a from s.t except select a from s.u", []),
        ("select sum(a) from s.t", []),
        ("select sum(a) as n from s.t having n > 0", []),
        ("select 1 + coalesce(max(a), 0) from s.t", []),
        ("select twice(a) from s.t", ["t"]),
        ("select all_of(a) from s.t", []),
        ("select nullif(a, 1), unnest(many) from s.t", ["t"]),
        ("select sum(a) over (order by b) from s.t qualify row_number() over () < 9 order by all limit 5", ["t"]),
        ("select b, sum(a) from s.t group by b", ["t"]),
        ("select b, sum(a) from s.t group by all", ["t"]),
        ("select sum(a) from s.t group by all", []),
        ("select sum(a) as n, n from s.t group by all", []),
        ("select b, sum(a) from s.t group by rollup (b)", []),
        ("select a, b, count(*) from s.t group by grouping sets ((a), (a, b))", ["t"]),
        ("select distinct on (b) a from s.t", ["t"]),
        ("select 1 as one", []),
        ("select (select max(a) from s.u) as a from s.t group by all", []),
        ("from (values (1)) as _(a)", []),
        ("select t.a from s.t as t, unnest(t.many)", ["t"]),
        (
            "with x as (from s.t), y as (select a from x join s.u using (a)) select count(*), a from y group by a",
            ["t", "u"],
        ),
        ("with x as (from s.t) select a from (with x as (from s.u) from x) as y", ["u"]),
        (
            "with recursive x as (select a from s.t union all select x.a + 1 from x join s.u as u using (a)) from x",
            ["t"],
        ),
        (
            "with recursive x as (select a from s.t union select a + 9 from s.u where a + 9 not in (from x)) from x",
            ["tu"],
        ),
        ("with wide as (pivot s.t on a in (1, 2) using sum(b)) from wide", []),
    ],
)
def test_without_rows_in_these_there_are_none(con: duckdb.DuckDBPyConnection, sql: str, options: list[str]) -> None:
    (tree,) = con.execute("select json_serialize_sql(?)", [sql]).fetchall()[0]
    found = leave_empty(json.loads(tree)["statements"][0]["node"], of_a_row(con, MACROS))
    assert found == {frozenset(f"s.{letter}" for letter in option) for option in options}
    assert con.execute(sql).fetchall()
    for option in found:
        con.execute("begin")
        for table in option:
            con.execute(f"delete from {table}")
        assert con.execute(sql).fetchall() == [], option
        con.execute("rollback")


def test_most_models_are_understood() -> None:
    models = [model for model in read_plan().models.values() if model.sql]
    assert sum(model.empty_if == NEVER for model in models) < len(models) / 5
