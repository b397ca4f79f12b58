"""Components of a calendar file (RFC 5545, 3.6) by their lines; one that is damaged leaves the others whole."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

KINDS = ("VEVENT", "VTODO", "VJOURNAL")
_LINE_END = re.compile(r"\r\n|\n|\r")


@dataclass(frozen=True)
class Component:
    """A component and the line where it begins. `event` is the library's; None for one that it can't read, of which
    there are the `lines` as written."""

    line: int
    kind: str
    event: Any
    lines: tuple[str, ...] = ()

    def values(self, name: str) -> list[Any]:
        """All values of a property; most have one at most."""
        if self.event is None:
            head = re.compile(rf"{re.escape(name)}(?:;[^:]*)?:", re.IGNORECASE)
            return [line[found.end() :] for line in self.lines if (found := head.match(line))]
        found = self.event.get(name, [])
        return found if isinstance(found, list) else [found]

    def text(self, name: str) -> str:
        return "; ".join(filter(None, (str(value).strip() for value in self.values(name))))


def components(text: str) -> tuple[list[Component], list[str]]:
    """The events, tasks and notes of a calendar, and the time zones that it names for itself (X-WR-TIMEZONE)."""
    parts = _parts(_LINE_END.split(text))
    calendars = _calendars(text)
    found = [(kind, event) for kind in KINDS for calendar in calendars for event in calendar.walk(kind)]
    ordered = sorted(parts, key=lambda part: KINDS.index(part.kind))
    if [kind for kind, _ in found] == [part.kind for part in ordered] and all(part.whole for part in parts):
        read = [Component(p.line, p.kind, event) for p, (_, event) in zip(ordered, found, strict=True)]
    else:
        read = [component for kind in KINDS for component in _read([p for p in parts if p.kind == kind], _zones(text))]
    zones = re.findall(r"^X-WR-TIMEZONE(?:;[^:\r\n]*)?:([^\r\n]*)", text, re.IGNORECASE | re.MULTILINE)
    return read, [zone.strip() for zone in zones]


@dataclass(frozen=True)
class _Part:
    line: int
    kind: str
    lines: tuple[str, ...]
    whole: bool


def _parts(lines: Sequence[str]) -> list[_Part]:
    """The lines of each component; one that is not closed ends where the next one begins."""
    parts: list[_Part] = []
    begun = -1
    kind = ""

    def close(end: int, whole: bool) -> None:
        if begun >= 0:
            parts.append(_Part(begun + 1, kind, tuple(lines[begun:end]), whole))

    for number, line in enumerate(lines):
        if line[:6].upper() == "BEGIN:" and line[6:].strip().upper() in KINDS:
            close(number, False)
            begun, kind = number, line[6:].strip().upper()
        elif begun >= 0 and line[:4].upper() == "END:" and line[4:].strip().upper() in (kind, "VCALENDAR"):
            whole = line[4:].strip().upper() == kind
            close(number + whole, whole)
            begun = -1
    close(len(lines), False)
    return parts


def _calendars(text: str) -> list[Any]:
    from icalendar import Calendar  # here, since few shops have a calendar and all would wait for its library

    try:
        return list(Calendar.from_ical(text, multiple=True))
    except (ValueError, IndexError, KeyError):
        return []


def _zones(text: str) -> str:
    """The time zones that the file defines, where they can be read."""
    zones = "".join(
        f"{block.strip()}\n" for block in re.findall(r"^BEGIN:VTIMEZONE.*?^END:VTIMEZONE", text, re.S | re.M | re.I)
    )
    return zones if zones and _calendars(_calendar(zones, ())) else ""


def _read(parts: Sequence[_Part], zones: str) -> Iterator[Component]:
    """Read by halves, until those that can't be read stand alone."""
    if not parts:
        return
    whole = all(part.whole for part in parts)
    calendars = _calendars(_calendar(zones, parts)) if whole else []
    events = [event for calendar in calendars for event in calendar.walk(parts[0].kind)]
    if len(events) == len(parts):
        yield from (Component(p.line, p.kind, event) for p, event in zip(parts, events, strict=True))
    elif len(parts) == 1:
        yield Component(parts[0].line, parts[0].kind, None, parts[0].lines)
    else:
        half = len(parts) // 2
        yield from _read(parts[:half], zones)
        yield from _read(parts[half:], zones)


def _calendar(zones: str, parts: Sequence[_Part]) -> str:
    body = "".join(f"{line}\n" for part in parts for line in part.lines)
    return f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-\n{zones}{body}END:VCALENDAR\n"
