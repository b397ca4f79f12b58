"""The day's log: rows that a refresh reads back, timers, undo; nothing is lost by kills, full disks or haste."""

import csv
import errno
import os
import random
import signal
import subprocess
import sys
import threading
import time
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.new_shop.examples import examples
from pipeline.pages import daylog, entries
from pipeline.pages.daylog import WrittenBeforeError, add, drop, start, state, stop, undo
from pipeline.records import RECORDS
from pipeline.refresh.background import Progress
from pipeline.refresh.refresh import refresh
from pipeline.shop import Shop, load

ROOT = Path(__file__).parents[2]
SANDED = {"date": "2026-03-02", "hours": "1:30", "person": "Ada", "operation": "sanding", "pieces": "T-1"}


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    return load(tiny_shop)


def rows(shop: Shop) -> list[dict[str, str]]:
    """All rows of the log's files, without their empty cells, file by file."""
    found = []
    for path in sorted(shop.path("log").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            found += [{name: text for name, text in row.items() if text} for row in csv.DictReader(file)]
    return found


@pytest.mark.parametrize("record", RECORDS)
def test_each_record_comes_back_as_it_was_typed(shop: Shop, record: str) -> None:
    cells = {name: str(value) for name, value in examples(date(2026, 1, 1))[record][1].items() if name != "note"}
    entry = add(shop, record, cells)
    assert rows(shop) == [cells]
    assert entry.cells == cells
    assert entry.file.endswith(f"-{record}.csv")


def test_a_new_price_needs_no_place(shop: Shop) -> None:
    cells = {"date": "2026-03-02", "pieces": "T-1", "list_price": "310"}
    assert add(shop, "moves", cells).cells == cells
    assert rows(shop) == [cells]


def test_a_refresh_reads_what_was_typed(shop: Shop) -> None:
    from pipeline.database import open_newest

    add(shop, "pieces", {"piece": "T-1", "product": "tray", "started": "2026-03-01"})
    add(shop, "hours", SANDED)
    add(shop, "purchases", {"date": "2026-03-02", "item": "hard oil", "category": "finish", "quantity": "1.5 l",
                            "amount": "24.50", "note": 'two words, "quoted"\nand a line'})  # fmt: skip
    assert refresh(load(shop.folder)).published
    with open_newest(shop.folder) as con:
        files = con.execute("select record, how, loaded, set_aside from intake.file order by record").fetchall()
        assert files == [(r, "canonical", 1, 0) for r in ("hours", "pieces", "purchases")]
        assert con.execute("select seconds, operation, pieces from records.hours").fetchall() == [
            (5400, "sanding", ["T-1"])
        ]
        bought = con.execute("select quantity, quantity_unit, amount_cents, note from records.purchases").fetchall()
        assert bought == [(1_500_000, "ul", 2450, 'two words, "quoted" and a line')]


@pytest.mark.parametrize(
    ("record", "cells", "says"),
    [
        ("hours", {"date": "2026-03-02", "operation": "sanding"}, "hours \\(or the times"),
        ("hours", {**SANDED, "hours": "soon"}, "Not a duration"),
        ("sales", {"date": "2026-02-30", "channel": "market", "price": "12"}, "Not a date"),
        ("sales", {"date": "2026-03-02", "channel": "market", "price": "-12"}, "Outside what can be"),
        ("pours", {"pour": "P-1", "date": "2026-03-02", "part_a": "40"}, "No unit"),
        ("purchases", {"date": "2026-03-02", "item": "oil", "amount": "3"}, "Still needed: category\\."),
        ("sales", {"date": "2026-03-02"}, "Still needed: channel, price\\."),
        ("pieces", {"piece": "T-1", "product": "tray", "status": "finished"}, "needed: the day it was finished"),
        ("moves", {"date": "2026-03-02", "pieces": "T-1"}, "Still needed: place\\."),
        ("inspections", {"date": "2026-03-02", "piece": "T-1", "action": "hope"}, "Not one of the words allowed"),
        ("hours", {}, "Nothing was filled in"),
        ("hours", {"mood": "fine"}, "no field mood"),
        ("moods", {"date": "2026-03-02"}, "no record 'moods'"),
    ],
)
def test_what_a_refresh_would_set_aside_is_not_written(shop: Shop, record: str, cells: dict, says: str) -> None:
    with pytest.raises(UserError, match=says):
        add(shop, record, cells)
    assert rows(shop) == []
    assert state(shop).entries == []


def test_a_row_may_not_change_what_the_day_s_others_say(shop: Shop) -> None:
    add(shop, "hours", SANDED | {"date": "13/03/2026"})  # alone it shows that the day comes first
    with pytest.raises(UserError, match="some the month"):
        add(shop, "hours", SANDED | {"date": "03/14/2026"})
    assert [row["date"] for row in rows(shop)] == ["13/03/2026"]
    sale = {"date": "2026-03-02", "channel": "market", "product": "tray"}
    add(shop, "sales", sale | {"price": "7.50"})
    add(shop, "sales", sale | {"price": "1,234"})  # by the point above it, a thousand and more
    with pytest.raises(UserError, match="read as something else"):
        add(shop, "sales", sale | {"price": "8,50"})
    assert [row["price"] for row in rows(shop) if "price" in row] == ["7.50", "1,234"]


def test_a_file_that_was_changed_by_hand_is_left_alone(shop: Shop) -> None:
    path = shop.path("log") / add(shop, "hours", SANDED).file
    path.write_text("my own notes\n", encoding="utf-8")
    second = add(shop, "hours", SANDED)
    assert path.read_text(encoding="utf-8") == "my own notes\n"
    assert second.file == path.name.replace(".csv", "-2.csv")


def test_undo_takes_the_last_entry_back_and_then_the_one_before(shop: Shop) -> None:
    add(shop, "hours", SANDED)
    add(shop, "inspections", {"date": "2026-03-02", "piece": "T-1"})
    add(shop, "hours", SANDED | {"hours": "0:20"})
    assert undo(shop).cells["hours"] == "0:20"
    assert undo(shop).record == "inspections"
    assert rows(shop) == [SANDED]
    assert not list(shop.path("log").glob("*inspections*"))  # no row left, no file
    undo(shop)
    with pytest.raises(UserError, match="no entry to take back"):
        undo(shop)


def test_undo_of_what_a_refresh_has_read_leaves_its_row_and_takes_it_out(shop: Shop, clock: dict) -> None:
    """Figures stood on it: its row stays in the log as it was, superseded, and counts no more."""
    add(shop, "hours", SANDED)
    timer = start(shop, {"operation": "carving"})
    clock["now"] += timedelta(minutes=20)
    stop(shop, timer.id)
    refresh(shop)
    path = shop.path("log") / state(shop).entries[-1].file
    written = path.read_text(encoding="utf-8")
    assert undo(shop).cells["operation"] == "carving"
    assert state(shop).timers == [timer]
    assert path.read_text(encoding="utf-8") == written
    stop(shop, timer.id)  # behind the one that was taken back, and never read
    assert len(rows(shop)) == 3
    undo(shop)
    assert len(rows(shop)) == 2 and state(shop).timers == [timer]
    assert undo(shop).cells["operation"] == "sanding"
    with pytest.raises(UserError, match="no entry to take back"):
        undo(shop)
    refresh(shop)
    with open_newest(shop.folder) as con:
        assert con.execute("from records.hours").fetchall() == []
        assert con.execute("select count(*) from intake.ignored where reason = 'told to be no record'").fetchone() == (
            2,
        )
    assert [each.taken_back for each in entries.of_day(shop, "2026-03-02")] == [True, True]


def test_undo_while_a_refresh_runs_leaves_the_row(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    add(shop, "hours", SANDED)
    monkeypatch.setattr("pipeline.refresh.background.progress", lambda _: Progress(True, "starting"))
    undo(shop)
    assert rows(shop) == [SANDED] and state(shop).entries == []


def test_undo_that_is_refused_takes_nothing_from_the_list(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    add(shop, "hours", SANDED)
    refresh(shop)

    def full(*_: object) -> Path:
        raise UserError("no room")

    with monkeypatch.context() as disk:
        disk.setattr("pipeline.refresh.corrections.save", full)
        with pytest.raises(UserError, match="no room"):
            undo(shop)
    assert len(state(shop).entries) == 1
    undo(shop)
    assert state(shop).entries == []


def test_undo_leaves_a_row_that_was_changed_by_hand(shop: Shop) -> None:
    path = shop.path("log") / add(shop, "hours", SANDED).file
    changed = path.read_text(encoding="utf-8").replace("1:30", "2:30")
    path.write_text(changed, encoding="utf-8")
    with pytest.raises(UserError, match="changed since"):
        undo(shop)
    assert path.read_text(encoding="utf-8") == changed


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch):
    """A clock that the test sets."""
    times = {"now": datetime.fromisoformat("2026-03-02T09:00:00+00:00")}
    monkeypatch.setattr(Shop, "now", lambda _: times["now"])
    return times


def test_a_timer_becomes_a_row_of_hours(shop: Shop, clock: dict) -> None:
    timer = start(shop, {"operation": "sanding", "pieces": "T-1; T-2", "person": "Ada"})
    clock["now"] += timedelta(hours=1, minutes=45, seconds=10)
    assert state(load(shop.folder)).timers == [timer]  # it is on the disk: a restart loses none
    stop(shop, timer.id, {"rework": "yes"})
    assert state(shop).timers == []
    assert rows(shop) == [
        {
            "date": "2026-03-02", "started_at": "09:00", "ended_at": "10:45", "hours": "1:45:10", "person": "Ada",
            "operation": "sanding", "pieces": "T-1; T-2", "rework": "yes",
        }
    ]  # fmt: skip
    with pytest.raises(UserError, match="runs no more"):
        stop(shop, timer.id)


def test_a_timer_over_midnight_counts_on_the_day_it_began(shop: Shop, clock: dict) -> None:
    clock["now"] = datetime.fromisoformat("2026-03-02T23:30:00+00:00")
    timer = start(shop, {"operation": "carving"})
    clock["now"] += timedelta(hours=1)
    cells = stop(shop, timer.id).cells
    assert (cells["date"], cells["started_at"], cells["ended_at"], cells["hours"]) == (
        "2026-03-02",
        "23:30",
        "00:30",
        "1:00:00",
    )


def test_a_timer_that_was_forgotten_is_no_work(shop: Shop, clock: dict) -> None:
    timer = start(shop, {"operation": "carving"})
    clock["now"] += timedelta(days=2)
    with pytest.raises(UserError, match="more than a day"):
        stop(shop, timer.id)
    drop(shop, timer.id)
    assert state(shop).timers == []
    assert rows(shop) == []


def test_undo_of_a_stop_lets_the_timer_run_on(shop: Shop, clock: dict) -> None:
    timer = start(shop, {"operation": "carving"})
    clock["now"] += timedelta(minutes=5)
    stop(shop, timer.id)
    undo(shop)
    assert state(shop).timers == [timer]
    assert rows(shop) == []


def test_what_has_an_id_is_written_once_whatever_became_of_it(
    shop: Shop, clock: dict, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(daylog, "REMEMBERED", 2)
    first = add(shop, "hours", SANDED, "a1")
    with pytest.raises(WrittenBeforeError) as told:
        add(shop, "hours", SANDED | {"note": "sent again"}, "a1")
    assert told.value.entry.id == first.id
    undo(shop)  # what was taken back stays so, however late it is sent again
    for again in range(3):
        with pytest.raises(WrittenBeforeError):
            add(shop, "hours", SANDED, "a1")
        add(shop, "hours", SANDED, f"b{again}")
    assert [entry.id for entry in state(shop).entries] == ["b1", "b2"]
    with pytest.raises(WrittenBeforeError):
        add(shop, "hours", SANDED, "b0")  # it has left the list, and is known all the same
    assert len(rows(shop)) == 3


def test_a_timer_of_an_id_begins_and_ends_once_and_when_it_was_said(shop: Shop, clock: dict) -> None:
    timer = start(shop, {"operation": "carving"}, "t1", ago_s=600)  # said ten minutes ago, without a connection
    clock["now"] += timedelta(minutes=30)
    entry = stop(shop, timer.id, entry_id="e1", ago_s=60)
    assert (entry.cells["started_at"], entry.cells["hours"]) == ("08:50", "0:39:00")
    for sent in (
        lambda: start(shop, {"operation": "carving"}, "t1"),
        lambda: stop(shop, "t1", entry_id="e1"),
    ):
        with pytest.raises(WrittenBeforeError):
            sent()
    drop(shop, start(shop, {"operation": "carving"}, "t2").id)
    with pytest.raises(WrittenBeforeError):
        start(shop, {"operation": "carving"}, "t2")
    assert (state(shop).timers, len(rows(shop))) == ([], 1)


def test_an_entry_that_was_not_written_is_not_taken_for_an_equal_one(shop: Shop, monkeypatch) -> None:
    """Two equal entries are two: a pour logged twice was poured twice."""
    add(shop, "hours", SANDED, "a1")
    write = daylog.whole.write

    def full(path: Path, content: str) -> Path:
        if path.suffix == ".csv":
            raise UserError("no room")
        return write(path, content)

    with monkeypatch.context() as disk:
        disk.setattr(daylog.whole, "write", full)
        with pytest.raises(UserError, match="no room"):
            add(shop, "hours", SANDED, "a2")
    assert [entry.id for entry in state(shop).entries] == ["a1"]
    add(shop, "hours", SANDED, "a2")  # the device sends it again
    assert len(rows(shop)) == 2
    undo(shop)
    assert [entry.id for entry in state(shop).entries] == ["a1"]


def test_three_at_once_lose_nothing(shop: Shop) -> None:
    """As two browsers and a phone do: each entry from a thread of its own, a lock of its own, at the same time."""
    told: list[str] = []

    def type_in(name: str) -> None:
        for number in range(7):
            add(shop, "hours", SANDED | {"note": f"{name} {number}"})
            told.append(f"{name} {number}")

    threads = [threading.Thread(target=type_in, args=(name,)) for name in ("laptop", "tablet", "phone")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(told) == 21
    assert sorted(row["note"] for row in rows(shop)) == sorted(told)
    assert len(state(shop).entries) == 21


def test_typing_waits_for_no_refresh(shop: Shop) -> None:
    from pipeline.database import lock

    with lock(shop.folder):  # as a refresh holds it
        add(shop, "hours", SANDED)
    assert len(rows(shop)) == 1


FAILURES = {
    "full disk": OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)),
    "no right": PermissionError(errno.EACCES, os.strerror(errno.EACCES)),
    "bad disk": OSError(errno.EIO, os.strerror(errno.EIO)),
}


@pytest.mark.parametrize("step", [1, 2, 3])
@pytest.mark.parametrize("call", ["fsync", "replace"])
@pytest.mark.parametrize("failure", FAILURES)
def test_a_write_that_fails_says_so_and_changes_nothing(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, failure: str, call: str, step: int
) -> None:
    """It fails at the announcement, at the row, or at the confirmation; with the last, the row is already safe."""
    add(shop, "hours", SANDED)
    real, calls = getattr(os, call), []
    per_write = 2 if call == "fsync" else 1  # the file, and its folder

    def failing(*args, **named):
        calls.append(1)
        if len(calls) == per_write * (step - 1) + 1:
            raise FAILURES[failure]
        return real(*args, **named)

    second = SANDED | {"hours": "0:20"}
    with monkeypatch.context() as patch:
        patch.setattr(os, call, failing)
        if step < 3:
            with pytest.raises(UserError, match=r"(?s)could not be written: .* Nothing was lost"):
                add(shop, "hours", second)
        else:
            add(shop, "hours", second)
    kept = [SANDED] if step < 3 else [SANDED, second]
    assert rows(shop) == kept
    assert [entry.cells for entry in state(shop).entries] == kept
    assert not list(shop.path("log").glob(".*.part"))
    add(shop, "hours", SANDED | {"hours": "0:40"})  # and it goes on
    assert len(rows(shop)) == len(kept) + 1


def test_a_folder_that_cannot_be_written_says_so(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args, **_named):
        raise FAILURES["no right"]

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(UserError, match="could not be written"):
        add(shop, "hours", SANDED)


# One process imports everything once and forks for each round. A child writes prepared rows as fast as it can and tells
# each that is done; it never gets to the end.
WRITER = """
import os, sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from pipeline.pages import daylog, log_rows
from pipeline.shop import load

shop = load(Path(sys.argv[1]))

def write(number):
    out = os.open(sys.argv[2], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    while True:
        number += 1
        kind = number % 4
        with daylog._held(shop) as home:
            at = shop.now()
            path = log_rows.file_of(home, "hours", "2026-03-02")
            cells = {"date": "2026-03-02", "hours": "1:30", "operation": "sanding", "note": str(number)}
            timer = None
            if kind == 0:
                timer = daylog.Timer(f"timer {number}", at.isoformat(), {"operation": "sanding"})
                known = daylog._resolved(home)
                daylog._keep(home, daylog.State([timer], known.entries))
            row = log_rows.row_of("hours", cells)
            rows = log_rows.rows_of(path)
            told = asdict(timer) if timer else None
            entry = daylog.Entry(str(number), at.isoformat(), "hours", path.name, row, told, rows=len(rows) + 1)
            daylog._append(home, path, rows, entry)
        os.write(out, f"+{number}\\n".encode())
        if kind == 2:
            gone = daylog.undo(shop).cells["note"]
            os.write(out, f"-{gone}\\n".encode())

for line in sys.stdin:
    child = os.fork()
    if not child:
        write(int(line))
    print(child, flush=True)
    os.waitpid(child, 0)
    print("ended", flush=True)
"""
KILLS = 200


@pytest.mark.slow
def test_a_kill_at_any_moment_loses_at_most_what_is_being_typed(shop: Shop, tmp_path: Path) -> None:
    told = tmp_path / "told"
    told.touch()
    chance = random.Random(7)
    shop.path("log").mkdir()
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(shop.folder), str(told)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    assert writer.stdin and writer.stdout
    kept: list[int] = []
    cut_short = 0
    for round_number in range(KILLS):
        told.write_text("")
        first = (round_number + 1) * 100_000
        writer.stdin.write(f"{first}\n")
        writer.stdin.flush()
        child = int(writer.stdout.readline())
        until = time.monotonic() + 60
        while round_number % 2 and not told.stat().st_size:  # half of them in the midst of a run of entries
            assert time.monotonic() < until, "nothing is written"
            time.sleep(0.001)
        time.sleep(chance.uniform(0, 0.02))
        os.kill(child, signal.SIGKILL)
        assert writer.stdout.readline() == "ended\n"
        for line in told.read_text().splitlines():
            kept = [*kept, int(line[1:])] if line[0] == "+" else kept[: kept.index(int(line[1:]))]
        found = [int(row["note"]) for row in rows(shop)]
        # every entry that was told done, and at most the one step that was under way: one more, or one less by undo
        assert (found[: len(kept)] == kept and len(found) <= len(kept) + 1) or found == kept[:-1]
        cut_short += found != kept
        seen = state(shop)
        assert [int(entry.cells["note"]) for entry in seen.entries][-20:] == found[-20:]
        assert len(seen.timers) <= 1
        # a timer that runs has no row yet
        assert not {f"timer {number}" for number in found} & {timer.id for timer in seen.timers}
        kept = found
    writer.communicate()
    assert writer.returncode == 0
    assert len(kept) > KILLS / 4, "too little was written to tell"
    assert cut_short, "no kill came in the midst of an entry"
    add(shop, "hours", SANDED)
    assert len(rows(shop)) == len(kept) + 1
