"""How a draw's cents and quantity go over lots and pieces, and what is left of a closed slab over those cut from it."""

from datetime import date

DAY = date(2026, 3, 9)


def test_a_draw_on_two_lots_for_two_pieces_is_cut_at_each_other_s_ends(model) -> None:
    drawn = {"use_id": 1, "row_id": 9, "on_date": DAY, "item": "oil", "unit": "ul", "from_quantity": 0}
    drawn |= {"reserved": False, "imputed": False, "uncounted": False, "day_turn": 1}
    place = {"use_id": 1, "place": "piece", "layer": "finish", "all_weight": 3}
    rows = model(
        "cost._material",
        cost___draw=[
            drawn | {"lot_id": 1, "lot": "A", "paid_row_id": 1, "bought_on": DAY, "cents": 30, "quantity": 100},
            drawn | {"lot_id": 2, "lot": "B", "paid_row_id": 2, "bought_on": DAY, "cents": 90, "quantity": 200},
        ],
        work__target=[
            place | {"piece": "T-1", "weight": 1, "to_weight": 1},
            place | {"piece": "T-2", "weight": 2, "to_weight": 3},
        ],
    )
    # T-1 bears a third: 40 of 120 cents, of which lot A pays 30, and 100 of 300 µl, all of lot A
    found = {(row["lot"], row["piece"]): (row["cents"], row["quantity"]) for row in rows}
    assert found == {("A", "T-1"): (30, 100), ("B", "T-1"): (10, 0), ("B", "T-2"): (80, 200)}


def test_the_rest_of_a_closed_slab_goes_over_its_pieces_by_volume_and_of_nothing_else(model) -> None:
    lot = {"category": "wood", "quantity": 1000, "cents": 1000}
    rows = model(
        "cost._offcut",
        records__counts=[{"row_id": n, "lot": name, "quantity": 0, "on_date": DAY, "cause": "count"}
                         for n, name in enumerate(("W-1", "W-2", "R-1"), 1)],
        cost___lot=[
            lot | {"lot_id": 1, "lot": "W-1", "item": "slab"},
            lot | {"lot_id": 2, "lot": "W-2", "item": "slab"},
            lot | {"lot_id": 3, "lot": "R-1", "item": "resin", "category": "resin"},
            lot | {"lot_id": 4, "lot": "W-3", "item": "slab"},
        ],
        work__flow=[
            {"lot_id": 1, "use_id": 1, "from_quantity": 0, "to_quantity": 100},
            {"lot_id": 1, "use_id": 2, "from_quantity": 100, "to_quantity": 400},
        ],
        work__target=[{"use_id": 1, "piece": "T-1"}, {"use_id": 2, "piece": "T-2"}],
    )  # fmt: skip
    # 600 of the first slab is left, a quarter of it for the smaller blank; of the second nothing was cut
    found = {(row["lot"], row["piece"]): (row["cents"], row["quantity"], row["place"]) for row in rows}
    assert found == {
        ("W-1", "T-1"): (150, 150, "piece"),
        ("W-1", "T-2"): (450, 450, "piece"),
        ("W-2", None): (1000, 1000, "waste"),
    }
