"""What the files of a shop say of each other: the order of dates that one proves, tags and words that recur in others.
A file that leaves something open is read once more with it."""

from collections.abc import Iterable, Sequence
from collections.abc import Mapping as Dictionary
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import polars as pl

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning import Cleaned
from pipeline.cleaning.recurring import KINDS, MOST, Seen, compared, kind_of, stands_in
from pipeline.mapping import Mapping, column_of
from pipeline.proposing.question import Question
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop
from pipeline.shop.list_of_pieces import ListOfPieces

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
    lists: list["TableOfPieces"]
    seen: dict[str, list[str]]
    asked: list[QuestionAt]
    untold: bool


class Named(Protocol):
    @property
    def name(self) -> str: ...


File = TypeVar("File", bound=Named)


def to_read_again(
    shop: Shop, found: Dictionary[str, Read], asked: Iterable[File], read_as: Dictionary[str, Shop]
) -> list[tuple[Shop, list[File]]]:
    """The files that leave open what others may say, each with the shop as these show it; none that was read so."""
    dates = dates_shown(part.cleaned for part in found.values())
    year = year_shown(part.cleaned for part in found.values())
    lists = _longest_first(part.lists for part in found.values())
    seen = together(part.seen for part in found.values())
    groups: dict[tuple[bool, bool, bool, ListOfPieces | None], list[File]] = {}
    for each, part, before in ((each, found[each.name], read_as.get(each.name, shop)) for each in asked):
        undated = bool(dates) and any(cleaned.dates == "open" for cleaned in part.cleaned)
        yearless = bool(before.year) or without_year(part.cleaned)
        listed = _longer_list(part.lists, lists) or before.listed
        if not listed and lists and any(at.question.kind == "record" for at in part.asked):
            listed = lists[0].listed
        open_ = bool(seen) and (part.untold or bool(listed) or may_tell(at.question for at in part.asked))
        if (
            (undated and before.dates != dates)
            or (yearless and before.year != year)
            or (open_ and before.seen != seen)
            or before.listed != listed
        ):
            groups.setdefault((undated, yearless, open_ or bool(before.seen), listed), []).append(each)
    return [
        (
            replace(
                shop,
                dates=dates if undated else "",
                year=year if yearless else 0,
                seen=seen if open_ else {},
                listed=listed,
            ),
            files,
        )
        for (undated, yearless, open_, listed), files in groups.items()
    ]


def of_others(shop: Shop) -> tuple[object, ...]:
    """What a shop knows of other files, in an order of its own: what a file is known again by."""
    listed = shop.listed and (shop.listed.file, shop.listed.sheet, sorted(shop.listed.tags))
    return (shop.dates, shop.year, [(kind, sorted(texts)) for kind, texts in shop.seen.items()], listed)


@dataclass(frozen=True)
class TableOfPieces:
    """A table that is read as a list of pieces, its rows set aside or not: its place below `inbox/`, its tags as they
    are compared, how many fields it fills, its headings, and whether it is only guessed to be one."""

    file: str
    sheet: str
    tags: list[str]
    fields: int
    headings: list[str]
    guessed: bool

    @property
    def listed(self) -> ListOfPieces:
        return ListOfPieces(self.file, self.sheet, frozenset(self.tags))


def pieces_in(table: TextTable, how: Mapping, file: str) -> list[TableOfPieces]:
    """The table as a list of pieces, if it is read as one."""
    column = column_of(table, how.columns.get("piece", "")) if how.record == "pieces" else ""
    if not column:
        return []
    tags = sorted({compared(tag, "piece") for tag in table.frame[column].drop_nulls().unique()} - {""})[:MOST]
    place = (file.removeprefix("inbox/"), table.sheet)
    return [TableOfPieces(*place, tags, len(how.filled), sorted(how.columns.values()), how.name == "suggested")]


def _longest_first(files: Iterable[Iterable[TableOfPieces]]) -> list[TableOfPieces]:
    """The tables that list pieces, that with most tags first; of equal ones that which says most of them."""
    found = [each for file in files for each in file if each.tags]
    return sorted(found, key=lambda each: (-len(each.tags), -each.fields, each.file, each.sheet))


def _longer_list(file: Iterable[TableOfPieces], lists: Sequence[TableOfPieces]) -> ListOfPieces | None:
    """The list before it in which all tags of a table of this file stand but for a few, where that table is only
    guessed to list pieces and has other headings: it tells something else of them."""
    for each in file:
        if not each.guessed or each not in lists:
            continue
        for other in lists[: lists.index(each)]:
            if other.headings != each.headings and stands_in(each.tags, other.listed):
                return other.listed
    return None


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


def together(files: Iterable[Dictionary[str, Iterable[str]]]) -> Seen:
    """What is seen in any of the files, the first `MOST` of each kind."""
    found: dict[str, set[str]] = {}
    for seen in files:
        for kind, texts in seen.items():
            found.setdefault(kind, set()).update(texts)
    return {kind: frozenset(sorted(found[kind])[:MOST]) for kind in KINDS if found.get(kind)}
