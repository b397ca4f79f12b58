"""Lengths of time to whole seconds: 1:45 · 1h45 · 1 h 45 min · 105 min · 1.75 · 1 1/2 h · PT1H45M · 90'."""

import re
from fractions import Fraction

import polars as pl

from pipeline.cleaning.numbers import unsigned
from pipeline.cleaning.parsed import About, UnreadableError, each
from pipeline.records import Field
from pipeline.reference import words_for

_SECONDS = {"h": 3600, "m": 60, "s": 1}
_NAMES = {"h": "hours", "m": "minutes", "s": "seconds"}
UNITS = {word: unit for unit in _SECONDS for word in words_for("phrases", _NAMES[unit])}
_NUMBER = r"\d*\s*[¼½¾]|(?:\d+\s+)?\d+\s*/\s*\d+|\d[\d.,]*|[.,]\d+"
_TERM = re.compile(rf"({_NUMBER})\s*([^\W\d_]+|['′’\"″”])?\.?\s*(?:and|und|,)?\s*")
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)(?::([0-5]\d))?(?:\s*(h|hrs?|hours?|std|min|m)\.?)?", re.IGNORECASE)
_LONGEST = 10_000 * 3600


def durations(texts: pl.Series, about: About) -> pl.DataFrame:
    """Seconds. A bare number has the unit of mapping or header, else minutes for a field of minutes, else hours."""
    told = UNITS.get(about.unit.casefold().rstrip("."), "")
    usual = told or ("m" if "minutes" in about.field.name else "h")

    def read(text: str) -> int:
        negative = text[:1] in "-−"
        seconds = round(_seconds(text[1:].strip() if negative else text, usual, about.decimal))
        if seconds > _LONGEST:
            raise UnreadableError("range")
        return -seconds if negative else seconds

    return each(texts, read, {"value": pl.Int64})


def seconds_of(text: str, field: Field) -> int | None:
    """What a field's text is read as where nothing but the field says the unit; None where it can't be read."""
    try:
        return round(_seconds(text.strip(), "m" if "minutes" in field.name else "h", "."))
    except UnreadableError:
        return None


def _seconds(text: str, usual: str, decimal: str) -> Fraction:
    if match := _CLOCK.fullmatch(text.strip()):
        first, second, third = match[1], match[2], match[3]
        unit = (match[4] or usual)[:1].lower() if third is None else "h"
        top = 60 if unit == "m" else 3600  # 3:30 stirred is three and a half minutes; 3:30 worked is hours
        return Fraction(int(first) * top + int(second) * top // 60 + int(third or 0))
    if re.fullmatch(r"P?T(?=\d).*|P\d+DT.*", text):
        return _iso(text)
    return _terms(text, usual, decimal)


def _iso(text: str) -> Fraction:
    """A duration of ISO 8601, as calendars write it."""
    match = re.fullmatch(r"P?(?:(\d+)D)?T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?", text)
    if match is None:
        raise UnreadableError("duration")
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return Fraction(days * 86400 + hours * 3600 + minutes * 60 + seconds)


def _terms(text: str, usual: str, decimal: str) -> Fraction:
    position, total, last = 0, Fraction(0), ""
    while position < len(text):
        match = _TERM.match(text, position)
        if match is None:
            raise UnreadableError("duration")
        unit = UNITS.get((match[2] or "").casefold(), "") if match[2] else _next(last, usual)
        if not unit or (last and _SECONDS[unit] >= _SECONDS[last]):
            raise UnreadableError(
                "duration", "" if unit or not match[2] else f"“{match[2]}” is no unit of time here: use h or min."
            )
        number = unsigned(match[1].strip(), decimal, "duration")
        if last and number >= 60:
            raise UnreadableError("duration", f"After the {_NAMES[last]} come less than 60 of the next unit.")
        total += number * _SECONDS[unit]
        position, last = match.end(), unit
    if not last:
        raise UnreadableError("duration")
    return total


def _next(last: str, usual: str) -> str:
    return {"": usual, "h": "m"}.get(last, "")  # 1h45 is an hour and 45 minutes
