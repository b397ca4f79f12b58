"""What the names of a file and its sheet say: which record its rows are, and where its sales were made."""

import functools
import re

from pipeline.readers.periods import day_named
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS
from pipeline.reference import header_key, key, rows, words_for
from pipeline.shop import Shop

CALLED, SHEET_CALLED = 2.5, 3.0
"""What the words in the name of the file, of the sheet, weigh for a record."""

CHANNELS = ("market", "online", "commission")
"""Where a maker sells, as `reference/phrases.csv` has words for it."""

_COMPOUND = 5
"""So many letters at the end of a word make it a compound of that word: a Weihnachtsmarkt is a Markt."""
_FRONT, _JOINED = 8, 3
"""So many letters at its beginning do too, in a name of a file; so many more at least: accounts are no counts."""
_PLURALS = ("", "s", "e", "en", "es", "er", "i")


def called(record: str, file: str, sheet: str) -> float:
    """How strongly the names of file and sheet speak for a record; the sheet's word weighs more."""
    words = {row["header"] for row in rows("headers") if row["record"] == record and not row["field"]} | {record}
    keys = {key(word) for word in words}
    stem, sheet_words = _plain(file), _plain(sheet)

    def speaks(text: str) -> bool:
        tokens = text.split()
        return any(re.search(rf"\b{re.escape(word)}\b", text) or any(_joins(t, word) for t in tokens) for word in keys)

    return SHEET_CALLED * speaks(sheet_words) + CALLED * speaks(stem)


@functools.cache
def records_called(text: str) -> frozenset[str]:
    """The records that a text names: "bought", "hours", "sold"."""
    return frozenset(
        row["record"] for row in rows("headers") if not row["field"] and key(row["header"]) == key(text)
    ) | (frozenset({key(text)}) & RECORDS.keys())


def channel_called(file: str, sheet: str, shop: Shop) -> str:
    """The channel that the name of the sheet says, else that of the file: one of the shop's, or what such a place is
    called in any language; "" for none, or more than one."""
    for text in (_plain(sheet), _plain(file)):
        own = [name for name in channels_of(shop) if re.search(rf"\b{re.escape(key(name))}\b", text)]
        said = own or channels_said(text)
        if len(said) == 1:
            return said[0]
    return ""


def day_called(table: TextTable, file: str) -> str:
    """The day that titles, sheet and file speak of, as on a count of the shelf; "" for none."""
    return next(filter(None, (day_named(texts) for texts in (table.titles, [table.sheet], [_stem(file)]))), "")


def _stem(file: str) -> str:
    return re.sub(r"\.[A-Za-z]\w*$", "", file)


def market_of(shop: Shop) -> str:
    """The one channel of the shop that is a market; else what such a channel is called."""
    own = [name for name in channels_of(shop) if channels_said(key(name)) == ["market"]]
    return own[0] if len(own) == 1 else "market"


def channels_said(text: str) -> list[str]:
    """The usual channels of which a text, as words are compared, has a word in any language."""
    return [name for name in CHANNELS if _says(text, name)]


def channels_of(shop: Shop) -> list[str]:
    """The channels that the shop's settings name."""
    return shop.names("channel") if shop.tables.get("channel") else []


def _says(text: str, channel: str) -> bool:
    words = [header_key(word) for word in words_for("phrases", f"channel: {channel}")]
    spoken = text.split()
    return any(word in text if " " in word else any(_is(token, word) for token in spoken) for word in words)


def _is(token: str, word: str) -> bool:
    return any(token == word + end or (len(word) >= _COMPOUND and token.endswith(word + end)) for end in _PLURALS)


def _joins(token: str, word: str) -> bool:
    """Whether a word of a name is a compound of a known one: Marktverkauf, or Kommissionsware of a long one."""
    ends = (word + end for end in _PLURALS) if len(word) >= _COMPOUND else ()
    ending = any(token.endswith(end) and len(token) >= len(end) + _JOINED for end in ends)
    return ending or (len(word) >= _FRONT and token.startswith(word))


def _plain(name: str) -> str:
    """The words of a file's or sheet's name."""
    stem = key(re.sub(r"\.\w+$", "", name).replace("_", " ").replace("/", " ").replace("-", " "))
    return re.sub(r"\btable \d+$", "", stem).strip()
