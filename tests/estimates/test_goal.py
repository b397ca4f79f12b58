"""How likely a goal is said to be, against what came of simulated shops whose months are known to the end."""

from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.estimates import goal as estimate
from pipeline.estimates.goal import COLUMNS, FEWEST, Ahead, goal, reached_at

CURVE = np.array([0.6, 0.6, 0.8, 0.9, 1, 1, 0.7, 0.6, 1, 1.2, 1.6, 2.4])


def plain(rng: np.random.Generator, n: int) -> np.ndarray:
    return rng.normal(1000, 600, n)


def seasonal(rng: np.random.Generator, n: int) -> np.ndarray:
    curve = np.roll(CURVE, rng.integers(12))
    return 1500 * curve[np.arange(n) % 12] * np.exp(rng.normal(0, 0.35, n)) - 500


def skewed(rng: np.random.Generator, n: int) -> np.ndarray:
    return 1500 * np.exp(rng.normal(0, 0.6, n)) - 900 + (rng.random(n) < 0.07) * 3000


def growing(rng: np.random.Generator, n: int) -> np.ndarray:
    return 1400 + np.arange(n) * rng.normal(0, 25) + rng.normal(0, 500, n)


def pieces(rng: np.random.Generator, n: int) -> np.ndarray:
    return rng.poisson(rng.choice([1.2, 6]), n).astype(float)


def month_number(n: int) -> date:
    return date(2020 + n // 12, n % 12 + 1, 1)


def judged(shops: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """What was said of each shop's goal, and whether it came true: six to 36 months known, one to twelve to come."""
    rng = np.random.default_rng(seed)
    said, came = [], []
    for number in range(shops):
        months = (plain, seasonal, skewed, growing, pieces)[number % 5](rng, 60)
        end = int(rng.integers(12, 48))
        known, left = min(int(rng.integers(FEWEST, 37)), end), 12 - end % 12
        past, coming = months[end - known : end], months[end : end + left]
        least = left * past.mean() + 1.3 * rng.normal() * past.std() * np.sqrt(left)
        days = [month_number(n) for n in range(end - known, end + left)]
        said.append(Ahead(days[:known], days[known:]).chance(past, least))
        came.append(coming.sum() >= least)
    return np.array(said), np.array(came)


def test_of_the_times_that_a_chance_is_said_so_many_come_true() -> None:
    said, came = judged(900, seed=20)
    for low, high in ((0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9)):
        there = (said >= low) & (said < high)
        assert there.sum() > 100
        # within chance: three standard errors of a share of so many
        expected = said[there].mean()
        off = 3 * np.sqrt(expected * (1 - expected) / there.sum())
        assert came[there].mean() == pytest.approx(expected, abs=off), (low, high)


def test_of_months_that_only_scatter_it_is_students_t(monkeypatch: pytest.MonkeyPatch) -> None:
    # a sum of m months after n alike: t with n - 1 degrees about m means, scale s * sqrt(m + m² / n): the usual
    # prediction interval for a normal sample (Box and Tiao 1973, as above; Hahn and Meeker, "Statistical Intervals")
    for name in ("SEASONS", "YEARS", "TRENDS"):
        monkeypatch.setattr(estimate, name, (0.0,))
    values = np.array([100.0, 140, 90, 120, 110, 130, 95, 125, 105, 135, 115, 85])
    for left in (1, 5):
        days = [month_number(n) for n in range(12 + left)]
        ahead = Ahead(days[:12], days[12:])
        scale = values.std(ddof=1) * np.sqrt(left + left**2 / 12)
        nine_in_ten = left * values.mean() - 1.363430 * scale  # t(11), 90 %, of any table
        assert ahead.chance(values, nine_in_ten) == pytest.approx(0.9, abs=1e-6)
        assert reached_at(lambda least, at=ahead: at.chance(values, least), 0.9, 0, 50) == pytest.approx(
            nine_in_ten, abs=1e-3
        )
        assert ahead.chance(values, left * values.mean()) == pytest.approx(0.5)


def days_left(shops: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """As `judged`, on a day of the year's last month: sales of each day, rent on the first, what came after it."""
    rng = np.random.default_rng(seed)
    said, came = [], []
    for number in range(shops):
        rate, rent = rng.choice([1.5, 6.0]), 60_000 * (number % 2)
        # (month, day): what the day's sales left
        days = rng.poisson(rate / 30, (36, 30)) * 20_000.0
        past, day = days[:35].sum(axis=1) - rent, int(rng.integers(3, 29))
        sold = np.flatnonzero(days.ravel()[: 35 * 30 + day])
        known = min(day, int(sold[-1]) + 1 + int(np.quantile(np.diff(sold), 0.9)) - 35 * 30)
        frame = months([*(int(each) for each in past), int(days[35, :day].sum()) - rent], start=48)
        running = running_month(date(2026, 12, 1), known / 30, round(rent * (1 - known / 30))) if known > 0 else None
        least = past[24:].sum() + np.round(np.mean(past) + 1.3 * rng.normal() * np.std(past))
        (row,) = told(frame, running, result_cents=int(least))
        said.append(row["goal_chance"])
        came.append(past[24:].sum() + days[35].sum() - rent >= least)
    return np.array(said), np.array(came)


def test_of_the_month_that_runs_only_what_is_still_to_come_is_a_guess() -> None:
    said, came = days_left(400, seed=3)
    score = np.mean((said - came) ** 2)
    expected = np.mean(said * (1 - said))
    assert score == pytest.approx(expected, abs=0.03)
    assert score < 0.14
    assert said.mean() == pytest.approx(came.mean(), abs=3 * np.sqrt(expected / len(said)))


def running_month(month: date, known_share: float, ahead_cents: int) -> dict[str, object]:
    return {"month": month, "known_share": known_share, "ahead_cents": ahead_cents}


def months(cents: list[int], start: int = 60, hours: float = 100, running: bool = True) -> pl.DataFrame:
    n = len(cents)
    return pl.DataFrame(
        {
            "month": [month_number(start + number) for number in range(n)],
            "whole": [True] * (n - 1) + [not running],
            "recorded": [True] * n,
            "result_cents": cents,
            "owners_result_cents": [each + 200_000 for each in cents],
            "owner_hours": [hours] * n,
            "pieces_sold": [10] * n,
        }
    )


def told(
    frame: pl.DataFrame, running: dict | None = None, begin: date = date(2020, 1, 1), **wanted: float
) -> list[dict]:
    row = {"year": 2026, "row_id": 1, "result_cents": None, "pay_cents": None, "pieces": None} | wanted
    schema = {
        "year": pl.Int64,
        "row_id": pl.Int64,
        "result_cents": pl.Int64,
        "pay_cents": pl.Float64,
        "pieces": pl.Int64,
    }
    found = goal(
        {
            "money.month": frame,
            "settings.goal": pl.DataFrame([row], schema=schema),
            "settings.shop": pl.DataFrame({"start": [begin]}),
            "money.running_month": pl.DataFrame(
                [running] if running else [],
                schema={"month": pl.Date, "known_share": pl.Float64, "ahead_cents": pl.Int64},
            ),
        }
    )
    assert found.columns == list(COLUMNS)
    return found.to_dicts()


def test_what_is_sure_is_not_more_than_sure() -> None:
    rng = np.random.default_rng(3)
    for known in range(FEWEST, 37):
        ahead = Ahead([month_number(n) for n in range(known)], [month_number(known + n) for n in range(5)])
        of = ahead.given(rng.normal(1000, 100, known))
        assert 0.999 < of(-1e9) <= 1
        assert 0 <= of(1e9) < 0.001


SPREAD = [100_000, 120_000, 80_000, 110_000, 90_000, 105_000, 95_000]


def test_what_runs_is_still_to_come_and_few_months_say_nothing() -> None:
    # the records begin in January 2025; in August 2026 nineteen months are over
    frame = months(SPREAD * 2 + SPREAD[:6], start=60)
    (row,) = told(frame, result_cents=1_200_000)
    assert (row["months"], row["months_left"], row["known_months"]) == (7, 5, 19)
    assert row["so_far"] == sum(frame["result_cents"].to_list()[12:19])
    assert row["likely_low"] < row["so_far"] + 5 * 100_000 < row["likely_high"]
    assert 0.3 < row["goal_chance"] < 0.8
    few = months([*SPREAD[: FEWEST - 1], 0], start=72)
    (row,) = told(few, result_cents=1_200_000)
    assert (row["known_months"], row["goal_chance"], row["likely_low"], row["reached"]) == (
        FEWEST - 1,
        None,
        None,
        None,
    )


def test_a_year_that_is_over_was_reached_or_missed() -> None:
    frame = months(SPREAD + SPREAD[:5], start=72, running=False)
    made = sum(SPREAD + SPREAD[:5])
    assert [told(frame, result_cents=made + more)[0]["reached"] for more in (0, 1)] == [True, False]
    assert told(frame, pieces=120)[0]["reached"]
    # what the owners were left is 200,000 more a month, over 100 hours
    pay = (made + 12 * 200_000) / 1200
    assert [told(frame, pay_cents=pay + more)[0]["reached"] for more in (-1, 1)] == [True, False]


def test_pay_for_an_hour_is_of_all_hours_together() -> None:
    frame = months(SPREAD * 2 + SPREAD[:6], start=60)
    usual = 3000.0  # (100,000 + 200,000) over 100 hours
    sure, even, hardly = (told(frame, pay_cents=usual + more)[0]["goal_chance"] for more in (-150, 0, 150))
    assert sure > 0.9 > even > 0.1 > hardly
    (row,) = told(frame, pay_cents=usual)
    assert row["likely_low"] < usual < row["likely_high"]
    (row,) = told(months(SPREAD * 2 + SPREAD[:6], start=60, hours=0), pay_cents=usual)
    assert (row["goal_chance"], row["so_far"]) == (None, None)


def test_pieces_that_are_handed_over_stay_so_and_several_goals_stand_apart() -> None:
    frame = months(SPREAD * 2 + SPREAD[:6], start=60)
    rows = told(frame, pieces=80, result_cents=1, pay_cents=1.0)
    assert [row["goal_kind"] for row in rows] == ["result", "pay", "pieces"]
    assert (rows[2]["reached"], rows[2]["goal_chance"]) == (True, None)  # seven months and the one that runs: 80
    (row,) = told(frame, pieces=81)
    assert (row["reached"], row["so_far"]) == (None, 70)
    assert row["likely_low"] >= 80


def test_no_goal_and_no_month_say_nothing() -> None:
    assert told(months([0]).clear(), result_cents=5)[0]["goal_chance"] is None
    assert told(months(SPREAD * 2 + SPREAD[:6], start=60)) == []


def test_a_year_is_missed_only_where_all_its_months_were_looked_at() -> None:
    frame = months(SPREAD + SPREAD[:5], start=72, running=False)
    made = sum(SPREAD + SPREAD[:5])
    gap = frame.with_columns(recorded=pl.col("month").dt.month() != 5)
    hours = {"months": 11, "months_unrecorded": 1, "months_left": 0}
    for wanted in ({"result_cents": made + 1}, {"result_cents": made}, {"pay_cents": 9999.0}, {"pieces": 121}):
        (row,) = told(gap, **wanted)
        assert row["reached"] is None
        assert {name: row[name] for name in hours} == hours
    assert told(gap, pieces=120)[0]["reached"]
    # no hours of the owners: what one paid was neither reached nor missed
    assert told(months(SPREAD + SPREAD[:5], start=72, hours=0, running=False), pay_cents=1.0)[0]["reached"] is None


def test_a_year_before_the_records_was_neither_reached_nor_missed() -> None:
    frame = months(SPREAD * 2 + SPREAD[:6], start=72)
    for wanted in ({"result_cents": 1}, {"pay_cents": 1.0}, {"pieces": 1}):
        (row,) = told(frame, **(wanted | {"year": 2025}))
        assert (row["reached"], row["goal_chance"], row["so_far"]) == (None, None, None)
        assert (row["months"], row["months_unrecorded"], row["months_left"]) == (0, 12, 0)
    # begun in May, and May runs: what was before it is not to come
    (row,) = told(months([5], start=76), result_cents=1)
    assert (row["months"], row["months_unrecorded"], row["months_left"]) == (0, 4, 8)
    # a year ahead is to come as a whole
    (row,) = told(frame, result_cents=1_200_000, year=2028)
    assert (row["months"], row["months_unrecorded"], row["months_left"]) == (0, 0, 12)
    assert 0.2 < row["goal_chance"] < 0.8


def test_a_first_month_of_a_few_days_says_nothing_of_whole_ones() -> None:
    frame = months([-400_000, *SPREAD, *SPREAD, *SPREAD[:3]], start=60)
    part, whole = (told(frame, begin=day, result_cents=1)[0] for day in (date(2025, 1, 20), date(2025, 1, 7)))
    assert (part["known_months"], whole["known_months"]) == (16, 17)
    assert part["likely_low"] > whole["likely_low"]


def test_what_the_last_days_of_the_year_can_still_bring_is_little() -> None:
    # eleven months of ten pieces, and the 30th of December
    frame = months([*SPREAD, *SPREAD[:4], 90_000], start=72).with_columns(
        pieces_sold=pl.Series([9, 11, 10, 8, 12, 10, 10, 9, 11, 10, 10, 8])
    )
    running = running_month(date(2026, 12, 1), 30 / 31, 0)
    assert told(frame, running, pieces=118)[0]["reached"]
    assert told(frame, running, pieces=122)[0]["goal_chance"] < 0.05
    there = sum(frame["result_cents"].to_list())
    assert told(frame, running, result_cents=there - 1_000)[0]["goal_chance"] > 0.6
    assert told(frame, running, result_cents=there + 60_000)[0]["goal_chance"] < 0.1
    paid = (there + 12 * 200_000) / 1200
    assert told(frame, running, pay_cents=paid + 60)[0]["goal_chance"] < 0.1
    assert told(frame, running, pay_cents=paid - 60)[0]["goal_chance"] > 0.9
