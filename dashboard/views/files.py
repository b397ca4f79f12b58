"""What came in, what was set aside, and what is missing?"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, links, refreshing, widgets, words
from dashboard.charts.files import set_aside
from dashboard.sections import inbox, mending, questions, take_out, to_log
from dashboard.widgets import ANY, Column, Page

QUESTION = "What came in, and what is missing?"
MOST_KINDS = 4
"""Kinds of faults that the picture shows, the most frequent."""

ASIDE = "rows-set-aside"
"""The part of the page that the number of rows set aside leads to."""

WHY = "why-aside"
"""The fold that tells why they were, and in which they are narrowed to a file or a reason."""


def show(page: Page) -> None:
    folder = data.shop_folder()
    files = page.book.files()
    if not files.height:
        widgets.answer(QUESTION, "Nothing has come in yet: 0 files.")
        widgets.empty(
            "No file has been read.",
            "Drop in receipts, hours or sales below (CSV, a workbook, a calendar …), or write records on the Log page.",
        )
        inbox.drop(folder)
        refreshing.bar(folder)
        return
    fate = page.book.rows_by_fate()
    widgets.answer(QUESTION, _sentence(fate))
    _figures(page, fate)
    findings = page.book.findings()
    widgets.advice(
        [f"{words.count(row['rows'], 'time')}: {row['meaning']}" for row in findings.head(3).iter_rows(named=True)]
    )
    refreshing.bar(folder)
    questions.show(page, folder)
    inbox.drop(folder)
    open_ = inbox.to_settle(files)
    if open_:
        inbox.settle(folder, files)
    _rejected(page, page.book.set_aside())
    _findings(page, findings)
    to_log.show(page, folder)
    _words(page)
    _not_taken(page)
    _files(page, folder, files, settle=not open_)
    take_out.show(page, folder)
    _dictionary(page)
    widgets.caution(
        "buyers' names and addresses are never stored, but your files may hold them: keep the inbox where only you can "
        "read it. The figures are for steering; what the tax office wants, ask a licensed accountant."
    )


def _figures(page: Page, fate: dict[str, int]) -> None:
    beside = ", the log and mends" if fate["written"] else ""
    among = f"of {fate['rows']:,}, in {words.count(fate['files'], 'file')}{beside}"
    aside = ("Set aside", f"{fate['set_aside']:,}", "in no figure until mended", "set_aside")
    asked = ("Still to be settled", f"{fate['asked']:,}", f"in {words.count(fate['files_asked'], 'file')}, below")
    widgets.figures(
        [
            ("Rows loaded", f"{fate['loaded']:,}", among, "loaded"),
            (*aside, ASIDE) if fate["set_aside"] else aside,
            ("Seen twice or replaced", f"{fate['duplicate']:,}", "counted once", "duplicate"),
            *([asked] if fate["asked"] else []),
            *([("Planned", f"{fate['planned']:,}", "in no figure until done", "ignored")] if fate["planned"] else []),
            ("No records", f"{fate['ignored']:,}", "titles, totals, blank rows", "ignored"),
        ],
        page,
    )


def _sentence(fate: dict[str, int]) -> str:
    if fate["rows"] == fate["ignored"] and not fate["asked"]:
        return f"No record has come in yet: {words.count(fate['rows'], 'row')} read, all titles, totals or blank."
    aside = words.count(fate["set_aside"], "row")
    rest = (
        f"{aside} {'is' if fate['set_aside'] == 1 else 'are'} set aside and wait to be mended"
        if fate["set_aside"]
        else "no row is set aside"
    )
    asked = words.count(fate["files_asked"], "file")
    open_ = f"; {asked} with {words.count(fate['asked'], 'row')} still to be settled" if fate["asked"] else ""
    return f"{fate['loaded']:,} of {fate['rows']:,} rows are in the figures; {rest}{open_}."


def _kind() -> pl.Expr:
    """The kind of fault: the first sentence of the reason names it."""
    return pl.col("reason").str.split(". ").list.first().str.strip_chars_end(".")


def _rejected(page: Page, rejected: pl.DataFrame) -> None:
    widgets.part("Rows set aside: mend them here or in their file", ASIDE)
    refreshing.say_what_was_done(mending.PLACE)
    if not rejected.height:
        widgets.say("None.", quiet=True)
        return
    rows = rejected.with_columns(_kind().alias("kind"))
    table = st.container()
    shown = _why(page, rows)
    columns = [
        Column("place", "Where it stands", long=True),
        Column("field", "Field", words.field),
        Column("text", "What stands there", long=True),
        Column("reason", "Why not", long=True),
        Column("suggestion", "What would mend it", long=True),
    ]
    with table:
        widgets.say("Open a row to mend it.", quiet=True)
        widgets.table(page, shown.drop("kind"), columns, "set-aside", shown=3, leads=_aside)


def _why(page: Page, rows: pl.DataFrame) -> pl.DataFrame:
    """Why they were, with a picture and choices, behind a fold; gives the rows chosen, all where it is closed."""
    counted = rows["kind"].value_counts().sort("count", "kind", descending=[True, False])
    top = counted.row(0, named=True)
    title = f"Why rows were set aside: most often “{top['kind']}”, {words.count(top['count'], 'time')}"
    links.opens_by(WHY, "file")
    if not (box := widgets.folded(title, WHY, "fault")):
        return rows
    with box:
        with widgets.filters():
            file = widgets.choose_among("File", "file", rows["file"])
            kind = widgets.choose_among("Why (or click its bar)", "fault", rows["kind"])
        # further kinds stand in the choice and the table above
        shown = rows.filter(pl.col("kind").is_in(counted.head(MOST_KINDS)["kind"].implode()))
        chart = set_aside(shown.select("kind"), title, page.look)
        widgets.picture(chart, f"{title}. The table above holds each row.", "set-aside", "kind", chooses="fault")
    return widgets.rows_chosen(rows, file=file, kind=kind)


def _aside(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("aside", row["file"], row["sheet"], row["row"], *_again(row))


def _again(row: dict[str, Any]) -> list[int]:
    """Which one of several rows on a line it is, where it isn't the first: a repeating event's later times."""
    return [row["occurrence"]] if row.get("occurrence") else []


def _findings(page: Page, findings: pl.DataFrame) -> None:
    if box := widgets.folded(f"What else is wrong or missing: {words.count(findings.height, 'finding')}", "wrong"):
        with box:
            _all_findings(page, findings)
            if not page.book.unknown_words().height and not page.book.unlinked().height:
                widgets.say("In the rows that came in every word is known, and every tag leads somewhere.", quiet=True)


def _all_findings(page: Page, findings: pl.DataFrame) -> None:
    columns = [
        Column("severity", "How bad"),
        Column("rows", "Times", number=True),
        Column("meaning", "What", long=True),
        Column("example", "For example", lambda text: _example(page, text), long=True),
    ]
    widgets.table(page, findings, columns, "findings", shown=20, leads=_finding)


def _example(page: Page, text: str | None) -> str:
    if not text:
        return words.DASH
    row: dict[str, Any] = json.loads(text)
    if "reason" in row:  # a row set aside: the rest of it stands in the table of those
        place = words.place(row["file"], row["sheet"], row["row"], row["occurrence"])
        return f"{place}: {row['reason'].partition('. ')[0]}"
    # the row itself is what the line leads to
    told = {name: value for name, value in row.items() if value not in (None, "") and name not in ("row_id", "lot_id")}
    return ", ".join(_part(page, name, value) for name, value in told.items())


def _part(page: Page, name: str, value: Any) -> str:
    for end, write in (("cents", page.money), ("_share", words.share)):
        if name.endswith(end) and isinstance(value, int | float):
            return f"{name.removesuffix(end).replace('_', ' ').strip()} {write(value)}".strip()
    return f"{name.replace('_', ' ')} {value[:7] if name == 'month' else value}"


def _finding(row: dict[str, Any]) -> widgets.Lead | None:
    """What stands behind the example of a finding."""
    told: dict[str, Any] = json.loads(row["example"] or "{}")
    ways: dict[str, Callable[[], widgets.Lead]] = {
        "word": lambda: widgets.behind("word", told["vocabulary"], told["word"]),
        "tag": lambda: widgets.behind("tag", told["record"], told["field"], told["tag"]),
        "row_id": lambda: widgets.behind("row", told["row_id"]),
        "row": lambda: widgets.behind("aside", told["file"], told["sheet"], told["row"], *_again(told)),
        "piece": lambda: ("pieces?piece", told["piece"]),
        "pour": lambda: ("materials?pour", told["pour"]),
        "lot_id": lambda: widgets.behind("lot", told["lot_id"]),
        "flow": lambda: widgets.behind("flow", told["flow"]),
        "item": lambda: widgets.behind("flow", told["item"]),
        "month": lambda: ("month?month", str(told["month"])[:7]),
        "operation": lambda: widgets.behind("unplaced", told["operation"]),
    }
    return next((way() for name, way in ways.items() if told.get(name) is not None), None)


def _words(page: Page) -> None:
    """Words that are not known, and tags that lead nowhere: a fold where there are any."""
    unknown, unlinked = page.book.unknown_words(), page.book.unlinked()
    if not unknown.height and not unlinked.height:
        return  # the fold of findings says so
    not_known = f"{words.count(unknown.height, 'word')} not known"
    nowhere = words.count(unlinked.height, "tag that leads", "tags that lead")
    if box := widgets.folded(f"{not_known}, {nowhere} nowhere", "not-known"):
        with box:
            _unknown(page, unknown, unlinked)


def _unknown(page: Page, unknown: pl.DataFrame, unlinked: pl.DataFrame) -> None:
    widgets.part(f"{words.count(unknown.height, 'word')} not known")
    columns = [
        Column("word", "Word"),
        Column("vocabulary", "Of"),
        Column("nearest", "Nearest known"),
        Column("rows", "Rows", number=True),
        Column("file", "File"),
    ]
    widgets.table(
        page, unknown, columns, "unknown-words", 6, leads=lambda r: widgets.behind("word", r["vocabulary"], r["word"])
    )
    widgets.part(f"{words.count(unlinked.height, 'tag that leads', 'tags that lead')} nowhere")
    columns = [
        Column("tag", "Tag"),
        Column("record", "In"),
        Column("field", "As", words.field),
        Column("place", "Where it stands", long=True),
    ]
    widgets.table(page, unlinked, columns, "unlinked", 6, leads=lambda row: widgets.behind("row", row["row_id"]))


def _not_taken(page: Page) -> None:
    """Columns that are no field, and words that were taken for the likeliest of several things."""
    likely, unused = page.book.likely_words(), page.book.unused_columns()
    taken = f"{words.count(likely.height, 'word')} taken for the likeliest meaning"
    left = f"{words.count(unused.height, 'column')} not used"
    if (likely.height or unused.height) and (box := widgets.folded(f"{taken}; {left}", "likely")):
        with box:
            _likely(page, likely, unused)


def _likely(page: Page, likely: pl.DataFrame, unused: pl.DataFrame) -> None:
    if likely.height:
        widgets.part(f"{words.count(likely.height, 'word')} taken for the likeliest meaning")
        columns = [
            Column("word", "Word"),
            Column("vocabulary", "Of"),
            Column("taken", "Taken for"),
            Column("others", "It can also mean"),
            Column("rows", "Rows", number=True),
            Column("file", "File"),
        ]
        widgets.table(page, likely, columns, "likely-words", 6, leads=_of_file)
    if unused.height:
        widgets.part(f"{words.count(unused.height, 'column')} not used, and why")
        columns = [
            Column("header", "Column"),
            Column("why", "Why"),
            Column("rows", "Rows", number=True),
            Column("file", "File"),
            Column("sheet", "Sheet"),
        ]
        widgets.table(page, unused, columns, "unused-columns", 6, leads=_of_file)


def _of_file(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("file", row["file"], row.get("sheet") or "")


def _files(page: Page, folder: Path, files: pl.DataFrame, settle: bool) -> None:
    """All files with what became of their rows; where nothing is open, a look at how each is read stands here too."""
    if box := widgets.folded(f"File by file: {words.count(files.height, 'table')} of files", "by-file"):
        with box:
            _each_file(page, inbox.empty_last(files))
            if settle:
                inbox.settle(folder, files)


def _each_file(page: Page, files: pl.DataFrame) -> None:
    columns = [
        Column("file", "File"),
        Column("sheet", "Sheet"),
        Column("record", "Holds"),
        Column("how", "Understood how", lambda how: inbox.HOW.get(how, str(how))),
        Column("rows", "Rows", number=True),
        Column("loaded", "Loaded", number=True),
        Column("duplicate", "Twice", number=True),
        Column("set_aside", "Set aside", number=True),
        Column("ignored", "No records", number=True),
    ]
    # both are empty in most shops, and the table would be wider than the page
    if files["masked"].sum():
        columns.append(Column("masked", "Masked", number=True))
    if any(files["message"]):
        columns.append(Column("message", "Remark", long=True))
    widgets.table(
        page, files, columns, "files", 40, leads=lambda row: widgets.behind("file", row["file"], row["sheet"])
    )


def _dictionary(page: Page) -> None:
    if not (box := widgets.folded("What each published column means", "dictionary", "table")):
        return
    with box:
        everything = page.book.dictionary()
        name = widgets.choose("Table", "table", [ANY, *everything["table"].unique(maintain_order=True).to_list()])
        columns = [
            Column("table", "Table"),
            Column("column", "Column"),
            Column("type", "Type"),
            Column("meaning", "Meaning", long=True),
        ]
        widgets.table(page, widgets.rows_chosen(everything, table=name), columns, "dictionary", shown=25)
