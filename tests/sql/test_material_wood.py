"""Where a lot of wood went, what it yielded, and its tally."""

from datetime import date

import pytest

DAY = date(2026, 3, 9)
LITRE = 1_000_000
LOT = {"lot_id": 1, "category": "wood", "species": "ash", "form": "slab", "bought_on": DAY, "bought": 20 * LITRE,
       "on_hand": 0, "landed_cents": 8000}  # fmt: skip
SHOP = [{"kerf_mm": 3.0}]


def lot(model, uses, pieces, **given):
    """`uses`: use id, source, litres; `pieces`: piece, status, row id of its draw, finished litres."""
    tables = {
        "settings__shop": SHOP,
        "cost__lot": [LOT],
        "work__flow": [
            {"flow": "wood/ash", "lot_id": 1, "use_id": n, "from_quantity": 0, "to_quantity": litres * LITRE}
            for n, _, litres in uses
        ],
        "work__use": [{"use_id": n, "row_id": n, "source": source, "quantity": q * LITRE} for n, source, q in uses],
        "work__piece": [{"piece": p, "status": s, "row_id": n, "volume_mm3": v * LITRE} for p, s, n, v in pieces],
        "work__unsound": [{"piece": p, "units": 1, "all_units": 1} for p, s, _, _ in pieces if s == "scrapped"],
        "records__pieces": [{"piece": p, "row_id": n} for p, _, n, _ in pieces],
    }
    (row,) = model("material.wood_yield", **(tables | given))
    return row


def test_a_closed_lot_is_parted_to_the_last_millimetre(model) -> None:
    blank = {"blank_length_um": 500_000, "blank_width_um": 200_000, "blank_thickness_um": 50_000}
    row = lot(
        model,
        [(1, "blank", 6), (2, "blank", 4), (3, "blank", 2), (4, "lot loss", 1), (5, "lot sale", 3)],
        [("T-1", "finished", 1, 4), ("T-2", "scrapped", 2, 3), ("T-3", "in progress", 3, 1)],
        records__pieces=[{"piece": "T-1"} | blank, {"piece": "T-2"}, {"piece": "T-3"}],
    )
    names = ("finished", "shaped", "scrapped", "in_work", "lost", "sold", "other", "on_hand")
    assert [row[f"{n}_dm3"] for n in names] == [4, 2, 4, 2, 1, 3, 0, 0]
    # half the edge of T-1's blank, (500 + 200) mm x 50 mm, x a kerf of 3 mm; the rest of the closed lot is offcut
    assert row["kerf_dm3"] == pytest.approx(0.105)
    assert row["offcut_dm3"] == pytest.approx(4 - 0.105)
    assert row["lot_closed"]
    assert row["yield_share"] == pytest.approx(0.2)
    # 20 less 2 in work and 3 sold
    assert row["gone_yield_share"] == pytest.approx(4 / 15)
    # 80.00 for 20 litres: the 15 that are gone cost 60.00, and 4 of them are finished work
    assert (row["gone_cents"], row["cents_per_finished_dm3"]) == (6000, 1500)
    # a cubic decimetre is 1 / 2.359737216 board feet
    assert row["cents_per_finished_board_foot"] == round(1500 * 2.359737216)


def test_kerf_comes_off_what_an_open_lot_still_holds(model) -> None:
    blank = {"blank_length_um": 500_000, "blank_width_um": 200_000, "blank_thickness_um": 50_000}
    row = lot(
        model,
        [(1, "blank", 6)],
        [("T-1", "finished", 1, 4)],
        cost__lot=[LOT | {"on_hand": 14 * LITRE}],
        records__pieces=[{"piece": "T-1"} | blank],
    )
    assert (row["on_hand_dm3"], row["offcut_dm3"], row["lot_closed"]) == (pytest.approx(13.895), 0, False)
    assert row["gone_yield_share"] == pytest.approx(4 / 6.105)


def test_wood_on_the_usage_list_counts_for_the_pieces_named(model) -> None:
    row = lot(
        model,
        [(7, "usage", 8)],
        [("T-1", "finished", 1, 3), ("T-2", "finished", 2, 2)],
        records__usage_piece=[{"row_id": 7, "piece": "T-1"}, {"row_id": 7, "piece": "T-2"}],
    )
    assert (row["finished_dm3"], row["shaped_dm3"], row["pieces"]) == (5, 3, 2)


@pytest.mark.parametrize("status, in_work, finished", (("finished", 0, 3), ("in progress", 6, 0)))
def test_units_scrapped_of_a_run_are_no_finished_wood(model, status, in_work, finished) -> None:
    """Two of eight: a quarter of the blank's 8 litres, and of the 4 that were to come of it."""
    run = [{"piece": "R-1", "units": 2, "all_units": 8}]
    row = lot(model, [(1, "blank", 8)], [("R-1", status, 1, 4)], work__unsound=run)
    assert [row[f"{n}_dm3"] for n in ("scrapped", "in_work", "finished")] == [2, in_work, finished]


def test_a_unit_is_unsound_by_its_piece_or_its_inspection(model) -> None:
    exits = [
        # two of a run scrapped, one come back as scrap after it was sold
        ("R-1", 1, "scrapped", 0, 2), ("R-1", 2, "sale", 2, 3),
        ("R-1", 3, "return", 3, 2), ("R-1", 3, "scrapped", 2, 3),
        # three of eight sold, the rest then given up
        ("R-2", 4, "sale", 0, 3), ("R-2", 5, "scrapped", 3, 8),
        ("T-5", 6, "sale", 0, 1),
    ]  # fmt: skip
    pieces = [
        ("R-1", "finished", 8),
        ("R-2", "scrapped", 8),
        ("T-3", "test", 1),
        ("T-4", "lost", 1),
        ("T-5", "finished", 1),
    ]
    rows = model(
        "work.unsound",
        work__piece=[{"piece": p, "status": s, "units": n} for p, s, n in pieces],
        work__exit=[
            {"piece": p, "row_id": row, "kind": kind, "units_out_before": before, "units_out": after}
            for p, row, kind, before, after in exits
        ],
        records__sales=[{"row_id": row} for row in (2, 3, 4, 6)],
    )
    assert {row["piece"]: row["units"] for row in rows} == {"R-1": 2, "R-2": 5, "T-3": 1, "T-4": 1}


def test_a_piece_from_two_lots_gives_each_its_share(model) -> None:
    rows = model(
        "material.wood_yield",
        settings__shop=SHOP,
        cost__lot=[LOT, LOT | {"lot_id": 2}],
        work__flow=[
            {"flow": "wood/ash", "lot_id": n, "use_id": 1, "from_quantity": 0, "to_quantity": n * LITRE} for n in (1, 2)
        ],
        work__use=[{"use_id": 1, "row_id": 1, "source": "blank", "quantity": 3 * LITRE}],
        work__piece=[{"piece": "T-1", "status": "finished", "row_id": 1, "volume_mm3": 1_500_000}],
        records__pieces=[{"piece": "T-1"}],
    )
    assert {r["lot_id"]: r["finished_dm3"] for r in rows} == {1: 0.5, 2: 1.0}


@pytest.mark.parametrize(
    ("length", "width", "thickness", "count", "feet"),
    [
        # americanhardwood.org, "Measurement": 2 in x 6 1/4 in x 8 ft has a surface measure of 4 and tallies 8
        (96, 6.25, 2, 1, 8),
        # gophuongdong.com, "American hardwood lumber measurement": 6 1/2 in x 8 ft is 4, 8 x 12 is 8, 10 x 13 is 11
        (96, 6.5, 1, 1, 4),
        (144, 8, 1, 1, 8),
        (156, 10, 1, 3, 33),
        # goodwoodcorp.com, "Hardwood terminology": under an inch counts as an inch
        (144, 8, 0.75, 1, 8),
    ],
)
def test_boards_are_tallied_by_surface_measure(model, length, width, thickness, count, feet) -> None:
    bought = {"row_id": 1, "category": "wood", "count": count}
    sizes = {"length_um": length, "width_um": width, "thickness_um": thickness}
    (row,) = model(
        "material.wood_yield",
        settings__shop=SHOP,
        cost__lot=[LOT | {"form": "board"}],
        records__purchases=[bought | {name: round(inches * 25400) for name, inches in sizes.items()}],
    )
    assert (row["board_feet"], row["board_feet_basis"]) == (feet, "surface measure")
    assert row["cents_per_board_foot"] == round(8000 / feet)


def test_a_live_edge_and_a_round_have_no_tally_rule_and_say_which_width_counted(model) -> None:
    for form, more in (
        ("slab", {"length_um": 1, "width_um": 1, "thickness_um": 1}),
        ("round", {"diameter_um": 1, "thickness_um": 1}),
    ):
        (row,) = model(
            "material.wood_yield",
            settings__shop=SHOP,
            cost__lot=[LOT | {"form": form, "bought": 23_597_372}],
            records__purchases=[{"row_id": 1, "category": "wood"} | more],
        )  # fmt: skip
        # 144 in3 = 2.359737216 litres, Pint's default_en.txt
        assert row["board_feet"] == pytest.approx(10, abs=1e-6)
        assert row["board_feet_basis"].startswith("solid volume by the")


def test_what_finished_wood_cost_is_the_same_however_much_of_the_lot_is_uncut(model) -> None:
    uses, pieces = [(1, "blank", 6)], [("T-1", "finished", 1, 4)]

    def cost(bought: int) -> int:
        slab = LOT | {"bought": bought * LITRE, "on_hand": (bought - 6) * LITRE, "landed_cents": 400 * bought}
        return lot(model, uses, pieces, cost__lot=[slab])["cents_per_finished_dm3"]

    # 6 litres at 4.00 are gone into 4 of finished work
    assert [cost(bought) for bought in (6, 20, 600)] == [600, 600, 600]


def test_a_lot_that_nobody_touched_is_open_and_has_no_yield(model) -> None:
    row = lot(model, [], [], cost__lot=[LOT | {"on_hand": 20 * LITRE}])
    assert (row["lot_closed"], row["on_hand_dm3"], row["gone_dm3"]) == (False, 20, 0)
    for name in ("yield_share", "gone_yield_share", "cents_per_finished_dm3", "cents_per_finished_board_foot"):
        assert row[name] is None, name


def test_a_slab_that_went_back_is_no_lot(model) -> None:
    gone = LOT | {"bought": 1, "on_hand": 1, "landed_cents": 0}
    assert model("material.wood_yield", settings__shop=SHOP, cost__lot=[gone]) == []


def test_a_group_has_the_yield_of_what_is_gone_with_its_interval(model) -> None:
    lots = [
        {"lot_id": n, "species": "ash", "purchase_size": "20 to 50 dm3", "yield_share": f / 10, "pieces": 1}
        | {"bought_dm3": 10.0, "gone_dm3": 10.0, "finished_dm3": f, "gone_cents": 100, "lot_closed": True}
        for n, f in enumerate((3.0, 4.0, 5.0))
    ]
    rows = {r["factor"]: r for r in model("material.wood_group", material__wood_yield=lots)}
    row = rows["size"]
    assert (row["level"], row["lots"], row["closed_lots"], row["gone_yield_share"]) == ("20 to 50 dm3", 3, 3, 0.4)
    # equal lots: the usual interval of a mean, 0.4 +- t(2) x 0.1 / sqrt(3), t = 4.303 (NIST e-Handbook 1.3.6.7.2)
    half = 4.303 * 0.1 / 3**0.5
    assert (row["gone_low_share"], row["gone_high_share"]) == pytest.approx((0.4 - half, 0.4 + half), abs=1e-4)
    (lone,) = [r for r in model("material.wood_group", material__wood_yield=lots[:1]) if r["factor"] == "all"]
    assert (lone["gone_low_share"], lone["gone_high_share"]) == (None, None)


def test_a_lot_of_which_nothing_is_gone_leaves_the_interval_as_it_is(model) -> None:
    lots = [
        {"lot_id": n, "species": "ash", "pieces": 1, "bought_dm3": 10.0, "gone_dm3": gone, "gone_cents": 100}
        | {"finished_dm3": finished, "yield_share": finished / 10, "lot_closed": False}
        for n, (gone, finished) in enumerate(((6.0, 3.0), (7.0, 4.0), (0.0, 0.0)))
    ]

    def interval(*lots):
        rows = {r["factor"]: r for r in model("material.wood_group", material__wood_yield=lots)}
        return [rows["all"][name] for name in ("gone_yield_share", "gone_low_share", "gone_high_share")]

    assert interval(*lots) == interval(*lots[:2])
    assert interval(*lots[1:]) == [pytest.approx(4 / 7), None, None]
