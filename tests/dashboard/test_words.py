"""Figures as a maker reads them."""

from datetime import date

import pytest

from dashboard import words
from dashboard.words import MINUS, Money, units


@pytest.mark.parametrize(
    ("currency", "cents", "shown"),
    [
        ("USD", 123456, "$1,234.56"),
        ("USD", -5, f"{MINUS}$0.05"),
        ("EUR", 0, "€0.00"),
        ("JPY", 1234, "¥1,234"),  # no minor units (ISO 4217)
        ("SEK", 1234, "SEK 12.34"),
        ("USD", None, "–"),
    ],
)
def test_money_is_written_in_its_currency(currency: str, cents: int | None, shown: str) -> None:
    assert Money(currency)(cents) == shown


def test_money_in_sentences_leaves_out_its_minor_units() -> None:
    assert Money("USD").round(-123456) == f"{MINUS}$1,235"
    assert Money("USD").round(-40) == "$0"
    # Vega's number format rounds a half away from zero, as JavaScript's toFixed does: a figure reads alike in both
    assert Money("USD").round(68850) == "$689"
    assert Money("USD").round(-68850) == f"{MINUS}$689"
    assert Money("JPY").round(1234) == "¥1,234"


def test_units_follow_the_shop() -> None:
    # international pound and inch (1959): 1 lb = 453.59237 g; 1 board foot = 144 in³, from memory
    assert units("us").heavy(453.59237) == "1.0 lb"
    assert units("us").weight(453.59237) == "16.0 oz"
    assert units("us").wood(144 * 0.254**3) == "1.0 bf"
    assert units("metric").heavy(1500) == "1.5 kg"
    assert units("metric").wood(2.0) == "2.0 dm³"
    # what costs so much for a dm³ costs 2.36 times that for a board foot
    assert units("us").per_wood.factor * units("us").wood.factor == pytest.approx(1)


@pytest.mark.parametrize(
    ("stored", "unit", "metric", "us"),
    [
        (1_464_000, "mg", "1.5 kg", "3.2 lb"),
        (28_349.523125, "mg", "28 g", "1.0 oz"),  # international ounce, from memory
        (18_877_898, "mm3", "18.9 dm³", "8.0 bf"),
        (12_000, "each", "12", "12"),
        (12_004.2, "each", "12", "12"),  # a usual month is a mean
        (500, "each", "0.5", "0.5"),
        (2_000, "kit", "2 kit", "2 kit"),
        (304_800_000, "um", "304.8 m", "1,000.0 ft"),
        (29_573.5295625, "ul", "30 ml", "1.0 fl oz"),  # NIST Handbook 44, appendix C: 29.573 53 ml, from memory
        (5400, "s", "1.5 h", "1.5 h"),
        (None, "mg", "–", "–"),
    ],
)
def test_a_stored_quantity_is_said_in_the_units_chosen(stored: float | None, unit: str, metric: str, us: str) -> None:
    assert words.amount(stored, unit, units("metric")) == metric
    assert words.amount(stored, unit, units("us")) == us


def test_amounts_of_one_stored_unit_are_compared_in_one_unit() -> None:
    metric = units("metric")
    assert [words.measure("mg", metric)(stored) for stored in (350_000, 1_464_000)] == ["350 g", "1,464 g"]
    assert words.measure("each", metric)(1_500) == "1.5"
    assert words.amount(350_000, "mg", metric) == "350 g"


def test_a_little_is_not_nothing() -> None:
    assert words.amount(900, "mg", units("us")) == "under 0.1 oz"
    assert words.amount(200, "mg", units("metric")) == "under 1 g"
    assert words.amount(20, "each", units("metric")) == "under 0.1"
    assert words.amount(0, "mg", units("us")) == "0.0 oz"


def test_what_may_go_either_way_has_its_sign() -> None:
    assert [words.signed(number) for number in (-2.31, 0.04, -0.04, 1.0, None)] == [
        f"{MINUS}2.3", "0.0", "0.0", "+1.0", words.DASH,
    ]  # fmt: skip


def test_a_rate_never_stands_alone() -> None:
    # Wilson 95 % of 13 in 16: 0.5699 to 0.9341 (R's PropCIs and binom, as published with their examples)
    assert words.rate(13, 16, 13 / 16, 0.5699, 0.9341) == "13 of 16, 81 % (57 to 93 %, 19 times in 20)"
    assert words.rate(1, 2, None, None, None) == "1 of 2"


def test_nothing_is_certain() -> None:
    assert words.chance(0.9999) == "over 99 %"
    assert words.chance(0.0001) == "under 1 %"
    assert words.chance(0.5) == "50 %"


def test_a_place_is_named_by_file_sheet_and_row() -> None:
    assert words.place("inbox/a.xlsx", "2025", 14) == "inbox/a.xlsx, sheet 2025, row 14"
    assert words.place("inbox/a.csv", "", 14) == "inbox/a.csv, row 14"
    assert words.place("shop.toml", "people", 3) == "shop.toml, people, entry 3"
    assert words.place("shop.toml", "", 1) == "shop.toml"
    assert words.place(None, None, None) == "no record: worked out"


def test_words_of_counts_months_and_differences() -> None:
    assert words.count(1, "piece") == "1 piece"
    assert words.count(1200, "piece") == "1,200 pieces"
    assert words.month(date(2026, 5, 1)) == "May 2026"
    assert words.signed_share(-0.124) == f"{MINUS}12 points"
    assert words.signed_share(0.05) == "+5 points"
    assert words.article("ash tray") == "an ash tray"
    assert words.field_text(["T-1", "T-2"]) == "T-1; T-2"
    assert [words.field_text(value) for value in (True, 1776, 0.5)] == ["yes", "1,776", "0.5"]


def test_what_an_hour_paid_or_why_not() -> None:
    exact = words.Money("USD").exact
    told = [words.hour_paid(exact, cents, hours) for cents, hours in ((-929, 36.1), (None, 0.004), (None, 0))]
    assert told == [f"{words.MINUS}$9.29", "too few hours", "no hours"]
