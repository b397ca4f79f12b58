"""The needed fields of a record that nothing fills yet."""

from collections.abc import Iterator, Set
from datetime import date

from pipeline.records import Field, Record
from pipeline.shop import Shop


def lacking(record: Record, filled: Set[str]) -> Iterator[Field]:
    """The needed fields that are not among those `filled`: of work also how long it took, or both of its times."""
    timed = record.name != "hours" or "hours" in filled or {"started_at", "ended_at"} <= filled
    yield from (f for f in record if (f.required or (f.name == "hours" and not timed)) and f.name not in filled)


def count_days(record: Record, needed: Field, shop: Shop) -> list[str]:
    """The days on which a list without a day was likely counted: when the records began, and at each year's end."""
    if record.name != "counts" or needed.kind != "date":
        return []
    start, today = shop["start"], shop.now().date()
    ends = [date(year, 12, 31) for year in range(start.year, today.year + 1)]
    return [day.isoformat() for day in (start, *(end for end in ends if end < today))]
