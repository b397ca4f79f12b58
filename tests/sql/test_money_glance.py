"""The figures by which a year is looked at: wood that left the bench by month, and the year so far."""

from datetime import date

import pytest

LITRE = 1_000_000
MONTHS = [date(2025, 11, 1), date(2025, 12, 1), date(2026, 1, 1), date(2026, 2, 1)]


def test_each_blank_bears_its_share_of_what_else_is_gone(model) -> None:
    rows = model(
        "material.wood_month",
        work__month=[{"month": month} for month in MONTHS],
        material__wood_yield=[{"lot_id": 1, "gone_dm3": 12.0}, {"lot_id": 2, "gone_dm3": 5.0}],
        material___blank=[
            {"lot_id": 1, "piece": piece, "mm3": 3 * LITRE, "in_work": work, "scrapped_mm3": lost * LITRE,
             "finished_mm3": good * LITRE}
            for piece, work, lost, good in (
                ("A", False, 0, 2), ("B", False, 3, 0), ("C", True, 0, 2), ("D", False, 0, 1),
            )
        ],
        work__piece=[
            {"piece": "A", "finished_on": date(2026, 1, 5)},
            {"piece": "B", "ended_on": date(2026, 2, 5)},
            {"piece": "C", "started_on": date(2026, 1, 5)},
            {"piece": "D", "finished_on": date(2024, 1, 5)},
        ],
    )  # fmt: skip
    # what is gone of the lot is 12 for the three that are no longer in work: four each; the second lot has no blank
    told = {row["month"]: (row["pieces"], row["finished_dm3"], row["gone_dm3"]) for row in rows}
    first, _, january, february = MONTHS
    assert told == {
        first: (1, 1, pytest.approx(4)),
        january: (1, 2, pytest.approx(4)),
        february: (1, 0, pytest.approx(4)),
    }


def glance(model, **given):
    months = [
        {"month": month, "whole": month != MONTHS[-1], "recorded": month != MONTHS[1], "result_cents": cents,
         "owners_result_cents": 10 * cents, "owner_hours": hours, "pieces_sold": 2}
        for month, cents, hours in zip(MONTHS, (100, -50, 30, 7), (10.0, 0.0, 3.0, 2.0), strict=True)
    ]  # fmt: skip
    rows = model("money.glance", **({"money__month": months} | given))
    return {(row["month"], row["span"]): row for row in rows}


def test_a_year_so_far_adds_its_own_months_alone(model) -> None:
    rows = glance(model)
    so_far = {month: rows[month, "year so far"] for month in MONTHS}
    assert [so_far[month]["result_cents"] for month in MONTHS] == [100, 50, 30, 37]
    assert [so_far[month]["months"] for month in MONTHS] == [1, 2, 1, 2]
    assert [so_far[month]["recorded_months"] for month in MONTHS] == [1, 1, 1, 2]
    assert [so_far[month]["whole"] for month in MONTHS] == [True, True, True, False]
    # of three hours nothing is said for one, of five it is: 370 over 5
    assert [so_far[month]["pay_per_hour_cents"] for month in MONTHS] == [100, 50, None, 74]
    assert rows[MONTHS[3], "month"]["pay_per_hour_cents"] is None
    empty = so_far[MONTHS[0]]
    assert [empty[name] for name in ("good_share", "yield_share", "rework_share", "low", "high")] == [None] * 5


def test_shares_are_of_all_its_pieces_and_grams_together(model) -> None:
    judged = [
        {"piece": f"T-{n}", "month": MONTHS[2], "factor": "shop", "reworked": n < 5, "young": n == 19}
        for n in range(20)
    ] + [{"piece": "T-1", "month": MONTHS[2], "factor": "species", "reworked": True, "young": False}]
    resin = [
        {"item": item, "month": month, "span": span, "poured_g": poured, "good_g": good, "pours": 1}
        for item, month, span, poured, good in (
            ("all resins", MONTHS[2], "month", 100.0, 50.0),
            ("all resins", MONTHS[3], "month", 300.0, 270.0),
            ("all resins", MONTHS[3], "all", 999.0, 1.0),
            ("clear", MONTHS[3], "month", 300.0, 270.0),
        )
    ]
    wood = [{"month": MONTHS[3], "pieces": 3, "gone_dm3": 8.0, "finished_dm3": 2.0}]
    rows = glance(model, quality__piece=judged, material__resin_span=resin, material__wood_month=wood)
    row = rows[MONTHS[3], "year so far"]
    assert (row["pieces"], row["reworked_pieces"], row["young_pieces"]) == (19, 5, 1)
    assert row["rework_share"] == pytest.approx(5 / 19)
    # Wilson's interval of 5 in 19: 0.118 and 0.488 (Brown, Cai and DasGupta 2001 give its formula)
    assert (row["low"], row["high"]) == (pytest.approx(0.118, abs=5e-4), pytest.approx(0.488, abs=5e-4))
    assert row["good_share"] == pytest.approx(320 / 400)
    assert row["yield_share"] == pytest.approx(0.25)
    assert rows[MONTHS[2], "month"]["yield_share"] is None


@pytest.mark.parametrize(
    ("today", "sales", "known"),
    [
        # waits of two and eight days: nine in ten are no longer than eight
        (date(2026, 2, 7), [(1, 20), (1, 22), (1, 30)], (date(2026, 2, 7), 7 / 28, 2_250)),
        (date(2026, 2, 21), [(1, 20), (1, 22), (1, 30)], (date(2026, 2, 7), 7 / 28, 2_250)),
        (date(2026, 2, 21), [(1, 20), (1, 22), (1, 30), (2, 20)], (date(2026, 2, 21), 21 / 28, 750)),
        (date(2026, 2, 21), [(1, 10), (1, 12), (1, 14)], None),  # none for five weeks: they are late
        (date(2026, 2, 21), [(2, 20)], None),  # of one sale no wait is known
    ],
)
def test_a_month_that_runs_is_known_as_far_as_its_sales_are_likely_in(model, today, sales, known) -> None:
    rows = model(
        "money.running_month",
        work__month=[{"month": MONTHS[3], "last_on": date(2026, 2, 28), "whole": False}],
        work__recorded_day=[{"on_date": today}],
        records__sales=[{"on_date": date(2026, *day), "quantity": 1} for day in sales],
        cost__pool_rate=[{"month": MONTHS[3], "pool": "rent", "cents": 3_000}],
    )
    told = [(row["known_to"], row["known_share"], row["ahead_cents"]) for row in rows]
    assert told == ([known] if known else [])
