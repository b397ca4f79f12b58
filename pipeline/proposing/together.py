"""Several columns of a table asked about at once: where all are what they were taken for, one answer settles it."""

from collections.abc import Iterator, Sequence

from pipeline.proposing.offered import other_records, shown, ways
from pipeline.proposing.question import FILE, LITTLE, MONEY, TOGETHER, Choice, Question, Table, words
from pipeline.reference import header_key

EACH = "each"
"""What a mapping says once it was answered with no."""
RATHER, LEAST = 0.5, 2
"""Columns so likely what they were taken for are asked about together, so many of them at least."""


def together(table: Table, columns: Sequence[Question]) -> Iterator[Question]:
    """Columns each of which is rather what it was taken for than anything else, asked about at once: where all are
    that, one answer settles the table."""
    held = table.held
    likely = [
        q
        for q in columns
        if q.kind == "column" and q.asked and held[q.field].confidence >= RATHER and not _has_ways(table, q.field)
    ]
    if len(likely) < LEAST or table.told.rest == EACH:
        return
    record = table.record.name
    found = {question.field: shown(held[question.field]) for question in likely}
    listed = ", ".join(f"“{header}” the {words(name)}" for name, header in found.items())
    yes = Choice("yes, all of them", f"takes {listed}", mapping={"record": record, "columns": found})
    each = Choice("no: ask about each", "asks about each of them", mapping={"record": record, "rest": EACH})
    holds = next(h for h in (FILE, MONEY, LITTLE) if any(q.holds == h for q in likely))
    about = "|".join([record, *(f"{name}={header_key(header)}" for name, header in found.items())])
    ask = f"Its rows are taken for {record}: is {listed}?"
    yield Question(TOGETHER, about, ask, (yes, each, *other_records(table)), holds, record)


def _has_ways(table: Table, name: str) -> bool:
    """Whether it is also to be told what the column of a field holds, such as its tax."""
    return len(ways(table.record.name, name, shown(table.held[name]))) > 1
