"""What recurs in the files of one shop: tags of pieces, order numbers, items, suppliers. A column of another file in
which they stand again is told by them, whatever it is called."""

import functools
import re
from collections.abc import Iterable

from pipeline.records import Field
from pipeline.reference import key
from pipeline.shop.list_of_pieces import ListOfPieces

Seen = dict[str, frozenset[str]]
"""What it is → the texts of it that are on record, as `compared` gives them."""

WORDS = ("item", "product", "supplier", "channel", "person")
TAGS = ("piece", "lot", "pour", "order_no", "receipt")
KINDS = (*TAGS, *WORDS)
TAG = r"^[A-Za-z]{1,6}[-_ ]?\d{1,6}(?:[-/._]\d{1,4})?[A-Za-z]?$"
"""What looks like a tag by itself: SB-012, ES1, W25-014."""
ALIKE = 0.8
"""So much of a tag that is known is one that is only written so."""
MOST = 5000
"""So many texts of a kind are remembered at most."""


def kind_of(field: Field) -> str:
    """What the texts of a field name; "" where they name nothing that recurs."""
    kind = field.makes or field.leads or field.vocabulary or field.name
    return kind if kind in KINDS and field.kind in ("tag", "tags", "word", "text") else ""


def compared(text: str, kind: str) -> str:
    """A text as it is compared: a tag without spaces, in upper case; a word without case and marks."""
    return (
        key(text) if kind in ("item", "product", "supplier", "channel", "person") else re.sub(r"\s", "", text).upper()
    )


def share(texts: list[str], kind: str, seen: Seen) -> float:
    """How many of the texts are known as this kind, or are tags written as those of this kind and of no other; of
    several tags in a cell the first stands for all."""
    known = seen.get(kind, frozenset())
    if not known or not texts:
        return 0.0
    firsts = [compared(re.split(r"[;,]|\.\.", text, maxsplit=1)[0], kind) for text in texts]
    own = sum(text in known for text in firsts) / len(firsts)
    if kind in WORDS or own == 1:
        return own
    forms = {form(tag) for tag in known} - {form(tag) for other in TAGS if other != kind for tag in seen.get(other, ())}
    return max(own, ALIKE * sum(form(text) in forms - {""} for text in firsts) / len(firsts))


def stands_in(texts: Iterable[str], listed: ListOfPieces) -> bool:
    """Whether all tags of a table but for a few are of pieces that another lists."""
    tags = {compared(text, "piece") for text in texts if text}
    return len(tags & listed.tags) >= ALIKE * len(tags) > 0


@functools.cache
def form(tag: str) -> str:
    """How a tag is written: NR-999 for NR-073; "" for one without letters, as which anything may be written."""
    return re.sub(r"\d", "9", tag) if re.search(r"[^\W\d_]", tag) else ""
