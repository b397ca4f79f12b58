"""iCalendar files (RFC 5545): each event is a row of hours, under the canonical field names.

What had not happened when the file was written (its newest stamp) is no row but listed as planned. An event's title
holds the operation, the tags of the pieces, and the word "rework" where that is so; what stands behind the tags or a
colon is a note (`event_titles.py`). Recurring events are written out. Attendees, organisers and places are never read:
they name people.
"""

import re
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import MAXYEAR, UTC, date, datetime, timedelta, tzinfo
from itertools import islice
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pipeline.errors import UserError
from pipeline.readers.components import Component, components
from pipeline.readers.encoding import decode
from pipeline.readers.event_titles import title_parts, without_name
from pipeline.readers.mask_contacts import EMAIL, PHONE, STREET, masked_text
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of

NAMES = ("date", "started_at", "ended_at", "hours", "operation", "pieces", "rework", "note")
MOST_OCCURRENCES = 2_000
MOST_YEARS = 60
PLANNED = "planned"
BEYOND = f"repeats more than {MOST_OCCURRENCES:,} times"
"""Reasons why a time of an event is no row of hours, as `intake.ignored` lists them."""

_FITTING: dict[str, type] = {
    "DTSTART": date,
    "DTEND": date,
    "DURATION": timedelta,
    "RECURRENCE-ID": date,
    "RDATE": date,
    "EXDATE": date,
    "RRULE": dict,
}
"""The properties that say when an event is, and what they must be."""

_MANY = ("RDATE", "EXDATE", "RRULE")
_RHYTHMS = {"DAILY", "WEEKLY", "MONTHLY", "YEARLY"}
"""A rule of each hour or second says nothing of work at the bench, and can be endless."""


@dataclass(frozen=True)
class Written:
    """When a calendar was written, by its newest stamp; `zone` is the clock of times that name none."""

    stamp: datetime
    zone: tzinfo | None

    def is_before(self, start: date) -> bool:
        """Whether an event begins after that: then nobody has done it yet. What may be either is taken for done."""
        if isinstance(start, datetime) and start.tzinfo:
            return start > self.stamp
        bare = [self.stamp.astimezone(zone).replace(tzinfo=None) for zone in (UTC, self.zone or UTC)]
        return start > max(bare) if isinstance(start, datetime) else start > max(bare).date()


def read_calendar(path: Path, time_zone: str = "", operations: Collection[str] = ()) -> list[TextTable]:
    """The events of an .ics file as one table. With `time_zone` (an IANA name) every time is put on that zone's clock
    and day; without it each event keeps its own. `UserError` for a file that is no calendar.

    `operations` are the shop's own words for work: a title that is one of them is left whole.
    An event that can't be read as a whole is one row that holds what stands there, to be set aside and mended.
    """
    text = decode(path.read_bytes()).data.decode()
    entries, zones = components(text)
    if text.strip() and not entries and not re.search(r"^\s*BEGIN:VCALENDAR", text, re.IGNORECASE | re.MULTILINE):
        raise UserError("The calendar can't be read: it holds none.", str(path), "Export it again as .ics.")
    zone = _zone(time_zone or next(iter(zones), ""))
    rows: list[tuple[int, list[str]]] = []
    ignored: list[tuple[int, str, str]] = []
    count = 0
    moved, newest = _moved(entries), _newest(entries)
    written = Written(newest, zone) if newest else None
    for entry in entries:
        reason = _reason(entry)
        if reason:
            ignored.append((entry.line, reason, without_name(entry.text("SUMMARY"), operations)))
            continue
        skip = moved[entry.text("UID")] if entry.values("RRULE") or entry.values("RDATE") else set()
        rest, masked = _said(entry, operations)
        count += masked
        found, planned = _rows(entry, rest, skip, written, zone, bool(time_zone))
        beyond = (planned or found).pop() if len(found) + len(planned) > MOST_OCCURRENCES else None
        rows += [(entry.line, row) for row in found]
        told = " ".join(filter(None, rest[:2]))
        ignored += [(entry.line, PLANNED, " ".join(filter(None, (*row[:2], told)))) for row in planned]
        if beyond:
            ignored.append((entry.line, BEYOND, f"{beyond[0]} and on: {told}"))
    rows.sort(key=lambda row: (row[1][0], row[1][1], row[0]))
    frame = frame_of([cells for _, cells in rows], [line for line, _ in rows], len(NAMES))
    dialect: dict[str, object] = {"kind": "ics", "time_zone": str(zone or "each event's own"), "header": [list(NAMES)]}
    return [TextTable("", NAMES, frame, ignored_of(ignored), dialect, count)]


def _rows(
    entry: Component, rest: list[str], skip: set[date], written: Written | None, zone: tzinfo | None, convert_all: bool
) -> tuple[list[list[str]], list[list[str]]]:
    """A row for each occurrence, or one that holds what can't be read; and those that are planned."""
    odd = _odd(entry)
    if not odd:
        try:
            made = [(start, _row(entry, start, rest, zone, convert_all)) for start in _starts(entry, skip, written)]
            later = [written is not None and written.is_before(start) for start, _ in made]
            return (
                [row for (_, row), planned in zip(made, later, strict=True) if not planned],
                [row for (_, row), planned in zip(made, later, strict=True) if planned],
            )
        except (ValueError, OverflowError):  # a rule or a time that leads nowhere, such as past the year 9999
            odd = [(name, text) for name in ("RRULE", "RDATE", "EXDATE") for text in _written(entry, name)][:1]
            odd = odd or [("DTSTART", text) for text in _written(entry, "DTSTART")[:1]]
    name, text = odd[0]
    first = _written(entry, "DTSTART")[:1]
    shown = f"{first[0]}, {name} {text}" if first and name != "DTSTART" else f"{name} {text}"
    if name in ("DURATION", "DTEND") and not _odd(entry, ("DTSTART",)):
        start = entry.values("DTSTART")[0].dt
        return [[start.isoformat()[:10], _clock(start) if isinstance(start, datetime) else "", "", text, *rest]], []
    return [[shown, "", "", "", *rest]], []


def _zone(name: str) -> tzinfo | None:
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _reason(entry: Component) -> str:
    """Why an entry is no row of hours, or ""."""
    if entry.kind != "VEVENT":
        return "no event"
    if entry.text("STATUS").upper() == "CANCELLED":
        return "cancelled"
    return "" if entry.values("DTSTART") else "no date"


def _odd(entry: Component, names: tuple[str, ...] = tuple(_FITTING)) -> list[tuple[str, str]]:
    """The properties of an event that can't be what they should, as written: name and text."""
    if entry.event is None:
        return [("DTSTART", f"{text} (the event is damaged)") for text in _written(entry, "DTSTART")[:1]]
    odd = []
    for name in names:
        values = entry.values(name)
        fitting = all(_fits(value, name) for value in values)
        if not fitting or (len(values) > 1 and name not in _MANY):
            odd.append((name, " and ".join(_written(entry, name))))
    return odd


def _fits(value: Any, name: str) -> bool:
    if name == "RRULE":
        rule = {str(name).upper(): parts for name, parts in value.items()} if isinstance(value, dict) else {}
        often = {str(part).upper() for part in rule.get("FREQ", [])}
        return bool(often) and often <= _RHYTHMS and all(part > 0 for part in rule.get("INTERVAL", []))
    found = [each.dt for each in _held(value, "dts") or []] or [_held(value, "dt")]
    # only of an occurrence beside the rule a period may be given (RFC 5545, 3.8.5.2): its start counts
    starts = [each[0] if isinstance(each, tuple) and name == "RDATE" else each for each in found]
    return all(isinstance(each, _FITTING[name]) for each in starts)


def _held(value: Any, name: str) -> Any:
    try:
        return getattr(value, name, None)
    except ValueError:  # how the library marks a value that it can't read
        return None


def _written(entry: Component, name: str) -> list[str]:
    """The values of a property as they stand in the file."""
    values = entry.values(name)
    texts = [value if isinstance(value, str) else value.to_ical() for value in values]
    return [text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text) for text in texts]


def _moved(entries: list[Component]) -> dict[str, set[date]]:
    """UID → the occurrences that an entry of their own replaces, or cancels."""
    moved: dict[str, set[date]] = defaultdict(set)
    for entry in entries:
        days = {_held(value, "dt") for value in entry.values("RECURRENCE-ID")}
        moved[entry.text("UID")] |= {day for day in days if isinstance(day, date)}
    return moved


def _newest(entries: list[Component]) -> datetime | None:
    """The newest stamp of the file, in universal time (RFC 5545, 3.8.7): the file is no older than that."""
    values = [v for e in entries for name in ("DTSTAMP", "LAST-MODIFIED", "CREATED") for v in e.values(name)]
    stamps = [s for s in (_held(value, "dt") for value in values) if isinstance(s, datetime)]
    return max((s.astimezone(UTC) if s.tzinfo else s.replace(tzinfo=UTC) for s in stamps), default=None)


def _starts(entry: Component, skip: set[date], written: Written | None) -> list[date]:
    """The starts of all occurrences, in the event's own zone; of a rule without end, up to the first planned one; one
    more than the limit where there are more. Expanded on the wall clock, so that summer time moves none of them."""
    first = entry.values("DTSTART")[0].dt
    if not entry.values("RRULE") and not entry.values("RDATE"):
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
    for rule in entry.values("RRULE"):
        parts = dict(rule)
        until = [
            wall(u) if isinstance(u, datetime) else datetime.combine(u, datetime.max.time())
            for u in parts.pop("UNTIL", [])
        ]
        count = min(map(int, parts.pop("COUNT", [MOST_OCCURRENCES + 1])))
        text = ";".join(f"{name}={','.join(str(v) for v in values)}" for name, values in parts.items())
        last = until[0] if until else None
        # a rule may name days that never come; the library would look for them up to the year 9999
        most = wall(first) + MOST_YEARS * timedelta(days=366) if wall(first).year + MOST_YEARS < MAXYEAR else None
        last = min(filter(None, (last, most)), default=None)
        found = rrulestr(text, dtstart=wall(first)).replace(**({"until": last} if last else {}))
        endless = not until and "COUNT" not in rule
        for moment in islice(found, min(count, MOST_OCCURRENCES + 1)):
            days.rdate(moment)
            if endless and written and written.is_before(moment.date() if whole_day else moment.replace(tzinfo=zone)):
                break
    for name, add in (("RDATE", days.rdate), ("EXDATE", days.exdate)):
        for dates in entry.values(name):
            for value in dates.dts:
                add(wall(value.dt))
    for moment in skip:
        days.exdate(wall(moment))
    return [
        moment.date() if whole_day else moment.replace(tzinfo=zone) for moment in islice(days, MOST_OCCURRENCES + 1)
    ]


def _said(entry: Component, own: Collection[str]) -> tuple[list[str], int]:
    """Operation, pieces, rework and note, from the title and the description; and how much was masked in them."""
    title, masked = masked_text(without_name(entry.text("SUMMARY"), own))
    about, more = masked_text(entry.text("DESCRIPTION"))
    for mask in (EMAIL, PHONE, STREET):
        title = title.replace(mask, " ")  # an operation is one word of the trade
    operation, pieces, rework, note = title_parts(title)
    return [operation, pieces, rework, "; ".join(filter(None, (note, about)))], masked + more


def _row(entry: Component, start: date, rest: list[str], zone: tzinfo | None, convert_all: bool) -> list[str]:
    if not isinstance(start, datetime):
        return [start.isoformat(), "", "", "", *rest]
    length = _length(entry)
    end = (start.astimezone(ZoneInfo("UTC")) + length).astimezone(start.tzinfo) if start.tzinfo else start + length
    if zone and start.tzinfo and (convert_all or str(start.tzinfo) in ("UTC", "Etc/UTC")):
        start, end = start.astimezone(zone), end.astimezone(zone)
    hours, seconds = divmod(int(length.total_seconds()), 3600)
    if not length:
        return [start.date().isoformat(), _clock(start), "", "", *rest]
    return [start.date().isoformat(), _clock(start), _clock(end), f"{hours}:{seconds // 60:02d}", *rest]


def _length(entry: Component) -> timedelta:
    for value in entry.values("DURATION"):
        return value.dt
    if not entry.values("DTEND"):
        return timedelta(0)
    first, last = entry.values("DTSTART")[0].dt, entry.values("DTEND")[0].dt
    if not isinstance(last, datetime) or (first.tzinfo is None) != (last.tzinfo is None):
        return timedelta(0)
    # across a change to summer time the clock runs on by another length than the work took
    utc = ZoneInfo("UTC")
    length = last.astimezone(utc) - first.astimezone(utc) if first.tzinfo else last - first
    return max(length, timedelta(0))


def _clock(moment: datetime) -> str:
    return moment.strftime("%H:%M:%S" if moment.second else "%H:%M")
