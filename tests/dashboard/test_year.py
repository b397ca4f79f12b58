"""The page of the year: its sentence, what is apart, where its figures lead, and its goal set by the form."""

import re
from datetime import date
from html import unescape
from pathlib import Path

import polars as pl
import pytest

from dashboard import data
from pipeline.pages import actions
from pipeline.shop import load
from tests.dashboard.conftest import Run, heading, html
from tests.one_look import too_much

SHOP = [{"row_id": 1, "name": "Bench", "currency": "USD", "units": "metric", "minor_units": 100}]
NONE = {
    "pay_per_hour_cents": None, "good_share": None, "yield_share": None, "rework_share": None, "low": None,
    "high": None,
}  # fmt: skip
ZERO = {
    "owners_result_cents": 0, "owner_hours": 0.0, "pieces_sold": 0, "pours": 0, "poured_g": 0.0, "good_g": 0.0,
    "wood_pieces": 0, "gone_dm3": 0.0, "finished_dm3": 0.0, "pieces": 0, "reworked_pieces": 0, "young_pieces": 0,
}  # fmt: skip


def glance(first: date, cents: list[int], empty: tuple[int, ...] = (), running: bool = False) -> list[dict]:
    """`money.glance` of a shop whose months have these results; those at `empty` have no record, the last may run."""
    rows = []
    for n, each in enumerate(cents):
        number = first.year * 12 + first.month - 1 + n
        month = date(number // 12, number % 12 + 1, 1)
        whole = not running or n < len(cents) - 1
        of_year = [m for m in range(n + 1) if n - m < month.month]
        told = ZERO | NONE | {"month": month, "whole": whole}
        rows += [
            told | {"span": "month", "months": 1, "recorded_months": int(n not in empty), "result_cents": each},
            told
            | {
                "span": "year so far",
                "months": len(of_year),
                "recorded_months": len([m for m in of_year if m not in empty]),
                "result_cents": sum(cents[m] for m in of_year),
            },
        ]
    return rows


def plain(test) -> str:
    return spaced(re.sub("<[^>]+>", " ", html(test)))


def spaced(text: str) -> str:
    return unescape(text).replace("\u2060", "").replace("\u00a0", " ")


def of_goal(**told: object) -> dict[str, object]:
    return {
        "year": 2026, "goal_kind": "result", "target": 500_000.0, "months": 2, "months_unrecorded": 0,
        "months_left": 10, "known_months": 14, "so_far": 50_000.0, "likely_low": 100_000.0,
        "likely_high": 600_000.0, "goal_chance": 0.35, "reached": None, "row_id": 1,
    } | told  # fmt: skip


def test_a_year_stands_beside_the_same_months_of_the_one_before(page: Run, published) -> None:
    rows = glance(date(2025, 1, 1), [10_000] * 12 + [40_000, 10_000, 99_900], running=True)
    known = [{"month": date(2025, 3, 1)}]
    shop = published(settings__shop=SHOP, money__glance=rows, money__goal=[of_goal()], money__month=known)
    test = page("year", shop)
    assert not test.exception
    assert spaced(heading(test)) == "2026 so far made $500, $300 better than 2025 by then; its goal is 35 % likely."
    assert "March 2026 is not over, and in no figure above: $999 so far." in plain(test)
    assert "$5,000 wanted, $500 in 2 months. With 10 months to come the year likely ends at $1,000 to $6,000" in plain(
        test
    )
    # what was neither cut nor poured is said so, not as a share of nothing
    assert "no cut wood is on record" in plain(test) and "no pour with its grams is on record" in plain(test)
    last = page("year", shop, year="2025")
    assert spaced(heading(last)) == "2025 made $1,200 after your own pay."
    assert "Nothing is compared with 2024" in plain(last)
    # the month chosen on another page brings its year along
    assert heading(page("year", shop, month="2025-03")) == heading(last)


def test_each_month_leads_to_its_page_and_each_figure_to_the_months(page: Run, demo: Path) -> None:
    test = page("year", demo)
    rows = re.search(r'aria-label="year 2026"><table class="kl">.*?</table>', html(test), re.S)
    assert rows
    assert re.findall(r'href="month\?month=(\d{4}-\d\d)"', rows[0]) == [
        *(f"2026-{n:02}" for n in range(1, 12)),
        "2025-12",
    ]
    # the month to come stands beside the one that it will be held against, and leads to that
    (past,) = data.open_book(demo).months().filter(pl.col("month") == date(2025, 12, 1))["result_cents"]
    december = re.findall(r"<td[^>]*>(.*?)</td>", rows[0].rpartition("<tr>")[2])
    assert [re.sub("<.*?>", "", cell) for cell in december[:2]] == ["December, to come", "\u2013"]
    assert re.sub("[^0-9]", "", spaced(december[2])) == f"{abs(past) / 100:.0f}"
    figures = re.search(r'<dl class="kl-figures.*?</dl>', html(test), re.S)
    assert figures
    assert figures[0].count('href="#months-of-the-year"') == 5
    assert 'id="months-of-the-year"' in html(test)


@pytest.mark.parametrize("figure", ["Result", "An hour paid", "Wood in pieces", "Resin in pieces", "Came back"])
def test_the_figures_of_the_demo_are_those_of_its_months(page: Run, demo: Path, figure: str) -> None:
    book = data.open_book(demo)
    months = book.months()
    assert sum(book.year_months(2025)["result_cents"]) == sum(
        row["result_cents"] for row in months.iter_rows(named=True) if row["month"].year == 2025
    )
    test = page("year", demo, figure=figure)
    assert not test.exception
    assert f"{figure} by month: " in plain(test)


@pytest.mark.parametrize(
    ("rows", "year", "says", "apart"),
    [
        (glance(date(2026, 3, 1), [500], running=True), "2026", "No month of 2026 is over yet.", "The records begin"),
        (glance(date(2025, 6, 1), [100] * 10), "2026", "2026 so far made $3 after your own pay.", "compared with 2025"),
        (
            glance(date(2025, 1, 1), [100] * 14, empty=(1,)),
            "2026",
            "2026 so far made $2 after your own pay.",
            "compared with 2025",
        ),
        (glance(date(2025, 1, 1), [100] * 14, empty=(13,)), "2026", "2026 so far made $2 after", "Without a record: F"),
        (glance(date(2025, 1, 1), [0] * 13, empty=(12,)), "2026", "No month of 2026 that is over has a record.", ""),
        (glance(date(2025, 1, 1), [100] * 14), "2027", "No month of 2027 is over yet.", "What you want of 2027"),
        (glance(date(2025, 1, 1), [-100] * 24), "2026", "2026 lost $12 after your own pay, the same as 2025.", ""),
    ],
    ids=["runs", "young", "gap before", "gap", "nothing yet", "to come", "alike"],
)
def test_an_odd_year_says_what_can_not_be_said(page: Run, published, rows, year: str, says: str, apart: str) -> None:
    test = page("year", published(settings__shop=SHOP, money__glance=rows), year=year)
    assert not test.exception
    assert spaced(heading(test)).startswith(says)
    assert too_much(heading(test)) == ""
    assert apart in plain(test)


@pytest.mark.parametrize(
    ("told", "short", "line"),
    [
        ({"goal_chance": None, "known_months": 1, "likely_low": None, "likely_high": None}, ".",
         "How likely it is can't be said yet: 1 whole month has records, and it takes 6."),
        ({"goal_kind": "pay", "goal_chance": None, "so_far": None}, ".", "can't be said: no hours of yours"),
        ({"goal_chance": 0.001}, "; its goal is under 1 % likely.", "The goal is under 1 % likely."),
        ({"months_left": 0, "goal_chance": None, "reached": False}, "; its goal was missed.", ": missed."),
        ({"goal_chance": None, "reached": True}, "; its goal was reached.", ": reached already."),
        ({"months_left": 0, "months_unrecorded": 10, "goal_chance": None}, " after your own pay.",
         "$500 in 2 months. 10 months of the year have no record: what that brought isn't in it."),
        ({"months": 0, "months_left": 0, "months_unrecorded": 12, "goal_chance": None, "so_far": None},
         " after your own pay.", "No month of 2026 has a record: whether it was reached isn't known."),
    ],
    ids=["few", "no hours", "hardly", "missed", "reached", "gaps", "before the records"],
)  # fmt: skip
def test_a_goal_says_how_likely_it_is_or_why_that_is_not_known(page: Run, published, told, short, line) -> None:
    rows = glance(date(2026, 1, 1), [100, 200])
    test = page("year", published(settings__shop=SHOP, money__glance=rows, money__goal=[of_goal(**told)]))
    assert not test.exception
    assert spaced(heading(test)).endswith(short)
    assert line in plain(test)


def test_a_goal_is_set_by_the_form_and_what_is_no_goal_stays_typed(
    page: Run, published, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "start_refresh", lambda _: None)
    shop = published(settings__shop=SHOP, money__glance=glance(date(2026, 1, 1), [100, 200]))
    test = page("year", shop, **{"set-goal": "true"})
    test.text_input(key="goal-2026-pay").set_value("twenty or so")
    test.button(key="FormSubmitter:goal-2026-Set it").click().run()
    assert "is no goal for what an hour paid" in test.error[0].value
    assert test.text_input(key="goal-2026-pay").value == "twenty or so"
    assert load(shop).tables["goal"] == []
    test.text_input(key="goal-2026-pay").set_value("20")
    test.button(key="FormSubmitter:goal-2026-Set it").click().run()
    assert not test.exception
    assert "The goal for 2026 stands in shop.toml" in test.success[0].value
    assert [(row["year"], row["pay_cents"]) for row in load(shop).tables["goal"]] == [(2026, 2000.0)]
