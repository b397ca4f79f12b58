"""Files made to take the tool along, or damaged: refused by name before they take much, and the rest of them read."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter

from pipeline.errors import UserError
from pipeline.readers import UNREADABLE, read
from tests.hostile import WIDE, book, cell, changed, ods


def told(path: Path) -> dict[str, tuple[int, str]]:
    """Sheet → its rows, and why it can't be read."""
    return {table.sheet: (table.frame.height, str(table.dialect.get(UNREADABLE, ""))) for table in read(path)}


@pytest.mark.parametrize("place", [(1_048_575, 16_383), (0, 16_383), (1_048_575, 40)])
def test_a_cell_in_the_last_corner_of_a_sheet(tmp_path: Path, place: tuple[int, int]):
    path = book(tmp_path / "a.xlsx", lambda b: b.get_worksheet_by_name("hours").write(*place, "x"))
    found = told(path)
    assert found["sales"] == (2, "")
    rows, why = found["hours"]
    assert not rows
    assert "columns with 4 filled cells. Delete" in why


def test_a_cell_whose_row_is_beyond_any_sheet(tmp_path: Path):
    path = book(tmp_path / "a.xlsx", lambda b: b.get_worksheet_by_name("hours").write("C2", 1))
    path = changed(path, "xl/worksheets/sheet1.xml", lambda data: data.replace(b'"C2"', b'"C99999999999"'))
    found = told(path)
    assert found["sales"] == (2, "")
    assert "Delete" in found["hours"][1]


def test_cells_that_only_look_filled_reach_nowhere(tmp_path: Path):
    def blank(workbook: xlsxwriter.Workbook) -> None:
        grey = workbook.add_format({"bg_color": "#eeeeee"})
        workbook.get_worksheet_by_name("hours").write_blank(900_000, 9_000, None, grey)

    assert told(book(tmp_path / "a.xlsx", blank))["hours"] == (2, "")


@pytest.mark.parametrize(
    "damage", [lambda data: data[: len(data) // 2], lambda data: b"", lambda data: re.sub(b"</?c[ >]", b"<q ", data)]
)
def test_one_damaged_sheet_leaves_the_others(tmp_path: Path, damage: Callable[[bytes], bytes]):
    path = changed(book(tmp_path / "a.xlsx", lambda _: None), "xl/worksheets/sheet1.xml", damage)
    assert told(path)["sales"] == (2, "")


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/sharedStrings.xml"])
@pytest.mark.parametrize("damage", [lambda data: data[: len(data) // 2], lambda data: b"", lambda data: b"\xff" * 99])
def test_a_damaged_workbook_is_refused_or_read(tmp_path: Path, part: str, damage: Callable[[bytes], bytes]):
    path = changed(book(tmp_path / "a.xlsx", lambda _: None), part, damage)
    try:
        read(path)
    except UserError as error:
        assert "damaged" in error.what


@pytest.mark.parametrize(
    "row",
    [
        f"<table:table-row>{cell('x', WIDE)}</table:table-row>",
        f'<table:table-row table:number-rows-repeated="1048570">{cell("x") * 30}</table:table-row>',
        f'<table:table-row><table:table-cell table:number-columns-repeated="16383"/>{cell("x")}</table:table-row>',
    ],
)
def test_rows_and_columns_repeated_a_million_times(tmp_path: Path, row: str):
    header = f"<table:table-row>{cell('date')}{cell('hours')}</table:table-row>"
    with pytest.raises(UserError, match="Delete"):  # the library reads all sheets of such a file or none
        read(ods(tmp_path / "a.ods", header + row))


def test_the_blank_rest_of_a_sheet_is_no_reach(tmp_path: Path):
    rest = '<table:table-cell table:number-columns-repeated="16382"/>'
    row = f"<table:table-row>{cell('date')}{cell('hours')}{rest}</table:table-row>"
    blank = f'<table:table-row table:number-rows-repeated="1048570">{rest}</table:table-row>'
    second = row.replace("date", "2026-03-01").replace("hours<", "2<")
    assert told(ods(tmp_path / "a.ods", row + second + blank))["hours"] == (1, "")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.csv", "a,b\n1,2\n" + "," * 5_000_000 + "\n3,4\n"),
        ("a.csv", 'a,b\n1,"2\n' + "," * 500_000 + "\n3,4\n"),
        ("a.csv", ",".join(f"h{n}" for n in range(50_000)) + "\n" + ",".join("1" * 50_000) + "\n"),
        ("a.json", json.dumps([{f"key {n}": n} for n in range(9_000)])),
        ("a.json", "[" * 100_000),
        ("a.json", '{"a":' * 100_000),
        ("a.json", f"[{'[' * 50}1{']' * 50}]"),
        ("a.json", '[{"a": ' + "[" * 50 + "1" + "]" * 50 + "}]"),
        ("a.jsonl", "\n".join("[" * 2_000 for _ in range(20))),
    ],
)
def test_what_no_table_is_like_is_refused(tmp_path: Path, name: str, content: str):
    path = tmp_path / name
    path.write_text(content, encoding="utf-8")
    with pytest.raises(UserError) as refused:
        read(path)
    assert refused.value.mend


def test_half_a_character_in_json(tmp_path: Path):
    path = tmp_path / "a.json"
    path.write_text(r'[{"a\ud800": "b\udfff"}, {"a\ud800": [{"c": "\ud800"}]}, "\ud800"]', encoding="utf-8")
    (table,) = read(path)
    assert table.names == ("a�",)
    assert table.frame["c0"].to_list() == ["b�", '[{"c": "�"}]']
    assert table.ignored["text"].to_list() == ["�"]


def test_of_two_sheets_of_one_name_the_one_that_can_not_be_read_is_told(tmp_path: Path):
    row = f"<table:table-row>{cell('date')}</table:table-row><table:table-row>{cell('2026-03-01')}</table:table-row>"
    again = f'</table:table><table:table table:name="hours">{row}'
    found = told(ods(tmp_path / "a.ods", row + again))
    assert found["hours"] == (1, "")
    assert "Give each a name of its own" in found["hours (2)"][1]
