"""Planned is not done: what a calendar holds after its own stamp, or after the day of the refresh, is in no figure."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from pipeline import database
from pipeline.commands import main
from pipeline.readers import read
from pipeline.readers.calendar import BEYOND, MOST_OCCURRENCES, PLANNED
from pipeline.refresh.refresh import refresh
from pipeline.reports.check import findings
from pipeline.shop import load

Put = Callable[..., Path]


def event(start: str, *more: str, stamp: str = "") -> str:
    lines = ["BEGIN:VEVENT", f"UID:{start}", *([f"DTSTAMP:{stamp}"] if stamp else []), start, *more, "END:VEVENT"]
    return "\r\n".join([*lines, ""])


@pytest.fixture
def put(tiny_shop: Path) -> Put:
    def calendar(*events: str) -> Path:
        text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\n" + "".join(events) + "END:VCALENDAR\r\n"
        (tiny_shop / "inbox" / "log.ics").write_text(text, newline="")
        return tiny_shop

    return calendar


HOUR = ("DURATION:PT1H", "SUMMARY:Sanding T-1")


def test_by_the_files_own_stamp(put: Put) -> None:
    """Floating and whole days by the stamp's day, times with a zone by the moment."""
    folder = put(
        event("DTSTART:20261001T090000", *HOUR, stamp="20261010T100000Z"),
        event("DTSTART:20261010T093000Z", *HOUR),
        event("DTSTART:20261010T103000Z", *HOUR),
        event("DTSTART:20261011T090000", *HOUR),
        event("DTSTART;VALUE=DATE:20261010", "SUMMARY:Market"),
        event("DTSTART;VALUE=DATE:20261011", "SUMMARY:Market"),
        event("DTSTART:20261005T090000", "RRULE:FREQ=WEEKLY", *HOUR),
    )
    (table,) = read(folder / "inbox" / "log.ics")
    assert sorted(table.frame["c0"]) == ["2026-10-01", "2026-10-05", "2026-10-10", "2026-10-10"]
    told = sorted(table.ignored.filter(reason=PLANNED)["text"])
    assert told == [
        "2026-10-10 10:30 Sanding T-1", "2026-10-11 09:00 Sanding T-1", "2026-10-11 Market",
        "2026-10-12 09:00 Sanding T-1",  # of a rule without end the next time
    ]  # fmt: skip


def test_without_a_stamp_by_the_day_of_the_refresh_which_can_be_given(put: Put) -> None:
    folder = put(event("DTSTART:20261020T090000", "RRULE:FREQ=DAILY;COUNT=30", *HOUR))
    (folder / "inbox" / "hours.csv").write_text("date,hours,operation\n2026-10-05,1:00,sanding\n", encoding="utf-8")
    for day, done in ((date(2026, 10, 31), 12), (date(2026, 10, 22), 3)):
        summary = refresh(load(folder), on=day)
        assert summary.errors == []
        assert (summary.counts["loaded"], summary.counts["planned"]) == (done + 1, 30 - done)
        with database.open_newest(folder) as con:
            assert con.execute("select as_of from settings.shop").fetchall() == [(day,)]
            assert con.execute("select max(on_date), count(*) from records.hours").fetchall() == [(day, done + 1)]
            assert con.execute("select max(month) from work.month").fetchall() == [(date(2026, 10, 1),)]
            (finding,) = [f for f in findings(con) if f.kind == "planned"]
            assert (finding.rows, "inbox/log.ics" in finding.where) == (30 - done, True)
            assert con.execute("select sum(planned) from (select count(*) planned from intake.ignored)").fetchone()


def test_a_stamp_far_ahead_makes_nothing_done(put: Put) -> None:
    folder = put(event("DTSTART:20300105T090000", *HOUR, stamp="29990101T000000Z"))
    assert refresh(load(folder), on=date(2026, 10, 31)).counts["planned"] == 1


def test_more_times_than_the_limit_are_said_with_file_and_event(put: Put) -> None:
    folder = put(event("DTSTART:20200101T090000", f"RRULE:FREQ=DAILY;COUNT={MOST_OCCURRENCES + 1}", *HOUR))
    (table,) = read(folder / "inbox" / "log.ics")
    assert table.frame.height == MOST_OCCURRENCES
    assert table.ignored.rows() == [(4, BEYOND, "2025-06-23 and on: Sanding T-1")]
    refresh(load(folder), on=date(2026, 10, 31))
    with database.open_newest(folder) as con:
        (finding,) = [f for f in findings(con) if f.kind == "repeats"]
        assert "inbox/log.ics, row 4: 2025-06-23 and on: Sanding T-1" in finding.where
    put(event("DTSTART:20200101T090000", f"RRULE:FREQ=DAILY;COUNT={MOST_OCCURRENCES}", *HOUR))
    (table,) = read(folder / "inbox" / "log.ics")
    assert (table.frame.height, table.ignored.height) == (MOST_OCCURRENCES, 0)


def test_a_day_on_the_command_line(put: Put, capsys: pytest.CaptureFixture[str]) -> None:
    folder = put(event("DTSTART:20261101T090000", *HOUR), event("DTSTART:20261030T090000", *HOUR))
    assert main(["refresh", str(folder), "--on", "2026-10-31"]) == 0
    assert "1  planned, in no figure" in capsys.readouterr().out
    with pytest.raises(SystemExit) as wrong:
        main(["refresh", str(folder), "--on", "31.10.2026"])
    assert wrong.value.code == 2
    assert "write it as 2026-10-31" in capsys.readouterr().err


def test_a_record_of_a_later_day_counts_and_is_asked_about(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "hours.csv").write_text(
        "date,hours,operation,person\n2026-10-05,9:00,sanding,Ada\n2026-11-05,1:00,sanding,Ada\n2026-10-05,16:00,carving,Ada\n",
        encoding="utf-8",
    )
    summary = refresh(load(tiny_shop), on=date(2026, 10, 31))
    found = {check["name"]: check["rows"] for check in summary.checks}
    assert (summary.counts["loaded"], found["day_after_refresh"], found["day_too_long"]) == (3, 1, 1)
    assert {c["name"]: c["rows"] for c in refresh(load(tiny_shop), on=date(2026, 11, 5)).checks}[
        "day_after_refresh"
    ] == 0
