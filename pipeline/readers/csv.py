"""Text files with a delimiter, read without hints."""

import csv as standard
from pathlib import Path

from pipeline.readers.tables import TextTable, frame_of, ignored_of


def read_text(path: Path) -> list[TextTable]:
    """The tables of a delimited text file."""
    text = path.read_bytes().decode("utf-8-sig", errors="replace")
    lines = text.splitlines(keepends=True)
    counts = {d: sum(line.count(d) for line in lines[:50]) for d in ",;\t|"}
    delimiter = max(counts, key=lambda d: counts[d])
    rows: list[list[str]] = []
    numbers: list[int] = []
    reader = standard.reader(lines, delimiter=delimiter)
    start = 1
    for row in reader:
        if row:
            rows.append(row)
            numbers.append(start)
        start = reader.line_num + 1
    header, body = (rows[0], rows[1:]) if rows else ([], [])
    width = max((len(row) for row in rows), default=0)
    names = tuple([*header, *[""] * (width - len(header))]) if header else ()
    ignored = ignored_of([(numbers[0], "header", delimiter.join(header))] if rows else [])
    return [TextTable("", names, frame_of(body, numbers[1:], width), ignored, {"encoding": "utf-8", "delimiter": delimiter})]
