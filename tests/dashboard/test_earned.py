"""What made and what lost money: the list on the month's page, its sentence, and that a piece has one result a span."""

import re
from datetime import date
from html import unescape
from pathlib import Path

import duckdb
import polars as pl
import pytest

from dashboard import data
from dashboard.sections import earned
from dashboard.view_context import page_of
from dashboard.words import Money
from pipeline.database import open_newest
from pipeline.reports import month as month_report
from tests.dashboard.conftest import Run, html
from tests.dashboard.test_views import begun
from tests.one_look import words_of

USD = Money("USD")


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


def rows(said: str, name: str) -> list[list[str]]:
    """The cells of a table of a page."""
    body = re.search(rf'aria-label="{name}"><table class="kl">.*?<tbody>(.*?)</tbody>', said, re.S)
    assert body, name
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", row, re.S) for row in re.findall("<tr>(.*?)</tr>", body[1], re.S)]
    return [[unescape(re.sub("<[^>]+>", "", cell)) for cell in row] for row in cells]


def dollars(text: str) -> int:
    return int(re.sub(r"[^0-9-]", "", text.replace("\u2212", "-")))


def test_the_products_that_lost_money_are_said_with_what_they_lost_in_every_month(demo: Path) -> None:
    page = page_of(data.open_book(demo))
    said = {}
    for row in page.book.months().iter_rows(named=True):
        lost, sentence = earned.loss(page, row)
        products = page.book.earned_by_product("month", row["month"]).filter(pl.col("units") > 0)
        losing = products.filter(pl.col("margin_cents") < 0)
        assert lost == -losing["margin_cents"].sum()
        assert bool(sentence) == bool(losing.height)
        assert words_of(sentence) <= 40
        if losing.height:
            assert page.money.round(lost) in sentence
            assert losing["product"][0] in sentence.lower()
        said[losing.height] = sentence
    assert len(said) > 2  # months in which none, one and several lost
    one = r"^\w.* lost \$[\d,]+ in \w+ \d{4}, \d+ sold: its price covers \d+ % of what it cost to make and to sell\."
    assert re.search(one, said[1])


def test_what_lost_most_stands_first_and_the_list_comes_to_the_month(page: Run, demo: Path, con) -> None:
    wanted = con.execute(
        "select gross_margin_cents - selling_cents from money.month where month = '2026-10-01'"
    ).fetchall()[0][0]
    test = page("month", demo, month="2026-10", earned="true", **{"earned-by": "pieces"})
    assert not test.exception
    found = rows(html(test), "earned pieces month")
    left = [dollars(row[1]) for row in found]
    # the table shows the first of them; all of them come to the month
    all_left = sorted(data.open_book(demo).earned("month", date(2026, 10, 1))["margin_cents"])
    assert left == all_left[: len(left)]
    assert sum(all_left) == wanted
    assert f"together they left {USD(wanted)}" in html(test)
    (label,) = [box.label for box in test.expander if box.label.startswith("What made and what lost money")]
    product, cents = con.execute(
        "select level, -margin_cents from money.margin where factor = 'product' and span = 'month' "
        "and month = '2026-10-01' and units > 0 order by margin_cents limit 1"
    ).fetchall()[0]
    assert f"{product} lost" in label
    assert f"{cents / 100:,.0f}" in label


@pytest.mark.parametrize("first", earned.FIRST)
def test_the_list_is_sorted_for_every_span_by_what_is_chosen(page: Run, demo: Path, con, first: str) -> None:
    column, largest = earned.FIRST[first]
    for span, name in earned.SPANS.items():
        chosen = {"earned": "true", "earned-span": span, "earned-first": first}
        test = page("month", demo, month="2026-05", **chosen)
        assert not test.exception
        shown = rows(html(test), f"earned products {name}")
        found = [row[0] for row in shown if row[0] != "selling of no one piece"]
        begins = {"month": "2026-05-01", "year": "2026-01-01"}.get(name)
        wanted = con.execute(
            f"select level from money.margin where factor = 'product' and span = ? and (? is null or month = ?) "
            f"order by {column} {'desc' if largest else ''} nulls last, margin_cents, level",
            [name, begins, begins],
        ).fetchall()
        assert found == [level for (level,) in wanted]
        (left,) = con.execute(
            "select sum(margin_cents) from money.piece_margin where span = ? and (? is null or month = ?)",
            [name, begins, begins],
        ).fetchall()[0]
        assert sum(dollars(row[1]) for row in shown) == left


def test_a_piece_has_one_result_a_span_on_every_page_and_in_the_report(page: Run, demo: Path, con) -> None:
    tag, month, cents = con.execute(
        "select piece, month, margin_cents from money.piece_margin where span = 'month' and month = '2026-10-01' "
        "and piece is not null and units > 0 order by margin_cents limit 1"
    ).fetchall()[0]
    (ever,) = con.execute(
        "select margin_cents from money.piece_margin where span = 'all' and piece = ?", [tag]
    ).fetchall()[0]
    assert cents != ever  # some of it was sold before
    listed = {}
    for span, name in (("the month", "month"), ("all so far", "all")):
        chosen = {"earned": "true", "earned-by": "pieces", "earned-span": span}
        test = page("month", demo, month=f"{month:%Y-%m}", **chosen)
        listed[name] = {row[0]: dollars(row[1]) for row in rows(html(test), f"earned pieces {name}")}
        assert f"Sold in {'October 2026' if name == 'month' else 'all months so far'}: " in html(test)
    assert listed["month"][tag] == cents
    assert f">{USD.round(ever)}</a></dd>" in html(page("pieces", demo, piece=tag))
    report = month_report.html(con, month)
    line = re.search(rf"<td>{tag}</td>(.*?)</tr>", report.partition("runs sold")[2], re.S)
    assert line
    assert dollars(re.findall(r'<td class="num">(.*?)</td>', line[1])[-1]) == cents


def test_a_few_minutes_leave_no_figure_for_an_hour(page: Run, tiny_shop: Path) -> None:
    shop = begun(
        tiny_shop,
        pieces="piece,product,finished,opening_cost\nT-1,tray,2026-09-04,\nT-2,bowl,2026-09-04,\n",
        hours="date,hours,person,operation,pieces\n2026-09-03,0.05,Ada,sanding,T-1\n2026-09-03,2,Ada,carving,T-2\n",
        sales="date,channel,piece,price\n2026-09-07,market,T-1,165\n2026-09-08,market,T-2,90\n",
    )
    for by in ("products", "pieces"):
        test = page("month", shop, month="2026-09", earned="true", **{"earned-by": by})
        assert not test.exception
        hour = {row[0]: row[-4] if by == "pieces" else row[-2] for row in rows(html(test), f"earned {by} month")}
        assert hour == {
            "T-1" if by == "pieces" else "tray": "too few hours",
            "T-2" if by == "pieces" else "bowl": "€15.00",  # 90 less two hours at 30, over two hours
        }


def test_a_piece_with_few_alike_is_told_beside_nothing_firm(page: Run, tiny_shop: Path) -> None:
    """One tray alone: nothing is usual, neither of its cost nor of its layers."""
    shop = begun(
        tiny_shop,
        pieces="piece,product,finished,opening_cost\nT-1,tray,2026-09-04,\n",
        hours="date,hours,person,operation,pieces\n2026-09-03,2,Ada,carving,T-1\n",
    )
    test = page("pieces", shop, piece="T-1", layers="true")
    assert not test.exception
    said = html(test)
    assert '<h1 class="kl-answer">T-1, a tray, cost €60.00, by what is on record.</h1>' in said
    assert "no other tray is finished" in said
    assert "sual" not in said.replace("as usual", "")
