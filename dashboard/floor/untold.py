"""What a phone isn't told of the shop: amounts of money, and what somebody wrote in free text (notes, suppliers).

A phone can be lost, and must then tell no prices and nothing about a buyer. So this goes by the kind of a field, also
of one that a record gets some day; and words of the shop that name a price themselves (`slab 240 €`) aren't offered.
"""

import re
import sys
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from dashboard.entry_words import entry_in_words
from dashboard.options import FormOptions
from pipeline.records import RECORDS, Field

KINDS_UNTOLD = ("money", "text")
RATES = ("paid_rate",)
"""Fields of another kind that say what money is worth."""


def line(entry: Any, known: FormOptions) -> dict[str, str]:
    """When an entry was written, and what it says, with the names of the fields of which nothing is told.

    Not its id: who has that could ask what became of it.
    """
    told = told_cells(entry.record, entry.cells, known)
    row = [told.get(field.name, "") for field in RECORDS[entry.record]]
    said = entry_in_words(replace(entry, row=row), known)
    untold = " and ".join(name.replace("_", " ") for name in entry.cells if name not in told)
    return {"at": entry.at[11:16], "said": f"{said}; not shown here: {untold}" if untold else said}


def told_cells(record: str, cells: Mapping[str, str], known: FormOptions) -> dict[str, str]:
    """Of the cells of an entry or a timer (field → text) those that a phone is told."""
    open_to_all = {field.name for field in RECORDS[record] if not _is_untold(field)}
    return {name: text for name, text in cells.items() if name in open_to_all and not names_price(text, known.currency)}


def offered(known: FormOptions) -> FormOptions:
    """What a form can offer on a phone: no word, and no name of a tag, that names a price."""

    def fine(texts: Iterable[str]) -> list[str]:
        return [text for text in texts if not names_price(text, known.currency)]

    words = {name: fine(texts) for name, texts in known.words.items()}
    return replace(known, words=words, names={tag: name for tag, name in known.names.items() if fine([name])})


def names_price(text: str, currency: str) -> bool:
    """Whether a text holds an amount of money: digits beside the sign of a currency, or the shop's own code."""
    return bool(_price(currency).search(text))


def _is_untold(field: Field) -> bool:
    return field.kind in KINDS_UNTOLD or field.name in RATES


@cache
def _price(currency: str) -> re.Pattern[str]:
    signs = "".join(chr(sign) for sign in range(sys.maxunicode) if unicodedata.category(chr(sign)) == "Sc")
    money = rf"(?:[{re.escape(signs)}]|\b{re.escape(currency)})" if currency else f"[{re.escape(signs)}]"
    return re.compile(rf"{money}\s*\d|\d[.,\-–]*\s*{money}", re.IGNORECASE)
