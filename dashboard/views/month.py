"""Did the month pay, and what did an hour at the bench really earn?"""

from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from dashboard import parts, words
from dashboard.charts.month import course
from dashboard.charts.steps import steps
from dashboard.parts import Column, Page

QUESTION = "Did the month pay?"

MATERIALS = ("wood", "offcut", "resin", "resin waste", "colourant", "finish", "abrasive", "hardware", "consumable")

# step → column of money.month, sign, and the trace behind it: places that the cost reached, and its layers
STEPS: dict[str, tuple[str, int, tuple[str, ...], tuple[str, ...]]] = {
    "Sold": ("revenue_cents", 1, (), ()),
    "Refunds": ("refund_cents", 1, (), ()),
    "Wood": ("sold_wood_cents", -1, ("sold",), ("wood", "offcut")),
    "Resin": ("sold_resin_cents", -1, ("sold",), ("resin", "resin waste", "colourant")),
    "Supplies": ("sold_supplies_cents", -1, ("sold",), ("finish", "abrasive", "consumable", "hardware")),
    "Work in it": ("sold_labour_cents", -1, ("sold",), ("labour",)),
    "Machines": ("sold_machine_cents", -1, ("sold",), ("machine",)),
    "Overhead": ("sold_overhead_cents", -1, ("sold",), ("overhead",)),
    "Spoilage": ("sold_spoilage_cents", -1, ("sold",), ("spoilage",)),
    "Selling": ("selling_cents", -1, ("sold", "period"), ("selling", "packaging")),
    "Other hours": ("period_labour_cents", -1, ("period",), ("labour",)),
    "Idle overhead": ("not_absorbed_cents", -1, ("period",), ("overhead", "machine")),
    "Other costs": ("other_period_cents", -1, ("period",), (*MATERIALS, "spoilage")),
    "Losses": ("loss_cents", -1, ("waste",), (*MATERIALS, "labour", "machine", "overhead", "spoilage")),
    "Result": ("result_cents", 1, (), ()),
}

MEANINGS = {
    "Other hours": "Hours of no piece: market, office, cleaning, and bench hours that name no piece.",
    "Idle overhead": "Rent, power and machines that the month's work did not use up. A negative one was used up more than paid.",
    "Losses": "What was scrapped beyond the usual, expired, or was found missing.",
}


def show(page: Page) -> None:
    months = page.book.months()
    if not months.height:
        parts.answer(QUESTION, "There is no month yet.")
        parts.empty("No record has a date yet.", "Put sales, hours and receipts into the inbox, then refresh.")
        return
    head = parts.head()
    chosen = parts.choose_month(page)
    row = months.filter(pl.col("month") == chosen).row(0, named=True)
    before = months.filter(pl.col("month") < chosen).tail(1)
    parts.answer(QUESTION, _sentence(page, row, before.row(0, named=True) if before.height else None), head)
    _figures(page, row)
    picked = _picture(page, row)
    parts.advice(_advice(page, row))
    _behind(page, row, picked)
    _course(page, months, row)
    _tables(page, months, row)
    parts.caution(
        "these are figures to steer by, with your own pay as a cost, and no tax advice. What the tax office wants, ask "
        "a licensed accountant."
    )


def _sentence(page: Page, row: dict[str, Any], before: dict[str, Any] | None) -> str:
    name, money = words.month(row["month"]), page.money
    verb = "made" if row["result_cents"] >= 0 else "lost"
    sentence = f"{name} {verb} {money.round(abs(row['result_cents']))} after your own pay"
    if row["pay_per_hour_cents"] is None:
        return f"{sentence}; no hours are on record."
    sentence += f"; an hour of the owners' work paid {money(row['pay_per_hour_cents'])}"
    if before and before["pay_per_hour_cents"] is not None:
        sentence += f" ({before['month']:%B}: {money(before['pay_per_hour_cents'])})"
    return f"{sentence}."


def _figures(page: Page, row: dict[str, Any]) -> None:
    money = page.money
    sold = words.count(row["pieces_sold"], "piece")
    parts.figures(
        [
            ("Sold", money.round(row["revenue_cents"]), f"{sold}, without tax"),
            ("Result with own pay", money.round(row["result_cents"]), "own pay counted as a cost"),
            ("Result in the books", money.round(row["books_result_cents"]), "before the owners' pay"),
            ("An hour paid", money(row["pay_per_hour_cents"]), f"{row['owner_hours']:,.0f} owners' hours, all of them"),
            ("At the bench", f"{row['bench_hours']:,.0f} h", f"{row['rework_hours']:,.1f} h of it rework"),
        ]
    )


def _picture(page: Page, row: dict[str, Any]) -> str | None:
    frame = pl.DataFrame(
        [
            {"step": step, "amount": sign * row[column], "total": step == "Result"}
            for step, (column, sign, _, _) in STEPS.items()
            if row[column] or step in ("Sold", "Result")
        ]
    )
    title = (
        f"Of {page.money.round(row['revenue_cents'])} sold in {words.month(row['month'])}, "
        f"{page.money.round(row['result_cents'])} is left"
    )
    alt = "Bars from sales, cost by cost, to the result: " + ", ".join(
        f"{step} {page.money.round(amount)}" for step, amount in frame.select("step", "amount").iter_rows()
    )
    chart = steps(frame, title, page.money.currency, page.look, scale=page.scale)
    return parts.picture(chart, alt, f"steps-{row['month']}", "step")


def _advice(page: Page, row: dict[str, Any]) -> list[str]:
    lines, money = [], page.money
    if row["period_labour_cents"] > 0:
        lines.append(
            f"{money.round(row['period_labour_cents'])} of hours carry no piece. Those at the bench become part of a "
            "piece's cost when the hours row names it."
        )
    if row["not_absorbed_cents"] > 0:
        lines.append(
            f"{money.round(row['not_absorbed_cents'])} of rent and machines stood idle: more bench hours, or less of them to pay for."
        )
    if row["loss_cents"] > 0:
        lines.append(
            f"{money.round(row['loss_cents'])} was lost to scrap and shortages: the Rework page names what causes it."
        )
    if row["result_cents"] < 0 <= row["gross_margin_cents"]:
        lines.append(
            f"What was sold left {money.round(row['gross_margin_cents'])} over its cost; selling and the month's other "
            "costs took more than that."
        )
    if row["gross_margin_cents"] < 0:
        lines.append("What was sold brought less than it cost: look at the Pieces page for the dearest ones.")
    return lines


def _behind(page: Page, row: dict[str, Any], picked: str | None) -> None:
    parts.part("The records behind a figure")
    names = [step for step, (column, _, _, _) in STEPS.items() if row[column] and step != "Result"]
    if not names:
        st.html('<p class="kl-quiet">No record falls into this month.</p>')
        return
    if picked in names and st.session_state.get("bar seen") != (row["month"], picked):
        st.session_state["step"] = picked
    st.session_state["bar seen"] = (row["month"], picked)
    step = parts.choose("Figure (or click its bar)", "step", names)
    column, sign, places, layers = STEPS[step]
    st.html(f"<p><b>{step}: {page.money(sign * row[column])}</b> {MEANINGS.get(step, '')}</p>")
    if places:
        parts.records(page, page.book.month_trace(row["month"], places, layers), step.lower())
    else:
        _sales(page, row["month"], step)


def _sales(page: Page, month: date, step: str) -> None:
    sales = page.book.month_sales(month).filter(
        (pl.col("quantity") < 0) if step == "Refunds" else (pl.col("quantity") > 0)
    )
    columns = [
        Column("on_date", "Day", words.day),
        Column("piece", "Piece"),
        Column("product", "Product"),
        Column("channel", "Channel"),
        Column("quantity", "Number", number=True),
        Column("price_cents", "Price each", page.money, number=True),
        Column("discount_cents", "Discount", page.money, number=True),
        Column("place", "Where it stands", long=True),
    ]
    parts.table(page, sales, columns, f"sales-{month:%Y-%m}-{step.lower()}")


def _course(page: Page, months: pl.DataFrame, row: dict[str, Any]) -> None:
    parts.part("The course of the months")
    last = months.filter(pl.col("month") <= row["month"]).tail(12)
    later = months.filter(pl.col("month") > row["month"]).head(12 - last.height)
    shown = pl.concat([last, later])
    left, right = st.columns(2)
    name = words.month(row["month"])
    with left:
        title = f"Result with own pay: {page.money.round(row['result_cents'])} in {name}"
        chart = course(shown, "result_cents", row["month"], title, page.money.currency, page.scale, page.look)
        parts.picture(chart, f"{title}. Bars of the result by month.", "course-result")
    with right:
        title = f"An hour paid {page.money(row['pay_per_hour_cents'])} in {name}"
        chart = course(
            shown, "pay_per_hour_cents", row["month"], title, f"{page.money.currency} an hour", page.scale, page.look
        )
        parts.picture(chart, f"{title}. Bars of pay per hour by month.", "course-pay")


def _tables(page: Page, months: pl.DataFrame, row: dict[str, Any]) -> None:
    parts.part("Month by month")
    money = page.money.round
    columns = [
        Column("month", "Month", lambda day: f"{day:%Y-%m}"),
        Column("pieces_sold", "Pieces", number=True),
        Column("revenue_cents", "Sold", money, number=True),
        Column("cost_of_sales_cents", "Its cost", money, number=True),
        Column("selling_cents", "Selling", money, number=True),
        Column("result_cents", "Result", money, number=True),
        Column("books_result_cents", "In the books", money, number=True),
        Column("owner_hours", "Owners' hours", lambda hours: f"{hours:,.0f}", number=True),
        Column("pay_per_hour_cents", "An hour paid", page.money, number=True),
    ]
    parts.table(page, months.reverse(), columns, "months")
