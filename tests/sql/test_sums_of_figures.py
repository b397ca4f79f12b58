"""Sums and limits of figures, each of several rows and at its edges, where one row would tell nothing."""

from datetime import date

JAN, FEB, MAR, DAY = date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1), date(2026, 1, 9)
MONTHS = [{"month": month, "number": number} for number, month in enumerate((JAN, FEB, MAR), 1)]


def line(month, name: str, cents: int, **more) -> dict:
    return {
        "month": month,
        "line": name,
        "cents": cents,
        "place": "sold",
        "layer": "selling",
        "own_labour": False,
    } | more


def test_what_selling_took_is_summed_over_the_year_and_never_more_than_was_sold(model) -> None:
    rows = model(
        "money._selling_share",
        work__month=MONTHS,
        money___line_sum=[
            line(JAN, "revenue", 1000),
            line(JAN, "refunds", -100),
            line(JAN, "selling", -300),
            line(JAN, "selling", -50),
            line(JAN, "selling", -900, place="period"),  # an advertisement
            line(FEB, "revenue", 500),
            line(FEB, "selling", -2000),
            line(FEB, "selling", 700),  # a fee given back
        ],
    )
    assert [(r["revenue_cents"], r["selling_cents"]) for r in rows] == [(900, 350), (1400, 1400), (1400, 1400)]
    (row,) = model(
        "money._selling_share",
        work__month=MONTHS[:1],
        money___line_sum=[line(JAN, "refunds", -100), line(JAN, "selling", -20)],
    )
    assert (row["revenue_cents"], row["selling_cents"]) == (1, 0)


def test_the_books_know_a_piece_without_own_pay(model) -> None:
    made = {"product": "tray", "status": "finished", "finished": DAY, "quantity": 2, "unit_cents": 500}
    rows = model("money._usual_price", cost__piece=[made | {"made_cents": 1000, "own_labour_cents": 400}])
    assert {(row["unit_cents"], row["books_unit_cents"]) for row in rows} == {(500, 300)}


def test_bench_pay_is_what_is_left_over_the_hours_in_the_units_sold(model) -> None:
    entry = {"row_id": 1, "month": JAN, "selling_cents": 40, "cost_of_sales_cents": 200, "revenue_cents": 600}

    def paid(units: int) -> tuple[int, int, int]:
        (row,) = model(
            "money.bench_pay",
            money___margin_entry=[
                entry | {"piece": "T-1", "units": units - 1},
                entry | {"piece": "T-1", "units": 1, "row_id": 2},
            ],
            cost__piece=[
                {"piece": "T-1", "product": "tray", "quantity": 4, "own_bench_cents": 200, "own_bench_seconds": 3600}
            ],
        )
        return row["other_cost_cents"], row["own_bench_seconds"], row["bench_pay_cents"]

    # 1,200 less 80, less 400 of which 3/4 of 200 are own work, leave 870 for 2,700 seconds
    assert paid(3) == (250, 2700, 1160)
    # no more hours than are in it, however many are said to be sold: 920 for an hour
    assert paid(6) == (200, 3600, 920)


def test_a_sale_bears_all_of_its_hours_and_own_labour(model) -> None:
    moved = {"layer": "labour", "piece": "T-1", "from_place": "labour", "to_place": "piece"}
    (row,) = model(
        "money._margin_entry",
        cost__movement=[
            moved | {"quantity": 60},
            moved | {"quantity": 40, "from_place": "imputed"},
            moved | {"quantity": 900, "from_place": "piece", "to_place": "sold"},
            moved | {"quantity": 900, "to_place": "period"},
        ],
        money___sale_part=[
            {"row_id": 1, "piece": "T-1", "month": JAN, "units": 1, "revenue_cents": 5000, "on_date": DAY}
            | {"day_turn": 1}
        ],
        work__piece=[{"piece": "T-1", "units": 1}],
        money___line_sum=[
            line(JAN, "cost of sales", cents, piece="T-1", layer=layer, own_labour=own)
            for cents, layer, own in ((-500, "labour", True), (-70, "labour", True), (-30, "labour", False),
                                      (-8, "machine", False), (-4, "wood", False), (-2, "resin", False))
        ],
    )  # fmt: skip
    names = ("seconds", "own_labour_cents", "labour_cents", "overhead_cents", "material_cents", "cost_of_sales_cents")
    assert [row[name] for name in names] == [100, 570, 600, 8, 6, 614]


def test_a_sale_s_own_fee_grows_with_each_unit_and_an_advertisement_does_not(model) -> None:
    rows = model(
        "money.break_even",
        work__month=MONTHS[:1],
        money___line_sum=[
            line(JAN, "revenue", 1000),
            line(JAN, "cost of sales", -400, layer="wood"),
            line(JAN, "selling", -100),
            line(JAN, "selling", -60, place="period"),
        ],
    )
    found = {r["reckoning"]: (r["variable_cents"], r["fixed_month_cents"], r["break_even_cents"]) for r in rows}
    # of each 1,000 sold 500 are left: 60 are earned by 120
    assert found == {"own pay": (500, 60, 120), "books": (500, 60, 120)}
    assert {(r["safety_cents"], r["safety_share"]) for r in rows} == {(880, 0.88)}


def test_the_sums_of_a_piece_are_of_all_rows_of_a_record(model) -> None:
    entry = {"piece": "T-1", "layer": "labour", "operation": "sanding", "row_id": 1, "rework": False, "assumed": False}
    own = entry | {"origin": "own labour", "estimated": True}
    rows = model(
        "cost._piece_sum",
        cost___piece_in=[
            own | {"cents": 10, "quantity": 60},
            own | {"cents": 5, "quantity": 30, "rework": True},
            own | {"cents": 3, "quantity": 15, "origin": "labour", "estimated": False, "assumed": True, "row_id": 2},
            own | {"cents": 9, "quantity": 99, "layer": "spoilage"},
        ],
    )
    names = ("cents", "rework_cents", "own_labour_cents", "assumed_cents", "estimated_cents", "seconds", "own_seconds")
    found = {row["layer"]: [row[name] for name in names] for row in rows}
    assert found == {"labour": [18, 5, 15, 3, 15, 105, 90], "spoilage": [9, 0, 9, 0, 9, 0, 0]}
    assert {row["layer"]: row["records"] for row in rows} == {"labour": 2, "spoilage": 1}


def test_the_units_of_a_product_are_those_of_all_its_pieces(model) -> None:
    made = {"product": "tray", "status": "finished", "unit_cents": 100, "hours": 2.0}
    (row,) = model(
        "cost.product",
        cost__piece=[made | {"piece": "T-1", "quantity": 2}, made | {"piece": "T-2", "quantity": 3},
                     made | {"piece": "T-3", "quantity": 9, "status": "scrapped"}],
    )  # fmt: skip
    assert (row["pieces"], row["units"]) == (2, 5)


def test_a_setting_s_money_is_expected_to_go_out_unless_a_bill_tells_it(model) -> None:
    moved = {"on_date": DAY, "layer": "overhead", "cents": 100}
    rows = model(
        "money._expected",
        settings__shop=[{"start": JAN}],
        cost__movement=[
            moved | {"row_id": 1, "from_place": "setting", "to_place": "pool", "item": "rent"},
            moved | {"row_id": 2, "from_place": "setting", "to_place": "pool", "item": "power"},
            moved | {"row_id": 3, "from_place": "setting", "to_place": "asset", "item": "router"},
            moved | {"row_id": 4, "from_place": "setting", "to_place": "asset", "item": "saw", "on_date": JAN},
            moved | {"row_id": 5, "from_place": "setting", "to_place": "stock", "item": "oil"},
            moved | {"row_id": 6, "from_place": "asset", "to_place": "pool", "item": "router"},
        ],
        money___billed_pool=[{"item": "power"}],
    )
    assert sorted((r["kind"], r["row_id"], r["cents"]) for r in rows) == [("equipment", 3, -100), ("pool", 1, -100)]


def test_machine_hours_are_lacked_by_finished_pieces_alone(model) -> None:
    lacking = {"name": "carving", "part": "router", "want": "machine", "amount": 60}
    rows = model(
        "work.machine_missing",
        work___lacking=[
            lacking | {"piece": "T-1"}, lacking | {"piece": "T-2"}, lacking | {"piece": "T-3"},
            lacking | {"piece": "T-1", "want": "hours"},
        ],
        work__piece=[
            {"piece": "T-1", "row_id": 1, "status": "finished", "finished_on": DAY},
            {"piece": "T-2", "row_id": 2, "status": "scrapped", "finished_on": DAY},
            {"piece": "T-3", "row_id": 3, "status": "finished"},
        ],
    )  # fmt: skip
    assert [(r["piece"], r["operation"], r["machine"], r["seconds"]) for r in rows] == [
        ("T-1", "carving", "router", 60)
    ]


def test_what_came_back_whole_has_no_size_and_costs_are_of_all_its_sales(model) -> None:
    entry = {"product": "tray", "piece": "T-1", "units": 1, "cost_of_sales_cents": 100} | dict.fromkeys(
        ("revenue_cents", "labour_cents", "seconds", "overhead_cents"), 0
    )
    rows = model(
        "money._bridge_product",
        work__month=MONTHS,
        work__piece=[{"piece": "T-1", "units": 1, "area_mm2": 700}],
        money___margin_entry=[
            entry | {"month": JAN, "row_id": 1},
            entry | {"month": JAN, "row_id": 2, "units": -1},
            entry | {"month": FEB, "row_id": 3, "labour_cents": 30, "overhead_cents": 10},
            entry | {"month": FEB, "row_id": 4, "labour_cents": 40, "overhead_cents": 5},
            entry | {"month": MAR, "row_id": 5},
            entry | {"month": MAR, "row_id": 6, "units": -1},
        ],
    )
    row, after = sorted((row for row in rows if row["against"] == "the month before"), key=lambda row: row["month"])
    # nothing was left sold in January and in March: there is no surface to compare by
    assert (row["size"], row["past_size"]) == (2, 0)
    assert (after["size"], after["past_size"]) == (0, 2)
    assert (row["material_cents"], row["past_material_cents"]) == (115, 200)


def test_a_finish_is_told_by_its_name_and_else_by_what_it_was_used_on(model) -> None:
    rows = model(
        "work._finish_of",
        work__item=[{"item": item, "category": "finish"} for item in ("oil", "brand 7")] + [
            {"item": "disc", "category": "abrasive"}
        ],
        work__piece=[{"piece": "T-1", "finish": "oil"}, {"piece": "T-2", "finish": "wax"}, {"piece": "T-3"}],
        records__usage=[
            {"row_id": 1, "item": "oil"}, {"row_id": 2, "item": "brand 7"}, {"row_id": 3, "item": "disc"}
        ],
        records__usage_piece=[
            {"row_id": row_id, "piece": piece} for row_id in (1, 2, 3) for piece in ("T-2", "T-3")
        ],
    )  # fmt: skip
    assert sorted((row["item"], row["finish"]) for row in rows) == [("brand 7", "wax"), ("oil", "oil")]


def test_a_sale_without_a_tag_is_of_a_product_and_no_return(model) -> None:
    sale = {"on_date": DAY, "product": "tray", "quantity": 1}
    rows = model(
        "work._untagged",
        records__sales=[
            sale | {"row_id": 1}, sale | {"row_id": 2, "quantity": None}, sale | {"row_id": 3, "quantity": 0},
            sale | {"row_id": 4, "quantity": -1}, sale | {"row_id": 5, "product": None},
            sale | {"row_id": 6, "lot": "W-1"}, sale | {"row_id": 7},
        ],
        work___tagged=[{"row_id": 7, "piece": "T-1"}],
    )  # fmt: skip
    assert sorted((row["row_id"], row["units"]) for row in rows) == [(1, 1), (2, 1)]


def test_scrap_without_rework_on_it_is_lost_whole(model) -> None:
    judged = {"month": JAN, "young": False, "reworked": False, "rework_cents": 0, "scrap_cents": 500}
    rows = model(
        "quality.rework_total",
        quality___outcome=[judged | {"piece": "T-1"}, judged | {"piece": "T-2"}],
        cost__piece=[{"piece": piece, "rework_hours": 0.0} for piece in ("T-1", "T-2")],
        quality___lost=[{"piece": "T-2", "rework_cents": 200}],
    )
    assert [row["scrap_cents"] for row in rows] == [800]
    assert model("quality.rework_total") == []


def test_what_is_tied_up_is_told_by_what_it_waits_for(model) -> None:
    stages = {"materials": 100, "in progress": 20, "finished": 300, "consigned": 50}
    rows = [{"month": JAN, "stage": s, "closing_cents": c, "written_down_cents": 5} for s, c in stages.items()]
    rows += [{"month": FEB, "stage": "finished", "closing_cents": 7, "written_down_cents": 0}]
    january, february = sorted(model("money.tied_up", money__stock_month=rows), key=lambda row: row["month"])
    names = ("closing_cents", "materials_cents", "half_made_cents", "waiting_cents", "written_down_cents")
    assert [january[name] for name in names] == [470, 100, 20, 350, 20]
    assert [february[name] for name in names] == [7, 0, 0, 7, 0]


def test_what_products_lost_in_a_month_is_of_those_that_were_sold_for_less_than_they_cost(model) -> None:
    of = {"factor": "product", "span": "month", "month": JAN}
    rows = [
        of | {"level": "bowl", "units": 2, "margin_cents": -300},
        of | {"level": "tray", "units": 1, "margin_cents": -40},
        of | {"level": "clock", "units": 1, "margin_cents": 900},
        # a late cost of what was sold before, another span, another factor
        of | {"level": "sign", "units": 0, "margin_cents": -7},
        of | {"level": "bowl", "units": 2, "margin_cents": -300, "span": "year"},
        of | {"level": "oak", "units": 2, "margin_cents": -300, "factor": "species"},
    ]
    assert model("money.losing", money__margin=rows) == [{"month": JAN, "products": 2, "lost_cents": 340}]
