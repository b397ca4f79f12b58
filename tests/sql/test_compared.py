"""What is usual for a product, where resin went over a span, and what became of wood by group."""

from datetime import date

import pytest

LINE = {"layer": "labour", "rework": False, "assumed": False, "estimated": False}
TRAY = {"product": "tray", "status": "finished", "quantity": 1, "hours": 1.0}


def summed(model, entries):
    return model("cost._piece_sum", cost___piece_in=entries)


def test_usual_is_the_median_for_one_unit_times_the_units_of_the_piece(model):
    lines = model(
        "cost.piece_line",
        cost__piece=[TRAY | {"piece": tag, "quantity": n} for tag, n in (("T-1", 1), ("T-2", 2), ("T-3", 1))],
        cost___piece_sum=summed(
            model,
            [
                LINE | {"piece": tag, "row_id": n, "operation": "sanding", "cents": cents}
                for n, (tag, cents) in enumerate((("T-1", 100), ("T-2", 400), ("T-3", 150)))
            ],
        ),
    )
    # for one unit 100, 200 and 150
    assert {line["piece"]: (line["cents"], line["usual_cents"]) for line in lines} == {
        "T-1": (100, 150),
        "T-2": (400, 300),
        "T-3": (150, 150),
    }


def test_a_line_that_the_product_usually_has_stands_at_zero_where_a_piece_lacks_it(model):
    lines = model(
        "cost.piece_line",
        cost__piece=[TRAY | {"piece": tag} for tag in ("T-1", "T-2", "T-3")],
        cost___piece_sum=summed(
            model,
            [LINE | {"piece": tag, "row_id": 1, "operation": "sanding", "cents": 80} for tag in ("T-1", "T-2")],
        ),
    )
    assert ("T-3", "sanding", 0, 80, 0) in [
        (r["piece"], r["operation"], r["cents"], r["usual_cents"], r["records"]) for r in lines
    ]


def test_a_line_that_most_pieces_lack_is_usual_at_zero_and_stands_only_where_it_is(model):
    lines = model(
        "cost.piece_line",
        cost__piece=[TRAY | {"piece": tag} for tag in ("T-1", "T-2", "T-3")],
        cost___piece_sum=summed(
            model,
            [LINE | {"piece": "T-1", "layer": "spoilage", "row_id": n, "cents": 30, "rework": n == 1} for n in (1, 2)],
        ),
    )
    assert [(r["piece"], r["cents"], r["usual_cents"], r["rework_cents"], r["records"]) for r in lines] == [
        ("T-1", 60, 0, 30, 2)
    ]


def test_a_product_is_judged_by_its_finished_pieces_alone(model):
    costs = [("finished", 100), ("finished", 300), ("finished", 200), ("in progress", 5), ("scrapped", 9000)]
    rows = model(
        "cost.product",
        cost__piece=[
            TRAY | {"piece": f"T-{n}", "status": status, "unit_cents": cents} for n, (status, cents) in enumerate(costs)
        ],
    )
    assert [(r["pieces"], r["usual_unit_cents"], r["low_unit_cents"], r["high_unit_cents"]) for r in rows] == [
        (3, 200, 100, 300)
    ]


def test_a_span_adds_up_its_months_and_begins_with_what_was_there(model):
    nothing = dict.fromkeys(
        ("missing_g", "trimmed_g", "spilled_g", "pour_unexplained_g", "other_g", "found_g", "shortage_g"), 0
    )
    months = [
        nothing
        | {"item": item, "month": date(2026, month, 1), "opening_g": opening, "on_hand_g": opening + 40}
        | {"bought_g": 100, "poured_g": 60, "good_g": 45, "cup_g": 15}
        for item in ("clear", "black")
        for month, opening in ((1, 0), (2, 40))
    ]  # fmt: skip
    rows = model(
        "material.resin_span",
        material__resin_balance=months,
        material__pour=[
            {"pour": "P-1", "resin": "clear", "on_date": date(2026, 2, 3), "resin_cents": 90, "waste_cents": 20}
        ],
    )
    found = {(r["item"], r["month"].month, r["span"]): r for r in rows}
    february = found["clear", 2, "month"]
    assert (february["opening_g"], february["poured_g"], february["waste_cents"], february["pours"]) == (40, 60, 20, 1)
    both = found["all resins", 2, "twelve months"]
    assert (both["opening_g"], both["bought_g"], both["on_hand_g"], both["wasted_g"]) == (0, 400, 160, 60)
    assert both["good_share"] == pytest.approx(0.75)
    assert (both["from_month"], both["resin_cents"]) == (date(2026, 1, 1), 90)


def test_a_group_of_lots_has_the_yield_of_its_volumes_and_the_quarters_of_its_lots(model):
    lots = [
        {"lot_id": n, "species": "ash",
         "bought_dm3": bought, "finished_dm3": finished, "yield_share": finished / bought,
         "scrapped_dm3": 0, "on_hand_dm3": 0, "pieces": 1, "gone_cents": 100}
        for n, (bought, finished) in enumerate(((10, 1), (10, 4), (80, 40)))
    ]  # fmt: skip
    uncut = {"lot_id": 9, "species": "ash", "bought_dm3": 50, "yield_share": None, "gone_cents": 700}
    rows = model("material.wood_group", material__wood_yield=[*lots, uncut])
    ash = next(r for r in rows if r["factor"] == "species")
    assert (ash["level"], ash["lots"], ash["gone_cents"]) == ("ash", 3, 300)
    assert ash["yield_share"] == pytest.approx(0.45)
    # linear between the ordered lots: 0.1, 0.4, 0.5
    assert (ash["low_share"], ash["high_share"]) == (pytest.approx(0.25), pytest.approx(0.45))
    assert {r["factor"]: r["level"] for r in rows} == {
        "species": "ash",
        "supplier": "not known",
        "form": "not known",
        "size": "not known",
        "all": "all wood",
    }


def test_what_was_there_at_the_start_is_no_measure_of_lines_and_hours(model):
    # its whole cost stands as wood, and nobody knows its hours
    tags = {"T-1": True, "T-2": True, "T-3": False}
    pieces = [TRAY | {"piece": tag, "unit_cents": 90, "hours": 0.0 if there else 2.0} for tag, there in tags.items()]
    entries = [
        LINE | {"piece": tag, "row_id": 1, "layer": "wood" if there else "labour", "cents": 90}
        for tag, there in tags.items()
    ]
    known = {"cost__piece": pieces, "work__piece": [{"piece": tag, "opening": there} for tag, there in tags.items()]}
    sums = {"cost___piece_sum": summed(model, entries)}
    lines = model("cost.piece_line", **known, **sums)
    layers = model("cost.piece_layer", **known, **sums, cost___piece_in=entries)
    for rows in (lines, layers):
        assert {(row["layer"], row["usual_cents"]) for row in rows} == {("wood", 0), ("labour", 90)}
    (tray,) = model("cost.product", **known)
    assert (tray["pieces"], tray["usual_unit_cents"], tray["usual_unit_hours"]) == (3, 90, 2.0)


def test_the_usual_of_a_layer_is_no_sum_of_the_usual_lines_in_it(model):
    entries = [
        LINE | {"piece": tag, "row_id": n, "operation": operation, "cents": 90}
        for n, (tag, operation) in enumerate((("T-1", "sanding"), ("T-2", "sawing"), ("T-3", "gluing")))
    ]
    given = {
        "cost__piece": [TRAY | {"piece": tag} for tag in ("T-1", "T-2", "T-3")],
        "cost___piece_sum": summed(model, entries),
    }
    assert {r["usual_cents"] for r in model("cost.piece_line", **given)} == {0}
    layers = model("cost.piece_layer", **given, cost___piece_in=entries)
    assert {(r["piece"], r["cents"], r["usual_cents"], r["records"]) for r in layers} == {
        ("T-1", 90, 90, 1),
        ("T-2", 90, 90, 1),
        ("T-3", 90, 90, 1),
    }
