"""Each layer of cost stands in the column of its group: the models against `pipeline/reference/layers.csv`."""

from collections.abc import Callable
from datetime import date
from typing import Any

from pipeline.database.plan import read_plan
from pipeline.reference import rows
from pipeline.refresh.refresh import layers

Rows = list[dict[str, Any]]
JAN = date(2026, 1, 1)
SOLD = [row for row in rows("layers") if row["cost_group"] != "selling"]


def cents(place: int) -> int:
    """Of each layer another amount, so that none stands for another."""
    return int(2**place)


def test_the_month_has_what_was_sold_of_each_layer_in_the_column_of_its_group(model: Callable[..., Rows]) -> None:
    lines = [
        {"month": JAN, "line": "cost of sales", "place": "sold", "layer": row["layer"], "cents": -cents(place)}
        for place, row in enumerate(SOLD)
    ]
    known = {"settings__layer": layers()} if "settings.layer" in read_plan().models["money.month"].inputs else {}
    month = {"month": JAN, "last_on": date(2026, 1, 31), "number": 1, "whole": True, "recorded": True}
    (found,) = model("money.month", work__month=[month], money__line=lines, **known)
    for group in {row["cost_group"] for row in SOLD}:
        wanted = sum(cents(place) for place, row in enumerate(SOLD) if row["cost_group"] == group)
        assert found[f"sold_{group}_cents"] == wanted, group
    assert found["cost_of_sales_cents"] == sum(cents(place) for place in range(len(SOLD)))


def test_a_piece_has_what_it_cost_of_each_layer_in_its_own_column(model: Callable[..., Rows]) -> None:
    wanted = {row["layer"]: cents(place) for place, row in enumerate(rows("layers")) if row["in_piece"] == "yes"}
    sums = [{"piece": "T-1", "layer": layer, "operation": "", "cents": amount} for layer, amount in wanted.items()]
    (piece,) = model("cost.piece", work__piece=[{"piece": "T-1", "units": 1}], cost___piece_sum=sums)
    assert {layer: piece[layer.replace(" ", "_") + "_cents"] for layer in wanted} == wanted
    assert piece["made_cents"] == sum(wanted.values())
