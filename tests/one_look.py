"""What a page may take of a maker's look: words and figures of its sentence, and how far down it goes."""

import re
from html import unescape

MOST_WORDS, MOST_FIGURES = 20, 3

HEIGHTS = {
    "month": (2400, 3600),
    "year": (2400, 3600),
    "week": (2000, 3000),
    "pieces": (2000, 3200),
    "rework": (2200, 3200),
    "pricing": (2200, 3200),
    "materials": (2400, 3200),
    "stock": (2400, 3200),
    "files": (2600, 3200),
}
"""Page → how tall it may be at 1,400 and at 360 pixels of width."""

DATED = re.compile(
    r"\b\d{4}-\d{2}(-\d{2})?\b|\b(January|February|March|April|May|June|July|August|September|October|November|December)"
    r"( \d{4})?\b|\b20\d{2}\b"
)


def words_of(sentence: str) -> int:
    return len(unescape(sentence).split())


def figures_of(sentence: str, names: tuple[str, ...] = ()) -> list[str]:
    """The figures of a sentence: neither dates, nor what stands in a name of the shop's own."""
    plain = unescape(sentence)
    for name in names:
        plain = plain.replace(name, "")
    return re.findall(r"\d[\d.,]*", DATED.sub("", plain))


def too_much(sentence: str, names: tuple[str, ...] = ()) -> str:
    """What is wrong with a headline; nothing where it can be read at one look."""
    words, figures = words_of(sentence), figures_of(sentence, names)
    if words > MOST_WORDS:
        return f"{words} words: {sentence}"
    return f"{len(figures)} figures: {sentence}" if len(figures) > MOST_FIGURES else ""
