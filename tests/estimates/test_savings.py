"""The tables `quality.saving` and `quality.change`."""

from datetime import date

import polars as pl
import pytest
from made_outcomes import outcome, shop

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
    elm = frame.row(by_predicate=pl.col("level") == "elm", named=True)
    assert elm["low"] < 0 < elm["high"]


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
    assert row["chance_helped"] > 0.95
    assert row["low"] < row["difference"] < row["high"] < 0
    assert row["pieces_before"] + row["pieces_after"] == 600
    nothing = change(tables | {"quality._judged": made}).row(by_predicate=pl.col("measure") == "rework", named=True)
    assert 0.05 < nothing["chance_helped"] < 0.95


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
