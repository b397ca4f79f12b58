"""Did the month pay, and what did an hour at the bench really earn?"""

from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.month import course
from dashboard.charts.waterfall import steps
from dashboard.sections import month_tables
from dashboard.widgets import Column, Narrowed, Page
from pipeline.pages import actions

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

AGAINST = ("the month before", "the same month last year")

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
    if not months.height:
        widgets.answer(QUESTION, "There is no month yet.")
        widgets.empty("No record has a date yet.", "Put sales, hours and receipts into the inbox, then refresh.")
        return
    head = widgets.head()
    with widgets.filters():
        chosen = widgets.choose_month(page)
        against = widgets.choose("Compared with", "against", AGAINST)
        only = widgets.narrow(page)
    row = months.filter(pl.col("month") == chosen).row(0, named=True)
    before = months.filter(pl.col("month") < chosen).tail(1)
    cause = actions.main_cause(page.book.bridge(row["month"], AGAINST[0]).to_dicts())
    widgets.answer(QUESTION, _sentence(page, row, before.row(0, named=True) if before.height else None, cause), head)
    _open_questions(page)
    _of_it(page, row, only)
    _figures(page, row)
    _bridge(page, months, row, against)
    widgets.advice(_advice(page, row))
    _picture(page, row)
    _behind(page, row, only)
    _course(page, months, row)
    month_tables.cash(page, row)
    _margins(page, row, only)
    month_tables.show(page, row, only)
    _tables(page, months)
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


def _sentence(page: Page, row: dict[str, Any], before: dict[str, Any] | None, cause: str = "") -> str:
    name, money = words.month(row["month"]), page.money
    verb = "made" if row["result_cents"] >= 0 else "lost"
    so_far = "" if row["whole"] else " so far"
    sentence = f"{name}{so_far} {verb} {money.round(abs(row['result_cents']))} after your own pay"
    if before and cause:
        difference = row["result_cents"] - before["result_cents"]
        change = f"{money.round(abs(difference))} {'better' if difference > 0 else 'worse'}"
        sentence += f", {change} than {before['month']:%B}, mainly by {cause}"
    if row["pay_per_hour_cents"] is None:
        few = "too few hours on record to say what an hour paid"
        return f"{sentence}; {few if row['owner_hours'] else 'no hours of yours are on record'}."
    sentence += "; left for that pay was " + _hour(page, row, "owners' hours")
    if before and before["pay_per_hour_cents"] is not None:
        sentence += f" ({before['month']:%B}: {_hour(page, before, 'hours')})"
    return f"{sentence}."


def _hour(page: Page, row: dict[str, Any], whose: str) -> str:
    """What an hour of the owners paid, and what it is made of."""
    left, hours = page.money.round(row["owners_result_cents"]), words.hours(row["owner_hours"])
    return f"{left} over {hours} {whose}, {page.money(row['pay_per_hour_cents'])} an hour"


def _figures(page: Page, row: dict[str, Any]) -> None:
    money = page.money
    sold = words.count(row["pieces_sold"], "piece")
    widgets.figures(
        [
            ("Sold", money.round(row["revenue_cents"]), f"{sold}, without tax", "revenue_cents"),
            ("Result with own pay", money.round(row["result_cents"]), "own pay counted as a cost", "result_cents"),
            (
                "Result in the books",
                money.round(row["books_result_cents"]),
                "before the owners' pay",
                "books_result_cents",
            ),
            (
                "An hour paid",
                words.hour_paid(money.exact, row["pay_per_hour_cents"], row["owner_hours"]),
                f"{words.hours(row['owner_hours'])} hours of the owners, office and markets too",
                "pay_per_hour_cents",
            ),
            (
                "At the bench",
                f"{words.hours(row['bench_hours'])} h",
                f"everybody's; {words.decimal(1)(row['rework_hours'])} h of it rework",
                "bench_hours",
            ),
        ],
        page,
    )


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
        "the records behind a figure, what left most, and the pieces that lost money or were written down",
        f"The result and its pictures are the whole shop's. In this month{each}: {'; '.join(said)}.",
    )


def _bridge(page: Page, months: pl.DataFrame, row: dict[str, Any], against: str) -> None:
    bridge = page.book.bridge(row["month"], against)
    if not bridge.height:
        widgets.say(f"There is no record of {against}.", quiet=True)
        return
    other, other_cents = bridge["other_month"][0], bridge["other_result_cents"][0]
    moved = bridge.filter(pl.col("cents") != 0)
    ends = [(words.month(other), other_cents, True), (words.month(row["month"]), row["result_cents"], True)]
    steps_ = [
        ends[0],
        *((name, cents, False) for name, cents in moved.select("part_name", "cents").iter_rows()),
        ends[1],
    ]
    frame = pl.DataFrame(steps_, schema=["step", "amount", "total"], orient="row")
    title = (
        f"From {page.money(other_cents)} in {words.month(other)} to "
        f"{page.money(row['result_cents'])}: what made the difference"
    )
    alt = f"{title}: " + ", ".join(f"{step} {page.money.round(amount)}" for step, amount, _ in steps_)
    chart = sent_chart(steps, frame, title, page.money.currency, page.look, scale=page.scale)
    opens = {part["part_name"]: _behind_part(row["month"], other, part) for part in moved.iter_rows(named=True)}
    opens |= {
        words.month(month): widgets.behind("line", month, "", "", "the result") for month in (other, row["month"])
    }
    widgets.picture(
        chart, alt, f"bridge-{row['month']:%Y-%m}", "step", opens=opens, asks="The records behind a difference"
    )
    past = months.row(by_predicate=pl.col("month") == other, named=True)
    for sentence in actions.difference_sentences(bridge.to_dicts(), row, past, page.money.currency):
        widgets.say(sentence)
    if moved.height and (box := widgets.folded("Each difference, and what it means", "differences")):
        with box:
            columns = [
                Column("part_name", "Difference"),
                Column("cents", "Made", page.money, number=True),
                Column("part_meaning", "What it is", long=True),
            ]
            name = f"differences-{row['month']:%Y-%m}"
            widgets.table(
                page,
                _told_by_units(page, moved),
                columns,
                name,
                20,
                leads=lambda part: _behind_part(row["month"], other, part),
            )


def _told_by_units(page: Page, moved: pl.DataFrame) -> pl.DataFrame:
    """What a part means, and what it comes to by the number of units, where that is another way to count it."""
    told = [
        row["part_meaning"]
        if row["by_units_cents"] is None
        else f"{row['part_meaning']} By the number of units it is {page.money(row['by_units_cents'])}."
        for row in moved.iter_rows(named=True)
    ]
    return moved.with_columns(pl.Series("part_meaning", told, pl.String))


def _behind_part(month: date, other: date, part: dict[str, Any]) -> widgets.Lead:
    """What opens the records behind a part of the difference."""
    lines, layers = "|".join(part["result_lines"]), "|".join(part["result_layers"])
    return widgets.behind("months", month, other, lines, layers, part["part_name"].lower())


def _picture(page: Page, row: dict[str, Any]) -> None:
    widgets.part("From what was sold to what is left")
    frame = pl.DataFrame(
        [
            {"step": step, "amount": sign * row[column], "total": step == "Result"}
            for step, (column, sign, _, _) in STEPS.items()
            if row[column] or step in ("Sold", "Result")
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
    chart = sent_chart(steps, frame, title, page.money.currency, page.look, scale=page.scale)
    widgets.picture(chart, alt, f"steps-{row['month']:%Y-%m}", "step", chooses="step")
    settings_in_force.show(
        page, widgets.last_day(row["month"]), "flow", "tax", "scrap", "mending", "overhead", "machine"
    )


def _advice(page: Page, row: dict[str, Any]) -> list[str]:
    money = page.money
    costs = {
        "period_labour_cents": "of hours carry no piece. Those at the bench become part of a piece's cost when "
        "the hours row names it.",
        "not_absorbed_cents": "of rent and machines stood idle: more bench hours, or less of them to pay for.",
        "loss_cents": "was lost to scrap and shortages: the Rework page shows what it goes with.",
        "write_down_cents": "more was written down than came back, of unsold pieces that will bring less than they cost"
        f"{_down(page, row)}",
    }
    dearest = sorted((column for column in costs if row[column] > 0), key=lambda column: -row[column])
    lines = [f"{money.round(row[column])} {costs[column]}" for column in dearest]
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
    widgets.part("The records behind a figure")
    names = [step for step, (column, _, _, _) in STEPS.items() if row[column] and step != "Result"]
    if not names:
        widgets.say("No record falls into this month.", quiet=True)
        return
    step = widgets.choose("Figure (or click its bar)", "step", names)
    column, sign, line, group = STEPS[step]
    st.html(f"<p><b>{step}: {page.money(sign * row[column])}</b> {page.book.meaning(column) or ''}</p>")
    if topics := RULES.get(step):
        settings_in_force.show(page, widgets.last_day(row["month"]), *topics)
    if line:
        lines = page.book.month_lines(row["month"], line, group)
        widgets.records(page, only.of_pieces(page, lines), f"“{step.lower()}”")


def _course(page: Page, months: pl.DataFrame, row: dict[str, Any]) -> None:
    widgets.part("The course of the months")
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


def _margins(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    margins = page.book.margins(row["month"])
    if not margins.height:
        return
    widgets.part("What left most")
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


def _tables(page: Page, months: pl.DataFrame) -> None:
    widgets.part("Month by month")
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
