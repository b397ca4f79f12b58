"""Amounts in every usual notation, to the minor unit."""

from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.cleaning import money
from pipeline.cleaning.parsed import About, Kind, parse
from pipeline.errors import FAULTS
from pipeline.records import RECORDS
from pipeline.shop import Shop

THOUSANDS = {".": [",", " ", "\u00a0", "\u2009", "'", "’", ""], ",": [".", " ", "\u202f", "'", ""]}
AROUND = ["{}", "${}", "$ {}", "{} $", "{}€", "€ {}", "£{}", "USD {}", "{} EUR", "US${}", "CHF {}", "{} zł", "kr {}"]
NEGATIVE = ["-{}", "({})", "−{}", "- {}", "{}-"]


def _about(decimal: str = "", currency: str = "USD") -> About:
    shop = Shop(Path(), {"shop": [{"currency": currency, "units": "us"}]})
    return About(RECORDS["purchases"].field("amount"), shop, decimal=decimal)


def read(text: str, decimal: str = "", currency: str = "USD") -> object:
    row = money.amounts(pl.Series([text]), _about(decimal, currency)).row(0, named=True)
    return row["code"] or row["value"]


@given(
    cents=st.integers(0, 10**13),
    decimal=st.sampled_from(".,"),
    around=st.sampled_from(AROUND),
    negative=st.one_of(st.none(), st.sampled_from(NEGATIVE)),
    inside=st.booleans(),
    data=st.data(),
)
def test_every_notation_gives_the_same_cents(
    cents: int, decimal: str, around: str, negative: str | None, inside: bool, data: st.DataObject
) -> None:
    mark = data.draw(st.sampled_from(THOUSANDS[decimal]))
    number = f"{cents // 100:,}".replace(",", mark) + f"{decimal}{cents % 100:02d}"
    if negative is None:
        text = around.format(number)
    else:
        text = (
            around.format(negative.format(number))
            if inside and negative != "({})"
            else negative.format(around.format(number))
        )
    value = cents if negative is None else -cents
    assert read(text, decimal) == value
    assert read(text) == value  # two decimals show the mark by themselves


@given(st.decimals(0, 10**6, places=5))
def test_more_decimals_are_rounded_once_half_to_even(value: Decimal) -> None:
    expected = int((value * 100).to_integral_value(ROUND_HALF_EVEN))
    assert read(f"{value:.5f}", ".") == expected


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("12,-", ",", 1200),
        ("Fr. 12.–", "", 1200),
        ("1.234", ",", 123400),
        ("1.234", ".", 123),
        ("1.125", ".", 112),  # 112.5 cents to even
        ("1,00,000.00", "", 10000000),
        ("+3", "", 300),
        (".5", "", 50),
        ("12.499999999999998", ".", 1250),
    ],
)
def test_amounts(text: str, decimal: str, value: int) -> None:
    assert read(text, decimal) == value


@pytest.mark.parametrize("text", ["1.234", "1,234"])
def test_an_amount_that_could_be_either_is_set_aside(text: str) -> None:
    assert read(text) == "money"
    assert read(text, "?") == "money"


@pytest.mark.parametrize("text", ["12.50", "1,234.50"])
def test_a_mark_against_the_file_is_set_aside(text: str) -> None:
    assert read(text, ",") == "money"


@pytest.mark.parametrize(
    "text", ["", "free", "$", "1/2", "12.50 ea", "$$5", "(-5)", "--5", "12 12", "$5 €", "9" * 30, "-"]
)
def test_what_is_no_amount_is_refused(text: str) -> None:
    assert read(text) in ("money", "range")


def test_a_currency_without_minor_units() -> None:
    # ISO 4217: the yen has no minor unit
    assert read("¥1,234", ".", "JPY") == 1234
    assert read("1234.50", ".", "JPY") == 1234


@pytest.mark.parametrize(
    ("sign", "code", "fits"),
    [("€", "EUR", True), ("€", "USD", False), ("$", "CAD", True), ("GBP", "GBP", True), ("kr", "SEK", True)],
)
def test_which_currency_a_sign_can_be(sign: str, code: str, fits: bool) -> None:
    assert money.fits(sign, code) is fits


@given(st.lists(st.from_regex(r"\A-?[0-9]{1,12}(\.[0-9]{2})?\Z"), min_size=1, unique=True))
def test_the_sweep_reads_what_the_reader_reads(texts: list[str]) -> None:
    column, about = pl.Series(texts), _about(".")
    swept = parse(column, Kind(money.amounts, money.easy), about)["value"].to_list()
    read_one_by_one = parse(column, Kind(money.amounts), about)["value"].to_list()
    assert swept == read_one_by_one


@given(st.lists(st.text(max_size=30), max_size=20, unique=True), st.sampled_from(["", ".", ",", "?"]))
def test_junk_is_set_aside_with_a_reason(texts: list[str], decimal: str) -> None:
    frame = money.amounts(pl.Series(texts, dtype=pl.String), _about(decimal))
    assert frame.height == len(texts)
    assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
    assert set(frame["code"].drop_nulls()) <= set(FAULTS)


def test_the_currency_named_is_handed_on(about: Callable[..., About]) -> None:
    frame = money.amounts(pl.Series(["€ 5", "5"]), about("purchases.amount"))
    assert frame["currency"].to_list() == ["€", None]
