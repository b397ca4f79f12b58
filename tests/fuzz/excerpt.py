"""A few rows of a file with its head, as a file of its own: small, so that many can be tried, and another each time."""

import io
import json
import re
import zipfile
from collections.abc import Callable
from random import Random

import polars as pl

HEAD = 4
MOST_ROWS = (3, 8, 25)


def excerpt(suffix: str, data: bytes, random: Random) -> bytes:
    """The head of a file and a run of a few rows of it; a kind whose rows are not told apart here as it is."""
    return EXCERPTS[suffix](data, random) if suffix in EXCERPTS else data


def _run(number: int, random: Random) -> slice:
    """A run of a few of so many rows."""
    first = random.randrange(number) if number else 0
    return slice(first, first + random.choice(MOST_ROWS))


def _lines(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    return b"".join([*lines[:HEAD], *lines[HEAD:][_run(len(lines[HEAD:]), random)]])


def _objects(data: bytes, random: Random) -> bytes:
    rows = json.loads(data)
    return json.dumps(rows[_run(len(rows), random)], ensure_ascii=False).encode()


def _parquet(data: bytes, random: Random) -> bytes:
    frame = pl.read_parquet(io.BytesIO(data))
    out = io.BytesIO()
    frame[_run(frame.height, random)].write_parquet(out)
    return out.getvalue()


def _events(data: bytes, random: Random) -> bytes:
    head, *events = re.split(rb"(?=BEGIN:VEVENT)", data)
    return b"".join([head, *events[_run(len(events), random)], b"END:VCALENDAR\r\n"])


def _elements(row: bytes) -> Callable[[bytes, Random], bytes]:
    """Of each part of an archive, of the elements that are a row: the first, and a run of the others."""

    def of(data: bytes, random: Random) -> bytes:
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as archive, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
            for name in archive.namelist():
                part = archive.read(name)
                found = list(re.finditer(row, part, re.DOTALL))[HEAD:]
                left = found[_run(len(found), random)]
                if left:
                    cells = b"".join(match[0] for match in left)
                    part = part[: found[0].start()] + cells + part[found[-1].end() :]
                made.writestr(archive.getinfo(name), part)
        return out.getvalue()

    return of


EXCERPTS: dict[str, Callable[[bytes, Random], bytes]] = {
    **dict.fromkeys((".csv", ".tsv", ".txt", ".jsonl"), _lines),
    ".json": _objects,
    ".parquet": _parquet,
    ".ics": _events,
    ".xlsx": _elements(rb"<row [^>]*>.*?</row>"),
    ".ods": _elements(rb"<table:table-row>.*?</table:table-row>"),
}
