"""Columns to fields by the best sum: against SciPy's own assignment, and the share of each pair by trying them all."""

from collections.abc import Iterator
from itertools import product
from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from pipeline.proposing import assignment

NAMES = ("", "a", "b", "c", "d", "e")
WEIGHTS = st.lists(st.dictionaries(st.sampled_from(NAMES), st.floats(-5, 8), max_size=6), max_size=6)
NEVER = -1e9


@given(WEIGHTS)
@settings(max_examples=200, deadline=None)
def test_the_best_sum_is_that_of_scipy(weights: list[dict[str, float]]) -> None:
    chosen = assignment.best(weights)
    taken = [field for field in chosen if field]
    assert len(taken) == len(set(taken))
    assert all(not field or field in row for field, row in zip(chosen, weights, strict=True))
    if not weights:
        return
    matrix = np.array(
        [[row.get(name, NEVER) for name in NAMES[1:]] + [row.get("", 0.0)] * len(weights) for row in weights]
    )
    rows, columns = linear_sum_assignment(matrix, maximize=True)
    assert assignment.total(weights, chosen) == pytest.approx(matrix[rows, columns].sum())


def ways(weights: list[dict[str, float]]) -> Iterator[tuple[str, ...]]:
    for way in product(*[{"", *row} for row in weights]):
        taken = [field for field in way if field]
        if len(taken) == len(set(taken)):
            yield way


@given(st.lists(st.dictionaries(st.sampled_from(NAMES[:4]), st.floats(-3, 6), max_size=4), min_size=1, max_size=4))
@settings(max_examples=100, deadline=None)
def test_a_share_is_by_the_best_sum_in_which_the_column_has_that_field(weights: list[dict[str, float]]) -> None:
    chosen = assignment.best(weights)
    sums = {way: assignment.total(weights, way) for way in ways(weights)}
    for at, shares in enumerate(assignment.shares(weights, chosen, 1.0)):
        best = {field: max(s for way, s in sums.items() if way[at] == field) for field in {"", *weights[at]}}
        most = max(best.values())
        whole = sum(exp(value - most) for value in best.values())
        assert shares == pytest.approx({field: exp(value - most) / whole for field, value in best.items()}, abs=1e-6)


def test_two_columns_of_one_field_are_torn() -> None:
    first, second = assignment.shares([{"date": 8.0}, {"date": 8.0}], ["date", ""], 1.0)
    assert first["date"] == pytest.approx(0.5, abs=1e-6) and second[""] == pytest.approx(0.5, abs=1e-6)


def test_a_table_of_thousands_of_columns_is_no_trouble() -> None:
    weights = [{"a": 1.0 + at % 7, "b": 2.0} for at in range(5000)]
    chosen = assignment.best(weights)
    assert sorted(filter(None, chosen)) == ["a", "b"] and weights[chosen.index("a")]["a"] == 7.0
    shares = assignment.shares(weights, chosen, 1.0)
    # others say as much for each: it might as well have the other field, or none
    assert shares[chosen.index("a")] == pytest.approx(dict.fromkeys(["a", "b", ""], 1 / 3), abs=1e-6)
