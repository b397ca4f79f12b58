"""What `[words.…]` of `shop.toml` teaches: of which vocabularies words can be taught, and what of it helps nobody."""

import re
from collections.abc import Iterator

from pipeline.records import CATEGORIES, RECORDS
from pipeline.reference import key
from pipeline.shop import Shop

NO_RECORD = "no record"
"""What a row is that says nothing of the books: a total, a note, an entry that was taken back."""

_FIELDS = [field for record in RECORDS.values() for field in record]

CHOICES: dict[str, tuple[str, ...]] = {
    name: tuple(dict.fromkeys(choice for field in _FIELDS if field.name == name for choice in field.choices))
    for name in dict.fromkeys(field.name for field in _FIELDS if field.kind == "choice")
} | {"category": CATEGORIES, "yes_no": ("yes", "no"), "direction": ("in", "out"), "record": (*RECORDS, NO_RECORD)}
"""Vocabularies that are a short list → what their words can mean."""

VOCABULARIES = tuple(sorted({*CHOICES, *(field.vocabulary for field in _FIELDS if field.kind == "word"), "unit"}))
"""All vocabularies: those of the records, and `unit`."""


def not_understood(shop: Shop) -> Iterator[tuple[int, str]]:
    """What is taught in vain, with its line: a section of a vocabulary that is none, a meaning that is no choice."""
    wrong = [
        *((name, "") for name in shop.words if name not in VOCABULARIES),
        *(
            (name, word)
            for name, meanings in shop.words.items()
            for word, meaning in meanings.items()
            if name in CHOICES and key(meaning) not in map(key, CHOICES[name])
        ),
    ]
    if not wrong:
        return
    lines = (shop.folder / "shop.toml").read_text(encoding="utf-8-sig").splitlines()
    for vocabulary, word in wrong:
        if not word:
            known = ", ".join(VOCABULARIES)
            yield _line(lines, vocabulary), f"[words.{vocabulary}]: no field has such words. Known ones: {known}."
            continue
        known = ", ".join(CHOICES[vocabulary])
        meaning = shop.words[vocabulary][word]
        told = f"[words.{vocabulary}]: “{word}” can't mean “{meaning}”. It can mean: {known}."
        yield _line(lines, vocabulary, word), told


def _line(lines: list[str], vocabulary: str, word: str = "") -> int:
    """The line, from 1, of a section of words, or of a word in it; 1 where it stands in a form of its own."""
    heads = re.compile(rf"""\s*\[\s*words\s*\.\s*["']?{re.escape(vocabulary)}["']?\s*\]""")
    head = next((at for at, line in enumerate(lines) if heads.match(line)), 0)
    if not word:
        return head + 1
    begins = re.compile(rf"""\s*["']?{re.escape(word)}["']?\s*=""")
    return next((at for at in range(head, len(lines)) if begins.match(lines[at])), head) + 1
