"""A change beside the trend that the shop was on: a step at the change, and a slope through both sides of it.

log odds = intercept + slope x years from the change + step after it + effects of what is held equal, all with Normal
priors that a few dozen pieces overrule. A shop whose rework falls anyway has less of it after any day: the step is what
comes on top. Both are told from the same few pieces, so that even a halving is seldom shown.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit, ndtr

from pipeline.estimates._laplace import Floats, Ints, columns

INTERCEPT_SD, SLOPE_SD, STEP_SD, EFFECT_SD = 2.0, 1.0, 1.0, 0.7  # log odds; the slope's are a year's
Z_90 = 1.6448536


@dataclass(frozen=True)
class Step:
    """`difference` of the rate of what came after, with its 90 % interval, beside the trend; the chance that it is
    below zero; and the chance that the rate was falling already before (`falling`)."""

    difference: float
    low: float
    high: float
    chance_lower: float
    falling: float


def step(events: Floats, years: Floats, after: Floats, codes: Ints, sizes: tuple[int, ...], tries: float) -> Step:
    """Pieces with `events` (0 or 1), `years` from the change (below 0 before it), whether made `after` it (0 or 1), and
    `codes` of what is held equal (pieces, factors) with the `sizes` of those factors; `tries` of them are one."""
    equal = columns(codes, sizes).toarray()
    prior = np.concatenate([[SLOPE_SD, STEP_SD, INTERCEPT_SD], np.full(equal.shape[1] - 1, EFFECT_SD)]) ** -2.0
    design = np.column_stack([years, after, equal])
    mode, cover = _fit(events, design, prior, tries)
    line, sd = (design @ mode)[after > 0], float(np.sqrt(cover[1, 1]))
    steps = mode[1] + sd * Z_90 * np.array([0, -1, 1])
    # the rate after is what it is; a step makes of it what it would have been
    difference, low, high = (float((expit(line) - expit(line - each)).mean()) for each in steps)
    before = after == 0
    slope, doubt = _fit(events[before], np.delete(design[before], 1, axis=1), np.delete(prior, 1), tries)
    falling = float(ndtr(-slope[0] / np.sqrt(doubt[0, 0])))
    return Step(difference, low, high, float(ndtr(-mode[1] / sd)), falling)


def _fit(events: Floats, design: Floats, prior: Floats, tries: float) -> tuple[Floats, Floats]:
    """The mode and the covariance there (Laplace's approximation), by Newton's method, steps capped at 2 log odds."""
    centre = np.zeros(len(prior))
    # the intercept is the first column of what is held equal
    centre[np.argmin(prior)] = logit((events.sum() + 0.5) / (len(events) + 1))
    mode = centre.copy()
    for _ in range(60):
        chance = expit(design @ mode)
        information = (design * (chance * (1 - chance) / tries)[:, None]).T @ design + np.diag(prior)
        move = np.linalg.solve(information, design.T @ (events - chance) / tries - prior * (mode - centre))
        longest = float(np.abs(move).max())
        mode = mode + move * min(1.0, 2 / max(longest, 1e-12))
        if longest < 1e-6:
            break
    chance = expit(design @ mode)
    information = (design * (chance * (1 - chance) / tries)[:, None]).T @ design + np.diag(prior)
    return mode, np.linalg.inv(information)
