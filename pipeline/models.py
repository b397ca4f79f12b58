"""Runs `sql/` and `pipeline/estimates/` as one graph, in an order found from the SQL itself.

A model is one file `sql/<schema>/<name>.sql`: comment lines, then one SELECT, which becomes `<schema>.<name>`.

    -- One row per piece. Why it is so.
    -- @key piece
    -- @check cents >= 0
    select …

A step with a line `-- @view` is not stored: it only puts together what other tables hold.

`sql/macros.sql` holds the `create macro` statements that models share. `sql/checks/<name>.sql` selects offending rows:

    -- What it means that there are some.
    -- @severity error
    select …
"""

import json
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, TypeVar

import duckdb

from pipeline.estimates import Node, nodes
from pipeline.estimates.filling import fill, make_or_tell
from pipeline.hands import Hands

GIVEN = ("settings", "intake", "records")
"""The schemas that linking fills; every model may read them."""

LAYERS = ("work", "cost", "material", "quality", "money", "price")
"""The schemas of the models. One reads itself, those to its left, and the given ones."""

# these make rows from their arguments alone; any other table function reads what the input finder can't see
HARMLESS = {"unnest", "range", "generate_series"}

WORKERS = 2
"""Models made at once. Small ones are mostly DuckDB's planning, on one thread; large ones use all threads anyhow."""

Tell = Callable[[str], None]
Connection = duckdb.DuckDBPyConnection
Done = TypeVar("Done")


class ModelError(Exception):
    """A model that breaks a rule of the house or of its own header: our bug, never the maker's."""


@dataclass(frozen=True)
class Model:
    """A table to be made: its SELECT, or the estimate that makes it, with what its header says."""

    table: str
    file: str
    inputs: frozenset[str]
    sql: str = ""
    node: Node | None = None
    meaning: str = ""
    key: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    severity: str = ""
    view: bool = False

    @property
    def schema(self) -> str:
        return self.table.partition(".")[0]


@dataclass(frozen=True)
class Plan:
    """All that is to be run: models by table in order, checks, macros, and the meaning of each column name."""

    models: dict[str, Model]
    checks: tuple[Model, ...]
    macros: str
    columns: dict[str, str]


@cache
def plan(folder: Traversable | None = None, estimates: tuple[Node, ...] | None = None) -> Plan:
    """Read the models below `folder` (the packaged `sql/`) and the estimates. Raises `ModelError` on a broken rule."""
    root = folder or files("sql")
    found = list(_read(root, (*LAYERS, "checks")))
    models = {m.table: m for m in found if m.schema != "checks"}
    checks = tuple(m for m in found if m.schema == "checks")
    for node in nodes() if estimates is None else estimates:
        if node.table in models:
            raise ModelError(f"{node.table} is made by {models[node.table].file} and by an estimate.")
        file = node.run.__module__
        models[node.table] = Model(
            node.table, file, frozenset(node.inputs), "", node, node.meaning, node.key, node.checks
        )
    for model in (*models.values(), *checks):
        for broken in layer_faults(model.table, model.inputs, models):
            raise ModelError(f"{model.file}: {broken}")
    macros, columns = root / "macros.sql", root / "columns.toml"
    return Plan(
        {table: models[table] for table in _order(models)},
        checks,
        macros.read_text(encoding="utf-8") if macros.is_file() else "",
        tomllib.loads(columns.read_text(encoding="utf-8"))["columns"] if columns.is_file() else {},
    )


def graph() -> list[str]:
    """The tables in the order in which they are made."""
    return list(plan().models)


def run(con: Connection, tell: Tell, which: Plan | None = None, other: Hands | None = None) -> None:
    """Make every table, test it by its header, and comment it. Raises `ModelError` on a broken rule.

    `other`: a process that works out the estimates, which then must all be the packaged ones.
    """
    which = which or plan()
    prepare(con, which)
    first = _first(which)
    # by a cursor of its own, since a connection runs one query at a time; each sees what the others have made
    free = [_cursor(con) for _ in range(WORKERS)]
    waiting = TopologicalSorter({name: model.inputs & which.models.keys() for name, model in which.models.items()})
    waiting.prepare()
    ready: list[str] = []
    begun: dict[Future[None], tuple[str, Connection]] = {}
    with ThreadPoolExecutor(len(which.models) or 1) as threads:
        while waiting.is_active():
            ready = sorted([*ready, *waiting.get_ready()], key=first.__getitem__)
            while ready and (free or which.models[ready[0]].node):
                name = ready.pop(0)
                # an estimate takes nobody's place: most of its time it waits for the other process
                cursor = _cursor(con) if which.models[name].node else free.pop()
                tell(name)
                begun[threads.submit(_make_and_test, cursor, which.models[name], other)] = name, cursor
            for done in wait(begun, return_when=FIRST_COMPLETED).done:
                name, cursor = begun.pop(done)
                done.result()
                waiting.done(name)
                if which.models[name].node:
                    cursor.close()
                else:
                    free.append(cursor)
    for cursor in free:
        cursor.close()
    _comment(con, which)


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


def _make_and_test(con: Connection, model: Model, other: Hands | None) -> None:
    if model.node:
        make_or_tell(con, model.node, lambda: test(con, model), other)
        return
    make(con, model)
    test(con, model)


def prepare(con: Connection, which: Plan) -> None:
    """Make the schemas and macros that the models need."""
    for schema in (*LAYERS, "checks"):
        con.execute(f"create schema if not exists {schema}")
    if which.macros:
        con.execute(which.macros)


def run_one(con: Connection, table: str, which: Plan | None = None) -> None:
    """Make and test one table whose inputs are there."""
    model = (which or plan()).models[table]
    make(con, model)
    test(con, model)


def make(con: Connection, model: Model) -> None:
    """Make the model's table, replacing one that is there. Raises `ModelError` where it can't be made."""
    try:
        if not model.node:
            con.execute(f"create or replace {'view' if model.view else 'table'} {model.table} as\n{model.sql}")
        elif fault := fill(con, model.node):
            raise ModelError(f"{model.file}: {fault}")
    except duckdb.Error as error:
        raise ModelError(f"{model.file}: {error}") from error


def test(con: Connection, model: Model) -> None:
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


def check(con: Connection, which: Plan | None = None) -> list[dict[str, Any]]:
    """Run the checks, fill `checks.result`, and return its rows: name, severity, rows, meaning, example."""
    con.execute(
        "create or replace table checks.result"
        " (name varchar, severity varchar, rows bigint, meaning varchar, example varchar)"
    )
    found = [row for rows in _in_stripes(con, _found, (which or plan()).checks) for row in rows]
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
        rows.append([model.table.partition(".")[2], model.severity, count, model.meaning, example])
    return rows


def _in_stripes(con: Connection, work: Callable[[Connection, Sequence[Any]], Done], items: Sequence[Any]) -> list[Done]:
    """`work` of the items in WORKERS parts at once, each by a cursor of its own."""
    cursors = [_cursor(con) for _ in range(WORKERS)]
    with ThreadPoolExecutor(WORKERS) as threads:
        done = list(threads.map(work, cursors, [items[start::WORKERS] for start in range(WORKERS)]))
    for cursor in cursors:
        cursor.close()
    return done


def inputs_of(sql: str) -> set[str]:
    """The tables that a SELECT reads, as `schema.name`. Raises `ModelError` for anything but one plain SELECT."""
    return set(_inputs([sql])[0])


def layer_faults(table: str, inputs: Iterable[str], known: Iterable[str]) -> Iterator[str]:
    """What is wrong with `table` reading `inputs`, in words."""
    order = dict.fromkeys(GIVEN, 0) | {schema: n for n, schema in enumerate((*LAYERS, "checks"), 1)}
    schema = table.partition(".")[0]
    for name in sorted(inputs):
        other, _, bare = name.partition(".")
        if other not in order:
            yield f"it reads {name}, and there is no schema {other}"
        elif order[other] > order[schema]:
            yield f"it reads {name}: {schema} must not read {other}"
        elif bare.startswith("_") and other != schema:
            yield f"it reads {name}, which is a step for {other} alone"
        elif other not in GIVEN and name not in known:
            yield f"it reads {name}, which no model makes"


def _read(root: Traversable, schemas: Sequence[str]) -> Iterator[Model]:
    paths = [(s, p) for s in schemas if (root / s).is_dir() for p in (root / s).iterdir() if p.name.endswith(".sql")]
    paths.sort(key=lambda pair: (schemas.index(pair[0]), pair[1].name))
    texts = [path.read_text(encoding="utf-8") for _, path in paths]
    labels = [f"sql/{schema}/{path.name}" for schema, path in paths]
    for (schema, path), text, label, inputs in zip(paths, texts, labels, _inputs(texts, labels), strict=True):
        prose, rules = _header(text, label)
        if "view" in rules and not path.name.startswith("_"):
            raise ModelError(f"{label}: only a step may be a view; what is published is a table")
        severity = rules.get("severity", [])
        if schema == "checks" and severity not in (["error"], ["warning"]):
            raise ModelError(f"{label}: it needs one line @severity error (nothing is published) or @severity warning")
        yield Model(
            f"{schema}.{path.name.removesuffix('.sql')}",
            label,
            inputs,
            # DuckDB wants no semicolon inside brackets
            text.rstrip().rstrip(";"),
            None,
            prose,
            tuple(name.strip() for line in rules.get("key", []) for name in line.split(",")),
            tuple(rules.get("check", [])),
            severity[0] if severity else "",
            "view" in rules,
        )


def _header(text: str, label: str) -> tuple[str, dict[str, list[str]]]:
    """The first sentence of the comment lines above the SELECT, and its `@` lines by name."""
    prose, rules = [], dict[str, list[str]]()
    for line in text.splitlines():
        if not line.startswith("--"):
            break
        comment = line.removeprefix("--").strip()
        if not comment.startswith("@"):
            prose.append(comment)
            continue
        name, _, rule = comment[1:].partition(" ")
        if name not in ("key", "check", "severity", "view"):
            raise ModelError(f"{label}: a header line that is not known: @{name}")
        rules.setdefault(name, []).append(rule.strip())
    sentence = " ".join(prose).partition(". ")[0].strip()
    if not sentence:
        raise ModelError(f"{label}: it has no header that says what one row is")
    return sentence.rstrip(".") + ".", rules


def _inputs(texts: Sequence[str], labels: Sequence[str] = ()) -> list[frozenset[str]]:
    with duckdb.connect() as con:
        query = "select json_serialize_sql(text) from (select unnest(?::varchar[]) as text)"
        trees = [row[0] for row in con.execute(query, [list(texts)]).fetchall()]
    names = labels or ["the query"] * len(texts)
    return [_tables(tree, label) for tree, label in zip(trees, names, strict=True)]


def _tables(text: str, label: str) -> frozenset[str]:
    parts: list[dict[str, Any]] = []

    def keep(part: dict[str, Any]) -> dict[str, Any]:
        if "cte_map" in part or part.get("type") in ("BASE_TABLE", "TABLE_FUNCTION"):
            parts.append(part)
        return part

    # each part of the tree passes here while it is read; to walk it afterwards takes three times as long
    tree = json.loads(text, object_hook=keep)
    if tree["error"]:
        raise ModelError(f"{label}: {tree['error_message']}")
    if len(tree["statements"]) != 1:
        raise ModelError(f"{label}: it holds {len(tree['statements'])} statements, not one SELECT")
    ctes = {entry["key"] for part in parts for entry in part.get("cte_map", {}).get("map", [])}
    tables = set()
    for part in parts:
        if part.get("type") == "TABLE_FUNCTION" and (name := part["function"]["function_name"]) not in HARMLESS:
            raise ModelError(f"{label}: the table function {name} reads what nobody can see; models read tables")
        if part.get("type") != "BASE_TABLE":
            continue
        if part["schema_name"]:
            tables.add(f"{part['schema_name']}.{part['table_name']}")
        elif part["table_name"] not in ctes:
            raise ModelError(f"{label}: {part['table_name']} is no CTE; write a table with its schema")
    return frozenset(tables)


def _order(models: dict[str, Model]) -> list[str]:
    # sorted by name first, so that the order is the same on every machine
    links = {name: sorted(n for n in models[name].inputs if n in models) for name in sorted(models)}
    try:
        return list(TopologicalSorter(links).static_order())
    except CycleError as error:
        circle = " → ".join(reversed(error.args[1]))
        raise ModelError(f"These models read each other in a circle: {circle}") from None


def _comment(con: Connection, which: Plan) -> None:
    """Tell what each table and column means. Steps of a schema are for itself alone, and told by their files."""
    told = {m.table: f"comment on table {m.table} is {_quoted(m.meaning)};" for m in which.models.values() if m.meaning}
    # the columns of settings and records are told by their own lists
    query = (
        "select schema_name || '.' || table_name, column_name from duckdb_columns()"
        " where not internal and schema_name not in ('settings', 'records') and left(table_name, 1) <> '_'"
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
