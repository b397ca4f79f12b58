"""The words of a table that can mean several things, and were taken for the likeliest."""

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.cleaning import likely_words as listed
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.synonyms import Words
from pipeline.mapping import Mapping, column_of
from pipeline.readers import TextTable
from pipeline.readers.reader_output import occurrences
from pipeline.records import RECORDS
from pipeline.reference import key
from pipeline.shop import Shop

AS_WRITTEN = "a kind of its own"


@dataclass(frozen=True)
class LikelyWord:
    """A word as it stands in a file, what it is taken for, all that it can mean, whether a setting says so, and the
    rows (row, occurrence) that have it."""

    vocabulary: str
    word: str
    taken: str
    meanings: tuple[str, ...]
    settled: bool
    places: pl.DataFrame


def likely_words(table: TextTable, how: Mapping, shop: Shop) -> Iterator[LikelyWord]:
    """The words of a table that were taken for the likeliest, but for those that the shop names or has taught."""
    for field in RECORDS[how.record]:
        known = listed.of_shop(field.vocabulary, shop) if field.kind == "word" else {}
        column = column_of(table, how.columns.get(field.name, ""))
        if field.kind != "word" or column is None:
            continue
        words = Words(field.vocabulary, shop)
        own = {*map(key, shop.words.get(field.vocabulary, {})), *map(key, words.own_names())}
        cells = table.frame.select("row", occurrences(table.frame["row"]), pl.col(column).str.strip_chars())
        for text in cells[column].drop_nulls().unique(maintain_order=True):
            plain = key(text)
            if plain in own:
                continue
            if meanings := known.get(plain):
                settled = field.vocabulary == "species" and listed.is_told(shop)
            elif inside := taken_inside(words, text):
                meanings, settled = (inside, AS_WRITTEN), True
            else:
                continue
            places = cells.filter(pl.col(column) == text).select("row", "occurrence")
            yield LikelyWord(field.vocabulary, text, meanings[0], meanings, settled, places)


def taken_inside(words: Words, text: str) -> str:
    """What a word that nothing knows was taken for, by the known word in it."""
    try:
        return "" if words.find(text) is not None else words.inside(text)
    except UnreadableError:
        return ""  # it has two meanings, which is asked about by itself
