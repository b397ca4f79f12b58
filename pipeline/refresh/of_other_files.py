"""What the files of a shop say of each other: the order of dates that one proves, tags and words that recur in others.
A file that leaves something open is read once more with it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

import polars as pl

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning import Cleaned
from pipeline.cleaning.recurring import KINDS, MOST, Seen, compared, kind_of
from pipeline.proposing.question import Question
from pipeline.records import RECORDS
from pipeline.shop import Shop

AGREE = 2
"""Files that prove whether day or month comes first, before one that proves neither is read so too."""

DAYS = ("on_date", "started", "finished")

ROUNDS = 3
"""So often at most a file that leaves something open is read again: what one lets in may tell another."""

OF_COLUMNS = ("record", "needed", "column", "which", "together")
"""Kinds of questions that other files may answer; a word of work may be one with its piece, which they know."""


class Read(Protocol):
    """What was read of a file."""

    cleaned: list[Cleaned]
    seen: dict[str, list[str]]
    asked: list[QuestionAt]
    untold: bool


class Named(Protocol):
    @property
    def name(self) -> str: ...


File = TypeVar("File", bound=Named)


def to_read_again(
    shop: Shop, found: Mapping[str, Read], asked: Iterable[File], read_as: Mapping[str, Shop]
) -> list[tuple[Shop, list[File]]]:
    """The files that leave open what others may say, each with the shop as these show it; none that was read so."""
    dates = dates_shown(part.cleaned for part in found.values())
    year = year_shown(part.cleaned for part in found.values())
    seen = together(part.seen for part in found.values())
    groups: dict[tuple[bool, bool, bool], list[File]] = {}
    for each, part, before in ((each, found[each.name], read_as.get(each.name, shop)) for each in asked):
        undated = bool(dates) and any(cleaned.dates == "open" for cleaned in part.cleaned)
        yearless = bool(before.year) or without_year(part.cleaned)
        open_ = bool(seen) and (part.untold or may_tell(at.question for at in part.asked))
        if (undated and before.dates != dates) or (yearless and before.year != year) or (open_ and before.seen != seen):
            groups.setdefault((undated, yearless, open_ or bool(before.seen)), []).append(each)
    return [
        (replace(shop, dates=dates if undated else "", year=year if yearless else 0, seen=seen if open_ else {}), files)
        for (undated, yearless, open_), files in groups.items()
    ]


def may_tell(questions: Iterable[Question]) -> bool:
    """Whether other files may say what is open here."""
    return any(q.kind in OF_COLUMNS or (q.kind == "word" and q.field == "operation") for q in questions)


def dates_shown(files: Iterable[Sequence[Cleaned]]) -> str:
    """What comes first in the dates of a shop's files, "day" or "month", where `AGREE` of them prove it and none
    proves the other; else ""."""
    of_files = [{cleaned.dates for cleaned in file} & {"day", "month"} for file in files]
    proved = [dates for dates in of_files if dates]
    return next(iter(proved[0])) if len(proved) >= AGREE and len(set().union(*proved)) == 1 else ""


def year_shown(files: Iterable[Sequence[Cleaned]]) -> int:
    """The year of all days of work, purchases, sales and pieces in a shop's files, where `AGREE` of them have days; 0
    where they are of several."""
    named = [_years(file) for file in files]
    said = [years for years in named if years]
    together = set().union(*said) if said else set()
    return next(iter(together)) if len(said) >= AGREE and len(together) == 1 else 0


def _years(file: Sequence[Cleaned]) -> set[int]:
    columns = [(each.frame, name) for each in file for name in DAYS if name in each.frame.columns]
    return {year for frame, name in columns for year in frame[name].dt.year().drop_nulls().unique()}


def without_year(file: Iterable[Cleaned]) -> bool:
    """Whether a row of a file waits for the year of its date."""
    return any((cleaned.rejected["code"] == "date-year").any() for cleaned in file)


def seen_in(file: Iterable[Cleaned]) -> dict[str, list[str]]:
    """The tags and words that stand in one file, by what they name."""
    found: dict[str, set[str]] = {}
    for cleaned in file:
        for field in RECORDS[cleaned.record]:
            if not (kind := kind_of(field)):
                continue
            (column,) = field.columns()
            texts = cleaned.frame[column].drop_nulls()
            texts = texts.explode() if texts.dtype == pl.List else texts
            found.setdefault(kind, set()).update(compared(text, kind) for text in texts.drop_nulls().unique())
    return {kind: sorted(texts - {""})[:MOST] for kind, texts in found.items()}


def together(files: Iterable[Mapping[str, Iterable[str]]]) -> Seen:
    """What is seen in any of the files, the first `MOST` of each kind."""
    found: dict[str, set[str]] = {}
    for seen in files:
        for kind, texts in seen.items():
            found.setdefault(kind, set()).update(texts)
    return {kind: frozenset(sorted(found[kind])[:MOST]) for kind in KINDS if found.get(kind)}
