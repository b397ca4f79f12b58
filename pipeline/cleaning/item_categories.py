"""The category of what was bought, where no cell says it: from the shop's settings, and from the words of the item."""

import functools
import re
from collections.abc import Callable

import polars as pl

from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.synonyms import Words
from pipeline.reference import before_for, key, names, rows
from pipeline.shop import Shop

_COMPOUNDS = ("de", "nl")
_SHORTEST, _FRONT = 4, 3
"""Letters of a word that ends a compound, and of what stands before it at least: black is no lacquer (Lack)."""
_PACK_OF = re.compile(r"^(?:an? |the )?(?:box|pack|set|bag|roll|tin|can|bottle|tube|bundle|pair|lot)(?:e?s)? of ")
"""What holds a thing says nothing of what it is for."""
_BOARD_FEET = r"(?i)\b(?:bf|bd\.? ?ft|board ?f(?:ee|oo)t)\b"


BY_WORDS = "_by_words"
"""The passing column that says where a category is told by the words of the item alone."""


def with_categories(found: pl.DataFrame, shop: Shop) -> pl.DataFrame:
    """The cells of purchases (`column_formats.cells`), each empty category filled where the item leaves no doubt."""
    if "item" not in found.columns:
        return found
    if "category" not in found.columns:
        found = found.with_columns(pl.lit(None, pl.String).alias("category"))
    open_ = found.filter(pl.col("category").is_null())["item"].drop_nulls().unique()
    settled = _settled(shop)
    sure = {text: category for text in open_ if (category := settled(text))}
    known = sure | {text: category for text in open_ if text not in sure and (category := _by_words(key(text)))}
    sold_by = _sold_by(found)
    guessed = pl.col("item").is_in([text for text in known if text not in sure])
    guessed |= ~pl.col("item").is_in(list(known)) & pl.lit(sold_by).is_not_null()
    empty = pl.col("category").is_null() & pl.col("item").is_not_null() & guessed
    found = found.with_columns(empty.fill_null(value=False).alias(BY_WORDS))
    named = pl.col("item").replace_strict(known, default=None, return_dtype=pl.String)
    own = pl.coalesce(named, pl.when(pl.col("item").is_not_null()).then(pl.lit(sold_by)))
    measured = [
        pl.col(c).str.contains(_BOARD_FEET).fill_null(value=False) for c in ("quantity", "unit") if c in found.columns
    ]
    # only wood is sold by the board foot
    by_unit = (
        pl.when(pl.any_horizontal(measured) & pl.col("item").is_not_null()).then(pl.lit("wood")) if measured else None
    )
    return found.with_columns(
        pl.coalesce("category", own, *([by_unit] if by_unit is not None else [])).alias("category")
    )


def _sold_by(found: pl.DataFrame) -> pl.Series:
    """What each row's supplier sells, as its own name says: a sawmill sells wood."""
    if "supplier" not in found.columns:
        return pl.Series([None] * found.height, dtype=pl.String)
    said = {text: _by_words(key(text)) or None for text in found["supplier"].drop_nulls().unique()}
    return found["supplier"].replace_strict(said, default=None, return_dtype=pl.String)


def categories(shop: Shop) -> Callable[[str], str]:
    """Gives the category of an item; "" where its words fit none, or more than one."""
    settled = _settled(shop)
    return lambda item: settled(item) or _by_words(key(item))


def _settled(shop: Shop) -> Callable[[str], str]:
    """Gives the category that the shop itself gives an item, or whose own word the item is, by its words first."""
    own = {key(row["name"]): row.get("category") for row in shop.tables.get("item", [])}
    words = Words("category", shop)

    def category(item: str) -> str:
        if own.get(key(item)):
            return str(own[key(item)])
        try:
            return words.find(item) or ""
        except UnreadableError:
            return ""

    return category


@functools.cache
def _by_words(plain: str) -> str:
    """What the words of an item say: first those before a "for", as oil for wood is no wood."""
    return next(filter(None, map(_said, (*before_for(plain)[::-1], plain))), "")


def _said(plain: str) -> str:
    single, several, endings = _known()
    plain = _PACK_OF.sub("", plain)
    tokens = plain.split()
    found = {category for word, category in several.items() if re.search(rf"\b{re.escape(word)}\b", plain)}
    found |= {single[token] for token in tokens if token in single}
    longest = max(map(len, endings), default=0)  # a cell may be one word of a thousand letters
    others = [token for token in tokens if token not in single]
    ends = {token[-n:] for token in others for n in range(_SHORTEST, min(len(token) - _FRONT, longest) + 1)}
    found |= {endings[end] for end in ends if end in endings}
    if len(found) == 1:
        return found.pop()
    return "wood" if not found and _is_species(tokens) else ""


def _is_species(tokens: list[str]) -> bool:
    """Whether a text is the name of a wood, with nothing beside it but figures and short marks: white oak 8/4 KD."""
    species = names("species")
    longest = max(name.count(" ") + 1 for name in species)
    for start in range(len(tokens)):
        for end in range(min(len(tokens), start + longest), start, -1):
            if " ".join(tokens[start:end]) in species:
                rest = tokens[:start] + tokens[end:]
                return all(len(token) <= 3 or not token.isalpha() for token in rest)
    return False


@functools.cache
def _known() -> tuple[dict[str, str], dict[str, str], dict[str, str]]:
    """Single words, words of several parts, and words that German and Dutch join others to → the category."""
    listed = [(key(row["word"]), row["category"], row["language"]) for row in rows("item_words")]
    return (
        {word: category for word, category, _ in listed if " " not in word},
        {word: category for word, category, _ in listed if " " in word},
        {word: category for word, category, lang in listed if lang in _COMPOUNDS and len(word) >= _SHORTEST},
    )
