"""Amounts of money to whole minor units: €1.234,50 · $1,234.50 · 1'234.50 CHF · (12.50) · 12,-."""

import re
from fractions import Fraction

import polars as pl

from pipeline.cleaning.numbers import plain_signs, unsigned
from pipeline.cleaning.parsed import About, UnreadableError, each, one_of

# ISO 4217 codes by sign (from memory); a sign shared by several currencies names none of them
SIGNS: dict[str, tuple[str, ...]] = {
    "US$": ("USD",),
    "CA$": ("CAD",),
    "C$": ("CAD",),
    "A$": ("AUD",),
    "NZ$": ("NZD",),
    "$": ("USD", "CAD", "AUD", "NZD", "MXN", "SGD", "HKD", "CLP", "COP", "ARS"),
    "€": ("EUR",),
    "£": ("GBP",),
    "¥": ("JPY", "CNY"),
    "₹": ("INR",),
    "₩": ("KRW",),
    "₺": ("TRY",),
    "₫": ("VND",),
    "zł": ("PLN",),
    "kr": ("SEK", "NOK", "DKK", "ISK"),
    "kr.": ("SEK", "NOK", "DKK", "ISK"),
    "Kč": ("CZK",),
    "Ft": ("HUF",),
    "R$": ("BRL",),
    "Fr.": ("CHF",),
    "Fr": ("CHF",),
    "SFr.": ("CHF",),
}
_CODE = r"[A-Z]{3}"
_SIGN = re.compile(rf"{one_of(SIGNS)}|{_CODE}")
_SIGN_AFTER = re.compile(rf"(?:{one_of(SIGNS)}|{_CODE})$")
_BIGGEST = 10**14


def amounts(texts: pl.Series, about: About) -> pl.DataFrame:
    """`value` in minor units, rounded once, half to even; `currency` as the cell names it, or null."""
    digits = about.shop.minor_digits

    def read(text: str) -> tuple[int, str | None]:
        value, currency = amount(text, about.decimal)
        cents = round(value * 10**digits)
        if abs(cents) > _BIGGEST:
            raise UnreadableError("range")
        return cents, currency

    return each(texts, read, {"value": pl.Int64, "currency": pl.String})


def easy(about: About) -> tuple[str, pl.Expr]:
    """Whole units, and where the point is the decimal mark two decimals: the most cells by far."""
    digits, text = about.shop.minor_digits, pl.col("text")
    whole = text.cast(pl.Int64, strict=False) * 10**digits
    if about.decimal != "." or digits != 2:
        return r"^-?[0-9]{1,12}$", whole
    cents = text.str.replace(".", "", literal=True).cast(pl.Int64, strict=False)
    return r"^-?[0-9]{1,12}(?:\.[0-9]{2})?$", pl.when(text.str.contains(".", literal=True)).then(cents).otherwise(whole)


def amount(text: str, decimal: str) -> tuple[Fraction, str | None]:
    """The value and the currency sign or code of one text."""
    text = plain_signs(text.strip())
    negative, told = False, False
    if text.startswith("(") and text.endswith(")"):
        negative, told, text = True, True, text[1:-1].strip()
    text = re.sub(r"[.,]-$", "", text)  # 12,- is how whole amounts are written in German
    currency = None
    for _ in range(4):  # sign and currency come before or after, in any order
        text = text.strip()
        if text[:1] in ("-", "+") or text[-1:] == "-":
            if told:
                raise UnreadableError("money")
            negative, told = "-" in (text[:1], text[-1:]), True
            text = text[1:] if text[:1] in ("-", "+") else text[:-1]
            continue
        head, tail = _SIGN.match(text), _SIGN_AFTER.search(text)
        if not head and not tail:
            break
        if currency or (head and tail):
            raise UnreadableError("money")
        currency = (head or tail)[0]  # type: ignore[index]
        text = text[head.end() :] if head else text[: tail.start()]  # type: ignore[union-attr]
        text = re.sub(r"[.,]-$", "", text.strip())
    if "/" in text or not text:
        raise UnreadableError("money")
    value = unsigned(text, decimal, "money")
    return (-value if negative else value), currency


def fits(currency: str, code: str) -> bool:
    """Whether a sign or code in a cell can stand for the currency `code`."""
    return code in SIGNS.get(currency, (currency,))
