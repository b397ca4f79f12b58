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

import json
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from pipeline.errors import UserError
from pipeline.pages.log_rows import FOLDER as FOLDER
from pipeline.pages.log_rows import check, file_of, header, row_of, rows_of, text_of
from pipeline.records import RECORDS
from pipeline.shop import Shop, format_versions
from pipeline.writing import whole

STATE, _LOCK = ".running.json", ".lock"
LOCK_WAIT_S, _ASK_EVERY_S = 30.0, 0.01
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
        return {name: text for name, text in zip(header(self.record), self.row, strict=False) if text}


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
        rows = rows_of(home / entry.file)
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
            whole.write(home / entry.file, text_of(entry.record, rows[:-1]))
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
        check(shop, "hours", [], row_of("hours", trial | {"date": f"{begun:%Y-%m-%d}", "hours": "1:00"}))
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
    row, at = row_of(record, cells), shop.now()
    path = file_of(home, record, f"{at:%Y-%m-%d}")
    rows = rows_of(path)
    check(shop, record, rows, row)
    own, told = entry_id or uuid.uuid4().hex, asdict(timer) if timer else None
    entry = Entry(own, at.isoformat(timespec="seconds"), record, path.name, row, told, rows=len(rows) + 1)
    return _append(home, path, rows, entry)


def _append(home: Path, path: Path, rows: list[list[str]], entry: Entry) -> Entry:
    """Announce the entry, write its row, confirm it: whenever this ends, what stands in the file is what counts."""
    known = _resolved(home)
    _announce(home, replace(known, entries=[*known.entries, entry]))
    whole.write(path, text_of(entry.record, [*rows, entry.row]))
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
        rows = rows_of(home / entry.file)
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


# --- files ------------------------------------------------------------------------------------------------------------


@contextmanager
def _held(shop: Shop) -> Iterator[Path]:
    """Hold the log's own lock; gives the folder."""
    home = shop.path(FOLDER)
    try:
        whole.make_folder(home)
        with FileLock(home / _LOCK, timeout=LOCK_WAIT_S, poll_interval=_ASK_EVERY_S):
            for stale in home.glob(".*.part"):  # under the lock nobody is writing: it is of one that was killed
                stale.unlink(missing_ok=True)
            yield home
    except Timeout:
        raise UserError("Somebody else is writing to the log.", str(home), "Wait a moment, then try again.") from None
    except OSError as error:
        raise whole.unwritten(home, error) from error


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
