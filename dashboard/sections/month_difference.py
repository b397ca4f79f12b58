"""What made the difference between a month and another: its picture, in sentences, part by part."""

from datetime import date
from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.waterfall import steps
from dashboard.widgets import Column, Page
from pipeline.pages import actions

FOLD = "difference"

AGAINST = ("the month before", "the same month last year")


def other_month(page: Page, months: pl.DataFrame, row: dict[str, Any], against: str) -> dict[str, Any] | None:
    """The month compared with; none where there is none, or no record falls into one of them."""
    other = page.book.bridge(row["month"], against)["other_month"].to_list()
    found = months.row(by_predicate=pl.col("month") == other[0], named=True) if other else None
    return found if found and found["recorded"] and row["recorded"] else None


def show(page: Page, row: dict[str, Any], past: dict[str, Any] | None, against: str) -> None:
    """The fold, whose label says by how much it differs and mainly why."""
    if past is None:
        none = (
            f"There is no record of {against}." if row["recorded"] else "There is no record of this month to compare."
        )
        widgets.say(none, quiet=True)
        return
    bridge = page.book.bridge(row["month"], against)
    if box := widgets.folded(_label(page, row, bridge), FOLD):
        with box:
            _picture(page, row, bridge)
            for sentence in actions.difference_sentences(bridge.to_dicts(), row, past, page.money.currency):
                widgets.say(sentence)
            _parts(page, row, bridge)


def _label(page: Page, row: dict[str, Any], bridge: pl.DataFrame) -> str:
    other, cents = words.month(bridge["other_month"][0]), bridge["result_change_cents"][0]
    cause = actions.main_cause(bridge.to_dicts())
    change = f"{page.money.round(abs(cents))} {'better' if cents > 0 else 'worse'}" if cents else "no"
    return f"The difference to {other}: {change}{f', mainly by {cause}' if cause else ''}"


def _picture(page: Page, row: dict[str, Any], bridge: pl.DataFrame) -> None:
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
    shown, small = widgets.small_ones(frame, "step", "amount", "difference", [ends[0][0], ends[1][0]])
    chart = sent_chart(steps, shown, title, page.money.currency, page.look, scale=page.scale)
    opens = {part["part_name"]: _behind_part(row["month"], other, part) for part in moved.iter_rows(named=True)}
    opens |= {
        words.month(month): widgets.behind("line", month, "", "", "the result") for month in (other, row["month"])
    }
    opens |= small
    widgets.picture(
        chart, alt, f"bridge-{row['month']:%Y-%m}", "step", opens=opens, asks="The records behind a difference"
    )


def _parts(page: Page, row: dict[str, Any], bridge: pl.DataFrame) -> None:
    moved = bridge.filter(pl.col("cents") != 0)
    if moved.height and (box := widgets.folded("Each difference, and what it means", "differences")):
        with box:
            columns = [
                Column("part_name", "Difference"),
                Column("cents", "Made", page.money, number=True),
                Column("part_meaning", "What it is", long=True),
            ]
            widgets.table(
                page,
                _told_by_units(page, moved),
                columns,
                f"differences-{row['month']:%Y-%m}",
                20,
                leads=lambda part: _behind_part(row["month"], bridge["other_month"][0], part),
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
