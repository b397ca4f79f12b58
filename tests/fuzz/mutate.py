"""Damage to files, as disks, programs, people and enemies do it: seeded, so that each case can be had again."""

import io
import re
import zipfile
from collections.abc import Callable
from random import Random

from pipeline.readers.limits import DAMAGED

Mutation = Callable[[bytes, Random], bytes]

NUMBERS = (
    *(
        "1e400",
        "-0",
        "9" * 40,
        "1,234,567.89",
        "1.234.567,89",
        "0/0",
        "25:00",
        "NaN",
        "1e-400",
        "－１２",
        "١٢٣",
        "１２３",
    ),
    *("²³", "½", "0x10", "1_000", "٪", "8/4", "1/0", "1 1/2", "--5", "99:99", "-1:30", "31.02.2026", "2026-13-45"),
    *("2026-05-31T25:00", "0000-00-00", "9999-12-31", "20260", "1.2.3.4", "∞", "1e5", "12 h 90", "€", "1€2"),
)
TEXTS = (
    *("", " ", "\t", '"', '""', "'", "\\", "\0", "\ufeff", "\u202e", "\u2028", "🪵" * 50, "x" * 70_000, "=1+1", "{}"),
    *(
        "a\nb",
        "a\rb",
        "a\r\nb",
        "<b>",
        "%s%n",
        "T-1..T-999999999",
        "T-5..T-1",
        "T-001;" * 500,
        ",,,",
        "é".encode().hex(),
    ),
)
ENCODINGS = ("utf-16-le", "utf-16-be", "utf-16", "utf-32", "cp1252", "latin-1", "cp437", "utf-8-sig")
CALENDAR = (
    *(
        "DTSTART:2026",
        "DTSTART:20260231T250000",
        "DTSTART;VALUE=DATE:20260305",
        "DTSTART:99991231T235959Z",
        "BEGIN:VEVENT",
    ),
    *("DURATION:P1Y", "DURATION:-PT5H", "DURATION:PT", "RRULE:COUNT=3", "RRULE:FREQ=DAILY;INTERVAL=0", "END:VEVENT"),
    *("RRULE:FREQ=SECONDLY", "RRULE:FREQ=YEARLY;COUNT=9999999", "RRULE:FREQ=DAILY;BYMONTHDAY=31;BYMONTH=2", "RRULE:"),
    *("RRULE:FREQ=WEEKLY;BYDAY=XX", "RRULE:FREQ=DAILY;UNTIL=20991231", "RDATE:2026,2027", "EXDATE:x", "BEGIN:VALARM"),
    *("RECURRENCE-ID:20260305T090000", "DTEND:19000101T000000Z", "DTSTART;TZID=No/Where:20260305T090000", "X:;:;="),
    *("STATUS:CANCELLED", "UID:1", "SUMMARY:", "DTSTART;VALUE=PERIOD:20260305T090000/PT1H", "END:VCALENDAR", " folded"),
)


def mutated(suffix: str, data: bytes, random: Random) -> bytes:
    """A file's content with one to three things wrong with it."""
    ways = [*BYTES, *WAYS.get(suffix, LINES)]
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        data = random.choice(ways)(data, random)
    return data


def _place(data: bytes, random: Random) -> int:
    return random.randrange(len(data)) if data else 0


def flip(data: bytes, random: Random) -> bytes:
    changed = bytearray(data)
    for _ in range(random.choice((1, 3, 20)) if data else 0):
        changed[_place(data, random)] = random.randrange(256)
    return bytes(changed)


def cut(data: bytes, random: Random) -> bytes:
    return data[: _place(data, random)]


def without_head(data: bytes, random: Random) -> bytes:
    return data[_place(data, random) :]


def without_part(data: bytes, random: Random) -> bytes:
    first, last = sorted((_place(data, random), _place(data, random)))
    return data[:first] + data[last:]


def with_zeros(data: bytes, random: Random) -> bytes:
    at = _place(data, random)
    return data[:at] + bytes(random.choice((1, 100, 5000))) + data[at:]


def twice(data: bytes, random: Random) -> bytes:
    return data + data


def nothing(data: bytes, random: Random) -> bytes:
    return random.choice((b"", b"\n", b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"PK\x03\x04", b"[", b"{"))


def _lines(change: Callable[[list[bytes], Random], list[bytes]]) -> Mutation:
    def mutation(data: bytes, random: Random) -> bytes:
        lines = data.split(b"\n")
        return b"\n".join(change(lines, random) or [b""])

    return mutation


def drop_lines(lines: list[bytes], random: Random) -> list[bytes]:
    at = random.randrange(len(lines))
    return lines[:at] + lines[at + random.choice((1, 1, 10)) :]


def repeat_lines(lines: list[bytes], random: Random) -> list[bytes]:
    at = random.randrange(len(lines))
    return lines[:at] + lines[at : at + 1] * random.choice((2, 50)) + lines[at:]


def move_line(lines: list[bytes], random: Random) -> list[bytes]:
    line = lines.pop(random.randrange(len(lines)))
    lines.insert(random.randrange(len(lines) + 1), line)
    return lines


def shuffle_lines(lines: list[bytes], random: Random) -> list[bytes]:
    random.shuffle(lines)
    return lines


def insert_line(lines: list[bytes], random: Random) -> list[bytes]:
    lines.insert(random.randrange(len(lines) + 1), random.choice((*TEXTS, *NUMBERS, "," * 3000, ";" * 99)).encode())
    return lines


def calendar_line(lines: list[bytes], random: Random) -> list[bytes]:
    lines.insert(random.randrange(len(lines) + 1), random.choice(CALENDAR).encode() + b"\r")
    return lines


def calendar_value(lines: list[bytes], random: Random) -> list[bytes]:
    at = random.randrange(len(lines))
    name, mark, _ = lines[at].partition(b":")
    values = [line.partition(":")[2] for line in CALENDAR]
    lines[at] = name + mark + random.choice((*values, *TEXTS[:12], *NUMBERS)).encode() + b"\r"
    return lines


def _cells(change: Callable[[list[list[bytes]], Random], None]) -> Mutation:
    def mutation(data: bytes, random: Random) -> bytes:
        mark = max((b",", b";", b"\t", b"|"), key=data.count)
        rows = [line.split(mark) for line in data.split(b"\n")]
        change(rows, random)
        return b"\n".join(mark.join(row) for row in rows)

    return mutation


def odd_cells(rows: list[list[bytes]], random: Random) -> None:
    for _ in range(random.choice((1, 5, 40))):
        row = random.choice(rows)
        row[random.randrange(len(row))] = random.choice((*NUMBERS, *TEXTS)).encode()


def odd_column(rows: list[list[bytes]], random: Random) -> None:
    at = random.randrange(max(map(len, rows)))
    texts = [random.choice((*NUMBERS, *TEXTS)).encode() for _ in range(random.choice((1, 6)))]
    for row in rows[1:]:
        if at < len(row):
            row[at] = random.choice(texts)


def swap_columns(rows: list[list[bytes]], random: Random) -> None:
    width = max(map(len, rows))
    one, other = random.randrange(width), random.randrange(width)
    for row in rows:
        if max(one, other) < len(row):
            row[one], row[other] = row[other], row[one]


def drop_cells(rows: list[list[bytes]], random: Random) -> None:
    at = random.randrange(max(map(len, rows)))
    for row in rows if random.random() < 0.5 else random.sample(rows, 1):
        del row[at : at + 1]


def more_cells(rows: list[list[bytes]], random: Random) -> None:
    for row in rows if random.random() < 0.5 else random.sample(rows, 1):
        row.insert(random.randrange(len(row) + 1), random.choice(NUMBERS).encode())


def same_headers(rows: list[list[bytes]], random: Random) -> None:
    rows[0] = [random.choice(rows[0])] * len(rows[0])


def other_encoding(data: bytes, random: Random) -> bytes:
    return data.decode("utf-8", "replace").encode(random.choice(ENCODINGS), "replace")


def other_line_ends(data: bytes, random: Random) -> bytes:
    return data.replace(b"\r\n", b"\n").replace(b"\n", random.choice((b"\r", b"\r\n", b"\n\r", b"\n\n")))


def nested(data: bytes, random: Random) -> bytes:
    deep = random.choice((5, 50, 2_000, 100_000))
    begin, end = random.choice(((b"[", b"]"), (b'{"a":', b"}")))
    return begin * deep + (data if random.random() < 0.5 else b"1") + end * (deep if random.random() < 0.8 else 0)


def json_value(data: bytes, random: Random) -> bytes:
    values = list(re.finditer(rb':\s*("(?:[^"\\]|\\.)*"|[-\d.]+|null|true)', data))
    if not values:
        return data
    found = random.choice(values)
    more = ('"\\ud800"', "1e999", "NaN", "[[1]]", '{"b": {"c": 1}}', "null", '""', "1" * 5000, "-0.0", "[", '"\\u0000"')
    return data[: found.start(1)] + random.choice(more).encode() + data[found.end(1) :]


def json_key(data: bytes, random: Random) -> bytes:
    keys = list(re.finditer(rb'"(\w+)":', data))
    if not keys:
        return data
    found = random.choice(keys)
    return data[: found.start(1)] + random.choice((b"", b"\\ud800", b"a" * 3000, b"date")) + data[found.end(1) :]


def part_of_archive(data: bytes, random: Random) -> bytes:
    """The same damage within one part of a workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
    except DAMAGED:
        return flip(data, random)
    if not parts:
        return data
    # mostly where the cells are
    held = [name for name in parts if "sheet" in name or "content" in name or "sharedStrings" in name]
    name = random.choice(held if held and random.random() < 0.7 else list(parts))
    ways = (*BYTES, xml_number, xml_number, xml_number, xml_element, without_archive_part)
    way = random.choice(ways)
    if way is without_archive_part:
        del parts[name]
    else:
        parts[name] = way(parts[name], random)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return out.getvalue()


def without_archive_part(data: bytes, random: Random) -> bytes:
    return b""


def xml_number(data: bytes, random: Random) -> bytes:
    found = list(re.finditer(rb"(?<=[\">A-Z])\d+(?=[\"<])", data))
    if not found:
        return data
    at = random.choice(found)
    new = random.choice(
        (b"-1", b"0", b"1048576", b"16384", b"99999999999", b"1e308", b"NaN", b"1e-9", b"45000.999999", b"")
    )
    return data[: at.start()] + new + data[at.end() :]


def xml_element(data: bytes, random: Random) -> bytes:
    found = list(re.finditer(rb"<[^>]{1,200}>", data))
    if not found:
        return data
    one, other = random.choice(found), random.choice(found)
    return data[: one.start()] + random.choice((b"", one[0] * 2, other[0])) + data[one.end() :]


BYTES: tuple[Mutation, ...] = (flip, cut, without_head, without_part, with_zeros, twice, nothing)
LINES: tuple[Mutation, ...] = (
    *map(_lines, (drop_lines, repeat_lines, move_line, shuffle_lines, insert_line)),
    *map(_cells, (odd_cells, odd_cells, odd_cells, odd_column, odd_column, swap_columns, drop_cells, more_cells)),
    *(_cells(same_headers), other_encoding, other_line_ends),
)
_JSON: tuple[Mutation, ...] = (nested, json_value, json_value, json_key, *map(_lines, (drop_lines, repeat_lines)))
_LINES_OF_CALENDAR = map(_lines, (calendar_line, calendar_line, calendar_value, calendar_value, drop_lines, move_line))
WAYS: dict[str, tuple[Mutation, ...]] = {
    ".ics": (*_LINES_OF_CALENDAR, other_encoding, other_line_ends),
    ".json": _JSON,
    ".jsonl": _JSON,
    ".xlsx": (part_of_archive,) * 8,
    ".ods": (part_of_archive,) * 8,
    ".parquet": (),
    ".xml": (*map(_lines, (drop_lines, repeat_lines, move_line, shuffle_lines, insert_line)), other_encoding),
    ".pdf": (),
}
