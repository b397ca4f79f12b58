"""Headers of columns: how they are compared, what they are known as, and which are about a buyer."""

import functools
import re
from collections.abc import Iterable

import polars as pl

from pipeline.readers.tables import TextTable
from pipeline.reference import plain, rows, synonyms

_SAMPLE_ROWS, _SAMPLE_TEXTS = 2000, 40
_EMAIL = re.compile(r"^[^@\s]+@[^@\s]+\.\w+$")
_PHONE = re.compile(r"^(?=.*[( ])\(?\+?\d[\d\s()-]{8,}$")
_PHONE_ABROAD = re.compile(r"^\+\d[\d\s()-]{8,}$")

_OF = r"(?:(?:of|the|de|du|des|del|dell|della|di|van|l|la|le|el|il|der|den|het|vom) )*"


def sample(cells: pl.Series) -> pl.Series:
    """Some distinct texts of a column, none empty."""
    texts = cells.head(_SAMPLE_ROWS).str.strip_chars().replace("", None).drop_nulls()
    return texts.unique(maintain_order=True).head(_SAMPLE_TEXTS)


@functools.cache
def is_private_header(header: str) -> bool:
    """Whether a header names what is about a buyer, by the words of `reference/buyers.csv`."""
    words = plain(header)
    return words in synonyms("private")["-"] or any(pattern.search(words) for pattern in _about_buyers())


@functools.cache
def _about_buyers() -> tuple[re.Pattern[str], ...]:
    """Words that are private wherever they stand; "buyer name" and Kundenname; "name of the buyer", nom du client."""
    parts: dict[str, list[str]] = {}
    for row in rows("buyers"):
        parts.setdefault(row["part"], []).append(re.escape(plain(row["word"])))
    party, parcel, detail, number, anywhere = (
        "|".join(sorted(parts[name], key=len, reverse=True))
        for name in ("party", "parcel", "detail", "number", "anywhere")
    )
    return (
        re.compile(rf"\b(?:{anywhere})\b"),
        re.compile(rf"\b(?:{party}) ?s? ?(?:{_OF})?(?:{detail}|{number}|{anywhere})\b"),
        re.compile(rf"\b(?:{parcel}) ?s? ?(?:{_OF})?(?:{detail}|{anywhere})\b"),
        re.compile(rf"\b(?:{detail}) (?:{_OF})?(?:{party}|{parcel})s?\b"),
    )


def is_private(header: str, texts: Iterable[str]) -> bool:
    """Whether a column is about a buyer: no field is ever proposed for names, addresses, mails and phones."""
    if is_private_header(header):
        return True
    texts = list(texts)
    return holds_contacts(texts) or _share(texts, _PHONE) > 0.8


def holds_contacts(texts: Iterable[str]) -> bool:
    """Whether texts are mails, or phones with the + of a country: nothing else looks like that."""
    texts = list(texts)
    return _share(texts, _EMAIL) > 0.5 or _share(texts, _PHONE_ABROAD) > 0.8


def _share(texts: list[str], pattern: re.Pattern[str]) -> float:
    return sum(bool(pattern.search(text)) for text in texts) / max(1, len(texts))


def is_about_buyers(table: TextTable) -> bool:
    """Whether any column of a table is about a buyer."""
    names = (*table.names, *[""] * (len(table.columns) - len(table.names)))
    if any(map(is_private_header, names)):
        return True
    first = table.frame.head(_SAMPLE_TEXTS).drop("row")
    return any(is_private("", [text.strip() for text in column.drop_nulls()]) for column in first)


def share_true(flags: pl.Series) -> float:
    return float(flags.cast(pl.Float64).sum()) / max(1, flags.len())
