"""The stock by stage, the pools, and what unsold pieces are worth: one model at a time."""

from datetime import date

import pytest

JAN, FEB, MAR = date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)
MONTHS = [
    {"month": month, "last_on": last, "number": number, "whole": True}
    for number, (month, last) in enumerate(
        ((JAN, date(2026, 1, 31)), (FEB, date(2026, 2, 28)), (MAR, date(2026, 3, 31))), 1
    )
]


def move(day: date, source: str, place: str, cents: int, **rest: object) -> dict[str, object]:
    return {
        "on_date": day,
        "from_place": source,
        "to_place": place,
        "cents": cents,
        "layer": "wood",
        "origin": "wood",
    } | rest


def steps(model, **given):
    rows = model("money._piece_step", **given)
    return sorted((str(row["month"]), row["stage"], row["kind"], row["cents"]) for row in rows)


def test_a_piece_takes_its_cost_along_from_stage_to_stage(model):
    found = steps(
        model,
        cost__moved=[
            move(date(2026, 1, 3), "stock", "piece", 100, piece="T-1"),
            # work on the day it is finished still belongs to the piece in progress; the sale of that day doesn't
            move(date(2026, 1, 9), "labour", "piece", 50, piece="T-1", layer="labour"),
            move(date(2026, 2, 5), "piece", "sold", 150, piece="T-1"),
        ],
        work__piece=[{"piece": "T-1", "finished_on": date(2026, 1, 9)}],
        records__moves=[{"row_id": 7, "on_date": date(2026, 1, 20), "place": "Gallery North"}],
        records__moves_piece=[{"row_id": 7, "piece": "T-1"}],
    )
    assert found == [
        ("2026-01-01", "consigned", "moved in", 150),
        ("2026-01-01", "finished", "moved in", 150),
        ("2026-01-01", "finished", "moved out", -150),
        ("2026-01-01", "in progress", "labour", 50),
        ("2026-01-01", "in progress", "moved in", 100),
        ("2026-01-01", "in progress", "moved out", -150),
        ("2026-02-01", "consigned", "cost of sales", -150),
    ]


@pytest.mark.parametrize(
    ("place", "stage"),
    [("shop", "finished"), ("Shop", "finished"), ("spring fair", "finished"), ("Gallery North", "consigned")],
)
def test_only_a_place_that_is_neither_shop_nor_event_is_a_consignee(model, place, stage):
    rows = model(
        "money._piece_step",
        cost__moved=[
            move(JAN, "stock", "piece", 100, piece="T-1"),
            move(FEB, "piece", "sold", 100, piece="T-1"),
        ],
        work__piece=[{"piece": "T-1", "finished_on": date(2026, 1, 2)}],
        settings__event=[{"name": "Spring Fair"}],
        records__moves=[{"row_id": 7, "on_date": date(2026, 1, 20), "place": place}],
        records__moves_piece=[{"row_id": 7, "piece": "T-1"}],
    )
    assert [row["stage"] for row in rows if row["kind"] == "cost of sales"] == [stage]


def test_a_return_comes_back_into_the_stage_it_is_in(model):
    found = steps(
        model,
        cost__moved=[
            move(JAN, "setting", "piece", 90, piece="T-1"),
            move(FEB, "piece", "sold", 90, piece="T-1"),
            move(MAR, "sold", "piece", 90, piece="T-1"),
        ],
        work__piece=[{"piece": "T-1", "finished_on": JAN}],
    )
    assert ("2026-03-01", "finished", "returned", 90) in found


def test_scrap_beyond_normal_leaves_as_spoilage_and_the_rest_moves(model):
    scrapped = {"piece": "T-1", "item": "spoilage"}
    found = steps(
        model,
        cost__moved=[
            move(JAN, "stock", "piece", 100, piece="T-1"),
            move(date(2026, 1, 9), "piece", "pool", 100, **scrapped),
            move(date(2026, 1, 31), "pool", "waste", 70, **scrapped),
            move(date(2026, 1, 31), "pool", "piece", 30, piece="T-2", item="spoilage"),
        ],
        work__piece=[{"piece": "T-1"}, {"piece": "T-2", "finished_on": date(2026, 1, 5)}],
    )
    assert ("2026-01-01", "in progress", "spoilage", -70) in found
    # 100 left the piece: 70 as spoilage, 30 to the good piece
    assert sum(cents for _, stage, kind, cents in found if (stage, kind) == ("in progress", "moved out")) == -30
    assert ("2026-01-01", "finished", "moved in", 30) in found


def test_each_month_opens_where_the_last_one_closed(model):
    rows = model(
        "money.stock_month",
        work__month=MONTHS,
        money___stock_step=[
            {"month": JAN, "kind": "opening", "cents": 500},
            {"month": JAN, "kind": "bought", "cents": 300},
            {"month": MAR, "kind": "shortages", "cents": -40},
            # what is dated before the records begin was there when they began
            {"month": date(2025, 12, 1), "kind": "bought", "cents": 11},
        ],
    )
    materials = [row for row in rows if row["stage"] == "materials"]
    assert [(r["opening_cents"], r["bought_cents"], r["shortage_cents"], r["closing_cents"]) for r in materials] == [
        (511, 300, 0, 811),
        (811, 0, 0, 811),
        (811, 0, 40, 771),
    ]
    assert {row["closing_cents"] for row in rows if row["stage"] != "materials"} == {0}


def test_a_pool_waits_with_a_bill_that_is_paid_ahead(model):
    rows = model(
        "money.pool_month",
        work__month=MONTHS,
        cost__moved=[
            move(JAN, "receipt", "pool", 300, item="insurance"),
            move(date(2026, 1, 20), "pool", "piece", 60, item="insurance"),
            move(date(2026, 1, 31), "pool", "period", 40, item="insurance"),
            move(date(2026, 3, 31), "period", "pool", 5, item="insurance"),
        ],
    )
    columns = ("opening_cents", "actual_cents", "applied_cents", "not_absorbed_cents", "closing_cents")
    assert [(row["month"], *(row[c] for c in columns)) for row in sorted(rows, key=lambda row: row["month"])] == [
        (JAN, 0, 300, 60, 40, 200),
        (FEB, 200, 0, 0, 0, 200),
        (MAR, 200, 0, 0, -5, 205),
    ]


TENTH = [{"month": m["month"]} for m in MONTHS]
HELD = {"piece": "T-1", "month": JAN, "stage": "finished", "units": 1, "cost_cents": 1000, "own_labour_cents": 400}


def down(model, held, **given):
    asked = given.pop("asked", 700)
    rows = model(
        "money.write_down",
        work__month=MONTHS,
        work__piece=[{"piece": "T-1", "row_id": 5, "product": "tray", "units": 1}],
        money__held=held,
        records__pieces=[{"piece": "T-1"}],
        work__list_price=[{"piece": "T-1", "from_date": date.min, "list_price_cents": asked}] if asked else [],
        **{"money___selling_share": [m | {"selling_cents": 100, "revenue_cents": 1_000} for m in TENTH]} | given,
    )
    return [
        (row["month"], row["written_down_cents"], row["books_written_down_cents"], row["change_cents"])
        for row in sorted(rows, key=lambda row: row["month"])
    ]


def test_a_piece_is_written_down_to_its_price_less_selling_and_back_when_it_is_sold(model):
    # 700 less a tenth is 630: 370 below what it cost with own pay, nothing below the 600 of the books
    assert down(model, [HELD, HELD | {"month": FEB}]) == [(JAN, 370, 0, 370), (FEB, 370, 0, 0), (MAR, 0, 0, -370)]


def test_a_write_down_comes_back_with_the_sale_of_a_piece_that_the_buyer_returns_later(model):
    # sold in February, in March there again and written down anew
    assert down(model, [HELD, HELD | {"month": MAR}]) == [(JAN, 370, 0, 370), (FEB, 0, 0, -370), (MAR, 370, 0, 370)]


def test_a_price_that_was_paid_back_is_no_usual_one(model):
    returned = [("T-1", 1, 90_000), ("T-1", -1, 90_000), ("T-3", 1, 6_000), ("T-3", -1, 6_000)]
    sales = [*returned, ("T-2", 1, 5_000), ("T-3", 1, 7_000)]
    given = {
        "money___sale_part": [
            {"row_id": n, "piece": tag, "product": "tray", "units": units, "on_date": date(2026, 1, n), "month": JAN}
            for n, (tag, units, _) in enumerate(sales, 1)
        ],
        "money___sale": [
            {"row_id": n, "units": units, "taken_cents": units * cents} for n, (_, units, cents) in enumerate(sales, 1)
        ],
    }
    rows = model("money._usual_price", **given, money__sold=model("money.sold", **given))
    # of 50.00 and 70.00 the lower middle one
    assert {row["price_cents"] for row in rows} == {5_000}


def test_a_rising_price_brings_a_write_down_back_at_most_to_cost(model):
    prices = [
        {"product": "tray", "month": month, "price_cents": price}
        for month, price in ((JAN, 700), (FEB, 900), (MAR, 9000))
    ]
    found = down(
        model,
        [HELD | {"month": month} for month in (JAN, FEB, MAR)],
        asked=None,
        money___usual_price=prices,
    )
    assert found == [(JAN, 370, 0, 370), (FEB, 190, 0, -180), (MAR, 0, 0, -190)]


def test_cost_to_finish_counts_against_a_piece_in_progress(model):
    usual = [{"product": "tray", "month": JAN, "unit_cents": 1200, "books_unit_cents": 650}]
    found = down(model, [HELD | {"stage": "in progress"}], money___usual_price=usual)
    # 630 less 200 still to come, and less 50 in the books
    assert found[0] == (JAN, 570, 20, 570)


def test_without_any_price_nothing_is_written_down(model):
    assert down(model, [HELD], asked=None) == []
