"""Rows set aside, written out, mended and put in their place, while the inbox stays as it is."""

import csv
import io
from pathlib import Path

import polars as pl
import pytest

from pipeline import database
from pipeline.commands import main
from pipeline.database.plan import Plan
from pipeline.errors import UserError
from pipeline.refresh import corrections, refresh
from pipeline.reports.finding import rows_of
from pipeline.shop import Shop, load
from pipeline.writing.formula_guard import neutral, restored

HOURS = (
    "Tag;Wer;Arbeit;Dauer;Stück;Bemerkung\n"
    "13.2.2026;Ada;sanding;1:30;T-1;\n"
    "04.03.2026;Ada;sanding;all day;T-1;=1+1\n"
    "31.2.2026;Ada;carving;2:00;T-2;-5\n"
)
MAPPING = """
files = "days.csv"
record = "hours"
[columns]
date = "Tag"
person = "Wer"
operation = "Arbeit"
hours = "Dauer"
pieces = "Stück"
note = "Bemerkung"
"""
PIECES = "piece,product\nT-1,tray\nT-2,tray\nT-2,bowl\n"


@pytest.fixture
def shop(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """A shop with two bad rows of hours, two pieces of one tag, and no models to run."""
    for name, text in (("inbox/days.csv", HOURS), ("inbox/pieces.csv", PIECES), ("mappings/days.toml", MAPPING)):
        (tiny_shop / name).parent.mkdir(exist_ok=True)
        (tiny_shop / name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(refresh, "read_plan", lambda: Plan({}, (), "", {}))
    monkeypatch.setattr(refresh, "run_models", lambda *_: None)
    monkeypatch.setattr(refresh, "run_checks", lambda *_: [])
    return load(tiny_shop)


def run(shop: Shop) -> refresh.Summary:
    summary = refresh.refresh(shop)
    files = rows(shop, "select rows, loaded + duplicate + set_aside + ignored from intake.file")
    assert all(all_rows == told for all_rows, told in files)
    return summary


def rows(shop: Shop, query: str) -> list[tuple[object, ...]]:
    with database.open_newest(shop.folder) as con:
        return con.execute(query).fetchall()


def written(shop: Shop) -> list[dict[str, str]]:
    """The rows set aside, as they stand in the CSV that is written out."""
    with database.open_newest(shop.folder) as con:
        rejected = rows_of(con, "from intake.rejected order by file, sheet, row, occurrence")
    return list(csv.DictReader(io.StringIO(corrections.csv_text(corrections.set_aside(shop, rejected)[0]))))


def put(shop: Shop, entries: list[dict[str, str]], name: str = "mended.csv") -> None:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(entries[0]))
    writer.writeheader()
    writer.writerows(entries)
    corrections.save(shop, name, out.getvalue())


def test_rows_set_aside_are_written_as_they_stand(shop: Shop) -> None:
    run(shop)
    found = written(shop)
    assert [(e["file"], e["row"], e["record"]) for e in found] == [
        ("inbox/days.csv", "3", "hours"),
        ("inbox/days.csv", "4", "hours"),
        ("inbox/pieces.csv", "3", "pieces"),
        ("inbox/pieces.csv", "4", "pieces"),
    ]
    first, second = found[:2]
    assert (first["date"], first["hours"], first["pieces"]) == ("04.03.2026", "all day", "T-1")
    assert first["reason"].startswith("Not a duration")
    assert first["suggestion"]
    assert (first["note"], second["note"]) == ("'=1+1", "-5")  # the one a spreadsheet would run, the other is a number
    assert [e["product"] for e in found] == ["", "", "tray", "bowl"]
    assert "started_at" not in first  # no file here has such a column


def test_a_mended_row_stands_for_its_row(shop: Shop) -> None:
    before = run(shop).counts
    assert (before["loaded"], before["set_aside"]) == (2, 4)
    inbox = (shop.folder / "inbox" / "days.csv").read_bytes()
    bad = written(shop)
    bad[0]["hours"], bad[1]["date"], bad[3]["piece"] = "7:00", "28.2.2026", "T-3"
    put(shop, bad)
    after = run(shop).counts
    assert (after["loaded"], after["duplicate"], after["set_aside"]) == (6, 4, 0)
    assert (shop.folder / "inbox" / "days.csv").read_bytes() == inbox
    # the file's own date order holds for the mend: 4 March
    assert rows(shop, "select on_date::varchar, seconds, note from records.hours order by 1") == [
        ("2026-02-13", 5400, None),
        ("2026-02-28", 7200, "-5"),
        ("2026-03-04", 25200, "=1+1"),
    ]
    places = "select file, row from records.hours join intake.row using (row_id) order by all"
    assert rows(shop, places) == [("inbox/days.csv", 2), ("mends/mended.csv", 2), ("mends/mended.csv", 3)]
    old = """
        select old.row, old.state, kept.file, kept.row from intake.row as old
        join intake.row as kept on kept.row_id = old.twin_of where old.state = 'superseded' order by old.file, old.row
    """
    assert rows(shop, old) == [
        (3, "superseded", "mends/mended.csv", 2),
        (4, "superseded", "mends/mended.csv", 3),
        (3, "superseded", "mends/mended.csv", 4),
        (4, "superseded", "mends/mended.csv", 5),
    ]
    ids = rows(shop, "select count(*), count(distinct row_id) from intake.row")[0]
    assert ids[0] == ids[1]
    assert rows(shop, "select how, rows, loaded, ignored from intake.file where file like 'mends/%'") == [
        ("mends", 5, 4, 1)
    ]


def test_a_mend_that_is_still_wrong_is_set_aside_and_written_out_for_its_first_row(shop: Shop) -> None:
    run(shop)
    first = written(shop)[:1]
    put(shop, [first[0] | {"hours": "a while"}], "a.csv")
    run(shop)
    told = rows(shop, "select file, row, text from intake.rejected where record = 'hours' order by all")
    assert told == [("inbox/days.csv", 4, "31.2.2026"), ("mends/a.csv", 2, "a while")]
    again = [e for e in written(shop) if e["hours"] == "a while"]
    assert [(e["file"], e["row"], e["mark"]) for e in again] == [("inbox/days.csv", "3", first[0]["mark"])]
    put(shop, [again[0] | {"hours": "2:15"}], "b.csv")
    run(shop)
    assert rows(shop, "select seconds from records.hours order by 1") == [(5400,), (8100,)]
    assert rows(shop, "select file, reason from intake.ignored where reason like 'mend%'") == [
        ("mends/a.csv", corrections.AGAIN)
    ]


def test_a_mend_whose_row_changed_or_went_is_listed_and_not_used(shop: Shop) -> None:
    run(shop)
    bad = written(shop)
    bad[0]["hours"], bad[1]["date"] = "7:00", "28.2.2026"
    put(shop, [*bad[:2], bad[0] | {"file": "inbox/gone.csv"}, bad[0] | {"row": "?"}])
    changed = HOURS.replace("all day", "2:00").rsplit("\n", 2)[0] + "\n"
    (shop.folder / "inbox" / "days.csv").write_text(changed, encoding="utf-8")
    run(shop)
    assert rows(shop, "select seconds from records.hours order by 1") == [(5400,), (7200,)]
    told = rows(shop, "select row, reason from intake.ignored where file like 'mends/%' and row > 1 order by row")
    assert told == [(2, corrections.CHANGED), (3, corrections.GONE), (4, corrections.GONE), (5, corrections.NO_PLACE)]


def test_a_mend_by_hand_needs_no_mark_and_leaves_other_cells(shop: Shop) -> None:
    put(shop, [{"File": "inbox/days.csv", "Row": "3", "hours": "1:00", "event": "FAIR"}])
    run(shop)
    found = rows(shop, "select on_date::varchar, seconds, event, note from records.hours where seconds = 3600")
    assert found == [("2026-03-04", 3600, "FAIR", "=1+1")]  # the file has no column for events


def test_records_of_their_own_in_mends_are_read_as_any_file(shop: Shop) -> None:
    text = "date,person,operation,hours\n2026-03-09,Ada,sanding,0:30\n"
    corrections.save(shop, "forgotten.csv", text)
    run(shop)
    assert rows(shop, "select how, loaded from intake.file where file like 'mends/%'") == [("canonical", 1)]


def test_a_row_without_header_is_mended_too(shop: Shop) -> None:
    (shop.folder / "inbox" / "days.csv").write_text(HOURS.partition("\n")[2], encoding="utf-8")
    columns = {"Tag": "c0", "Wer": "c1", "Arbeit": "c2", "Dauer": "c3", "Stück": "c4", "Bemerkung": "c5"}
    text = MAPPING
    for header, column in columns.items():
        text = text.replace(f'"{header}"', f'"{column}"')
    (shop.folder / "mappings" / "days.toml").write_text(text, encoding="utf-8")
    run(shop)
    bad = written(shop)[0]
    assert (bad["row"], bad["hours"]) == ("2", "all day")
    put(shop, [bad | {"hours": "4:00", "event": "FAIR"}])
    run(shop)
    assert rows(shop, "select seconds, event from records.hours order by 1") == [(5400, None), (14400, "FAIR")]


@pytest.mark.parametrize("name", ["../shop.toml", "a/b.csv", "mended.txt", ".hidden.csv"])
def test_a_mend_is_saved_nowhere_else(shop: Shop, name: str) -> None:
    with pytest.raises(UserError, match="plain name"):
        corrections.save(shop, name, "file,row\n")
    assert not (shop.folder / "mends").exists()


def test_the_command_writes_a_csv_for_each_record_that_can_be_dropped_in(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    run(shop)
    out = shop.folder / "aside.csv"
    assert main(["check", str(shop.folder), "--set-aside", str(out)]) == 0
    assert "2 of the rows set aside, hours," in capsys.readouterr().out
    assert main(["check", str(shop.folder), "--set-aside", str(out)]) == 2  # it stays as it is
    written = {name: (shop.folder / f"aside-{name}.csv").read_text(encoding="utf-8") for name in ("hours", "pieces")}
    heads = {name: text.splitlines()[0].split(",")[8:] for name, text in written.items()}
    assert heads["pieces"] == ["piece", "product"]
    assert heads["hours"] == ["date", "hours", "person", "operation", "pieces", "note"]
    for name, text in written.items():
        mended = text.replace("all day", "7:00").replace("31.2.2026", "28.2.2026").replace("T-2,bowl", "T-3,bowl")
        corrections.save(shop, f"aside-{name}.csv", mended)
    assert run(shop).counts["set_aside"] == 0


def test_the_rows_set_aside_of_one_record_go_to_the_file_that_is_named(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop.folder / "inbox" / "pieces.csv").write_text("piece,product\nT-1,tray\nT-2,tray\n", encoding="utf-8")
    run(shop)
    out = shop.folder / "aside.csv"
    assert main(["check", str(shop.folder), "--set-aside", str(out)]) == 0
    assert "2 of the rows set aside, hours," in capsys.readouterr().out and out.is_file()


# OWASP, "CSV Injection": cells that begin with =, +, -, @, tab or carriage return
@pytest.mark.parametrize("cell", ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1"])
def test_cells_that_a_spreadsheet_would_run_are_shown_instead(cell: str) -> None:
    frame = pl.DataFrame({"cell": [cell]})
    safe = frame.select(neutral(pl.col("cell")))
    assert safe["cell"].to_list() == [f"'{cell}"]
    assert safe.select(restored("cell"))["cell"].to_list() == [cell]


@pytest.mark.parametrize("cell", ["-12.50", "+5", "-1.234,50", "'tis", "a=b", "", None])
def test_other_cells_stay_as_they_are(cell: str | None) -> None:
    frame = pl.DataFrame({"cell": [cell]}, schema={"cell": pl.String})
    assert frame.select(neutral(pl.col("cell")))["cell"].to_list() == [cell]
    assert frame.select(restored("cell"))["cell"].to_list() == [cell]


SERIES = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//two benches//EN
BEGIN:VEVENT
UID:1
DTSTAMP:20260601T000000Z
DTSTART;VALUE=DATE:20260302
RRULE:FREQ=DAILY;COUNT=5
SUMMARY:Sanding T-1
END:VEVENT
END:VCALENDAR
"""


def test_each_time_of_a_repeating_event_is_a_row_of_its_own(shop: Shop) -> None:
    """All-day events have no hours: five rows of one line are set aside, and each can be mended by itself."""
    (shop.folder / "inbox" / "calendar.ics").write_text(SERIES.replace("\n", "\r\n"), newline="")
    before = run(shop).counts
    assert (before["rows"], before["loaded"], before["set_aside"]) == (13, 2, 9)
    found = [e for e in written(shop) if e["file"] == "inbox/calendar.ics"]
    assert [(e["row"], e["occurrence"], e["date"]) for e in found] == [
        ("4", str(k), f"2026-03-0{k + 2}") for k in range(5)
    ]
    put(shop, [found[3] | {"hours": "4:00"}, found[1] | {"hours": "2:00"}])
    after = run(shop).counts
    assert (after["loaded"], after["duplicate"], after["set_aside"]) == (4, 2, 7)
    worked = "select on_date::varchar, seconds // 3600 from records.hours where seconds > 5400 order by 1"
    assert rows(shop, worked) == [("2026-03-03", 2), ("2026-03-05", 4)]
    left = "select row, occurrence from intake.rejected where file like '%.ics' order by all"
    assert rows(shop, left) == [(4, 0), (4, 2), (4, 4)]
    gone = "select row, occurrence from intake.row where state = 'superseded' order by all"
    assert rows(shop, gone) == [(4, 1), (4, 3)]
