"""Intervals and limits against published examples and libraries."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable

from pipeline.estimates._intervals import g_chart, mantel_haenszel, p_chart, wilson

# qcc (R package), data/orangejuice.txt and docs/articles/qcc.html; the wafers of NIST/SEMATECH e-Handbook 6.3.3.2 have
# the same mean. Cans that leak, of 50 in each sample.
JUICE = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
JUICE_LATER = [9, 6, 12, 5, 6, 4, 6, 3, 7, 6, 2, 4, 3, 6, 5, 4, 8, 5, 6, 7, 5, 6, 3, 5]


def test_13_of_16() -> None:
    # Fagerland, Lydersen and Laake 2017, chapter 2; contingencytables (R package), tests/testthat/test-ch2.R
    assert wilson(13, 16) == pytest.approx((0.5699, 0.9341), abs=5e-5)


@pytest.mark.parametrize(
    ("events", "pieces", "published"),
    # Newcombe, Statistics in Medicine 17:857-872 (1998); all but the first row's Wilson limits are from memory
    [
        (81, 263, (0.2553, 0.3662)),
        (15, 148, (0.0624, 0.1605)),
        (0, 20, (0.0000, 0.1611)),
        (1, 29, (0.0061, 0.1718)),
    ],
)
def test_newcombes_examples(events: int, pieces: int, published: tuple[float, float]) -> None:
    assert wilson(events, pieces) == pytest.approx(published, abs=5.1e-5)


def test_intervals_agree_with_the_libraries_for_whole_arrays() -> None:
    pieces = np.repeat(np.arange(1, 40, 6), 3)
    events = pieces * np.tile([0, 1, 2], len(pieces) // 3) // 2
    low, high = wilson(events, pieces)
    theirs = [
        stats.binomtest(int(x), int(n)).proportion_ci(method="wilson") for x, n in zip(events, pieces, strict=True)
    ]
    np.testing.assert_allclose(low, [t.low for t in theirs], atol=1e-12)
    np.testing.assert_allclose(high, [t.high for t in theirs], atol=1e-12)


def test_no_pieces_say_nothing() -> None:
    assert wilson(0, 0) == pytest.approx((0, 1))


def test_mantel_haenszel_smoking_and_lung_cancer_by_sex() -> None:
    # Doll and Hill 1950; Fagerland et al. 2017, chapter 10; contingencytables, tests/testthat/test-ch10.R. What is
    # called Breslow-Day there is Tarone's test. The interval printed there (2.3556 to 8.6880) does not follow from the
    # formula of Robins, Breslow and Greenland, so that is checked against statsmodels.
    tables = [[[647, 622], [2, 27]], [[41, 28], [19, 32]]]
    ours = mantel_haenszel(tables)
    assert ours.odds_ratio == pytest.approx(4.5239, abs=5e-5)
    assert ours.chi_square == pytest.approx(24.920, abs=5e-4)
    assert (ours.tarone, ours.tarone_p_value) == (pytest.approx(5.175, abs=5e-4), pytest.approx(0.02292, abs=5e-6))
    theirs = StratifiedTable([np.array(t) for t in tables])
    assert (ours.low, ours.high) == pytest.approx(theirs.oddsratio_pooled_confint(), rel=1e-9)
    assert ours.p_value == pytest.approx(theirs.test_null_odds(correction=False).pvalue, rel=1e-9)


def test_mantel_haenszel_smoking_and_lung_cancer_in_eight_cities() -> None:
    # Liu, International Journal of Epidemiology 21:197-201 (1992), as shipped with statsmodels: smokers with and
    # without cancer, others with and without; the summary of statsmodels' documentation is from memory
    cities = """126 100 35 61 908 688 497 807 913 747 336 598 235 172 58 121
    402 308 121 215 182 156 72 98 60 99 11 43 104 89 21 36"""
    ours = mantel_haenszel(np.array(cities.split(), dtype=float).reshape(-1, 2, 2))
    assert (ours.odds_ratio, ours.low, ours.high) == pytest.approx((2.174, 1.984, 2.383), abs=5.1e-4)
    assert ours.chi_square == pytest.approx(280.138, abs=1e-3)
    assert (ours.tarone, ours.tarone_p_value) == (pytest.approx(5.200, abs=5e-4), pytest.approx(0.636, abs=5e-4))


def test_mantel_haenszel_without_anything_to_compare() -> None:
    assert np.isnan(mantel_haenszel(np.zeros((0, 2, 2))).odds_ratio)
    assert np.isnan(mantel_haenszel([[[3, 4], [0, 0]]]).odds_ratio)
    never = mantel_haenszel([[[0, 9], [3, 5]]])
    assert (never.odds_ratio, np.isnan(never.low)) == (0.0, True)
    # a stratum that holds one side only can say nothing
    useful = [[5, 9], [3, 14]]
    alone, together = mantel_haenszel([useful]), mantel_haenszel([useful, [[2, 2], [0, 0]]])
    assert (alone.odds_ratio, alone.log_se) == (together.odds_ratio, together.log_se)


def test_p_chart_of_thirty_samples() -> None:
    chart = p_chart(JUICE, [50] * 30)
    assert chart.centre == pytest.approx(0.2313333, abs=5e-8)
    assert (chart.lower[0], chart.upper[0]) == (pytest.approx(0.05242755, abs=5e-9), pytest.approx(0.4102391, abs=5e-8))
    assert list(np.flatnonzero(chart.outside) + 1) == [15, 23]


def test_p_chart_without_the_two_and_later() -> None:
    chart = p_chart(np.delete(JUICE, [14, 22]), [50] * 28)
    assert (chart.centre, chart.lower[0], chart.upper[0]) == pytest.approx((0.215, 0.04070284, 0.3892972), abs=5e-8)
    later = p_chart(JUICE_LATER, [50] * 24)
    assert (later.centre, later.lower[0], later.upper[0]) == pytest.approx((0.1108333, 0, 0.2440207), abs=5e-8)


def test_small_periods_have_binomial_limits_of_their_own() -> None:
    # recomputed: the 0.99865 quantiles of the binomial at 0.2 are 6 of 10 and 10 of 20
    chart = p_chart([6, 7, 10, 11, 0], [10, 10, 20, 20, 0], centre=0.2)
    np.testing.assert_allclose(chart.upper[:4], [0.6, 0.6, 0.5, 0.5])
    assert list(chart.outside) == [False, True, False, True, False]
    assert np.isnan(chart.upper[4])


def test_limits_of_nothing() -> None:
    assert np.isnan(p_chart([], []).centre)
    assert not p_chart([0, 0], [5, 30]).outside.any()
    assert not p_chart([5, 30], [5, 30]).outside.any()
    assert not g_chart([0, 0], [5, 30]).outside.any()
    assert not g_chart([5, 30], [5, 30]).outside.any()


def test_g_chart_raises_as_many_false_alarms_as_it_says() -> None:
    """Each side of the limits is crossed with a chance of 0.00135 at most, and not far below it on the long side."""
    rate = 0.03
    chart = g_chart([1, 2, 0], [40, 40, 40], rate)
    too_long = [
        stats.geom.sf(chart.upper[0], rate),
        stats.nbinom.sf(chart.upper[1] - 2, 2, rate),
        (1 - rate) ** chart.upper[2],
    ]
    assert max(too_long) <= 0.00135 + 1e-12
    assert min(too_long) > 0.00135 * 0.95
    assert stats.nbinom.cdf(chart.lower[1] - 1 - 2, 2, rate) < 0.00135


def test_g_chart_sees_a_long_quiet_run_and_a_quick_return() -> None:
    chart = g_chart([1, 0, 4, 1], [300, 300, 5, 30], 0.03)
    assert list(chart.outside) == [True, True, True, False]
