"""Files dropped in by a page: put into `inbox/`, in the place of an earlier one, and their rows mended."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from pipeline import mapping
from pipeline.cleaning.taught_words import NO_RECORD
from pipeline.errors import UserError
from pipeline.mapping import Mapping as FileMapping
from pipeline.proposing import suggestion
from pipeline.proposing.several_records import split
from pipeline.readers import READERS, TextTable, read
from pipeline.readers.separate_process import apart
from pipeline.refresh import corrections
from pipeline.shop import Shop
from pipeline.tables import PLACE
from pipeline.writing import whole
from pipeline.writing.file_names import everywhere

DROP_BYTES = 100 * 2**20
"""The largest file that a page takes; larger ones are copied into the inbox by hand."""

_AGAIN = re.compile(r"(.*\S) ?\(\d{1,3}\)(\.[^.]+)")


def drop(shop: Shop, name: str, content: bytes) -> str:
    """Put a file into `inbox/`, never over another one; gives its path in the shop folder.

    The same content under the same name is left as it is. Raises `UserError` for a kind that isn't read, a size beyond
    `DROP_BYTES`, an empty file, or a disk that fails.
    """
    safe = _safe(name)
    if Path(safe).suffix.lower() not in READERS:
        raise UserError(
            f"Files of this kind aren't read: {Path(safe).suffix or safe}",
            name,
            f"These are: {', '.join(sorted(READERS))}.",
        )
    if not content:
        raise UserError("The file is empty.", name, "Save it again where it comes from.")
    if len(content) > DROP_BYTES:
        mend = f"Copy it to {shop.path('inbox')} by hand, or split it by year."
        raise UserError(f"The file has more than {DROP_BYTES // 2**20} MB.", name, mend)
    path = _place(whole.make_folder(shop.path("inbox")), safe, content)
    return path.relative_to(shop.folder).as_posix()


def _safe(name: str) -> str:
    """The file's own name without folders, control characters, and what would hide it."""
    plain = unicodedata.normalize("NFC", re.split(r"[\\/]", name)[-1])
    plain = "".join("_" if unicodedata.category(c).startswith("C") else c for c in plain)
    stem, dot, suffix = plain.lstrip(".~$ ").rpartition(".")
    return f"{everywhere(stem.strip()[:100], 'file')}{dot}{suffix}"


def _place(home: Path, name: str, content: bytes) -> Path:
    stem, _, suffix = name.rpartition(".")
    for number in range(1, 1000):
        path = home / (name if number == 1 else f"{stem} ({number}).{suffix}")
        if _holds(path, content) or (not path.exists() and whole.write_new(path, content)):
            return path
    raise UserError("There are too many files of this name.", name, "Give it another name.")


def _holds(path: Path, content: bytes) -> bool:
    with whole.refusals_told(path):
        return path.is_file() and path.read_bytes() == content


def earlier(shop: Shop, file: str) -> str:
    """The file of the inbox that `file` is a later copy of by its name (`sales (2).csv`); "" where there is none."""
    again = _AGAIN.fullmatch(file)
    first = f"{again[1]}{again[2]}" if again else ""
    return first if first and (shop.folder / first).is_file() else ""


def replace_earlier(shop: Shop, file: str) -> str:
    """Put a later copy in the place of the earlier file, whose mapping it then has; gives its path.

    The earlier one is kept beside it under a name that no refresh reads.
    """
    first = earlier(shop, file)
    if not first or not (shop.folder / file).is_file():
        raise UserError("There is no earlier file of this name.", file, "Look at what the inbox holds.")
    path = shop.folder / first
    whole.keep_beside(path, path.with_name(f".{path.name}.before"))
    whole.rename(shop.folder / file, path)
    return first


def _table(shop: Shop, file: str, sheet: str) -> TextTable:
    known = mapping.load(shop.path("mappings"))
    for table in split(read(shop.folder / file, **shop.reading), file.removeprefix("inbox/"), known, shop):
        if table.sheet == sheet:
            return table
    raise UserError("This table is no longer in the file.", f"{file}, {sheet}", "Refresh, then look again.")


# --- rows set aside ---------------------------------------------------------------------------------------------------


def to_mend(shop: Shop, rejected: list[dict[str, Any]]) -> list[dict[str, str | None]]:
    """The rows set aside with their cells as they stand in the files: file, sheet, row, occurrence, record,
    reason, suggestion, mark, then each field of theirs that the file fills or lacks. `UserError` where it can't be
    read any more."""
    found, unreadable = corrections.set_aside(shop, rejected)
    if unreadable:
        raise unreadable[0]
    return found.rows(named=True)


def mend(shop: Shop, rows: Iterable[Mapping[str, str | None]]) -> str:
    """Save mended rows of one record, as `to_mend` gives them; gives the path of the file in `mends/`.

    Raises `UserError`, and saves nothing, where one would be set aside again or its file has changed since.
    """
    import polars as pl

    wanted = [{name: cell or None for name, cell in row.items() if name not in corrections.TOLD} for row in rows]
    if not wanted:
        raise UserError("There is no row to mend.")
    for file in dict.fromkeys(str(row["file"]) for row in wanted):
        of_file = [row for row in wanted if row["file"] == file]
        apart(shop.folder, shop.folder / file, file, check_mended, shop, file, of_file)
    columns = list(dict.fromkeys(name for row in wanted for name in row))
    frame = pl.DataFrame([{c: row.get(c) for c in columns} for row in wanted], schema=dict.fromkeys(columns, pl.String))
    path = corrections.save(shop, new_name(shop), corrections.csv_text(frame))
    return path.relative_to(shop.folder).as_posix()


def no_record(shop: Shop, row: Mapping[str, str | None], name: str = "") -> str:
    """Tell a row, as `to_mend` gives it, to be no record, such as a total; gives the path of the file in `mends/`.

    It stays in its file and in `mends/`: a later mend of it takes it in again. Raises `UserError` where it has changed.
    """
    file = str(row["file"])
    apart(shop.folder, shop.folder / file, file, check_there, shop, file, row)
    import polars as pl

    told = {name: row.get(name) for name in (*PLACE, corrections.MARK)} | {"record": NO_RECORD}
    frame = pl.DataFrame([told], schema=dict.fromkeys(told, pl.String))
    path = corrections.save(shop, name or new_name(shop), corrections.csv_text(frame))
    return path.relative_to(shop.folder).as_posix()


_NAMED = "page-%Y%m%d-%H%M%S-%f.csv"


def new_name(shop: Shop) -> str:
    """Of two mends for a row that of the later file counts, by the order of names: so this comes after all that are
    there, also where the clock was put back since, as it is each autumn."""
    times = [datetime.now()]
    for path in shop.path(corrections.FOLDER).glob("page-*.csv"):
        with suppress(ValueError, OverflowError):  # one that a person named
            times.append(datetime.strptime(path.name, _NAMED) + timedelta(microseconds=1))
    return f"{max(times):{_NAMED}}"


def check_there(shop: Shop, file: str, row: Mapping[str, str | None]) -> None:
    """Raises `UserError` for a row that is another by now, or in a file of which nothing is settled."""
    _mended(shop, file, row)


def check_mended(shop: Shop, file: str, rows: Iterable[Mapping[str, str | None]]) -> None:
    """Raises `UserError` for a mended row of the file that would be set aside again, or that is another by now."""
    for row in rows:
        _check(shop, file, row)


def _mended(shop: Shop, file: str, row: Mapping[str, str | None]) -> tuple[TextTable, FileMapping]:
    """The row's table with the row as it is mended, and its mapping."""
    sheet, number = row["sheet"] or "", int(row["row"] or 0)
    which = int(row.get("occurrence") or 0)
    where = ", ".join(filter(None, (file, sheet, f"row {number}")))
    table = _table(shop, file, sheet)
    how = suggestion.choose(mapping.load(shop.path("mappings")), file.removeprefix("inbox/"), table, shop)
    if not how or not how.record:
        raise UserError("It is no longer settled what this file holds.", where, "Settle its mapping first.")
    cells = {name: cell for name, cell in row.items() if name not in (*PLACE, corrections.MARK)}
    mark = corrections.known_mark(row.get(corrections.MARK) or "", where)
    one = corrections.Mend((file, sheet, number, which), (file, sheet, number, which), mark, cells)
    waiting = corrections.Mends(waiting={(file, sheet): {(number, which): one}})
    mended, mapped = corrections.apply(waiting, file, table, how)
    if waiting.unused:
        raise UserError("This row has changed in its file since.", where, "Refresh, then mend what it says now.")
    return mended, mapped


def _check(shop: Shop, file: str, row: Mapping[str, str | None]) -> None:
    from pipeline.cleaning import clean

    mended, mapped = _mended(shop, file, row)
    number, which = int(row["row"] or 0), int(row.get("occurrence") or 0)
    where = ", ".join(filter(None, (file, row["sheet"], f"row {number}")))
    faults = clean(mended, mapped, shop, file).rejected.filter(row=number, occurrence=which).rows(named=True)
    if faults:
        fault = faults[0]
        said = f" “{fault['text']}”" if fault["text"] else ""
        raise UserError(f"{fault['field'].replace('_', ' ')}{said}: {fault['reason']}", where, fault["suggestion"])
