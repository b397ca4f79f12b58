"""Reading a spoilt file back, and how much of it came out right."""

import csv
import io
from collections import Counter
from collections.abc import Hashable, Iterable

from pollutions import Polluted, Row

from pipeline.commands.inspect import csv_text
from pipeline.readers.csv import tables_in


def read_back(data: bytes) -> tuple[list[Row], list[Row]]:
    """The header rows and the records of all tables, by way of the CSV that `peek` writes."""
    header: list[Row] = []
    records: list[Row] = []
    for table in tables_in(data):
        rows = list(csv.reader(io.StringIO("".join(csv_text(table)), newline="")))
        count = len(table.dialect.get("header", []))  # type: ignore[arg-type]
        header += rows[:count]
        records += rows[count:]
    return header, records


def score(polluted: Polluted) -> tuple[bool, float]:
    """Whether all came back as it was; and points of 10: one for loading at all, and one each for precision, recall
    and their harmonic mean of header cells, records and cells."""
    header, records = read_back(polluted.data)
    points = 1.0
    points += sum(_agreement(_cells(polluted.header), _cells(header)))
    points += sum(_agreement(map(tuple, polluted.records), map(tuple, records)))
    points += sum(_agreement(_cells(polluted.records), _cells(records)))
    return header == polluted.header and records == polluted.records, points


def _cells(rows: Iterable[Row]) -> list[str]:
    return [cell for row in rows for cell in row]


def _agreement(wanted: Iterable[Hashable], got: Iterable[Hashable]) -> tuple[float, float, float]:
    want, have = Counter(wanted), Counter(got)
    if not want and not have:
        return 1.0, 1.0, 1.0
    hits = sum((want & have).values())
    precision = hits / sum(have.values()) if have else 0.0
    recall = hits / sum(want.values()) if want else 0.0
    return precision, recall, 2 * precision * recall / (precision + recall) if hits else 0.0
