"""Whole-number arithmetic of the oracle: cumulative rounding, months, lower medians. Plain Python on purpose."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Any


def cut(n: int, k: int, w: int) -> int:
    """The first k of w parts of n, rounded half up; the same for a negative n with its sign turned."""
    if n < 0:
        return -cut(-n, k, w)
    return (2 * n * k + w) // (2 * w)


def shares(n: int, weights: Sequence[int]) -> list[int]:
    """N cents over weights by cumulative rounding; all weights zero = equal shares."""
    if not weights:
        return []
    weights = list(weights) if any(weights) else [1] * len(weights)
    total, run, out = sum(weights), 0, []
    for weight in weights:
        out.append(cut(n, run + weight, total) - cut(n, run, total))
        run += weight
    return out


def rounded(x: Fraction) -> int:
    return cut(x.numerator, 1, x.denominator)


def lower_median(values: Iterable[Any]) -> Any:
    ordered = sorted(values)
    return ordered[(len(ordered) - 1) // 2]


def month_of(day: date) -> date:
    return day.replace(day=1)


def next_month(day: date, step: int = 1) -> date:
    number = day.year * 12 + day.month - 1 + step
    return date(number // 12, number % 12 + 1, 1)


def month_end(day: date) -> date:
    return next_month(day) - timedelta(days=1)


def months(first: date, last: date) -> list[date]:
    out, month = [], month_of(first)
    while month <= last:
        out.append(month)
        month = next_month(month)
    return out
