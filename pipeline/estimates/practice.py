"""The learning curve: how hours fall with repetition.

Two theories share the slope b = log2(rate) and mean different things. *Unit* (Crawford): the n-th unit takes
first × n^b; this is what the quotes fit. *Cumulative average* (Wright): the mean of the first n units is first × n^b.
At 85 % their totals differ by 29 % over 125 units, so a rate is worth nothing without its theory.
"""

from math import log2

import numpy as np


def slope(rate: float) -> float:
    """b of a rate: 0.85 = each doubling takes 85 % of the time."""
    return log2(rate)


def rate(slope: float) -> float:
    """The rate of a slope b."""
    return 2.0**slope


def unit_time(time: float, at: float, unit: float, rate: float) -> float:
    """Time of a unit, when unit number `at` took `time` (unit theory)."""
    return time * (unit / at) ** slope(rate)


def run_time(time: float, first: int, last: int, rate: float) -> float:
    """Time of units `first` … `last` together, when unit number `first` took `time` (unit theory, exact sum)."""
    units = np.arange(first, last + 1, dtype=float) / first
    return float(time * np.sum(units ** slope(rate)))
