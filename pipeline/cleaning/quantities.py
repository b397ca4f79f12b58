"""Quantities and lengths to whole base units: 12 bf · 2 gal · 3 x 500 ml · 1 1/2 in · 8/4 · 5' 6" · 3 lb 4 oz.

Number and unit are parsed apart by our own grammar; see `units` for why Pint never sees the text.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import polars as pl

from pipeline.cleaning.numbers import plain_signs, unsigned
from pipeline.cleaning.parsed import About, UnreadableError
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


OUNCES = ("oz", "ozs", "ounce", "ounces")
"""Words of a weight, which stand for fluid ounces too."""

_LONGEST = 10**10
_MOST = 10**14


def most(bases: tuple[str, ...]) -> int:
    """The largest value of a field that is a measure: ten kilometres, or a hundred thousand tonnes of anything.

    Volumes of such lengths, and sums of such quantities over all the rows of a shop, stay within BIGINT.
    """
    return _LONGEST if bases == ("um",) else _MOST


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

        `unit` stands in the row's unit cell; `lone` is the unit of a bare number where nothing names one, "" = a fault.
        """
        text = _ABOUT.sub("", plain_signs(text.strip()))
        negative = text.startswith("-") or (text.startswith("(") and text.endswith(")"))
        if text.startswith("("):
            text = text.removeprefix("(").removesuffix(")").strip() if negative else text  # one bracket alone is a slip
        else:
            text = text[text[:1] in ("+", "-") :].strip()
        times = Fraction(1)
        if match := _TIMES.match(text):
            packs = match[2].strip() and self.units.find(match[2])
            if "um" in self.bases or (match[2].strip() and (not packs or packs.base != "each")):
                raise UnreadableError("quantity")
            times, text = unsigned(match[1], self.decimal, "quantity"), text[match.end() :]
            if not times:
                raise UnreadableError("quantity")  # 0x10 is no ten packs of anything
        amount, base = self._sum(text, unit or self.unit or lone)
        whole = round(amount * times)
        if abs(whole) > most(self.bases):
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
        if self.fluid and word.casefold().rstrip(".") in OUNCES:
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

    def plain_unit(self, word: str, unit: str, lone: str) -> Unit | None:
        """The unit of one number with the unit word `word`; None where that is a fault or a question."""
        try:
            return self._unit(word, unit or self.unit or lone, alone=True)
        except UnreadableError:
            return None


def is_fluid(*words: str) -> bool:
    """Whether a header or mapping says fluid ounces: `oz` alone is a weight."""
    return any(re.search(r"\bfl(?:uid)?\b|\bfloz\b", word.casefold().replace("_", " ")) for word in words)


KEYS = ("text", "unit", "lone")
_READ = {**dict.fromkeys(KEYS, pl.String), "value": pl.Int64, "base": pl.String, "code": pl.String, "hint": pl.String}
_WORD = r"\s*(\p{L}+(?: \p{L}+)?)?$"
_LARGEST_PART = 4 * 10**9
_FEW = 50
"""So many texts are read one by one before a sweep is set up."""


def lengths(texts: pl.Series, about: About) -> pl.DataFrame:
    none = [pl.lit(None, pl.String).alias(name) for name in ("unit", "lone")]
    done = _read_all(texts.rename("text").to_frame().with_columns(none), about, ("um",))
    return done.select("text", "value", "code", "hint")


def quantities(texts: pl.DataFrame, about: About) -> pl.DataFrame:
    """`texts` has `text`, `unit` (of the row, or null) and `lone` (of a bare number by the row's category, or null)."""
    return _read_all(texts.select(KEYS), about, ())


def _read_all(texts: pl.DataFrame, about: About, bases: tuple[str, ...]) -> pl.DataFrame:
    units = Units(about.shop.words.get("unit"))
    readers: dict[str, Reader] = {}

    def reader(unit: str) -> Reader:
        if unit not in readers:
            fluid = is_fluid(unit, about.unit, about.header)
            readers[unit] = Reader(units, about.decimal, about.unit, bases, fluid)
        return readers[unit]

    swept, rest = texts.clear(), texts
    if texts.height > _FEW:
        swept, rest = sweep(texts, about.decimal, lambda word, unit, lone: reader(unit).plain_unit(word, unit, lone))
    rows: list[tuple[str | int | None, ...]] = []
    for text, unit, lone in rest.iter_rows():
        try:
            rows.append((text, unit, lone, *reader(unit or "").read(text, unit or "", lone or ""), None, None))
        except UnreadableError as fault:
            rows.append((text, unit, lone, None, None, fault.code, fault.hint))
    read = pl.concat([swept, pl.DataFrame(rows, schema=_READ, orient="row")], how="diagonal_relaxed")
    return _within(read, most(bases))


def _within(read: pl.DataFrame, largest: int) -> pl.DataFrame:
    """What was read together is bounded as what is read one by one."""
    beyond = pl.col("value").abs() > largest
    read = read.with_columns(
        pl.col(name) if name in read.columns else pl.lit(None, pl.String).alias(name) for name in ("code", "hint")
    )
    return read.with_columns(
        pl.when(beyond).then(pl.lit("range")).otherwise(pl.col("code")).alias("code"),
        pl.when(~beyond).then(pl.col("value")).alias("value"),
    )


def sweep(
    texts: pl.DataFrame, decimal: str, find: Callable[[str, str, str], Unit | None]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The texts that are one plain number and a unit word, read together; and the rest, to be read one by one.

    Only the distinct unit words are looked up. All in whole numbers: number x size is below 2**63 by the bounds here.
    """
    part = rf"(?:\{decimal}([0-9]{{1,3}}))?" if decimal in (".", ",") else "()"
    groups = pl.col("text").str.extract_groups(rf"^(-?)([0-9]{{1,6}}){part}{_WORD}").alias("groups")
    frame = texts.with_columns(groups).unnest("groups").rename({"1": "sign", "2": "whole", "3": "part", "4": "word"})
    words = frame.filter(pl.col("whole").is_not_null()).select("word", "unit", "lone").unique()
    found = [find(word or "", unit or "", lone or "") for word, unit, lone in words.iter_rows()]
    fitting = [u if u and u.size.numerator <= _LARGEST_PART else None for u in found]
    looked_up = words.with_columns(
        pl.Series("base", [u and u.base for u in fitting], dtype=pl.String),
        pl.Series("above", [u and u.size.numerator for u in fitting], dtype=pl.Int64),
        pl.Series("below", [u and u.size.denominator * 1000 for u in fitting], dtype=pl.Int64),
    )
    joined = frame.join(looked_up, on=["word", "unit", "lone"], how="left", maintain_order="left", nulls_equal=True)
    easy = pl.col("whole").is_not_null() & pl.col("base").is_not_null()
    thousandths = pl.concat_str("whole", pl.col("part").fill_null("").str.pad_end(3, "0")).cast(pl.Int64, strict=False)
    value = half_even(thousandths * pl.col("above"), pl.col("below"))
    signed = pl.when(pl.col("sign") == "-").then(-value).otherwise(value).alias("value")
    return joined.filter(easy).select(*KEYS, signed, "base"), joined.filter(~easy).select(KEYS)


def half_even(number: pl.Expr, by: pl.Expr) -> pl.Expr:
    """A whole number that is not negative, divided and rounded half to even, exactly."""
    floor, rest = number // by, number % by
    up = (2 * rest > by) | ((2 * rest == by) & (floor % 2 == 1))
    return floor + up.cast(pl.Int64)
