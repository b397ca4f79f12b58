"""Headers of columns: how they are compared, what they are known as, and which are about a buyer."""

import functools
import re
from collections.abc import Iterable

import polars as pl

from pipeline.readers.tables import TextTable
from pipeline.reference import key, rows

_SAMPLE_ROWS, _SAMPLE_TEXTS = 2000, 40
_EMAIL = re.compile(r"^[^@\s]+@[^@\s]+\.\w+$")
_PRIVATE = re.compile(
    r"\be ?mail\b|\b(?:tele)?phone\b|\btelefon\b|\baddress\b|\badresse\b|\b(?:post|zip) ?code\b"
    r"|\b(?:buyer|customer|client|recipient|billing|kunden?)s? (?:name|id|no|mail|tel|city|zip|street|user\w*)\b"
)
_PHONE = re.compile(r"^(?=.*[( ])\(?\+?\d[\d\s()-]{8,}$")
_PHONE_ABROAD = re.compile(r"^\+\d[\d\s()-]{8,}$")

_SHORT = {
    "#": "no", "num": "no", "nr": "no", "number": "no", "inv": "invoice", "desc": "description", "descr": "description",
    "amt": "amount", "qty": "quantity", "qnty": "quantity", "cat": "category", "ship": "shipping", "pct": "%",
    "percent": "%", "temp": "temperature", "hum": "humidity", "mins": "minutes", "hrs": "hours",
}  # fmt: skip


@functools.cache
def plain(header: str) -> str:
    """A header as it is compared: OrderDate, order_date and "Order date" are one, and so are qty and quantity."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header).replace("#", " no ")
    return " ".join(_SHORT.get(word, word) for word in key(parted).split())


@functools.cache
def synonyms(record: str) -> dict[str, frozenset[str]]:
    """For a record: field → the headers it is known by there; "-" = headers that are of no use there."""
    found: dict[str, set[str]] = {"-": set()}
    for row in rows("headers"):
        if row["record"] == record and row["field"]:
            found.setdefault(row["field"], set()).add(plain(row["header"]))
    return {field: frozenset(headers) for field, headers in found.items()}


def sample(cells: pl.Series) -> pl.Series:
    """Some distinct texts of a column, none empty."""
    texts = cells.head(_SAMPLE_ROWS).str.strip_chars().replace("", None).drop_nulls()
    return texts.unique(maintain_order=True).head(_SAMPLE_TEXTS)


def is_private_header(header: str) -> bool:
    words = plain(header)
    return words in synonyms("private")["-"] or bool(_PRIVATE.search(words))


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
