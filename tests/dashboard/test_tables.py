"""Tables as HTML and as files."""

import csv
import io

import polars as pl
import pytest

from dashboard import opening, tables


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless(start: str) -> None:
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return, and the apostrophe as the mend
    text = tables.csv(pl.DataFrame({"note": [f"{start}cmd|' /C calc'!A0"], "cents": [-5]})).decode()
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[1][0] == f"'{start}cmd|' /C calc'!A0"
    # a number stays a number, whatever its sign
    assert rows[1][1] == "-5"


def test_a_harmless_cell_stays_as_it_is() -> None:
    frame = pl.DataFrame({"note": ["live edge, 2 in", None, "a-b=c"]})
    rows = list(csv.reader(io.StringIO(tables.csv(frame).decode())))
    assert [row[0] if row else "" for row in rows[1:]] == ["live edge, 2 in", "", "a-b=c"]


def test_lists_become_text_and_are_made_harmless_too() -> None:
    frame = pl.DataFrame({"pieces": [["T-1", "T-2"], ["=1+1"], []], "rows": [[1, 2], [3], None]})
    rows = list(csv.reader(io.StringIO(tables.csv(frame).decode())))
    assert rows[1:] == [["T-1; T-2", "1; 2"], ["'=1+1", "3"], ["", ""]]


def test_a_row_opens_its_piece_and_keeps_what_was_chosen() -> None:
    kept = {"month": "2026-05", "species": "white ash", "piece": "T-1", "open": "lot:3", "cover": "true"}
    assert opening.address("pieces?piece", "T 2&x", kept) == "pieces?species=white%20ash&piece=T%202%26x"


def test_what_opens_on_the_page_itself_keeps_its_month_and_its_folds() -> None:
    kept = {"month": "2026-05", "open": "lot:3", "cover": "true"}
    assert opening.address(*opening.behind("lot", 7), kept) == "?month=2026-05&cover=true&open=lot%3A7"


def test_a_heading_may_stand_twice_in_the_grid() -> None:
    columns = [tables.Column("low", "from"), tables.Column("adjusted_low", "from"), tables.Column("level", "Group")]
    frame = pl.DataFrame({"low": [0.1], "adjusted_low": [0.2], "level": ["ash"]})
    grid = tables._grid(frame, columns)
    assert [name.strip() for name in grid.columns] == ["from", "from", "Group"]
    assert grid.row(0) == ("0.1", "0.2", "ash")
