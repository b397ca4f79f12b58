"""iCalendar files (RFC 5545): each event is a row of hours, under the canonical field names.

An event's title holds the operation, the tags of the pieces, and the word "rework" where that is so; what stands behind
the tags or a colon is a note. Recurring events are written out. Attendees, organisers and places are never read: they
name people.
"""

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pipeline.errors import UserError
from pipeline.readers.encoding import decode
from pipeline.readers.tables import TextTable, frame_of, ignored_of

NAMES = ("date", "started_at", "ended_at", "hours", "operation", "pieces", "rework", "note")
MOST_OCCURRENCES = 2_000
_TAG = r"(?:[A-Z]{1,4}|[a-z])-\d+[a-z]?"
_TAGS = re.compile(
    rf"\b{_TAG}(?:\s*\.\.\s*{_TAG})?(?:(?:\s*[,;&+/]\s*|\s+(?:and|und|et)\s+)\b{_TAG}(?:\s*\.\.\s*{_TAG})?)*"
)
_RUN = re.compile(rf"{_TAG}(?:\s*\.\.\s*{_TAG})?")
_REWORK = re.compile(r"[(\[]?\bre-?work\b[)\]]?", re.IGNORECASE)
_EDGES = " \t\n,;:-–—()[]"


@dataclass(frozen=True)
class _Entry:
    """A component of the file and the line where it begins."""

    line: int
    event: Any

    @property
    def title(self) -> str:
        return str(self.event.get("SUMMARY", "")).strip()


def read_calendar(path: Path, time_zone: str = "") -> list[TextTable]:
    """The events of an .ics file as one table. With `time_zone` (an IANA name) every time is put on that zone's clock
    and day; without it each event keeps its own. `UserError` for a file that is no calendar."""
    text = decode(path.read_bytes()).data.decode()
    from icalendar import Calendar  # here, since few shops have a calendar and all would wait for its library

    try:
        calendars = Calendar.from_ical(text, multiple=True)
    except ValueError as error:
        raise UserError(f"The calendar can't be read: {error}", str(path), "Export it again as .ics.") from None
    zone = _zone(time_zone or next((str(c["X-WR-TIMEZONE"]) for c in calendars if "X-WR-TIMEZONE" in c), ""))
    entries = list(_entries(text, calendars))
    rows: list[tuple[int, list[str]]] = []
    ignored: list[tuple[int, str, str]] = []
    moved, newest = _moved(entries), _newest(entries)
    for entry in entries:
        reason = _reason(entry.event)
        if reason:
            ignored.append((entry.line, reason, entry.title))
            continue
        skip = moved[str(entry.event.get("UID", ""))] if "RRULE" in entry.event or "RDATE" in entry.event else set()
        for start in _starts(entry.event, skip, newest):
            rows.append((entry.line, _row(entry, start, zone, bool(time_zone))))
    rows.sort(key=lambda row: (row[1][0], row[1][1], row[0]))
    frame = frame_of([cells for _, cells in rows], [line for line, _ in rows], len(NAMES))
    dialect: dict[str, object] = {"kind": "ics", "time_zone": str(zone or "each event's own"), "header": [list(NAMES)]}
    return [TextTable("", NAMES, frame, ignored_of(ignored), dialect)]


def _zone(name: str) -> tzinfo | None:
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _entries(text: str, calendars: list[Any]) -> Iterator[_Entry]:
    kinds = ("VEVENT", "VTODO", "VJOURNAL")
    lines = defaultdict(list)
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), 1):
        kind = line[6:].strip().upper() if line[:6].upper() == "BEGIN:" else ""
        if kind in kinds:
            lines[kind].append(number)
    for kind in kinds:
        events = [event for calendar in calendars for event in calendar.walk(kind)]
        yield from (_Entry(line, event) for line, event in zip(lines[kind], events, strict=True))


def _reason(event: Any) -> str:
    """Why an entry is no row of hours, or ""."""
    if event.name != "VEVENT":
        return "no event"
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        return "cancelled"
    return "" if "DTSTART" in event and isinstance(event["DTSTART"].dt, date) else "no date"


def _moved(entries: list[_Entry]) -> dict[str, set[date]]:
    """UID → the occurrences that an entry of their own replaces, or cancels."""
    moved: dict[str, set[date]] = defaultdict(set)
    for entry in entries:
        if "RECURRENCE-ID" in entry.event:
            moved[str(entry.event.get("UID", ""))].add(entry.event["RECURRENCE-ID"].dt)
    return moved


def _newest(entries: list[_Entry]) -> datetime | None:
    """The newest stamp of the file: what an endless rule brings after it had not happened yet."""
    stamps = [e.event[name].dt for e in entries for name in ("DTSTAMP", "LAST-MODIFIED", "CREATED") if name in e.event]
    return max((s.replace(tzinfo=None) for s in stamps if isinstance(s, datetime)), default=None)


def _starts(event: Any, skip: set[date], newest: datetime | None) -> list[date]:
    """The starts of all occurrences, in the event's own zone. Expanded on the wall clock, so that a change to summer
    time moves none of them."""
    first = event["DTSTART"].dt
    if "RRULE" not in event and "RDATE" not in event:
        return [first]
    zone = first.tzinfo if isinstance(first, datetime) else None
    whole_day = not isinstance(first, datetime)

    def wall(moment: date | tuple[date, date]) -> datetime:
        moment = moment[0] if isinstance(moment, tuple) else moment
        if not isinstance(moment, datetime):
            return datetime(moment.year, moment.month, moment.day, *(() if whole_day else (first.hour, first.minute)))
        return (moment.astimezone(zone) if zone and moment.tzinfo else moment).replace(tzinfo=None)

    from dateutil.rrule import rruleset, rrulestr

    days = rruleset()
    days.rdate(wall(first))
    for rule in _listed(event, "RRULE"):
        parts = dict(rule)
        until = [
            wall(u) if isinstance(u, datetime) else datetime.combine(u, datetime.max.time())
            for u in parts.pop("UNTIL", [])
        ]
        text = ";".join(f"{name}={','.join(str(v) for v in values)}" for name, values in parts.items())
        last = until[0] if until else newest if "COUNT" not in parts else None
        days.rrule(rrulestr(text, dtstart=wall(first)).replace(**({"until": last} if last else {})))
    for name, add in (("RDATE", days.rdate), ("EXDATE", days.exdate)):
        for dates in _listed(event, name):
            for value in dates.dts:
                add(wall(value.dt))
    for moment in skip:
        days.exdate(wall(moment))
    found = [moment for _, moment in zip(range(MOST_OCCURRENCES), days, strict=False)]
    return [moment.date() if whole_day else moment.replace(tzinfo=zone) for moment in found]


def _listed(event: Any, name: str) -> list[Any]:
    values = event.get(name, [])
    return values if isinstance(values, list) else [values]


def _row(entry: _Entry, start: date, zone: tzinfo | None, convert_all: bool) -> list[str]:
    operation, pieces, rework, note = _title(entry.title)
    about = str(entry.event.get("DESCRIPTION", "")).strip()
    rest = [operation, pieces, rework, "; ".join(part for part in (note, about) if part)]
    if not isinstance(start, datetime):
        return [start.isoformat(), "", "", "", *rest]
    length = _length(entry.event)
    end = (start.astimezone(ZoneInfo("UTC")) + length).astimezone(start.tzinfo) if start.tzinfo else start + length
    if zone and start.tzinfo and (convert_all or str(start.tzinfo) in ("UTC", "Etc/UTC")):
        start, end = start.astimezone(zone), end.astimezone(zone)
    hours, seconds = divmod(int(length.total_seconds()), 3600)
    if not length:
        return [start.date().isoformat(), _clock(start), "", "", *rest]
    return [start.date().isoformat(), _clock(start), _clock(end), f"{hours}:{seconds // 60:02d}", *rest]


def _length(event: Any) -> timedelta:
    if "DURATION" in event:
        return event["DURATION"].dt
    if "DTEND" not in event:
        return timedelta(0)
    first, last = event["DTSTART"].dt, event["DTEND"].dt
    if not isinstance(last, datetime) or (first.tzinfo is None) != (last.tzinfo is None):
        return timedelta(0)
    # across a change to summer time the clock runs on by another length than the work took
    utc = ZoneInfo("UTC")
    length = last.astimezone(utc) - first.astimezone(utc) if first.tzinfo else last - first
    return max(length, timedelta(0))


def _clock(moment: datetime) -> str:
    return moment.strftime("%H:%M:%S" if moment.second else "%H:%M")


def _title(title: str) -> tuple[str, str, str, str]:
    """Operation, pieces, "yes" for rework, and note, from an event's title."""
    rework = "yes" if _REWORK.search(title) else ""
    text = _REWORK.sub(" ", title)
    pieces = "; ".join(re.sub(r"\s+", "", run) for found in _TAGS.finditer(text) for run in _RUN.findall(found[0]))
    parts = [" ".join(part.strip(_EDGES).split()) for part in _TAGS.split(text)]
    parts = [part for part in parts if part]
    if not parts:
        return "", pieces, rework, ""
    operation, _, more = parts[0].partition(":")
    notes = [more.strip(), *(part.removeprefix("for ").strip() for part in parts[1:])]
    return (
        operation.strip().removesuffix(" for").removesuffix(" on").strip(_EDGES),
        pieces,
        rework,
        "; ".join(n for n in notes if n),
    )
