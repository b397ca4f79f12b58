"""Section rows and subtotals between the rows of a table, and the periods that headings speak of."""

import pytest

from pipeline.readers.csv import tables_in
from pipeline.readers.periods import Period, period_of
from pipeline.readers.sections import without_sections


def told(text: str):
    (table,) = tables_in(text.encode())
    found = without_sections(table)
    kept = {*found.frame["row"], *found.ignored["row"]}
    assert kept == {*table.frame["row"], *table.ignored["row"]}, "a row is lost"
    return found


WORK = """date,person,hours,operation
2025,,,
Q1,,,
05.01.,Ann,2,sanding
06.01.,Ann,1.5,finishing
Subtotal,,3.5,
Bought in March,,,
13.04.,Ann,2,sanding
14.04.,Ann,1.5,sanding
Zwischensumme,,3.5,
15.04.,Ann,1.5,sanding
Total,,7,
"""


def test_sections_and_subtotals_are_no_rows():
    table = told(WORK)
    assert table.frame["row"].to_list() == [4, 5, 8, 9, 11]
    assert table.sections == ((2, "2025"), (3, "Q1"), (7, "Bought in March"))
    assert table.ignored.select("row", "reason").rows() == [
        (1, "header"), (2, "section"), (3, "section"), (6, "total"), (7, "section"), (10, "total"), (12, "total"),
    ]  # fmt: skip


def test_a_section_right_below_the_header_is_no_second_header():
    table = told("day,item,amount\nWood,,\n2026-01-05,oak,12.00\n2026-01-15,ash,11.00\nResin,,\n2026-01-07,epoxy,9\n")
    assert table.names == ("day", "item", "amount")
    assert table.sections == ((2, "Wood"), (5, "Resin"))


def test_a_day_is_a_heading_only_where_the_row_below_has_none():
    table = told("date,who,hours,what\n2026-01-05,,,\n,Ann,2,sand\n,Bo,2,oil\n2026-01-06,,,\n2026-01-07,Ann,2,oil\n")
    assert table.sections == ((2, "2026-01-05"),)
    assert table.frame["row"].to_list() == [3, 4, 5, 6]


@pytest.mark.parametrize(
    "text",
    [
        "piece,product,made\nSB-001,board,2026-01-05\nSB-002,,\nSB-003,board,2026-01-06\n",  # a tag is no heading
        "person,day,hours\nAnn,2026-01-05,2\nAnn,,\nBo,2026-01-06,2\n",  # a name that other rows have
        "item,amount\noak,12\n2025,\nash,14\n",  # of two cells one may well be missing
        "item,quantity,amount\ntotal loss lamp,1,12\noak,2,12\nash,1,14\n",  # a row as full as the others
        "item,code,amount\noak,1,12\nTotal,wood,12\nash,1,14\n",  # more than numbers beside it
    ],
)
def test_what_may_be_a_record_stays(text):
    table = told(text)
    assert table.sections == ()
    assert table.frame.height == 3


@pytest.mark.parametrize(
    ("text", "period"),
    [
        ("2025", Period(2025, 0, spoken=True)),
        ("Q1", Period(spoken=True)),
        ("1. Quartal 2025", Period(2025, 0, spoken=True)),
        ("Bought in March", Period(0, 3, spoken=True)),
        ("März 2025", Period(2025, 3, spoken=True)),
        ("03/2025", Period(2025, 3, spoken=True)),
        ("2025-03", Period(2025, 3, spoken=True)),
        ("hours_2025.csv", Period(2025, 0, spoken=True)),
        ("2025/2026", Period(0, 0, spoken=True)),
        ("2025-03-01 export.csv", Period()),
        ("printed 3.1.2026", Period()),
        ("3.1.2026", Period(day=True, spoken=True)),
        ("2000 x 300 mm", Period()),
        ("2000 g of resin", Period()),
        ("Resin", Period()),
    ],
)
def test_periods(text, period):
    assert period_of(text) == period
