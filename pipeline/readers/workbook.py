"""Workbooks (.xlsx and .ods), as text: dates in ISO 8601, whole numbers without ".0", formulas as values."""

import re
import zipfile
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

import fastexcel
import numpy as np
import polars as pl

from pipeline.errors import UserError
from pipeline.readers.extent import parts, place_of, too_far
from pipeline.readers.limits import DAMAGED, check_archive, check_cells, gave_up
from pipeline.readers.reader_output import TextTable, cell_columns, clock_text, ignored_of, unreadable_table
from pipeline.readers.structure import Merge, tables_of

# what a spreadsheet counts days from, as the library gives it: serial number 0 is the last day of 1899
_ZERO = datetime(1899, 12, 31)
_MOMENT = r"^(?:18|19|20|21)\d\d-\d\d-\d\d[ T]\d\d:\d\d:\d\d"
_CUT = r"^-?(?:\d+\.\d{9}|0)$"
_Kind = Literal["string", "datetime", "float", "duration"]
_ERRORS = {
    "Div0": "#DIV/0!",
    "NA": "#N/A",
    "Name": "#NAME?",
    "Null": "#NULL!",
    "Num": "#NUM!",
    "Ref": "#REF!",
    "Value": "#VALUE!",
    "GettingData": "#GETTING_DATA",
}


def read_workbook(path: Path) -> list[TextTable]:
    """The tables of a workbook, sheet by sheet. A hidden sheet gives one table with all its rows ignored."""
    check_archive(path)
    far = too_far(path)
    if far and path.suffix.lower() == ".ods":  # the library makes room for all sheets of one at once
        raise UserError(next(iter(far.values())), str(path))
    try:
        book = fastexcel.read_excel(path)
    except BaseException as error:
        if not gave_up(error, fastexcel.FastExcelError):
            raise
        mend = "Open it in a spreadsheet and save it again, without a password."
        raise UserError("The workbook can't be opened: it is damaged or locked.", str(path), mend) from None
    merges = _merges(path) if path.suffix.lower() == ".xlsx" else {}
    found: list[TextTable] = []
    for at, name in enumerate(book.sheet_names):
        if times := book.sheet_names[:at].count(name):
            # the library finds a sheet by its name, and gives the last of them
            why = "Several sheets have this name, and one of them alone is read. Give each a name of its own."
            found.append(_left(f"{name} ({times + 1})", path, why))
        else:
            found += [_left(name, path, far[name])] if name in far else _or_left(book, name, path, merges)
    return found


def _left(name: str, path: Path, why: str) -> TextTable:
    return unreadable_table(name, why, path.suffix.lower()[1:])


def _or_left(book: fastexcel.ExcelReader, name: str, path: Path, merges: dict[str, list[Merge]]) -> list[TextTable]:
    """The tables of a sheet; of one that is damaged, or too large, what stands for it beside the others."""
    try:
        return _sheet(book, name, path, merges.get(name, []))
    except UserError as error:
        return [_left(name, path, f"{error.what} {error.mend}")]
    except BaseException as error:
        if not gave_up(error, fastexcel.FastExcelError):
            raise
        return [_left(name, path, "The sheet is damaged. Open it in a spreadsheet and save it again.")]


def _sheet(book: fastexcel.ExcelReader, name: str, path: Path, merges: list[Merge]) -> list[TextTable]:
    sheet, cells = _texts(book, name, path)
    cells = _to_the_last_filled(cells)
    columns = cell_columns(cells.width)
    check_cells(cells, f"{path}, sheet {name}")
    dialect: dict[str, object] = {"kind": path.suffix.lower()[1:]}
    frame = cells.with_columns(pl.int_range(1, cells.height + 1, dtype=pl.Int64).alias("row"))
    if sheet.visible != "visible":
        rows = [(row[-1], "hidden sheet", " | ".join(c for c in row[:-1] if c)) for row in frame.iter_rows()]
        return [TextTable(name, (), frame.select("row").clear(), ignored_of(rows), dialect | {"hidden": True})]
    held = [c for c in columns if frame[c].null_count() < frame.height]
    if not held:
        return tables_of(frame.select("row"), np.zeros(frame.height, dtype=np.int64), dialect, name)
    # blank columns at the edges of a sheet are layout
    first, last = columns.index(held[0]), columns.index(held[-1])
    used = dict(zip(columns[first : last + 1], cell_columns(last + 1 - first), strict=True))
    frame = frame.select([*used, "row"]).rename(used)
    return tables_of(frame, np.full(frame.height, len(used)), dialect, name, merges)


def _to_the_last_filled(cells: pl.DataFrame) -> pl.DataFrame:
    """The rows to the last one that holds something: a sheet can be laid out for a million more."""
    if not cells.width:
        return cells
    filled = cells.select(pl.any_horizontal(pl.all().is_not_null())).to_series().arg_true()
    return cells.head(filled[-1] + 1 if filled.len() else 0)


def _load(book: fastexcel.ExcelReader, name: str, kind: _Kind) -> tuple[fastexcel.ExcelSheet, pl.DataFrame]:
    # without skip_rows=0 blank rows at the top are dropped, and every row number is wrong
    sheet = book.load_sheet(name, header_row=None, dtypes=kind, skip_rows=0)
    frame = sheet.to_polars()
    return sheet, frame.rename(dict(zip(frame.columns, cell_columns(frame.width), strict=True)))


def _texts(book: fastexcel.ExcelReader, name: str, path: Path) -> tuple[fastexcel.ExcelSheet, pl.DataFrame]:
    """A sheet's cells as text. Other types are loaded only where the text of a cell falls short of its value."""
    sheet, texts = _load(book, name, "string")
    texts = texts.cast(pl.String).with_columns(pl.when(pl.all() != "").then(pl.all()))
    columns = texts.columns
    if not columns or not texts.height:
        return sheet, texts
    if _any(texts, _MOMENT):
        moments = _load(book, name, "datetime")[1]
        texts = texts.with_columns(
            pl.when(pl.col(c).str.contains(_MOMENT) & moments[c].is_not_null())
            .then(_moment(moments[c]))
            .otherwise(c)
            .alias(c)
            for c in columns
        )
    if _any(texts, _CUT):
        # text is cut after nine decimals; the shortest text that gives the same number back is not
        numbers = _load(book, name, "float")[1]
        texts = texts.with_columns(
            pl.when(pl.col(c).str.contains(_CUT) & (pl.col(c).cast(pl.Float64, strict=False) != numbers[c]))
            .then(numbers[c].cast(pl.String))
            .otherwise(c)
            .alias(c)
            for c in columns
        )
    if path.suffix.lower() == ".ods":
        spans = _load(book, name, "duration")[1]
        texts = texts.with_columns(
            pl.coalesce(c, clock_text(pl.lit(spans[c].dt.total_seconds()))).alias(c) for c in columns
        )
    return sheet, _with_errors(sheet, texts)


def _any(texts: pl.DataFrame, pattern: str) -> bool:
    return bool(texts.select(pl.any_horizontal(pl.all().str.contains(pattern).any())).item())


def _moment(moments: pl.Series) -> pl.Expr:
    """ISO text: a date alone at midnight; hours:minutes:seconds for a time of day or a length of time."""
    value = pl.lit(moments)
    seconds = (value - pl.lit(_ZERO)).dt.total_seconds()
    early = value < pl.lit(_ZERO + timedelta(days=60))
    midnight = (value.dt.hour() == 0) & (value.dt.minute() == 0) & (value.dt.second() == 0)
    return (
        pl.when(early)
        .then(clock_text(seconds))
        .when(midnight)
        .then(value.dt.strftime("%Y-%m-%d"))
        .otherwise(value.dt.strftime("%Y-%m-%d %H:%M:%S"))
    )


def _with_errors(sheet: fastexcel.ExcelSheet, texts: pl.DataFrame) -> pl.DataFrame:
    """The cells whose formula failed, under the name that a spreadsheet shows."""
    failed = sheet.to_arrow_with_errors()[1]
    if failed is None:
        return texts
    named = [(*e.offset_position, found[1]) for e in failed.errors if (found := re.search(r"Error\((\w+)\)", e.detail))]
    for column in sorted({column for _, column, _ in named}):
        errors = {row: _ERRORS.get(word, "#ERROR!") for row, place, word in named if place == column}
        values = texts.to_series(column).to_list()
        for row, word in errors.items():
            values[row] = word
        texts = texts.with_columns(pl.Series(texts.columns[column], values, dtype=pl.String))
    return texts


def _merges(path: Path) -> dict[str, list[Merge]]:
    """Sheet → its cells merged over several columns, counted from the first column used. From the workbook's own XML
    (ISO/IEC 29500-1, 18.3.1.55), which the library does not give."""
    found: dict[str, list[Merge]] = {}
    with suppress(*DAMAGED), zipfile.ZipFile(path) as archive:
        for name, part in parts(archive).items():
            with suppress(*DAMAGED):
                text = archive.read(part)
                places = re.findall(rb'<mergeCell ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"', text)
                if places:
                    used = set(re.findall(rb'<c r="([A-Z]{1,3})\d+"[^>]*[^/]>', text))
                    first = min(map(place_of, used), default=0)
                    found[name] = [
                        Merge(int(r), place_of(a) - first, place_of(b) - first) for a, r, b, _ in places if a != b
                    ]
    return found
