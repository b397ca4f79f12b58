"""Sums of several rows, which no largest one can stand for, and rows to which another table has nothing to say."""

from datetime import date

MARCH, APRIL = date(2026, 3, 1), date(2026, 4, 1)
FINISHED = {"status": "finished", "opening": False}


def test_a_day_has_the_hours_of_all_its_rows(model) -> None:
    hours = [{"on_date": MARCH, "seconds": 3600}, {"on_date": MARCH, "seconds": 5400}]
    assert model("work.day", records__hours=hours) == [{"on_date": MARCH, "hours": 2.5}]


def test_a_finished_piece_has_the_hours_of_all_its_work_though_it_is_not_sold(model) -> None:
    work = {"to_place": "piece", "layer": "labour", "from_place": "labour", "piece": "T-1", "origin": "own labour"}
    (row,) = model(
        "price.history",
        work__piece=[{"piece": "T-1", "product": "tray", "units": 1, "finished_on": MARCH} | FINISHED],
        cost__piece=[{"piece": "T-1"}],
        cost__movement=[work | {"quantity": 3600, "cents": 3000}, work | {"quantity": 1800, "cents": 1500}]
        + [work | {"quantity": 600, "cents": 500, "rework": True}] * 2,
    )
    assert (row["bench_seconds"], row["labour_cents"], row["own_labour_cents"]) == (6600, 5500, 5500)
    assert (row["rework_seconds"], row["sold"], row["price_cents"]) == (1200, None, None)


def test_a_lot_is_used_by_all_its_draws_and_one_that_nobody_drew_on_is_whole(model) -> None:
    lot = {"item": "oil", "category": "finish", "unit": "ul", "quantity": 1000, "cents": 900, "imputed": False}
    rows = model(
        "cost.lot",
        cost___lot=[lot | {"lot_id": 1}, lot | {"lot_id": 2}],
        work__lot=[{"lot_id": 1}, {"lot_id": 2}],
        work__flow=[
            {"lot_id": 1, "from_quantity": 0, "to_quantity": 100},
            {"lot_id": 1, "from_quantity": 100, "to_quantity": 400},
        ],
        cost___material=[{"paid_row_id": 1, "cents": 90}, {"paid_row_id": 1, "cents": 270}],
    )
    found = {row["lot_id"]: (row["used"], row["on_hand"], row["used_cents"], row["on_hand_cents"]) for row in rows}
    assert found == {1: (400, 600, 360, 540), 2: (0, 1000, 0, 900)}


def test_a_piece_of_which_nothing_left_is_held_with_all_its_units(model) -> None:
    rows = model(
        "money.held",
        work__month=[{"month": MARCH}, {"month": APRIL}],
        work__piece=[{"piece": "T-1", "units": 6}, {"piece": "T-2", "units": 6}],
        work__exit=[{"piece": "T-2", "on_date": date(2026, 4, 2), "number": 1, "units_out": 2}],
        money___piece_step=[
            {"piece": piece, "stage": "finished", "month": MARCH, "change_cents": cents, "own_cents": 0}
            for piece in ("T-1", "T-2")
            for cents in (400, 200)
        ],
    )
    found = {(row["piece"], row["month"]): (row["units"], row["cost_cents"]) for row in rows}
    assert found == {
        ("T-1", MARCH): (6, 600), ("T-1", APRIL): (6, 600), ("T-2", MARCH): (6, 600), ("T-2", APRIL): (4, 600),
    }  # fmt: skip


def test_what_is_inferred_of_a_record_is_summed_over_its_entries(model) -> None:
    entry = {"piece": "T-1", "layer": "finish", "row_id": 5, "cents": 30, "assumed": True, "estimated": False}
    (row,) = model("cost._piece_sum", cost___piece_in=[entry, entry | {"cents": 70}, entry | {"estimated": True}])
    assert (row["cents"], row["assumed_cents"], row["estimated_cents"], row["records"]) == (130, 100, 30, 1)


def test_a_pour_counts_in_its_own_month_and_one_before_them_all_in_the_first(model) -> None:
    balance = [{"item": "clear", "month": month, "poured_g": 1.0, "bought_g": 1.0} for month in (MARCH, APRIL)]
    pours = [
        {"pour": f"R-{cents}", "on_date": day, "resin": "clear", "resin_cents": cents, "waste_cents": 0}
        for cents, day in ((1, date(2026, 2, 3)), (20, date(2026, 3, 3)), (300, date(2026, 4, 3)))
    ]
    rows = model("material.resin_span", material__resin_balance=balance, material__pour=pours)
    cents = {row["month"]: row["resin_cents"] for row in rows if (row["item"], row["span"]) == ("clear", "month")}
    assert cents == {MARCH: 21, APRIL: 300}


def test_a_pool_waits_for_its_bills_only_where_a_receipt_pays_for_its_setting(model) -> None:
    bill = {"from_place": "receipt", "to_place": "setting", "row_id": 1}
    others = [bill | {"item": "a", "to_place": "stock"}, bill | {"item": "b", "from_place": "pool"}]
    found = model(
        "money._billed_pool",
        cost__movement=[bill | {"item": "rent"}, bill | {"item": "counted", "row_id": 2}, *others],
        work__in_count=[{"row_id": 2}],
    )
    assert found == [{"item": "rent"}]


def test_a_pour_cost_all_that_its_draws_took_and_wasted(model) -> None:
    drawn = {"from_place": "stock", "row_id": 1}
    draws = (("resin", 100), ("resin waste", 30), ("resin waste", 20), ("finish", 7))
    (row,) = model(
        "material.pour",
        work__pour=[{"pour": "R-1", "row_id": 1, "on_date": MARCH}],
        cost__movement=[drawn | {"layer": layer, "cents": cents} for layer, cents in draws],
    )
    assert (row["resin_cents"], row["waste_cents"]) == (150, 50)
