"""Words that can mean several things, taken for the likeliest: ash for white ash, milling for surfacing."""

import functools

from pipeline.reference import key, names, rows
from pipeline.shop import Shop

AMERICA, EUROPE = "north america", "europe"
_AMERICAN = ("USD", "CAD")
_EUROPEAN = ("GBP", "CHF", "SEK", "NOK", "DKK", "ISK", "PLN", "CZK", "HUF", "RON")
"""Currencies of shops that are surely there; of the euro's, much of the wood that has such names is American."""


def is_told(shop: Shop) -> bool:
    """Whether it is known where the shop is: by its setting, or by a currency of that region alone."""
    return bool(_said(shop)) or shop["currency"] in (*_AMERICAN, *_EUROPEAN)


@functools.cache
def meanings(vocabulary: str, region: str, told: bool) -> dict[str, tuple[str, ...]]:
    """Word → what it can mean, the likeliest first: by the region that is told, else by what is usual everywhere."""
    order = {region: 0 if told else 2, "": 1}
    found: dict[str, list[str]] = {}
    listed = [row for row in rows("likely_words") if row["vocabulary"] == vocabulary]
    for row in sorted(listed, key=lambda row: order.get(row["region"], 3)):
        found.setdefault(key(row["word"]), []).append(row["meaning"])
    return {word: tuple(dict.fromkeys(several)) for word, several in found.items()}


def of_shop(vocabulary: str, shop: Shop) -> dict[str, tuple[str, ...]]:
    """Word → what it can mean in this shop, the likeliest first."""
    region = _said(shop) or (AMERICA if shop["currency"] in _AMERICAN else EUROPE)
    found = meanings(vocabulary, region, is_told(shop))
    if is_told(shop):
        return found
    # what the lists know to be two things is asked about, and never taken for one of them
    return {word: several for word, several in found.items() if len(names(vocabulary).get(word, ())) < 2}


def _said(shop: Shop) -> str:
    return str(shop.tables["shop"][0].get("region") or "")
