"""Workbooks (.xlsx and .ods), every sheet as text."""

from pathlib import Path

import fastexcel
import polars as pl

from pipeline.readers.tables import TextTable, cell_columns, ignored_of


def read_workbook(path: Path) -> list[TextTable]:
    """The tables of a workbook, sheet by sheet."""
    book = fastexcel.read_excel(path)
    return [_table(book, name) for name in book.sheet_names]


def _table(book: fastexcel.ExcelReader, name: str) -> TextTable:
    sheet = book.load_sheet(name, header_row=None, dtypes="string").to_polars()
    cells = sheet.rename(dict(zip(sheet.columns, cell_columns(sheet.width), strict=True))).cast(pl.String)
    cells = cells.with_row_index("row", offset=1).with_columns(pl.col("row").cast(pl.Int64))
    filled = (
        pl.sum_horizontal(pl.col(cell_columns(sheet.width)).is_not_null().cast(pl.Int64)) if sheet.width else pl.lit(0)
    )
    wide = cells.filter(filled >= max(2, (sheet.width + 1) // 2)) if sheet.width > 1 else cells
    if wide.is_empty():
        return TextTable(name, (), wide, ignored_of([]), {"kind": "workbook"})
    first = int(wide["row"][0])
    header = [wide[c][0] or "" for c in cell_columns(sheet.width)]
    ignored = [
        (int(r[0]), "title", " | ".join(c for c in r[1:] if c)) for r in cells.filter(pl.col("row") < first).iter_rows()
    ]
    body = cells.filter((pl.col("row") > first) & (filled > 0))
    columns = [*cell_columns(sheet.width), "row"]
    return TextTable(
        name,
        tuple(header),
        body.select(columns),
        ignored_of([*ignored, (first, "header", " | ".join(header))]),
        {"kind": "workbook"},
    )
