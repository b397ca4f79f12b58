"""Days and times of day: 2026-05-31 · 31.5.26 · 5/31/2026 · 31 May 2026 · May 31st, '26 · 14:30 · 2:30 PM.

Day or month first is decided once a file, never row by row: told by the mapping, or shown by a day above twelve
somewhere in the file. A file that fits both ways is read as the shop's others are, where these agree; else it is set
aside with the question.
"""

import re
from datetime import date, time, timedelta

import polars as pl

from pipeline.cleaning.parsed import About, UnreadableError, each, one_of
from pipeline.reference import vocabulary

FIRST_YEAR, LAST_YEAR = 1990, 2100
_SERIAL = r"^[3-7][0-9]{4}(\.[0-9]+)?$"
_EPOCH = date(1899, 12, 30)  # day 0 of workbooks' day numbers, so that days since March 1900 come out right
_CLOCK = (
    r"(?:[T ,]+(?:at )?(?:[01]?[0-9]|2[0-3])[:h][0-5][0-9](?::(?:[0-5][0-9]|60)(?:[.,][0-9]+)?)?"
    r"\s*(?:[AaPp]\.?[Mm]\.?)?\s*(?:Z|UTC|GMT|[+-](?:0[0-9]|1[0-4]):?[0-5][0-9])?)?$"
)
_TRIPLE = re.compile(r"(\d{1,4})\s*[-/. ]\s*(\d{1,2})\s*[-/. ]\s*['’]?(\d{4}|\d{1,2})\.?")
_NUMERIC = r"^([0-9]{1,2})\s*[-/. ]\s*([0-9]{1,2})\s*[-/. ]\s*['’]?([0-9]{4}|[0-9]{2})\.?(?:[T ,]|$)"
_ODD_ONE_OUT = 20
_MONTH = rf"(?:{one_of(vocabulary('month'))})\.?"
WEEKDAY = rf"(?i)^(?:(?:{one_of(vocabulary('weekday'))})\.?,?\s+)?"
YEARLESS = (
    rf"{WEEKDAY}(?:\d{{1,2}}\s*[./-]\s*\d{{1,2}}|\d{{1,2}}(?:st|nd|rd|th|er|\.)?\s*(?:of |de )?{_MONTH}"
    rf"|{_MONTH}\s*\d{{1,2}}(?:st|nd|rd|th)?)\.?$"
)
"""A day and a month, and no year: 5.1. · 5/1 · 5 Jan · January 5th."""
_WITHOUT_YEAR = re.compile(YEARLESS)


def order(texts: pl.Series) -> str:
    """The date order that the distinct date texts of a file show: "day", "month", "" (open) or "?" (they disagree).

    One text alone that disagrees with twenty or more is taken for a slip, and is set aside later.
    """
    parts = _parts(texts)
    if parts.is_empty():
        return ""
    first, second = (parts[name].cast(pl.Int64, strict=False) for name in ("1", "2"))
    day = ((first > 12) & (second <= 12)).sum()
    month = ((second > 12) & (first <= 12)).sum()
    if day and month:
        if min(day, month) == 1 and max(day, month) >= _ODD_ONE_OUT:
            return "day" if day > month else "month"
        return "?"
    if not day and not month and ((first != second) & (first <= 12)).sum() == 0:
        return "day"  # every date reads the same both ways
    return "day" if day else "month" if month else ""


def _parts(texts: pl.Series) -> pl.DataFrame:
    """The numbers of days written in numbers, whatever day of the week stands before them."""
    if not texts.len():
        return pl.DataFrame()
    return texts.str.replace(WEEKDAY, "").str.extract_groups(_NUMERIC).struct.unnest()


def shown(texts: pl.Series) -> str:
    """What distinct date texts prove of their order: "day", "month", "open" (each may be read both ways), or ""."""
    told = order(texts)
    parts = _parts(texts).drop_nulls()
    if parts.is_empty() or told == "?":
        return ""
    return (told if (parts.cast(pl.Int64) > 12).select(pl.any_horizontal("1", "2").any()).item() else "") or "open"


def are_serials(texts: pl.Series) -> bool:
    """Whether a column holds a workbook's day numbers (45000 = 2023-03-15) and nothing else."""
    return bool(texts.len()) and bool(texts.str.contains(_SERIAL).all())


def dates(texts: pl.Series, about: About) -> pl.DataFrame:
    serials = are_serials(texts)

    def read(text: str) -> date:
        if serials:
            return _plausible(_EPOCH + timedelta(days=int(float(text))))
        return _plausible(_day(re.sub(_CLOCK, "", text), about.order))

    return each(texts, read, {"value": pl.Date})


def _plausible(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise UnreadableError("date", f"A year between {FIRST_YEAR} and {LAST_YEAR} is expected.")
    return day


def _day(text: str, order: str) -> date:
    text = text.strip().rstrip(",")
    if re.fullmatch(r"\d{8}", text):
        return _made(text[:4], text[4:6], text[6:])
    if match := _TRIPLE.fullmatch(re.sub(WEEKDAY, "", text)):
        return _numeric(match[1], match[2], match[3], order)
    if is_yearless(text):
        raise UnreadableError("date-year")
    return _named(text)


def is_yearless(text: str) -> bool:
    """Whether a text is a day and a month alone."""
    # by its first digits: Python turns no thousands of them into a number
    numbers = [int(number[:3]) for number in re.findall(r"\d+", text)]
    possible = 0 < max(numbers, default=0) <= 31 and 0 < min(numbers) <= (12 if len(numbers) == 2 else 31)
    return possible and bool(_WITHOUT_YEAR.fullmatch(text))


def _numeric(first: str, second: str, third: str, order: str) -> date:
    if len(first) == 4:
        return _made(first, second, third)
    if len(first) == 3 or len(third) == 1:
        raise UnreadableError("date")
    if order == "year":
        return _made(first, second, third)
    if order not in ("day", "month"):
        if int(first) > 12 and int(second) > 12:
            raise UnreadableError("date")
        raise UnreadableError(
            "date-order", "Some dates of this file have the day first, some the month." if order == "?" else ""
        )
    day, month = (first, second) if order == "day" else (second, first)
    try:
        return _made(third, month, day)
    except UnreadableError:
        raise UnreadableError("date", f"The dates of this file have the {order} first.") from None


def _made(year: str, month: str, day: str) -> date:
    full = int(year) if len(year) > 2 else int(year) + (1900 if int(year) >= FIRST_YEAR % 100 else 2000)
    try:
        return date(full, int(month), int(day))
    except ValueError:
        raise UnreadableError("date") from None


def _named(text: str) -> date:
    """31 May 2026, May 31st 2026, Sun 31. Mai '26, 2026 May 31: a month in words, a year, and a day."""
    months, weekdays = vocabulary("month"), vocabulary("weekday")
    words = [w for w in re.findall(r"[^\W\d_]+\.?|\d+|['’]\d{2}", text) if w]
    month, numbers = None, []
    for word in words:
        bare = word.rstrip(".").casefold()
        if bare in months and month is None:
            month = months[bare]
        elif re.fullmatch(r"['’]?\d+", word):
            numbers.append(word)
        elif bare not in weekdays and bare not in ("st", "nd", "rd", "th", "de", "of", "del", "le", "er", "the", "den"):
            raise UnreadableError("date")
    if month is None or len(numbers) != 2:
        raise UnreadableError("date")
    day, year = reversed(numbers) if len(numbers[0]) == 4 or numbers[0][:1] in "'’" else numbers
    year = year.lstrip("'’")
    if len(year) not in (2, 4) or len(day) > 2:
        raise UnreadableError("date")
    return _made(year, month, day)


def times(texts: pl.Series, about: About) -> pl.DataFrame:
    fractions = bool(texts.len()) and bool(texts.str.contains(r"^0?\.[0-9]+$|^[01]$").all())

    def read(text: str) -> time:
        if fractions:  # a workbook's time is a share of the day
            seconds = round(float(text) * 86400)
            return _clock(seconds // 3600 % 24, seconds // 60 % 60, seconds % 60)
        return _time(text)

    return each(texts, read, {"value": pl.Time})


_TIME = re.compile(
    r"(\d{1,2})(?:\s*[:.h]\s*(\d{2}))?(?::(\d{2})(?:[.,]\d+)?)?\s*h?\s*(?:uhr)?\s*([ap])?\.?(m?)\.?", re.IGNORECASE
)


def _time(text: str) -> time:
    bare = re.sub(r"^(?:\d{4}-\d\d-\d\d|\d{1,2}[./-]\d{1,2}[./-]\d{2,4})[T ]+", "", text)
    bare = re.sub(r"(?<=\d)(?:Z|\s*UTC|[+-]\d{2}:\d{2})$", "", bare)
    bare = re.sub(r"^(\d{2})(\d{2})$", r"\1:\2", bare)
    match = _TIME.fullmatch(bare.strip())
    if match is None or (match[5] and not match[4]) or (match[4] and not match[5] and " " in bare.strip()):
        raise UnreadableError("time")
    if not match[2] and not match[4] and not re.search(r"h|uhr", bare, re.IGNORECASE):
        raise UnreadableError("time")
    hour, minute, second = int(match[1]), int(match[2] or 0), int(match[3] or 0)
    if match[4]:
        if not 1 <= hour <= 12:
            raise UnreadableError("time")
        hour = hour % 12 + (12 if match[4].lower() == "p" else 0)
    if (hour, minute, second) == (24, 0, 0):
        hour = 0
    return _clock(hour, minute, second)


def _clock(hour: int, minute: int, second: int) -> time:
    try:
        return time(hour, minute, second)
    except ValueError:
        raise UnreadableError("time") from None
