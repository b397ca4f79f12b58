"""Figures as a maker reads them."""

import pytest

from pipeline.reports.words import amount, count, place, share


@pytest.mark.parametrize(
    ("cents", "digits", "text"),
    [
        (0, 2, "0.00"),
        (5, 2, "0.05"),
        (-5, 2, "-0.05"),
        (123456, 2, "1,234.56"),
        (-123456, 0, "-123,456"),
        (None, 2, "–"),
    ],
)
def test_amounts_are_exact(cents: int | None, digits: int, text: str) -> None:
    assert amount(cents, digits) == text


def test_shares_counts_and_places() -> None:
    assert (share(0.814), share(None)) == ("81 %", "–")
    assert (count(1, "row"), count(2000, "row")) == ("1 row", "2,000 rows")
    assert place("a.xlsx", "2025", 14) == "a.xlsx, sheet 2025, row 14"
    assert (place("a.csv", "", 1), place(None, None, None)) == ("a.csv, row 1", "?")
