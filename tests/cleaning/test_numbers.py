"""Numbers in every usual notation, and the decimal mark by evidence."""

from collections.abc import Callable
from fractions import Fraction

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import numbers
from pipeline.cleaning.parsed import About, UnreadableError
from pipeline.errors import FAULTS

THOUSANDS = {".": [",", " ", "\u00a0", "\u2009", "\u202f", "'", "’", ""], ",": [".", " ", "\u00a0", "\u202f", "'", ""]}


def grouped(whole: int, mark: str) -> str:
    return f"{whole:,}".replace(",", mark)


@given(
    whole=st.integers(0, 10**12),
    part=st.text("0123456789", max_size=6),
    decimal=st.sampled_from(".,"),
    data=st.data(),
)
def test_every_notation_gives_the_same_number(whole: int, part: str, decimal: str, data: st.DataObject) -> None:
    mark = data.draw(st.sampled_from(THOUSANDS[decimal]))
    text = grouped(whole, mark) + (decimal + part if part else "")
    assert numbers.unsigned(text, decimal) == Fraction(f"{whole}.{part or 0}")


@given(
    st.integers(0, 99), st.integers(1, 63), st.integers(1, 64), st.sampled_from(["{} {}/{}", "{}-{}/{}", "{}  {} / {}"])
)
def test_mixed_fractions(whole: int, above: int, below: int, form: str) -> None:
    assert numbers.unsigned(form.format(whole, above, below), "") == whole + Fraction(above, below)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("½", Fraction(1, 2)),
        ("1½", Fraction(3, 2)),
        ("2 ¾", Fraction(11, 4)),
        ("⅓", Fraction(1, 3)),
        ("3⅞", Fraction(31, 8)),
    ],
)
def test_vulgar_fractions(text: str, value: Fraction) -> None:
    assert numbers.unsigned(text, "") == value


@pytest.mark.parametrize("text", ["", "1.2.3", "1,23,4", "1,2.3,4", "a", "1/0", "--1", "1 23", "12.345,6.7", "1" * 500])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(UnreadableError):
        numbers.unsigned(text, "")


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["12.50"], "."),
        (["12,5"], ","),
        (["1.234,50"], ","),
        (["1,234.50"], "."),
        (["1.234.567"], ","),
        (["0.125"], "."),
        (["1234,500"], ","),
        (["1.234", "17"], ""),
        (["12.50", "12,50"], "?"),
        (["1,5 L", "3 x 500 ml"], ","),
        (["$1,00,000.00"], "."),
        ([], ""),
    ],
)
def test_a_file_shows_its_decimal_mark(texts: list[str], mark: str) -> None:
    assert numbers.certain(pl.Series(texts, dtype=pl.String)) == mark


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["850", "1,234"], "."),
        (["$850", "$1.234"], ","),
        (["1,234"], ""),  # may have been written with three decimals
        (["1234", "1,234"], ""),
        (["850", "1,234", "1.234"], ""),
    ],
)
def test_thousands_show_by_the_whole_numbers_beside_them(texts: list[str], mark: str) -> None:
    assert numbers.thousands(pl.Series(texts)) == mark


@pytest.mark.parametrize(
    ("texts", "digits", "mark"),
    # ISO 4217: a yen has no parts, a Kuwaiti dinar a thousand
    [
        (["1,234"], 0, "."),
        (["1234", "1.234"], 0, ","),
        (["12.345"], 3, "."),
        (["12,345", "0,250"], 3, ","),
        (["850", "1,234"], 3, ""),
        (["1,234", "1.234"], 3, ""),
    ],
)
def test_three_digits_after_a_mark_are_what_the_currency_makes_of_them(texts: list[str], digits: int, mark) -> None:
    assert numbers.thousands(pl.Series(texts), digits) == mark


def test_a_number_that_could_be_either_is_set_aside(about: Callable[..., About], one: Callable[..., object]) -> None:
    field = "purchases.paid_rate"
    assert one(numbers.numbers, "1.234", about(field)) == "number"
    assert one(numbers.numbers, "1.234", about(field, decimal="?")) == "number"
    assert one(numbers.numbers, "1.234", about(field, decimal=".")) == 1.234
    assert one(numbers.numbers, "1.234", about(field, decimal=",")) == 1234.0
    assert one(numbers.numbers, "12,5", about(field, decimal=".")) == "number"


@given(st.integers(-(10**6), 10**6))
def test_counts(value: int) -> None:
    frame = numbers.counts(pl.Series([str(value), f"{value} pcs", f"{value}.0"]), about_of("pieces.quantity"))
    assert frame["value"].to_list() == [value] * 3


@pytest.mark.parametrize("text", ["1.5", "two", "½"])
def test_counts_are_whole(text: str, about: Callable[..., About], one: Callable[..., object]) -> None:
    assert one(numbers.counts, text, about("pieces.quantity", decimal=".")) == "count"


@pytest.mark.parametrize(
    ("texts", "values"),
    [
        (["55 %", "55", "55%"], [55.0, 55.0, 55.0]),
        (["0.55", "1", "0.4"], [55.0, 100.0, 40.0]),
        (["0.8", "12"], [0.8, 12.0]),
        (["0.5 %"], [0.5]),
        (["9,5"], [9.5]),
    ],
)
def test_percents(texts: list[str], values: list[float]) -> None:
    frame = numbers.percents(pl.Series(texts), about_of("purchases.moisture"))
    assert frame["value"].to_list() == pytest.approx(values)


@pytest.mark.parametrize(
    ("text", "unit", "degrees"),
    [
        # 32 F = 0 °C and 212 F = 100 °C define the scale; 68 F = 20 °C follows
        ("68 F", "", 20.0),
        ("68°F", "", 20.0),
        ("20 °C", "", 20.0),
        ("20C", "F", 20.0),
        ("68", "°F", 20.0),
        ("68", "", 20.0),  # above 45 in a shop of US units
        ("20", "", 20.0),
        ("20,5 C", "", 20.5),
        ("32 degF", "", 0.0),
        ("-5 c", "", -5.0),
    ],
)
def test_temperatures(
    text: str, unit: str, degrees: float, about: Callable[..., About], one: Callable[..., object]
) -> None:
    assert one(numbers.temperatures, text, about("pours.temperature", unit=unit)) == pytest.approx(degrees)


@pytest.mark.parametrize(("text", "code"), [("200 C", "range"), ("warm", "number"), ("20 K", "number")])
def test_no_temperature(text: str, code: str, about: Callable[..., About], one: Callable[..., object]) -> None:
    assert one(numbers.temperatures, text, about("pours.temperature")) == code


@given(st.lists(st.text(max_size=30), max_size=20, unique=True))
def test_junk_is_set_aside_with_a_reason(texts: list[str]) -> None:
    for reader, field in (
        (numbers.numbers, "purchases.paid_rate"),
        (numbers.counts, "pieces.quantity"),
        (numbers.percents, "purchases.moisture"),
        (numbers.temperatures, "pours.temperature"),
    ):
        frame = reader(pl.Series(texts, dtype=pl.String), about_of(field))
        assert frame.height == len(texts)
        assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
        assert set(frame["code"].drop_nulls()) <= set(FAULTS)
