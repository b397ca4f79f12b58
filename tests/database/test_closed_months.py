"""Closing a month: what is frozen, what turns up later, and what can't be closed."""

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline import database
from pipeline.commands import main
from pipeline.database import closed_months
from pipeline.errors import UserError

Books = Callable[..., duckdb.DuckDBPyConnection]

SHOP = """name = "Two Benches"
currency = "EUR"
start = 2026-01-01
[[people]]
name = "Ada"
rate = 30
[[people]]
name = "Ben"
role = "employee"
paid = true
rate = 20
"""
PIECES = "piece,product,finished,status,opening_cost\nA,tray,2026-01-03,finished,40\nB,tray,2026-01-03,finished,50\n"
SALES = "date,channel,piece,price\n2026-01-20,fair,A,90\n2026-02-10,fair,B,95\n"
HOURS = "date,person,operation,hours\n2026-01-12,Ada,office,2\n2026-03-31,Ada,office,1\n"
LATE = "date,person,operation,hours\n2026-01-14,Ben,office,3\n2026-01-15,Ada,office,1\n"
JANUARY = date(2026, 1, 1)


def months(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    return con.execute(
        "select closed, result_cents, books_result_cents, earlier_cents, owner_hours from money.month order by month"
    ).fetchall()


@pytest.fixture
def shop(books: Books, tmp_path: Path) -> Path:
    books(SHOP, pieces=PIECES, sales=SALES, hours=HOURS)
    return tmp_path / "books"


def test_a_closed_month_keeps_its_figures_and_the_next_takes_what_changed(shop: Path, books: Books) -> None:
    path = closed_months.close(shop, JANUARY)
    assert path == shop / "reports" / "closed" / "2026-01.csv"
    con = books(SHOP, late=LATE)
    assert months(con) == [
        (True, 5000 - 6000, 5000, 0, 2.0),
        # Ben's three hours and Ada's one, and that hour itself
        (False, 4500 - 9000, 4500 - 6000, -9000, 1.0),
        (False, -3000, 0, 0, 1.0),
    ]
    changes = "select closed_month, month, line, cents, len(row_ids), own_labour from money.earlier order by cents"
    assert con.execute(changes).fetchall() == [
        (JANUARY, date(2026, 2, 1), "other hours", -6000, 1, False),
        (JANUARY, date(2026, 2, 1), "other hours", -3000, 1, True),
    ]
    behind = (
        "select row.file, row.row from money.earlier, unnest(row_ids) as ids(row_id)"
        " join intake.row as row on row.row_id = ids.row_id order by row.row"
    )
    assert con.execute(behind).fetchall() == [("inbox/late.csv", 2), ("inbox/late.csv", 3)]


def test_over_all_months_closing_changes_nothing(shop: Path, books: Books) -> None:
    closed_months.close(shop, JANUARY)
    total = "select sum(result_cents), sum(books_result_cents), sum(owner_hours) from money.month"
    closed = books(SHOP, late=LATE).execute(total).fetchall()
    (shop / "reports" / "closed" / "2026-01.csv").unlink()
    reopened = books(SHOP)
    assert reopened.execute("select bool_or(closed) from money.month").fetchall() == [(False,)]
    assert reopened.execute(total).fetchall() == closed


def test_a_record_that_is_taken_out_of_a_closed_month_counts_back(shop: Path, books: Books) -> None:
    closed_months.close(shop, JANUARY)
    con = books(SHOP, sales="date,channel,piece,price\n2026-02-10,fair,B,95\n")
    assert [row[3] for row in months(con)] == [0, -5000, 0]
    gone = con.execute("select row_ids from money.earlier where line = 'revenue'").fetchall()
    assert gone == [([],)]


def test_closing_again_without_a_change_gives_no_line(shop: Path, books: Books) -> None:
    closed_months.close(shop, JANUARY)
    closed_months.close(shop, date(2026, 2, 1))
    con = books(SHOP)
    assert con.execute("from money.earlier").fetchall() == []
    assert [row[0] for row in months(con)] == [True, True, False]


@pytest.mark.parametrize(("month", "said"), [(date(2025, 12, 1), "not on record"), (date(2026, 4, 1), "not on record")])
def test_a_month_that_is_not_there_can_not_be_closed(shop: Path, month: date, said: str) -> None:
    with pytest.raises(UserError, match=said):
        closed_months.close(shop, month)


def test_a_month_that_is_not_over_can_not_be_closed(shop: Path, books: Books) -> None:
    books(SHOP, hours=HOURS.replace("2026-03-31", "2026-03-30"))
    with pytest.raises(UserError, match="not over"):
        closed_months.close(shop, date(2026, 3, 1))


def test_a_month_is_closed_once(shop: Path) -> None:
    closed_months.close(shop, JANUARY)
    with pytest.raises(UserError, match="closed already"):
        closed_months.close(shop, JANUARY)


def test_closing_waits_for_the_lock_of_a_refresh(shop: Path) -> None:
    with database.lock(shop), pytest.raises(UserError, match="still running"):
        closed_months.close(shop, JANUARY, wait_s=0.05)
    assert not (shop / "reports").exists()


def test_a_close_that_dies_leaves_no_half_file(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def dies(handle: int) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(os, "fsync", dies)
    with pytest.raises(UserError, match="disk is full"):
        closed_months.close(shop, JANUARY)
    monkeypatch.undo()
    assert not (shop / "reports" / "closed" / "2026-01.csv").exists()
    assert closed_months.closed(shop).is_empty()


@pytest.mark.parametrize("damage", ["", "month,kind\n2026-01-01,line\n", "not,a,table\n", "nothing"])
def test_a_damaged_file_is_told_and_not_taken(shop: Path, damage: str) -> None:
    path = closed_months.close(shop, JANUARY)
    path.write_text(damage if damage != "nothing" else path.read_text().replace(",figure,", ",,"), encoding="utf-8")
    with pytest.raises(UserError, match="can't be read"):
        closed_months.closed(shop)


def test_the_command_closes_and_says_so(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["close", str(shop), "2026-01"]) == 0
    assert "January 2026 is closed" in capsys.readouterr().out
    assert main(["close", str(shop), "2026-01"]) == 2
    assert "closed already" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        main(["close", str(shop), "January"])
    assert ended.value.code == 2
    assert "write it as 2026-05" in capsys.readouterr().err
