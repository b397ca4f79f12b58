"""Numbers as people write them: 1,234.50 · 1.234,50 · 1 234,5 · 1'234.50 · 1 1/2 · 1½.

Which mark is the decimal one is told by the mapping or decided by the file's evidence, never by one cell: `1.234` alone
is a thousand or a little over one. A cell that shows it by itself (`12,50`, `1.234,50`, `0.125`) is always read.
"""

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction

import polars as pl

from pipeline.cleaning.parsed import About, UnreadableError, each

BIGGEST = 10**17
"""Whole numbers beyond this are no count, amount or quantity of a workshop, and sums of them would leave BIGINT."""

MOST = 10**6
"""A count beyond this is none of pieces, slabs or months."""

_SPACES = "\u0020\u00a0\u2007\u2009\u202f"
_GROUPED = re.compile(rf"(\d{{1,3}})((?:[{_SPACES}'’]\d{{3}})+)([.,]\d+)?")
_INDIAN = re.compile(r"\d{1,2}(,\d{2})+,\d{3}")
_FRACTION = re.compile(r"(?:(\d+)(?:\s+|\s*-\s*|\s*&\s*))?(\d+)\s*[/⁄]\s*(\d+)")
_VULGAR = re.compile(r"(\d+)?\s*([¼½¾⅐-⅞])")
_SIGNS = str.maketrans({"−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "﹣": "-", "-": "-"})

# A token shows its decimal mark by itself: both marks, or one not followed by exactly three digits, or a leading zero,
# or more than three digits before it; a mark that comes twice is the other one's thousands mark.
_TOKEN = r"(?:^|[^0-9.,])"
_END = r"(?:[^0-9.,]|$)"
_CERTAIN = {
    mark: rf"{_TOKEN}(?:[0-9]*\{mark}(?:[0-9]{{1,2}}|[0-9]{{4,}})|0[0-9]*\{mark}[0-9]{{3}}|[0-9]{{4,}}\{mark}[0-9]{{3}}"
    rf"|[0-9]{{1,3}}(?:\{other}[0-9]{{2,3}})+\{mark}[0-9]+|[0-9]{{1,3}}(?:\{other}[0-9]{{3}}){{2,}}){_END}"
    for mark, other in ((".", ","), (",", "."))
}
_DIGITS = 400


def certain(texts: pl.Series) -> str:
    """The decimal mark that these texts show beyond doubt: ".", ",", "" (none does) or "?" (both)."""
    if texts.is_empty():
        return ""
    point, comma = (bool(texts.str.contains(_CERTAIN[mark]).any()) for mark in ".,")
    return "?" if point and comma else "." if point else "," if comma else ""


_OTHER = {".": ",", ",": "."}


def thousands(texts: pl.Series, digits: int = 2) -> str:
    """The decimal mark by the shape of a money column: with `850` and `1,234` in it the comma marks thousands.

    Holds only if every whole number without a mark is below a thousand; a column in which every number has three digits
    after a mark may have been written with three decimals, so it shows nothing. `digits`: the decimals of the currency.
    Where it has none, three digits after a mark are thousands; where it has three, a column in which every number has
    three of them is written with decimals.
    """
    bare = texts.str.replace_all(r"[^0-9.,]", "")
    marks = [mark for mark in ".," if bare.str.contains(rf"^[0-9]{{1,3}}\{mark}[0-9]{{3}}$").any()]
    if len(marks) != 1:
        return ""
    whole = bare.filter(bare.str.contains(r"^[0-9]+$"))
    if digits == 3:
        return marks[0] if whole.is_empty() else ""
    if digits and (whole.is_empty() or (whole.str.len_chars() > 3).any()):
        return ""
    return _OTHER[marks[0]]


def plain_signs(text: str) -> str:
    return text.translate(_SIGNS)


def unsigned(text: str, decimal: str, code: str = "number") -> Fraction:
    """The value of digits, marks and fractions without sign. Raises `UnreadableError` with `code`."""
    text = text.strip()
    if len(text) > _DIGITS:
        raise UnreadableError(code)
    if match := _FRACTION.fullmatch(text):
        whole, above, below = (int(part or 0) for part in match.groups())
        if not below:
            raise UnreadableError(code)
        return whole + Fraction(above, below)
    if match := _VULGAR.fullmatch(text):
        return int(match[1] or 0) + Fraction(unicodedata.numeric(match[2])).limit_denominator(100)
    if match := _GROUPED.fullmatch(text):
        tail = match[3] or ""
        if tail and decimal in (".", ",") and tail[0] != decimal:
            raise UnreadableError(code, f"The decimal mark here is “{decimal}”.")
        return _decimal(match[1] + re.sub(r"\D", "", match[2]), tail[1:])
    return _marked(text, decimal, code)


def _decimal(whole: str, part: str) -> Fraction:
    return Fraction(int(whole + part or 0), 10 ** len(part))


def _marked(text: str, decimal: str, code: str) -> Fraction:
    if not re.fullmatch(r"[0-9.,]*[0-9][0-9.,]*", text):
        raise UnreadableError(code)
    shown = _shown(text, code)
    if not shown:
        mark = "." if "." in text else ","
        if decimal not in (".", ","):
            hint = 'It could be a thousand or a fraction: say `decimal = "."` or `","` in the file\'s mapping.'
            raise UnreadableError(code, hint)
        whole, part = text.split(mark)
        return _decimal(whole, part) if mark == decimal else _decimal(whole + part, "")
    if shown != "any" and decimal in (".", ",") and shown != decimal:
        raise UnreadableError(code, f"The decimal mark of this file is “{decimal}”.")
    if shown == "any":
        return Fraction(int(text))
    whole, _, part = text.partition(shown)
    return _decimal(re.sub(r"[.,]", "", whole), part)


def _shown(text: str, code: str) -> str:
    """The decimal mark that one token shows: ".", ",", "any" (it has none), "" (it could be either)."""
    marks = sorted({c for c in text if c in ".,"}, key=text.rindex)
    if not marks:
        return "any"
    last, count = marks[-1], text.count(marks[-1])
    other = "," if last == "." else "."
    if len(marks) == 2 and count == 1:
        if not _well_grouped(text[: text.index(last)], other):
            raise UnreadableError(code)
        return last
    if len(marks) == 2 or count > 1:
        if len(marks) == 2 or not _well_grouped(text, last):
            raise UnreadableError(code)
        return other
    before, after = text.split(last)
    if len(after) != 3 or len(before) > 3 or not before or before.startswith("0"):
        return last
    return ""


def _well_grouped(whole: str, mark: str) -> bool:
    return bool(re.fullmatch(rf"\d{{1,3}}(\{mark}\d{{3}})+", whole) or (mark == "," and _INDIAN.fullmatch(whole)))


def signed(text: str, decimal: str, code: str = "number") -> Fraction:
    """Like `unsigned`, with a sign before or after it, or brackets for a negative."""
    text = plain_signs(text.strip())
    negative = False
    if text.startswith("(") and text.endswith(")"):
        negative, text = True, text[1:-1].strip()
    elif text.endswith("-"):
        negative, text = True, text[:-1]
    elif text[:1] in "+-":
        negative, text = text[:1] == "-", text[1:]
    value = unsigned(text, decimal, code)
    return -value if negative else value


def numbers(texts: pl.Series, about: About) -> pl.DataFrame:
    def read(text: str) -> float:
        if re.fullmatch(r"[+-]?\d+(\.\d+)?[eE][+-]?\d{1,2}", text):  # how sheets write the very small and very large
            value = Fraction(text)
        else:
            value = signed(text, about.decimal)
        if abs(value) > BIGGEST:
            raise UnreadableError("range")
        return float(value)

    return each(texts, read, {"value": pl.Float64})


def counts(texts: pl.Series, about: About) -> pl.DataFrame:
    def read(text: str) -> int:
        bare = re.sub(r"\s*(?:x|pcs?\.?|pieces?|ea\.?|each|st(?:k|ück)?\.?)$", "", text, flags=re.IGNORECASE)
        value = signed(bare, about.decimal, "count")
        if value.denominator != 1:
            raise UnreadableError("count")
        if abs(value) > MOST:
            raise UnreadableError("range")
        return int(value)

    return each(texts, read, {"value": pl.Int64})


def percents(texts: pl.Series, about: About) -> pl.DataFrame:
    """55 %, 55 or 0.55: a column whose bare numbers all lie between 0 and 1 holds shares."""

    def read(text: str) -> Fraction:
        value = signed(re.sub(r"\s*(?:%|percent|pct\.?|% ?(?:rh|mc))$", "", text, flags=re.IGNORECASE), about.decimal)
        if not 0 <= value <= 300:  # green wood can hold more water than wood
            raise UnreadableError("range")
        return value

    bare = texts.filter(texts.str.contains(r"^[0-9.,]+$"))
    values = [v for v in (_tried(read, text) for text in bare) if v is not None]
    shares = bool(values) and max(values) <= 1 and any(0 < v < 1 for v in values)
    scale = {True: 100, False: 1}

    def scaled(text: str) -> float:
        return float(read(text) * scale[shares and text[-1:].isdigit()])

    return each(texts, scaled, {"value": pl.Float64})


def _tried(read: Callable[[str], Fraction], text: str) -> Fraction | None:
    try:
        return read(text)
    except UnreadableError:
        return None


def temperatures(texts: pl.Series, about: About) -> pl.DataFrame:
    """Degrees Celsius. A bare number has the column's unit; with none, above 45 in a shop of US units is Fahrenheit."""
    told = about.unit.lower().removeprefix("deg").removeprefix("°").strip()[:1]
    us = about.shop["units"] == "us"

    def read(text: str) -> float:
        match = re.fullmatch(
            r"(.*?)\s*(?:°|º|deg(?:rees?)?)?\s*(f|c|fahrenheit|celsius|centigrade|℃|℉)?\.?", text, re.IGNORECASE
        )
        if match is None:
            raise UnreadableError("number")
        unit = {"℃": "c", "℉": "f"}.get(match[2] or "", (match[2] or "").lower()[:1]) or told
        value = signed(match[1], about.decimal)
        fahrenheit = unit == "f" or (not unit and us and value > 45)
        degrees = (value - 32) * Fraction(5, 9) if fahrenheit else value
        if not -60 <= degrees <= 70:
            raise UnreadableError("range", "A workshop is between -60 and 70 °C: write the unit, as in 68 F.")
        return round(float(degrees), 6)

    return each(texts, read, {"value": pl.Float64})
