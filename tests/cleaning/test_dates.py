"""Days and times in every usual notation; the order of day and month by the file's evidence."""

from collections.abc import Callable
from datetime import date, time, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import dates
from pipeline.cleaning.parsed import About
from pipeline.errors import FAULTS

DAYS = st.dates(date(1990, 1, 1), date(2100, 12, 31))
THIS_CENTURY = st.dates(date(2000, 1, 1), date(2089, 12, 31))
SURE = ["%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%d %B %Y", "%B %d, %Y", "%d-%b-%Y", "%A, %d %b %Y", "%b %d %Y"]
CLOCKS = ["", "T10:30:00Z", " 10:30", " 00:00:00", "T10:30:00.123+02:00", " 2:05 PM", ", 14:30"]


def read(text: str, order: str = "") -> object:
    row = dates.dates(pl.Series([text]), about_of("hours.date", order=order)).row(0, named=True)
    return row["code"] or row["value"]


@given(DAYS, st.sampled_from(SURE), st.sampled_from(CLOCKS))
def test_a_date_that_can_be_read_one_way_only(day: date, form: str, clock: str) -> None:
    assert read(day.strftime(form) + clock) == day


@given(THIS_CENTURY, st.sampled_from("-/. "), st.booleans(), st.booleans(), st.sampled_from(["day", "month"]))
def test_day_and_month_in_the_order_told(day: date, mark: str, padded: bool, short: bool, order: str) -> None:
    width = 2 if padded else 1
    parts = [f"{day.day:0{width}}", f"{day.month:0{width}}"]
    year = f"{day.year % 100:02}" if short else str(day.year)
    text = mark.join([*(parts if order == "day" else parts[::-1]), year])
    assert read(text, order) == day


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("31. Mai 2026", date(2026, 5, 31)),
        ("31 mai 2026", date(2026, 5, 31)),
        ("1er février 2026", date(2026, 2, 1)),
        ("3 de marzo de 2026", date(2026, 3, 3)),
        ("May 31st, 2026", date(2026, 5, 31)),
        ("Sun 31 May '26", date(2026, 5, 31)),
        ("31-May-26", date(2026, 5, 31)),
        ("2026 May 31", date(2026, 5, 31)),
        ("5. März 2026", date(2026, 3, 5)),
    ],
)
def test_months_in_words(text: str, day: date) -> None:
    assert read(text) == day


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["3/4/2026", "13/4/2026"], "day"),
        (["3/4/2026", "4/13/2026"], "month"),
        (["3/4/2026", "5/6/2026"], ""),
        (["13/4/2026", "4/13/2026"], "?"),
        (["5.5.26", "6.6.26"], "day"),  # the same either way
        (["2026-05-31", "31 May 2026"], "day"),  # nothing to decide
        (["03/04/2026 13:00", "13/04/2026 09:00"], "day"),
        ([], ""),
    ],
)
def test_the_file_decides_the_order(texts: list[str], order: str) -> None:
    assert dates.order(pl.Series(texts, dtype=pl.String)) == order


def test_one_slip_among_many_does_not_turn_the_file() -> None:
    many = [f"{m}/{d}/2026" for m in range(1, 13) for d in range(13, 28)]
    assert dates.order(pl.Series([*many, "13/5/2026"])) == "month"
    assert dates.order(pl.Series([*many, "13/5/2026", "14/5/2026"])) == "?"
    assert read("13/5/2026", "month") == "date"


@pytest.mark.parametrize("order", ["", "?"])
def test_an_open_order_is_asked_about(order: str) -> None:
    assert read("3/4/2026", order) == "date-order"
    assert read("13/4/2026", order) == "date-order"


def test_day_numbers_of_workbooks_only_where_the_whole_column_is_such() -> None:
    # day 45000 is 2023-03-15 in the usual day count of workbooks, which begins at 1899-12-30 (from memory)
    numbered = dates.dates(pl.Series(["45000", "45001.5"]), about_of("hours.date"))
    assert numbered["value"].to_list() == [date(2023, 3, 15), date(2023, 3, 16)]
    mixed = dates.dates(pl.Series(["45000", "2023-03-15"]), about_of("hours.date"))
    assert mixed["code"].to_list() == ["date", None]


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-30",
        "31.4.2026",
        "1989-12-31",
        "2101-01-01",
        "soon",
        "12",
        "5/2026",
        "2026",
        "1/2/3",
        "31 2026",
        "0.0.0",
        "May 2026",
        "9" * 5_000,  # more digits than Python makes a number of
        f"{'9' * 5_000}.1",
        f"1 {'9' * 5_000}",
    ],
    ids=lambda text: text[:12],
)
def test_what_is_no_day(text: str) -> None:
    assert read(text, "day") == "date"


@given(
    st.times().map(lambda t: t.replace(microsecond=0, fold=0)),
    st.sampled_from(["%H:%M:%S", "%I:%M:%S %p", "2026-05-31 %H:%M:%S"]),
)
def test_times(moment: time, form: str) -> None:
    frame = dates.times(pl.Series([moment.strftime(form)]), about_of("hours.started_at"))
    assert frame["value"].to_list() == [moment]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("14:30", time(14, 30)),
        ("2pm", time(14)),
        ("2:30 p.m.", time(14, 30)),
        ("12 am", time(0)),
        ("14h30", time(14, 30)),
        ("14h", time(14)),
        ("14.30 Uhr", time(14, 30)),
        ("1430", time(14, 30)),
        ("24:00", time(0)),
    ],
)
def test_times_as_people_write_them(
    text: str, moment: time, about: Callable[..., About], one: Callable[..., object]
) -> None:
    assert one(dates.times, text, about("hours.started_at")) == moment


@pytest.mark.parametrize("text", ["25:00", "12:60", "noon", "13 pm", "14", "1:2:3:4", "2 p"])
def test_what_is_no_time(text: str, about: Callable[..., About], one: Callable[..., object]) -> None:
    assert one(dates.times, text, about("hours.started_at")) == "time"


def test_times_as_shares_of_a_day() -> None:
    frame = dates.times(pl.Series(["0.5", "0.75"]), about_of("hours.started_at"))
    assert frame["value"].to_list() == [time(12), time(18)]


@given(
    st.lists(st.text("0123456789/.-: TZMayJun,'", max_size=20), max_size=20, unique=True),
    st.sampled_from(["", "day", "month", "year", "?"]),
)
def test_junk_is_set_aside_with_a_reason(texts: list[str], order: str) -> None:
    column = pl.Series(texts, dtype=pl.String)
    for reader in (dates.dates, dates.times):
        frame = reader(column, about_of("hours.date", order=order))
        assert frame.height == len(texts)
        assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
        assert set(frame["code"].drop_nulls()) <= set(FAULTS)
    assert dates.order(column) in ("", "day", "month", "?")


@given(DAYS)
def test_serial_numbers_round_trip(day: date) -> None:
    serial = (day - date(1899, 12, 30)) // timedelta(days=1)
    assert read(str(serial)) == day
