"""Which tables without rows leave a SELECT without rows, told from how DuckDB parses it.

Most tables of a small shop are empty, and a model over them need not even be planned: that is what takes its time.
Whatever is not understood here leaves a model to be run.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from typing import Any

import duckdb

Options = frozenset[frozenset[str]]
"""Sets of tables: where all tables of any one set are without rows, so is what reads them."""

NEVER: Options = frozenset()
"""There may be rows whatever is empty."""

MOST = 24
"""Sets that are kept, the smallest: to leave some out only loses a chance."""

_OF_A_ROW = frozenset({"unnest", "nullif"})
"""What DuckDB lists as something else."""

_BESIDE = ("REGULAR", "CROSS", "ASOF")
_SIDES = {"INNER": "either", "SEMI": "either", "LEFT": "left", "ANTI": "left", "RIGHT": "right", "FULL": "both"}

_ONE_BY_ONE = "select function_name from duckdb_functions() group by all having bool_and(function_type = 'scalar')"
_MACRO = re.compile(r"create macro (\w+)\((.*?);\n", re.DOTALL)


def of_a_row(con: duckdb.DuckDBPyConnection, macros: str = "") -> frozenset[str]:
    """The functions that make one value of each row's: any other may sum up a table, and so make a row of none."""
    known = {name for (name,) in con.execute(_ONE_BY_ONE).fetchall()} | _OF_A_ROW
    for name, body in _MACRO.findall(re.sub("--.*", "", macros) + ";\n"):
        if set(re.findall(r"(\w+)\(", body.lower())) <= known | {"in", "as", "cast", "try_cast", "coalesce"}:
            known.add(name)
    return frozenset(known)


def leave_empty(node: Mapping[str, Any], one_by_one: frozenset[str]) -> Options:
    """The options of a query as DuckDB serialises it; `one_by_one`: the functions of a row alone."""
    return _query(node, {}, one_by_one)


def _query(node: Mapping[str, Any], outer: Mapping[str, Options], one_by_one: frozenset[str]) -> Options:
    known = dict(outer)
    for entry in node.get("cte_map", {}).get("map", []):
        known[entry["key"]] = _query(entry["value"]["query_node"], known, one_by_one)
    if node["type"] == "SELECT_NODE":
        if not _by_row_or_group(node, one_by_one):
            return NEVER
        return _source(node["from_table"], known, one_by_one)
    if node["type"] == "SET_OPERATION_NODE" and node["setop_type"] in ("UNION", "UNION_BY_NAME"):
        parts = node["children"] or [node["left"], node["right"]]
        return _both(_query(part, known, one_by_one) for part in parts)
    if node["type"] == "RECURSIVE_CTE_NODE":  # it begins with what the first part gives
        begun = _query(node["left"], known, one_by_one)
        return _both([begun, _query(node["right"], {**known, node["cte_name"]: begun}, one_by_one)])
    return NEVER


def _source(ref: Mapping[str, Any], known: Mapping[str, Options], one_by_one: frozenset[str]) -> Options:
    if ref["type"] == "BASE_TABLE":
        name = ref["table_name"]
        return frozenset([frozenset([f"{ref['schema_name']}.{name}"])]) if ref["schema_name"] else known[name]
    if ref["type"] == "SUBQUERY":
        return _query(ref["subquery"]["node"], known, one_by_one)
    if ref["type"] != "JOIN" or ref["ref_type"] not in _BESIDE:
        return NEVER
    left, right = (_source(ref[side], known, one_by_one) for side in ("left", "right"))
    side = _SIDES.get(ref["join_type"])
    found = {"either": lambda: _fewest(left | right), "left": lambda: left, "right": lambda: right}
    if side == "both":
        return _both([left, right])
    return found[side]() if side else NEVER


def _both(parts: Iterable[Options]) -> Options:
    """Each of the parts must be without rows."""
    found: Options = frozenset([frozenset()])
    for part in parts:
        found = _fewest(one | other for one, other in product(found, part))
    return found


def _fewest(options: Iterable[frozenset[str]]) -> Options:
    """Without those that another one is a part of."""
    kept: list[frozenset[str]] = []
    for option in sorted(set(options), key=lambda option: (len(option), sorted(option))):
        if len(kept) < MOST and not any(other <= option for other in kept):
            kept.append(option)
    return frozenset(kept)


def _by_row_or_group(select: Mapping[str, Any], one_by_one: frozenset[str]) -> bool:
    """Whether it gives rows only of rows: a sum over all is a row of its own."""
    if select["aggregate_handling"] == "FORCE_AGGREGATES":  # group by all: by whatever is no sum
        sums = [each for each in select["select_list"] if _sums_up(each, one_by_one)]
        names = {each["alias"].lower() for each in sums}
        columns = [each for each in select["select_list"] if each["type"] == "COLUMN_REF"]
        return any(each["column_names"][-1].lower() not in names for each in columns)
    if select["group_expressions"]:
        return all(select["group_sets"])
    return not select["having"] and not any(_sums_up(each, one_by_one) for each in select["select_list"])


def _sums_up(expression: Any, one_by_one: frozenset[str]) -> bool:
    return any(
        part.get("class") == "FUNCTION" and part["function_name"].lower() not in one_by_one
        for part in _parts(expression)
    )


def _parts(tree: Any) -> Iterator[dict[str, Any]]:
    if isinstance(tree, dict):
        yield tree
    for inner in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        if isinstance(inner, dict | list):
            yield from _parts(inner)
