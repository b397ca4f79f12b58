"""What is worth doing next: of everything that is known, the dearest first. The figures are reckoned by hand."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

Rows = list[dict[str, Any]]
Model = Callable[..., Rows]

JULY, MAY_LAST_YEAR = date(2026, 7, 3), date(2025, 5, 3)


def month(day: date, **more: Any) -> dict[str, Any]:
    return {"month": day, "whole": True, "recorded": True, "closed": False} | more


def moved(to_place: str, from_place: str, cents: int, **more: Any) -> dict[str, Any]:
    return {"on_date": JULY, "from_place": from_place, "to_place": to_place, "cents": cents, "row_id": 1} | more


TWELVE: dict[str, Rows] = {
    "money__month": [month(date(2026, 6, 1)), month(date(2026, 7, 1)), month(date(2026, 8, 1), whole=False)],
    "intake__question": [
        {"question": "q1", "ask": "What is till.csv?", "holds": "file", "rows": 40, "worth_cents": 300_000},
        {"question": "q2", "ask": "Which ash?", "holds": "money", "rows": 3, "worth_cents": 90_000},
        {"question": "q3", "ask": "A slip?", "holds": "", "rows": 3, "worth_cents": 900_000},
    ],
    "cost__movement": [
        moved("stock", "imputed", 50_000, item="glue"),
        moved("stock", "imputed", 70_000, item="glue", on_date=MAY_LAST_YEAR),
        moved("piece", "imputed", 30_000, layer="labour", operation="sanding", piece="T-1"),
        moved("piece", "imputed", 30_000, layer="labour", operation="sanding", piece="T-2"),
        moved("period", "labour", 24_000, operation="carving", row_id=9),
    ],
    "work__hours": [{"row_id": 9, "kind": "bench"}],
    "price__relist": [
        {
            "piece": "T-3",
            "product": "tray",
            "short_cents": 10_000,
            "list_price_cents": 20_000,
            "suggested_price_cents": 45_000,
            "sold_pieces": 9,
            "sold_as_high_pieces": 2,
        }
    ],
    "price__history": [{"piece": "T-3", "quantity": 12}],
    "work__exit": [{"piece": "T-3", "number": 1, "units_out": 2}],
    "money__margin": [
        {"factor": "product", "level": "coaster run", "span": "twelve months", "units": 10, "margin_cents": -80_000}
        | {"net_revenue_cents": 25_000},
        {"factor": "product", "level": "tray", "span": "twelve months", "units": 10, "margin_cents": 80_000},
        {"factor": "product", "level": "bowl", "span": "month", "units": 1, "margin_cents": -900_000},
    ],
    "quality__saving": [
        {"factor": "short_stir", "level": "yes", "months": 12, "cents_per_month": 5_000.0, "chance_positive": 0.99}
        | {"clear": True},
        {"factor": "species", "level": "ash", "months": 12, "cents_per_month": 90_000.0, "chance_positive": 0.9}
        | {"clear": False},
    ],
    "records__orders": [
        {"order_no": "A", "price_cents": 120_000},
        {"order_no": "B", "price_cents": 500_000, "cancelled": JULY},
        {"order_no": "C", "price_cents": 500_000},
    ],
    "records__sales": [{"order_no": "C"}],
    "material__reorder": [
        {"flow": "cups", "orders_need": 4.0, "on_hand": 1, "orders": 1, "short": 3.0, "buy_cents": 900},
        {"flow": "gloves", "orders_need": 2.0, "on_hand": 1, "orders": 1, "short": 1.0, "buy_cents": 400},
        # a month's usual use needs more than is there, and no order does
        {"flow": "oil", "orders_need": 0.0, "on_hand": 1, "orders": 0, "short": 2.0, "buy_cents": 90_000},
    ],
    "material__stock": [
        {"item": "resin", "category": "resin", "shelf_life": "past", "on_hand": 5, "on_hand_cents": 7_000},
        {"item": "fresh", "category": "resin", "shelf_life": "keeps", "on_hand": 5, "on_hand_cents": 900_000},
    ],
    "money__cash_proof": [
        {"month": date(2026, 6, 1), "differs_cents": -40_000},
        {"month": date(2026, 7, 1), "differs_cents": 900_000},
    ],
}


def test_twelve_findings_of_known_money_stand_in_order(model: Model) -> None:
    rows = model("advice.worth_doing", **TWELVE)
    assert [(r["deed"], r["subject"], r["times"], r["at_stake_cents"], r["sure_share"]) for r in rows] == [
        ("answer", "What is till.csv?", 40, 300_000, 1.0),
        ("buy", "cups", 2, 120_000, 1.0),
        ("price", "T-3", 10, 100_000, 1.0),
        ("change", "coaster run", 10, 80_000, 1.0),
        ("try", "yes", 12, 60_000, 0.99),
        ("answer", "Which ash?", 3, 90_000, 0.5),
        ("log", "sanding", 2, 60_000, 0.5),
        ("find", "glue", 1, 50_000, 0.5),
        ("reconcile", "2026-06", 1, 40_000, 0.5),
        ("name", "carving", 1, 24_000, 0.5),
        ("use", "resin", 1, 7_000, 1.0),
        ("close", "2026-07", 2, 0, 1.0),
    ]
    assert [r["position"] for r in rows] == list(range(1, 13))
    assert [(r["price_cents"], r["ask_cents"]) for r in rows if r["deed"] == "price"] == [(20_000, 45_000)]
    assert [(r["sold_as_high_pieces"], r["sold_pieces"]) for r in rows if r["deed"] == "price"] == [(2, 9)]
    assert [r["price_cents"] for r in rows if r["deed"] in ("buy", "change")] == [1_300, 2_500]


@pytest.mark.parametrize("without", sorted(TWELVE.keys() - {"money__month"}))
def test_what_is_not_there_is_not_named(model: Model, without: str) -> None:
    given = {name: rows for name, rows in TWELVE.items() if name != without}
    deeds = [row["deed"] for row in model("advice.worth_doing", **given)]
    of = {
        "intake__question": "answer", "work__hours": "name", "price__relist": "price", "price__history": "price",
        "money__margin": "change", "quality__saving": "try", "material__reorder": "buy", "material__stock": "use",
        "money__cash_proof": "reconcile", "cost__movement": "log",
    }  # fmt: skip
    assert of.get(without) not in deeds


def test_an_empty_shop_has_nothing_to_do(model: Model) -> None:
    assert model("advice.worth_doing") == []


def test_orders_that_wait_count_as_the_cheapest_of_so_many(model: Model) -> None:
    orders = [{"order_no": name, "price_cents": cents} for name, cents in (("A", 90_000), ("B", 20_000), ("C", 30_000))]
    need = [{"flow": "cups", "orders_need": 4.0, "on_hand": 1, "orders": 2, "buy_cents": 900}]
    (row,) = model("advice.worth_doing", records__orders=orders, material__reorder=need)
    assert (row["deed"], row["at_stake_cents"], row["price_cents"]) == ("buy", 50_000, 900)
    (row,) = model("advice.worth_doing", records__orders=[{"order_no": "A"}], material__reorder=need)
    assert row["at_stake_cents"] == 0


def test_two_practices_and_two_questions_of_the_same_words_are_two_things_to_do(model: Model) -> None:
    saving = {"level": "yes", "months": 12, "cents_per_month": 5_000.0, "chance_positive": 0.99, "clear": True}
    asked = {"ask": "What is “x”?", "holds": "money", "rows": 1, "worth_cents": 100}
    rows = model(
        "advice.worth_doing",
        quality__saving=[saving | {"factor": "short_stir"}, saving | {"factor": "cold"}],
        intake__question=[asked | {"question": "q1"}, asked | {"question": "q2"}],
    )
    assert [(row["deed"], row["about"]) for row in rows] == [
        ("try", "cold"), ("try", "short_stir"), ("answer", "q1"), ("answer", "q2"),
    ]  # fmt: skip


def test_what_a_few_units_lost_counts_half(model: Model) -> None:
    lost = {"factor": "product", "span": "twelve months", "margin_cents": -500, "net_revenue_cents": 1000}
    given = [lost | {"level": level, "units": units} for level, units in (("bowl", 4), ("tray", 5))]
    rows = model("advice.worth_doing", money__margin=given)
    assert [(row["subject"], row["sure_share"]) for row in rows] == [("tray", 1.0), ("bowl", 0.5)]


def test_what_only_came_back_is_no_product_to_stop(model: Model) -> None:
    back = {"factor": "product", "level": "tray", "span": "twelve months", "units": 0, "margin_cents": -500}
    assert model("advice.worth_doing", money__margin=[back]) == []


def test_a_price_that_hardly_anybody_paid_is_no_way_out_by_itself(model: Model) -> None:
    """Fewer than one in twenty, of pieces enough to say so."""
    piece = {"product": "bowl", "list_price_cents": 100, "suggested_price_cents": 300, "short_cents": 50}
    of = {"A": (0, 19), "B": (1, 20), "C": (1, 21), "D": (0, 4)}
    relist = [piece | {"piece": p, "sold_as_high_pieces": n, "sold_pieces": m} for p, (n, m) in of.items()]
    history = [{"piece": p, "quantity": 1} for p in of]
    rows = model("advice.worth_doing", price__relist=relist, price__history=history)
    assert {row["subject"]: row["seldom_sold"] for row in rows} == {"A": True, "B": False, "C": True, "D": False}
