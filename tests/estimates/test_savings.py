"""The tables `quality.saving` and `quality.change`."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from made_outcomes import PRACTICES, outcome, shop

from pipeline.estimates.rates import adjusted
from pipeline.estimates.savings import CHANGE, SAVING, change, saving


def changes(*days: tuple[str, date]) -> pl.DataFrame:
    return pl.DataFrame(days, schema={"name": pl.String, "day": pl.Date}, orient="row")


def saved(judged: pl.DataFrame) -> pl.DataFrame:
    return saving({"quality._outcome": judged, "quality._adjusted": adjusted({"quality._judged": judged})})


def test_what_stopping_a_bad_practice_saves() -> None:
    """About a quarter of 400 pieces were made in the cold, 24 months, 0.3 more reworks each, of ten dollars."""
    made = shop()
    frame = saved(made)
    cold = frame.row(by_predicate=pl.col("factor") == "cold", named=True)
    assert (cold["level"], cold["months"]) == ("yes", 24)
    assert cold["low"] < made.filter("cold").height * 0.3 * 1000 / 24 < cold["high"]
    assert cold["chance_positive"] > 0.99
    assert frame["cents_per_month"].is_sorted(descending=True)
    assert cold["clear"]
    elm = frame.row(by_predicate=pl.col("level") == "elm", named=True)
    assert elm["low"] < 0 < elm["high"]
    assert not elm["clear"]


def test_in_a_shop_without_causes_hardly_anything_is_shown_to_go_with_more_rework() -> None:
    """Eleven factors are looked at: of intervals of 9 in 10 one is clear of zero in a third of such shops."""
    shown, unasked = 0, 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        practices = {name: rng.random(200) < 0.3 for name in PRACTICES}
        frame = shop(200, cold_effect=0.0, seed=seed).with_columns(
            pl.Series(rng.random(200) < 0.2).alias("reworked"),
            pl.lit("oil").alias("finish"),
            *(pl.Series(name, values) for name, values in practices.items()),
            pl.Series("product", rng.choice(["board", "tray", "box"], 200)),
            pl.Series("supplier", rng.choice(["A", "B", "C"], 200)),
            pl.lit(1000).alias("rework_cents"),
        )
        found = saved(frame)
        shown += found["clear"].any()
        unasked += (found["low"] > 0).any()
    assert shown <= 3
    assert unasked > shown


def test_a_large_shop_saves_what_the_counts_say() -> None:
    """2,000 pieces each, 30 and 10 % reworked, 500 cents a rework, one month: 2,000 * 0.2 * 500."""
    each = {"finish": "oil", "month": date(2026, 5, 1)}
    rows = [
        each | {"species": species, "reworked": i < bad, "rework_cents": 500 * (i < bad)}
        for species, bad in (("elm", 600), ("oak", 200))
        for i in range(2000)
    ]
    frame = saved(outcome(*rows)).filter(pl.col("factor") == "species")
    assert frame["level"].to_list() == ["elm", "oak"]
    assert frame["cents_per_month"].to_list() == pytest.approx([200_000, -200_000], rel=0.03)
    assert frame["low"][0] < 200_000 < frame["high"][0]


def test_nothing_to_save() -> None:
    one = {"species": "elm", "finish": "oil", "month": date(2026, 5, 1), "reworked": False}
    for rows in ([], [one], [one, one | {"species": "oak"}], [one | {"month": None, "reworked": True}]):
        frame = saved(outcome(*rows))
        assert (frame.columns, len(frame)) == (list(SAVING), 0)


def test_a_change_that_helped_and_one_that_did_nothing() -> None:
    made = shop(600)
    heater = date(2025, 1, 1)
    helped = made.with_columns(reworked=pl.col("reworked") & ((pl.col("month") < heater) | ~pl.col("cold")))
    tables = {"quality._judged": helped, "settings.change": changes(("heater", heater))}
    row = change(tables).row(by_predicate=pl.col("measure") == "rework", named=True)
    assert row["chance_lower"] > 0.95
    assert row["low"] < row["difference"] < row["high"] < 0
    assert row["pieces_before"] + row["pieces_after"] == 600
    nothing = change(tables | {"quality._judged": made}).row(by_predicate=pl.col("measure") == "rework", named=True)
    assert 0.05 < nothing["chance_lower"] < 0.95


def fell(seed: int, after: float) -> dict[str, object]:
    """300 pieces over two years, of which those that come back fall from 28 to 12 %; after 2025 `after` times that."""
    rng = np.random.default_rng(seed)
    month = np.arange(300) * 24 // 300
    finish = rng.choice(["oil", "flood coat"], 300)
    rate = np.interp(month, (0, 23), (0.28, 0.12)) * np.where(month < 12, 1.0, after)
    rows = zip(month.tolist(), finish.tolist(), (rng.random(300) < rate).tolist(), strict=True)
    pieces = [{"month": date(2024 + m // 12, m % 12 + 1, 1), "finish": f, "reworked": r} for m, f, r in rows]
    tables = {"quality._judged": outcome(*pieces), "settings.change": changes(("heater", date(2025, 1, 1)))}
    return change(tables).row(by_predicate=pl.col("measure") == "rework", named=True)


def test_a_change_is_laid_beside_the_trend_that_the_shop_was_on() -> None:
    """The plain comparison takes a shop that learns for one that a change helped; beside its own trend that is rare.
    A change that halves the rework on top is found more often plainly, and now and then beside the trend."""
    learns, halved = [fell(seed, 1.0) for seed in range(40)], [fell(seed, 0.5) for seed in range(40)]

    def sure(rows: list[dict[str, object]], column: str) -> int:
        return sum(row[column] >= 0.95 for row in rows)

    assert sure(learns, "chance_lower") >= 10
    assert sure(learns, "chance_lower_beside_trend") <= 4
    assert sure(halved, "chance_lower") >= 30
    assert sure(halved, "chance_lower_beside_trend") >= 6
    assert all(row["trend_low"] <= row["trend_difference"] <= row["trend_high"] for row in learns)


def test_it_is_said_that_rework_fell_already_before() -> None:
    falls = [fell(seed, 1.0)["chance_falling"] for seed in range(40)]
    assert np.mean(falls) > 0.6
    even = {"finish": "oil", "scrapped": False}
    rows = [even | {"month": date(2024, m + 1, 1), "reworked": i % 5 == 0} for m in range(12) for i in range(20)]
    tables = {"quality._judged": outcome(*rows), "settings.change": changes(("heater", date(2024, 7, 1)))}
    row = change(tables).row(by_predicate=pl.col("measure") == "rework", named=True)
    assert row["chance_falling"] == pytest.approx(0.5, abs=0.01)
    assert row["trend_difference"] == pytest.approx(0, abs=0.01)


def test_a_worse_mix_after_the_change_is_not_held_against_it() -> None:
    """Twice as many flood coats afterwards, each finish as before: the raw rate rises, the adjusted one hardly does."""
    before, after = date(2026, 1, 1), date(2026, 3, 1)
    rows = [
        {"species": "oak", "finish": finish, "month": month, "reworked": i < pieces * share / 100}
        for month, flood in ((before, 100), (after, 300))
        for finish, pieces, share in (("flood coat", flood, 40), ("oil", 400 - flood, 10))
        for i in range(pieces)
    ]
    frame = change({"quality._judged": outcome(*rows), "settings.change": changes(("grit order", date(2026, 2, 10)))})
    row = frame.row(by_predicate=pl.col("measure") == "rework", named=True)
    assert row["events_after"] - row["events_before"] == 60  # 15 points in the raw rate
    assert row["difference"] == pytest.approx(0, abs=0.02)


def test_the_month_of_a_change_counts_only_if_it_began_with_it() -> None:
    rows = [{"species": "oak", "finish": "oil", "month": date(2026, m, 1), "reworked": m == 1} for m in (1, 2, 3)]
    for day, after in ((date(2026, 2, 1), 2), (date(2026, 2, 2), 1)):
        frame = change({"quality._judged": outcome(*rows), "settings.change": changes(("new resin", day))})
        row = frame.row(by_predicate=pl.col("measure") == "rework", named=True)
        assert (row["pieces_before"], row["pieces_after"]) == (1, after)


def test_no_change_or_nothing_on_one_side() -> None:
    made = {"quality._judged": shop(50)}
    assert change(made | {"settings.change": changes()}).columns == list(CHANGE)
    assert change(made | {"settings.change": changes(("too early", date(2020, 1, 1)))}).is_empty()
    assert change({"quality._judged": outcome(), "settings.change": changes(("heater", date(2026, 1, 1)))}).is_empty()
