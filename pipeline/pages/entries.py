"""The entries of the log of any day, opened, changed and taken back: each change is a mend, the log stays as it is."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.database import newest
from pipeline.mapping import underscored
from pipeline.pages import inbox
from pipeline.pages.daylog import FOLDER
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.refresh import background, corrections
from pipeline.shop import Shop, format_versions

_NAME = re.compile(r"(\d{4}-\d\d-\d\d)-([a-z]+)(?:-\d+)?\.csv")


@dataclass(frozen=True)
class Written:
    """An entry as it now stands: what tells its row (as `inbox.mend` takes it), its record, field → text, and whether
    it was changed or taken back since it was written."""

    row: dict[str, str]
    record: str
    cells: dict[str, str]
    changed: bool = False
    taken_back: bool = False


def days(shop: Shop) -> list[str]:
    """The days on which something was logged, the newest first."""
    return sorted({match[1] for match, _ in _files(shop)}, reverse=True)


def of_day(shop: Shop, day: str) -> list[Written]:
    """The entries that were logged on a day, record by record, in the order in which they were written."""
    mends = corrections.load(shop)
    found: list[Written] = []
    for match, path in _files(shop):
        if match[1] == day:
            for name, table in corrections.tables(shop, path):
                found += _of_table(mends, name, table, match[2])
    return found


def last_that_stands(shop: Shop, path: Path) -> tuple[int, Written | None]:
    """The place among the rows of a file of the log, from 0, of the last entry that was not taken back, and it."""
    match = _NAME.fullmatch(path.name)
    if not match or match[2] not in RECORDS:
        return -1, None
    mends = corrections.load(shop)
    tables = corrections.tables(shop, path)
    written = [each for name, table in tables for each in _of_table(mends, name, table, match[2])]
    return next(((at, each) for at, each in reversed(list(enumerate(written))) if not each.taken_back), (-1, None))


def may_be_read(shop: Shop, path: Path) -> bool:
    """Whether a refresh may have read a file as it now stands: one runs, or has published since."""
    published = newest(shop.folder)
    since = published is not None and published.stat().st_mtime >= path.stat().st_mtime
    return since or background.progress(shop.folder).running


def new_name(shop: Shop) -> str:
    """The name of the next file of mends."""
    return inbox.new_name(shop)


def take_out(shop: Shop, entry: Written, name: str) -> None:
    """Supersede an entry by a mend of this name that takes it out; its row stays."""
    inbox.no_record(shop, entry.row, name)


def _files(shop: Shop) -> Iterator[tuple[re.Match[str], Path]]:
    for path in sorted(shop.path(FOLDER).glob("*.csv")):
        match = _NAME.fullmatch(path.name)
        if match and match[2] in RECORDS:
            yield match, path


def _of_table(mends: corrections.Mends, file: str, table: TextTable, record: str) -> Iterator[Written]:
    names = [underscored(name) for name in table.names]
    waiting = mends.waiting.get((file, table.sheet), {})
    rows = zip(
        corrections.places(table), table.frame.iter_rows(), table.frame.select(table.columns).iter_rows(), strict=True
    )
    for (row, which), whole, texts in rows:
        cells = {name: text for name, text in zip(names, texts, strict=False) if text and name in _fields(record)}
        mark = corrections.mark(whole)
        mend = waiting.get((row, which))
        if mend and mend.mark not in ("", mark):
            mend = None
        if mend and not mend.takes_out:
            told = {name: text for name, text in mend.cells.items() if name in _fields(record)}
            cells = {name: text for name, text in (cells | told).items() if text}
        place = {"file": file, "sheet": table.sheet, "row": str(row), "occurrence": str(which)}
        marked = {corrections.MARK: f"{format_versions.NEWEST['mend']}.{mark}"}
        back = bool(mend and mend.takes_out)
        yield Written(place | marked, record, cells, bool(mend) and not back, back)


def _fields(record: str) -> set[str]:
    return {field.name for field in RECORDS[record]}
