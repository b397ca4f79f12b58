"""Did the month pay, and what did an hour at the bench really earn?"""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.waterfall import steps
from dashboard.sections import earned, month_course, month_difference, month_tables
from dashboard.widgets import Narrowed, Page

QUESTION = "Did the month pay?"

# step → column of money.month, its sign, the line of money.line behind it, of which group of layers (none = all)
STEPS: dict[str, tuple[str, int, str, str]] = {
    "Sold": ("revenue_cents", 1, "revenue", ""),
    "Refunds": ("refund_cents", 1, "refunds", ""),
    "Other income": ("other_income_cents", 1, "other income", ""),
    "Wood": ("sold_wood_cents", -1, "cost of sales", "wood"),
    "Resin": ("sold_resin_cents", -1, "cost of sales", "resin"),
    "Supplies": ("sold_supplies_cents", -1, "cost of sales", "supplies"),
    "Work in it": ("sold_labour_cents", -1, "cost of sales", "labour"),
    "Machines": ("sold_machine_cents", -1, "cost of sales", "machine"),
    "Rent and power": ("sold_overhead_cents", -1, "cost of sales", "overhead"),
    "Usual scrap": ("sold_spoilage_cents", -1, "cost of sales", "spoilage"),
    "Selling": ("selling_cents", -1, "selling", ""),
    "Other hours": ("period_labour_cents", -1, "other hours", ""),
    "Idle rent, machines": ("not_absorbed_cents", -1, "not absorbed", ""),
    "Other costs": ("other_period_cents", -1, "other costs", ""),
    "Losses": ("loss_cents", -1, "losses", ""),
    "Write-downs": ("write_down_cents", -1, "write-downs", ""),
    "Earlier months": ("earlier_cents", 1, "", ""),
    "Result": ("result_cents", 1, "", ""),
}

ENDS = ("Sold", "Result")
"""Steps that stand by themselves, however small."""

NEAR_DAYS = 100
"""A month so near is plain without its year."""

# what an unsold piece is held against
BASIS = {"list price": "its list price", "order": "the price agreed in its order", "usual price": "the usual price"}

# the rules that shape a step
RULES = {
    "Sold": ("tax",), "Wood": ("flow", "tax"), "Resin": ("flow", "tax"), "Supplies": ("flow", "tax"),
    "Work in it": ("pay",), "Machines": ("machine",), "Rent and power": ("overhead",),
    "Usual scrap": ("scrap", "circle"), "Selling": ("fees",), "Other hours": ("pay",),
    "Idle rent, machines": ("overhead", "machine"), "Losses": ("scrap", "mending"),
}  # fmt: skip


def show(page: Page) -> None:
    months = page.book.months()
    if not months.filter(pl.col("recorded")).height:
        widgets.answer(QUESTION, "No month has a record yet.")
        widgets.empty("No record has a date yet.", "Put sales, hours and receipts into the inbox, then refresh.")
        return
    head = widgets.head()
    with widgets.filters():
        chosen = widgets.choose_month(page)
        against = widgets.choose("Compared with", "against", month_difference.AGAINST)
        only = widgets.narrow(page)
    row = months.filter(pl.col("month") == chosen).row(0, named=True)
    before = month_difference.other_month(page, months, row, against)
    widgets.answer(QUESTION, _sentence(page, row, before, against), head)
    _of_it(page, row, only)
    _figures(page, row, before)
    widgets.advice(_advice(page, row))
    _picture(page, row)
    with st.container(gap="xsmall"):
        earned.show(page, row, only)
        month_difference.show(page, row, before, against)
        _behind(page, row, only)
        month_course.show(page, months, row)
        month_tables.cash(page, row)
        month_course.groups(page, row, only)
        month_tables.show(page, row, only)
        month_course.table(page, months)
        _rules(page, row)
    _open_questions(page)
    widgets.caution(
        "these are figures to steer by, with your own pay as a cost, and no tax advice. What the tax office wants, ask "
        "a licensed accountant."
    )


def _open_questions(page: Page) -> None:
    """How much money of the shop waits for the maker's word."""
    asked = page.book.open_money()
    if not asked["questions"]:
        return
    several = words.count(asked["questions"], "open question")
    money = f"{page.money.round(asked['cents'])}, of all months, hangs on {several}" if asked["cents"] else several
    widgets.say(f"{money[:1].upper()}{money[1:]}: the Files page asks, most money first.")


def _sentence(page: Page, row: dict[str, Any], before: dict[str, Any] | None, against: str) -> str:
    """The month's result, and how far it is from the one that it is compared with."""
    money, cents = page.money.round, row["result_cents"]
    verb, so_far = "made" if cents >= 0 else "lost", "" if row["whole"] else " so far"
    sentence = f"{words.month(row['month'])}{so_far} {verb} {money(abs(cents))} after your own pay"
    if before is None or not row["whole"]:
        return f"{sentence}."  # what is not over can't be compared
    difference = page.book.bridge(row["month"], against)["result_change_cents"][0]
    change = f"{money(abs(difference))} {'better' if difference > 0 else 'worse'} than" if difference else "the same as"
    return f"{sentence}, {change} {_called(before, row)}."


def _called(before: dict[str, Any], row: dict[str, Any]) -> str:
    """The month compared with, by its name alone where that is plain."""
    return (
        f"{before['month']:%B}" if (row["month"] - before["month"]).days < NEAR_DAYS else words.month(before["month"])
    )


def _figures(page: Page, row: dict[str, Any], before: dict[str, Any] | None) -> None:
    money = page.money
    sold = words.count(row["pieces_sold"], "piece")
    hours, rework = words.hours(row["bench_hours"]), words.decimal(1)(row["rework_hours"])
    widgets.figures(
        [
            ("Sold", money.round(row["revenue_cents"]), f"{sold}, without tax", "revenue_cents", f"?{earned.FOLD}"),
            (
                "Result with own pay",
                money.round(row["result_cents"]),
                f"own pay counted as a cost{_then(before, row, 'result_cents', money.round)}",
                "result_cents",
                f"?{month_difference.FOLD}" if before else "",
            ),
            (
                "Result in the books",
                money.round(row["books_result_cents"]),
                "before the owners' pay",
                "books_result_cents",
                "?cash",
            ),
            (
                "An hour paid",
                words.hour_paid(money.exact, row["pay_per_hour_cents"], row["owner_hours"]),
                f"{_hours(page, row)}{_then(before, row, 'pay_per_hour_cents', money.exact)}",
                "pay_per_hour_cents",
                "?course",
            ),
            ("At the bench", f"{hours} h", f"everybody's; {rework} h of it rework", "bench_hours"),
        ],
        page,
    )


def _hours(page: Page, row: dict[str, Any]) -> str:
    """What an hour of the owners paid is made of, or that it can't be said."""
    if not row["owner_hours"]:
        return "no hours of yours are on record"
    if row["pay_per_hour_cents"] is None:
        return "too few hours on record to say what an hour paid"
    left, hours = page.money.round(row["owners_result_cents"]), words.hours(row["owner_hours"])
    return f"{left} left over {hours} owners' hours, office and markets too"


def _then(before: dict[str, Any] | None, row: dict[str, Any], column: str, write: words.Unit) -> str:
    """The same of the month compared with, where it is known."""
    if before is None or before[column] is None:
        return ""
    return f"; {_called(before, row)}: {write(before[column])}"


def _of_it(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    """What the chosen product, species, finish or channel had of the month: the result itself is the shop's."""
    margins, said = page.book.margins(row["month"]), []
    for factor, level in only.chosen.items():
        found = margins.filter(pl.col("factor") == factor, pl.col("level") == level)
        if found.height:
            of = found.row(0, named=True)
            said.append(
                f"{level} brought {page.money.round(of['net_revenue_cents'])} and left "
                f"{page.money.round(of['margin_cents'])} after its cost and selling"
            )
        else:
            said.append(f"nothing of {level} was sold")
    each = ", each by itself" if len(said) > 1 else ""
    widgets.narrowed(
        only,
        "the records behind a figure, what was sold, and the pieces that made or lost money or were written down",
        f"The result and its pictures are the whole shop's. In this month{each}: {'; '.join(said)}.",
    )


def _picture(page: Page, row: dict[str, Any]) -> None:
    frame = pl.DataFrame(
        [
            {"step": step, "amount": sign * row[column], "total": step == "Result"}
            for step, (column, sign, _, _) in STEPS.items()
            if row[column] or step in ENDS
        ]
    )
    sold = f"{page.money.round(row['revenue_cents'])} sold in {words.month(row['month'])}"
    result = page.money.round(abs(row["result_cents"]))
    title = (
        f"Of {sold}, {result} is left" if row["result_cents"] >= 0 else f"{sold}, and all its costs: a loss of {result}"
    )
    alt = "Bars from sales, cost by cost, to the result: " + ", ".join(
        f"{step} {page.money.round(amount)}" for step, amount in frame.select("step", "amount").iter_rows()
    )
    shown, other = widgets.small_ones(frame, "step", "amount", "step", ENDS)
    chart = sent_chart(steps, shown, title, page.money.currency, page.look, scale=page.scale)
    opens = {step: ("?step", step) for step in shown["step"]} | other
    opens["Result"] = widgets.behind("line", row["month"], "", "", "the result")
    widgets.picture(chart, alt, f"steps-{row['month']:%Y-%m}", "step", opens=opens)


def _rules(page: Page, row: dict[str, Any]) -> None:
    if box := widgets.folded("The rules behind these figures, as they were at the end of the month", "rules"):
        with box:
            settings_in_force.show(
                page, widgets.last_day(row["month"]), "flow", "tax", "scrap", "mending", "overhead", "machine"
            )


def _advice(page: Page, row: dict[str, Any]) -> list[str]:
    money = page.money
    costs = {
        "not_absorbed_cents": "of rent and machines stood idle: more bench hours, or less of them to pay for.",
        "loss_cents": "was lost to scrap and shortages: the Rework page shows what it goes with.",
        "write_down_cents": "more was written down than came back, of unsold pieces that will bring less than they cost"
        f"{_down(page, row)}",
    }
    losing, sentence = earned.loss(page, row)
    found = [(row[column], f"{money.round(row[column])} {said}") for column, said in costs.items()]
    unnamed = page.book.unnamed_bench_cents(row["month"])
    found.append(
        (
            unnamed,
            f"{money.round(unnamed)} of bench hours name no piece: they become part of a piece's cost when "
            "the hours row names it.",
        )
    )
    found.append((losing, sentence))
    lines = [said for cents, said in sorted(found, key=lambda line: -line[0]) if cents > 0]
    if row["result_cents"] < 0 <= row["gross_margin_cents"]:
        lines.append(
            f"What was sold left {money.round(row['gross_margin_cents'])} over its cost; selling and the month's other "
            "costs took more than that."
        )
    if row["gross_margin_cents"] < 0:
        lines.append("What was sold brought less than it cost: look at the Pieces page for the dearest ones.")
    return lines


def _down(page: Page, row: dict[str, Any]) -> str:
    """The piece that was written down most in the month, and what it was judged by."""
    downs = page.book.write_downs(row["month"]).filter(pl.col("change_cents") > 0).sort("change_cents", descending=True)
    if not downs.height:
        return "."
    most, money = downs.row(0, named=True), page.money
    said = (
        f": most on {most['piece']}, {money.round(most['change_cents'])}, which cost {money(most['cost_cents'])} and "
        f"is held against {BASIS[most['price_basis']]} of {money(most['expected_cents'])}."
    )
    own = " A list price of its own would count instead." if most["price_basis"] == "usual price" else ""
    return f"{said}{own}"


def _behind(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    names = [step for step, (column, _, _, _) in STEPS.items() if row[column] and step != "Result"]
    if not names:
        widgets.say("No record falls into this month.", quiet=True)
        return
    if box := widgets.folded("The records behind a figure", "records", "step"):
        with box:
            _records(page, row, only, names)


def _records(page: Page, row: dict[str, Any], only: Narrowed, names: list[str]) -> None:
    step = widgets.choose("Figure (or click its bar)", "step", names)
    column, sign, line, group = STEPS[step]
    st.html(f"<p><b>{step}: {page.money(sign * row[column])}</b> {page.book.meaning(column) or ''}</p>")
    if topics := RULES.get(step):
        settings_in_force.show(page, widgets.last_day(row["month"]), *topics)
    if line:
        lines = page.book.month_lines(row["month"], line, group)
        widgets.records(page, only.of_pieces(page, lines), f"“{step.lower()}”")
