"""What a pour should have taken by the size of its pieces, beside what was mixed, and what to mix next."""

from datetime import date, timedelta

import pytest

DAY = date(2026, 3, 9)
TRAY = {"product": "tray", "length_um": 500_000, "width_um": 200_000, "thickness_um": 20_000, "quantity": 1}
RESIN = {"item": "clear", "category": "resin", "unit": "mg", "density_ug_per_ul": 1100, "parts_a": 2.0, "parts_b": 1.0}
SIZE = {"pour": "R-1", "on_date": DAY, "purpose": "flood", "resin": "clear", "product": "tray", "pieces": 1,
        "density": 1100, "top_mm2": 100_000, "body_mm3": 2_000_000, "mixed_mg": 500_000}  # fmt: skip
FIGURES = [{"figure": "flood thickness", "value": 3.0}]


def size(model, pieces, **pour):
    return model(
        "material._pour_size",
        records__pieces=pieces,
        work__item=[RESIN],
        work__pour=[{"pour": "R-1", "resin": "clear", "mixed_mg": 440_000, "good_mg": 330_000, "pieces": 1} | pour],
        work__pour_piece=[{"pour": "R-1", "piece": p["piece"]} for p in pieces if "_poured" not in p["piece"]],
    )[0]


def need(model, sizes=(SIZE,), **given):
    pours = [{"pour": s["pour"], "resin_cents": 1000} for s in sizes]
    rows = model("material.pour_need", material___pour_size=list(sizes), material__pour=pours, **given)
    return {row["pour"]: row for row in rows}


def test_the_top_is_length_by_width_or_the_disc_of_the_whole_run(model) -> None:
    row = size(model, [TRAY | {"piece": "T-1", "quantity": 3}])
    assert (row["top_mm2"], row["body_mm3"], row["size_estimated"]) == (300_000, 6_000_000, False)
    # 330 g at 1.1 g/ml
    assert row["good_mm3"] == pytest.approx(300_000)
    disc = {"piece": "T-2", "product": "clock", "diameter_um": 200_000, "thickness_um": 20_000}
    # pi / 4 x 200 mm squared
    assert size(model, [disc])["top_mm2"] == pytest.approx(31_416, abs=1)


def test_a_piece_without_sizes_has_the_middle_one_of_its_product(model) -> None:
    bare = {"piece": "T-9", "product": "tray", "quantity": 2}
    rows = model(
        "material._pour_size",
        records__pieces=[TRAY | {"piece": "T-1"}, bare],
        work__pour=[{"pour": "R-1", "pieces": 1}],
        work__pour_piece=[{"pour": "R-1", "piece": "T-9"}],
    )
    assert [(r["top_mm2"], r["size_estimated"]) for r in rows] == [(200_000, True)]


def test_need_goes_by_the_set_thickness_then_the_shop_s_own_pours_then_what_is_common(model) -> None:
    own = [{"purpose": "flood", "product": None, "pours": 9, "thickness_mm": 2.0}]
    set_to = [{"row_id": 1, "name": "flood", "thickness_mm": 1.5, "share_ppm": 1_000_000, "from_date": DAY}]
    common = need(model, material__figure=FIGURES)["R-1"]
    fitted = need(model, material__figure=FIGURES, material___pour_fit=own)["R-1"]
    stated = need(model, material__figure=FIGURES, material___pour_fit=own, settings__purpose=set_to)["R-1"]
    # 100,000 mm2 x 3 mm x 1.1 g/ml
    assert (common["thickness_basis"], common["need_g"]) == ("common figure", pytest.approx(330))
    assert (fitted["thickness_basis"], fitted["need_g"]) == ("own pours", pytest.approx(220))
    assert (stated["thickness_basis"], stated["need_g"]) == ("set", pytest.approx(165))


def test_the_product_s_own_pours_come_before_those_of_all(model) -> None:
    own = [{"purpose": "flood", "product": p, "pours": 9, "thickness_mm": t} for p, t in ((None, 2.0), ("tray", 1.0))]
    assert need(model, material___pour_fit=own)["R-1"]["thickness_mm"] == pytest.approx(1)


def test_an_inlay_takes_its_share_of_the_top_and_a_river_of_the_body(model) -> None:
    def shares(name, ppm, mm):
        return [{"row_id": 1, "name": name, "thickness_mm": mm, "share_ppm": ppm, "from_date": DAY}]

    inlay = need(model, [SIZE | {"purpose": "inlay"}], settings__purpose=shares("inlay", 60_000, 4.0))["R-1"]
    # 100,000 mm2 x 6 % x 4 mm x 1.1 g/ml
    assert inlay["need_g"] == pytest.approx(26.4)
    river = need(model, [SIZE | {"purpose": "casting"}], settings__purpose=shares("casting", 100_000, None))["R-1"]
    # a river of a tenth of the width through a body of 2 litres
    assert river["need_g"] == pytest.approx(220)


def test_over_is_beyond_the_need_and_the_suggestion_adds_the_usual_loss(model) -> None:
    own = [{"purpose": "flood", "product": None, "pours": 9, "thickness_mm": 3.0}]
    loss = [{"resin": "clear", "purpose": "flood", "loss_share": 0.25, "high_share": 0.3, "pours": 9}]
    row = need(model, material___pour_fit=own, material___pour_loss=loss)["R-1"]
    assert (row["need_g"], row["suggested_g"]) == (pytest.approx(330), pytest.approx(440))
    assert (row["over_g"], row["over_suggested_g"]) == (pytest.approx(170), pytest.approx(60))
    # 1000 cents for 500 g
    assert (row["over_cents"], row["over_suggested_cents"]) == (340, 120)
    assert row["need_size"] == "250 g and more"


def test_a_river_that_nobody_weighed_or_set_has_no_known_need(model) -> None:
    row = need(model, [SIZE | {"purpose": "casting"}], material__figure=FIGURES)["R-1"]
    assert (row["need_g"], row["over_cents"], row["need_size"]) == (None, None, "not known")


def test_five_weighed_pours_make_a_fit_and_the_odd_one_does_not_pull_it(model) -> None:
    def pours(count):
        mm3 = [110_000, 120_000, 100_000, 90_000, 900_000]
        return [
            SIZE | {"pour": f"R-{n}", "weighed": True, "good_mm3": mm3[n], "good_mg": 1} for n in range(count)
        ]  # fmt: skip

    assert model("material._pour_fit", material___pour_size=pours(4)) == []
    rows = model("material._pour_fit", material___pour_size=pours(5))
    assert {(r["product"], r["pours"], r["thickness_mm"]) for r in rows} == {("tray", 5, 1.1), (None, 5, 1.1)}


def test_loss_is_by_weight_over_weighed_pours_alone(model) -> None:
    def pour(number, mixed, good, weighed=True):
        return SIZE | {"pour": f"R-{number}", "weighed": weighed, "mixed_mg": mixed, "good_mg": good}

    pours = [pour(n, 100, 80) for n in range(4)] + [pour(8, 600, 380), pour(9, 900, 900, weighed=False)]
    rows = {(r["resin"], r["purpose"]): r for r in model("material._pour_loss", material___pour_size=pours)}
    assert rows["clear", "flood"]["loss_share"] == pytest.approx(0.3)
    assert rows[None, None]["pours"] == 5


def test_a_hint_says_what_to_mix_for_a_square_decimetre_and_its_parts(model) -> None:
    (row,) = model(
        "material.mix_hint",
        material__pour_need=[
            {"pour": "R-1", "resin": "clear", "purpose": "flood", "on_date": DAY, "top_dm2": 10.0, "need_g": 330.0}
            | {"thickness_mm": 3.0, "thickness_basis": "set"}
        ],
        material___pour_size=[SIZE | {"weighed": True}],
        material___pour_loss=[{"resin": "clear", "purpose": "flood", "loss_share": 0.25, "high_share": 0.4}],
        work__item=[RESIN | {"density_a_ug_per_ul": 1140, "density_b_ug_per_ul": 977}],
    )
    assert (row["need_g_per_dm2"], row["mix_g_per_dm2"], row["safe_mix_g_per_dm2"]) == pytest.approx((33, 44, 55))
    assert row["part_a_volume_share"] == pytest.approx(2 / 3)
    # a maker's guide: 3.5:1 by weight is 3:1 by volume, so A is 7/6 times B; here 2:1 by volume, 7:3 by weight
    assert row["part_a_weight_share"] == pytest.approx(0.7, abs=1e-4)


def test_groups_add_up_and_leave_out_what_has_no_need(model) -> None:
    pours = [
        {"pour": f"R-{n}", "purpose": p, "need_size": s, "need_g": g, "mixed_g": m, "suggested_g": g, "over_cents": 5}
        | {"over_g": m - (g or 0), "over_suggested_g": m - (g or 0), "on_date": DAY + timedelta(n)}
        for n, (p, s, g, m) in enumerate(
            (("flood", "under 50 g", 40.0, 50.0), ("seal", "under 50 g", 10.0, 10.5), ("seal", "not known", None, 9.0))
        )
    ]
    rows = {(r["purpose"], r["need_size"]): r for r in model("material.pour_group", material__pour_need=pours)}
    assert (rows["all", "all"]["pours"], rows["all", "all"]["over_g"]) == (2, pytest.approx(10.5))
    assert (rows["all", "all"]["pours_over"], rows["all", "under 50 g"]["over_cents"]) == (1, 10)
    assert set(rows) == {(p, s) for p in ("flood", "seal", "all") for s in ("under 50 g", "all")}


CLEAR = [RESIN | {"density_ug_per_ul": 1000, "parts_a": 1.0}]
MIXED = {"pour": "P-1", "on_date": DAY, "resin": "clear", "part_a": 60_000, "part_b": 60_000}
MIXED |= dict.fromkeys(("part_a_unit", "part_b_unit", "deposited_unit", "trimmed_unit"), "mg")


def test_a_deposit_on_one_of_a_piece_s_rows_is_its_deposit(model) -> None:
    rows = [
        MIXED | {"row_id": 1, "piece": "T-1", "deposited": 90_000},
        MIXED | {"row_id": 2, "piece": "T-1", "trimmed": 5_000},
    ]
    (pour,) = model("work.pour", work___pour_mix=model("work._pour_mix", records__pours=rows, work__item=CLEAR))
    found = [pour[name] for name in ("deposited_mg", "good_mg", "unexplained_mg", "estimated")]
    assert found == [90_000, 85_000, 30_000, False]
    pieces = [{"piece": "T-1"}]
    (piece,) = model("work.pour_piece", records__pours=rows, work__item=CLEAR, work__pour=[pour], work__piece=pieces)
    assert (piece["deposited_mg"], piece["good_mg"]) == (90_000, 85_000)


def test_a_pour_without_a_piece_left_nothing_good(model) -> None:
    rows = [MIXED | {"row_id": 1, "piece": None, "deposited": 90_000, "trimmed": 5_000}]
    (pour,) = model("work.pour", work___pour_mix=model("work._pour_mix", records__pours=rows, work__item=CLEAR))
    found = [pour[name] for name in ("mixed_mg", "deposited_mg", "good_mg", "unexplained_mg", "estimated")]
    assert found == [120_000, 0, 0, 120_000, False]
