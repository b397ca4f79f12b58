"""An estimate never stops the books: whatever one raises, its table is empty, that is told, and the rest stands."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from pipeline import database, tables
from pipeline.commands import main
from pipeline.database.plan import Model, ModelError, Plan, read_plan
from pipeline.database.run import make_table, prepare, run_checks, run_models, run_one
from pipeline.estimates import Node, attempt, cents, nodes
from pipeline.estimates.quotes import Described, Predictor
from pipeline.refresh.refresh import refresh
from pipeline.reports.check import findings
from pipeline.shop import load

Books = Callable[..., duckdb.DuckDBPyConnection]
SECRET = "Mrs Example, 12 Elm Street"
SHOP = """
start = 2026-01-01
[[people]]
name = "Ada"
rate = 25
[[pools]]
name = "rent"
amount = 300
"""


def raising(_: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return pl.DataFrame({"cents": [SECRET]}).select(pl.col("cents").cast(pl.Int64))


def first_large(seed: int) -> dict[str, str]:
    """Files of 95 pieces: 35 of some 60 cm², then the first table of some 6,000 cm², and now and then another."""
    rng = np.random.default_rng(seed)
    large = rng.random(95) < 0.15
    large[:35], large[35] = False, True
    side = np.sqrt(np.exp(rng.normal(np.log(6_000), 0.12, 95)) * np.where(large, 100, 1))
    size = side**2 / 6_000
    hours = np.maximum(size**0.6 * rng.lognormal(0, 0.2, 95), 0.1)
    cost = 6 * size**0.9 * rng.lognormal(0, 0.2, 95)
    pieces, logged, bought, sold = (
        ["piece,product,species,quantity,length,width,thickness,lot,started,finished"],
        ["date,hours,person,operation,pieces"],
        ["date,receipt,item,category,lot,species,length,width,thickness,amount"],
        ["date,channel,piece,price"],
    )
    for n in range(95):
        day = date(2026, 1, 2) + timedelta(days=2 * n)
        made = day.isoformat(), (day + timedelta(days=1)).isoformat()
        mm = f"{side[n]:.0f} mm,{side[n]:.0f} mm,20 mm"
        pieces.append(f"P-{n},{'table' if large[n] else 'coaster'},oak,1,{mm},W-{n},{made[0]},{made[1]}")
        logged.append(f"{made[0]},{hours[n]:.2f},Ada,sanding,P-{n}")
        bought.append(f"{made[0]},R-{n},oak {n},wood,W-{n},oak,{mm},{cost[n]:.2f}")
        sold.append(f"{(day + timedelta(days=2)).isoformat()},market,P-{n},{50 * size[n]:.2f}")
    texts = {"pieces": pieces, "hours": logged, "purchases": bought, "sales": sold}
    return {name: "\n".join(lines) + "\n" for name, lines in texts.items()}


@pytest.mark.parametrize("seed", [1, 14])
def test_the_first_large_piece_after_many_small_ones(books: Books, seed: int) -> None:
    con = books(SHOP, **first_large(seed))
    failed = con.execute("from intake.failed_estimate").fetchall()
    assert failed == []
    # no table of these costs more than some thousands; no prediction is out of this world
    judged = con.sql("from price.predicted").pl()
    assert judged.height > 60
    assert judged.null_count().sum_horizontal().item() == 0
    assert (judged["predicted_90_cents"] <= 10 * judged["predicted_50_cents"]).all()
    cost = con.execute("select max(unit_cost_cents) from price.predicted").fetchall()[0][0]
    history, rates = con.sql("from price.history").pl(), con.sql("from settings.person_rate").pl()
    at = Predictor(history, rates, date(2026, 9, 1)).cost(Described("table", "oak", "", 1_200_000, 12_000_000)).at
    assert cost / 4 < at[10] < at[50] < at[90] < 4 * cost


@pytest.fixture(scope="module")
def made(demo: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """The tables of the demo shop, to be made again in part."""
    with duckdb.connect() as con:
        con.execute(f"attach '{database.newest(demo)}' as done (read_only)")
        database.create_given(con)
        for table in tables.given_tables():
            con.execute(f"insert into {table} by name from done.{table}")
        assert con.execute("from intake.failed_estimate").fetchall() == []
        prepare(con, read_plan())
        as_published(con, read_plan().models)
        yield con


def as_published(con: duckdb.DuckDBPyConnection, models: dict[str, Model]) -> None:
    """Tables as the refresh of the demo made them; a view shows what it showed there."""
    for table, model in models.items():
        if model.view:
            make_table(con, model)
        else:
            con.execute(f"create or replace table {table} as from done.{table}")


def resting_on(table: str) -> dict[str, Model]:
    """The models that read the table, or one that does, with itself: those that a fault of it could reach."""
    found: dict[str, Model] = {}
    for name, model in read_plan().models.items():
        if name == table or model.inputs & found.keys():
            found[name] = model
    return found


@pytest.mark.parametrize("node", nodes(), ids=lambda node: node.table)
def test_an_estimate_that_raises_leaves_its_table_empty_and_is_told(
    made: duckdb.DuckDBPyConnection, node: Node
) -> None:
    reached = resting_on(node.table)
    broken = reached | {node.table: replace(reached[node.table], node=replace(node, run=raising))}
    try:
        run_models(made, lambda _: None, replace(read_plan(), models=broken, macros="", columns={}))
        assert made.execute(f"from {node.table}").fetchall() == []
        assert made.table(node.table).columns == list(node.columns)
        assert [str(kind) for kind in made.table(node.table).types] == list(node.columns.values())
        found = {row["name"]: row for row in run_checks(made)}
        assert [name for name, row in found.items() if row["severity"] == "error" and row["rows"]] == []
        told = {finding.where: finding.mend for finding in findings(made) if finding.kind == "estimate_failed"}
        # what rests on it may fail too
        assert found["estimate_failed"]["rows"] == len(told) >= 1
        (where,) = [where for where in told if where.startswith(f"{node.table}: InvalidOperationError")]
        assert "report" in told[where]
        assert SECRET not in f"{found} {told}"
    finally:
        made.execute("delete from intake.failed_estimate")
        as_published(made, reached)


def test_the_books_are_published_and_the_place_is_in_the_log(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = read_plan()
    broken = {
        name: replace(model, node=replace(model.node, run=raising)) if model.node else model
        for name, model in plan.models.items()
    }
    monkeypatch.setattr("pipeline.refresh.refresh.read_plan", lambda: replace(plan, models=broken))
    summary = refresh(load(tiny_shop))
    assert summary.published
    log = (tiny_shop / "database" / "refresh.log").read_text(encoding="utf-8")
    assert log.count("could not be worked out: InvalidOperationError") == len(nodes())
    assert SECRET not in log
    monkeypatch.undo()
    assert main(["check", str(tiny_shop)]) == 0


def test_a_table_that_breaks_its_own_rule_is_empty_and_told() -> None:
    def twice(_: dict[str, pl.DataFrame]) -> pl.DataFrame:
        return pl.DataFrame({"piece": ["A", "A"], "cents": [1, 2]})

    node = Node("quality.made_up", (), {"piece": "VARCHAR", "cents": "BIGINT"}, twice, "One row per piece.", ("piece",))
    with duckdb.connect() as con:
        database.create_given(con)
        run_models(con, lambda _: None, Plan({node.table: model_of(node)}, (), "", {}))
        assert con.execute("from quality.made_up").fetchall() == []
        ((estimate, fault),) = con.execute("select estimate, fault from intake.failed_estimate").fetchall()
        assert (estimate, fault.split()[0]) == ("quality.made_up", "ModelError")
        # asked for alone, as in a test, it is raised
        with pytest.raises(ModelError, match="made_up"):
            run_one(con, node.table, Plan({node.table: model_of(node)}, (), "", {}))


def model_of(node: Node) -> Model:
    return Model(node.table, "made_up", frozenset(), "", node, node.meaning, node.key, node.checks)


@pytest.mark.parametrize("amount", [float("inf"), float("-inf"), float("nan"), 1e300, -1e300, 12.5, None])
def test_cents_of_what_is_no_amount(amount: float | None) -> None:
    whole = pl.DataFrame({"amount": [amount]}, schema={"amount": pl.Float64}).select(cents(pl.col("amount"))).item()
    assert whole in (None, 10**15, -(10**15), 12, 13)
    assert (whole is None) == (amount is None or not np.isfinite(amount))


def test_a_table_of_other_columns_is_told_by_its_type() -> None:
    node = Node("price.made_up", (), {"a": "BIGINT"}, lambda _: pl.DataFrame({"b": [1]}))
    found, fault = attempt(node, {})
    assert (found.columns, found.height) == (["a"], 0)
    assert fault.startswith("TypeError at pipeline/estimates/__init__.py:")
