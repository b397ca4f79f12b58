"""How often the worst of several groups stands as high by luck alone, in a shop where all groups are alike.

The highest of a dozen always stands high. From the fit without the groups come each group's score (how far its events
lie beyond what its pieces let expect) and how the scores vary together where the groups are alike: the chance that the
largest of them is as large as the one seen is found by drawing them (a score test of the maximum; Rao 1948, from
memory).
"""

import numpy as np
from scipy.special import betainc, expit, logit, ndtri

from pipeline.estimates._laplace import Cells, Floats, columns, laplace, once, totals

DRAWS, SEED = 4_000, 1
SPREAD, ALIKE = 0.7, 0.01  # log odds: of the other factors, and of groups that are held to be alike


@once
def luck(shop: Cells) -> float:
    """The chance that, were all groups of the first factor alike, one stood as high as the highest; NaN for one."""
    own = shop.sizes[0]
    if own < 2 or not 0 < shop.events.sum() < shop.pieces.sum():
        return float("nan")
    precision = np.full((1, 1 + sum(shop.sizes)), SPREAD**-2.0)
    precision[0, 0] = 0.25
    precision[0, 1 : 1 + own] = ALIKE**-2.0
    mean = np.zeros_like(precision)
    mean[0, 0] = logit(shop.events.sum() / shop.pieces.sum())
    fit = laplace(shop, mean, precision)
    design = columns(shop.codes, shop.sizes)
    chance = expit(design @ fit.mode[0])
    group, scatter = shop.codes[:, 0], shop.pieces * chance * (1 - chance)
    rest = np.delete(design.toarray(), np.arange(1, 1 + own), axis=1)
    beside = np.delete(precision[0], np.arange(1, 1 + own))
    member = (group[:, None] == np.arange(own)) * scatter[:, None]
    across = member.T @ rest
    inner = np.linalg.inv((rest * scatter[:, None]).T @ rest + np.diag(beside))
    varies = np.diag(member.sum(axis=0)) - across @ inner @ across.T
    sd = np.sqrt(np.maximum(np.diag(varies), 1e-9))
    value, direction = np.linalg.eigh(varies / sd[:, None] / sd)
    drawn = np.random.default_rng(SEED).standard_normal((DRAWS, own)) * np.sqrt(np.maximum(value, 0.0)) @ direction.T
    # counts of rare events lean to the high side, so each is placed in its own binomial
    expected = np.maximum(totals(group, scatter, own), 1e-9)
    seen = _place(shop, chance) * np.sqrt(expected) / sd
    return float((drawn.max(axis=1) >= seen.max()).mean())


def _place(shop: Cells, chance: Floats) -> Floats:
    """Each group's events as a standard Normal's value: half of the chance of just so many is above it (mid-P)."""
    own, group = shop.sizes[0], shop.codes[:, 0]
    made, happened = totals(group, shop.pieces, own), totals(group, shop.events, own)
    usual = totals(group, shop.pieces * chance, own) / made
    # of a part of a try, as of whole ones
    at_least = np.where(happened > 0, betainc(np.maximum(happened, 1e-9), made - happened + 1, usual), 1.0)
    passed = np.maximum(made - happened, 1e-9)
    more = np.where(made > happened, betainc(happened + 1, passed, usual), 0.0)
    return -ndtri(np.clip((at_least + more) / 2, 1e-15, 1 - 1e-15))
