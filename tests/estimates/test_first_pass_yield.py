"""The table `quality.month`."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from made_outcomes import outcome
from scipy import stats
from scipy.special import expit, logit

from pipeline.estimates.first_pass_yield import MONTH, month


def chart(*months: tuple[int, int]) -> pl.DataFrame:
    """One month after the other, each (pieces, reworked)."""
    rows = [
        {"month": date(2020 + m // 12, m % 12 + 1, 1), "reworked": i < bad, "scrapped": False}
        for m, (pieces, bad) in enumerate(months)
        for i in range(pieces)
    ]
    return month({"quality._judged": outcome(*rows)})


def test_a_bad_month_is_outside_its_own_limits() -> None:
    frame = chart((50, 10), (50, 8), (50, 24), (25, 4))
    assert frame["method"].to_list() == ["p"] * 4
    assert frame["outside"].to_list() == [False, False, True, False]
    assert frame["centre"][0] == pytest.approx(46 / 175)
    centre = 46 / 175
    assert frame["upper"][0] == pytest.approx(centre + 3 * (centre * (1 - centre) / 50) ** 0.5)
    assert frame["upper"][3] > frame["upper"][0]


def test_scrapped_pieces_did_not_pass_and_unknown_ones_did() -> None:
    may = {"month": date(2026, 5, 1)}
    frame = month(
        {"quality._judged": outcome(may | {"reworked": True}, may | {"scrapped": True}, may, {"reworked": True})}
    )
    row = frame.row(0, named=True)
    assert (row["pieces"], row["first_pass"], row["rework"], row["rate"]) == (3, 1, 1, pytest.approx(2 / 3))


def test_rare_failures_are_charted_by_the_run_between_them() -> None:
    """One failure in a month of four after long quiet: the run since the last failure is what counts."""
    frame = chart((40, 1), *[(10, 0)] * 10, (10, 1))
    last = frame.row(-1, named=True)
    assert last["method"] == "g"
    assert last["rate"] == pytest.approx(1 / 110)
    assert last["lower"] == pytest.approx(1 / (stats.geom.isf(0.00135, 2 / 150)))
    assert not frame["outside"].any()


def test_a_quiet_run_far_longer_than_usual_is_outside() -> None:
    frame = chart(*[(9, 1)] * 20, *[(9, 0)] * 30)
    assert frame["method"].unique().to_list() == ["g"]
    outside = frame["outside"].to_list()
    assert not any(outside[:20])
    assert outside[-1]
    first = outside.index(True)
    # 20 failures in 450 pieces: (1 - 20 / 450) ** run falls below 0.00135 beyond 145 pieces, in the 17th quiet month
    assert first == 20 + 16


def test_where_months_differ_more_than_chance_the_limits_are_wider() -> None:
    """By hand: 100 pieces a month, 10 and 30 failures in turn, so 20 % with an sd of 4 points, and steps of 5 sd: those
    of chance are 1.128 sd in the mean (Laney's p' chart, 2002; from memory)."""
    frame = chart(*[(100, 10), (100, 30)] * 6)
    assert frame["widened"][0] == pytest.approx(5 / 1.128)
    assert frame["upper"][0] == pytest.approx(0.2 + 3 * 0.04 * 5 / 1.128)
    assert frame["lower"][0] == 0
    assert not frame["outside"].any()
    # seven months are too few to tell
    assert chart(*[(100, 10), (100, 30)] * 3, (100, 10))["widened"].to_list() == [1.0] * 7


def test_months_that_differ_by_themselves_raise_few_false_signals() -> None:
    """Log odds of a month differ by 0.6 in the sd, 40 pieces each: by chance's limits 8 of 10 such shops show a signal.
    One month in earnest, 70 % where 20 % are usual, is found still."""
    false, found = 0, 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        rate = expit(logit(0.2) + rng.normal(0, 0.6, 24))
        false += chart(*[(40, int(n)) for n in rng.binomial(40, rate)])["outside"].any()
        alike = rng.binomial(40, 0.2, 24)
        alike[15] = rng.binomial(40, 0.7)
        found += chart(*[(40, int(n)) for n in alike])["outside"][15]
    assert false <= 12
    assert found >= 38


def test_a_month_that_may_still_come_back_is_not_too_good_and_says_nothing_of_what_is_usual() -> None:
    rows = [
        {"month": date(2026, m, 1), "reworked": i % 2 == 0, "scrapped": False, "young": m > 6}
        for m in range(1, 8)
        for i in range(40)
    ]
    rows = [row | {"reworked": False} if row["young"] else row for row in rows]
    frame = month({"quality._judged": outcome(*rows)})
    assert frame["centre"].unique().to_list() == [0.5]
    assert frame["young_pieces"].to_list() == [0] * 6 + [40]
    assert frame["lower"][-1] > 0.2
    assert not frame["outside"].any()


@pytest.mark.parametrize("months", [[], [(1, 0)], [(1, 1)], [(30, 30), (5, 5)], [(30, 0), (5, 0)]])
def test_no_month_all_or_none(months: list[tuple[int, int]]) -> None:
    frame = chart(*months)
    assert (frame.columns, len(frame)) == (list(MONTH), len(months))
    assert not frame["outside"].any()
