"""What rework and scrap took of the whole shop, in all and a month."""

import pytest

OUTCOME = [
    {"piece": "T-1", "month": "2026-01-01", "reworked": True, "young": False, "rework_cents": 1001, "scrap_cents": 0},
    {"piece": "T-2", "month": "2026-03-01", "reworked": True, "young": False, "rework_cents": 200, "scrap_cents": 5000},
    {"piece": "T-3", "month": "2026-03-01", "reworked": False, "young": False, "rework_cents": 0, "scrap_cents": 0},
    # it may still come back: its hours are worked all the same
    {"piece": "T-4", "month": "2026-04-01", "reworked": True, "young": True, "rework_cents": 9, "scrap_cents": 0},
]
COSTS = [{"piece": f"T-{n}", "rework_hours": 0.25 * n} for n in (1, 2, 3, 4)]


def test_rework_on_what_was_scrapped_counts_once_and_the_young_are_in_no_rate(model) -> None:
    lost = [{"piece": "T-2", "cents": 5000, "rework_cents": 200}]
    (row,) = model("quality.rework_total", quality___outcome=OUTCOME, cost__piece=COSTS, quality___lost=lost)
    assert (row["pieces"], row["events"], row["months"]) == (3, 2, 4)
    assert (row["rework_hours"], row["rework_hours_per_month"]) == (2.5, 0.625)
    assert (row["rework_cents"], row["scrap_cents"]) == (1210, 4800)
    assert (row["rework_per_month_cents"], row["scrap_per_month_cents"]) == (303, 1200)  # a half cent goes up


def test_the_interval_is_wilsons(model) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857, table I: 81 of 263, method 3, gives 0.2553 to 0.3662."""
    each = {"month": "2026-01-01", "young": False, "rework_cents": 0, "scrap_cents": 0}
    rows = [each | {"piece": f"T-{n}", "reworked": n < 81} for n in range(263)]
    costs = [{"piece": row["piece"], "rework_hours": 0.0} for row in rows]
    (row,) = model("quality.rework_total", quality___outcome=rows, cost__piece=costs)
    assert (row["low"], row["high"]) == (pytest.approx(0.2553, abs=5e-5), pytest.approx(0.3662, abs=5e-5))


def test_where_nothing_is_judged_there_is_no_row_and_where_all_may_come_back_no_rate(model) -> None:
    assert model("quality.rework_total") == []
    (row,) = model("quality.rework_total", quality___outcome=OUTCOME[3:], cost__piece=COSTS[3:])
    assert (row["pieces"], row["rate"], row["low"], row["high"]) == (0, None, None, None)
    assert row["rework_hours"] == 1


@pytest.mark.parametrize("reworked", [True, False])
def test_the_limit_of_none_and_of_all_is_the_rate_itself(model, reworked: bool) -> None:
    each = {"month": "2026-01-01", "young": False, "rework_cents": 0, "scrap_cents": 0, "reworked": reworked}
    for count in range(1, 30):  # the last digit of the root goes either way
        rows = [each | {"piece": f"T-{n}"} for n in range(count)]
        costs = [{"piece": row["piece"], "rework_hours": 0.0} for row in rows]
        (row,) = model("quality.rework_total", quality___outcome=rows, cost__piece=costs)
        assert (row["high"] if reworked else row["low"]) == reworked
        assert 0 <= row["low"] <= row["rate"] <= row["high"] <= 1
