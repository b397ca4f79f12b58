"""Steps that other models lean on, at the edges of their rules: what no shop of the other tests stands at."""

from datetime import date

import polars as pl
import pytest

from pipeline.refresh.refresh import layers

DAY, NEXT, MAR, APR = date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 1), date(2026, 4, 1)


def test_a_record_has_the_day_of_each_of_its_fields_once_and_none_that_it_does_not_say(model) -> None:
    rows = model(
        "work.recorded_day",
        records__pieces=[{"row_id": 1, "started": DAY, "finished": NEXT, "ended": NEXT}, {"row_id": 2}],
        records__orders=[{"row_id": 3, "on_date": DAY}],
    )
    assert sorted((row["record"], row["row_id"], row["field"], row["on_date"]) for row in rows) == [
        ("orders", 3, "date", DAY),
        ("pieces", 1, "ended", NEXT),
        ("pieces", 1, "finished", NEXT),
        ("pieces", 1, "started", DAY),
    ]


def draw_id(row_id: int) -> int:
    """The id under which a count draws what it found to be lost, as `draw_id(row_id, 2)` of the macros has it."""
    return row_id * 4096 + 2


def test_no_receipt_is_asked_for_of_what_was_found_and_not_used_since(model) -> None:
    found = {"flow": "oil", "lost": 0, "again": 0, "to_lost": 0, "to_again": 0}
    counts = [
        {"row_id": 1, "beyond": 5},  # never used
        {"row_id": 2, "beyond": 5},  # used since
        {"row_id": 3, "beyond": 0},
        {"row_id": 4, "beyond": 5},  # only lost since, by the count of row 5
        {"row_id": 5, "beyond": 0, "lost": 2},
    ]
    rows = model(
        "work.unasked",
        work__found=[found | count for count in counts],
        work__flow=[
            {"flow": "oil", "lot_id": -draw_id(2), "use_id": 77},
            {"flow": "oil", "lot_id": -draw_id(4), "use_id": draw_id(5)},
        ],
    )
    assert sorted(row["row_id"] for row in rows) == [1, 4]


def test_no_receipt_is_asked_for_of_what_was_counted_at_the_start_and_used_before(model) -> None:
    missing = [
        {"flow": "oil", "ref": 11, "on_date": date(2026, 2, 28)},
        {"flow": "oil", "ref": 12, "on_date": MAR},  # of the first day itself
        {"flow": "wax", "ref": 13, "on_date": date(2026, 2, 28)},  # of what nobody counted
    ]
    rows = model(
        "work.unasked",
        settings__shop=[{"start": MAR}],
        work__lot=[{"flow": "oil", "opening": True}, {"flow": "wax", "opening": False}],
        work__missing=missing,
        work__use=[{"use_id": n, "row_id": n * 10} for n in (11, 12, 13)],
    )
    assert [row["row_id"] for row in rows] == [110]


def test_what_drives_a_consumable_is_the_work_of_its_kind_and_what_was_sold(model) -> None:
    hours = [
        {"row_id": 1, "operation": "sanding", "attended": True, "kind": "bench"},
        {"row_id": 2, "operation": "finishing", "attended": True, "kind": "bench"},
        {"row_id": 3, "operation": "carving", "attended": False, "kind": "bench"},
        {"row_id": 4, "operation": "market", "attended": True, "kind": "selling"},
        {"row_id": 5, "operation": "sanding", "attended": True, "kind": "bench"},
    ]
    late = date(2026, 3, 20)
    worked = [
        *({"row_id": 1, "piece": "T-1", "on_date": DAY, "seconds": seconds} for seconds in (60, 40)),
        {"row_id": 2, "piece": "T-1", "on_date": late, "seconds": 30},
        {"row_id": 2, "piece": "T-1", "on_date": NEXT, "seconds": 30},
        {"row_id": 2, "piece": "T-1", "on_date": APR, "seconds": 30},
        {"row_id": 3, "piece": "T-1", "on_date": DAY, "seconds": 900},
        {"row_id": 4, "piece": "T-1", "on_date": DAY, "seconds": 900},
        {"row_id": 5, "piece": "T-1", "on_date": APR, "seconds": 500, "after_sale": True},
        {"row_id": 5, "piece": "T-2", "on_date": APR, "seconds": 0},
    ]
    sales = [
        {"row_id": 21, "on_date": DAY, "quantity": 3},
        {"row_id": 22, "on_date": DAY, "quantity": 4},
        {"row_id": 23, "on_date": DAY},
        {"row_id": 24, "on_date": DAY, "quantity": -1},
        {"row_id": 25, "on_date": DAY, "quantity": 0},
        {"row_id": 26, "on_date": DAY, "quantity": 2, "lot": "L-1"},
    ]
    rows = model(
        "work._driver_use",
        work__hours=hours,
        work__hours_piece=[{"after_sale": False} | each for each in worked],
        work__piece=[{"piece": "T-1", "area_mm2": 7000}],
        records__sales=sales,
        work__sale_piece=[{"row_id": 21, "piece": "T-1", "units": 2}],
    )
    found = sorted((r["category"], r["on_date"], r["piece"] or "", r["weight"]) for r in rows)
    assert found == [
        ("abrasive", DAY, "T-1", 100),
        # bench time that somebody was there for
        ("consumable", DAY, "T-1", 100),
        ("consumable", NEXT, "T-1", 30),
        ("consumable", late, "T-1", 30),
        ("consumable", APR, "T-1", 30),
        # once a month, on its first day of finishing
        ("finish", NEXT, "T-1", 7000),
        ("finish", APR, "T-1", 7000),
        # as many as pieces are known of, else as the sale says, else one; none of what came back, nor of wood
        ("packaging", DAY, "", 1),
        ("packaging", DAY, "", 4),
        ("packaging", DAY, "T-1", 2),
    ]
    assert {r["category"]: r["place"] for r in rows} == {
        "abrasive": "piece", "consumable": "piece", "finish": "piece", "packaging": "sold"
    }  # fmt: skip


LINE = {"on_date": DAY, "item": "glue", "category": "consumable", "quantity_unit": "each", "amount_cents": 500}


def test_what_goes_back_is_told_by_a_minus_alone(model) -> None:
    rows = model(
        "work._bought",
        work__item=[{"item": "glue", "category": "consumable", "unit": "each"}],
        records__purchases=[
            LINE | {"row_id": 1, "quantity": 3000},
            LINE | {"row_id": 2, "quantity": 0},
            LINE | {"row_id": 3, "quantity": -2000},
            LINE | {"row_id": 4, "quantity": 1000, "amount_cents": -500},
            LINE | {"row_id": 5, "quantity": 1000, "amount_cents": 0},
            LINE | {"row_id": 6},
            LINE | {"row_id": 7, "quantity": -2000, "quantity_unit": "g"},
            LINE | {"row_id": 8, "quantity": 1000},
            LINE | {"row_id": 9, "quantity": 1000, "category": "tool"},
        ],
        work__in_count=[{"row_id": 8}],
    )
    found = {row["row_id"]: (row["sent_back"], row["amount"], row["things"]) for row in rows}
    assert found == {
        1: (False, 3000, 3000),
        2: (False, 0, 1000),
        3: (True, -2000, 2000),
        4: (True, 1000, 1000),
        5: (False, 1000, 1000),
        6: (False, 1000, 1000),  # without a quantity it is one
        7: (True, None, 1000),
    }
    assert {row["row_id"]: row["measured"] for row in rows}[7]


def test_what_is_bought_has_a_turn_among_the_lines_of_its_day(model) -> None:
    """What was there at the start, then receipts by number, item, quantity and amount, then what was saved."""
    rows = model(
        "work._bought",
        work__item=[{"item": item, "category": "consumable", "unit": "each"} for item in ("glue", "wax")],
        records__purchases=[
            LINE | {"row_id": 6, "quantity": 1000, "receipt": "R-2"},
            LINE | {"row_id": 5, "quantity": 2000, "receipt": "R-1"},
            LINE | {"row_id": 4, "quantity": 1000, "receipt": "R-1", "amount_cents": 600},
            LINE | {"row_id": 3, "quantity": 1000, "receipt": "R-1"},
            LINE | {"row_id": 7, "quantity": 1000, "receipt": "R-2", "item": "wax"},
            LINE | {"row_id": 8, "quantity": 1000, "on_date": NEXT},
        ],
        records__counts=[
            {"row_id": 2, "on_date": DAY, "item": "wax", "quantity": 1000, "quantity_unit": "each", "worth_cents": 1},
            {"row_id": 9, "on_date": DAY, "item": "wax", "quantity": 1000, "quantity_unit": "each"},
            {"row_id": 10, "on_date": DAY, "item": "glue", "quantity": 1000, "quantity_unit": "each", "worth_cents": 0}
            | {"piece": "T-1"},
        ],
    )
    turns = {row["row_id"]: (row["day_turn"], row["opening"], row["saved_from"]) for row in rows}
    assert turns == {
        2: (1, True, None), 3: (2, False, None), 4: (3, False, None), 5: (4, False, None), 6: (5, False, None),
        7: (6, False, None), 10: (7, False, "T-1"), 8: (1, False, None),
    }  # fmt: skip


def test_an_item_that_is_mostly_wood_keeps_the_other_lines_by_what_they_are(model) -> None:
    def bought(own: str | None, usual: str) -> str:
        (row,) = model(
            "work._bought",
            work__item=[{"item": "walnut", "category": usual, "unit": "each"}],
            records__counts=[
                {"row_id": 1, "on_date": DAY, "item": "walnut", "category": own, "quantity": 1000, "worth_cents": 9}
            ],
        )
        return row["category"]

    assert bought("wood", "resin") == "wood" and bought(None, "wood") == "wood"
    assert bought("finish", "resin") == "resin" and bought("finish", "wood") == "finish"
    assert bought("consumable", "wood") == "consumable" and bought("tool", "wood") == "consumable"


def test_a_sale_s_revenue_goes_over_its_pieces_by_units_to_the_cent(model) -> None:
    sale = {"on_date": DAY, "month": MAR, "product": "coaster", "channel": "market"}
    rows = model(
        "money._sale_part",
        money___sale=[
            sale | {"row_id": 1, "units": 4, "revenue_cents": 1001},  # of one unit no piece is known
            sale | {"row_id": 2, "units": 2, "revenue_cents": 900},  # all are known
            sale | {"row_id": 3, "units": 0, "revenue_cents": -50},  # an allowance
            sale | {"row_id": 4, "units": -1, "revenue_cents": -300},
            sale | {"row_id": 5, "units": 3, "revenue_cents": 700, "order_no": "O-1"},  # a piece that took none
        ],
        work__sale_piece=[
            {"row_id": 1, "piece": "B", "units": 2},
            {"row_id": 1, "piece": "A", "units": 1},
            {"row_id": 2, "piece": "A", "units": 2},
            {"row_id": 4, "piece": "A", "units": -1},
            {"row_id": 5, "piece": "C", "units": 0},
        ],
        work__piece=[{"piece": "A", "product": "tray", "order_no": "O-9"}, {"piece": "B", "product": "tray"}],
    )
    found = sorted((r["row_id"], r["piece"] or "", r["units"], r["revenue_cents"], r["product"]) for r in rows)
    # 1,001 over 1, 2 and 1 of 4: the running sums 250.25, 750.75 and 1,001, each rounded, less the one before
    assert found == [
        (1, "", 1, 250, "coaster"), (1, "A", 1, 250, "tray"), (1, "B", 2, 501, "tray"), (2, "A", 2, 900, "tray"),
        (3, "", 0, -50, "coaster"), (4, "A", -1, -300, "tray"), (5, "", 3, 700, "coaster"),
    ]  # fmt: skip
    assert {(r["row_id"], r["order_no"]) for r in rows if r["order_no"]} == {
        (5, "O-1"),
        (1, "O-9"),
        (2, "O-9"),
        (4, "O-9"),
    }


def test_months_are_compared_from_the_second_one_on(model) -> None:
    entry = {"row_id": 1, "units": 1, "product": "tray", "seconds": 60} | {
        f"{name}_cents": 100 for name in ("revenue", "cost_of_sales", "labour", "overhead")
    }
    rows = model(
        "money._bridge_product",
        work__month=[{"month": MAR}, {"month": APR}, {"month": date(2027, 3, 1)}],
        money___margin_entry=[entry | {"month": MAR}, entry | {"month": APR, "row_id": 2}],
    )
    found = sorted((r["month"], r["against"], r["units"], r["past_units"]) for r in rows)
    assert found == [
        (APR, "the month before", 1, 1),
        (date(2027, 3, 1), "the same month last year", 0, 1),
    ]
    assert {r["material_cents"] for r in rows} == {-100, 0}


def test_material_and_overhead_of_a_difference_open_the_layers_of_their_groups(model) -> None:
    opened = {row["part"]: row["result_layers"] for row in model("money.difference")}
    known = layers().filter(pl.col("cost_group").is_in(["wood", "resin", "supplies"])).sort("position")
    everything = known["layer"].to_list()
    assert {"wood", "resin", "abrasive"} <= {*everything}
    assert opened["material price"] == opened["yield"] == everything
    assert opened["wage"] == ["labour"] and opened["overhead in pieces"] == ["overhead", "machine"]
    assert opened["price"] == []


RULE = [{
    "from_date": date(2026, 1, 1), "mix_tolerance_ppm": 50_000, "stir_minutes": 3, "cure_hours": 24, "cold_c": 18,
    "damp_pct": 70, "wet_wood_pct": 12,
}]  # fmt: skip
AT = {"mix_ppm": 1_050_000, "stir_seconds": 180, "cured_seconds": 86_400, "temperature_c": 18, "humidity_pct": 70}
PAST = {"mix_ppm": 949_999, "stir_seconds": 179, "cured_seconds": 86_399, "temperature_c": 17.9, "humidity_pct": 70.1}
PRACTICES = ("off_ratio", "short_stir", "early_touch", "cold", "damp", "wet_wood")


@pytest.mark.parametrize(("readings", "moisture", "is_past"), [(AT, 12, False), (PAST, 12.1, True)])
def test_a_practice_counts_once_it_is_past_its_limit(model, readings, moisture, is_past) -> None:
    (row,) = model(
        "quality._judged",
        settings__shop=[{"start": date(2026, 1, 1)}],
        settings__rule=RULE,
        work__piece=[{"piece": "T-1", "lot": "L-1", "started_on": DAY, "finished_on": NEXT}],
        work__pour=[{"pour": "P-1", "on_date": DAY, "purpose": "flood", "coat": 2} | readings],
        work__pour_piece=[{"pour": "P-1", "piece": "T-1"}],
        records__purchases=[{"row_id": 1, "category": "wood", "lot": "L-1", "moisture_pct": moisture}],
    )
    assert [row[name] for name in PRACTICES] == [is_past] * len(PRACTICES)
    assert row["unsealed"] and row["coat"] == 2 and not row["reworked"]


def test_a_practice_without_a_reading_is_no_level_and_an_unknown_wood_is_one(model) -> None:
    outcome = {"piece": "T-1", "product": "tray", "cold": True, "damp": False}
    unread = {"piece": "T-2", "product": "tray"}
    rows = model("quality.piece", quality___outcome=[outcome, unread])
    assert sorted((row["factor"], row["level"]) for row in rows if row["piece"] == "T-1") == [
        ("cold", "yes"), ("damp", "no"), ("finish", "unknown"), ("pore_structure", "unknown"), ("product", "tray"),
        ("shop", "all"), ("species", "unknown"), ("species × finish", "unknown × unknown"), ("supplier", "unknown"),
    ]  # fmt: skip
    usual = {"finish", "pore_structure", "product", "shop", "species", "species × finish", "supplier"}
    assert {row["factor"] for row in rows if row["piece"] == "T-2"} == usual


LOT = {"category": "wood", "species": "ash", "form": "slab", "bought_on": DAY}


def test_a_lot_of_wood_counts_unless_it_went_back_whole(model) -> None:
    litre = 1_000_000
    lots = [
        LOT | {"lot_id": 1, "bought": 1, "on_hand": 1, "landed_cents": 0},  # went back
        LOT | {"lot_id": 2, "bought": 1, "on_hand": 1, "landed_cents": 900},
        LOT | {"lot_id": 3, "bought": 20 * litre, "on_hand": 20 * litre, "landed_cents": 0},
        LOT | {"lot_id": 4, "bought": 50 * litre, "on_hand": 0, "landed_cents": 5},
        LOT | {"lot_id": 5, "bought": 20 * litre - 1, "on_hand": 20 * litre, "landed_cents": 5},
    ]
    rows = {r["lot_id"]: r for r in model("material.wood_yield", settings__shop=[{"kerf_mm": 3.0}], cost__lot=lots)}
    assert {n: row["purchase_size"] for n, row in rows.items()} == {
        2: "under 20 dm3", 3: "20 to 50 dm3", 4: "50 dm3 and more", 5: "under 20 dm3"
    }  # fmt: skip
    # one of which nothing is on hand is closed, and all of it is offcut; one that holds more than was bought is not
    assert {n: row["lot_closed"] for n, row in rows.items()} == {2: False, 3: False, 4: True, 5: False}
    assert (rows[4]["offcut_dm3"], rows[5]["offcut_dm3"]) == (50, 0)


def test_resin_by_volume_is_told_in_grams_and_its_states_at_their_edges(model) -> None:
    item = {"item": "clear", "category": "resin", "unit": "ul", "density_ug_per_ul": 1100, "shelf_months": 12}
    lot = {"item": "clear", "category": "resin", "unit": "ul", "bought_on": DAY, "bought": 1000, "landed_cents": 100}
    lot |= {"on_hand_cents": 0}
    none = dict.fromkeys(("poured", "good", "scrapped", "repour", "trimmed", "cup", "spilled", "unexplained"), 0)
    drawn = none | {"on_date": DAY, "quantity": 1000, "other": 1000, "short": 0, "expired": 0}
    rows = model(
        "material.resin_lot",
        work__item=[item],
        cost__lot=[
            lot | {"lot_id": 1, "on_hand": 0, "used_cents": 100},
            lot | {"lot_id": 2, "on_hand": 1, "bought": 1001, "used_cents": 100, "expires_on": NEXT},
            lot | {"lot_id": 3, "on_hand": 1000, "used_cents": 0},
            lot | {"lot_id": 4, "on_hand": 1000, "used_cents": 0, "unit": "each"},
        ],
        material___draw=[drawn | {"lot_id": 1}, drawn | {"lot_id": 2}, drawn | {"lot_id": 0}],
    )
    found = {row["lot_id"]: row for row in rows}
    assert {n: row["state"] for n, row in found.items()} == {1: "used up", 2: "opened", 3: "unopened"}
    assert found[1]["other_g"] == pytest.approx(1.1) and found[1]["other_cents"] == 100
    assert (found[1]["keeps_to"], found[2]["keeps_to"]) == (date(2027, 3, 9), NEXT)
    # nothing was poured: no share of it is good, and nothing good went elsewhere
    assert [found[1][n] for n in ("good_share", "in_repours_cents", "in_scrapped_cents")] == [None, 0, 0]
