"""Adjusted rates without shrinkage: Firth's penalised logistic regression, standardised to the shop's mix.

The second line beside the shrunk rates: noisier, but it does not pull a lone bad group in. The penalty (Firth 1993,
half the log determinant of the information) keeps estimates finite where a group has only events or none.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from pipeline.estimates._laplace import Cells, columns, once

Floats = NDArray[np.float64]


def firth(events: Floats, pieces: Floats, design: Floats) -> Floats:
    """Coefficients (d,) of a `design` (rows, d) of full column rank, by modified scores; steps capped at 2 log odds."""
    coefficients = np.zeros(design.shape[1])
    for _ in range(100):
        chance = expit(design @ coefficients)
        weight = pieces * chance * (1 - chance)
        information = design.T @ (weight[:, None] * design)
        solved = np.linalg.solve(information, design.T)
        leverage = weight * (design * solved.T).sum(axis=1)
        step = solved @ (events - pieces * chance + leverage * (0.5 - chance))
        longest = np.abs(design @ step).max()
        coefficients += step * min(1, 2 / max(longest, 1e-12))
        if longest < 1e-7:
            break
    return coefficients


@once
def unshrunk(shop: Cells) -> Floats:
    """Each group's rate with the shop's mix of the other factors (groups,); NaN where the records can't tell.

    A rate can be told only if each combination that it averages over can be written as a sum of cells that were made:
    a species that never shared a finish with another one has none.
    """
    own = shop.sizes[0]
    if not own:
        return np.zeros(0)
    design = columns(shop.codes, shop.sizes).toarray()
    # the design has more columns than rank: work in an orthonormal basis of what its rows span
    _, scale, basis = np.linalg.svd(design.T @ design)
    basis = basis[scale > 1e-9 * scale[0]].T
    coefficients = basis @ firth(shop.events, shop.pieces, design @ basis)
    mix, where = np.unique(shop.codes[:, 1:], axis=0, return_inverse=True)
    share = np.bincount(where.ravel(), weights=shop.pieces) / shop.pieces.sum()
    group = np.repeat(np.arange(own), len(mix))
    wanted = columns(np.concatenate([group[:, None], np.tile(mix, (own, 1))], axis=1), shop.sizes).toarray()
    beyond = np.abs(wanted - wanted @ basis @ basis.T).max(axis=1).reshape(own, -1)
    rate = expit(wanted @ coefficients).reshape(own, -1) @ share
    return np.where((beyond < 1e-6).all(axis=1), rate, np.nan)
