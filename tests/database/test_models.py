"""The runner of the models, over a few small models of the tests' own."""

from collections.abc import Callable
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.database.plan import ModelError, read_plan, understood
from pipeline.database.run import prepare, run_checks, run_models, run_one
from pipeline.estimates import Node

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes models, `work__piece="…"` → work/piece.sql, and gives the folder."""

    def _write(**texts: str) -> Path:
        for name, text in texts.items():
            path = tmp_path / (name.replace("__", "/", 1) + (".toml" if name == "columns" else ".sql"))
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return tmp_path

    return _write


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    connection.execute(
        "create schema records; create table records.hours (row_id bigint, piece varchar, seconds bigint)"
    )
    connection.execute("insert into records.hours values (1, 'T-1', 60), (2, 'T-1', 30), (3, 'T-2', 5)")
    return connection


PIECE = "-- One row per piece. Only what was logged.\n-- @key piece\n-- @check seconds >= 0\n"
PIECE += "select piece, sum(seconds)::bigint as seconds from records.hours group by all;\n"
TOTAL = "-- One row for all.\nwith piece as (from work.piece)\nselect sum(seconds)::bigint as seconds from piece\n"


def quiet(_: str) -> None:
    pass


@pytest.mark.parametrize(
    ("sql", "inputs"),
    [
        ("from cost.trace", {"cost.trace"}),
        ("with trace as (from cost.trace) from trace join work.piece using (piece)", {"cost.trace", "work.piece"}),
        (
            "select (select max(a) from work.lot) as a from work.p where x in (from work.q)",
            {"work.lot", "work.p", "work.q"},
        ),
        ("with wide as (pivot work.p on a in (1, 2) using sum(b)) from wide", {"work.p"}),
        ("with recursive r as (select 1 as n union all select n + 1 from r join work.p on n < 3) from r", {"work.p"}),
        ("from work._step asof join settings.pool using (name, from_date)", {"work._step", "settings.pool"}),
        ("select month from generate_series(1, 12) as t(month), unnest([1]) as u(x)", set()),
        ("select 1 as one union all select a from work.p", {"work.p"}),
    ],
)
def test_inputs_are_the_tables_with_a_schema(sql: str, inputs: set[str]) -> None:
    assert [found for found, _ in understood([sql], ["the query"])] == [inputs]


@pytest.mark.parametrize(
    ("sql", "word"),
    [
        ("from read_csv('secret.csv')", "read_csv"),
        ("from query('from work.p')", "query"),
        ("from 'secret.csv'", "secret.csv"),
        ("from trace", "trace"),
        ("select 1; select 2", "2 statements"),
        ("create table a as select 1", "SELECT"),
        ("select from from", "syntax"),
    ],
)
def test_what_the_input_finder_cannot_see_is_refused(sql: str, word: str) -> None:
    with pytest.raises(ModelError, match=word):
        understood([sql], ["the query"])


def test_models_run_in_the_order_of_their_inputs(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    # by name, `all` comes before `piece`
    plan = read_plan(write(work__all=TOTAL, work__piece=PIECE), ())
    told: list[str] = []
    run_models(con, told.append, plan)
    assert told == ["work.piece", "work.all"]
    assert con.execute("from work.piece order by piece").fetchall() == [("T-1", 90), ("T-2", 5)]
    assert con.execute("from work.all").fetchall() == [(95,)]


def test_a_circle_is_named(write: Write) -> None:
    folder = write(
        work__a="-- One row.\nfrom work.b", work__b="-- One row.\nfrom work.c", work__c="-- One row.\nfrom work.a"
    )
    with pytest.raises(ModelError, match=r"circle: work\.\w → work\.\w → work\.\w → work\.\w"):
        read_plan(folder, ())


@pytest.mark.parametrize(
    ("table", "reads", "words"),
    [
        ("work__a", "cost.trace", "work must not read cost"),
        ("cost__a", "work._step", "a step for work alone"),
        ("work__a", "work.gone", "no model makes"),
        ("work__a", "elsewhere.a", "no schema elsewhere"),
        ("checks__a", "cost._step", "a step for cost alone"),
    ],
)
def test_a_schema_reads_itself_and_those_to_its_left(write: Write, table: str, reads: str, words: str) -> None:
    row = "-- One row.\nselect 1 as a"
    severity = "-- @severity error\n" if table.startswith("checks") else ""
    folder = write(**{table: f"-- One row.\n{severity}from {reads}"}, cost__trace=row, work___step=row, cost___step=row)
    with pytest.raises(ModelError, match=words):
        read_plan(folder, ())


def test_a_step_is_read_within_its_schema(write: Write) -> None:
    folder = write(work___step="-- One row.\nselect 1 as a", work__a="-- One row.\nfrom work._step")
    assert list(read_plan(folder, ()).models) == ["work._step", "work.a"]


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("@key seconds", r"work/piece\.sql: @key seconds fails for 1 rows, such as {'seconds': 60, 'times': 2}"),
        (
            "@check seconds\n--     < 60",
            r"work/piece\.sql: @check seconds < 60 fails for 2 rows, such as {'piece': 'T-1', .*60",
        ),
        (
            "@check seconds < 60",
            r"work/piece\.sql: @check seconds < 60 fails for 2 rows, such as {'piece': 'T-1', .*60",
        ),
        (
            "@check seconds\n--     < 60",
            r"work/piece\.sql: @check seconds < 60 fails for 2 rows, such as {'piece': 'T-1', .*60",
        ),
    ],
)
def test_a_broken_rule_names_file_rule_count_and_a_row(
    write: Write, con: duckdb.DuckDBPyConnection, rule: str, words: str
) -> None:
    con.execute("update records.hours set seconds = 60 where row_id < 3")
    folder = write(work__piece=f"-- One row per piece.\n-- {rule}\nselect piece, seconds from records.hours")
    with pytest.raises(ModelError, match=words):
        run_models(con, quiet, read_plan(folder, ()))


def test_a_check_that_comes_to_null_holds(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    con.execute("update records.hours set seconds = null")
    run_models(con, quiet, read_plan(write(work__piece=PIECE), ()))
    assert con.execute("select count(*) from work.piece").fetchone() == (2,)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("select 1 as a", "no header"),
        ("-- One row.\n-- @kee a\nselect 1 as a", "@kee"),
        ("-- One row.\nselect b from work.piece", "b"),
    ],
)
def test_a_bad_model_is_named(write: Write, con: duckdb.DuckDBPyConnection, text: str, words: str) -> None:
    with pytest.raises(ModelError, match=rf"bad\.sql.*{words}"):
        run_models(con, quiet, read_plan(write(work__piece=PIECE, work__bad=text), ()))


def test_headers_and_glossary_become_comments(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    columns = '[columns]\nseconds = "Work in seconds; it\'s never negative."\n'
    run_models(con, quiet, read_plan(write(work__piece=PIECE, columns=columns), ()))
    table = con.execute("select comment from duckdb_tables() where table_name = 'piece'").fetchone()
    assert table == ("One row per piece.",)
    column = con.execute(
        "select comment from duckdb_columns() where table_name = 'piece' and column_name = 'seconds'"
    ).fetchone()
    assert column == ("Work in seconds; it's never negative.",)


def test_macros_are_there_before_the_models(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    folder = write(macros="create macro twice(x) as 2 * x;", work__a="-- One row.\nselect twice(21) as a")
    run_models(con, quiet, read_plan(folder, ()))
    assert con.execute("from work.a").fetchall() == [(42,)]


def _doubled(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return inputs["work.piece"].select("piece", pl.col("seconds") * 2)


def test_an_estimate_is_a_node_of_the_graph(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    node = Node("quality.twice", ("work.piece",), {"piece": "VARCHAR", "seconds": "DOUBLE"}, _doubled, key=("piece",))
    folder = write(work__piece=PIECE, quality__more="-- One row per piece.\nfrom quality.twice")
    run_models(con, quiet, read_plan(folder, (node,)))
    assert con.execute("from quality.more order by piece").fetchall() == [("T-1", 180.0), ("T-2", 10.0)]


def test_an_estimate_must_give_the_columns_it_names(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    node = Node("quality.twice", ("work.piece",), {"piece": "VARCHAR"}, _doubled)
    plan = read_plan(write(work__piece=PIECE), (node,))
    prepare(con, plan)
    run_one(con, "work.piece", plan)
    with pytest.raises(ModelError, match="TypeError"):
        run_one(con, "quality.twice", plan)


@pytest.mark.parametrize("severity", ["", "-- @severity eror\n", "-- @severity error\n-- @severity warning\n"])
def test_a_check_says_whether_it_stops_publishing(write: Write, severity: str) -> None:
    with pytest.raises(ModelError, match=r"sql/checks/short\.sql: it needs one line @severity"):
        read_plan(write(work__piece=PIECE, checks__short=f"-- Short.\n{severity}from work.piece"), ())


def test_checks_list_offending_rows(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    short = "-- Somebody worked less than a minute. Perhaps.\n-- @severity warning\n"
    short += "select piece from work.piece where seconds < 60"
    none = "-- Time runs backwards.\n-- @severity error\nselect piece from work.piece where seconds < 0"
    plan = read_plan(write(work__piece=PIECE, checks__short=short, checks__backwards=none), ())
    run_models(con, quiet, plan)
    found = run_checks(con, plan)
    assert [(r["name"], r["severity"], r["rows"], r["example"]) for r in found] == [
        ("backwards", "error", 0, None),
        ("short", "warning", 1, '{"piece":"T-2"}'),
    ]
    assert found[1]["meaning"] == "Somebody worked less than a minute."
    assert con.execute("select count(*) from checks.result").fetchone() == (2,)


def test_one_table_can_be_made_alone(write: Write, con: duckdb.DuckDBPyConnection) -> None:
    plan = read_plan(write(work__all=TOTAL, work__piece=PIECE), ())
    con.execute("create schema work; create table work.piece as select 7::bigint as seconds")
    run_one(con, "work.all", plan)
    assert con.execute("from work.all").fetchall() == [(7,)]
