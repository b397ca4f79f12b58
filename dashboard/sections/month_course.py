"""The course of the months, what was sold by its groups, and all months in a table: folds of the month's page."""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.month import course
from dashboard.widgets import Column, Narrowed, Page


def show(page: Page, months: pl.DataFrame, row: dict[str, Any]) -> None:
    """Result and pay for an hour by month."""
    if box := widgets.folded("The course of the months: the result, and what an hour paid", "course"):
        with box:
            _course(page, months, row)


def _course(page: Page, months: pl.DataFrame, row: dict[str, Any]) -> None:
    last = months.filter(pl.col("month") <= row["month"]).tail(12)
    later = months.filter(pl.col("month") > row["month"]).head(12 - last.height)
    shown = pl.concat([last, later])
    left, right = st.columns(2)
    name = words.month(row["month"])
    with left:
        title = f"Result with own pay: {page.money.round(row['result_cents'])} in {name}"
        chart = sent_chart(
            course, shown, "result_cents", row["month"], title, page.money.currency, page.scale, page.look
        )
        alt = f"{title}. Bars of the result by month; a click on one opens that month."
        widgets.picture(chart, alt, "course-result", "name", chooses="month")
    with right:
        paid = row["pay_per_hour_cents"]
        none = "Too few hours to say what one paid" if row["owner_hours"] else "No hours"
        title = f"{none} in {name}" if paid is None else f"An hour paid {page.money(paid)} in {name}"
        unit = f"{page.money.currency} an hour"
        chart = sent_chart(course, shown, "pay_per_hour_cents", row["month"], title, unit, page.scale, page.look)
        alt = f"{title}. Bars of pay per hour by month; a click on one opens that month."
        widgets.picture(chart, alt, "course-pay", "name", chooses="month")


def groups(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    """What each product, species, finish, channel, order and market left."""
    margins = page.book.margins(row["month"])
    if not margins.height:
        return
    label = "What was sold, by product, species, finish, channel, order and market"
    if box := widgets.folded(label, "groups", "margin"):
        with box:
            _margins(page, row, only, margins)


def _margins(page: Page, row: dict[str, Any], only: Narrowed, margins: pl.DataFrame) -> None:
    factor = widgets.choose("Sold, by", "margin", list(dict.fromkeys(["product", *margins["factor"].to_list()])))
    money = page.money.round
    columns = [
        Column("level", factor.capitalize()),
        Column("units", "Units", number=True),
        Column("net_revenue_cents", "Brought", money, number=True),
        Column("cost_of_sales_cents", "Cost", money, number=True),
        Column("selling_cents", "Selling", money, number=True),
        Column("margin_cents", "Left", money, number=True),
        Column("contribution_cents", "For pay, rent and machines", money, number=True),
    ]
    chosen = {"level": only.chosen[factor]} if factor in only.chosen else {}
    widgets.table(
        page,
        widgets.rows_chosen(margins, factor=factor, **chosen),
        columns,
        f"margins-{row['month']:%Y-%m}-{factor}",
        leads=lambda sold: widgets.behind("sold", factor, sold["level"], row["month"], widgets.last_day(row["month"])),
    )


def table(page: Page, months: pl.DataFrame) -> None:
    """All months, the latest first."""
    if box := widgets.folded(f"Month by month: {words.count(months.height, 'month')}", "months"):
        with box:
            _months(page, months)


def _months(page: Page, months: pl.DataFrame) -> None:
    money = page.money.round
    columns = [
        Column("month", "Month", lambda day: f"{day:%Y-%m}"),
        Column("pieces_sold", "Pieces", number=True),
        Column("revenue_cents", "Sold", money, number=True),
        Column("cost_of_sales_cents", "Its cost", money, number=True),
        Column("selling_cents", "Selling", money, number=True),
        Column("result_cents", "Result", money, number=True),
        Column("books_result_cents", "In the books", money, number=True),
        Column("owner_hours", "Owners' hours", words.decimal(0), number=True),
        Column("pay_per_hour_cents", "An hour paid", page.money.exact.otherwise("too few hours"), number=True),
    ]
    widgets.table(page, months.reverse(), columns, "months", leads=lambda row: ("month?month", f"{row['month']:%Y-%m}"))
