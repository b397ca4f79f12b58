"""Reports, the year-end workbook, all tables and a backup as files; and closing a month."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import polars as pl
import streamlit as st

from dashboard import widgets
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from pipeline.pages import actions, take_out

PLACE = "take-out"
"""Where on the page it is said what was closed."""

RESTORED = "restored"
"""Where it is said what was made of a backup."""

HTML, XLSX, ZIP = "text/html", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "application/zip"


def show(page: Page, folder: Path) -> None:
    """A fold with a button for each."""
    say_what_was_done(PLACE)
    box = widgets.folded("Reports, year end, backup, closing a month", PLACE)
    if not box:
        return
    months = page.book.months()
    with box:
        if months.height:
            _month(folder, months)
            _year(folder, months)
        _whole(folder)
        widgets.part("A shop of a backup")
        of_a_backup(folder)


def _month(folder: Path, months: pl.DataFrame) -> None:
    names = widgets.month_names(months)
    widgets.part("A month")
    over = widgets.month_names(months.filter(pl.col("whole")))
    first = list(names).index(next(iter(over))) if over else 0
    widgets.choosable("report-month", names, list(names)[first])
    name = st.selectbox("Month", list(names), first, key="report-month")
    month = names.get(name)
    if month is None:
        return
    _file("Its report, to print", f"month {name}.html", HTML, lambda: take_out.month_report(folder, month))
    if take_out.is_closed(folder, month):
        widgets.say(f"{name} is closed: its figures stay as they were.", quiet=True)
        return
    if not months.filter(pl.col("month") == month)["whole"][0]:
        widgets.say(f"{name} is not over yet, so it can't be closed.", quiet=True)
        return
    widgets.say(
        "Closing freezes the month's figures, as for the tax office. What comes in late then counts as “earlier "
        f"months” in the first open month. To open it again, delete its file in reports/closed, here {name}.csv."
    )
    if st.checkbox(verbatim(f"Yes, {name} is to be closed"), key=f"sure-{name}") and st.button(
        verbatim(f"Close {name}"), key="close-month", type="primary"
    ):
        _close(folder, name, month)


def _close(folder: Path, name: str, month: date) -> None:
    told: list[str] = []
    if attempt(lambda: told.append(take_out.close_month(folder, month))):
        done(PLACE, f"{name} is closed: its figures stand in {told[0]}.")
        st.rerun(scope="app")


def _year(folder: Path, months: pl.DataFrame) -> None:
    years = sorted({month.year for month in months["month"]}, reverse=True)
    widgets.part("A year")
    widgets.choosable("report-year", years)
    year = st.selectbox("Year", years, 0, key="report-year")
    if year:
        _file("Year-end workbook", f"year {year}.xlsx", XLSX, lambda: take_out.year_end(folder, year))


def _whole(folder: Path) -> None:
    widgets.part("All of it")
    _file("All tables as CSV", "tables.zip", ZIP, lambda: take_out.all_tables(folder))
    try:
        large = take_out.is_large(folder)
    except actions.UserError as error:
        widgets.say(f"No backup can be made: {error.what} {error.mend}")
        return
    if large:
        command, _ = take_out.commands(folder)
        widgets.say(verbatim(f"The shop's files are too large to come through a page. Run: {command}"))
        return
    _file("Backup of the shop", take_out.backup_name(folder), ZIP, lambda: take_out.backup(folder))
    widgets.say(
        "The backup holds all your files and settings, buyers' names in them too: keep it where only you can read it. "
        "The phones that are paired are not in it.",
        quiet=True,
    )


def of_a_backup(folder: Path) -> None:
    """A backup's file made a shop again, in a new folder beside this one; this page stays with its own shop."""
    _, command = take_out.commands(folder)
    widgets.say(
        "A backup becomes a shop of its own in a new folder beside this one; nothing is written over. This page stays "
        f"with the shop that it shows: the other one is opened by the command that stands here then. Or run: {command}",
        quiet=True,
    )
    most = take_out.MOST_BYTES // 2**20
    turn = int(st.session_state.setdefault("restored", 0))
    file = st.file_uploader("Backup of a shop (.zip)", ["zip"], key=f"backup-file-{turn}", max_upload_size=most)
    if file and st.button("Put it into a new folder", key="restore"):
        told: list[tuple[str, str]] = []
        if attempt(lambda: told.append(take_out.restore(folder, file.name, file.getvalue()))):
            st.session_state["restored"] = turn + 1
            done(RESTORED, f"The shop stands in {told[0][0]}. Open it by: {told[0][1]}")
            st.rerun(scope="app")
    say_what_was_done(RESTORED)


def _file(label: str, name: str, mime: str, made: Callable[[], bytes]) -> None:
    """A button that makes the file when it is pressed."""
    st.download_button(verbatim(label), made, name, mime, key=f"file-{label}", on_click="ignore", width="stretch")
