"""The month's lines, margins, bridge, break-even, events, losses and closed months: one model at a time."""

from datetime import date

import pytest

from pipeline.refresh.refresh import layers

JAN, FEB, MAR = date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)
MONTHS = [{"month": m, "number": n, "whole": True} for n, m in enumerate((JAN, FEB, MAR), 1)]
ENTRY = {
    "row_id": 1,
    "month": JAN,
    "units": 1,
    "revenue_cents": 0,
    "seconds": 0,
    "cost_of_sales_cents": 0,
    "labour_cents": 0,
    "own_labour_cents": 0,
    "overhead_cents": 0,
    "material_cents": 0,
    "selling_cents": 0,
}


@pytest.mark.parametrize(
    ("place", "layer", "line"),
    [
        ("sold", "wood", "cost of sales"),
        ("sold", "selling", "selling"),
        ("sold", "packaging", "selling"),
        ("period", "selling", "selling"),
        ("period", "labour", "other hours"),
        ("period", "machine", "not absorbed"),
        ("period", "resin", "other costs"),
        ("waste", "labour", "losses"),
    ],
)
def test_where_cost_ends_says_in_which_line_it_stands(model, place, layer, line):
    spent = {
        "on_date": date(2026, 1, 9),
        "from_place": "piece",
        "to_place": place,
        "layer": layer,
        "origin": "own labour",
        "cents": 70,
    }
    back = spent | {"from_place": place, "to_place": "piece", "cents": 20}
    rows = model("money._plain_line", cost__trace=[spent, back])
    assert sorted((row["line"], row["own_labour"], row["cents"]) for row in rows) == [
        (line, True, -70),
        (line, True, 20),
    ]


def test_what_the_maker_keeps_is_no_part_of_the_result(model):
    kept = {
        "on_date": JAN,
        "from_place": "piece",
        "to_place": "own use",
        "layer": "wood",
        "origin": "wood",
        "cents": 70,
    }
    assert model("money._plain_line", cost__trace=[kept]) == []


def month(model, lines, **given):
    rows = model("money.month", work__month=MONTHS, money__month_line=undated(lines), **given)
    return sorted(rows, key=lambda row: row["month"])


def line(name, cents, month=JAN, own=False, **rest):
    return {
        "month": month,
        "on_date": month,
        "line": name,
        "cents": cents,
        "own_labour": own,
        "layer": "wood",
        "place": "sold",
    } | rest


def undated(lines):
    return [{name: value for name, value in each.items() if name != "on_date"} for each in lines]


def test_the_result_stands_with_own_pay_and_in_the_books(model):
    first = month(
        model,
        [
            line("revenue", 1000),
            line("cost of sales", -300),
            line("cost of sales", -200, own=True, layer="labour"),
            line("write-downs", -50),
        ],
        money__figure=[
            {"month": JAN, "figure": "owner seconds", "amount": 4 * 3600},
            {"month": JAN, "figure": "owners paid", "amount": 40},
        ],
    )[0]
    assert (first["result_cents"], first["books_result_cents"], first["own_labour_cents"]) == (450, 650, 200)
    # before the pay that owners really get: 690 for four hours, and half a cent goes upwards
    assert first["pay_per_hour_cents"] == 173


def test_what_an_hour_paid_is_not_told_of_few_hours(model):
    few = [{"month": JAN, "figure": "owner seconds", "amount": 4 * 3600 - 1}]
    first = month(model, [line("revenue", 1000)], money__figure=few)[0]
    assert first["pay_per_hour_cents"] is None
    assert first["owners_result_cents"] == 1000


def closed_line(name, cents, month=JAN, **rest):
    return {
        "month": month,
        "kind": "line",
        "name": name,
        "layer": "wood",
        "place": "sold",
        "on_date": month,
        "own_labour": False,
        "amount": cents,
    } | rest


def test_a_closed_month_stays_and_the_first_open_one_takes_the_difference(model):
    frozen = [closed_line("revenue", 1000), closed_line("cost of sales", -300), closed_line("revenue", 10, FEB)]
    now = [
        line("revenue", 1000, row_id=3),
        line("cost of sales", -340, row_id=4),
        line("losses", -5, row_id=5),
        line("revenue", 10, FEB, row_id=6),
    ]
    earlier = model("money.earlier", work__month=MONTHS, money__line=now, intake__closed=frozen)
    changes = sorted(
        (
            row["closed_month"],
            row["month"],
            row["line"],
            row["closed_cents"],
            row["now_cents"],
            row["cents"],
            row["row_ids"],
        )
        for row in earlier
    )
    assert changes == [
        (JAN, MAR, "cost of sales", -300, -340, -40, [4]),
        (JAN, MAR, "losses", 0, -5, -5, [5]),
    ]
    found = month(model, now, intake__closed=frozen, money__earlier=earlier)
    assert [(row["closed"], row["result_cents"], row["earlier_cents"]) for row in found] == [
        (True, 700, 0),
        (True, 10, 0),
        (False, -45, -45),
    ]
    assert [row["closed_books_cents"] for row in found] == [-45, 0, 45]


def test_hours_that_turn_up_late_for_a_closed_month_count_in_the_first_open_one(model):
    frozen = [{"month": JAN, "kind": "figure", "name": "owner seconds", "amount": 3600}]
    now = [
        {"month": JAN, "figure": "owner seconds", "amount": 7200},
        {"month": FEB, "figure": "owner seconds", "amount": 1800},
    ]
    found = month(model, [], intake__closed=frozen, money__figure=now)
    assert [row["owner_hours"] for row in found] == [1.0, 1.5, 0.0]


def test_a_record_that_is_gone_leaves_a_line_without_records(model):
    (row,) = model("money.earlier", work__month=MONTHS, intake__closed=[closed_line("revenue", 1000)])
    assert (row["cents"], row["row_ids"], row["month"]) == (-1000, [], FEB)


def test_margins_by_group_and_span(model):
    entries = [
        ENTRY
        | {
            "product": "tray",
            "channel": "fair",
            "revenue_cents": 1000,
            "cost_of_sales_cents": 600,
            "own_labour_cents": 200,
            "overhead_cents": 50,
            "selling_cents": 100,
            "seconds": 7200,
        },
        ENTRY | {"product": "tray", "channel": "online", "month": MAR, "revenue_cents": 500, "units": 2},
    ]
    rows = model("money.margin", work__month=MONTHS, money___margin_entry=entries)
    found = {(row["factor"], row["level"], row["span"], row["month"]): row for row in rows}
    assert {key for key in found if key[2] != "all" and key[2] != "twelve months"} == {
        ("product", "tray", "month", JAN), ("product", "tray", "month", MAR),
        ("channel", "fair", "month", JAN), ("channel", "online", "month", MAR),
        ("product", "tray", "year", JAN), ("channel", "fair", "year", JAN), ("channel", "online", "year", JAN),
    }  # fmt: skip
    january = found["product", "tray", "month", JAN]
    # 1,000 less selling and all cost but own labour and overhead; two hours
    assert (january["margin_cents"], january["contribution_cents"], january["contribution_per_hour_cents"]) == (
        300,
        550,
        275,
    )
    assert found["product", "tray", "twelve months", MAR]["units"] == 3


SPLIT = ("units", "revenue_cents", "labour_cents", "seconds", "overhead_cents", "material_cents")
LINES = ("result_cents", "gross_margin_cents", "selling_cents", "period_labour_cents", "not_absorbed_cents")
LINES += ("loss_cents", "write_down_cents")


def bridge(model, products, materials=(), months=()):
    differences = model("money.difference", settings__layer=layers())
    rows = model(
        "money.bridge",
        work__month=MONTHS[:2],
        money__difference=differences,
        money___bridge_product=[
            {"month": FEB, "against": "the month before", "other": JAN}
            | {f"{past}{name}": 0 for past in ("", "past_") for name in SPLIT}
            | {"size": p.get("units", 0), "past_size": p.get("past_units", 0)}
            | p
            for p in products
        ],
        money___bridge_material=list(materials),
        money__month=[
            {"month": m} | dict.fromkeys(LINES, 0) | c for m, c in zip((JAN, FEB), months or ({}, {}), strict=True)
        ],
    )
    # each part of the list has its cents, and no other
    names = ("part_number", "part", "part_name")
    assert sorted([row[name] for name in names] for row in rows) == [[row[n] for n in names] for row in differences]
    return {row["part"]: row["cents"] for row in rows if row["cents"]}


def test_labour_splits_into_wage_and_hours(model):
    tray = {
        "product": "tray",
        "units": 2,
        "past_units": 1,
        "labour_cents": 5000,
        "seconds": 3600,
        "past_labour_cents": 2000,
        "past_seconds": 1800,
    }
    parts = bridge(
        model,
        [tray],
        months=(
            {"gross_margin_cents": -2000, "result_cents": -2000},
            {"gross_margin_cents": -5000, "result_cents": -5000},
        ),
    )
    # one hour at last month's 40 an hour is 4,000: 1,000 dearer, and as long for each as before
    assert parts["wage"] == -1000
    assert "hours" not in parts
    assert sum(parts.values()) == -3000


def test_a_larger_piece_at_the_same_price_for_its_size_is_volume(model):
    tray = {
        "product": "tray",
        "units": 1,
        "past_units": 1,
        "size": 300,
        "past_size": 200,
        "revenue_cents": 1500,
        "past_revenue_cents": 1000,
    }
    parts = bridge(
        model,
        [tray],
        months=({"gross_margin_cents": 1000, "result_cents": 1000}, {"gross_margin_cents": 1500, "result_cents": 1500}),
    )
    assert parts == {"volume": 500}


def test_sizes_are_compared_only_where_both_months_know_them(model):
    pieces = [
        {"piece": "A", "units": 1, "area_mm2": 200},
        {"piece": "B", "units": 2, "area_mm2": 600},
        {"piece": "C", "units": 1},
    ]
    entries = [
        ENTRY | {"piece": "A", "product": "tray"},
        ENTRY | {"piece": "B", "product": "tray", "month": FEB, "row_id": 2},
    ]
    unsized = ENTRY | {"piece": "C", "product": "tray", "month": MAR, "row_id": 3, "units": 4}
    rows = model(
        "money._bridge_product", work__month=MONTHS, work__piece=pieces, money___margin_entry=[*entries, unsized]
    )
    sizes = {row["month"]: (row["size"], row["past_size"]) for row in rows if row["against"] == "the month before"}
    assert sizes == {FEB: (300, 200), MAR: (4, 1)}


def test_a_new_product_is_mix_and_a_missing_one_too(model):
    products = [
        {"product": "tray", "past_units": 1, "past_revenue_cents": 1000},
        {"product": "bowl", "units": 1, "revenue_cents": 1300, "material_cents": 100},
    ]
    parts = bridge(
        model,
        products,
        months=({"gross_margin_cents": 1000, "result_cents": 1000}, {"gross_margin_cents": 1200, "result_cents": 1200}),
    )
    # 1,300 sold would have left 1,300 as last month did, and leaves 1,200
    assert parts == {"volume": 300, "mix": -100}


def test_the_first_month_with_sales_is_all_volume(model):
    parts = bridge(
        model,
        [{"product": "tray", "units": 1, "revenue_cents": 900, "labour_cents": 400}],
        months=({}, {"gross_margin_cents": 500, "result_cents": 500}),
    )
    assert parts == {"volume": 500}


def test_what_lies_beside_the_margin_goes_by_its_line(model):
    parts = bridge(
        model,
        [],
        months=({"selling_cents": 10, "result_cents": -10}, {"selling_cents": 4, "loss_cents": 7, "result_cents": -8}),
    )
    assert parts == {"fees": 6, "losses": -7, "rest": 3}  # 3 of other income


def test_break_even_rounds_units_up_and_has_none_where_each_sale_loses(model):
    lines = [
        line("revenue", 1000),
        line("cost of sales", -300),
        line("other hours", -500, layer="labour", place="period"),
    ]
    sold = [{"row_id": 1, "month": JAN, "units": 2}]
    first = {
        r["month"]: r
        for r in model("money.break_even", work__month=MONTHS[:1], money___line_sum=undated(lines), money___sale=sold)
        if r["reckoning"] == "books"
    }[JAN]
    # 350 each against 500: one and a half
    assert (first["break_even_units"], first["break_even_cents"], first["safety_cents"]) == (2, 714, 286)
    dear = [line("revenue", 1000), line("cost of sales", -1300)]
    assert {
        r["break_even_units"]
        for r in model("money.break_even", work__month=MONTHS[:1], money___line_sum=undated(dear), money___sale=sold)
    } == {None}


def test_the_price_of_each_is_less_discount_and_without_shipping(model):
    # 3 at 10.00 less 5.00 are 8.33 each; the shipping is in what they brought. One came back at 9.00
    rows = model(
        "money.sold",
        money___sale=[
            {"row_id": 1, "units": 3, "taken_cents": 2500},
            {"row_id": 2, "units": -1, "taken_cents": -900},
        ],
        money___sale_part=[
            {"row_id": 1, "piece": "T-1", "units": 2, "revenue_cents": 1867},
            {"row_id": 1, "piece": "T-2", "units": 1, "revenue_cents": 933},
            {"row_id": 2, "piece": "T-1", "units": -1, "revenue_cents": -900},
            {"row_id": 3, "piece": None, "units": 1, "revenue_cents": 100},
        ],
    )
    rows.sort(key=lambda row: (row["row_id"], row["piece"]))
    assert [(row["piece"], row["units"], row["price_cents"], row["revenue_cents"]) for row in rows] == [
        ("T-1", 2, 833, 1867),
        ("T-2", 1, 833, 933),
        ("T-1", -1, 900, -900),
    ]


def test_what_came_back_from_an_event_is_not_known_unless_it_was_taken_along(model):
    sold = {"row_id": 1, "event": "SPRINGFAIR", "on_date": date(2026, 2, 7), "units": 2, "revenue_cents": 9000}
    fair = {"name": "Spring Fair", "day": date(2026, 2, 7)}
    (row,) = model("money.event", settings__event=[fair], money___sale=[sold])
    assert (row["units"], row["taken_along"], row["brought_back"]) == (2, None, None)


def test_an_event_counts_what_it_took_brought_back_cost_and_paid(model):
    (row,) = model(
        "money.event",
        settings__event=[{"name": "Spring Fair", "day": date(2026, 2, 7)}],
        settings__person_rate=[{"row_id": 3, "name": "Ada", "role": "owner"}],
        money___sale=[
            {"row_id": 1, "event": "SPRINGFAIR", "on_date": date(2026, 2, 7), "units": 2, "revenue_cents": 9000}
        ],
        money___margin_entry=[
            {"event": "SPRINGFAIR", "cost_of_sales_cents": 4000, "selling_cents": 1500, "own_labour_cents": 1000}
        ],
        work__hours=[
            {
                "row_id": 8,
                "event": "SPRINGFAIR",
                "person": "Ada",
                "seconds": 7200,
                "attended": True,
                "on_date": date(2026, 2, 7),
            }
        ],
        cost__movement=[
            {
                "row_id": 8,
                "paid_row_id": 3,
                "from_place": "labour",
                "to_place": "period",
                "origin": "own labour",
                "layer": "labour",
                "cents": 3000,
            },
            {
                "row_id": 9,
                "from_place": "receipt",
                "to_place": "pool",
                "item": "SPRINGFAIR",
                "layer": "selling",
                "cents": 1200,
            },
        ],
        # on both of its days, of a run of which two were sold before
        records__moves=[
            {"row_id": 5, "place": "Spring fair", "on_date": date(2026, 2, 7)},
            {"row_id": 6, "place": "spring fair", "on_date": date(2026, 2, 8)},
        ],
        records__moves_piece=[{"row_id": 5, "piece": "T-1"}, {"row_id": 6, "piece": "T-1"}],
        work__piece=[{"piece": "T-1", "units": 8}],
        work__exit=[
            {"piece": "T-1", "number": 1, "on_date": date(2026, 1, 9), "units_out": 2},
            {"piece": "T-1", "number": 2, "on_date": date(2026, 2, 7), "units_out": 4},
        ],
    )
    assert (row["taken_cents"], row["units"], row["taken_along"], row["brought_back"], row["booth_cents"]) == (
        9000,
        2,
        6,
        4,
        1200,
    )
    assert (row["result_cents"], row["books_result_cents"]) == (500, 4500)
    assert row["pay_per_hour_cents"] == 1750  # 3,500 before own pay for the day, for two hours


def test_a_booth_without_a_sale_is_paid_once_on_the_next_day_of_its_event(model):
    days = (date(2025, 3, 8), date(2026, 3, 7), date(2026, 3, 8))
    (paid,) = model(
        "cost.movement",
        cost___event_fee=[{"row_id": 4, "on_date": date(2026, 2, 1), "event": "SPRINGFAIR", "cents": 5000}],
        settings__event=[{"name": "Spring Fair", "day": day} for day in days],
    )
    assert (paid["on_date"], paid["from_place"], paid["to_place"], paid["cents"]) == (days[1], "pool", "period", 5000)


def test_resin_of_all_items_is_compared_by_weight(model):
    poured = {"from_place": "stock", "to_place": "piece", "layer": "resin", "piece": "T-1"}
    cents = {"month": JAN, "line": "cost of sales", "layer": "resin", "piece": "T-1", "cents": -300}
    rows = model(
        "money._bridge_material",
        cost__movement=[
            poured | {"item": "clear", "quantity": 1000, "unit": "ul"},
            poured | {"item": "black", "quantity": 500, "unit": "mg"},
        ],
        work__item=[{"item": "clear", "density_ug_per_ul": 1200}, {"item": "black", "density_ug_per_ul": 1100}],
        work__piece=[{"piece": "T-1", "product": "tray", "units": 2}],
        money___margin_entry=[ENTRY | {"piece": "T-1", "product": "tray"}],
        money___line_sum=[cents],
    )
    # 1.2 g and 0.5 g, half of it sold
    assert [(row["material"], row["cents"], row["quantity"]) for row in rows] == [("resin", 300, 850)]


def test_work_without_a_rate_is_said_to_cost_nothing(model):
    hours = {"on_date": JAN, "seconds": 3600, "attended": True}
    worked = [hours | {"row_id": n, "person": person} for n, person in enumerate(("Ada", "Sam", None), 1)]
    worked += [hours | {"row_id": 4, "person": None, "attended": False}]
    rates = [{"row_id": 9, "name": "Ada", "role": "owner", "from_date": JAN}]
    found = model("checks.rate_unknown", work__hours=worked, settings__person_rate=rates)
    assert [(row["person"], row["rows"], row["hours"]) for row in found] == [("Sam", 1, 1.0)]
    # nobody works there at all, or not yet
    assert len(model("checks.rate_unknown", work__hours=worked)) == 3
    later = [rates[0] | {"from_date": FEB}]
    assert len(model("checks.rate_unknown", work__hours=worked, settings__person_rate=later)) == 2
