"""Makes the tables of the plan in a database: two at a time, each tested by its header; runs the checks; comments."""

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any, TypeVar

import duckdb

from pipeline.database.digests import Digests
from pipeline.database.plan import LAYERS, Model, ModelError, Plan, read_plan
from pipeline.estimates.run_estimate import fill, make_or_tell
from pipeline.processes.workers import Workers

WORKERS = 2
"""Models made at once. Small ones are mostly DuckDB's planning, on one thread; large ones use all threads anyhow."""

LEFT_OUT = (
    "expression_rewriter,statistics_propagation,join_order,common_subexpressions,projection_pullup,"
    "join_filter_pushdown,common_subplan,column_lifetime,aggregate_reuse,projection_placement,duplicate_groups,"
    "reorder_filter,outer_join_simplification"
)
"""What of DuckDB's planning takes most of its time. Filters still go down, and columns that nobody wants are left."""

Tell = Callable[[str], None]
Connection = duckdb.DuckDBPyConnection
Done = TypeVar("Done")


@dataclass(frozen=True)
class Early:
    """Models that are made before all others, and what is done between."""

    tables: frozenset[str]
    then: Callable[[], None]


def plan_lightly(con: Connection) -> None:
    """Let the database of this connection plan its queries in less time. They give the same rows."""
    con.execute(f"set disabled_optimizers = '{LEFT_OUT}'")


def run_models(
    con: Connection,
    tell: Tell,
    which: Plan | None = None,
    other: Workers | None = None,
    digests: Digests | None = None,
    early: Early | None = None,
) -> None:
    """Make every table, test it by its header, and comment it. Raises `ModelError` on a broken rule.

    `other`: a process that works out the estimates, which then must all be the packaged ones. `digests`: of a draft,
    whose given tables they know; what the last database has of the same inputs is taken over. `early`: what fills
    given tables that hang on some of the models.
    """
    which = which or read_plan()
    there = _there(digests)
    if not there:
        prepare(con, which)
    if early:
        first, rest = which.parted(early.tables)
        _make_all(con, tell, first, other, digests)
        early.then()
        _make_all(con, tell, rest, other, digests)
    else:
        _make_all(con, tell, which, other, digests)
    if not there:  # else the comments came with the tables
        _comment(con, which)


def _make_all(con: Connection, tell: Tell, which: Plan, other: Workers | None, digests: Digests | None) -> None:
    first = _first(which)
    # by a cursor of its own, since a connection runs one query at a time; each sees what the others have made
    free = [_cursor(con) for _ in range(WORKERS)]
    waiting = TopologicalSorter({name: model.inputs & which.models.keys() for name, model in which.models.items()})
    waiting.prepare()
    ready: list[str] = []
    begun: dict[Future[None], tuple[Model, Connection]] = {}
    with ThreadPoolExecutor(len(which.models) or 1) as threads:
        while waiting.is_active():
            ready = sorted([*ready, *waiting.get_ready()], key=first.__getitem__)
            while ready and (free or which.models[ready[0]].node):
                model = which.models[ready.pop(0)]
                tell(model.table)
                # an estimate takes nobody's place: most of its time it waits for the other process
                cursor = _cursor(con) if model.node else free.pop()
                begun[threads.submit(_get, cursor, model, other, digests)] = model, cursor
            for done in wait(begun, return_when=FIRST_COMPLETED).done:
                model, cursor = begun.pop(done)
                done.result()
                waiting.done(model.table)
                if model.node:
                    cursor.close()
                else:
                    free.append(cursor)
    for cursor in free:
        cursor.close()


def _first(which: Plan) -> dict[str, int]:
    """A rank for each table: estimates, which take longest, then all that leads to one, then the rest."""
    early: set[str] = set()
    for model in reversed(which.models.values()):
        if model.node or model.table in early:
            early |= {model.table, *model.inputs}
    ranked = sorted(which.models.values(), key=lambda model: (not model.node, model.table not in early))
    return {model.table: rank for rank, model in enumerate(ranked)}


def _cursor(con: Connection) -> Connection:
    name = con.execute("select current_database()").fetchall()[0][0]
    cursor = con.cursor()
    cursor.execute(f'use "{name}"')
    return cursor


def _get(con: Connection, model: Model, other: Workers | None, digests: Digests | None) -> None:
    """Take the table over from the last database, or make and test it."""
    if digests and digests.take_over(model):
        if digests.filled(model):
            con.execute(f"insert into {model.table} from last.{model.table}")
        return
    if digests and _there(digests) and digests.without_rows(model):
        return
    fault, rows = "", True
    if model.node:
        fault = make_or_tell(con, model.node, lambda: test_table(con, model), other, _there(digests))
    elif rows := make_table(con, model, _there(digests)):
        test_table(con, model)
    if digests:
        digests.made(con, model, failed=bool(fault), rows=rows)


def _there(digests: Digests | None) -> bool:
    """Whether the tables are there, without rows, as a draft that begins from the last database has them."""
    return bool(digests and digests.last)


def prepare(con: Connection, which: Plan) -> None:
    """Make the schemas and macros that the models need."""
    for schema in (*LAYERS, "checks"):
        con.execute(f"create schema if not exists {schema}")
    if which.macros:
        con.execute(which.macros)


def run_one(con: Connection, table: str, which: Plan | None = None) -> None:
    """Make and test one table whose inputs are there."""
    model = (which or read_plan()).models[table]
    make_table(con, model)
    test_table(con, model)


def make_table(con: Connection, model: Model, there: bool = False) -> bool:
    """Make the model's table, replacing one; or, where it is `there` without rows, fill it. Gives whether it has rows;
    true of a view, of which nobody has counted them. Raises `ModelError`."""
    try:
        if model.node:
            if fault := fill(con, model.node):
                raise ModelError(f"{model.file}: {fault}")
        elif model.view:
            if not there:
                con.execute(f"create or replace view {model.table} as\n{model.sql}")
        else:
            begin = f"insert into {model.table}" if there else f"create or replace table {model.table} as"
            return bool(con.execute(f"{begin}\n{model.sql}").fetchall()[0][0])
        return True
    except duckdb.Error as error:
        raise ModelError(f"{model.file}: {error}") from error


def test_table(con: Connection, model: Model) -> None:
    """Test the table against its `@key` and `@check` lines. As in SQL, a check that comes to null holds."""
    offending = {f"@check {check}": f"from {model.table} where ({check}) is false" for check in model.checks}
    if model.key:
        names = ", ".join(model.key)
        again = f"select {names}, count(*) as times from {model.table} group by {names} having count(*) > 1"
        offending[f"@key {names}"] = again
    if not offending or not _count(con, " union all ".join(f"select 1 from ({query})" for query in offending.values())):
        return
    for rule, query in offending.items():
        if count := _count(con, query):
            row = _rows(con.execute(f"{query} order by all limit 1"))[0]
            raise ModelError(f"{model.file}: {rule} fails for {count} rows, such as {row}")


def run_checks(con: Connection, which: Plan | None = None, digests: Digests | None = None) -> list[dict[str, Any]]:
    """Run the checks, fill `checks.result`, and return its rows: name, severity, rows, meaning, example.

    `digests`: what a warning said of tables that hold what they held in the last database it says again.
    """
    con.execute(
        "create or replace table checks.result"
        " (name varchar, severity varchar, rows bigint, meaning varchar, example varchar);"
        " comment on table checks.result is 'One row per check: how many rows it found, and what that means.';"
        " comment on column checks.result.name is 'The check, by its name in sql/checks.';"
        " comment on column checks.result.severity is"
        " 'Error: the figures can not be right. Warning: something to look at or to mend.';"
        " comment on column checks.result.rows is 'Rows that it found; none where the check holds.';"
        " comment on column checks.result.meaning is 'What it means that there are any.';"
        " comment on column checks.result.example is 'One of the rows found, as text.';"
    )
    checks = (which or read_plan()).checks
    if digests and _there(digests):
        same = [check for check in checks if check.severity == "warning" and digests.unchanged(check.inputs)]
        names = [check.table.partition(".")[2] for check in same]
        query = "insert into checks.result from last.checks.result where list_contains(?::varchar[], name)"
        con.execute(query, [names])
        checks = tuple(check for check in checks if check not in same)
    quiet = [check for check in checks if digests and digests.leaves_empty(check)]
    found = [row for rows in _in_stripes(con, _found, [c for c in checks if c not in quiet]) for row in rows]
    found += [_result(check, 0, None) for check in quiet]
    if found:
        con.executemany("insert into checks.result values (?, ?, ?, ?, ?)", found)
    return _rows(con.execute("from checks.result order by severity, name"))


def _found(con: Connection, checks: Sequence[Model]) -> list[list[Any]]:
    rows = []
    for model in checks:
        count, example = _count(con, model.sql), None
        if count:
            # as JSON: a row of any shape, fit to be shown
            first = con.execute(f"select to_json(t)::varchar from ({model.sql}) as t order by all limit 1").fetchall()
            example = first[0][0]
        rows.append(_result(model, count, example))
    return rows


def _result(check: Model, rows: int, example: str | None) -> list[Any]:
    return [check.table.partition(".")[2], check.severity, rows, check.meaning, example]


def _in_stripes(con: Connection, work: Callable[[Connection, Sequence[Any]], Done], items: Sequence[Any]) -> list[Done]:
    """`work` of the items in WORKERS parts at once, each by a cursor of its own."""
    cursors = [_cursor(con) for _ in range(WORKERS)]
    with ThreadPoolExecutor(WORKERS) as threads:
        done = list(threads.map(work, cursors, [items[start::WORKERS] for start in range(WORKERS)]))
    for cursor in cursors:
        cursor.close()
    return done


def _comment(con: Connection, which: Plan) -> None:
    """Tell what each table and column means. Steps of a schema are for itself alone, and told by their files."""
    told = {m.table: f"comment on table {m.table} is {_quoted(m.meaning)};" for m in which.models.values() if m.meaning}
    # the columns of settings and records are told by their own lists
    query = (
        "select schema_name || '.' || table_name, column_name from duckdb_columns()"
        " where not internal and database_name = current_database()"
        " and schema_name not in ('settings', 'records') and left(table_name, 1) <> '_'"
    )
    for table, column in con.execute(query).fetchall():
        if meaning := which.columns.get(column):
            told[table] = f'{told.get(table, "")}\ncomment on column {table}."{column}" is {_quoted(meaning)};'
    _in_stripes(con, _tell_all, list(told.values()))


def _tell_all(con: Connection, comments: Sequence[str]) -> None:
    con.execute("\n".join(comments))


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


# fetchall, never fetchone: an unfinished result blocks whatever the connection does next
def _count(con: Connection, query: str) -> int:
    return int(con.execute(f"select count(*) from ({query})").fetchall()[0][0])


def _rows(con: Connection) -> list[dict[str, Any]]:
    names = [column[0] for column in con.description]
    return [dict(zip(names, row, strict=True)) for row in con.fetchall()]
