"""One piece, one product, one month has one result a span: on each page, in the reports, and where its cost is told."""

import re
from pathlib import Path

import duckdb
import pytest

from dashboard import data
from pipeline.database import open_newest
from pipeline.reports import month as month_report
from pipeline.reports import trace, yearend
from pipeline.reports.finding import rows_of


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


@pytest.fixture(scope="module")
def book(demo: Path) -> data.Book:
    return data.open_book(demo)


def test_each_month_left_the_same_by_pieces_by_products_in_the_report_and_in_its_result(con, book) -> None:
    """What was left over cost and selling: the fold of the month, both its lists; the report; the month's lines."""
    queries = month_report._queries()
    for row in book.months().iter_rows(named=True):
        month, wanted = row["month"], row["gross_margin_cents"] - row["selling_cents"]
        listed = rows_of(con, queries["sold"], month=month, shown=10_000)
        pieces = book.earned("month", month)
        assert {(each["piece"], each["product"]): each["left_cents"] for each in listed} == {
            (piece, product): cents
            for piece, product, cents in pieces.select("piece", "product", "margin_cents").iter_rows()
        }, month
        products = book.earned_by_product("month", month)
        sums = [pieces["margin_cents"].sum(), products["margin_cents"].sum(), sum(r["left_cents"] for r in listed)]
        assert sums == [wanted] * 3, month
        assert [r["all_cents"] for r in listed[:1]] == [wanted] * bool(listed), month


def test_the_report_says_the_sum_that_the_page_says(con, book) -> None:
    """In the last whole month, in which costs came for pieces that were sold before."""
    row = book.months().filter("whole").row(-1, named=True)
    text = month_report.html(con, row["month"])
    left = f"{(row['gross_margin_cents'] - row['selling_cents']) / 100:,.2f}".replace("-", "\u2212")
    assert f"all together {left}, after cost, own pay in it, and selling." in text
    assert re.search(r"In it are \d+ pieces sold before, of which something came only now: ", text)


def test_the_years_and_all_so_far_are_sums_of_the_months_piece_by_piece(con) -> None:
    """`month`, `year` and `all`, of each piece and each product."""
    for table, key in (("money.piece_margin", "piece, product"), ("money.margin", "factor, level")):
        differing = con.execute(f"""
            with months as (from {table} where span = 'month'),
            spans as (
                select {key}, 'year' as span, date_trunc('year', month)::date as month, margin_cents, units from months
                union all select {key}, 'all', (select max(month) from {table} where span = 'all'), margin_cents, units
                from months
            ),
            summed as (
                select {key}, span, month, sum(margin_cents) as margin_cents, sum(units) as units
                from spans group by all
            ),
            told as (
                select {key}, span, month, margin_cents, units from {table} where span in ('year', 'all')
            )
            (from summed except from told) union all (from told except from summed)
        """).fetchall()
        assert differing == []


def test_a_piece_has_one_result_where_it_is_told_by_itself(con, book) -> None:
    """`Left` and bench pay on Pieces and in the trace: what sales brought, less selling and all cost."""
    pay = {row["piece"]: row for row in rows_of(con, "from money.bench_pay")}
    earned = {
        row["piece"]: row
        for row in rows_of(con, "from money.piece_margin where span = 'all' and piece is not null and units > 0")
    }
    assert pay.keys() == earned.keys()
    assert len(pay) > 300
    for piece, row in pay.items():
        told = earned[piece]
        assert (row["units"], row["revenue_cents"], row["selling_cents"]) == (
            told["units"],
            told["net_revenue_cents"],
            told["selling_cents"],
        ), piece
        # bench pay leaves out own pay at the bench alone, cut to the units sold at once; the result layer by layer
        own = told["cost_of_sales_cents"] - row["other_cost_cents"]
        assert 0 <= own <= told["own_labour_cents"] + 1, piece
    assert book.piece_earned("P-0001") == earned["P-0001"]


def test_a_piece_cost_the_same_on_its_page_in_its_trace_in_the_report_and_beside_its_quote(con, book) -> None:
    """`made_cents`: all that ever went into it, also after it was sold."""
    layers = dict(con.execute("select piece, sum(cents) from cost.piece_layer group by piece").fetchall())
    lines = dict(con.execute("select piece, sum(cents) from cost.piece_line group by piece").fetchall())
    made = {}
    for month in book.months()["month"]:
        rows = rows_of(con, month_report._queries()["made"], month=month, shown=10_000)
        made |= {row["piece"]: (row["made_cents"], row["unit_cents"]) for row in rows}
    pieces = book.pieces().to_dicts()
    assert len(made) > 300
    for piece in pieces:
        tag, cents = piece["piece"], piece["made_cents"]
        assert (layers.get(tag, 0), lines.get(tag, 0)) == (cents, cents), tag
        assert made.get(tag, (cents, piece["unit_cents"])) == (cents, piece["unit_cents"]), tag
    for piece in pieces[::40]:
        found = trace.trace(con, piece["piece"])
        assert sum(line.cents for line in found.cost) == found.piece["made_cents"] == piece["made_cents"]


def test_a_month_has_one_result_on_month_year_and_in_both_reports(con, book) -> None:
    """`result_cents` and what an hour paid; the year-end workbook has the result in the books."""
    months = {row["month"]: row for row in book.months().iter_rows(named=True)}
    names = ("result_cents", "pay_per_hour_cents")
    for year in {month.year for month in months}:
        for row in book.year_months(year).drop_nulls("whole").iter_rows(named=True):
            assert [row[name] for name in names] == [months[row["month"]][name] for name in names]
        (sheet,) = [sheet for sheet in yearend.build(con, year) if sheet.name == "Months"]
        workbook = {row[0]: row[4] for row in sheet.rows}
        assert workbook == {m: row["books_result_cents"] for m, row in months.items() if m.year == year}
    for month, row in months.items():
        (reported,) = rows_of(con, month_report._queries()["result"], month=month, shown=1)
        assert [reported[name] for name in names] == [row[name] for name in names]
    for row in book.years_so_far().iter_rows(named=True):
        parts = [r["result_cents"] for m, r in months.items() if m.year == row["month"].year and m <= row["month"]]
        assert row["result_cents"] == sum(parts)
