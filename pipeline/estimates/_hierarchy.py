"""Rates of groups, adjusted for other factors: a hierarchical logistic regression integrated over its spreads.

log odds = intercept + effect of the group + effect of each adjusting factor, effects Normal(0, spread of the factor).
Nobody knows the spreads, so the fit is averaged over a grid of them, weighted by how well each explains the records and
by a prior (median 0.5, log-sd 0.6). Beside "all groups are drawn alike" stand the hypotheses that one group stands
apart: its effect is then Normal(+-1.1, 0.5), odds some three times the others' or a third. Without them a lone bad
group is pulled in so far that its interval misses the truth a third of the time.

Two weightings of the same fits:
- the rate and `chance_worse` give even odds that one group stands apart, no matter which;
- the interval of a group asks "what if it is this one?" and gives that more than even odds. It is wider for it.

Everything is deterministic: Laplace's approximation within a fit, the delta method to rates, bisection for quantiles.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.special import expit, logit, ndtr

from pipeline.estimates._laplace import Cells, Fits, Floats, Ints, columns, laplace, once, totals

SPREADS = np.geomspace(0.05, 1.6, 7)
"""Spread of the group's own effects, in log odds."""

COARSE_SPREADS = np.geomspace(0.15, 1.2, 3)
"""Spread of the adjusting factors where there are two or more of them."""

PROBED = SPREADS[[3, 5]]
KEPT = 2
"""How many combinations of the others' spreads are kept where there are two or more of them."""

TIME_SPREADS = np.array([1.0])
"""Spread of what is held equal beyond two factors, the times above all: who learns changes by this much, and no wood is
to blame."""

SPREAD_MEDIAN, SPREAD_LOG_SD = 0.5, 0.6
INTERCEPT_MEAN, INTERCEPT_SD = -1.5, 2.0  # a shop's rate between 0.4 and 92 %: hardly a prior at all
APART_MEAN, APART_SD = 1.1, 0.5
APART_CHANCE = 0.5
"""Prior probability that one of the groups, any one, stands apart: for the rates and `chance_worse`."""

SELF_APART_CHANCE = 0.6
"""Prior probability that this very group stands apart: for its interval."""

EDGE = 0.05
"""Probability cut off at each end of an interval."""

WORK = 800
"""The most fits of "one stands apart"; beyond it the adjusting factors' spreads are kept at their likeliest values."""


@dataclass(frozen=True)
class Integrated:
    """The fits over the grid, their `weight` (g,), their weight for each group's interval (g, groups), and its edge."""

    fits: Fits
    weight: Floats
    interval_weight: Floats
    edge: float


RatesOf = Callable[[Cells, Fits], tuple[Floats, Floats]]
"""Gives each group's rate (g, groups) and its slope in the coefficients (g, groups, d)."""


@dataclass(frozen=True)
class Mixture:
    """Normal distributions, one a fit and group, with the weight of each fit for each group: all (g, groups)."""

    mean: Floats
    sd: Floats
    weight: Floats

    def chance_below(self, value: Floats) -> Floats:
        """Probability of a value below `value` (groups,)."""
        return (self.weight * ndtr((value - self.mean) / self.sd)).sum(axis=0)

    def moments(self) -> tuple[Floats, Floats]:
        """Mean and standard deviation of the whole (groups,)."""
        mean = (self.weight * self.mean).sum(axis=0)
        return mean, np.sqrt(np.maximum((self.weight * (self.sd**2 + (self.mean - mean) ** 2)).sum(axis=0), 0.0))

    def quantile(self, share: float) -> Floats:
        """The value that is undercut with probability `share`, by bisection: (groups,)."""
        low = (self.mean - 9 * self.sd).min(axis=0)
        high = (self.mean + 9 * self.sd).max(axis=0)
        for _ in range(32):  # to a billionth of the widest spread
            middle = (low + high) / 2
            less = self.chance_below(middle) < share
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        return (low + high) / 2


@dataclass(frozen=True)
class AdjustedRates:
    """One entry a group, in the order of `levels`.

    `rate`, `low`, `high`: the rate it would have with the whole shop's mix of the other factors (90 % interval).
    `chance_worse`: probability that this rate is above that of the rest of the shop, which is the same as above the
    shop's mean; NaN where there is no rest. `fits` with their `weight` (g,) are what they rest on.
    """

    levels: NDArray[np.object_]
    pieces: Floats
    events: Floats
    rate: Floats
    low: Floats
    high: Floats
    chance_worse: Floats
    fits: Fits
    weight: Floats


def adjust(shop: Cells, tries: float = 1.0) -> AdjustedRates:
    """Each group's rate (the first factor) as it would be with the whole shop's mix of the other factors.

    `tries`: how many pieces say as much as one that fails or passes on its own (see `_design_effect`).
    """
    return replace(_adjusted(shop, tries), levels=shop.levels[0])


@once
def _adjusted(shop: Cells, tries: float) -> AdjustedRates:
    # with two groups nobody can say which of them stands apart
    integrated = _integrate(shop.fewer(tries), apart=shop.sizes[0] > 2)
    return _summary(shop, integrated, _standardised)


def pool(shop: Cells) -> AdjustedRates:
    """Rates of combinations (the first factor) as they are, drawn towards what their parts (the others) let expect.

    `rate` is of the group's own pieces; nothing stands apart; `chance_worse` is against the rest of the shop as made.
    """
    return replace(_pooled(shop), levels=shop.levels[0])


@once
def _pooled(shop: Cells) -> AdjustedRates:
    return _summary(shop, _integrate(shop, apart=False), _as_made)


def _summary(shop: Cells, integrated: Integrated, rates_of: RatesOf) -> AdjustedRates:
    own = shop.sizes[0]
    fits, weight, edge = integrated.fits, integrated.weight, integrated.edge
    if not own:
        none = np.zeros(0)
        return AdjustedRates(shop.levels[0], *(none,) * 6, fits, none)
    pieces, happened = (totals(shop.codes[:, 0], w, own) for w in (shop.pieces, shop.events))
    rate, slope = rates_of(shop, fits)
    spread = _logit_slopes(rate, slope)
    covariance = fits.covariance()
    centre, sd = logit(rate), _sds(spread, covariance)
    for_interval = Mixture(centre, sd, integrated.interval_weight)
    estimate = (weight[:, None] * rate).sum(axis=0)
    low, high = expit(for_interval.quantile(edge)), expit(for_interval.quantile(1 - edge))
    chance = np.full(own, np.nan)
    if own > 1:
        others = pieces * (1 - np.eye(own))
        others /= others.sum(axis=1, keepdims=True)
        rest, rest_slope = rate @ others.T, others @ slope
        gap_sd = _sds(spread - _logit_slopes(rest, rest_slope), covariance)
        chance = weight @ ndtr((centre - logit(rest)) / gap_sd)
    low, high = np.minimum(low, estimate), np.maximum(high, estimate)
    return AdjustedRates(shop.levels[0], pieces, happened, estimate, low, high, chance, fits, weight)


def _integrate(shop: Cells, apart: bool) -> Integrated:
    own, *others = shop.sizes
    if not own:
        return Integrated(
            Fits(np.zeros((0, 1)), np.zeros((0, 1, 1)), np.zeros(0), 0), np.zeros(0), np.zeros((0, 0)), EDGE
        )
    grids = [SPREADS if len(others) < 2 else COARSE_SPREADS] * min(len(others), 2) + [TIME_SPREADS] * (len(others) - 2)
    every = list(product(*grids))
    other_spreads = np.array(every).reshape(len(every), len(others))
    if len(others) > 1:
        # with many spreads to choose from, two of the group's own tell which of the others' matter
        _, _, _, score = _alike(shop, PROBED, other_spreads)
        mass = np.exp(score - score.max()).reshape(len(PROBED), -1).sum(axis=0)
        other_spreads = other_spreads[np.sort(np.argsort(-mass, kind="stable")[:KEPT])]
    alike, mean, precision, score = _alike(shop, SPREADS, other_spreads)
    kept = _likely(score, len(other_spreads), own if apart else 0)
    alike = alike.chosen(kept)
    score, mean, precision = score[kept], mean[kept], precision[kept]
    if not apart:
        weight = np.exp(score - score.max())
        return _heavy(alike, weight, np.repeat(weight[:, None], own, axis=1), EDGE)

    who = np.tile(np.repeat(np.arange(own), 2), len(kept))
    which = np.repeat(np.arange(len(kept)), 2 * own)
    apart_mean, apart_precision = mean[which], precision[which]
    row = np.arange(len(who))
    apart_mean[row, 1 + who] = np.tile([APART_MEAN, -APART_MEAN], own * len(kept))
    apart_precision[row, 1 + who] = APART_SD**-2
    outlying = laplace(shop, apart_mean, apart_precision, alike.mode[which])
    apart_score = outlying.log_likelihood + (score - alike.log_likelihood)[which]
    fits = alike.joined(outlying)
    everybody = np.concatenate([score, apart_score])
    likely = np.exp(everybody - everybody.max())
    # a chance is shared by the two signs, and, where any group may be the one, by the groups
    any_one = np.where(np.arange(len(likely)) < len(kept), 1 - APART_CHANCE, APART_CHANCE / (2 * own))
    this_one = np.concatenate(
        [np.full((len(kept), own), 1 - SELF_APART_CHANCE), (who[:, None] == np.arange(own)) * SELF_APART_CHANCE / 2]
    )
    return _heavy(fits, likely * any_one, likely[:, None] * this_one, EDGE)


def _alike(shop: Cells, own_spreads: Floats, other_spreads: Floats) -> tuple[Fits, Floats, Floats, Floats]:
    """Fits at each of the group's own spreads with each row of the others', their priors (mean, precision), scores."""
    spreads = np.concatenate(
        [np.repeat(own_spreads, len(other_spreads))[:, None], np.tile(other_spreads, (len(own_spreads), 1))], axis=1
    )
    precision = _precision(spreads, shop.sizes)
    mean = np.zeros_like(precision)
    mean[:, 0] = INTERCEPT_MEAN
    start = mean.copy()
    start[:, 0] = logit((shop.events.sum() + 0.5) / (shop.pieces.sum() + 1))
    alike = laplace(shop, mean, precision, start)
    prior = -0.5 * (((np.log(spreads) - np.log(SPREAD_MEDIAN)) / SPREAD_LOG_SD) ** 2).sum(axis=1)
    return alike, mean, precision, alike.log_likelihood + prior


def _heavy(fits: Fits, weight: Floats, interval_weight: Floats, edge: float) -> Integrated:
    """Only the fits that matter, their weights adding up to one."""
    heavy = (weight > 1e-6 * weight.max()) | (interval_weight > 1e-6 * interval_weight.max(axis=0)).any(axis=1)
    weight, interval_weight = weight[heavy], interval_weight[heavy]
    return Integrated(fits.chosen(heavy), weight / weight.sum(), interval_weight / interval_weight.sum(axis=0), edge)


def _precision(spreads: Floats, sizes: Sequence[int]) -> Floats:
    factors = [np.repeat(spreads[:, [k]] ** -2.0, size, axis=1) for k, size in enumerate(sizes)]
    return np.concatenate([np.full((len(spreads), 1), INTERCEPT_SD**-2), *factors], axis=1)


def _likely(score: Floats, other_count: int, own: int) -> Ints:
    """Which fits to keep: all spreads of the group, the others' spreads that hold 99 % of the probability."""
    table = np.exp(score - score.max()).reshape(-1, other_count)
    mass = table.sum(axis=0) / table.sum()
    order = np.argsort(-mass, kind="stable")
    enough = int(np.searchsorted(np.cumsum(mass[order]), 0.99)) + 1
    if own:
        enough = min(enough, max(1, WORK // (2 * own * len(table))))
    return np.sort((np.arange(len(table))[:, None] * other_count + order[:enough]).ravel())


def _standardised(shop: Cells, fits: Fits) -> tuple[Floats, Floats]:
    """Each group's rate over the shop's mix of the other factors (g, groups), and its slope (g, groups, d)."""
    own = shop.sizes[0]
    mix, where = np.unique(shop.codes[:, 1:], axis=0, return_inverse=True)
    share = np.bincount(where.ravel(), weights=shop.pieces) / shop.pieces.sum()
    base = columns(np.concatenate([np.zeros((len(mix), 1), dtype=np.int64), mix], axis=1), shop.sizes).toarray()
    base[:, 1 : 1 + own] = 0
    line = (fits.mode @ base.T)[:, None, :] + fits.mode[:, 1 : 1 + own, None]
    chance = expit(line)
    steep = chance * (1 - chance) * share
    slope = steep @ base
    own_column = np.arange(own)
    slope[:, own_column, 1 + own_column] = steep.sum(axis=2)
    return chance @ share, slope


def _as_made(shop: Cells, fits: Fits) -> tuple[Floats, Floats]:
    """Each group's rate over its own pieces (g, groups), and its slope (g, groups, d)."""
    design = columns(shop.codes, shop.sizes)
    member = csr_matrix((shop.pieces, (shop.codes[:, 0], np.arange(len(shop.pieces)))))
    member = csr_matrix(member.multiply(1 / member.sum(axis=1)))
    chance = expit((design @ fits.mode.T).T)
    steep = chance * (1 - chance)
    slope = np.stack([(member @ design.multiply(row[:, None])).toarray() for row in steep])
    return (member @ chance.T).T, slope


def excess(shop: Cells, rates: AdjustedRates) -> Mixture:
    """How much higher the rate of each group's own pieces is than if the rest of the shop's groups stood in for it."""
    own, pieces = shop.sizes[0], rates.pieces
    heavy = rates.weight > 1e-5 * rates.weight.max(initial=0)
    fits = rates.fits.chosen(heavy)
    weight = rates.weight[heavy] / rates.weight[heavy].sum()
    covariance = fits.covariance()
    everyone = pieces / pieces.sum()
    base = columns(shop.codes, shop.sizes).toarray()
    base[:, 1 : 1 + own] = 0
    member = (shop.codes[:, [0]] == np.arange(own)) * shop.pieces[:, None] / pieces
    mean, sd = np.zeros((len(fits.mode), own)), np.full((len(fits.mode), own), 1e-12)
    for group in range(own) if own > 1 else ():
        cell = member[:, group] > 0
        share = member[cell, group]
        chance = expit((fits.mode @ base[cell].T)[:, None, :] + fits.mode[:, 1 : 1 + own, None])
        sign = -everyone / (1 - everyone[group])
        sign[group] = 1
        steep = chance * (1 - chance) * share * sign[:, None]
        slope = steep.sum(axis=1) @ base[cell]
        slope[:, 1 : 1 + own] += steep.sum(axis=2)
        mean[:, group] = (chance @ share) @ sign
        sd[:, group] = np.sqrt(np.maximum(((slope[:, None, :] @ covariance)[:, 0] * slope).sum(axis=1), 1e-24))
    return Mixture(mean, sd, np.repeat(weight[:, None], own, axis=1))


def _logit_slopes(rate: Floats, slope: Floats) -> Floats:
    return slope / (rate * (1 - rate))[..., None]


def _sds(slope: Floats, covariance: Floats) -> Floats:
    return np.sqrt(np.maximum(((slope @ covariance) * slope).sum(axis=2), 1e-24))
