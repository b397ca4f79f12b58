"""Rows set aside, written out to be mended, and the mended rows put in their place.

A mend is a row of a table in the shop's `mends/` that names the row it stands for (`file`, `sheet`, `row`, and
`occurrence` where several rows stand on one line) and holds
the record's cells under the names of its fields. On a refresh its cells take the place of that row's cells before
cleaning, so that the file's own evidence (date order, decimal mark, units) holds for them too; the inbox file stays as
it is. The column `mark` is a fingerprint of the row as it was when it was written out: a mend whose row has changed
since, or is gone, is not used but listed. A mend whose `record` is `no record` takes its row out: that is a total, or
an entry of the log that is taken back.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import mapping
from pipeline.cleaning.taught_words import NO_RECORD
from pipeline.errors import UserError
from pipeline.linking.row_ids import content_of, ids_of
from pipeline.mapping import Mapping, column_of, underscored
from pipeline.mapping.private_columns import torn
from pipeline.proposing import several_records, suggestion
from pipeline.readers import READERS, TextTable, read
from pipeline.readers.reader_output import occurrences
from pipeline.readers.separate_process import apart
from pipeline.records import RECORDS
from pipeline.shop import Shop, format_versions
from pipeline.shop.contents import contents
from pipeline.tables import PLACE, in_polars, place_columns
from pipeline.writing import whole
from pipeline.writing.formula_guard import neutral, restored
from pipeline.writing.internal_errors import ends_us

FOLDER = "mends"

TOLD = ("record", "reason", "suggestion")
MARK = "mark"

GONE, CHANGED, AGAIN = "mend: its row is gone", "mend: its row has changed since", "mend: mended again later"
NO_PLACE = "mend: it names no row"
TAKEN_OUT, TAKES_OUT = "told to be no record", "tells a row to be no record"
"""Why a mend is not used, or what it does beside its cells, as it is listed in `intake.ignored`."""

Place = tuple[str, str, int, int]
Where = tuple[int, int]
"""Row and occurrence within a table."""


@dataclass(frozen=True)
class Mend:
    """One mended row: where it stands, the row that it stands for, its mark ("" = none), field → cell."""

    place: Place
    target: Place
    mark: str
    cells: dict[str, str | None]

    @property
    def takes_out(self) -> bool:
        """Whether its row is told to be no record."""
        return (self.cells.get("record") or "").strip().casefold() == NO_RECORD


@dataclass
class Mends:
    """The mends of a shop by the table they are for, and what became of them.

    `placed`: target → the mend's place, for each that was used. `unused`: (place, reason) of each that was not.
    """

    tables: list[tuple[str, TextTable]] = field(default_factory=list)
    waiting: dict[tuple[str, str], dict[Where, Mend]] = field(default_factory=dict)
    placed: dict[Place, Place] = field(default_factory=dict)
    unused: list[tuple[Place, str]] = field(default_factory=list)

    def add(self, part: "Mends") -> None:
        """Take in what became of one file's mends."""
        self.waiting |= part.waiting
        self.placed |= part.placed
        self.unused += part.unused


def is_mends(file: str, table: TextTable) -> bool:
    """Whether a table of this file holds mends, and not records of its own."""
    return file.startswith(f"{FOLDER}/") and {"file", "row"} <= {underscored(name) for name in table.names}


def load(shop: Shop, found: Iterable[list[tuple[str, TextTable]]] | None = None) -> Mends:
    """The mends in the shop's `mends/`; of two for one row the later file's, or the later row, is used.

    `found`: the tables of each of `files`, as `tables` gives them.
    """
    mends = Mends()
    for file, table in chain.from_iterable(found if found is not None else (tables(shop, p) for p in files(shop))):
        if is_mends(file, table):
            mends.tables.append((file, table))
            for mend in _rows(file, table):
                _add(mends, mend)
    return mends


def files(shop: Shop) -> list[Path]:
    """The files that may hold mends, in order of their path."""
    found = []
    for path in contents(shop.path(FOLDER)).files:
        if path.resolve().is_relative_to(shop.folder.resolve()) and path.suffix.lower() in READERS:
            found.append(path)
    return found


def tables(shop: Shop, path: Path) -> list[tuple[str, TextTable]]:
    """The tables of one file with its name; none where it can't be read: a refresh lists that."""
    name = path.relative_to(shop.folder).as_posix()
    try:
        return [(name, table) for table in read(path, **shop.reading)]
    except BaseException as error:
        if ends_us(error):
            raise
        return []


def _rows(file: str, table: TextTable) -> Iterator[Mend]:
    names = [underscored(name) for name in table.names]
    cells = table.frame.select(restored(c) for c in table.columns)
    for row, again, texts in zip(table.frame["row"], occurrences(table.frame["row"]), cells.iter_rows(), strict=True):
        named = dict(zip(names, texts, strict=False))
        number, which = (_whole(named.pop(name, None)) for name in ("row", "occurrence"))
        target = ((named.pop("file", None) or "").strip(), (named.pop("sheet", None) or "").strip())
        mark = known_mark((named.pop(MARK, None) or "").strip(), file)
        yield Mend((file, table.sheet, row, again), (*target, number, which), mark, named)


def known_mark(text: str, file: str) -> str:
    """The fingerprint in a mark, which begins with the form that the mend is in: `1.0a1b…`; without one it is 1."""
    form, dot, fingerprint = text.rpartition(".")
    if dot and form.isdecimal():
        format_versions.refuse_newer("mend", int(form), file)
    return fingerprint


def _whole(text: str | None) -> int:
    """The number in a cell, 0 where there is none."""
    bare = (text or "").strip().removesuffix(".0")
    return int(bare) if re.fullmatch(r"[0-9]{1,12}", bare) else 0


def _add(mends: Mends, mend: Mend) -> None:
    file, sheet, row, which = mend.target
    if not file or not row:
        mends.unused.append((mend.place, NO_PLACE))
        return
    there = mends.waiting.setdefault((file, sheet), {})
    if (row, which) in there:
        mends.unused.append((there[row, which].place, AGAIN))
    there[row, which] = mend


def take_waiting(mends: Mends, file: str) -> dict[tuple[str, str], dict[Where, Mend]]:
    """What waits for the tables of one file. It waits no longer in `mends`."""
    return {place: mends.waiting.pop(place) for place in list(mends.waiting) if place[0] == file}


def apply(mends: Mends, file: str, table: TextTable, how: Mapping) -> tuple[TextTable, Mapping]:
    """The table with its mended rows, and the mapping, which then takes in fields that only a mend has."""
    waiting = mends.waiting.pop((file, table.sheet), {})
    if not waiting:
        return table, how
    positions = {where: at for at, where in enumerate(places(table)) if where in waiting}
    used: dict[int, Mend] = {}
    for where, mend in waiting.items():
        if where not in positions:
            mends.unused.append((mend.place, GONE))
        elif mend.mark and mend.mark != mark(table.frame.row(positions[where])):
            mends.unused.append((mend.place, CHANGED))
        else:
            used[positions[where]] = mend
    gone = [at for at, mend in used.items() if mend.takes_out]
    for mend in (used.pop(at) for at in gone):
        mends.unused += [(mend.target, TAKEN_OUT), (mend.place, TAKES_OUT)]
    mends.placed |= {mend.target: mend.place for mend in used.values()}
    table = _whole_again(table, sorted(used))
    for name in (f.name for f in RECORDS[how.record]):
        mended = {at: mend.cells[name] for at, mend in used.items() if name in mend.cells}
        if mended:
            table, how = _with_cells(table, how, name, mended)
    if gone:
        left_in = pl.Series(range(table.frame.height)).is_in(gone).not_()
        table = replace(table, frame=table.frame.filter(left_in))
    return table, how


def _whole_again(table: TextTable, mended: list[int]) -> TextTable:
    """Of mended rows that had too many cells nothing of what was moved stays: the mend says what stands there."""
    moved, behind = torn(table)
    at = pl.Series(range(table.frame.height)).is_in(mended) & moved
    if not at.any():
        return table
    return replace(table, frame=table.frame.with_columns(pl.when(~at).then(pl.col(column)) for column in behind))


def places(table: TextTable) -> Iterator[Where]:
    return zip(table.frame["row"], occurrences(table.frame["row"]), strict=True)


def _with_cells(table: TextTable, how: Mapping, name: str, mended: dict[int, str | None]) -> tuple[TextTable, Mapping]:
    """`mended`: position of the row → its new cell of the field."""
    column = column_of(table, how.columns.get(name, ""))
    if column is None:
        if not any(mended.values()):
            return table, how
        column = f"c{len(table.columns)}"
        header = f"mended {name}" if table.names else column
        how = replace(how, columns=how.columns | {name: header})
        names = (*table.names, *[""] * (len(table.columns) - len(table.names)), header) if table.names else ()
        frame = table.frame.with_columns(pl.lit(None, pl.String).alias(column))
        table = replace(table, names=names, frame=frame)
    cells = table.frame[column].scatter(list(mended), [text or None for text in mended.values()])
    return replace(table, frame=table.frame.with_columns(cells)), how


def left(mends: Mends) -> None:
    """Once all files are read: the mends whose file, sheet or record is no more."""
    for waiting in mends.waiting.values():
        mends.unused += [(mend.place, GONE) for mend in waiting.values()]
    mends.waiting.clear()


def mark(row: Iterable[object]) -> str:
    """The fingerprint of a row's cells."""
    joined = "\x1f".join("" if cell is None else str(cell) for cell in row)
    return hashlib.sha256(joined.encode()).hexdigest()[:12]


def at_their_place(frame: pl.DataFrame, mends: Mends) -> pl.DataFrame:
    """A frame with `file`, `sheet`, `row`, `occurrence`, in which mended rows stand at the place of their mend."""
    if not mends.placed:
        return frame
    moves = _moves(mends)
    moved = frame.join(moves, on=PLACE, how="left", maintain_order="left")
    return moved.with_columns(pl.coalesce(f"mend_{c}", c).alias(c) for c in PLACE).select(frame.columns)


def superseded(rows: pl.DataFrame, mends: Mends) -> pl.DataFrame:
    """`intake.row` with the mended rows at the place of their mend, and the rows that they stand for as superseded."""
    if not mends.placed:
        return rows
    placed = at_their_place(rows, mends)
    by = [f"mend_{c}" for c in PLACE]
    typed = placed.filter(~pl.col("record").str.starts_with("settings."))
    old = _moves(mends).join(
        typed.select(*PLACE, "record", pl.col("row_id").alias("twin_of")), left_on=by, right_on=PLACE, how="left"
    )
    # such a row says nothing that can be read: it is told from others by where it stands
    content = content_of(old.select("record", *PLACE), "superseded")
    ids = ids_of(pl.DataFrame([content, pl.Series("note", [None] * old.height, dtype=pl.String)]), rows["row_id"])
    old = old.with_columns(ids, pl.lit("superseded").alias("state"))
    return pl.concat([placed, old.select(rows.columns)])


def _moves(mends: Mends) -> pl.DataFrame:
    schema = in_polars(place_columns())
    pairs = [(*target, *place) for target, place in mends.placed.items()]
    return pl.DataFrame(pairs, schema=schema | {f"mend_{c}": t for c, t in schema.items()}, orient="row")


# --- writing out what was set aside -----------------------------------------------------------------------------------


def set_aside(shop: Shop, rejected: list[dict[str, Any]]) -> tuple[pl.DataFrame, list[UserError]]:
    """The rows of `rejected` (rows of `intake.rejected`) with their cells as they stand in the files, all as text; and
    which of these files can't be read any more.

    Columns: file, sheet, row, occurrence, record, reason, suggestion, mark, then the fields that the files fill or
    lack. A mend that was set aside itself comes with the row that it stands for, to be mended again.
    """
    mends, known = load(shop, _apart(shop)), mapping.load(shop.path("mappings"))
    latest = {mend.place: mend for there in mends.waiting.values() for mend in there.values()}
    first = {tuple(row[c] for c in PLACE): row for row in reversed(rejected)}
    wanted: dict[str, list[tuple[dict[str, Any], Mend | None]]] = {}
    for row in reversed(first.values()):
        mend = latest.get((row["file"], row["sheet"], row["row"], row["occurrence"]))
        wanted.setdefault(mend.target[0] if mend else row["file"], []).append((row, mend))
    found: list[dict[str, str | None]] = []
    unreadable: list[UserError] = []
    for file, rows in wanted.items():
        try:
            found += apart(shop.folder, shop.folder / file, file, as_they_stand, shop, known, file, rows)
        except UserError as error:
            unreadable.append(error)
    fields = dict.fromkeys(
        f.name
        for name in sorted({str(e["record"]) for e in found})
        for f in RECORDS[name]
        if any(f.name in e for e in found)
    )
    columns = [*PLACE, *TOLD, MARK, *fields]
    texts = [{c: e.get(c) for c in columns} for e in found]
    return pl.DataFrame(texts, schema=dict.fromkeys(columns, pl.String)), unreadable


def _apart(shop: Shop) -> Iterator[list[tuple[str, TextTable]]]:
    for path in files(shop):
        try:
            yield apart(shop.folder, path, path.relative_to(shop.folder).as_posix(), tables, shop, path)
        except UserError:  # a refresh lists it
            yield []


def as_they_stand(
    shop: Shop, known: list[Mapping], file: str, rows: list[tuple[dict[str, Any], Mend | None]]
) -> list[dict[str, str | None]]:
    """Rows of one file, each with the mend that stands for it so far, with their cells as the file has them."""
    return list(_as_they_stand(shop, known, file, rows))


def _as_they_stand(
    shop: Shop, known: list[Mapping], file: str, rows: list[tuple[dict[str, Any], Mend | None]]
) -> Iterator[dict[str, str | None]]:
    below = file.removeprefix("inbox/")
    tables = read(shop.folder / file, **shop.reading)
    tables = tables if below == file else several_records.split(tables, below, known, shop)
    for sheet, table in {table.sheet: table for table in tables}.items():
        how = suggestion.choose(known, below, table, shop)
        positions = {where: at for at, where in enumerate(places(table))}
        moved, behind = torn(table)
        for told, mend in rows:
            target = mend.target if mend else (file, told["sheet"], told["row"], told["occurrence"])
            if target[1] != sheet or target[2:] not in positions or not how or how.record != told["record"]:
                continue
            cells = table.frame.row(positions[target[2:]])
            hidden = behind if moved[positions[target[2:]]] else []
            yield {
                str(told["field"]): None,  # where the file has no such column, the mend can
                **_cells(table, how, cells, hidden),
                **({name: mend.cells[name] for name in _fields(how) if name in mend.cells} if mend else {}),
                **{name: None if told[name] is None else str(told[name]) for name in TOLD},
                "file": file,
                "sheet": sheet,
                "row": str(target[2]),
                "occurrence": str(target[3]),
                MARK: f"{format_versions.NEWEST['mend']}.{mark(cells)}",
            }


def _cells(table: TextTable, how: Mapping, cells: tuple[object, ...], hidden: list[str]) -> dict[str, str | None]:
    """The cells of the fields; None for those of `hidden` columns, in which a buyer's name may stand."""
    found = {}
    for name, header in how.columns.items():
        column = column_of(table, header)
        if column:
            cell = cells[table.frame.columns.index(column)]
            found[name] = None if cell is None or column in hidden else str(cell)
    return found


def _fields(how: Mapping) -> list[str]:
    return [f.name for f in RECORDS[how.record]]


def csv_text(frame: pl.DataFrame) -> str:
    """What `set_aside` gives, as CSV: UTF-8, cells that a spreadsheet would run as a formula made harmless."""
    return frame.select(neutral(pl.all())).write_csv()


def save(shop: Shop, name: str, text: str) -> Path:
    """Put a mended CSV into `mends/` in one step, so that a refresh sees it whole. `UserError` for a bad name."""
    if Path(name).name != name or not name.endswith(".csv") or name.startswith("."):
        raise UserError("A file of mends needs a plain name that ends in .csv.", name, "Name it rows-mended.csv.")
    folder = shop.path(FOLDER)
    return whole.write(whole.make_folder(folder) / name, text)
