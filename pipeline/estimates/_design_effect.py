"""Pieces that fail together: how many of them say as much as one that fails or passes on its own.

Pieces cut from one slab or made in one run share what went wrong. The design effect 1 + (m - 1) x rho of sampling in
clusters (Kish, Survey Sampling 1965; from memory) says how much less they tell: m = pieces in a cluster, as a piece
sees it, rho = correlation of two of one cluster. rho is found from what a fit leaves over: products of leftovers within
clusters, less what the fit itself makes them be where nothing fails together.
"""

from collections.abc import Callable

import numpy as np
from scipy.special import expit, logit

from pipeline.estimates._laplace import Cells, Floats, Ints, columns, laplace, totals

SPREAD, OWN_SPREAD = 0.7, 4.0  # log odds: of the other factors and of the group's own, in the fit that leaves over
MOST_TRIES = 8.0


def tries(shop: Cells, cell: Ints, events: Floats, clusters: list[Ints], mixed: Ints | None = None) -> float:
    """The design effect of the worst kind of cluster, at least 1. A piece has its `cell` of the shop and its `events`
    (0 or 1); `clusters` are codes of its cluster of each kind, below 0 where it is of none. `mixed`: so too the pieces
    of one group and another factor's level, whose own effect the fit leaves out.
    """
    if not 0 < shop.events.sum() < shop.pieces.sum():
        return 1.0
    wide = 1 + sum(shop.sizes)
    precision = np.full((1, wide), SPREAD**-2.0)
    precision[0, 0] = 0.25
    # a lone bad group, drawn in, would look as if its pieces failed together
    precision[0, 1 : 1 + shop.sizes[0]] = OWN_SPREAD**-2.0
    mean = np.zeros((1, wide))
    mean[0, 0] = logit(shop.events.sum() / shop.pieces.sum())
    fit = laplace(shop, mean, precision)
    design = columns(shop.codes, shop.sizes)
    chance = expit(design @ fit.mode[0])
    cover, scatter = fit.covariance()[0], (chance * (1 - chance))[cell]
    left = events - chance[cell]
    rows = design[cell].multiply(scatter[:, None]).tocsr()
    found = [_effect(left, scatter, rows, cover, code, _beyond_chance) for code in clusters]
    if mixed is not None:
        # few and large: drawn towards none, what wood and finish do together would be missed
        found.append(_effect(left, scatter, rows, cover, mixed, lambda rho, _: max(rho, 0.0)))
    return float(np.clip(max(found, default=1.0), 1.0, MOST_TRIES))


def _effect(  # type: ignore[no-untyped-def]
    left: Floats, scatter: Floats, rows, cover: Floats, code: Ints, held: Callable[[float, float], float]
) -> float:
    """`held`: what is held to be the correlation, by that found and its variance where nothing fails together."""
    inside = code >= 0
    code, left, scatter, rows = (
        np.unique(code[inside], return_inverse=True)[1],
        left[inside],
        scatter[inside],
        rows[inside],
    )
    size = np.bincount(code).astype(float)
    if not len(size) or size.max() < 2:
        return 1.0
    summed = np.zeros((len(size), rows.shape[1]))
    np.add.at(summed, code, rows.toarray())
    followed = ((summed @ cover) * summed).sum(axis=1)
    own = ((rows @ cover) * rows.toarray()).sum(axis=1)
    whole = totals(code, left, len(size)) ** 2 - totals(code, scatter, len(size)) + followed
    alone = totals(code, left**2 - scatter + own, len(size))
    pairs = totals(code, np.sqrt(scatter), len(size)) ** 2 - totals(code, scatter, len(size))
    rho = float((whole - alone).sum() / pairs.sum())
    by_chance = totals(code, scatter, len(size)) ** 2 - totals(code, scatter**2, len(size))
    variance = float(2 * by_chance.sum() / pairs.sum() ** 2)
    return 1 + (float((size**2).sum() / size.sum()) - 1) * held(rho, variance)


def _beyond_chance(rho: float, variance: float) -> float:
    """The correlation drawn towards none by as much as chance scatters it (the positive part of James and Stein's
    estimate, 1961; from memory): half of the shops where nothing fails together would lose tries to chance."""
    return rho - variance / rho if rho > variance**0.5 else 0.0
