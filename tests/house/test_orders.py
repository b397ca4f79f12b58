"""Ids are hashes of content and no order: what comes first of one day is said by fields that mean something."""

import re
from itertools import chain

from pipeline.database.plan import read_plan

IDS = {"row_id", "paid_row_id", "lot_id", "use_id", "ref", "sale_id"}
SAYS_NOTHING_MORE = {"on_date", "from_date", "bought_on", "month", "turn", "step", "flow", "item", "piece", "true"}
"""A day, and what rows of one day have in common: beside these an id would draw the order by lot."""


def orders(sql: str) -> list[list[str]]:
    """The columns of every order in a statement: of windows and aggregates, and of keys as `max_by(x, (a, b))`."""
    plain = re.sub(r"--[^\n]*", "", sql)
    clauses = chain(
        re.findall(r"\border by\s+((?:[^()]|\([^()]*\))*?)(?=\brows\b|\brange\b|\blimit\b|\)|$)", plain),
        re.findall(r"\b(?:arg_max|arg_min|max_by|min_by)\([^,]+,\s*\(([^()]*)\)", plain),
    )
    return [[_column(part) for part in clause.split(",") if part.strip()] for clause in clauses]


def _column(part: str) -> str:
    return re.sub(r"^(not|abs\()\s*|\)|\s+(desc|asc|nulls (first|last))\b", "", part.strip()).split(".")[-1].strip()


def drawn_by_lot(sql: str) -> list[list[str]]:
    return [columns for columns in orders(sql) if IDS & {*columns} and {*columns} <= IDS | SAYS_NOTHING_MORE]


def test_no_order_of_a_model_hangs_on_an_id() -> None:
    plan = read_plan()
    found = {model.table: drawn_by_lot(model.sql) for model in (*plan.models.values(), *plan.checks)}
    assert {table: some for table, some in found.items() if some} == {}, (
        "name the fields that say which comes first (day, time, tag or receipt, item, amount), the id last"
    )


def test_an_order_by_day_and_id_is_seen() -> None:
    assert drawn_by_lot(
        "select sum(x) over (partition by a order by t.on_date desc, t.row_id rows unbounded preceding)"
    )
    assert drawn_by_lot("select row_number() over (partition by a order by on_date, turn, abs(lot_id)) from t")
    assert drawn_by_lot("select max_by(lot_id, (on_date, lot_id)) from t")
    assert not drawn_by_lot("select sum(x) over (partition by a order by on_date, day_turn, row_id) from t")
    assert not drawn_by_lot("select max_by(lot_id, (on_date, cents, lot_id)) from t")
