"""Why two months differ, in sentences."""

from datetime import date
from typing import Any

import pytest

from pipeline.database import open_newest
from pipeline.reports import month_comparison
from pipeline.reports.finding import rows_of

JANUARY = {"month": date(2026, 1, 1), "whole": True, "result_cents": 150_000, "owners_result_cents": 170_005}
FEBRUARY = {"month": date(2026, 2, 1), "whole": True, "result_cents": 10_000, "owners_result_cents": 30_000}
WORDS = {"price": ("higher prices", "lower prices"), "volume": ("more sold", "fewer sold"), "losses": ("", "losses")}


def parts(now: int = 10_000, past: int = 150_000, **cents: int) -> list[dict[str, Any]]:
    """Rows of `money.bridge` with the words of `money.difference`."""
    ends = {"result_cents": now, "other_result_cents": past}
    return [
        {"part": part, "part_number": n, "cents": of, "better": WORDS[part][0], "worse": WORDS[part][1]} | ends
        for n, (part, of) in enumerate(cents.items(), 1)
    ]


def told(found: list[dict[str, Any]], now: dict[str, Any] = FEBRUARY, past: dict[str, Any] = JANUARY) -> list[str]:
    return list(month_comparison.sentences(found, now, past, "EUR", 2))


def test_the_largest_cause_of_each_way_comes_first() -> None:
    found = parts(price=20_001, volume=-150_001, losses=-10_000)
    difference, owners = told(found)
    assert difference == (
        "February 2026 made 1,400.00 EUR less than January 2026, mainly by fewer sold (−1,500.01) and losses (−100.00)"
        "; against that stood higher prices (+200.01)."
    )
    assert owners == (
        "What was left for the owners' pay is the result with the own pay counted in it added back: "
        "1,500.00 + 200.05 = 1,700.05 EUR in January 2026, 100.00 + 200.00 = 300.00 in February 2026. "
        "From one to the other it is 1,400.05 less: 1,400.00 less in the result, 0.05 less in the own pay counted."
    )
    assert month_comparison.main_cause(found) == "fewer sold"


def test_two_causes_of_a_size_keep_the_order_of_the_list() -> None:
    found = parts(past=10_300, losses=-100, price=-100, volume=-100)
    assert "mainly by losses (−1.00) and lower prices (−1.00)." in told(found)[0]


def test_months_that_made_the_same_have_no_main_cause() -> None:
    found = parts(past=10_000, price=500, volume=-500)
    same = FEBRUARY | {"month": JANUARY["month"]}
    (difference, _) = told(found, FEBRUARY | {"whole": False}, same)
    assert difference == (
        "February 2026 so far made 0.00 EUR more or less than January 2026; against that stood higher prices (+5.00) "
        "and fewer sold (−5.00)."
    )
    assert month_comparison.main_cause(found) == ""


def test_without_own_pay_there_is_nothing_to_add_back() -> None:
    now, past = ({**month, "owners_result_cents": month["result_cents"]} for month in (FEBRUARY, JANUARY))
    assert len(told(parts(volume=-140_000), now, past)) == 1


@pytest.mark.parametrize("found", [[], parts(past=10_000, price=0)])
def test_where_no_part_differs_nothing_is_said(found: list[dict[str, Any]]) -> None:
    assert told(found) == []
    assert month_comparison.main_cause(found) == ""


def test_each_part_of_the_demos_months_has_words_for_both_ways(demo) -> None:
    with open_newest(demo) as con:
        found = rows_of(con, "select * from money.difference")
        named = {part for (part,) in con.execute("select distinct part from money.bridge").fetchall()}
    assert named == {row["part"] for row in found}
    assert all(row["better"] and row["worse"] and row["part_meaning"] and row["result_lines"] for row in found)
