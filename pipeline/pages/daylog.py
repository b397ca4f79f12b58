"""The day's log: records typed at the bench, and timers that run, written to the shop's `log/`.

Each record and day has one small CSV under the record's own field names, so that it maps itself. A row is put down only
if a refresh would read it back as it was meant: the file as it would become goes through the same reader, mapping and
cleaning first. Files are written under a name that nobody reads and put in place in one step, under a short lock of
their own, so that typing goes on while a refresh holds the shop's. What runs, and what was written last, is in
`log/.running.json`: an entry stands there before its row does, and counts once the row is in its file, so that a kill
at any moment loses no more than the entry being written.

A device that lost its connection can't know whether an entry arrived, and sends it again. So whoever asks may give the
entry, or the timer, an id of its own: what has that id is written once, however often it is sent.
"""

import csv
import io
import json
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filelock import FileLock, Timeout

from pipeline.errors import UserError
from pipeline.records import RECORDS
from pipeline.shop import Shop, format_versions
from pipeline.writing import whole

if TYPE_CHECKING:
    from pipeline.cleaning import Cleaned

FOLDER = "log"
STATE, _LOCK = ".running.json", ".lock"
LOCK_WAIT_S = 15.0
REMEMBERED = 200
"""Entries that are remembered for the day's list and for undo."""

PAST_IDS = 4000
"""Ids that are remembered of entries and timers that are no longer among those, so that none comes twice."""

LONGEST_TIMER_S = 24 * 3600


class WrittenBeforeError(Exception):
    """What has this id was written before: nothing was written now. `entry` is it, where it is still remembered."""

    def __init__(self, entry: "Entry | None" = None) -> None:
        super().__init__("written before")
        self.entry = entry


@dataclass(frozen=True)
class Timer:
    """Work that runs: since when (with its offset), and the cells its row will have."""

    id: str
    since: str
    cells: dict[str, str]

    def seconds(self, now: datetime) -> int:
        return max(0, int((now - datetime.fromisoformat(self.since)).total_seconds()))


@dataclass(frozen=True)
class Entry:
    """A row of the log: its file, the row's cells, when it was written, and the timer that it ended, if any.

    `sure` is False from before its row is written until after, and again while it is taken back. `rows`: how many the
    file has with it, which tells it from an equal row before it.
    """

    id: str
    at: str
    record: str
    file: str
    row: list[str]
    timer: dict[str, Any] | None = None
    sure: bool = False
    rows: int = 0

    @property
    def cells(self) -> dict[str, str]:
        """Field → text, without the empty ones."""
        return {name: text for name, text in zip(_header(self.record), self.row, strict=False) if text}


@dataclass
class State:
    """What runs, and what was written last, oldest first; `past`: ids of what was, and is in neither any more.

    `out`: the file in `mends/` that takes the last entry out, from before it is written.
    """

    timers: list[Timer] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    past: list[str] = field(default_factory=list)
    out: str = ""


def state(shop: Shop) -> State:
    """What runs and what was written last, as far as it is sure. Waits for nobody."""
    home = shop.path(FOLDER)
    try:
        return _resolved(home)
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise UserError(f"The log can't be read: {why}.", str(home), "Make it a folder that you may read.") from error


def add(shop: Shop, record: str, cells: Mapping[str, str], entry_id: str = "") -> Entry:
    """Write one record. Raises `UserError`, and writes nothing, where it would be set aside or the disk fails.

    `entry_id`: the id that the entry has where it was made; written before, it raises `WrittenBeforeError`.
    """
    with _held(shop) as home:
        refuse_twice(_resolved(home), entry_id)
        return _add(shop, home, record, cells, None, entry_id)


def undo(shop: Shop) -> Entry:
    """Take back the last entry; a timer that it ended runs again. Raises `UserError` where there is none to take.

    A row that no refresh can have read goes. Any other stays as it is, superseded by a mend that takes it out.
    """
    from pipeline.pages import entries

    with _held(shop) as home:
        known = _resolved(home)
        if not known.entries:
            raise UserError("There is no entry to take back.")
        entry = known.entries.pop()
        rows = _rows(home / entry.file)
        at, last = entries.last_that_stands(shop, home / entry.file)
        if not last or at >= len(rows) or rows[at] != entry.row:
            raise UserError(
                "The file of the last entry was changed since, so it can't be taken back here.",
                f"{FOLDER}/{entry.file}",
                "Take the row out in the file itself.",
            )
        if last.changed or at + 1 < len(rows) or entries.may_be_read(shop, home / entry.file):
            name = entries.new_name(shop)
            _announce(home, replace(known, entries=[*known.entries, entry], out=name))
            entries.take_out(shop, last, name)
            with suppress(UserError):  # the mend counts already; the next look sees that
                _keep(home, _resolved(home))
            return entry
        unsure = replace(entry, sure=False, rows=len(rows))
        _announce(home, State(known.timers, [*known.entries, unsure], [*known.past, entry.id]))
        if len(rows) > 1:
            whole.write(home / entry.file, _text(entry.record, rows[:-1]))
        else:
            whole.take_away(home / entry.file)
        with suppress(UserError):  # the row is gone already; the next look sees that
            _keep(home, _resolved(home))
        return entry


def start(shop: Shop, cells: Mapping[str, str], timer_id: str = "", ago_s: float = 0) -> Timer:
    """Let a timer run for the hours row that `cells` describe (operation, pieces, person, machine …).

    `timer_id`, `ago_s`: the id that it has, and how long ago it was begun, where that was said without a connection.
    """
    with _held(shop) as home:
        refuse_twice(_resolved(home), timer_id)
        begun = shop.now() - timedelta(seconds=ago_s)
        trial = {name: text for name, text in cells.items() if text.strip()}
        _check(shop, home, "hours", [], _row("hours", trial | {"date": f"{begun:%Y-%m-%d}", "hours": "1:00"}))
        known = _resolved(home)
        timer = Timer(timer_id or uuid.uuid4().hex, begun.isoformat(timespec="seconds"), trial)
        _keep(home, replace(known, timers=[*known.timers, timer]))
        return timer


def stop(
    shop: Shop, timer_id: str, cells: Mapping[str, str] | None = None, entry_id: str = "", ago_s: float = 0
) -> Entry:
    """End a timer and write its row, with more `cells` if need be. Raises `UserError` where it no longer runs.

    `entry_id`, `ago_s`: as of `add` and `start`.
    """
    with _held(shop) as home:
        refuse_twice(_resolved(home), entry_id)
        timer = _timer(home, timer_id)
        end, begun = shop.now() - timedelta(seconds=ago_s), datetime.fromisoformat(timer.since)
        seconds = max(1, timer.seconds(end))
        if seconds > LONGEST_TIMER_S:
            raise UserError(
                "This timer has run for more than a day; nobody stood there so long.",
                mend="Throw it away, and log the work with its true hours.",
            )
        times = {
            "date": f"{begun:%Y-%m-%d}",
            "started_at": f"{begun:%H:%M}",
            "ended_at": f"{end.astimezone(begun.tzinfo):%H:%M}",
            "hours": f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}",
        }
        return _add(shop, home, "hours", timer.cells | times | dict(cells or {}), timer, entry_id)


def drop(shop: Shop, timer_id: str, wish_id: str = "") -> None:
    """Throw a timer away without a row. `wish_id`: the id of the wish, as of `add`."""
    with _held(shop) as home:
        known = _resolved(home)
        refuse_twice(known, wish_id)
        _timer(home, timer_id)
        others = [t for t in known.timers if t.id != timer_id]
        wish = [wish_id] if wish_id else []
        _keep(home, replace(known, timers=others, past=[*known.past, timer_id, *wish]))


def refuse_twice(known: State, given: str) -> None:
    """Raises `WrittenBeforeError` where an entry or a timer of this id was written, whatever became of it since."""
    if not given:
        return
    for entry in known.entries:
        if given in _ids(entry):
            raise WrittenBeforeError(entry)
    if given in known.past or any(given == timer.id for timer in known.timers):
        raise WrittenBeforeError


def _ids(entry: Entry) -> list[str]:
    """The ids that stand for an entry: its own, and that of the timer which it ended."""
    return [entry.id, *([entry.timer["id"]] if entry.timer else [])]


def _timer(home: Path, timer_id: str) -> Timer:
    found = next((t for t in _resolved(home).timers if t.id == timer_id), None)
    if not found:
        raise UserError("This timer runs no more.", mend="It was stopped elsewhere: see the day's entries.")
    return found


def _add(
    shop: Shop, home: Path, record: str, cells: Mapping[str, str], timer: Timer | None, entry_id: str = ""
) -> Entry:
    if record not in RECORDS:
        raise UserError(f"There is no record {record!r}.", mend=f"Choose one of: {', '.join(RECORDS)}.")
    row, at = _row(record, cells), shop.now()
    path = _file(home, record, f"{at:%Y-%m-%d}")
    rows = _rows(path)
    _check(shop, home, record, rows, row)
    own, told = entry_id or uuid.uuid4().hex, asdict(timer) if timer else None
    entry = Entry(own, at.isoformat(timespec="seconds"), record, path.name, row, told, rows=len(rows) + 1)
    return _append(home, path, rows, entry)


def _append(home: Path, path: Path, rows: list[list[str]], entry: Entry) -> Entry:
    """Announce the entry, write its row, confirm it: whenever this ends, what stands in the file is what counts."""
    known = _resolved(home)
    _announce(home, replace(known, entries=[*known.entries, entry]))
    whole.write(path, _text(entry.record, [*rows, entry.row]))
    with suppress(UserError):  # the row is safe; the next look sees that
        _keep(home, _resolved(home))
    return entry


def _resolved(home: Path) -> State:
    """The state, with what was under way when somebody was killed settled by what the files hold."""
    known = _load(home)
    if known.entries and known.out and _is_mended(home, known.out):
        entry = known.entries.pop()
        known.timers += [Timer(**entry.timer)] if entry.timer else []
        known.past.append(entry.id)
    known.out = ""
    if known.entries and not known.entries[-1].sure:
        entry = known.entries.pop()
        rows = _rows(home / entry.file)
        timer = Timer(**entry.timer) if entry.timer else None
        others = [t for t in known.timers if not timer or t.id != timer.id]
        # an entry of an older form says no number of rows
        if rows and rows[-1] == entry.row and len(rows) >= entry.rows:
            known.entries.append(replace(entry, sure=True))
            known.timers = others
        elif timer:
            known.timers = [*others, timer]
    known.past += [each for entry in known.entries[:-REMEMBERED] for each in _ids(entry)]
    known.entries, known.past = known.entries[-REMEMBERED:], known.past[-PAST_IDS:]
    return known


def _is_mended(home: Path, name: str) -> bool:
    from pipeline.refresh.corrections import FOLDER as MENDS  # here: it loads much that the shop floor has no use for

    return (home.parent / MENDS / name).is_file()


# --- whether a row will be read back as it was meant ------------------------------------------------------------------


def _row(record: str, cells: Mapping[str, str]) -> list[str]:
    """The cells in the order of the record's fields, on one line each."""
    header = _header(record)
    strange = sorted(set(cells) - set(header))
    if strange:
        raise UserError(f"A record of {record} has no field {strange[0]}.", mend=f"Known ones: {', '.join(header)}.")
    row = [" ".join(str(cells.get(name) or "").split()) for name in header]
    if not any(row):
        raise UserError("Nothing was filled in.", mend="Fill what you know; the fields that are needed say so.")
    return row


def _check(shop: Shop, home: Path, record: str, rows: list[list[str]], row: list[str]) -> None:
    """Raises `UserError` unless a refresh would load `row` from the file, and the file's other rows as before."""
    if missing := list(_missing(record, dict(zip(_header(record), row, strict=True)))):
        raise UserError(
            f"Still needed: {', '.join(missing)}.", mend="Nothing was logged yet; what you filled in stays."
        )
    number, after = _cleaned(shop, record, [*rows, row])
    faults = {fault["row"]: fault for fault in after.rejected.rows(named=True)}
    if number in faults:
        own = faults[number]
        said = f" “{own['text']}”" if own["text"] else ""
        raise UserError(f"{own['field'].replace('_', ' ')}{said}: {own['reason']}", mend=own["suggestion"])
    others = after.frame.filter(after.frame["row"] != number)
    if rows and not others.equals(_cleaned(shop, record, rows)[1].frame):
        raise UserError(
            "With this entry the day's earlier ones would be read as something else.",
            mend="Write numbers with a point (12.50) and dates as 2026-05-31.",
        )


def _missing(record: str, cells: Mapping[str, str]) -> Iterator[str]:
    """All that the record still needs, as one says it."""
    yield from (f.name.replace("_", " ") for f in RECORDS[record] if f.required and not cells[f.name])
    if record == "hours" and not cells["hours"] and not (cells["started_at"] and cells["ended_at"]):
        yield "hours (or the times it began and ended)"
    if record == "pieces" and cells["status"] == "finished" and not cells["finished"]:
        yield "the day it was finished"  # without it the piece counts nowhere as finished


def _cleaned(shop: Shop, record: str, rows: list[list[str]]) -> "tuple[int, Cleaned]":
    """The row number of the last of `rows` in its file, and what a refresh would make of the file."""
    from pipeline import mapping
    from pipeline.cleaning import clean
    from pipeline.proposing import suggestion
    from pipeline.readers.csv import tables_in

    name = f"{FOLDER}/{record}.csv"
    tables = [t for t in tables_in(_text(record, rows).encode()) if t.frame.height]
    if len(tables) != 1 or tables[0].frame.height != len(rows):
        raise UserError("This row would not be read as a record.", mend="Fill more of its fields.")
    how = suggestion.choose(mapping.load(shop.path("mappings")), name, tables[0], shop)
    if not how or how.record != record:
        raise UserError(
            "A mapping of this shop takes the log's files for something else.",
            str(shop.path("mappings")),
            'Make its `files` narrower, so that it fits none of "log/*".',
        )
    return int(tables[0].frame["row"][-1]), clean(tables[0], how, shop, name)


# --- files ------------------------------------------------------------------------------------------------------------


@contextmanager
def _held(shop: Shop) -> Iterator[Path]:
    """Hold the log's own lock; gives the folder."""
    home = shop.path(FOLDER)
    try:
        whole.make_folder(home)
        with FileLock(home / _LOCK, timeout=LOCK_WAIT_S):
            for stale in home.glob(".*.part"):  # under the lock nobody is writing: it is of one that was killed
                stale.unlink(missing_ok=True)
            yield home
    except Timeout:
        raise UserError("Somebody else is writing to the log.", str(home), "Wait a moment, then try again.") from None
    except OSError as error:
        raise whole.unwritten(home, error) from error


def _header(record: str) -> list[str]:
    return [f.name for f in RECORDS[record]]


def _file(home: Path, record: str, day: str) -> Path:
    """The day's file of a record; one that was changed by hand into another shape is left alone."""
    for number in range(1, 100):
        path = home / (f"{day}-{record}.csv" if number == 1 else f"{day}-{record}-{number}.csv")
        if not path.exists() or _lines(path)[:1] == [_header(record)]:
            return path
    raise UserError("The log's files of this day were all changed by hand.", str(home), "Move them to the inbox.")


def _lines(path: Path) -> list[list[str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (FileNotFoundError, UnicodeDecodeError):
        return []
    return [line for line in csv.reader(io.StringIO(text, newline="")) if any(line)]


def _rows(path: Path) -> list[list[str]]:
    return _lines(path)[1:]


def _text(record: str, rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([_header(record), *rows])
    return out.getvalue()


def _load(home: Path) -> State:
    try:
        data = json.loads((home / STATE).read_text(encoding="utf-8"))
        format_versions.refuse_newer("log", data.get(format_versions.KEY), str(home / STATE))
        timers, entries = [Timer(**t) for t in data["timers"]], [Entry(**e) for e in data["entries"]]
        return State(timers, entries, [str(each) for each in data.get("past", [])], Path(data.get("out", "")).name)
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return State()  # the rows themselves are in their files


def _keep(home: Path, known: State) -> None:
    whole.write(home / STATE, _told(known))


def _announce(home: Path, known: State) -> None:
    """Keep what is about to be done to a row: nothing is done yet, whatever becomes of this."""
    whole.write_ahead(home / STATE, _told(known))


def _told(known: State) -> str:
    told = {format_versions.KEY: format_versions.NEWEST["log"], **asdict(known)}
    return json.dumps(told, ensure_ascii=False, indent=1) + "\n"
