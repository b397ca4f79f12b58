"""The learning curve: how hours fall with repetition.

Two theories share the slope b = log2(rate) and mean different things. *Unit* (Crawford): the n-th unit takes
first × n^b; this is what the quotes fit. *Cumulative average* (Wright): the mean of the first n units is first × n^b.
At 85 % their totals differ by 29 % over 125 units, so a rate is worth nothing without its theory.
"""

from math import log2

import numpy as np
from numpy.typing import ArrayLike, NDArray

USUAL = -0.2
"""A middling slope (a rate of 87 %), good enough to say which unit stands for a run; common practice, no source."""


def slope(rate: float) -> float:
    """b of a rate: 0.85 = each doubling takes 85 % of the time."""
    return log2(rate)


def rate(slope: float) -> float:
    """The rate of a slope b."""
    return 2.0**slope


def unit_time(time: float, at: float, unit: float, rate: float) -> float:
    """Time of a unit, when unit number `at` took `time` (unit theory)."""
    return time * (unit / at) ** slope(rate)


def run_unit(first: ArrayLike, count: ArrayLike, slope: float = USUAL) -> NDArray[np.float64]:
    """The unit number (not whole) whose time is the mean of a run of `count` units from number `first`.

    By the midpoint approximation of the sum of n^b, half a unit beyond both ends; a run of one is its own unit.
    """
    start, units = np.asarray(first, dtype=float), np.asarray(count, dtype=float)
    power = slope + 1
    total = ((start + units - 0.5) ** power - (start - 0.5) ** power) / power
    return np.where(units == 1, start, (total / units) ** (1 / slope))
