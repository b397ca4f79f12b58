"""The needed fields of a record that nothing fills yet."""

from collections.abc import Iterator, Set

from pipeline.records import Field, Record

OFTEN_NO_COLUMN = frozenset({"category", "channel"})
"""Needed fields that as often no column is: what a thing is used for follows from it, all may be sold in one place."""


def lacking(record: Record, filled: Set[str]) -> Iterator[Field]:
    """The needed fields that are not among those `filled`: of work also how long it took, or both of its times."""
    timed = record.name != "hours" or "hours" in filled or {"started_at", "ended_at"} <= filled
    open_ = (f for f in record if f.name not in filled and not f.numbered)
    yield from (f for f in open_ if f.needed(filled) or (f.name == "hours" and not timed))
