"""The layers of cost are those of `pipeline/reference/layers.csv`: a model or a page that lacks one is told here."""

from pathlib import Path

import duckdb

from dashboard.views.month import STEPS
from pipeline.database.plan import read_plan
from pipeline.reference import rows

LAYERS = rows("layers")
GROUPS = sorted({row["cost_group"] for row in LAYERS})


def test_a_piece_has_a_column_for_each_layer_and_their_sum_is_checked(empty: duckdb.DuckDBPyConnection) -> None:
    found = empty.execute(
        "select column_name from duckdb_columns() where table_name = 'piece' and schema_name = 'cost'"
    )
    there = [name for (name,) in found.fetchall()]
    wanted = [row["layer"].replace(" ", "_") + "_cents" for row in LAYERS if row["in_piece"] == "yes"]
    assert [name for name in wanted if name not in there] == [], "sql/cost/piece.sql: its pivot lacks these"
    (check,) = read_plan().models["cost.piece"].checks
    assert sorted(check.removeprefix("made_cents = ").split(" + ")) == sorted(wanted)
    # what is pivoted is what stands between the hours and the sum
    first, last = there.index("alone_hours") + 1, there.index("made_cents")
    assert there[first:last] == [name for name in there if name in wanted]


def test_the_month_shows_each_group_of_what_was_sold_once() -> None:
    shown = [(group, column) for column, _, line, group in STEPS.values() if line == "cost of sales"]
    wanted = [(group, f"sold_{group}_cents") for group in GROUPS if group != "selling"]
    assert sorted(shown) == sorted(wanted), "STEPS of dashboard/views/month.py: these groups of cost, and their columns"


def test_the_months_page_to_print_has_what_was_sold_of_each_group() -> None:
    printed = (Path("pipeline") / "reports" / "month.sql").read_text(encoding="utf-8")
    lacking = [group for group in GROUPS if group != "selling" and f"sold_{group}_cents" not in printed]
    assert lacking == [], "pipeline/reports/month.sql: these groups of cost"
