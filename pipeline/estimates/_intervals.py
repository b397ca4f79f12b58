"""Intervals and control limits for counted things: one rate, an odds ratio over strata, a rate over time.

Shapes: `events` and `pieces` are arrays of one length (or numbers); `tables` is (strata, 2, 2).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtrik, betainc, betaincc, chdtrc, nbdtrik, ndtri

Floats = NDArray[np.float64]

TAIL = 0.00135
"""Chance of a false alarm on each side of a control limit: that of three standard deviations of a Normal."""

SMALL_PERIOD, SMALL_EXPECTED = 20, 5.0
"""Up to so many pieces, or below so many expected events, limits come from the binomial itself (common practice, no
source, for the 5): three standard deviations raise five times too many alarms there."""

TOLD_FROM = 8
"""From so many periods on it is asked whether they differ more than chance; common practice, no source."""


def wilson(events: ArrayLike, pieces: ArrayLike, coverage: float = 0.95) -> tuple[Floats, Floats]:
    """Wilson's score interval of a rate (Wilson 1927). No pieces: 0 to 1."""
    x, n = _counts(events, pieces)
    z2 = ndtri((1 - coverage) / 2) ** 2
    centre = (x + z2 / 2) / (n + z2)
    # under the root: n p (1 - p) + z2 / 4, with x (n - x) / n for n p (1 - p)
    half = np.sqrt(z2 * (np.divide(x * (n - x), n, out=np.zeros_like(n), where=n > 0) + z2 / 4)) / (n + z2)
    return np.where(x == 0, 0.0, centre - half), np.where(x == n, 1.0, centre + half)


def _counts(events: ArrayLike, pieces: ArrayLike) -> tuple[Floats, Floats]:
    x, n = np.broadcast_arrays(np.asarray(events, dtype=float), np.asarray(pieces, dtype=float))
    return x.copy(), n.copy()


@dataclass(frozen=True)
class OddsRatio:
    """Mantel-Haenszel: `odds_ratio` over all strata, its interval, the test that it is 1, and that the strata agree."""

    odds_ratio: float
    low: float
    high: float
    log_se: float
    chi_square: float
    p_value: float
    tarone: float
    tarone_p_value: float


def mantel_haenszel(tables: ArrayLike, coverage: float = 0.95) -> OddsRatio:
    """One odds ratio over strata (Mantel and Haenszel 1959), interval of Robins, Breslow and Greenland (1986),
    homogeneity by Tarone (1985). Strata that can say nothing (an empty row or column) are left out.

    `tables`: (strata, 2, 2), each [[group with, group without], [others with, others without]]. What the strata can't
    tell is NaN.
    """
    t = np.asarray(tables, dtype=float).reshape(-1, 2, 2)
    t = t[(t.sum(axis=1) > 0).all(axis=1) & (t.sum(axis=2) > 0).all(axis=1)]
    a, b, c, d = t[:, 0, 0], t[:, 0, 1], t[:, 1, 0], t[:, 1, 1]
    n = a + b + c + d
    if not len(t):
        return OddsRatio(*(float("nan"),) * 8)
    row, column = a + b, a + c
    variance = (row * (n - row) * column * (n - column) / (n**2 * np.maximum(n - 1, 1))).sum()
    chi_square = float((a - row * column / n).sum() ** 2 / variance)
    p_value = float(chdtrc(1, chi_square))
    r, s = a * d / n, b * c / n
    if r.sum() == 0 or s.sum() == 0:
        ratio = float("inf") if r.sum() else 0.0
        return OddsRatio(
            ratio, float("nan"), float("nan"), float("nan"), chi_square, p_value, float("nan"), float("nan")
        )
    ratio = float(r.sum() / s.sum())
    p, q = (a + d) / n, (b + c) / n
    log_variance = (
        (p * r).sum() / (2 * r.sum() ** 2)
        + (p * s + q * r).sum() / (2 * r.sum() * s.sum())
        + (q * s).sum() / (2 * s.sum() ** 2)
    )
    log_se = float(np.sqrt(log_variance))
    z = -float(ndtri((1 - coverage) / 2))
    tarone, tarone_p = _tarone(a, row, column, n, ratio)
    return OddsRatio(
        ratio, ratio * np.exp(-z * log_se), ratio * np.exp(z * log_se), log_se, chi_square, p_value, tarone, tarone_p
    )


def _tarone(a: Floats, row: Floats, column: Floats, n: Floats, ratio: float) -> tuple[float, float]:
    if len(a) < 2:
        return float("nan"), float("nan")
    # the count e that the common ratio expects: (1 - ratio) e^2 + linear e = ratio row column
    linear = n - row - column + ratio * (row + column)
    root = np.sqrt(linear**2 + 4 * (1 - ratio) * ratio * row * column)
    expected = 2 * ratio * row * column / (linear + root)
    variance = 1 / (1 / expected + 1 / (row - expected) + 1 / (column - expected) + 1 / (n - row - column + expected))
    breslow_day = ((a - expected) ** 2 / variance).sum()
    tarone = float(breslow_day - (a - expected).sum() ** 2 / variance.sum())
    return tarone, float(chdtrc(len(a) - 1, tarone))


# scipy.stats has these quantiles too, but takes half a second to load
def binomial_low(tail: float, pieces: Floats, rate: float) -> Floats:
    """The least count that is not undercut with more than `tail`: the smallest k with P(count <= k) >= `tail`."""
    near = np.ceil(np.nan_to_num(bdtrik(tail, pieces, rate)))
    return _smallest(near, pieces, lambda k: betaincc(k + 1, np.maximum(pieces - k, 1), rate) >= tail)


def binomial_high(tail: float, pieces: Floats, rate: float) -> Floats:
    """The smallest count k with P(count > k) <= `tail`."""
    near = np.ceil(np.nan_to_num(bdtrik(1 - tail, pieces, rate)))
    return _smallest(near, pieces, lambda k: betainc(k + 1, np.maximum(pieces - k, 1), rate) <= tail)


def waiting_low(tail: float, events: Floats, rate: float) -> Floats:
    """The smallest number of pieces m, with `events` among them, for which P(pieces <= m) >= `tail`."""
    near = np.ceil(nbdtrik(tail, events, rate))
    return events + _smallest(near, np.inf, lambda k: betainc(events, k + 1, rate) >= tail)


def waiting_high(tail: float, events: Floats, rate: float) -> Floats:
    """The smallest number of pieces m, with `events` among them, for which P(pieces > m) <= `tail`."""
    near = np.ceil(nbdtrik(1 - tail, events, rate))
    return events + _smallest(near, np.inf, lambda k: betaincc(events, k + 1, rate) <= tail)


def _smallest(near: Floats, most: Floats | float, holds: Callable[[Floats], NDArray[np.bool_]]) -> Floats:
    """The smallest whole number for which `holds`, from one that is right but for rounding."""
    k = np.clip(near, 0, most)
    for _ in range(2):
        k = np.where((k > 0) & holds(np.maximum(k - 1, 0)), k - 1, k)
    for _ in range(2):
        k = np.where((k < most) & ~holds(k), k + 1, k)
    return k


@dataclass(frozen=True)
class Limits:
    """A control chart: the centre, and each period's own limits and whether it lies beyond them."""

    centre: float
    lower: Floats
    upper: Floats
    outside: NDArray[np.bool_]

    def wider(self, pieces: ArrayLike, events: ArrayLike, times: float) -> "Limits":
        """Limits of a rate so many times as far from the centre."""
        x, n = _counts(events, pieces)
        lower = np.maximum(self.centre - times * (self.centre - self.lower), 0)
        upper = np.minimum(self.centre + times * (self.upper - self.centre), 1)
        return Limits(self.centre, lower, upper, _beyond(x, n, lower, upper))


def p_chart(events: ArrayLike, pieces: ArrayLike, centre: float | None = None) -> Limits:
    """Limits of a rate by each period's own number of pieces; `centre`: the rate of all periods unless given.

    Three standard deviations, never below 0 or above 1; for small periods (see `SMALL_PERIOD`) the binomial quantiles.
    A period without pieces has no limits (NaN).
    """
    x, n = _counts(events, pieces)
    if centre is None:
        centre = float(x.sum() / n.sum()) if n.sum() else float("nan")
    made = np.maximum(n, 1)
    three_sigma = 3 * np.sqrt(centre * (1 - centre) / made)
    small = (n <= SMALL_PERIOD) | (n * centre < SMALL_EXPECTED)
    lower = np.where(small, binomial_low(TAIL, made, centre) / made, np.maximum(centre - three_sigma, 0))
    upper = np.where(small, binomial_high(TAIL, made, centre) / made, np.minimum(centre + three_sigma, 1))
    lower, upper = np.where(n > 0, lower, np.nan), np.where(n > 0, upper, np.nan)
    return Limits(centre, lower, upper, _beyond(x, n, lower, upper))


def _beyond(x: Floats, n: Floats, lower: Floats, upper: Floats) -> NDArray[np.bool_]:
    rate = x / np.maximum(n, 1)
    slack = 1e-9  # a count on its limit is inside
    beyond: NDArray[np.bool_] = (n > 0) & ((rate < lower - slack) | (rate > upper + slack))
    return beyond


def more_than_chance(events: ArrayLike, pieces: ArrayLike, centre: float) -> float:
    """How many times as far apart periods lie as chance alone puts them, at least 1 (Laney's p' chart, 2002; from
    memory): the mean step from a period to the next, in standard deviations of a share, over what it is by chance,
    1.128. A single bad period moves it little. 1 where fewer than `TOLD_FROM` periods tell.
    """
    x, n = _counts(events, pieces)
    x, n = x[n > 0], n[n > 0]
    if len(n) < TOLD_FROM or not 0 < centre < 1:
        return 1.0
    apart = (x / n - centre) / np.sqrt(centre * (1 - centre) / n)
    return max(float(np.abs(np.diff(apart)).mean()) / 1.128, 1.0)


def g_chart(events: ArrayLike, run: ArrayLike, rate: float | None = None) -> Limits:
    """Limits of the number of pieces made until `events` of them had happened, for rare events.

    `run`: pieces from after the last event before, up to and with the last one counted; with `events` 1 everywhere this
    is the chart of the geometric distribution, with more the negative binomial. `events` 0: a run that goes on, which
    can only be too long. Limits are numbers of pieces, with `TAIL` on each side; `rate`: events a piece, that of all
    runs unless given.
    """
    r, made = _counts(events, run)
    if rate is None:
        rate = float(r.sum() / made.sum()) if made.sum() else float("nan")
    if not 0 < rate < 1:
        nothing = np.full(len(made), np.nan)
        return Limits(1 / rate if rate else float("inf"), nothing, nothing, np.zeros(len(made), dtype=bool))
    wanted = np.maximum(r, 1)
    lower = np.where(r > 0, waiting_low(TAIL, wanted, rate), 0)
    upper = waiting_high(TAIL, wanted, rate)
    return Limits(1 / rate, lower, upper, (made < lower) | (made > upper))
