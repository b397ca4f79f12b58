"""What headings say of the rows below them: the year of a date without one, a day, a category."""

from datetime import date
from pathlib import Path

import pytest

from pipeline.cleaning import clean
from pipeline.mapping import Mapping, canonical
from pipeline.readers import read
from pipeline.readers.sections import without_sections
from pipeline.refresh.table_account import likely


@pytest.fixture
def cleaned(tmp_path: Path, plain_shop):
    def of(text: str, name: str = "a.csv", **said):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        *_, table = map(without_sections, read(path))
        how = canonical("hours.csv", table)
        assert how
        return clean(table, Mapping("m", record=how.record, columns=how.columns, **said), plain_shop, name)

    return of


ROWS = "05.01.,Ann,2,sanding\n5 May,Ann,2,sanding\n31/12,Ann,2,sanding\n"
HEADER = "date,person,hours,operation\n"
DAYS = [(1, 5), (5, 5), (12, 31)]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (f"{HEADER}2025,,,\n{ROWS}", "a.csv"),
        (f"Work of 2025\n\n{HEADER}{ROWS}", "a.csv"),
        (f"{HEADER}{ROWS}", "hours 2025.csv"),
        (f"{HEADER}{ROWS}", "hours_2025.csv"),
        (f"{HEADER}2025,,,\n{ROWS}", "hours 2026.csv"),
        (f"{HEADER}2025,,,\nQ1,,,\n{ROWS}", "a.csv"),
    ],
)
def test_a_date_without_a_year_takes_that_of_the_nearest_heading(cleaned, text, name):
    found = cleaned(text, name)
    assert found.frame["on_date"].to_list() == [date(2025, month, day) for month, day in DAYS]
    assert found.rejected.is_empty()


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (f"{HEADER}{ROWS}", "a.csv"),
        (f"Work of 2025\n\n{HEADER}{ROWS}", "hours 2026.csv"),
        (f"{HEADER}{ROWS}", "hours 2025-26.csv"[:-4] + " 2026.csv"),
        (f"{HEADER}{ROWS}", "hours 2026-02-01.csv"),
    ],
)
def test_without_one_year_alone_it_is_asked(cleaned, text, name):
    found = cleaned(text, name)
    assert found.frame.is_empty()
    assert set(found.rejected["code"]) == {"date-year"}
    assert cleaned(text, name, year=2025).frame["on_date"].to_list() == [date(2025, *day) for day in DAYS]


def test_a_lone_line_before_a_blank_one_heads_the_table_below(cleaned):
    """Read as a table of its own, since its blanks may part cells, it still says the year."""
    rows = "".join(f"{day}.1.;Ann;sand W{day};1h30\n" for day in range(9, 15))
    found = cleaned(f"Book of hours 2025\n\ndate;person;operation;hours\nJanuary\n{rows}")
    assert found.frame["on_date"].to_list() == [date(2025, 1, day) for day in range(9, 15)]


def test_each_section_has_its_year_and_a_day_alone_its_month(cleaned):
    text = f"{HEADER}2024,,,\n31.12.,Ann,2,sanding\nJan 2025,,,\n7,Ann,1,oiling\n8.,Ann,1,oiling\n9.1.,Ann,1,oiling\n"
    assert cleaned(text).frame["on_date"].to_list() == [
        date(2024, 12, 31),
        date(2025, 1, 7),
        date(2025, 1, 8),
        date(2025, 1, 9),
    ]


def test_a_month_without_a_year_gives_a_day_alone_nothing(cleaned):
    found = cleaned(f"{HEADER}March,,,\n7,Ann,1,sanding\n8,Ann,1,sanding\n")
    assert found.frame.is_empty()
    assert found.rejected.height == 2


def test_rows_below_a_day_are_of_that_day(cleaned):
    found = cleaned(f"{HEADER}2026-01-05,,,\n,Ann,2,sanding\n,Bo,1,sanding\n2026-01-06,,,\n,Bo,1,sanding\n")
    assert found.frame["on_date"].to_list() == [date(2026, 1, 5), date(2026, 1, 5), date(2026, 1, 6)]


def test_rows_below_a_category_are_of_that_category(cleaned):
    found = cleaned(
        "date,item,category,quantity,amount\nWood,,,,\n2026-01-05,oak,,12 bf,120\nResin,,,,\n"
        "2026-01-07,casting epoxy,,2 l,90\n2026-01-08,dye,colourant,1 l,9\n"
    )
    assert found.frame["category"].to_list() == ["wood", "resin", "colourant"]


def test_a_decimal_number_is_no_day(cleaned):
    found = cleaned(f"{HEADER}2025,,,\n12.50,Ann,2,sanding\n3.5,Ann,2,sanding\n")
    assert found.rejected.select("text", "code").rows() == [("12.50", "date")]


FIRST = "2026-03-04,Timber yard,walnut,wood,199.38\n,,maple,wood,64.80\n2026-03-11,Ironmonger,discs,abrasive,75.96\n"


@pytest.mark.parametrize(
    ("more", "filled", "below"),
    [
        (",,legs,hardware,64.00\n", ["04 Timber yard", "04 Timber yard", "11 Ironmonger", "11 Ironmonger"], 2),
        # one alone is a day that is missing, and so is one beside a supplier
        ("", ["04 Timber yard", "11 Ironmonger"], 0),
        (",,legs,hardware,64\n,Ironmonger,glue,consumable,5\n", ["04 Timber yard", "11 Ironmonger"], 0),
    ],
)
def test_lines_below_a_receipts_first_have_its_day_and_supplier_and_are_told(
    tmp_path: Path, plain_shop, more: str, filled: list[str], below: int
) -> None:
    path = tmp_path / "purchases.csv"
    path.write_text("date,supplier,item,category,amount\n" + FIRST + more, encoding="utf-8")
    (table,) = read(path)
    how = canonical("purchases.csv", table)
    assert how
    found = clean(table, how, plain_shop, "purchases.csv")
    assert [f"{day:%d} {supplier}" for day, supplier in found.frame.select("on_date", "supplier").rows()] == filled
    taken = likely(table, how, found, plain_shop, "purchases.csv").filter(vocabulary="receipt")
    assert taken["rows"].to_list() == ([below] if below else [])
