"""Entries of the log of any day are opened, changed, taken back and put back, and no line of the log is rewritten."""

from pathlib import Path

import pytest

from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.pages import entries, inbox, log_rows
from pipeline.refresh.corrections import TAKEN_OUT
from pipeline.reports.finding import rows_of
from pipeline.shop import load
from tests.refreshed import refreshed

HOURS = ",".join(field for field in log_rows.header("hours"))


@pytest.fixture
def logged(tiny_shop: Path) -> Path:
    (tiny_shop / "log").mkdir()
    names = HOURS.split(",")
    rows = [
        {"date": "2026-01-05", "hours": "2:00", "person": "Ada", "operation": "sanding"},
        {"date": "2026-01-05", "hours": "3:00", "person": "Ada", "operation": "sanding"},
    ]
    lines = [",".join(row.get(name, "") for name in names) for row in rows]
    (tiny_shop / "log" / "2026-01-05-hours.csv").write_text("\n".join([HOURS, *lines]) + "\n", encoding="utf-8")
    return tiny_shop


def seconds(shop: Path) -> list[tuple[int]]:
    refreshed(shop)
    with open_newest(shop) as con:
        return con.execute("select seconds from records.hours order by seconds").fetchall()


def states(shop: Path) -> list[tuple[str, bool, bool]]:
    return [(e.cells["hours"], e.changed, e.taken_back) for e in entries.of_day(load(shop), "2026-01-05")]


def test_an_old_entry_is_changed_taken_back_and_put_back(logged: Path) -> None:
    shop, before = load(logged), (logged / "log" / "2026-01-05-hours.csv").read_bytes()
    assert entries.days(shop) == ["2026-01-05"]
    assert seconds(logged) == [(7200,), (10800,)]
    second = entries.of_day(shop, "2026-01-05")[1]
    inbox.mend(shop, [{**second.row, "hours": "1:30"}])
    assert states(logged) == [("2:00", False, False), ("1:30", True, False)]
    assert seconds(logged) == [(5400,), (7200,)]
    inbox.no_record(shop, entries.of_day(shop, "2026-01-05")[1].row)
    assert states(logged)[1] == ("3:00", False, True)
    assert seconds(logged) == [(7200,)]
    with open_newest(logged) as con:
        told = con.execute("select file, row from intake.ignored where reason = ?", [TAKEN_OUT]).fetchall()
        account = con.execute("select rows, loaded, ignored from intake.file where file like 'log/%'").fetchall()
    assert told == [("log/2026-01-05-hours.csv", 3)]
    assert account == [(3, 1, 2)]  # its header too
    again = entries.of_day(shop, "2026-01-05")[1]
    inbox.mend(shop, [{**again.row, **again.cells}])
    assert seconds(logged) == [(7200,), (10800,)]
    assert (logged / "log" / "2026-01-05-hours.csv").read_bytes() == before
    assert len(list((logged / "mends").glob("*.csv"))) == 3


def test_what_can_t_be_read_is_refused_and_nothing_changes(logged: Path) -> None:
    shop = load(logged)
    first = entries.of_day(shop, "2026-01-05")[0]
    with pytest.raises(UserError):
        inbox.mend(shop, [{**first.row, "hours": "a while"}])
    with pytest.raises(UserError):
        inbox.no_record(shop, first.row | {"mark": "1.000000000000"})
    assert states(logged) == [("2:00", False, False), ("3:00", False, False)]


def test_a_total_row_that_was_set_aside_is_told_to_be_no_record(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "sales.csv").write_text(
        "date,channel,product,price\n2026-01-05,market,tray,90\nwhole month,market,trays,90\n", encoding="utf-8"
    )
    refreshed(tiny_shop)
    with open_newest(tiny_shop) as con:
        rejected = rows_of(con, "from intake.rejected")
    (row,) = inbox.to_mend(load(tiny_shop), rejected)
    inbox.no_record(load(tiny_shop), row)
    refreshed(tiny_shop)
    with open_newest(tiny_shop) as con:
        assert con.execute("select count(*) from intake.rejected").fetchall() == [(0,)]
        assert con.execute("select price_cents from records.sales").fetchall() == [(9000,)]
        rows = con.execute("select rows, loaded, set_aside, ignored from intake.file where record = 'sales'")
        assert rows.fetchall() == [(3, 1, 0, 2)]  # its header too
