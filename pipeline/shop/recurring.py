"""What recurs in the files of one shop: tags of pieces, order numbers, items, suppliers. A column of another file in
which they stand again is told by them, whatever it is called."""

import re
from collections.abc import Mapping

from pipeline.records import Field
from pipeline.reference import key

Seen = Mapping[str, frozenset[str]]
"""What it is → the texts of it that are on record, as `plain` has them."""

WORDS = ("item", "product", "supplier", "channel", "person")
KINDS = ("piece", "lot", "pour", "order_no", "receipt", *WORDS)
MOST = 5000
"""So many texts of a kind are remembered at most."""


def kind_of(field: Field) -> str:
    """What the texts of a field name; "" where they name nothing that recurs."""
    kind = field.makes or field.leads or field.vocabulary or field.name
    return kind if kind in KINDS and field.kind in ("tag", "tags", "word", "text") else ""


def plain(text: str, kind: str) -> str:
    """A text as it is compared: a tag without spaces, in upper case; a word without case and marks."""
    return (
        key(text) if kind in ("item", "product", "supplier", "channel", "person") else re.sub(r"\s", "", text).upper()
    )


def share(texts: list[str], kind: str, seen: Seen) -> float:
    """How many of the texts are known as this kind; of several tags in a cell the first stands for all."""
    known = seen.get(kind, frozenset())
    if not known or not texts:
        return 0.0
    firsts = [re.split(r"[;,]|\.\.", text, maxsplit=1)[0] for text in texts]
    return sum(plain(text, kind) in known for text in firsts) / len(firsts)
