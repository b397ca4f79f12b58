"""Each layer of cost stands in the column of its group: the models against `pipeline/reference/layers.csv`."""

from collections.abc import Callable
from datetime import date
from typing import Any

from pipeline.reference import rows

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
    month = {"month": JAN, "last_on": date(2026, 1, 31), "number": 1, "whole": True, "recorded": True}
    (found,) = model("money.month", work__month=[month], money__month_line=lines)
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


NEW = [
    {"layer": f"new {group}", "cost_group": group, "position": place, "in_piece": True}
    for place, group in enumerate(["supplies", "labour", "machine", "overhead", "selling"])
]
"""Layers that no model knows by name."""


def test_a_new_layer_stands_in_the_line_of_its_group(model: Callable[..., Rows]) -> None:
    ends = [
        {"on_date": JAN, "layer": row["layer"], "from_place": "piece", "to_place": place, "cents": 1}
        for row in NEW
        for place in ("sold", "period")
    ]
    lines = model("money._plain_line", cost__trace=ends, settings__layer=NEW)
    assert {(row["layer"], row["place"]): row["line"] for row in lines} == {
        ("new supplies", "sold"): "cost of sales",
        ("new supplies", "period"): "other costs",
        ("new labour", "sold"): "cost of sales",
        ("new labour", "period"): "other hours",
        ("new machine", "sold"): "cost of sales",
        ("new machine", "period"): "not absorbed",
        ("new overhead", "sold"): "cost of sales",
        ("new overhead", "period"): "not absorbed",
        ("new selling", "sold"): "selling",
        ("new selling", "period"): "selling",
    }


def test_a_new_layer_counts_in_a_margin_as_its_group_does(model: Callable[..., Rows]) -> None:
    lines = [
        {"month": JAN, "line": "cost of sales", "place": "sold", "layer": row["layer"], "cents": -cents(place)}
        | {"piece": "T-1", "row_id": 9}
        for place, row in enumerate(NEW[:-1])
    ]
    (entry,) = model(
        "money._margin_entry",
        money___line_sum=lines,
        money___sale_part=[{"row_id": 9, "piece": "T-1", "month": JAN, "on_date": JAN, "day_turn": 1, "units": 1}],
        money___sale=[{"row_id": 9}],
        work__piece=[{"piece": "T-1", "units": 1}],
        settings__layer=NEW,
    )
    kinds = ("material_cents", "labour_cents", "overhead_cents")
    assert [entry[kind] for kind in kinds] == [cents(0), cents(1), cents(2) + cents(3)]
