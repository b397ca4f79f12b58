"""Reads `sql/` and `pipeline/estimates/` as one graph of tables to be made, in an order found from the SQL itself.

A model is one file `sql/<schema>/<name>.sql`: comment lines, then one SELECT, which becomes `<schema>.<name>`.

    -- One row per piece. Why it is so.
    -- @key piece
    -- @check cents >= 0
    -- @check made_cents = wood_cents
    --     + labour_cents
    select …

A rule may go on in the next line, four spaces in. What has a line `-- @view` is not stored: it only puts together what
other tables hold.

`sql/macros.sql` holds the `create macro` statements that models share. `sql/checks/<name>.sql` selects offending rows:

    -- What it means that there are some.
    -- @severity error
    select …
"""

import json
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import duckdb

from pipeline.database.no_rows import NEVER, Options, leave_empty, of_a_row
from pipeline.estimates import Node, nodes

GIVEN = ("settings", "intake", "records")
"""The schemas that linking fills; every model may read them."""

LAYERS = ("work", "cost", "material", "quality", "money", "price", "advice")
"""The schemas of the models. One reads itself, those to its left, and the given ones."""

# these make rows from their arguments alone; any other table function reads what the input finder can't see
HARMLESS = {"unnest", "range", "generate_series"}


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
    empty_if: Options = NEVER

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

    def parted(self, tables: Iterable[str]) -> "tuple[Plan, Plan]":
        """The models of these tables with all that they rest on, and the others."""
        wanted, seen = [*tables], set[str]()
        while wanted:
            if (name := wanted.pop()) in self.models and name not in seen:
                seen.add(name)
                wanted += self.models[name].inputs
        first, rest = ({t: m for t, m in self.models.items() if (t in seen) is inside} for inside in (True, False))
        return replace(self, models=first), replace(self, models=rest)


@cache
def read_plan(folder: Traversable | None = None, estimates: tuple[Node, ...] | None = None) -> Plan:
    """Read the models below `folder` (the packaged `sql/`) and the estimates. Raises `ModelError` on a broken rule."""
    root = folder or files("sql")
    macros, columns = _text(root / "macros.sql"), _text(root / "columns.toml")
    found = list(_read(root, (*LAYERS, "checks"), macros))
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
    return Plan(
        {table: models[table] for table in _order(models)},
        checks,
        macros,
        tomllib.loads(columns)["columns"] if columns else {},
    )


def _text(file: Traversable) -> str:
    return file.read_text(encoding="utf-8") if file.is_file() else ""


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


def _read(root: Traversable, schemas: Sequence[str], macros: str) -> Iterator[Model]:
    paths = [(s, p) for s in schemas if (root / s).is_dir() for p in (root / s).iterdir() if p.name.endswith(".sql")]
    paths.sort(key=lambda pair: (schemas.index(pair[0]), pair[1].name))
    texts = [path.read_text(encoding="utf-8") for _, path in paths]
    labels = [f"sql/{schema}/{path.name}" for schema, path in paths]
    for (schema, path), text, label, (inputs, empty_if) in zip(
        paths, texts, labels, understood(texts, labels, macros), strict=True
    ):
        prose, rules = _header(text, label)
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
            empty_if,
        )


def _header(text: str, label: str) -> tuple[str, dict[str, list[str]]]:
    """The first sentence of the comment lines above the SELECT, and its `@` lines by name."""
    prose, rules, name = [], dict[str, list[str]](), ""
    for line in text.splitlines():
        if not line.startswith("--"):
            break
        comment = line.removeprefix("--").strip()
        if line.startswith("--     ") and rules:
            rules[name][-1] += f" {comment}"
            continue
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


def understood(texts: Sequence[str], labels: Sequence[str], macros: str = "") -> list[tuple[frozenset[str], Options]]:
    """The tables that each SELECT reads, as `schema.name`, and which of them without rows leave it without any. Raises
    `ModelError` for anything but one plain SELECT."""
    with duckdb.connect() as con:
        query = "select json_serialize_sql(text) from (select unnest(?::varchar[]) as text)"
        trees = [row[0] for row in con.execute(query, [list(texts)]).fetchall()]
        one_by_one = of_a_row(con, macros)
    return [_tables(tree, label, one_by_one) for tree, label in zip(trees, labels, strict=True)]


def _tables(text: str, label: str, one_by_one: frozenset[str]) -> tuple[frozenset[str], Options]:
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
    return frozenset(tables), leave_empty(tree["statements"][0]["node"], one_by_one)


def _order(models: dict[str, Model]) -> list[str]:
    # sorted by name first, so that the order is the same on every machine
    links = {name: sorted(n for n in models[name].inputs if n in models) for name in sorted(models)}
    try:
        return list(TopologicalSorter(links).static_order())
    except CycleError as error:
        circle = " → ".join(reversed(error.args[1]))
        raise ModelError(f"These models read each other in a circle: {circle}") from None
