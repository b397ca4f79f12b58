"""The words that piles are written with: headers by concept and source, words of cells by language, their halves."""

import functools
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from random import Random

LANGUAGES = ("en", "de", "fr", "es", "nl", "it")
STANDARDS = ("UBL 2.1", "EN 16931", "schema.org", "ISO 20022")
HALVES = ("tune", "kept")

_HERE = Path(__file__).parent


def _entries(name: str) -> list[list[str]]:
    lines = (_HERE / name).read_text(encoding="utf-8").splitlines()
    return [[part.strip() for part in line.split("|")] for line in lines if line.strip() and line[0] != "#"]


def _several(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(";"))


@functools.cache
def headers() -> dict[tuple[str, str], tuple[str, ...]]:
    """(concept, source) → the headers, of both halves."""
    return {(concept, source): _several(words) for concept, source, words in _entries("header_words.txt")}


@functools.cache
def of_half(concept: str, source: str, half: str) -> tuple[str, ...]:
    """The headers of a concept that a half may use: of a language every second one, of a standard all or none."""
    words = headers().get((concept, source), ())
    turn = _hash(source, concept) % 2
    wanted = HALVES.index(half)
    if source in STANDARDS:
        return words if turn == wanted else ()
    return tuple(word for at, word in enumerate(words) if (at + turn) % 2 == wanted)


def _hash(*parts: str) -> int:
    return int.from_bytes(blake2b("\0".join(parts).encode(), digest_size=4).digest(), "big")


def words_of(sources: Iterable[str]) -> set[str]:
    """All headers of some sources, whatever the half."""
    wanted = set(sources)
    return {word for (_, source), words in headers().items() if source in wanted for word in words}


@functools.cache
def cells() -> dict[str, dict[str, dict[str, tuple[str, ...]]]]:
    """Vocabulary → meaning → language → the words for it."""
    found: dict[str, dict[str, dict[str, tuple[str, ...]]]] = {}
    for vocabulary, meaning, *words in _entries("cell_words.txt"):
        told = {language: _several(text) for language, text in zip(LANGUAGES, words, strict=True)}
        found.setdefault(vocabulary, {})[meaning] = told
    return found


@dataclass(frozen=True)
class Writer:
    """Whose words one file is written with: headers of a half and a source, cells in a language."""

    rng: Random
    half: str
    source: str
    language: str

    def header(self, concept: str, short: str = "") -> str | None:
        """A header for a concept; `short` is what it is called of all records. None where this source has no word."""
        for source in dict.fromkeys((self.source, self.language)):
            for name in filter(None, (concept, short)):
                if words := of_half(name, source, self.half):
                    return self.rng.choice(words)
        return None

    def word(self, vocabulary: str, meaning: str = "1") -> str:
        return self.rng.choice(cells()[vocabulary][meaning][self.language])
