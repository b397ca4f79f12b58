"""Words of a vocabulary to their usual names: species, finishes, operations, defects, categories, names from the shop.

The shop's own words (`[words.<vocabulary>]` in `shop.toml`) come first, then its names, then the reference tables. An
unknown word is kept as written and listed with the nearest known one; a word with two meanings is asked about.
"""

import difflib
import re
from collections.abc import Callable

import polars as pl

from pipeline.cleaning import likely_words
from pipeline.cleaning.parsed import About, UnreadableError, each
from pipeline.records import CATEGORIES
from pipeline.reference import before_for, key, names
from pipeline.shop import Shop
from pipeline.tables import in_polars, intake

SHOP_TABLES = {
    "person": "person_rate",
    "machine": "machine",
    "pool": "pool",
    "channel": "channel",
    "operation": "operation",
    "item": "item",
}
LISTED = ("species", "finish", "operation", "defect", "category")
"""Vocabularies whose unknown words are always listed; the others only where the shop names any."""
FOLDED = (*LISTED, "item", "product", "channel")
"""Vocabularies whose unknown words are kept in lower case, so that Walnut and walnut are one."""

UNKNOWN = in_polars(intake("unknown_word"))

NOT_TOLD = "not told"
"""Where a sale was made that waits for an answer to that alone."""

_MOST_SUGGESTED = 400
_LONGEST_NEAR = 80
_INITIALS, _SHORTEST_INSIDE = 2, 3
"""So many letters of a name stand for it; a shorter word inside a text names nothing."""
_SHORTEST_BEGUN, _LONGEST_BEGUN = 3, 6
"""So many letters are the beginning of a word that was cut short."""
_SLIP = 0.87
_TAGGED = re.compile(r"(?<!\w)(?!p-?\d{2,4}(?!\w)|x\d)[a-z]{1,6}[-_]?\d", re.IGNORECASE)
"""A tag of a piece, and no grit or number of coats."""
_FIGURE = re.compile(r"[0-9]")


class Words:
    """What the words of one vocabulary mean in this shop."""

    def __init__(self, vocabulary: str, shop: Shop) -> None:
        self.vocabulary = vocabulary
        self._table = names(vocabulary)
        table = SHOP_TABLES.get(vocabulary)
        self._shop = {key(name): name for name in (shop.names(table) if table and table in shop.tables else ())}
        self._own = {key(word): meaning for word, meaning in shop.words.get(vocabulary, {}).items()}
        self._likely = likely_words.of_shop(vocabulary, shop)
        self.lists_unknown = vocabulary in LISTED or bool(self._shop)

    def find(self, word: str) -> str | None:
        """The usual name, or None for an unknown word. Raises `UnreadableError` for a word with two meanings."""
        plain = key(word)
        if plain in self._own:
            meaning = self._own[plain]
            return self._known(key(meaning)) or meaning
        return self._known(plain)

    def _known(self, plain: str) -> str | None:
        if plain in self._shop:
            return self._shop[plain]
        if plain in self._likely:
            return self._likely[plain][0]
        meanings = self._table.get(plain, frozenset())
        if len(meanings) > 1:
            raise UnreadableError(
                "ambiguous-word",
                f"Write {' or '.join(sorted(meanings))}, or settle it in [words.{self.vocabulary}] of shop.toml.",
            )
        meaning = next(iter(meanings), None)
        return self._shop.get(key(meaning), meaning) if meaning else None

    def inside(self, word: str) -> str:
        """The one known thing that an unknown word speaks of: "nussbaum maser" is walnut, "hard oil x3" is hard oil; of
        people the one whose name begins so. "" for none, or more than one."""
        parts = key(word).split()
        if self.vocabulary == "person" and len(parts) == 1 and len(parts[0]) <= _INITIALS:
            begun = [name for plain, name in self._shop.items() if plain.startswith(parts[0])]
            return begun[0] if len(begun) == 1 else ""
        if self.vocabulary == "category" and len(parts) == 1 and (begun_so := self.begun(parts[0])):
            return begun_so
        if self.vocabulary not in LISTED or len(word) > _LONGEST_NEAR or _TAGGED.search(word):
            return ""
        found, at = set(), 0
        while at < len(parts):
            try:
                end, meaning = self._longest(parts, at)
            except UnreadableError:
                return ""
            if end == at + 1 and len(parts[at]) < _SHORTEST_INSIDE:
                meaning = None
            found |= {meaning} if meaning else set()
            at = end
        meaning = found.pop() if len(found) == 1 else ""
        # "blak walnut" is no walnut but a slip for another
        return meaning if meaning and self._slip(word) in ("", meaning) else ""

    def begun(self, plain: str) -> str:
        """What all known words mean that begin so: res. for resina, ferr for ferramenta; "" where they differ."""
        if not _SHORTEST_BEGUN <= len(plain) <= _LONGEST_BEGUN:
            return ""
        found = {meaning for word, meanings in self._table.items() if word.startswith(plain) for meaning in meanings}
        return found.pop() if len(found) == 1 else ""

    def tells(self, word: str) -> bool:
        """Whether a word is known, whatever it means, or is one that was cut short."""
        plain = key(word)
        return plain in self._table or plain in self._shop or plain in self._own or bool(self.begun(plain))

    def _slip(self, word: str) -> str:
        """The known name of which a word is but a slip away."""
        near = difflib.get_close_matches(key(word), [*self._table, *self._shop], 1, _SLIP)
        try:
            return (self._known(near[0]) or "") if near else ""
        except UnreadableError:
            return ""

    def _longest(self, parts: list[str], at: int) -> tuple[int, str | None]:
        """Where the longest known phrase from a place on ends, and what it means; else the next place."""
        for end in range(len(parts), at, -1):
            if meaning := self._known(" ".join(parts[at:end])):
                return end, meaning
        return at + 1, None

    def own_names(self) -> list[str]:
        """The names that the shop itself gives."""
        return list(self._shop.values())

    def kept(self, word: str) -> str:
        """An unknown word as it is stored."""
        tidy = " ".join(word.split())
        return tidy.lower() if self.vocabulary in FOLDED else tidy

    def nearest(self, word: str) -> str:
        """The known word inside it or most like it, by its usual name; "" if none is near."""
        if len(word) > _LONGEST_NEAR:
            return ""
        known = {**{k: next(iter(m)) for k, m in self._table.items() if len(m) == 1}, **self._shop}
        parts = key(word).split()
        spans = [(i, j) for i in range(len(parts)) for j in range(i + 1, len(parts) + 1)]
        inside = [" ".join(parts[i:j]) for i, j in sorted(spans, key=lambda span: span[0] - span[1])]
        whole = next(
            (phrase for phrase in inside if phrase in known and len(phrase) > 3), ""
        )  # "curly walnut" is walnut
        near = [whole] if whole else difflib.get_close_matches(key(word), known, 1, 0.7)
        return known[near[0]] if near else ""


def near(vocabulary: str, word: str, shop: Shop) -> str:
    """The known word that an unknown one is most like; "" for a known one, or where none is near."""
    known = Words(vocabulary, shop)
    try:
        return known.nearest(word) if known.lists_unknown and known.find(word) is None else ""
    except UnreadableError:
        return ""  # it has two meanings, which is asked about by itself


def words(texts: pl.Series, about: About) -> pl.DataFrame:
    vocabulary = Words(about.field.vocabulary, about.shop)

    def read(text: str) -> tuple[str, bool]:
        if text == NOT_TOLD:
            return text, False
        known = vocabulary.find(text)
        if known is None and vocabulary.vocabulary == "operation":
            # whom it is for is no operation
            known = next((found for before in before_for(text) if (found := vocabulary.find(before))), None)
        known = known or vocabulary.inside(text) or None
        if known is None and vocabulary.vocabulary == "category":
            near = vocabulary.nearest(text)
            raise UnreadableError(
                "choice", f"Did you mean {near}? " * bool(near) + f"Known ones: {', '.join(CATEGORIES)}."
            )
        return (known, False) if known is not None else (vocabulary.kept(text), vocabulary.lists_unknown)

    return each(texts, read, {"value": pl.String, "unknown": pl.Boolean})


def status_of(shop: Shop) -> Callable[[str], str]:
    """Gives what a text says of where a piece stands, "" where nothing in it does: "scrapped - delaminated"."""
    known = names("status")
    own = {key(word): meaning for word, meaning in shop.words.get("status", {}).items()}

    def said(text: str) -> str:
        plain = key(own.get(key(text), text))
        parts = plain.split()
        found = known.get(plain) or frozenset(m for part in parts for m in known.get(part, ()))
        return next(iter(found)) if len(found) == 1 else ""

    return said


def choices(texts: pl.Series, about: About) -> pl.DataFrame:
    field = about.field
    known = {key(choice): choice for choice in field.choices}
    table = names(field.name)
    own = {key(word): meaning for word, meaning in about.shop.words.get(field.name, {}).items()}

    def read(text: str) -> str:
        plain = key(own.get(key(text), text))
        meanings = {known[plain]} if plain in known else table.get(plain, frozenset())
        fitting = [m for m in meanings if m in field.choices]
        if len(fitting) != 1:
            raise UnreadableError("choice", f"Known ones: {', '.join(field.choices)}.")
        return fitting[0]

    return each(texts, read, {"value": pl.String})


def yes_no(texts: pl.Series, about: About) -> pl.DataFrame:
    table = names("yes_no")
    own = {key(word): meaning for word, meaning in about.shop.words.get("yes_no", {}).items()}

    def read(text: str) -> bool:
        told = own.get(key(text), text)
        plain = key(told)
        if _FIGURE.search(told) and not re.fullmatch(r"[01](?:[.,]0*)?", told.strip()):
            raise UnreadableError("yes-no")  # words are compared without their marks, and 0/0 is no 0.0
        meaning = next(iter(table.get(plain, frozenset())), None)
        if meaning is None:
            raise UnreadableError("yes-no")
        return meaning == "yes"

    return each(texts, read, {"value": pl.Boolean})


def unknown_words(found: pl.DataFrame, shop: Shop, file: str) -> pl.DataFrame:
    """`found`: vocabulary, word, rows. Adds the nearest known word, for the most frequent ones."""
    if found.is_empty():
        return pl.DataFrame(schema=UNKNOWN)
    found = (
        found.group_by("vocabulary", "word")
        .agg(pl.col("rows").sum())
        .sort(["rows", "vocabulary", "word"], descending=[True, False, False])
    )
    readers = {v: Words(v, shop) for v in found["vocabulary"].unique()}
    pairs = found.select("vocabulary", "word").rows()
    near = [readers[v].nearest(w) if i < _MOST_SUGGESTED else "" for i, (v, w) in enumerate(pairs)]
    return found.select(
        "vocabulary",
        "word",
        pl.Series("nearest", near, pl.String).replace("", None),
        pl.col("rows").cast(pl.Int64),
        pl.lit(file).alias("file"),
    )
