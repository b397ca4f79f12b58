import csv
import io
import json
from pathlib import Path

import pytest

from pipeline.commands.inspect import FIRST_ROWS, peek
from pipeline.errors import UserError


@pytest.fixture
def sales(tmp_path: Path) -> Path:
    path = tmp_path / "sales.csv"
    body = "".join(f'2026-05-{d:02d};"tray; large";{d},50\n' for d in range(1, 29))
    path.write_text("Sales of May\n\nday;what;price\n" + body + "Total;;406,00\n")
    return path


def test_plain_text_tells_how_the_file_was_read(sales: Path):
    text = "".join(peek([sales]))
    assert "sales.csv: 28 rows, 3 columns" in text
    assert "row 1 (title): Sales of May" in text
    assert "1 total" in text
    assert "tray; large" in text
    assert f"2026-05-{FIRST_ROWS:02d}" in text
    assert f"2026-05-{FIRST_ROWS + 1:02d}" not in text


def test_json_says_the_same(sales: Path):
    (table,) = json.loads("".join(peek([sales], as_json=True)))
    assert (table["names"], table["rows"], table["sheet"]) == (["day", "what", "price"], 28, "")
    assert table["first_rows"][0] == {"row": 4, "cells": ["2026-05-01", "tray; large", "1,50"]}
    assert table["dialect"]["delimiter"] == ";"
    assert table["dialect"]["header_rows"] == [3]
    assert [entry["reason"] for entry in table["ignored"]] == ["title", "blank", "header", "total"]


def test_csv_has_every_cell(sales: Path):
    rows = list(csv.reader(io.StringIO("".join(peek([sales], as_csv=True)))))
    assert rows[0] == ["day", "what", "price"]
    assert rows[1:] == [[f"2026-05-{d:02d}", "tray; large", f"{d},50"] for d in range(1, 29)]


def test_csv_quotes_by_rfc_4180_and_parts_tables_by_a_blank_line(tmp_path: Path):
    path = tmp_path / "two.csv"
    path.write_text('day;what\n2026-05-01;"a ""b"", c"\n2026-05-02;d\n\nname;rate;unit\nada;30;h\nbo;28;h\n')
    assert "".join(peek([path], as_csv=True)) == (
        'day,what\n2026-05-01,"a ""b"", c"\n2026-05-02,d\n\nname,rate,unit\nada,30,h\nbo,28,h\n'
    )


def test_csv_of_ragged_rows_adds_no_cells(tmp_path: Path):
    path = tmp_path / "ragged.csv"
    path.write_text("day,what,n\n2026-05-01,oak,1\n2026-05-02,ash\n2026-05-03,elm,3,more\n2026-05-04,fir,4\n")
    assert "".join(peek([path], as_csv=True)) == path.read_text()


def test_csv_without_header_has_just_the_rows(tmp_path: Path):
    path = tmp_path / "plain.csv"
    path.write_text("2026-05-01,1\n2026-05-02,2\n")
    assert "".join(peek([path], as_csv=True)) == path.read_text()


def test_an_empty_file(tmp_path: Path):
    path = tmp_path / "empty.csv"
    path.touch()
    assert "".join(peek([path], as_csv=True)) == ""
    assert "empty.csv: 0 rows, 0 columns" in "".join(peek([path]))


def test_a_wrong_file_raises(tmp_path: Path):
    with pytest.raises(UserError):
        list(peek([tmp_path / "none.csv"]))


def test_nothing_of_a_column_about_buyers_is_shown_and_notes_are_masked(tmp_path: Path):
    path = tmp_path / "till.csv"
    rows = "2026-03-01,tray,45.00,Quinby Marlowe,Elmford,left at 12 Oak Street\n" * 3
    path.write_text(f"date,what,price,Buyer name,Ship to city,notes\n{rows}Total,,135.00,Quinby Marlowe,,\n")
    for how in ({}, {"as_json": True}, {"as_csv": True}):
        text = "".join(peek([path], **how))
        assert "tray" in text
        assert "left at (street)" in text
        assert [word for word in ("Quinby", "Elmford", "Oak Street") if word in text] == []
    assert "masked: 3 mails, phones or streets" in "".join(peek([path]))
