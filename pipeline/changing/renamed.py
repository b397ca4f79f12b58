"""A thing of the settings that gets another name: what is on record under the old one stays of it.

Records name a person, a machine or an item as it was called when they were written. So its old name is taught as a
word for the new one, words that meant the old one mean the new one, and settings that name it follow.
"""

from collections.abc import Mapping
from typing import Any

from pipeline.changing.entries import Stand
from pipeline.cleaning.synonyms import SHOP_TABLES
from pipeline.reference import key
from pipeline.shop.settings_text import Drop, Edit, Put

_VOCABULARY = {table: vocabulary for vocabulary, table in SHOP_TABLES.items()}


def renamed(now: Stand, table: str, old: str, values: Mapping[str, Any]) -> list[Edit]:
    """The edits, beside that of the name itself, by which what named a thing names it still; none where it stays."""
    new = values.get("name")
    vocabulary = _VOCABULARY.get(table)
    if not vocabulary or not new or new == old:
        return []
    at = ("words", vocabulary)
    known = now.words.get(vocabulary, {})
    # a word that meant the old name may be the new one itself
    gone = [Drop(at, word) for word in known if key(word) == key(new)]
    follow = [
        Put(at, word, new) for word, meaning in known.items() if key(meaning) == key(old) and key(word) != key(new)
    ]
    taught = [Put(at, old, new)] if key(old) != key(new) and old not in known else []
    return [*gone, *follow, *taught, *_named_elsewhere(now, table, old, new)]


def _named_elsewhere(now: Stand, table: str, old: str, new: str) -> list[Edit]:
    if table == "item":
        prices: list[Edit] = [
            Put(at, "name", new)
            for at in dict.fromkeys(e.at for e in now.entries["price_list"] if key(e.name) == key(old))
        ]
        usual = now.entries["shop"][0].always.get("usual_resin")
        return [*prices, *([Put((), "usual_resin", new)] if usual and key(usual) == key(old) else [])]
    if table == "operation":
        pools = {e.at: e.always.get("operations") or [] for e in now.entries["pool"]}
        return [
            Put(at, "operations", [new if key(name) == key(old) else name for name in names])
            for at, names in pools.items()
            if key(old) in map(key, names)
        ]
    return []
