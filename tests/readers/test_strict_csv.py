"""Files that are in order by RFC 4180 come back cell by cell, whatever their cells hold."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.readers import csv as reader
from pipeline.readers import read
from pipeline.readers.csv import tables_in

CELL = st.text(alphabet=st.sampled_from("ab1 2.,;|\t\"'\n-/:%€"), max_size=10)
ROWS = st.integers(2, 5).flatmap(
    lambda width: st.lists(st.lists(CELL, min_size=width, max_size=width), min_size=2, max_size=24)
)
QUOTING = [csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC]


def written(rows, delimiter, quoting, end):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end).writerows(rows)
    return out.getvalue()


@pytest.fixture
def grids(monkeypatch):
    """What `tables_in` reads, before it asks which rows are titles, headers or data."""
    seen = []
    monkeypatch.setattr(reader, "tables_of", lambda frame, widths, dialect: seen.append(frame) or [])
    return seen


@pytest.mark.parametrize("quoting", QUOTING, ids=["all", "minimal", "texts"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(rows=ROWS, end=st.sampled_from(["\n", "\r\n"]))
def test_every_cell_of_a_file_in_order_comes_back(grids, delimiter, quoting, rows, end):
    # one quoted cell shows the quote; without any, two delimiters may both fit and nothing in the file tells which
    text = written([['a "quoted" one', *["x"] * (len(rows[0]) - 1)], *rows], delimiter, quoting, end)
    grids.clear()
    tables_in(text.encode())
    (frame,) = grids
    # blanks at a cell's edges are layout to the reader, and trimmed by whatever reads the cell
    cells = [[(cell or "").strip(" \t") for cell in row[:-1]] for row in frame.iter_rows()]
    whole = [[cell.strip(" \t") for cell in row] for row in rows]
    assert [row for row in cells if any(row)][1:] == [row for row in whole if any(row)]


def test_a_quoted_cell_with_a_delimiter_and_a_blank_in_it_stays_one_cell(grids):
    rows = [['a "quoted" one', "x"], *[["", ""]] * 7, ["", " | :"], [":", ""]]
    tables_in(written(rows, "|", csv.QUOTE_ALL, "\n").encode())
    assert [[(cell or "").strip() for cell in row[:-1]] for row in grids[0].iter_rows()][8:] == [["", "| :"], [":", ""]]


def test_a_quoted_cell_full_of_other_delimiters_stays_one_cell():
    rows = [["day", "what", "amount"], *([f"2026-05-{d:02d}", "a; b; c; d; e", "1,50"] for d in range(1, 24))]
    (table,) = tables_in(written(rows, ",", csv.QUOTE_MINIMAL, "\r\n").encode())
    assert table.names == ("day", "what", "amount")
    assert table.frame.drop("row").rows() == [tuple(row) for row in rows[1:]]


def test_unquoted_cells_with_another_delimiter_in_every_row_are_not_split():
    text = "tag|what|size\n" + "".join(f"T-{n}|oak; ash; elm|30,5;20,5;2,0\n" for n in range(9))
    (table,) = tables_in(text.encode())
    assert table.names == ("tag", "what", "size")


@pytest.mark.parametrize("header", ["VAT 20%", "IVA 23%", "TVA 5,5 %"])
def test_a_rate_in_a_heading_makes_it_no_amount(tmp_path: Path, header: str) -> None:
    rows = "".join(f"2025-04-{day};T{day};tray;{day};{day / 5:.2f};Ann\n" for day in range(11, 17))
    path = tmp_path / "fair.csv"
    path.write_text(f"Day;No;What;Price c/ tax;{header};Who\n{rows}", encoding="utf-8")
    (found,) = read(path)
    assert found.names[4] == header
    assert found.frame.height == 6
