"""What a calendar holds after the day of a refresh: planned, listed, and in no figure.

A calendar is the one kind of file in which people write what they mean to do. What it says itself, by its newest stamp,
its reader sees; here goes what lies after the day of the refresh. Any other record says that a thing was done: one of a
later day counts, and is asked about (`sql/checks/day_after_refresh.sql`).
"""

from dataclasses import replace
from datetime import date

import polars as pl

from pipeline.readers.calendar import PLANNED
from pipeline.refresh import corrections
from pipeline.refresh.read_files import IGNORED, FilesRead
from pipeline.tables import PLACE

__all__ = ["PLANNED", "leave_planned"]


def leave_planned(pile: FilesRead, day: date) -> None:
    """Take the events after `day` out of the cleaned tables of calendars, into the rows that are no records."""
    for place, table in enumerate(pile.cleaned):
        if table.frame.is_empty() or "on_date" not in table.frame.columns:
            continue
        if not table.frame["file"][0].lower().endswith(".ics"):
            continue
        later = pl.col("on_date") > day
        planned = table.frame.filter(later)
        if planned.is_empty():
            continue
        pile.cleaned[place] = replace(table, frame=table.frame.filter(~later.fill_null(False)))
        what = [pl.col(name).cast(pl.String) for name in ("on_date", "operation") if name in planned.columns]
        text = pl.concat_str(what, separator=" ", ignore_nulls=True).alias("text")
        listed = corrections.at_their_place(planned.select(*PLACE, pl.lit(PLANNED).alias("reason"), text), pile.mends)
        pile.ignored.append(listed.select(IGNORED.keys()))
