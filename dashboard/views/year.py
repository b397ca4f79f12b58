"""How does the year go, beside the one before and beside what was wanted of it?"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.year import beside
from dashboard.sections import year_goal
from dashboard.widgets import Column, Page

QUESTION = "How does the year go?"
MONTHS = "months-of-the-year"
"""The part of the page that the figures lead to."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Shown:
    """A figure of the year: its name, its column, how many records of which kind it takes to be told, and how it is
    written."""

    name: str
    column: str
    records: str
    least: float
    write: Callable[[Page], words.Unit]

    def told(self, page: Page, row: Row | None, before: str = "") -> str:
        """The figure of a row in words, or that it has too few records."""
        if row is None or row[f"{before}{self.column}"] is None:
            return words.DASH
        told = self.write(page)(row[f"{before}{self.column}"])
        return words.firm(told, row[f"{before}{self.records}"], "too few", self.least) if self.records else told


def _share(_: Page) -> words.Unit:
    return words.share


NAMES = ("Result", "An hour paid", "Wood in pieces", "Resin in pieces", "Came back")
SHOWN = (
    Shown(NAMES[0], "result_cents", "recorded_months", 1, lambda page: page.money.round),
    Shown(NAMES[1], "pay_per_hour_cents", "", 0, lambda page: page.money.exact),
    Shown(NAMES[2], "yield_share", "wood_pieces", words.FEW, _share),
    Shown(NAMES[3], "good_share", "pours", words.FEW, _share),
    Shown(NAMES[4], "rework_share", "pieces", words.FEW, _share),
)


def show(page: Page) -> None:
    so_far = page.book.years_so_far()
    if not so_far.filter(pl.col("recorded_months") > 0).height:
        widgets.answer(QUESTION, "No month has a record yet.")
        widgets.empty("No record has a date yet.", "Put sales, hours and receipts into the inbox, then refresh.")
        return
    head = widgets.head()
    with widgets.filters():
        year = _choose_year(so_far, page.book.goal_years())
    months, over = page.book.year_months(year), so_far.filter(pl.col("whole"), pl.col("month").dt.year() == year)
    row = over.row(-1, named=True) if over.height else None
    before = _before(so_far, row)
    goals = page.book.goals(year)
    widgets.answer(QUESTION, _sentence(page, year, row, before, goals, so_far["month"][0]), head)
    if row:
        _figures(page, row, before)
    year_goal.show(page, year, goals)
    if not months.height:
        return
    _apart(page, year, row, before, months)
    _picture(page, year, row, months)
    _table(page, year, months)


def _choose_year(so_far: pl.DataFrame, goal_years: list[int]) -> int:
    """The year of the month looked at elsewhere, else of the last month that is over.

    The one to come can be chosen too, to set its goal.
    """
    on_record = so_far["month"].dt.year().unique().to_list()
    years = sorted({*on_record, *goal_years, max(on_record) + 1}, reverse=True)
    over = so_far.filter(pl.col("whole"), pl.col("recorded_months") > 0)
    start = over["month"].dt.year().max() if over.height else max(on_record)
    held = st.query_params.get("month", "")[:4]
    names = [str(year) for year in years]
    return int(widgets.choose("Year", "year", names, held if held in names else str(start)))


def _before(so_far: pl.DataFrame, row: Row | None) -> Row | None:
    """The same months a year before, where all of them have records as these do."""
    if row is None:
        return None
    then: date = row["month"].replace(year=row["month"].year - 1)
    found = so_far.filter(pl.col("month") == then, pl.col("months") == row["months"])
    whole = found.filter(pl.col("recorded_months") == pl.col("months"))
    return whole.row(0, named=True) if whole.height and row["recorded_months"] == row["months"] else None


def _sentence(page: Page, year: int, row: Row | None, before: Row | None, goals: pl.DataFrame, first: date) -> str:
    """The result so far, how far it is from the year before, and how likely the first of its goals is."""
    if row is None:
        return f"No month of {year} {'has a record' if year < first.year else 'is over yet'}."
    if not row["recorded_months"]:
        return f"No month of {year} that is over has a record."
    money, cents = page.money.round, row["result_cents"]
    so_far = "" if row["months"] == 12 or row["month"].month == 12 else " so far"
    goal = year_goal.in_short(goals)
    own = "" if goal else " after your own pay"
    said = f"{year}{so_far} {'made' if cents >= 0 else 'lost'} {money(abs(cents))}{own}"
    if before is not None:
        difference = cents - before["result_cents"]
        by_then = " by then" if so_far else ""
        change = (
            f"{money(abs(difference))} {'better' if difference > 0 else 'worse'} than" if difference else "the same as"
        )
        said += f", {change} {year - 1}{by_then}"
    return f"{said}{goal}."


def _figures(page: Page, row: Row, before: Row | None) -> None:
    """The year's figures, each beside that of the year before by then."""
    notes = {
        "result_cents": "own pay counted as a cost",
        "pay_per_hour_cents": f"over {words.hours(row['owner_hours'])} owners' hours"
        if row["pay_per_hour_cents"] is not None
        else "too few hours on record to say",
        "yield_share": f"of what is gone, {words.count(row['wood_pieces'], 'piece')}"
        if row["wood_pieces"]
        else "no cut wood is on record",
        "good_share": f"of what was poured, {words.count(row['pours'], 'pour')}"
        if row["pours"]
        else "no pour with its grams is on record",
        "rework_share": _counted(row),
    }
    then = f"{row['month'].year - 1}{'' if row['month'].month == 12 else ' by then'}"
    entries = []
    for each in SHOWN:
        past = f"; {then}: {each.told(page, before)}" if before and before[each.column] is not None else ""
        entries.append((each.name, each.told(page, row), f"{notes[each.column]}{past}", each.column, MONTHS))
    widgets.figures(entries, page)


def _counted(row: Row) -> str:
    """A share that came back never stands without its count, and how sure it is."""
    if not row["pieces"]:
        return "no piece is judged yet"
    counted = f"{row['reworked_pieces']} of {words.count(row['pieces'], 'piece')}"
    if row["pieces"] < words.FEW:
        return counted
    return f"{counted}, likely {words.half_up(100 * row['low'])} to {words.share(row['high'])}"


def _apart(page: Page, year: int, row: Row | None, before: Row | None, months: pl.DataFrame) -> None:
    """What is not in the figures above, and why nothing stands beside them."""
    said = []
    running = months.filter(~pl.col("whole"))
    if running.height:
        last = running.row(-1, named=True)
        so_far = page.money.round(last["result_cents"])
        said.append(f"{words.month(last['month'])} is not over, and in no figure above: {so_far} so far.")
    empty = months.filter(pl.col("whole"), pl.col("recorded_months") == 0)
    if empty.height:
        names = ", ".join(f"{month:%B}" for month in empty["month"])
        said.append(f"Without a record: {names}.")
    first = months["month"].min()
    if isinstance(first, date) and first.month > 1:
        said.append(f"The records begin in {words.month(first)}.")
    if row and before is None:
        said.append(f"Nothing is compared with {year - 1}: not all of these months have records in both years.")
    if row and row["young_pieces"]:
        young = words.count(row["young_pieces"], "piece")
        said.append(f"{young} finished lately may still come back, and {'is' if row['young_pieces'] == 1 else 'are'} "
                    "in no share of those that did.")  # fmt: skip
    if said:
        widgets.say(" ".join(said), quiet=True)


def _picture(page: Page, year: int, row: Row | None, months: pl.DataFrame) -> None:
    chosen = widgets.switch("Month by month", "figure", NAMES)
    shown = SHOWN[NAMES.index(chosen)]
    values = [
        {
            "name": f"{each['month']:%Y-%m}", "month": f"{each['month']:%b}", "number": each["month"].month,
            "whole": bool(each["whole"]), "value": _value(shown, each), "before": _value(shown, each, "before_"),
        }
        for each in months.iter_rows(named=True)
    ]  # fmt: skip
    schema = {
        "name": pl.String, "month": pl.String, "number": pl.Int64, "whole": pl.Boolean, "value": pl.Float64,
        "before": pl.Float64,
    }  # fmt: skip
    frame = pl.DataFrame(values, schema=schema)
    if not frame.drop_nulls("value").height and not frame.drop_nulls("before").height:
        widgets.say(f"{shown.name}: no month has enough records to say it.", quiet=True)
        return
    told = shown.told(page, row)
    title = f"{shown.name} by month: {told} in {year}" + (" so far" if row and row["month"].month < 12 else "")
    money = shown.column.endswith("_cents")
    unit = page.money.currency if money else "% of it"
    if shown.column == "pay_per_hour_cents":
        unit = f"{page.money.currency} an hour"
    years = (str(year), str(year - 1))
    form = f",.{page.money.digits}f" if shown.column == "pay_per_hour_cents" else ",.0f"
    chart = sent_chart(beside, frame, years, title, unit, page.scale if money else 100, form, page.look)
    alt = f"{title}. Bars by month beside those of {year - 1}; a click on one opens that month."
    opens = {f"{each['month']:%Y-%m}": _month(each) for each in months.iter_rows(named=True)}
    widgets.picture(chart, alt, f"year-{year}-{shown.column}", "name", opens=opens)


def _value(shown: Shown, row: Row, before: str = "") -> float | None:
    """A month's figure, where it has records enough to be drawn."""
    value = row[f"{before}{shown.column}"]
    if value is None or (shown.records and (row[f"{before}{shown.records}"] or 0) < shown.least):
        return None
    return float(value)


def _table(page: Page, year: int, months: pl.DataFrame) -> None:
    widgets.part(f"The months of {year}, each beside that of {year - 1}", MONTHS)
    told: dict[str, list[str]] = {"name": []}
    for row in months.iter_rows(named=True):
        told["name"].append(f"{row['month']:%B}{_state(row)}")
        for each in SHOWN:
            told.setdefault(each.column, []).append(each.told(page, row))
            told.setdefault(f"before_{each.column}", []).append(each.told(page, row, "before_"))
    frame = months.select("month", "whole").with_columns(pl.Series(name, texts) for name, texts in told.items())
    columns = [Column("name", "Month", means="month")]
    for each in SHOWN:
        columns.append(Column(each.column, each.name, number=True))
        columns.append(Column(f"before_{each.column}", str(year - 1), number=True, means=each.column))
    widgets.table(page, frame, columns, f"year-{year}", 12, leads=_month)


def _state(row: Row) -> str:
    """What keeps a month's figures from being those of a whole month."""
    if row["whole"] is None:
        return ", to come"
    return ", not over" if not row["whole"] else "" if row["recorded_months"] else ", no records"


def _month(row: Row) -> widgets.Lead:
    """A month's page; of one to come that of the year before, whose figures stand there."""
    year = row["month"].year - (row["whole"] is None)
    return ("month?month", f"{year}-{row['month']:%m}")
