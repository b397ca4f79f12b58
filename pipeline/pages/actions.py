"""What a page of the dashboard may do or ask beside reading the published database."""

import tomllib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.enough import FEW as FEW
from pipeline.enough import FEW_MONTHS as FEW_MONTHS
from pipeline.enough import firm as firm
from pipeline.errors import UserError as UserError  # what a page catches
from pipeline.records import RECORDS
from pipeline.reference import minor_digits as minor_digits
from pipeline.reports.words import PRACTICES as PRACTICES
from pipeline.reports.words import layer as layer
from pipeline.settings import SETTINGS
from pipeline.shop import load
from pipeline.writing.internal_errors import place_of as place_of  # what a page says of a fault

if TYPE_CHECKING:
    import duckdb
    import polars as pl

SETTING_TABLES = tuple(table.name for table in SETTINGS.values())
"""The tables of settings in a published database."""


def open_published(path: Path) -> "duckdb.DuckDBPyConnection":
    """A published database, opened as everything opens it: it can be read, and nothing else."""
    from pipeline.database import open_published as opened

    return opened(path)


def one_select(con: "duckdb.DuckDBPyConnection", query: str) -> "duckdb.Statement":
    """The one SELECT that a query is. Raises `ValueError` for another statement, or several."""
    from pipeline.database import one_select as the_one

    return the_one(con, query)


def quote(folder: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    """The price of a described piece: `asked` has the fields of `quoting.request.Request`, others are passed over.

    Raises `UserError` for what can't be read, or too little history. Money is in minor units.
    """
    from pipeline.quoting.quote import quote
    from pipeline.quoting.request import Request

    fields = {name: asked[name] for name in Request.__dataclass_fields__ if name in asked}
    return quote(_quote_context(folder), Request(**fields))


def spreadsheet_safe(text: "pl.Expr") -> "pl.Expr":
    """String columns without a cell that a spreadsheet would run as a formula."""
    from pipeline.writing.formula_guard import neutral

    return neutral(text)


def main_cause(parts: Sequence[Mapping[str, Any]]) -> str:
    """What made most of the difference between two months' results, in words; empty where there is none."""
    from pipeline.reports import month_comparison

    return month_comparison.main_cause(parts)


def difference_sentences(
    parts: Sequence[Mapping[str, Any]], now: Mapping[str, Any], past: Mapping[str, Any], currency: str
) -> list[str]:
    """The difference between two months' results in sentences, as the month report says it."""
    from pipeline.reports import month_comparison

    return list(month_comparison.sentences(parts, now, past, currency, minor_digits(currency)))


@cache
def meanings(part: str) -> dict[str, str]:
    """What names mean that are no published column: of a part of the glossary, as `quoted`."""
    return dict(tomllib.loads((files("sql") / "columns.toml").read_text(encoding="utf-8"))[part])


def quote_choices(folder: Path) -> dict[str, list[str]]:
    """The words that a form for a quote can offer: product, species, finish, channel, resin."""
    from pipeline.quoting.quote import choices

    return choices(_quote_context(folder))


def save_quote(folder: Path, found: dict[str, Any], channel: str = "", tag: str = "") -> dict[str, str]:
    """Save an answer of `quote` in the shop's `quotes/`, with the client's page beside it: its tag and its file."""
    from pipeline.quoting import quote, saved_quotes

    kept = quote.saved(found, channel)
    page = quote_sheet(found, channel, saved_quotes.TAG_OF_SHEET)
    file = saved_quotes.save(folder, kept, tag, page)
    return {"quote": file.stem, "file": str(file)}


def quote_sheet(found: dict[str, Any], channel: str = "", tag: str = "") -> str:
    """The client's page of an answer of `quote`: HTML on one printed page, price and terms, no costs."""
    from pipeline.reports.quote_sheet import sheet

    return sheet(found, channel, tag or found.get("quote", ""))


def _quote_context(folder: Path) -> Any:
    """What quotes need of the newest published database, kept while that is the newest: a page asks many times."""
    from pipeline.database import newest

    today, path = load(folder).now().date(), newest(folder)
    stamp = path.stat().st_mtime_ns if path else 0
    return _kept_context(folder, path, stamp, (folder / "shop.toml").stat().st_mtime_ns, today)


@lru_cache(maxsize=2)
def _kept_context(folder: Path, _path: Path | None, _stamp: int, _settings: int, today: date) -> Any:
    from pipeline.quoting.context import open_context

    return open_context(folder, today)


# --- the day's log ----------------------------------------------------------------------------------------------------


def log_state(folder: Path) -> Any:
    """What runs and what was logged last: `pipeline.pages.daylog.State`, with `timers` and `entries`."""
    from pipeline.pages import daylog

    return daylog.state(load(folder))


def log_now(folder: Path) -> datetime:
    """This moment where the shop is."""

    return load(folder).now()


def log_entry(folder: Path, record: str, cells: Mapping[str, str]) -> Any:
    """Log a record (field → text) and begin a refresh. `UserError`, and nothing written, for what can't be read."""
    from pipeline.pages import daylog

    entry = daylog.add(load(folder), record, cells)
    start_refresh(folder)
    return entry


def undo_entry(folder: Path) -> Any:
    """Take the last entry back and begin a refresh."""
    from pipeline.pages import daylog

    entry = daylog.undo(load(folder))
    start_refresh(folder)
    return entry


def start_timer(folder: Path, cells: Mapping[str, str]) -> Any:
    """Let a timer run for an operation and its pieces."""
    from pipeline.pages import daylog

    return daylog.start(load(folder), cells)


def stop_timer(folder: Path, timer: str, cells: Mapping[str, str]) -> Any:
    """End a timer: its hours are logged, and a refresh begins."""
    from pipeline.pages import daylog

    entry = daylog.stop(load(folder), timer, cells)
    start_refresh(folder)
    return entry


def drop_timer(folder: Path, timer: str) -> None:
    """Throw a timer away."""
    from pipeline.pages import daylog

    daylog.drop(load(folder), timer)


def likely_meant(folder: Path, record: str, name: str, text: str, known: Sequence[str]) -> list[str]:
    """What is on record and may be meant by a text that is not: tags spelled otherwise, the word most like it."""
    from pipeline.cleaning import synonyms, tags

    field = RECORDS[record].field(name)
    if field.kind in ("tag", "tags"):
        tag = tags.tidy_tag(text)
        return [] if tag in known else tags.alike(tag, known)
    if field.kind != "word" or field.vocabulary == "item":  # names of items are compared in every refresh
        return []
    near = synonyms.near(field.vocabulary, text, load(folder))
    return [near] if near else []


def sizes_without_unit(folder: Path, record: str, cells: Mapping[str, str]) -> list[str]:
    """The fields among `cells` that are sizes of which only a unit is missing, as a refresh would read them; none where
    the shop says in which unit bare sizes are."""
    from pipeline.cleaning.parsed import UnreadableError
    from pipeline.cleaning.quantities import Reader
    from pipeline.cleaning.units import Units

    shop = load(folder)
    reader = Reader(Units(shop.words.get("unit")), decimal=".", bases=("um",))

    def lacks_unit(text: str) -> bool:
        try:
            reader.read(text)
        except UnreadableError as error:
            return error.code == "unit-missing"
        return False

    sizes = [field.name for field in RECORDS[record] if field.kind == "length" and not shop["sizes_in"]]
    return [name for name in sizes if lacks_unit(cells.get(name, "").strip())]


def seconds_of(record: str, name: str, text: str) -> int | None:
    """How long a text of a record's field is, as a refresh reads it; None where it can't be read."""
    from pipeline.cleaning import durations

    return durations.seconds_of(text, RECORDS[record].field(name))


def field_words(folder: Path, record: str) -> dict[str, list[str]]:
    """The known words of each field of a record that has any: choices, the shop's names, the usual vocabulary."""
    from pipeline.new_shop.workbook import choices

    shop = load(folder)
    found = {field.name: choices(field, shop)[0] for field in RECORDS[record]}
    return {name: words for name, words in found.items() if words}


# --- files ------------------------------------------------------------------------------------------------------------


def papers(folder: Path, rows: list[tuple[str | None, str | None, str | None]]) -> list[str]:
    """The papers (PDF files, pictures) of rows, each given as its receipt, supplier and file; as paths in the shop."""
    from pipeline.pages import papers

    return papers.papers(load(folder), rows)


def paper(folder: Path, name: str) -> bytes:
    """What a paper of the inbox holds."""
    from pipeline.pages import papers

    return papers.paper(load(folder), name)


def start_refresh(folder: Path) -> None:
    """Refresh in the background, once more where one is under way already."""
    from pipeline.refresh import background

    background.start(folder)


def refresh_progress(folder: Path) -> Any:
    """How far the refresh is, or how the last one ended: `pipeline.refresh.background.Progress`."""
    from pipeline.refresh import background

    return background.progress(folder)


def drop_file(folder: Path, name: str, content: bytes) -> str:
    """Put a file into the inbox, never over another one; gives its path in the shop folder."""
    from pipeline.pages import inbox

    return inbox.drop(load(folder), name, content)


def earlier_file(folder: Path, file: str) -> str:
    """The file of the inbox that this one is a later copy of by its name; "" where there is none."""
    from pipeline.pages import inbox

    return inbox.earlier(load(folder), file)


def replace_earlier(folder: Path, file: str) -> str:
    """Put a later copy in the place of the earlier file, and begin a refresh; gives its path."""
    from pipeline.pages import inbox

    path = inbox.replace_earlier(load(folder), file)
    start_refresh(folder)
    return path


def file_limits() -> tuple[list[str], int]:
    """The suffixes that are read (without their point), and how many bytes a page takes at most."""
    from pipeline.pages.inbox import DROP_BYTES
    from pipeline.readers import READERS

    return sorted(suffix.lstrip(".") for suffix in READERS), DROP_BYTES


def inbox_files(folder: Path) -> list[str]:
    """The files in the inbox, as paths in the shop folder, the newest first."""
    from pipeline.shop.contents import contents

    found = contents(folder / "inbox").files
    times = [path.stat().st_mtime if path.is_file() else 0.0 for path in found]  # it may be gone since it was listed
    newest_first = sorted(zip(times, found, strict=True), key=lambda timed: (-timed[0], timed[1].name))
    return [path.relative_to(folder).as_posix() for _, path in newest_first]


def propose(folder: Path, file: str, record: str = "") -> list[Any]:
    """What each table of a file may be: `pipeline.proposing.proposal.Proposal`; with `record`, as that record."""
    from pipeline.proposing import proposal
    from pipeline.readers.separate_process import apart

    return apart(folder, folder / file, file, proposal.propose, load(folder), folder / file, record)


def try_mapping(folder: Path, file: str, sheet: str, record: str, **settled: Any) -> Any:
    """The same for one table by a mapping that is being settled (columns, constants, date_order, decimal)."""
    from pipeline.proposing import proposal
    from pipeline.readers.separate_process import apart

    answers = proposal.Answers(record, **settled)
    return apart(folder, folder / file, file, proposal.settled, load(folder), folder / file, sheet, answers)


def save_mapping(folder: Path, tried: Any) -> str:
    """Save the mapping of a table as it was tried; gives its path in the shop folder."""
    from pipeline.proposing import proposal

    return proposal.save(load(folder), tried).relative_to(folder).as_posix()


def what_hangs(row: Mapping[str, Any], money: str, where: str) -> str:
    """What hangs on a row of `intake.question`, in words: its rows, `money` as it is shown, and what waits for it."""
    from pipeline.reports import questions

    return questions.hangs(row, money, where)


def answer_question(folder: Path, question: str, choice: int | str) -> list[str]:
    """Answer a question of the last refresh by a choice, or in words where it wants them, and begin the next.

    Gives the files that say so, as paths in the shop.
    """
    from pipeline.asking.answer import answer

    told = answer(folder, question, choice)
    start_refresh(folder)
    return [path.relative_to(folder).as_posix() for path in told.paths]


def set_goal(folder: Path, year: int, told: Mapping[str, str]) -> str:
    """Say what is wanted of a year (a text for `result`, `pay`, `pieces`; none takes it away), and begin a refresh."""
    from pipeline.asking.goal import set_goal

    path = set_goal(folder, year, told)
    start_refresh(folder)
    return path.name


def rows_to_mend(folder: Path, rejected: list[dict[str, Any]]) -> list[dict[str, str | None]]:
    """Rows set aside with their cells as they stand in the files."""
    from pipeline.pages import inbox

    return inbox.to_mend(load(folder), rejected)


def mend_rows(folder: Path, rows: list[dict[str, str | None]]) -> str:
    """Save mended rows, each checked first, and begin a refresh; gives the file in `mends/`."""
    from pipeline.pages import inbox

    path = inbox.mend(load(folder), rows)
    start_refresh(folder)
    return path


def log_days(folder: Path) -> list[str]:
    """The days on which something was logged, the newest first."""
    from pipeline.pages import entries

    return entries.days(load(folder))


def log_of_day(folder: Path, day: str) -> list[Any]:
    """The entries logged on a day as they now stand: `pipeline.pages.entries.Written`."""
    from pipeline.pages import entries

    return entries.of_day(load(folder), day)


def no_record(folder: Path, row: Mapping[str, str | None]) -> str:
    """Tell a row to be no record, and begin a refresh; gives the file in `mends/`."""
    from pipeline.pages import inbox

    path = inbox.no_record(load(folder), row)
    start_refresh(folder)
    return path


def shop_settings(folder: Path) -> dict[str, list[dict[str, Any]]]:
    """What `shop.toml` says, by table of settings, as stored values. Raises `UserError` where it can't be read."""
    return load(folder).tables
