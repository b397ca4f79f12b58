from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.readers import TextTable, read
from pipeline.readers.calendar import MOST_OCCURRENCES, NAMES

ZONE = "America/New_York"


def calendar(path: Path, *events: str, kind: str = "VEVENT", head: str = "") -> Path:
    body = "".join(f"BEGIN:{kind}\r\nUID:{n}\r\n{e.strip()}\r\nEND:{kind}\r\n" for n, e in enumerate(events))
    text = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//two benches//EN\r\n{head}{body}END:VCALENDAR\r\n"
    path.write_text(text.replace("\r\n", "\n").replace("\n", "\r\n"), newline="")
    return path


@pytest.fixture
def events_read(tmp_path: Path):
    def made(*events: str, time_zone: str = "", head: str = "", operations: tuple[str, ...] = ()) -> TextTable:
        (table,) = read(calendar(tmp_path / "log.ics", *events, head=head), time_zone, operations)
        return table

    return made


def rows(table: TextTable, *names: str) -> list[tuple[str | None, ...]]:
    return table.frame.select([f"c{NAMES.index(name)}" for name in names]).rows()


def test_an_event_is_a_row_of_hours(events_read):
    table = events_read(
        "DTSTART:20260305T090000\nDTEND:20260305T104500\nSUMMARY:Sanding T-031..T-034\\, T-040 second coat"
    )
    assert table.names == NAMES
    assert table.frame.rows() == [
        ("2026-03-05", "09:00", "10:45", "1:45", "Sanding", "T-031..T-034; T-040", None, "second coat", 4)
    ]


@pytest.mark.parametrize(
    ("title", "operation", "pieces", "rework", "note"),
    [
        ("Sanding", "Sanding", None, None, None),
        ("Rework: sealing T-001 and T-002", "sealing", "T-001; T-002", "yes", None),
        ("T-007 carving (rework)", "carving", "T-007", "yes", None),
        ("pouring for T-1", "pouring", "T-1", None, None),
        ("Cleaning: the floor", "Cleaning", None, None, "the floor"),
        ("sanding P120 to P320 T-9", "sanding P120 to P320", "T-9", None, None),
        ("T-1, T-2; T-3 & T-4", None, "T-1; T-2; T-3; T-4", None, None),
    ],
)
def test_the_title_holds_operation_tags_and_rework(events_read, title, operation, pieces, rework, note):
    escaped = title.replace(",", "\\,").replace(";", "\\;")
    table = events_read(f"DTSTART:20260305T090000\nDTEND:20260305T100000\nSUMMARY:{escaped}")
    assert rows(table, "operation", "pieces", "rework", "note") == [(operation, pieces, rework, note)]


def test_whole_days_have_no_hours(events_read):
    table = events_read("DTSTART;VALUE=DATE:20260305\nDTEND;VALUE=DATE:20260307\nSUMMARY:Market")
    assert rows(table, "date", "started_at", "ended_at", "hours") == [("2026-03-05", None, None, None)]


def test_folded_lines_and_escapes(events_read):
    table = events_read(
        "DTSTART:20260305T090000\nDURATION:PT1H30M\nSUMMARY:San\n ding T-1\nDESCRIPTION:dusty\\, loud\\nagain"
    )
    assert rows(table, "operation", "hours", "note") == [("Sanding", "1:30", "dusty, loud\nagain")]


def test_times_on_the_shops_own_clock(events_read):
    event = f"DTSTART;TZID={ZONE}:20260301T220000\nDTEND;TZID={ZONE}:20260302T003000\nSUMMARY:Sanding"
    wanted = ("date", "started_at", "ended_at", "hours")
    assert rows(events_read(event), *wanted) == [("2026-03-01", "22:00", "00:30", "2:30")]
    berlin = events_read(event, time_zone="Europe/Berlin")
    assert rows(berlin, *wanted) == [("2026-03-02", "04:00", "06:30", "2:30")]


def test_universal_time_goes_to_the_calendars_zone(events_read):
    event = "DTSTART:20260701T060000Z\nDTEND:20260701T070000Z\nSUMMARY:Sanding"
    assert rows(events_read(event), "started_at") == [("06:00",)]
    assert rows(events_read(event, head="X-WR-TIMEZONE:Europe/Berlin\r\n"), "started_at") == [("08:00",)]


def test_hours_across_a_change_to_summer_time(events_read):
    # clocks in Berlin went from 2:00 to 3:00 on 2026-03-29 (Directive 2000/84/EC: last Sunday in March)
    table = events_read(
        "DTSTART;TZID=Europe/Berlin:20260329T013000\nDTEND;TZID=Europe/Berlin:20260329T043000\nSUMMARY:Market"
    )
    assert rows(table, "hours", "ended_at") == [("2:00", "04:30")]


# RFC 5545, 3.8.5.3, examples of recurrence (quoted from memory of the RFC; days as listed there)
@pytest.mark.parametrize(
    ("start", "rule", "days"),
    [
        ("19970902", "FREQ=DAILY;COUNT=10", [f"1997-09-{d:02d}" for d in range(2, 12)]),
        (
            "19970902",
            "FREQ=DAILY;INTERVAL=10;COUNT=5",
            ["1997-09-02", "1997-09-12", "1997-09-22", "1997-10-02", "1997-10-12"],
        ),
        (
            "19970902",
            "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
            [*(f"1997-09-{d:02d}" for d in (2, 4, 9, 11, 16, 18, 23, 25, 30)), "1997-10-02"],
        ),
        (
            "19970902",
            "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
            [*(f"1997-09-{d:02d}" for d in (2, 4, 9, 11, 16, 18, 23, 25, 30)), "1997-10-02"],
        ),
        (
            "19970905",
            "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
            [
                "1997-09-05",
                "1997-10-03",
                "1997-11-07",
                "1997-12-05",
                "1998-01-02",
                "1998-02-06",
                "1998-03-06",
                "1998-04-03",
                "1998-05-01",
                "1998-06-05",
            ],
        ),
    ],
)
def test_rfc_5545_recurrence(events_read, start, rule, days):
    table = events_read(f"DTSTART;TZID={ZONE}:{start}T090000\nDURATION:PT1H\nRRULE:{rule}\nSUMMARY:Sanding")
    assert rows(table, "date", "started_at", "hours") == [(day, "09:00", "1:00") for day in days]


def test_occurrences_taken_out_put_in_and_moved(tmp_path: Path):
    start = "DTSTART:20260306T080000Z\nDURATION:PT1H\nSUMMARY:Cleaning"
    series = f"{start}\nRRULE:FREQ=WEEKLY;COUNT=4\nEXDATE:20260313T080000Z\nRDATE:20260401T080000Z"
    path = calendar(tmp_path / "log.ics", series)
    other = ("RECURRENCE-ID:20260320T080000Z", "DTSTART:20260321T100000Z", "SUMMARY:Office")
    moved = "\r\n".join(["BEGIN:VEVENT", "UID:0", *other, "END:VEVENT", ""])
    path.write_bytes(path.read_bytes().replace(b"END:VCALENDAR", moved.encode() + b"END:VCALENDAR"))
    (table,) = read(path)
    assert rows(table, "date", "operation") == [
        ("2026-03-06", "Cleaning"),
        ("2026-03-21", "Office"),
        ("2026-03-27", "Cleaning"),
        ("2026-04-01", "Cleaning"),
    ]


def test_an_endless_rule_ends_when_the_file_was_written(events_read):
    event = "DTSTAMP:20260310T120000Z\nDTSTART:20260306T080000\nDURATION:PT1H\nRRULE:FREQ=DAILY\nSUMMARY:Cleaning"
    assert [day for (day,) in rows(events_read(event), "date")] == [f"2026-03-{d:02d}" for d in range(6, 11)]
    assert events_read(event.split("\n", 1)[1]).frame.height == MOST_OCCURRENCES


def test_cancelled_events_and_other_entries_are_ignored_with_their_reason(events_read, tmp_path: Path):
    table = events_read("DTSTART:20260305T090000\nSTATUS:CANCELLED\nSUMMARY:Market", "SUMMARY:no day")
    assert table.frame.is_empty()
    assert table.ignored.rows() == [(4, "cancelled", "Market"), (10, "no date", "no day")]
    (tasks,) = read(calendar(tmp_path / "tasks.ics", "SUMMARY:buy wood", kind="VTODO"))
    assert tasks.ignored.rows() == [(4, "no event", "buy wood")]


def test_people_and_places_are_never_read(events_read):
    table = events_read(
        "DTSTART:20260305T090000\nDURATION:PT1H\nSUMMARY:Delivery\nLOCATION:1 Some Street\n"
        "ATTENDEE;CN=A Buyer:mailto:buyer@example.org\nORGANIZER:mailto:me@example.org"
    )
    text = str(table.frame.rows()) + str(table.dialect)
    assert "Delivery" in text
    assert not any(word in text for word in ("Some Street", "Buyer", "example.org"))


def test_what_is_no_calendar_is_refused(tmp_path: Path):
    path = tmp_path / "log.ics"
    path.write_text("day;n\n1;2\n")
    with pytest.raises(UserError, match="can't be read"):
        read(path)


GOOD = "DTSTART:20260305T090000\nDTEND:20260305T104500\nSUMMARY:Sanding T-1"


@pytest.mark.parametrize(
    ("event", "shown"),
    [
        ("DTSTART:2026\nDTEND:20260305T100000", ("DTSTART 2026", None)),
        ("DTSTART:20260306T090000\nDTSTART:20260307T090000", ("DTSTART 20260306T090000 and 20260307T090000", None)),
        ("DTSTART;VALUE=TIME:090000", ("DTSTART 090000", None)),
        # a period is a time of an RDATE alone (RFC 5545, 3.8.5.2)
        ("DTSTART;VALUE=PERIOD:20260306T090000/PT1H", ("DTSTART 20260306T090000/PT1H", None)),
        ("DTSTART:20260306T090000\nDTEND;VALUE=PERIOD:20260306T090000/PT1H", ("2026-03-06", "20260306T090000/PT1H")),
        ("DTSTART:20260306T090000\nDURATION:P1Y", ("2026-03-06", "P1Y")),
        ("DTSTART:20260306T090000\nDURATION:PT99999999999H", ("2026-03-06", "PT99999999999H")),
        ("DTSTART:20260306T090000\nDTEND:soon", ("2026-03-06", "soon")),
        ("DTSTART:20260306T090000\nRRULE:COUNT=3", ("20260306T090000, RRULE COUNT=3", None)),
        (
            "DTSTART:20260306T090000\nRRULE:FREQ=DAILY;INTERVAL=0",
            ("20260306T090000, RRULE FREQ=DAILY;INTERVAL=0", None),
        ),
        ("DTSTART:20260306T090000\nRRULE:FREQ=SECONDLY", ("20260306T090000, RRULE FREQ=SECONDLY", None)),
        ("DTSTART:20260306T090000\nRRULE:FREQ=DAILY;UNTIL=x", ("20260306T090000, RRULE FREQ=DAILY;UNTIL=x", None)),
        ("DTSTART:20260306T090000\nRRULE:FREQ=DAILY;COUNT=3\nEXDATE:2026", ("20260306T090000, EXDATE 2026", None)),
        ("DTSTART:20260306T090000\nRECURRENCE-ID:2026", ("20260306T090000, RECURRENCE-ID 2026", None)),
        ("DTSTART:99991231T230000\nDURATION:PT2H", ("DTSTART 99991231T230000", None)),
    ],
)
def test_an_event_that_can_not_be_is_one_row_that_says_so(events_read, event, shown):
    table = events_read(GOOD, f"{event}\nSUMMARY:Carving T-2")
    assert sorted(rows(table, "operation", "pieces")) == [("Carving", "T-2"), ("Sanding", "T-1")]
    assert [row for row in rows(table, "date", "hours") if row != ("2026-03-05", "1:45")] == [shown]


def test_a_calendar_cut_off_in_the_middle(tmp_path: Path):
    path = calendar(tmp_path / "log.ics", GOOD, "DTSTART:20260306T090000\nDTEND:20260306T100000\nSUMMARY:Carving")
    text = path.read_text()
    for end in range(len(text)):
        path.write_text(text[:end], newline="")
        try:
            (table,) = read(path)
        except UserError:
            assert "BEGIN:VCALENDAR" not in text[:end]
            continue
        begun = text[:end].count("BEGIN:VEVENT")
        assert table.frame.height + table.ignored.height == begun, end
        whole = text[:end].count("END:VEVENT")
        assert [row[0] for row in rows(table, "date")][:whole] == ["2026-03-05", "2026-03-06"][:whole]


@pytest.mark.parametrize(
    "line", ["END:VEVENT", "BEGIN:VALARM", "BEGIN:VEVENT", "END:VCALENDAR", "\x00;:\x00", "BEGIN:"]
)
def test_a_damaged_line_costs_its_own_event_at_most(tmp_path: Path, line: str):
    good = [GOOD.replace("0305", f"03{day:02d}") for day in range(1, 10)]
    path = calendar(tmp_path / "log.ics", *good)
    lines = path.read_text().splitlines()
    lines.insert(lines.index("UID:4") + 1, line)
    path.write_text("\r\n".join(lines), newline="")
    (table,) = read(path)
    days = {day for (day,) in rows(table, "date")}
    assert {f"2026-03-{day:02d}" for day in (1, 2, 3, 4, 6, 7, 8, 9)} <= days


def test_a_rule_that_leads_to_no_day_ends(events_read):
    rule = "RRULE:FREQ=DAILY;COUNT=9;BYMONTH=2;BYMONTHDAY=30"
    assert rows(events_read(f"DTSTART:20260306T090000\n{rule}"), "date") == [("2026-03-06",)]


def test_several_titles_are_all_kept(events_read):
    table = events_read("DTSTART:20260305T090000\nSUMMARY:Sanding\nSUMMARY:outside\nSTATUS:CANCELLED\nSTATUS:X")
    assert rows(table, "operation") == [("Sanding; outside",)]


@pytest.mark.parametrize(
    ("title", "operation", "pieces", "note"),
    [
        ("Sanding for Quinby Marlowe", "Sanding", None, None),
        ("Sanding for Quinby: third coat", "Sanding", None, "third coat"),
        ("Sanding T-1 for Quinby", "Sanding", "T-1", None),
        ("Sanding for Quinby T-1", "Sanding", "T-1", None),
        ("Schleifen für Quinby", "Schleifen", None, None),
        ("Ponçage pour Quinby", "Ponçage", None, None),
        ("Lijado para Quinby", "Lijado", None, None),
        ("Schuren voor Quinby", "Schuren", None, None),
        ("Levigatura per Quinby", "Levigatura", None, None),
        ("Cleaning: the floor for Quinby", "Cleaning", None, "the floor"),
        ("frobbing for fairs", "frobbing for fairs", None, None),
        ("sanding for fairs", "sanding for fairs", None, None),
        ("frob for Quinby", "frob", None, None),
    ],
)
def test_whom_work_is_for_is_dropped_where_the_work_is_known(events_read, title, operation, pieces, note):
    event = f"DTSTART:20260305T090000\nDTEND:20260305T100000\nSUMMARY:{title}"
    table = events_read(event, operations=["Sanding for fairs", "frob", "schuren", "Lijado", "Ponçage", "levigatura"])
    assert rows(table, "operation", "pieces", "note") == [(operation, pieces, note)]


def test_titles_and_descriptions_are_masked_and_what_is_no_event_too(events_read):
    about = "DESCRIPTION:call 0171 5550199\\, 12 Oak Street"
    table = events_read(
        f"DTSTART:20260305T090000\nDTEND:20260305T100000\nSUMMARY:Sanding T-1 (mia@example.org)\n{about}",
        "SUMMARY:Sanding for Quinby",
    )
    assert rows(table, "operation", "note") == [("Sanding", "call (phone), (street)")]
    assert table.masked == 3
    assert table.ignored["text"].to_list() == ["Sanding"]


@pytest.mark.parametrize(
    ("start", "rule"),
    [
        ("20260306", "RRULE:FREQ=WEEKLY;UNTIL=20251231"),  # by RFC 5545, 3.8.5.3, the start is the first occurrence
        ("20260306", "RRULE:FREQ=WEEKLY;UNTIL=20251231\nRDATE;VALUE=DATE:20250101"),
        ("99980101", "RRULE:FREQ=YEARLY;COUNT=1"),
    ],
)
def test_the_day_that_an_event_is_written_for_is_never_lost(events_read, start, rule):
    """A library that expands rules on top of ours was tried, and drops these without a word."""
    table = events_read(f"DTSTART;VALUE=DATE:{start}\n{rule}\nSUMMARY:Cleaning")
    assert (f"{start[:4]}-{start[4:6]}-{start[6:]}",) in rows(table, "date")
