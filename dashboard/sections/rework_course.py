"""The course of rework: month by month, by wood and finish together, and before and after a change in the shop."""

from typing import Any

import polars as pl

from dashboard import data, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.rework import control, grid
from dashboard.sections import rework_details, shop_changes
from dashboard.sections.rework_details import BOTH
from dashboard.widgets import Column, Narrowed, Page


def _false_alarms(months: int) -> str:
    """How many charts of so many months show a month beyond its limits by luck alone, at most."""
    return f"{max(round(100 * (1 - (1 - 2 * 0.00135) ** months)), 1)} in 100"


def _widened(months: pl.DataFrame) -> str:
    """Why the limits lie further apart than chance would put them; nothing where they don't."""
    times = float(months["widened"].max() or 1)  # type: ignore[arg-type]
    if times < 1.05:
        return ""
    return f" Months differ here by more than luck, so the limits lie {times:.1f} times as far from the usual share."


def months(page: Page, only: Narrowed) -> None:
    """The share that did not pass first time, month by month, and the pieces of a month."""
    known = page.book.rework_months()
    if not known.height:
        return
    outside = known.filter("outside")
    beyond = (
        f"{words.count(outside.height, 'month')} beyond the limits" if outside.height else "no month beyond the limits"
    )
    title = f"{words.share(known['centre'][0])} of all pieces did not pass first time; {beyond}"
    if known["pieces"].sum() < words.FEW:
        title = "too few pieces to say how many did not pass first time"
    if box := widgets.folded(f"Month by month: {title}", "months"):
        with box:
            _course(page, known, title, only)


def _course(page: Page, months: pl.DataFrame, title: str, only: Narrowed) -> None:
    chart = sent_chart(control, months, title, page.look)
    widgets.picture(chart, f"{title}. The table below holds the same.", "control", "name", chooses="month")
    widgets.say(
        "The band shows where a month lies while nothing changes: by luck alone, hardly one in 300 lies beyond its "
        f"limits, so of charts of {words.count(months.height, 'month')} up to {_false_alarms(months.height)} show one "
        f"beyond them.{_widened(months)} The dashed line is the usual share.",
        quiet=True,
    )
    rework_details.month(page, only)
    columns = [
        Column("month", "Month", lambda day: f"{day:%Y-%m}"),
        Column("pieces", "Pieces", number=True),
        Column("first_pass", "Passed first time", number=True),
        Column("rate", "Did not", words.share, number=True),
        Column("lower", "Limits from", words.share, number=True),
        Column("upper", "to", words.share, number=True),
        Column("outside", "Beyond them"),
        Column("young_pieces", "May still come back", number=True),
    ]
    widgets.table(
        page,
        months.reverse(),
        columns,
        "first-pass",
        shown=12,
        leads=lambda row: widgets.behind("between", row["month"], widgets.last_day(row["month"])),
    )


def pairs(page: Page, both: pl.DataFrame, kind: str, only: Narrowed) -> None:
    """How often each wood in each finish came back, and the pieces of a pair."""
    if not both.height:
        return
    thin = both.filter(pl.col("pieces") < words.FEW).height
    title = (
        f"{words.count(both.height, 'pair')} of species and finish; {thin} of them with fewer than "
        f"{words.FEW} pieces, drawn small"
    )
    if box := widgets.folded(f"Species and finish together: {words.count(both.height, 'pair')}", "both", "pair"):
        with box:
            _pairs(page, both, title, kind, only)


def _pairs(page: Page, both: pl.DataFrame, title: str, kind: str, only: Narrowed) -> None:
    cells = both.with_columns(
        pl.col("level").str.split(" × ").list.to_struct(fields=["species", "finish"]).struct.unnest()
    )
    chart = sent_chart(grid, cells, title, page.look)
    widgets.picture(chart, f"{title}. The table below holds the same.", f"grid-{kind}", "level", chooses="pair")
    pair = widgets.choose("The pieces of a pair (or click its square)", "pair", [widgets.ANY, *both["level"].to_list()])
    if pair != widgets.ANY:
        rework_details.pieces(page, only.of_pieces(page, page.book.judged(BOTH, pair)), pair.replace(" × ", "-"))
    columns = [
        Column("level", "Species and finish"),
        Column("pieces", "Pieces", number=True),
        Column("events", "Came back", number=True),
        Column("rate", "As counted", words.share, number=True),
        Column("low", "19 in 20, from", words.share, number=True),
        Column("high", "to", words.share, number=True),
    ]
    table = both.sort("pieces", descending=True)
    widgets.table(page, table, columns, f"pairs-{kind}", shown=15, leads=rework_details.judged_of)


def changes(page: Page) -> None:
    """The rates before and after each change that was marked, and marking one."""
    known = page.book.changes()
    compared = words.count(known["change"].n_unique(), "change") if known.height else "none is marked yet"
    box = widgets.folded(f"Before and after a change: {compared}", "before-and-after", "mark-change")
    if not box:
        return
    with box:
        if not known.height:
            widgets.say("Mark the day of a change, and the pieces before and after it are compared here.", quiet=True)
        else:
            _compared(page, known)
        shop_changes.show(data.shop_folder(), page)


FALLING = 0.8
"""From this chance on it is said that rework fell already before a change (common practice, no source)."""


def _compared(page: Page, changes: pl.DataFrame) -> None:
    for row in changes.filter(pl.col("measure") == "rework").iter_rows(named=True):
        widgets.say(_before_and_after(row))
    widgets.say(
        "A shop that learns has less rework after any day: the trend is the rise or fall that goes through both sides. "
        "The table has each difference with its span.",
        quiet=True,
    )
    columns = [
        Column("change", "Change"),
        Column("day", "From", words.day),
        Column("measure", "Counted"),
        Column("events_before", "Events before", number=True),
        Column("pieces_before", "of pieces", number=True),
        Column("events_after", "after", number=True),
        Column("pieces_after", "of pieces", number=True),
        Column("difference", "Difference, mix held equal", words.signed_share, number=True),
        Column("low", "9 in 10, from", words.signed_share, number=True),
        Column("high", "to", words.signed_share, number=True),
        Column("chance_lower", "Chance it is lower", words.at_most_sure, number=True),
        Column("trend_difference", "Beside the shop's trend", words.signed_share, number=True),
        Column("trend_low", "9 in 10, from", words.signed_share, number=True),
        Column("trend_high", "to", words.signed_share, number=True),
        Column("chance_lower_beside_trend", "Chance it is lower than that", words.at_most_sure, number=True),
    ]
    widgets.table(page, changes, columns, "changes", leads=_sides)


def _before_and_after(row: dict[str, Any]) -> str:
    """Both counts, and in a few words what can be said of the difference: not what the change did."""
    said = (
        f"{row['change']} ({words.day(row['day'])}): {row['events_before']} of {row['pieces_before']} pieces came back "
        f"before, {row['events_after']} of {row['pieces_after']} after."
    )
    falling = " Rework was falling already before." if row["chance_falling"] >= FALLING else ""
    return f"{said} {_can_be_said(row)}{falling}"


def _can_be_said(row: dict[str, Any]) -> str:
    """By the intervals (9 times in 10) of the same mix, and beside the shop's own trend."""
    if row["trend_high"] < 0:
        return "Fewer than the shop's own trend explains."
    if row["trend_low"] > 0:
        return "More than the shop's own trend explains."
    if row["high"] < 0 or row["low"] > 0:
        return f"{'Fewer' if row['high'] < 0 else 'More'}, but the shop's own trend may explain it."
    return "Too close to say that it differs."


def _sides(row: dict[str, Any]) -> widgets.Lead:
    """The pieces of the twelve months before a change and the twelve after it."""
    month = row["day"].replace(day=1)
    before, after = month.replace(year=month.year - 1), month.replace(year=month.year + 1)
    return widgets.behind("between", before, after)
