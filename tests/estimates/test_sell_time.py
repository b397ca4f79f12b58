"""Time to sell, against the 6-MP remissions of Freireich et al., Blood 21:699-716 (1963).

Curve and standard errors as printed by R's survfit in a course note on Klein & Moeschberger's example 4.1; log-log
limits recomputed with the library lifelines (R's own default is on the log scale).
"""

from datetime import date

import polars as pl
import pytest

from pipeline.estimates.sell_time import CURVE_COLUMNS, kaplan_meier, medians, sell_times, waits

SIX_MP = "10 7 32+ 23 22 6 16 34+ 32+ 25+ 11+ 20+ 19+ 6 17+ 35+ 6 13 9+ 6+ 10+"
PLACEBO = "1 22 3 12 8 17 2 11 8 12 2 5 4 15 8 23 5 11 4 1 8"
CURVE = (
    (6, 21, 3, 0.857, 0.0764, 0.619718, 0.951552),
    (7, 17, 1, 0.807, 0.0869, 0.563147, 0.922809),
    (10, 15, 1, 0.753, 0.0963, 0.503200, 0.889362),
    (13, 12, 1, 0.690, 0.1068, 0.431610, 0.849066),
    (16, 11, 1, 0.627, 0.1141, 0.367511, 0.804912),
    (22, 7, 1, 0.538, 0.1282, 0.267779, 0.746791),
    (23, 6, 1, 0.448, 0.1346, 0.188052, 0.680143),
)


def trial() -> pl.DataFrame:
    frames = []
    for level, times in (("6-MP", SIX_MP), ("placebo", PLACEBO)):
        days = times.split()
        frames.append(
            pl.DataFrame(
                {
                    "factor": ["drug"] * len(days),
                    "level": [level] * len(days),
                    "days": [int(d.rstrip("+")) for d in days],
                    "is_sold": [not d.endswith("+") for d in days],
                }
            )
        )
    return pl.concat(frames)


def test_published_curve() -> None:
    curve = kaplan_meier(trial()).filter(pl.col("level") == "6-MP").sort("wait_days")
    for row, (day, risk, events, share, se, low, high) in zip(curve.iter_rows(named=True), CURVE, strict=True):
        assert (row["wait_days"], row["at_risk"], row["sold_pieces"]) == (day, risk, events)
        assert row["unsold_share"] == pytest.approx(share, abs=5e-4)
        assert row["se"] == pytest.approx(se, abs=5e-5)
        assert row["unsold_low_share"] == pytest.approx(low, abs=2e-6)
        assert row["unsold_high_share"] == pytest.approx(high, abs=2e-6)


def test_published_medians() -> None:
    found = dict(medians(kaplan_meier(trial())).select("level", "median_days").iter_rows())
    assert found == {"6-MP": 23, "placebo": 8}


def test_an_unsold_piece_counted_as_sold_shows() -> None:
    # one mis-coded row of the trial moves the curve at 10 weeks from 0.753 to 0.699
    wrong = trial().with_columns(is_sold=pl.col("is_sold") | (pl.int_range(pl.len()) == 20))
    curve = kaplan_meier(wrong).filter(pl.col("level") == "6-MP")
    assert curve.filter(pl.col("wait_days") == 10)["unsold_share"].item() == pytest.approx(0.699160, abs=1e-6)


def history(rows: list[tuple[str, str | None, int | None, int | None, int | None]]) -> pl.DataFrame:
    """Pieces as (product, channel, price, day listed, day sold) with days of January 2026."""
    return pl.DataFrame(
        [
            (product, channel, price, date(2026, 1, 1), listed and date(2026, 1, listed), sold and date(2026, 1, sold))
            for product, channel, price, listed, sold in rows
        ],
        schema={
            "product": pl.String,
            "channel": pl.String,
            "price_cents": pl.Int64,
            "finished": pl.Date,
            "listed": pl.Date,
            "sold": pl.Date,
        },
        orient="row",
    )


def test_waits_of_a_shop() -> None:
    shop = history(
        [
            ("box", "web", 1_000, 2, 5),
            ("box", None, None, 2, None),
            ("box", "fair", 2_000, None, 4),
            ("tray", "web", 3_000, 8, 6),
        ]
    )
    found = waits(shop, date(2026, 1, 31))

    def of(factor: str, level: str) -> list[tuple[int, bool]]:
        part = found.filter((pl.col("factor") == factor) & (pl.col("level") == level))
        return sorted(part.select("days", "is_sold").rows())

    # not listed = from the day it was finished; sold before it was listed = no wait
    assert of("all", "") == [(0, True), (3, True), (3, True), (29, False)]
    assert of("product", "box") == [(3, True), (3, True), (29, False)]
    # a piece sold elsewhere was not sold here by then; an unsold one still may be
    assert of("channel", "fair") == [(0, False), (3, False), (3, True), (29, False)]
    assert of("price", "lower third") == [(3, True)]
    assert of("price", "upper third") == [(0, True)]


def test_a_piece_that_came_back_and_was_scrapped_waits_no_longer() -> None:
    shop = history([("box", None, None, 2, None), ("box", None, None, 2, None)])
    gone = shop.with_columns(gone=pl.Series([date(2026, 1, 12), None], dtype=pl.Date))
    found = waits(gone, date(2026, 1, 31)).filter(pl.col("factor") == "all")
    assert found.select("days", "is_sold").rows() == [(10, False), (29, False)]


def test_what_was_made_to_order_is_in_no_waiting_time() -> None:
    """Of four boxes two were made to order: of the others one was sold after 10 days, and one waits."""
    rows = [("box", "web", 1_000, 1, 11), ("box", None, None, 1, None), *[("box", "web", 9_000, 1, 2)] * 2]
    shop = history(rows).with_columns(made_to_order=pl.Series([False, False, True, True]))
    found = sell_times(waits(shop, date(2026, 1, 31)))
    for factor, level in (("product", "box"), ("channel", "web"), ("all", "")):
        row = found.row(by_predicate=(pl.col("factor") == factor) & (pl.col("level") == level), named=True)
        assert (row["pieces"], row["sold_pieces"], row["ordered_pieces"]) == (2, 1, 2), factor
        assert row["median_days"] == 10
    only = sell_times(waits(shop.filter("made_to_order"), date(2026, 1, 31)))
    row = only.row(by_predicate=pl.col("factor") == "product", named=True)
    assert (row["pieces"], row["ordered_pieces"], row["median_days"]) == (0, 2, None)


def test_median_only_where_half_is_sold() -> None:
    shop = history([("box", "web", 1_000, 1, 3), ("box", None, None, 1, None), ("box", None, None, 1, None)])
    times = sell_times(waits(shop, date(2026, 1, 31))).filter(pl.col("factor") == "product")
    assert times.select("pieces", "sold_pieces", "median_days").row(0) == (3, 1, None)


def test_a_shop_without_pieces() -> None:
    empty = waits(history([]), date(2026, 1, 31))
    assert sell_times(empty).is_empty()
    assert set(CURVE_COLUMNS) < set(kaplan_meier(empty).columns)
