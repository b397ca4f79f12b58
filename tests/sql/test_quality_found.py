"""Defects piece by piece, and the pieces of a coat."""

from datetime import date, timedelta

LOOKS = [
    {"row_id": 1, "piece": "T-1", "defect": "bubble", "action": "rework", "found_at": "finishing", "cause": "cold"},
    {"row_id": 2, "piece": "T-1", "defect": "check", "action": None},
    {"row_id": 3, "piece": "T-2", "defect": "check", "action": "scrap"},
    {"row_id": 4, "piece": "T-2", "defect": "none", "action": "accept"},
    {"row_id": 5, "piece": None, "defect": "bubble", "action": "rework"},
]
COSTS = [
    {"piece": "T-1", "status": "finished", "rework_cents": 1001, "made_cents": 9000},
    {"piece": "T-2", "status": "scrapped", "rework_cents": 200, "made_cents": 5000},
]
LOST = [{"piece": "T-2", "cents": 5000, "rework_cents": 200}]


def test_a_pieces_rework_goes_to_its_defects_to_the_cent(model) -> None:
    rows = model("quality.found", records__inspections=LOOKS, cost__piece=COSTS, quality___lost=LOST)
    found = {row["row_id"]: row for row in rows}
    assert set(found) == {1, 2, 3}
    assert found[1]["cents"] + found[2]["cents"] == 1001
    assert abs(found[1]["cents"] - found[2]["cents"]) == 1
    assert (found[1]["found_at"], found[1]["cause_said"]) == ("finishing", "cold")
    assert found[2]["action"] == "none"
    # of a scrapped piece all that it cost
    assert found[3]["cents"] == 5000


def test_scrap_is_what_left_with_its_units_and_rework_on_it_counts_once(model) -> None:
    """Two of a run of eight were scrapped at the bench, one came back from a buyer as scrap, and five were sold."""
    exits = [(1, "scrapped"), (2, "sale"), (3, "return"), (3, "scrapped")]
    moved = [
        (1, "pool", 150, False),
        (1, "pool", 50, True),
        (1, "waste", 7, False),
        (2, "sold", 400, True),
        (3, "pool", 90, False),
    ]
    lost = model(
        "quality._lost",
        work__exit=[{"piece": "T-1", "row_id": row_id, "kind": kind} for row_id, kind in exits],
        records__sales=[{"row_id": 2}, {"row_id": 3}],
        cost__moved=[
            {
                "piece": "T-1",
                "row_id": row_id,
                "from_place": "piece",
                "to_place": place,
                "cents": cents,
                "rework": rework,
            }
            for row_id, place, cents, rework in moved
        ],
    )
    assert lost == [{"piece": "T-1", "cents": 207, "rework_cents": 50}]
    (row,) = model(
        "quality._outcome",
        quality___judged=[{"piece": "T-1", "defects": 2, "scrapped": True}],
        cost__piece=[{"piece": "T-1", "rework_cents": 300, "made_cents": 2000}],
        quality___lost=lost,
    )
    assert (row["rework_cents"], row["scrap_cents"], row["defect_cents"]) == (300, 207, 300 + 157)
    rows = model(
        "quality.found",
        records__inspections=[LOOKS[0], LOOKS[1]],
        cost__piece=[{"piece": "T-1", "rework_cents": 300, "made_cents": 2000}],
        quality___lost=lost,
    )
    assert sum(row["cents"] for row in rows) == 457


def test_defects_are_summed_by_what_was_decided(model) -> None:
    rows = model(
        "quality.defect",
        quality__found=[
            {"row_id": 1, "piece": "T-1", "defect": "check", "action": "scrap", "cents": 5},
            {"row_id": 2, "piece": "T-1", "defect": "check", "action": "scrap", "cents": 7},
            {"row_id": 3, "piece": "T-2", "defect": "check", "action": "rework", "cents": 1},
        ],
    )
    by_action = {row["action"]: (row["found"], row["pieces"], row["cents"]) for row in rows}
    assert by_action == {"scrap": (2, 1, 12), "rework": (1, 1, 1)}


def test_a_coat_opens_its_pieces(model) -> None:
    rows = model("quality.piece", quality___outcome=[{"piece": "T-1", "coat": 2}, {"piece": "T-2", "coat": None}])
    coats = {row["piece"]: row["level"] for row in rows if row["factor"] == "coat"}
    # only a piece that had a pour can have a coat
    assert coats == {"T-1": "2"}


def test_what_is_not_on_record_opens_as_it_is_counted(model) -> None:
    rows = model(
        "quality.piece", quality___outcome=[{"piece": "T-1", "supplier": "Pail & Co", "cold": True}, {"piece": "T-2"}]
    )
    levels = {(row["factor"], row["level"]) for row in rows if row["piece"] == "T-2"}
    assert {("product", "unknown"), ("pore_structure", "unknown"), ("supplier", "unknown")} <= levels
    # a reading that nobody took is no level
    assert {row["piece"] for row in rows if row["factor"] == "cold"} == {"T-1"}


RULE = [{"from_date": date(2020, 1, 1), "cold_c": 16.0, "damp_pct": 70.0, "stir_minutes": 3.0}]


def test_a_pour_that_mends_is_no_cause_of_what_it_mends(model) -> None:
    """Poured warm and failed that day; mended in the cold, twice; then its second coat, as was meant."""
    warm = {"temperature_c": 21.0, "humidity_pct": 50.0, "stir_seconds": 60}
    cold = {"temperature_c": 12.0, "humidity_pct": 90.0, "stir_seconds": 600}
    pours = [
        warm | {"pour": "R-1", "on_date": date(2026, 3, 2), "purpose": "flood", "coat": 1},
        cold | {"pour": "R-2", "on_date": date(2026, 3, 4), "purpose": "seal", "coat": 7},
        cold | {"pour": "R-3", "on_date": date(2026, 3, 5), "purpose": "repour", "coat": 8},
        warm | {"pour": "R-4", "on_date": date(2026, 3, 9), "purpose": "flood", "coat": 2},
        cold | {"pour": "R-5", "on_date": date(2026, 5, 1), "purpose": "flood", "coat": 9},
    ]
    (row,) = model(
        "quality._judged",
        work__piece=[{"piece": "T-1", "started_on": date(2026, 3, 1), "finished_on": date(2026, 3, 20)}],
        work__pour=pours,
        work__pour_piece=[
            {"pour": pour["pour"], "piece": "T-1", "after_sale": pour["pour"] == "R-5"} for pour in pours
        ],
        settings__shop=[{"start": date(2026, 1, 1)}],
        work__rework_window=[{"piece": "T-1", "from_on": date(2026, 3, 2), "to_on": date(2026, 3, 6)}],
        settings__rule=RULE,
    )
    names = ("coat", "cold", "damp", "short_stir", "unsealed", "reworked")
    assert [row[name] for name in names] == [2, False, False, True, True, True]


def test_a_piece_younger_than_most_findings_take_is_young(model) -> None:
    """Findings 0, 5, 40, 60 and 90 days after the piece was finished: three in four, the fourth of five, within 60."""
    first, last = date(2026, 1, 1), date(2026, 6, 30)
    pieces = [{"piece": f"T-{wait}", "finished_on": first} for wait in (0, 5, 40, 60, 90)]
    looks = [
        {"piece": f"T-{wait}", "on_date": first + timedelta(days=wait), "action": "rework"} for wait in (0, 5, 40, 60)
    ]
    looks.append({"piece": "T-90", "on_date": first + timedelta(days=90), "action": "scrap"})
    # a look that passes it is no finding
    looks.append({"piece": "T-0", "on_date": last, "action": "accept"})
    pieces += [{"piece": f"N-{age}", "finished_on": last - timedelta(days=age)} for age in (59, 60)]
    given = {"work__piece": pieces, "settings__shop": [{"start": date(2020, 1, 1)}], "settings__rule": RULE}
    rows = model("quality._judged", records__inspections=looks, **given)
    assert {row["finding_days"] for row in rows} == {60}
    assert {row["piece"] for row in rows if row["young"]} == {"N-59"}
    assert model("quality.finding_time", quality___judged=rows) == [
        {"finding_days": 60, "young_pieces": 1, "young_found": 0}
    ]
    # of four findings nobody can say how long they take
    few = model("quality._judged", records__inspections=looks[:4], **given)
    assert not any(row["young"] for row in few)


def test_what_is_found_at_the_bench_leaves_no_piece_young(model) -> None:
    pieces = [{"piece": f"T-{n}", "finished_on": date(2026, 5, n)} for n in range(1, 9)]
    looks = [{"piece": f"T-{n}", "on_date": date(2026, 4, 30), "action": "rework"} for n in range(1, 7)]
    rows = model(
        "quality._judged",
        work__piece=pieces,
        records__inspections=looks,
        settings__shop=[{"start": date(2020, 1, 1)}],
        settings__rule=RULE,
    )
    assert not any(row["young"] for row in rows)


def test_a_piece_finished_before_the_records_begin_is_not_judged(model) -> None:
    start = date(2026, 1, 1)
    pieces = [
        {"piece": "T-1", "opening": True, "finished_on": date(2024, 5, 1)},
        {"piece": "T-2", "opening": True, "finished_on": start},
        {"piece": "T-3", "opening": False, "finished_on": date(2025, 12, 30)},
        {"piece": "T-4", "opening": True, "finished_on": None, "ended_on": date(2026, 3, 1)},
    ]
    rows = model("quality._judged", work__piece=pieces, settings__shop=[{"start": start}], settings__rule=RULE)
    assert {row["piece"] for row in rows} == {"T-2", "T-3", "T-4"}
