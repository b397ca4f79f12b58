"""The year, month or quarter that a heading speaks of: 2025 · Q1 · March 2025 · 03/2025 · Bought in March."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.readers.cell_kinds import kind_of
from pipeline.reference import vocabulary, words_for

_YEAR = re.compile(r"(?<!\d)(?<!\d[.,])(?:199\d|20\d\d)(?!\d|[.,]\d|\s*(?:[x×*€$£%]|[mckg]?[mgl]\b))")
_MONTHS = "|".join(sorted(map(re.escape, vocabulary("month")), key=len, reverse=True))
_DAY = re.compile(r"\d{4}[-./]\d{1,2}[-./]\d{1,2}|\d{1,2}[-./]\s?\d{1,2}[-./]\s?\d{2,4}")
_SPOKEN_DAY = re.compile(
    rf"\d{{4}}[-_.]\d\d[-_.]\d\d|\d{{1,2}}[-./_]\s?\d{{1,2}}[-./_]\s?\d{{2,4}}"
    rf"|(?<!\d)\d{{1,2}}(?:st|nd|rd|th|er|\.)?\s+(?:of |de |di )?(?:{_MONTHS})\.?\s+\d{{4}}"
    rf"|(?:{_MONTHS})\.?\s+\d{{1,2}}(?:st|nd|rd|th)?,?\s+\d{{4}}|(?<![\d.])\d{{1,2}}\.\s?\d{{1,2}}\.?(?![\d.])",
    re.IGNORECASE,
)
_MONTH_YEAR = re.compile(
    r"(?<![\d-])(0?[1-9]|1[0-2])\s*[/.-]\s*(20\d\d)(?![\d-])|(?<!\d)(20\d\d)-(0[1-9]|1[0-2])(?![\d-])"
)
_QUARTER = re.compile(rf"\b(?:{'|'.join(words_for('phrases', 'quarter'))})\b", re.IGNORECASE)


@dataclass(frozen=True)
class Period:
    """What a text says of time: a `year` and `month` (0 = none, or more than one), or a whole `day`; `spoken` = any."""

    year: int = 0
    month: int = 0
    day: bool = False
    spoken: bool = False


def period_of(text: str) -> Period:
    """The period that a heading speaks of. A day in it is no heading of a year: it may be when a file was printed."""
    text = text.strip()
    if kind_of(text) == "time" and _DAY.search(text):
        return Period(day=True, spoken=True)
    if _DAY.search(text):
        return Period()
    if found := _MONTH_YEAR.search(text):
        return Period(int(found[2] or found[3]), int(found[1] or found[4]), spoken=True)
    years = {int(year) for year in _YEAR.findall(text.replace("_", " "))}
    words = [word.casefold() for word in re.findall(r"[^\W\d_]+", text)]
    months = {int(vocabulary("month")[word]) for word in words if word in vocabulary("month")}
    spoken = bool(years or months or _QUARTER.search(text))
    return Period(_only(years), _only(months), spoken=spoken)


def day_named(texts: Iterable[str]) -> str:
    """The one day that titles and names speak of, as it is written there; "" for none, or more than one."""
    said = dict.fromkeys(found[0].strip() for text in texts for found in _SPOKEN_DAY.finditer(text))
    return next(iter(said)).replace("_", "-") if len(said) == 1 else ""


def _only(numbers: set[int]) -> int:
    return next(iter(numbers)) if len(numbers) == 1 else 0
