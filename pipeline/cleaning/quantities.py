"""Quantities and lengths to whole base units: 12 bf · 2 gal · 3 x 500 ml · 1 1/2 in · 8/4 · 5' 6" · 3 lb 4 oz.

Number and unit are parsed apart by our own grammar; see `units` for why Pint never sees the text.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

import polars as pl

from pipeline.cleaning.numbers import BIGGEST, plain_signs, unsigned
from pipeline.cleaning.parsed import About, UnreadableError, each
from pipeline.cleaning.units import Unit, Units

_SPACES = "\u0020\u00a0\u2007\u2009\u202f"
_NUMBER = (
    r"(?:\d+(?:\s+|\s*-\s*))?\d+\s*[/⁄]\s*\d+"
    r"|\d*\s*[¼½¾⅐-⅞]"
    rf"|\d{{1,3}}(?:[{_SPACES}]\d{{3}})+(?![\d])(?:[.,]\d+)?"
    r"|\d{1,3}(?:['’]\d{3})+(?![\d])(?:[.,]\d+)?"
    r"|[.,]?\d[\d.,]*"
)
_UNIT = r"[^\d¼½¾⅐-⅞]*?(?:(?<=[^\W\d_])\^?[23](?![^\s.)]))?"
_TERM = re.compile(rf"\s*({_NUMBER})\s*({_UNIT})\s*(?=[\d¼½¾⅐-⅞]|[.,]\d|$)")
_TIMES = re.compile(rf"\s*({_NUMBER})\s*((?:[^\W\d_]+\.?\s*)?)(?:[x×*]|\bof\b|@|à)\s*(?=[\d.,¼½¾])", re.IGNORECASE)
_ABOUT = re.compile(r"^(?:~|≈|ca\.?|approx\.?|about|c\.)\s*", re.IGNORECASE)
_QUARTERS = re.compile(r"(\d{1,2})\s*/\s*4")
_INCH = Fraction(25400)


@dataclass(frozen=True)
class Reader:
    """Reads the texts of one column. `unit` is for bare numbers; `bases` are the base units the field can have."""

    units: Units
    decimal: str = ""
    unit: str = ""
    bases: tuple[str, ...] = ()
    fluid: bool = False

    def read(self, text: str, unit: str = "", lone: str = "") -> tuple[int, str]:
        """The value in whole base units, rounded once, and the base unit.

        `unit` stands in the row's unit cell; `lone` is the unit of a bare number where nothing names one ("" = a fault).
        """
        text = _ABOUT.sub("", plain_signs(text.strip()))
        negative = text.startswith("-") or (text.startswith("(") and text.endswith(")"))
        text = text.strip("()").strip() if text.startswith("(") else text.lstrip("+-").strip()
        times = Fraction(1)
        if match := _TIMES.match(text):
            packs = match[2].strip() and self.units.find(match[2])
            if "um" in self.bases or (match[2].strip() and (not packs or packs.base != "each")):
                raise UnreadableError("quantity")
            times, text = unsigned(match[1], self.decimal, "quantity"), text[match.end() :]
        amount, base = self._sum(text, unit or self.unit or lone)
        whole = round(amount * times)
        if abs(whole) > BIGGEST:
            raise UnreadableError("range")
        return (-whole if negative else whole), base

    def _sum(self, text: str, bare: str) -> tuple[Fraction, str]:
        terms = self._terms(text)
        if (
            len(terms) == 1
            and not terms[0][1]
            and "um" in self.bases
            and (match := _QUARTERS.fullmatch(text.strip()))
            and int(match[1]) >= 4
        ):
            return int(match[1]) * _INCH / 4, "um"  # hardwood is sold by quarters of an inch: 8/4 is two inches
        total, last = Fraction(0), None
        for number, word in terms:
            unit = self._unit(word, bare, alone=len(terms) == 1)
            if last and (unit.base != last.base or unit.size >= last.size):
                raise UnreadableError("quantity")
            total += unsigned(number, self.decimal, "quantity") * unit.size
            last = unit
        if last is None:
            raise UnreadableError("quantity")
        return total, last.base

    def _terms(self, text: str) -> list[tuple[str, str]]:
        terms, position = [], 0
        while position < len(text):
            match = _TERM.match(text, position)
            if match is None:
                raise UnreadableError("quantity")
            terms.append((match[1], match[2].strip(" ,")))
            position = match.end()
        return terms

    def _unit(self, word: str, bare: str, alone: bool) -> Unit:
        if not word:
            if not alone:
                raise UnreadableError("quantity")
            if not bare:
                raise UnreadableError("unit-missing")
            word = bare
        if self.fluid and word.casefold().rstrip(".") in ("oz", "ozs", "ounce", "ounces"):
            word = "fl oz"
        unit = self.units.find(word)
        if unit is None:
            raise UnreadableError("unit", f"“{word}” is not in the unit table.")
        if self.bases and unit.base not in self.bases:
            raise UnreadableError(
                "unit",
                f"“{word}” does not measure a length." if self.bases == ("um",) else f"“{word}” does not fit here.",
            )
        return unit


def is_fluid(*words: str) -> bool:
    """Whether a header or mapping says fluid ounces: `oz` alone is a weight."""
    return any(re.search(r"\bfl(?:uid)?\b|\bfloz\b", word.casefold().replace("_", " ")) for word in words)


def lengths(texts: pl.Series, about: About) -> pl.DataFrame:
    reader = Reader(Units(about.shop.words.get("unit")), about.decimal, about.unit, ("um",))
    return each(texts, lambda text: reader.read(text)[0], {"value": pl.Int64})


def quantities(texts: pl.DataFrame, about: About) -> pl.DataFrame:
    """`texts` has `text`, `unit` (of the row, or null) and `lone` (unit of a bare number by the row's category, or null)."""
    units = Units(about.shop.words.get("unit"))
    rows: list[tuple[str | int | None, ...]] = []
    for text, unit, lone in texts.select("text", "unit", "lone").iter_rows():
        reader = Reader(units, about.decimal, about.unit, (), is_fluid(unit or "", about.unit, about.header))
        try:
            rows.append((text, unit, lone, *reader.read(text, unit or "", lone or ""), None, None))
        except UnreadableError as fault:
            rows.append((text, unit, lone, None, None, fault.code, fault.hint))
    keys = {"text": pl.String, "unit": pl.String, "lone": pl.String}
    return pl.DataFrame(
        rows, schema={**keys, "value": pl.Int64, "base": pl.String, "code": pl.String, "hint": pl.String}, orient="row"
    )
