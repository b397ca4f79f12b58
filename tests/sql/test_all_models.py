"""All models over no records, and the helper that tests one alone."""

import json
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.database.plan import LAYERS, read_plan

Rows = list[dict[str, Any]]


def test_every_model_parses_binds_and_is_there(empty: duckdb.DuckDBPyConnection) -> None:
    query = "select table_schema || '.' || table_name from information_schema.tables where table_schema = any(?)"
    made = {row[0] for row in empty.execute(query, [list(LAYERS)]).fetchall()}
    assert made == set(read_plan().models)


def test_no_check_finds_fault_with_an_empty_shop(empty: duckdb.DuckDBPyConnection) -> None:
    assert empty.execute("select name, example from checks.result where rows > 0").fetchall() == []


def test_no_number_with_a_point_is_cast_where_the_cast_may_raise(empty: duckdb.DuckDBPyConnection) -> None:
    """Infinity, no number, and what is beyond a whole number become null (macro `whole`), never a stop."""
    plan = read_plan()
    risky = []
    for model in (*plan.models.values(), *plan.checks):
        if model.sql:
            tree = json.loads(empty.execute("select json_serialize_plan(?)", [model.sql]).fetchall()[0][0])
            risky += [
                model.table for cast in casts(tree) if from_to(cast) in RISKY and not cast["function_data"]["try_cast"]
            ]
    assert risky == []
    whole = "select whole(a::double) from unnest(['inf', '-inf', 'nan', '1e300', '2.5', null]) as t(a)"
    assert [row[0] for row in empty.execute(whole).fetchall()] == [None, None, None, None, 3, None]


RISKY = {(point, whole) for point in ("DOUBLE", "FLOAT") for whole in ("BIGINT", "INTEGER", "HUGEINT", "UBIGINT")}


def casts(tree: Any) -> Iterator[dict[str, Any]]:
    """All casts of a bound plan."""
    if isinstance(tree, dict) and tree.get("type") == "OPERATOR_CAST":
        yield tree
    for part in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from casts(part)


def from_to(cast: dict[str, Any]) -> tuple[str, str]:
    return cast["arguments"][0]["id"], cast["return_type"]["id"]


def test_one_model_runs_alone_on_rows_and_frames(model: Callable[..., Rows]) -> None:
    hours = pl.DataFrame({"on_date": [date(2026, 3, 9)]})
    months = model("work.month", settings__shop=[{"start": date(2026, 1, 15)}], records__hours=hours)
    assert [row["month"] for row in months] == [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)]
    assert [row["recorded"] for row in months] == [False, False, True]


def test_rows_of_a_second_run_replace_the_first(model: Callable[..., Rows]) -> None:
    for month in (4, 5):
        (row,) = model("work.month", settings__shop=[{"start": date(2026, month, 1)}])
        assert row["month"] == date(2026, month, 1)


def test_a_slip_in_the_names_is_told(model: Callable[..., Rows]) -> None:
    with pytest.raises(AssertionError, match=r"doesn't read .*cost\.trace"):
        model("work.month", cost__trace=[{"cents": 1}])
    with pytest.raises(AssertionError, match=r"no columns \['begin'\]"):
        model("work.month", settings__shop=[{"begin": date(2026, 1, 1)}])


def test_a_lot_of_unknown_size_takes_no_turn(model: Callable[..., list[dict[str, Any]]]) -> None:
    kit = {"item": "resin", "category": "resin", "on_date": date(2026, 1, 1)}
    lots = model(
        "work.lot",
        work___bought=[
            {**kit, "row_id": 1, "amount": None, "things": 3000, "measured": False, "unit": "mg", "sent_back": False},
            {**kit, "row_id": 2, "amount": 500, "things": 1000, "measured": True, "unit": "mg", "sent_back": False},
        ],
    )
    assert sorted((lot["lot_id"], lot["flow"], lot["quantity"], lot["unit"]) for lot in lots) == [
        (1, "unmeasured/resin", 3000, "each"),
        (2, "resin", 500, "mg"),
    ]
