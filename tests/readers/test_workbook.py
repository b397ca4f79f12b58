import datetime as dt
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipeline.errors import UserError
from pipeline.readers import TextTable, limits, read

Fill = Callable[[Workbook, Worksheet], None]


@pytest.fixture
def sheet_read(tmp_path: Path) -> Callable[[Fill], list[TextTable]]:
    def made(fill: Fill) -> list[TextTable]:
        path = tmp_path / "book.xlsx"
        with xlsxwriter.Workbook(path) as book:
            fill(book, book.add_worksheet("May"))
        return read(path)

    return made


CELLS = [
    ("whole", 12, None, "12"),
    ("fraction", 1 / 3, None, "0.3333333333333333"),
    ("tiny", 1e-10, None, "1e-10"),
    ("large", 1234567890123, None, "1234567890123"),
    ("money", 1234.5, "$#,##0.00", "1234.5"),
    ("money in euro", -20.25, "#,##0.00 €", "-20.25"),
    ("share", 0.055, "0.0%", "0.055"),
    ("day", dt.date(2026, 5, 31), "dd.mm.yyyy", "2026-05-31"),
    ("moment", dt.datetime(2026, 5, 31, 14, 30, 15), "yyyy-mm-dd hh:mm:ss", "2026-05-31 14:30:15"),
    ("time", dt.time(14, 30), "hh:mm", "14:30:00"),
    ("length of time", dt.timedelta(hours=30, minutes=15), "[h]:mm", "30:15:00"),
    ("tag with zeros", "007", None, "007"),
    ("number as text", "1.50", None, "1.50"),
    ("day as text", "31.5.2026", None, "31.5.2026"),
    ("moment as text", "2026-05-31 00:00:00", None, "2026-05-31 00:00:00"),
    ("yes", True, None, "true"),
]


def test_each_kind_of_cell_as_text(sheet_read):
    def fill(book: Workbook, sheet: Worksheet) -> None:
        sheet.write_row(0, 0, ["what", "cell"])
        for row, (name, value, looks, _) in enumerate(CELLS, 1):
            sheet.write(row, 0, name)
            form = book.add_format({"num_format": looks} if looks else {})
            write = sheet.write_string if isinstance(value, str) else sheet.write
            write(row, 1, value, form)

    (table,) = sheet_read(fill)
    assert table.names == ("what", "cell")
    assert table.frame.select("c0", "c1").rows() == [(name, text) for name, _, _, text in CELLS]


# the day that serial number 46173 stands for: ISO/IEC 29500-1, 18.17.4.1 (from memory), 1900 date base
def test_a_serial_number_is_its_day(sheet_read):
    def fill(book: Workbook, sheet: Worksheet) -> None:
        sheet.write_column(0, 0, ["day", "x"])
        sheet.write_column(0, 1, ["n", 1])
        sheet.write_number(2, 0, 46173, book.add_format({"num_format": "yyyy-mm-dd"}))
        sheet.write_number(2, 1, 2)

    (table,) = sheet_read(fill)
    assert table.frame["c0"].to_list() == ["x", "2026-05-31"]


def test_formulas_give_their_value_and_failed_ones_their_name(sheet_read):
    def fill(_: Workbook, sheet: Worksheet) -> None:
        sheet.write_row(0, 0, ["what", "cell"])
        for row, (formula, value) in enumerate(
            [("=1+1", 2), ("=1/0", "#DIV/0!"), ('="a"&"b"', "ab"), ("=NA()", "#N/A")], 1
        ):
            sheet.write(row, 0, f"row {row}")
            sheet.write_formula(row, 1, formula, None, value)

    (table,) = sheet_read(fill)
    assert table.frame["c1"].to_list() == ["2", "#DIV/0!", "ab", "#N/A"]


def test_title_blank_rows_and_columns(sheet_read):
    def fill(_: Workbook, sheet: Worksheet) -> None:
        sheet.write(1, 2, "Sales of the shop")
        sheet.write_row(3, 2, ["day", "what", "n"])
        sheet.write_row(4, 2, ["2026-05-01", "tray", 1])
        sheet.write_row(6, 2, ["2026-05-02", "clock", 2])
        sheet.write_row(8, 2, ["Total", "", 3])

    (table,) = sheet_read(fill)
    assert table.names == ("day", "what", "n")
    assert table.frame.rows() == [("2026-05-01", "tray", "1", 5), ("2026-05-02", "clock", "2", 7)]
    reasons = dict(zip(table.ignored["row"], table.ignored["reason"], strict=True))
    assert reasons == {1: "blank", 2: "title", 3: "blank", 4: "header", 6: "blank", 8: "blank", 9: "total"}


def test_a_sheet_ends_with_its_last_row_that_holds_something(sheet_read):
    """A formula that comes to nothing far below is a cell, and a million blank rows before it are none."""

    def fill(_: Workbook, sheet: Worksheet) -> None:
        sheet.write_row(0, 0, ["day", "n"])
        sheet.write_row(1, 0, ["2026-05-01", 1])
        sheet.write_row(3, 0, ["2026-05-02", 2])
        sheet.write_formula(1_048_575, 1, '=""', None, "")

    (table,) = sheet_read(fill)
    assert table.frame["row"].to_list() == [2, 4]
    assert table.ignored.rows() == [(1, "header", "day | n"), (3, "blank", "")]


def test_merged_headers_are_filled(sheet_read):
    def fill(_: Workbook, sheet: Worksheet) -> None:
        sheet.merge_range(0, 0, 0, 4, "All pieces")
        sheet.merge_range(1, 1, 1, 2, "size")
        sheet.write_row(2, 0, ["tag", "length", "width", "weight", "made"])
        for row in range(3, 8):
            sheet.write_row(row, 0, [f"T-{row}", row, row * 2, row * 3, f"2026-05-0{row}"])

    (table,) = sheet_read(fill)
    assert table.names == ("tag", "size length", "size width", "weight", "made")
    assert table.ignored.rows()[0] == (1, "title", "All pieces")


def test_one_header_cell_over_two_columns_names_both(sheet_read):
    def fill(_: Workbook, sheet: Worksheet) -> None:
        sheet.write_row(0, 0, ["tag", "", "", "made"])
        sheet.merge_range(0, 1, 0, 2, "size")
        for row in range(1, 5):
            sheet.write_row(row, 0, [f"T-{row}", row, row * 2, f"2026-05-0{row}"])

    (table,) = sheet_read(fill)
    assert table.names == ("tag", "size", "size", "made")


def test_hidden_sheets_are_ignored_with_their_reason(sheet_read):
    def fill(book: Workbook, sheet: Worksheet) -> None:
        sheet.write_column(0, 0, ["name", "ada"])
        for name, hide in (("old", Worksheet.hide), ("older", Worksheet.very_hidden)):
            other = book.add_worksheet(name)
            other.write_column(0, 0, ["name", "bo"])
            hide(other)

    visible, hidden, very = sheet_read(fill)
    assert (visible.sheet, visible.frame.height) == ("May", 1)
    assert [t.sheet for t in (hidden, very)] == ["old", "older"]
    for table in (hidden, very):
        assert table.frame.is_empty()
        assert table.ignored.rows() == [(1, "hidden sheet", "name"), (2, "hidden sheet", "bo")]


def test_a_sheet_with_nothing_in_it(sheet_read):
    (table,) = sheet_read(lambda book, sheet: None)
    assert (table.sheet, table.names, table.frame.height) == ("May", (), 0)


ODS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">
<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"""


MANIFEST = """<?xml version="1.0"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">
<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>
</manifest:manifest>"""


def ods(path: Path, **sheets: list[str]) -> Path:
    """An OpenDocument spreadsheet (OASIS OpenDocument 1.3, part 3) of rows of cells given as XML."""
    tables = ""
    for name, rows in sheets.items():
        body = "".join(f"<table:table-row>{row}</table:table-row>" for row in rows)
        tables += f'<table:table table:name="{name}">{body}</table:table>'
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", MANIFEST)
        archive.writestr("content.xml", ODS.format(tables=tables))
    return path


def cell(kind: str, text: str, **values: str) -> str:
    more = "".join(f' office:{name.replace("_", "-")}="{value}"' for name, value in values.items())
    return f'<table:table-cell office:value-type="{kind}"{more}><text:p>{text}</text:p></table:table-cell>'


def test_an_open_document(tmp_path: Path):
    rows = [
        cell("string", "what") + cell("string", "cell"),
        cell("string", "day") + cell("date", "31/05/26", date_value="2026-05-31"),
        cell("string", "moment") + cell("date", "31/05/26", date_value="2026-05-31T14:30:00"),
        cell("string", "time") + cell("time", "14:30", time_value="PT14H30M00S"),
        cell("string", "money") + cell("currency", "12 EUR", value="12.5", currency="EUR"),
        cell("string", "fraction") + cell("float", "0.33", value="0.3333333333333333"),
        cell("string", "yes") + cell("boolean", "TRUE", boolean_value="true"),
    ]
    first, second = read(ods(tmp_path / "book.ods", One=rows, Two=rows[:1]))
    assert (first.sheet, first.names) == ("One", ("what", "cell"))
    assert first.frame["c1"].to_list() == [
        "2026-05-31",
        "2026-05-31 14:30:00",
        "14:30:00",
        "12.5",
        "0.3333333333333333",
        "true",
    ]
    assert (second.sheet, second.names, second.frame.height) == ("Two", ("what", "cell"), 0)


def test_what_is_no_workbook_is_refused(tmp_path: Path):
    path = tmp_path / "book.xlsx"
    path.write_text("day,n\n1,2\n")
    with pytest.raises(UserError, match="damaged or locked"):
        read(path)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "hello")
    with pytest.raises(UserError, match="damaged or locked"):
        read(path)


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path: Path):
    path = tmp_path / "book.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (limits.UNPACKED_TIMES * 200_000))
    assert path.stat().st_size < 200_000
    with pytest.raises(UserError, match="unpacks to"):
        read(path)
