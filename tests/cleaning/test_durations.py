"""Lengths of time in every usual notation, to the second."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import durations
from pipeline.errors import FAULTS


def read(text: str, field: str = "hours.hours", **known: str) -> object:
    row = durations.durations(pl.Series([text]), about_of(field, **known)).row(0, named=True)
    return row["code"] or row["value"]


FORMS = [
    "{h}:{m:02}", "{h}:{m:02}:00", "{h}h{m:02}", "{h}h {m}m", "{h} h {m} min", "{h} hours {m} minutes",
    "{h} hrs, {m} mins", "{h} Std. {m} Min.", "{h}h{m:02}min", "{t} min", "{t} minutes", "{t}'", "PT{h}H{m}M",
]  # fmt: skip


@given(st.integers(0, 99), st.integers(0, 59), st.sampled_from(FORMS))
def test_hours_and_minutes(hours: int, minutes: int, form: str) -> None:
    assert read(form.format(h=hours, m=minutes, t=hours * 60 + minutes)) == (hours * 60 + minutes) * 60


@given(st.integers(0, 9999), st.sampled_from(["{}", "{} h", "{}h", "{} hours"]), st.sampled_from(".,"))
def test_decimal_hours(hundredths: int, form: str, decimal: str) -> None:
    number = f"{hundredths // 100}{decimal}{hundredths % 100:02}"
    assert read(form.format(number)) == hundredths * 36


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1 1/2 h", 5400),
        ("1½ h", 5400),
        ("½", 1800),
        ("2", 7200),
        ("90'", 5400),
        ("-1:00", -3600),
        ("1h", 3600),
        ("45m", 2700),
        ("45 s", 45),
        ("1 h 2 min 3 s", 3723),
    ],
)
def test_as_people_write_them(text: str, seconds: int) -> None:
    assert read(text) == seconds


@pytest.mark.parametrize(
    ("text", "known", "seconds"),
    [
        ("3", {}, 180),
        ("3.5", {}, 210),
        ("3:30", {}, 210),
        ("0:03:30", {}, 210),
        ("90 s", {}, 90),
        ("1.5", {"unit": "h"}, 5400),
        ("1 h", {}, 3600),
    ],
)
def test_stirring_is_in_minutes(text: str, known: dict[str, str], seconds: int) -> None:
    assert read(text, "pours.stir_minutes", **known) == seconds


def test_the_mapping_or_header_can_say_minutes() -> None:
    assert read("105", unit="min") == 6300
    assert read("1:45", unit="") == 6300


@pytest.mark.parametrize(
    "text", ["long", "1:75", "2 days", "h", "1:2:3:4", "30 min 1 h", "1 h 1 h", "", "x2", "1 h 2 3"]
)
def test_what_is_no_duration(text: str) -> None:
    assert read(text) == "duration"


def test_a_duration_beyond_all_work() -> None:
    assert read("20000 h") == "range"


@given(st.lists(st.text("0123456789:.,h min'½-", max_size=15) | st.text(max_size=15), max_size=25, unique=True))
def test_junk_is_set_aside_with_a_reason(texts: list[str]) -> None:
    frame = durations.durations(pl.Series(texts, dtype=pl.String), about_of("hours.hours"))
    assert frame.height == len(texts)
    assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
    assert set(frame["code"].drop_nulls()) <= set(FAULTS)
