"""The distribution of a cost, and its calibration by leave-one-out conformal prediction."""

import numpy as np
import polars as pl
import pytest
from far_shops import KINDS, predicted, unsized
from made_shops import made_shop
from scipy.stats import beta, kstest

from pipeline.estimates.quote_rates import HourCents
from pipeline.estimates.quote_spread import (
    LEVELS,
    Models,
    Spread,
    code_both,
    conformal_levels,
    fit_both,
    spread,
    usable,
    work,
)


@pytest.mark.parametrize(
    ("n", "k", "quantiles"),
    [
        (24, 20, (0.6582, 0.8081, 0.9141)),
        (40, 33, (0.6963, 0.8099, 0.8964)),
        (64, 52, (0.7140, 0.8031, 0.8755)),
        (160, 129, (0.7476, 0.8025, 0.8506)),
    ],
)
def test_coverage_of_a_calibrated_level_is_beta(n: int, k: int, quantiles: tuple[float, ...]) -> None:
    # Vovk; Angelopoulos & Bates 2021 (arXiv 2107.07511): coverage given n calibration pieces is Beta(k, n + 1 − k);
    # its quantiles recomputed with scipy
    assert beta.ppf([0.05, 0.5, 0.95], k, n + 1 - k) == pytest.approx(quantiles, abs=5e-5)
    places = np.sort(np.random.default_rng(n).random((2_000, n)), axis=1)
    covered = [conformal_levels(row, np.array([0.8]))[0] for row in places]
    assert kstest(covered, beta(k, n + 1 - k).cdf).pvalue > 0.01
    # one place lower is another distribution: the check can fail
    assert kstest(covered, beta(k - 1, n + 2 - k).cdf).pvalue < 0.01


def test_calibrated_levels_keep_their_order_and_their_sides() -> None:
    places = np.sort(np.random.default_rng(0).random(37))
    found = conformal_levels(places, LEVELS)
    assert (np.diff(found) >= 0).all()
    # 38 × 0.9 = 34.2 and 38 × 0.1 = 3.8: outward, so that at least four in five fall between
    assert found[89] == places[34]
    assert found[9] == places[2]


def test_without_enough_history_levels_stand() -> None:
    assert conformal_levels(np.empty(0), LEVELS) is LEVELS


def models_of(shop: pl.DataFrame) -> Models:
    past = work(usable(shop))
    return fit_both(past, code_both(past), past.frame.height)


def spread_at(models: Models, cents: float, new: pl.DataFrame) -> Spread:
    """At so many cents of a bench hour, past and new."""
    past = np.full(models.n, cents)
    return spread(models, HourCents(past, past), np.full(new.height, cents), new)


def test_rework_is_taken_out_of_hours_and_material() -> None:
    # two pieces alike, the second with 2 h of rework at 30 an hour and 15 of material that has since doubled
    shop = made_shop(0, 2).with_columns(
        bench_seconds=pl.Series([18_000, 25_200]),
        labour_cents=pl.Series([15_000, 21_000]),
        material_cents=pl.Series([3_000, 4_500]),
        material_cents_today=pl.Series([6_000, 9_000]),
        rework_seconds=pl.Series([0, 7_200]),
        rework_cents=pl.Series([0, 7_500]),
        reworked=pl.Series([False, True]),
    )
    found = work(shop)
    assert found.hours == pytest.approx([5, 5])
    assert found.cents == pytest.approx([6_000, 6_000])
    assert found.rework_hours == pytest.approx([0, 2])
    assert found.rework_cents == pytest.approx([0, 3_000])
    hour = np.full(2, 3_000.0)
    assert found.clean(hour) == pytest.approx([21_000, 21_000])
    assert found.cost(hour) == pytest.approx([21_000, 30_000])


def test_a_run_counts_by_the_unit_and_extras_are_taken_out() -> None:
    shop = made_shop(0, 1).with_columns(
        quantity=pl.lit(4),
        bench_seconds=pl.lit(36_000),
        material_cents_today=pl.lit(8_000),
        reworked=pl.lit(False),
        rework_seconds=pl.lit(0),
        rework_cents=pl.lit(0),
        extra_seconds=pl.lit(7_200),
        extra_material_cents=pl.lit(2_000),
    )
    found = work(shop)
    assert (found.hours[0], found.cents[0]) == pytest.approx((2, 1_500))


def test_pieces_without_hours_or_material_are_left_out() -> None:
    shop = made_shop(0, 4).with_columns(
        bench_seconds=pl.Series([0, 3_600, 3_600, 3_600]),
        material_cents_today=pl.Series([100, None, 100, 100]),
        finished=pl.Series([None, None, None, 5], dtype=pl.Int32).cast(pl.Date),
    )
    assert usable(shop)["piece"].to_list() == ["P-004"]


def test_a_dearer_hour_moves_the_spread_by_its_share() -> None:
    shop = made_shop(1, 120)
    models = models_of(shop)
    before, after = (spread_at(models, cents, shop[:1]) for cents in (2_500, 2_875))
    bench = float(before.middle.hours[0]) * 2_500
    share = bench / (bench + float(before.middle.cents[0]))
    assert after.at(0.5)[0] / before.at(0.5)[0] == pytest.approx(1 + 0.15 * share, abs=0.02)


def test_the_spread_has_its_sources_and_is_wider_for_what_was_never_made() -> None:
    shop = made_shop(1, 120)
    models = models_of(shop)
    new = pl.concat([shop[:1], shop[:1].with_columns(product=pl.lit("cradle"), species=pl.lit("yew"))])
    found = spread_at(models, 2_500, new)
    assert (np.diff(found.cents, axis=1) > 0).all()
    width = found.at(0.9) / found.at(0.1)
    assert width[1] > 1.5 * width[0]
    for row in (0, 1):
        assert sum(found.sources(row).values()) == pytest.approx(1)
    assert found.sources(1)["hours"] > found.sources(0)["hours"]


def test_hands_that_cost_differently_widen_the_spread() -> None:
    shop = made_shop(1, 160)
    models = models_of(shop)
    even = np.full(160, 2_500.0)
    mixed = even * np.exp(np.random.default_rng(0).choice([-0.4, 0.4], 160))
    narrow, wide = (spread(models, HourCents(even, own), even[:1], shop[:1]) for own in (even, mixed))
    assert wide.at(0.9)[0] / wide.at(0.1)[0] > 1.2 * narrow.at(0.9)[0] / narrow.at(0.1)[0]


def test_chance_of_a_cost_above_goes_with_the_levels() -> None:
    shop = made_shop(1, 120)
    found = spread_at(models_of(shop), 2_500, shop[:1])
    assert found.chance_above(float(found.at(0.8)[0])) == pytest.approx(0.2)
    assert found.chance_above(0) == pytest.approx(0.99)


def test_sizes_unknown_everywhere_are_no_harm() -> None:
    shop = made_shop(1, 40).with_columns(area_mm2=pl.lit(None, pl.Int64), volume_mm3=pl.lit(None, pl.Int64))
    found = spread_at(models_of(shop), 2_500, shop[:3])
    assert np.isfinite(found.cents).all()


def test_missing_sizes_leave_large_pieces_unbiased() -> None:
    # 12 shops whose products differ in size; a piece large for its product was 29 % too cheap when all unknown sizes
    # counted as the shop's middle one
    found = [unsized(seed, KINDS["size goes with product"]) for seed in range(12)]
    error = np.concatenate([np.log(spread.at(0.5) / cost) for cost, spread, _ in found])
    large = np.concatenate([own for _, _, own in found]) > 0.35
    assert abs(error.mean()) < 0.05
    assert abs(error[large].mean()) < 0.08


def test_a_piece_of_unknown_size_is_less_sure() -> None:
    shop = made_shop(2, 160)
    gone = pl.Series(np.random.default_rng(3).random(160) < 0.35)
    shop = shop.with_columns(pl.when(~gone).then(pl.col(c)).alias(c) for c in ("area_mm2", "volume_mm3"))
    new = shop[[0, 0]].with_columns(
        area_mm2=pl.Series([60_000, None], dtype=pl.Int64), volume_mm3=pl.Series([1_200_000, None], dtype=pl.Int64)
    )
    _, spread = predicted(shop, new)
    width = spread.at(0.9) / spread.at(0.1)
    assert width[1] > 1.1 * width[0]
