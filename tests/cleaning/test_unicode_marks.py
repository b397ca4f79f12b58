"""Digits and marks of all scripts are read, and whatever a cell holds, it is a value or its row is set aside."""

import re
import unicodedata
from collections.abc import Callable
from datetime import date, time

import duckdb
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests_shop import SHOP

from pipeline.cleaning import clean, unicode_marks
from pipeline.cleaning.column_formats import _EMPTY, _INVISIBLE, _NONE, _WITHOUT_WORDS
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.records import RECORDS, Field

Make = Callable[..., TextTable]

NEEDED = {
    "date": "2026-05-04", "tag": "T-1", "tags": "T-1", "word": "thing", "money": "5.00", "quantity": "5 kg",
    "text": "somewhere", "choice": "deposit",
}  # fmt: skip
SCRIPTS = "".join(
    chr(code)
    for code in range(128, 0x1FBFA)
    if unicodedata.category(chr(code)) == "Nd" and code not in range(0xD800, 0xE000)
)


def one_column(field: Field, record: str, texts: list[str]) -> tuple[TextTable, Mapping]:
    table = TextTable("", (field.name,), frame_of([[t] for t in texts], range(2, 2 + len(texts)), 1), ignored_of([]))
    others = {
        f.name: "wood" if f.vocabulary == "category" else NEEDED[f.kind]
        for f in RECORDS[record]
        if f.required and f is not field
    }
    if record == "hours" and field.name != "hours":
        others["hours"] = "1:00"
    how = Mapping("m", record=record, columns={field.name: field.name}, constants=others, date_order="day", decimal=".")
    return table, how


FIELDS = [(record, field.name) for record in RECORDS for field in RECORDS[record] if field.kind != "unit"]
ODD = "0123456789.,-+/:'()%xehn €$\u00a0\u202f" + "１２．，－／：٠١٢٣٫٬٪−०१२৩߂𝟙𝟚²½⅓Ⅳ①一\u200b\u3000NaNinf"


@pytest.mark.parametrize(("record", "name"), FIELDS)
@settings(max_examples=5)
@given(texts=st.lists(st.text(ODD, min_size=1, max_size=9), min_size=40, max_size=80))
def test_a_cell_that_holds_something_is_a_value_or_its_row_is_set_aside(
    record: str, name: str, texts: list[str]
) -> None:
    field = RECORDS[record].field(name)
    table, how = one_column(field, record, texts)
    found = clean(table, how, SHOP, "a.csv")
    of_rows = pl.concat([found.frame.select("row"), found.rejected.select("row")])["row"]
    assert set(of_rows) == set(range(2, 2 + len(texts)))
    # only a pour over several pieces becomes more than one
    assert of_rows.is_unique().all() or (record, name) == ("pours", "piece")
    column = next(iter(field.columns()))
    none = (*_EMPTY, *(_NONE if field.kind in _WITHOUT_WORDS else ()))
    said = [re.sub(_INVISIBLE, "", text).strip() for text in texts]
    held = {row for row, text in enumerate(said, 2) if text not in none and text.lower() not in none}
    empty = set(found.frame.filter(found.frame[column].is_null())["row"])
    assert not empty & held, [texts[row - 2] for row in empty & held]


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        ("sales.price", "１２３", 12300),
        ("sales.price", "١٢٣", 12300),
        ("sales.price", "१२३.५०", 12350),
        ("sales.price", "١٬٢٣٤٫٥٠", 123450),
        ("sales.price", "１２円", None),
        ("payments.amount", "−１２．５０", -1250),
        ("payments.amount", "(１２．５０)", -1250),
        ("sales.quantity", "٣", 3),
        ("usage.quantity", "２．５ ｋｇ", 2_500_000),
        ("hours.date", "٢٠٢٦-٠٥-٣١", date(2026, 5, 31)),
        ("hours.date", "３１．５．２０２６", date(2026, 5, 31)),
        ("hours.started_at", "１４：３０", time(14, 30)),
        ("hours.hours", "１：４５", 6300),
        ("hours.pieces", "Ｔ－０３１", ["T-031"]),
        ("pieces.length", "４０ cm", 400_000),
        ("pours.temperature", "２０ C", 20.0),
        ("pours.humidity", "٥٥٪", 55.0),
    ],
)  # fmt: skip
def test_digits_and_marks_of_other_scripts(field: str, text: str, value: object) -> None:
    record, _, name = field.partition(".")
    table, how = one_column(RECORDS[record].field(name), record, [text])
    found = clean(table, how, SHOP, "a.csv")
    column = next(iter(RECORDS[record].field(name).columns()))
    if value is None:
        assert found.rejected.select("code", "text").rows() == [("money", text)]  # shown as it stands in the file
    else:
        assert found.frame[column].to_list() == [value]


@given(st.text(SCRIPTS, min_size=1, max_size=8))
def test_every_decimal_digit_of_unicode_is_a_digit(text: str) -> None:
    assert unicode_marks.usual(text) == "".join(str(unicodedata.decimal(c)) for c in text)


def test_the_arabic_decimal_mark_is_never_taken_for_thousands() -> None:
    """Whatever the file's own mark is: three digits behind it are read right, or asked about."""
    for decimal, wanted in ((".", [123]), (",", [])):
        table, how = one_column(RECORDS["payments"].field("amount"), "payments", ["١٫٢٣٤"])
        found = clean(table, Mapping(**(vars(how) | {"decimal": decimal})), SHOP, "a.csv")
        assert found.frame["amount_cents"].to_list() == wanted


@pytest.mark.parametrize(
    ("field", "text"),
    [
        *(("hours.date", text) for text in (
            "2026-05-31T25:00", "2026-05-31 12:60", "2026-05-31T24:01", "2026-05-31 10:00+25:00", "2026-W22-7",
            "2026-151", "2026-02-30", "30.2.2026", "2026-13-01", "0000-01-01", "31.04.2026", "2026.5.1.2")),
        *(("hours.hours", text) for text in (
            "1h75", "1:60", "0/0", "1e5", "NaN", "inf", "--", "0x10", "5 %", "1.2.3", "-8")),
        *(("hours.started_at", text) for text in ("25:00", "24:01", "23:59:60", "12:60", "13 pm", "1/0")),
        *(("hours.attended", text) for text in ("0/0", "1/0", "0%", "--0", "1.5", "10", "0x1", "-1", "1.2.3")),
        *(("payments.amount", text) for text in (
            "0/0", "1/0", "1e5", "1.2.3", "5%", "NaN", "inf", "Infinity", "0x10", "+-5", "++5", "-5-", "--5", "1,2,3",
            "(-5)", "12..5", "5 5")),
        *(("purchases.paid_rate", text) for text in ("0/0", "1/0", "1e99", "1e18", "NaN", "inf", "0x10", "1.2.3")),
        *(("sales.quantity", text) for text in ("0/0", "1/2", "1e5", "NaN", "0x10", "1.5", "--3", "+-3")),
        *(("usage.quantity", text) for text in (
            "0x10 kg", "0/0 kg", "1/0 kg", "+-5 kg", "--5 kg", "(5 kg", "NaN kg", "1.2.3 kg", "5 %", "1e5 kg")),
        *(("pours.humidity", text) for text in ("5%%", "0/0 %", "-5 %", "301 %", "NaN", "1e5")),
        *(("pours.temperature", text) for text in ("0/0 C", "1e2 C", "NaN", "900 C", "--5 C")),
        *(("pieces.length", text) for text in ("0x10 cm", "0/0 in", "1/0 in", "NaN cm", "--5 cm")),
    ],
)  # fmt: skip
def test_what_cannot_be_is_asked_about(field: str, text: str) -> None:
    record, _, name = field.partition(".")
    table, how = one_column(RECORDS[record].field(name), record, [text])
    found = clean(table, how, SHOP, "a.csv")
    assert found.frame.is_empty(), found.frame[next(iter(RECORDS[record].field(name).columns()))].to_list()
    assert found.rejected["row"].to_list() == [2]


def test_more_hours_than_a_day_has_are_kept_and_asked_about(books: Callable[..., duckdb.DuckDBPyConnection]) -> None:
    """A row may sum up a month, so it stands; a machine may run on by itself, and is not asked about."""
    hours = ("25:00", "90", "24:01", "PT25H", "8:00")
    lines = [f"2026-03-{day:02},{text},sanding,yes" for day, text in enumerate(hours, 1)]
    lines.append("2026-03-20,30:00,carving,no")
    con = books(
        'start = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30',
        hours="date,hours,operation,attended\n" + "\n".join(lines),
    )
    assert con.execute("select count(*) from records.hours").fetchall() == [(6,)]
    assert con.execute("select rows from checks.result where name = 'day_too_long'").fetchall() == [(4,)]


def test_an_amount_beyond_what_is_held_after_exchange_is_set_aside() -> None:
    field = RECORDS["purchases"].field("amount")
    table, how = one_column(field, "purchases", ["900000000000"])
    paid = {"paid_currency": "GBP", "paid_rate": "1000000"}
    found = clean(table, Mapping(**(vars(how) | {"constants": how.constants | paid})), SHOP, "a.csv")
    assert found.rejected.select("code", "field").rows() == [("range", "paid_rate")]
