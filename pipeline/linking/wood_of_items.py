"""The species of wood that was bought or counted, where its row names none: what the item is called says it.

“White oak boards” are white oak, and “ekbräda 25 mm” is the ek of the shop's pieces, in whatever language.
A word that names several species, as oak, is the one of them that the shop has. What stays open keeps its item's name.
"""

from collections.abc import Iterable, Mapping

import polars as pl

from pipeline.cleaning import likely_words
from pipeline.reference import key, names
from pipeline.shop import Shop

MOST_WORDS = 6
"""The name of a wood has no more."""

SHORTEST = 4
"""A word of so many letters may begin a compound: Eichenbohle is Eiche, and tealight is no tea."""


def named_in(pieces: pl.DataFrame, purchases: pl.DataFrame, counts: pl.DataFrame) -> set[str]:
    """The species that rows of the shop name."""
    columns = (frame["species"] for frame in (pieces, purchases, counts))
    return {species for column in columns for species in column.drop_nulls().unique()}


def apply(frame: pl.DataFrame, own: Iterable[str], shop: Shop) -> pl.DataFrame:
    """Purchases or counts with the species that their wooden items name; `own` are those that the shop's rows name."""
    silent = (pl.col("category") == "wood") & pl.col("species").is_null() & pl.col("item").is_not_null()
    items = frame.filter(silent)["item"].unique()
    if items.is_empty():
        return frame
    known, used = _known(shop), sorted(own)
    found = {item: species for item in items if (species := species_of(item, known, used))}
    told = pl.col("item").replace_strict(found, default=None, return_dtype=pl.String)
    return frame.with_columns(pl.when(silent).then(told).otherwise("species").alias("species"))


def species_of(item: str, known: Mapping[str, frozenset[str]], own: Iterable[str]) -> str:
    """The species that an item is called by; "" where it names none, or two. The longest name counts.

    `known` says of each name which species it can mean; of several it is the only one among the `own`.
    """
    tokens = key(item).split()
    spelled = {key(species): frozenset({species}) for species in own}
    for size in range(min(MOST_WORDS, len(tokens)), 0, -1):
        spans = {" ".join(tokens[at : at + size]) for at in range(len(tokens) - size + 1)}
        told = {one for span in spans if (one := _only(spelled.get(span) or known.get(span, frozenset()), spelled))}
        if told:
            return told.pop() if len(told) == 1 else ""
    begun = {species for species in own if any(_begins(token, key(species)) for token in tokens)}
    if len(begun) != 1:  # else a word of the species that the shop has: oak of its white oak
        begun = {species for species in own if key(species).split()[-1:] and key(species).split()[-1] in tokens}
    return begun.pop() if len(begun) == 1 else ""


def _only(meanings: frozenset[str], spelled: Mapping[str, object]) -> str:
    had = [species for species in meanings if len(meanings) == 1 or key(species) in spelled]
    return had[0] if len(had) == 1 else ""


def _begins(token: str, species: str) -> bool:
    """Whether a compound begins with a species; its last letter may give way, as in Eichenbohle or bukowa."""
    stem = species if len(species) <= SHORTEST else species[:-1]
    return len(stem) >= SHORTEST and len(token) > len(species) and token.startswith(stem)


def _known(shop: Shop) -> dict[str, frozenset[str]]:
    """Name → the species that it can mean: the shop's own words, what a word likely means there, then the table."""
    likely = {word: frozenset(meanings[:1]) for word, meanings in likely_words.of_shop("species", shop).items()}
    own = {key(word): frozenset({meaning}) for word, meaning in shop.words.get("species", {}).items()}
    return {**names("species"), **likely, **own}
