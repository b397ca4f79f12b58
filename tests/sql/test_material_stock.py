"""What is on the shelf, how long it lasts and keeps, and what is to be bought."""

from datetime import date

import pytest

TODAY = date(2026, 12, 31)
MONTHS = [{"month": date(2026, m, 1), "last_on": date(2026, m, 28), "whole": True} for m in range(1, 12)]
MONTHS += [{"month": date(2026, 12, 1), "last_on": TODAY, "whole": True}]
LOT = {"lot_id": 1, "item": "clear", "category": "resin", "unit": "mg", "bought": 100, "used": 40, "on_hand": 60}
LOT |= {"on_hand_cents": 600, "landed_cents": 1000, "bought_on": date(2026, 9, 1), "flow": "clear", "found": False}


def stock(model, lots, months=MONTHS, **given):
    rows = [{name: value for name, value in lot.items() if name != "landed_cents"} for lot in lots]
    return model("material.stock", material___on_shelf=rows, work__month=months, **given)


def draw(quantity, day, to="piece", layer="resin", lot=1, piece=None):
    return {"paid_row_id": lot, "from_place": "stock", "to_place": to, "layer": layer, "on_date": day} | {
        "quantity": quantity,
        "piece": piece,
    }


def test_age_cover_and_what_is_tied_up(model) -> None:
    lots = [LOT, LOT | {"lot_id": 2, "on_hand": 40, "used": 0, "bought": 40}]
    rows = stock(model, lots, material___pace=[{"flow": "clear", "usual_month": 50.0, "months": 3}])
    # both lots together last two months
    assert {(r["age_days"], r["months_cover"], r["on_hand_cents"]) for r in rows} == {(121, 2.0, 600)}
    assert {r["lot_id"]: r["untouched"] for r in rows} == {1: False, 2: True}


@pytest.mark.parametrize(
    ("bought", "expires", "months", "shelf_life", "days"),
    [
        (date(2026, 1, 1), None, 6, "past its date", -183),
        (date(2026, 1, 31), None, 13, "within two months", 59),  # the last of February, as the month is shorter
        (date(2026, 12, 1), None, 12, "keeps", 335),
        (date(2020, 1, 1), date(2027, 6, 30), 12, "keeps", 181),  # the receipt comes before the shelf life
        (date(2026, 1, 1), None, None, None, None),
    ],
)
def test_how_long_it_keeps(model, bought, expires, months, shelf_life, days) -> None:
    items = [{"item": "clear", "shelf_months": months}]
    (row,) = stock(model, [LOT | {"bought_on": bought, "expires_on": expires}], work__item=items)
    assert (row["shelf_life"], row["days_left"]) == (shelf_life, days)


def test_what_a_count_found_has_no_age_to_keep_by(model) -> None:
    (row,) = stock(model, [LOT | {"found": True}], work__item=[{"item": "clear", "shelf_months": 1}])
    assert (row["keeps_to"], row["found_by_count"], row["untouched"]) == (None, True, False)


def test_a_slab_bought_and_never_cut(model) -> None:
    slabs = [LOT | {"lot_id": n, "category": "wood", "used": used} for n, used in ((1, 0), (2, 5))]
    assert {r["lot_id"]: r["never_cut"] for r in stock(model, slabs)} == {1: True, 2: False}


def test_the_shelf_holds_what_only_a_count_knows_of_and_no_slab_that_went_back(model) -> None:
    rows = model(
        "material._on_shelf",
        cost__lot=[{"lot_id": 5, "category": "wood", "bought": 1, "on_hand": 1, "landed_cents": 0}],
        work__lot=[{"lot_id": 5}],
        work__found=[{"flow": "clear", "row_id": 3, "beyond": 100, "on_date": TODAY}],
        work__flow=[{"flow": "clear", "lot_id": -4096 * 3 - 2, "from_quantity": 0, "to_quantity": 30}],
        work__item=[{"item": "clear", "category": "resin", "unit": "mg"}],
        cost__movement=[{"from_place": "imputed", "to_place": "stock", "row_id": 3, "cents": 50}],
    )
    assert [(r["lot_id"], r["on_hand"], r["on_hand_cents"]) for r in rows] == [(-12290, 70, 35)]


SHELF = {"item": "clear", "category": "resin", "unit": "mg", "bought": 100, "landed_cents": 100}


def test_what_a_count_found_is_not_counted_in_the_lot_that_gave_its_price(model) -> None:
    found = -4096 * 3 - 2
    rows = model(
        "material._on_shelf",
        # 100 at a cent each, and 20 more by a count, whose cents stand with the lot in the books
        cost__lot=[SHELF | {"lot_id": 5, "on_hand": 100, "on_hand_cents": 120}],
        work__lot=[{"lot_id": 5, "flow": "clear"}],
        work__found=[{"flow": "clear", "row_id": 3, "beyond": 20, "on_date": TODAY}],
        work__item=[{"item": "clear", "category": "resin", "unit": "mg"}],
        cost__movement=[{"from_place": "imputed", "to_place": "stock", "row_id": 3, "paid_row_id": 5, "cents": 20}],
    )
    assert {r["lot_id"]: (r["on_hand"], r["on_hand_cents"]) for r in rows} == {5: (100, 100), found: (20, 20)}


def test_by_the_moving_average_what_is_left_costs_the_same_in_every_lot(model) -> None:
    rows = model(
        "material._on_shelf",
        settings__shop=[{"cost_flow": "average"}],
        # 30 of 300 are left, for 60 cents in all; the used-up lot gave more than it cost
        cost__lot=[
            SHELF | {"lot_id": n, "on_hand": left, "on_hand_cents": cents}
            for n, left, cents in ((1, 0, -50), (2, 10, 80), (3, 20, 30))
        ],
        work__lot=[{"lot_id": n, "flow": "clear"} for n in (1, 2, 3)],
    )
    assert {r["lot_id"]: r["on_hand_cents"] for r in rows} == {2: 20, 3: 40}


def test_the_usual_month_is_the_mean_of_the_last_twelve_whole_ones(model) -> None:
    months = [{"month": date(2025, 12, 1), "whole": True}, *MONTHS, {"month": date(2027, 1, 1), "whole": False}]
    lots = [{"lot_id": 1, "flow": "clear"}, {"lot_id": 2, "flow": "wood/ash"}]
    uses = [
        draw(9000, date(2025, 12, 5)),
        draw(600, date(2026, 2, 5)),
        draw(600, date(2026, 12, 5), layer="resin waste", to="waste"),
        draw(7000, date(2027, 1, 5)),
        draw(70, date(2026, 3, 1), to="waste"),
        draw(70, date(2026, 3, 1), to="receipt"),
        draw(240, date(2026, 5, 1), layer="offcut", lot=2),
        draw(999, date(2026, 5, 1), layer="wood", to="sold", lot=2),
    ]
    rows = model("material._pace", work__month=months, work__lot=lots, cost__movement=uses)
    assert {r["flow"]: r["usual_month"] for r in rows} == {"clear": 100, "wood/ash": 20}


def test_a_young_shop_takes_the_months_it_has(model) -> None:
    months = [{"month": date(2026, m, 1), "whole": m < 3} for m in (1, 2, 3)]
    lots = [{"lot_id": 1, "flow": "clear"}]
    (row,) = model("material._pace", work__month=months, work__lot=lots, cost__movement=[draw(50, date(2026, 2, 1))])
    assert row["usual_month"] == 25


def reorder(model, orders, pieces, draws, months=12, **given):
    (row,) = model(
        "material.reorder",
        cost__lot=[LOT_BOUGHT],
        work__lot=[{"lot_id": 1, "flow": "clear"}],
        material___on_shelf=[{"lot_id": 1, "flow": "clear", "on_hand": 60, "on_hand_cents": 600}],
        material___pace=[{"flow": "clear", "usual_month": 50.0, "months": months}],
        records__orders=[{"order_no": n, "product": "tray"} | more for n, more in orders],
        work__piece=[
            {"piece": p, "product": "tray", "status": s, "order_no": n, "opening": False} for p, s, n in pieces
        ],
        cost__movement=[draw(q, TODAY, piece=p) for p, q in draws],
        **given,
    )  # fmt: skip
    return row


LOT_BOUGHT = {
    "lot_id": 1,
    "category": "resin",
    "unit": "mg",
    "bought": 100,
    "landed_cents": 1000,
    "supplier": "Pail & Co",
}
LOT_BOUGHT |= {"bought_on": date(2026, 9, 1)}


def test_orders_in_hand_and_the_usual_month_are_to_be_bought(model) -> None:
    done = [("T-1", "finished", None), ("T-2", "finished", None)]
    # trays took 30 and 10: 20 each on average
    row = reorder(model, [("A-1", {}), ("A-2", {})], done, [("T-1", 30), ("T-2", 10)])
    assert (row["orders"], row["orders_need"], row["short"], row["buy_cents"]) == (2, 40, 30, 300)
    assert (row["buy"], row["months_cover"], row["supplier"]) == (True, pytest.approx(1.2), "Pail & Co")
    # of two months nobody knows what a usual one takes: the orders alone are bought for, and 60 is there
    young = reorder(model, [("A-1", {}), ("A-2", {})], done, [("T-1", 30), ("T-2", 10)], months=2)
    assert (young["orders_need"], young["short"], young["usual_month"], young["months_cover"]) == (40, 0, None, None)


def test_what_is_counted_is_bought_whole(model) -> None:
    # 1.2 sets a month and none there: two are bought, at 10.00 each
    (row,) = model(
        "material.reorder",
        cost__lot=[LOT_BOUGHT | {"unit": "each", "bought": 5000, "landed_cents": 5000}],
        work__lot=[{"lot_id": 1, "flow": "leg set"}],
        material___on_shelf=[{"lot_id": 1, "flow": "leg set", "on_hand": 0, "on_hand_cents": 0}],
        material___pace=[{"flow": "leg set", "usual_month": 1200.0, "months": 12}],
    )
    assert (row["short"], row["buy_cents"], row["usual_month"]) == (2000, 2000, 1200)


def test_what_a_piece_in_progress_has_drawn_is_not_bought_again(model) -> None:
    pieces = [("T-1", "finished", None), ("T-2", "in progress", "A-1")]
    row = reorder(model, [("A-1", {})], pieces, [("T-1", 20), ("T-2", 15)])
    assert (row["orders_need"], row["short"], row["buy"]) == (5, 0, False)


def test_orders_that_are_off_handed_over_or_finished_need_nothing(model) -> None:
    pieces = [("T-1", "finished", None), ("T-3", "finished", "A-3")]
    orders = [("A-1", {"cancelled": TODAY}), ("A-2", {}), ("A-3", {})]
    row = reorder(model, orders, pieces, [("T-1", 20)], records__sales=[{"order_no": "A-2", "quantity": 1}])
    assert (row["orders"], row["orders_need"]) == (0, 0)
