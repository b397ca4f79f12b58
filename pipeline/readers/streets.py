"""Finds a street with its house number in a text, as six languages write it: 12 Oak Street, Hauptstraße 5, 12 rue des
Lilas, Calle Mayor 7, Kerkstraat 12, Via Roma 3.

A street word alone is none, and neither is a number beside any other name. Words that mean something else as well
(place, Platz, plaza, via) count only where the name is written as a name.
"""

import functools
import re
from collections.abc import Iterator

from pipeline.reference import words_for

_NAME = r"[A-ZÀ-ÖØ-Þ][\w'’.-]*"
_NUMBER = r"\d{1,4}(?: ?[a-hA-H](?!\w))?(?: ?[-/–] ?\d{1,4}[a-hA-H]?)?"
_BEFORE = r"(?<![\w.,:/×+-])"
_FOLLOWS = r"(?= *(?:$|[,;.:!?)\n\r]|(?:and|at|for|with|please|before|after|from|to|near|by|ring|apt|flat|unit)\b))"


def _one_of(*uses: str, language: str = "") -> str:
    found = {word for use in uses for word in words_for("contacts", use, language)}
    return "|".join(sorted(map(re.escape, found), key=lambda word: (-len(word), word)))


# what follows a house number is no unit, no decimals, no second length, no month and no further grit
_AFTER = (
    r"(?!\w|[.,:]\d|[-/–]\d| ?[x×*] ?\d| ?[%€$£¥°\"″]"
    rf"| ?(?i:{_one_of('unit')})\b| (?i:{_one_of('month')})[a-z]*\b)"
)


def streets(text: str) -> Iterator[tuple[int, int]]:
    """Where the streets with a house number stand in a text."""
    if not any(c.isdigit() for c in text):
        return
    for pattern in street_patterns():
        for found in pattern.finditer(text):
            if _is_street(found):
                yield found.span()


def _is_street(found: re.Match[str]) -> bool:
    parts = found.groupdict()
    names = [word.strip(".,'’-").casefold() for word in (parts.get("name") or "").split() if word != "The"]
    stem = (parts.get("stem") or "").casefold()
    if stem in _words("no street ending") or f"{stem}s" in _words("no street ending"):
        return False
    if parts.get("first", "") and parts["first"].casefold() == "via":
        last = names[-1] if names else ""
        # outside of Italian, via is how something was sent
        if last in _words("no street name") or (parts["first"] == "via" and not re.search(r"[aeiouàèéìòù]$", last)):
            return False
    return "english" not in parts or not set(names) & (_words("no name") | _words("unit"))


@functools.cache
def _words(use: str) -> frozenset[str]:
    return frozenset(words_for("contacts", use))


@functools.cache
def street_patterns() -> tuple[re.Pattern[str], ...]:
    """How a street with its number is written, English first."""
    return tuple(re.compile(text) for text in (*_english(), *_endings(), *_french(), *_spanish(), *_italian()))


def _english() -> Iterator[str]:
    street = rf"(?i:{_one_of('street', language='en')})\.?"
    other = rf"(?:{_titled('street, often else')})\.?"
    no_street = rf"(?! (?i:{_one_of('no street before')})\b)(?!\w)"
    number = rf"{_BEFORE}\d{{1,5}}[a-zA-Z]?,?"
    name = rf"(?P<name>(?:(?:{_NAME}|\d{{1,3}}(?:st|nd|rd|th)|of|the|de|la) ){{1,4}})"
    yield rf"(?P<english>){number} {name}{street}{no_street}"
    yield rf"(?P<english>){number} {name}{other}{no_street}{_FOLLOWS}"
    yield rf"(?P<english>){number} {name}(?:{_titled('street, shape too')})(?=,\s*\w)"
    lower = r"(?P<name>(?:[^\W\d_][\w'’-]+ ){1,2})"
    yield rf"(?P<english>){number} {lower}{street}(?!\w)(?= *(?:$|[,;.!?)\n\r]))"
    after = rf"{_NUMBER}{_AFTER}(?= *(?:$|[,;.!?)\n\r]| [A-Z]))"
    yield rf"(?P<english>)(?P<name>(?:{_NAME} ){{1,3}})(?:{_titled('street')})\.? {after}"


def _titled(use: str) -> str:
    """The words of a use as in a name: with a capital, or in capitals."""
    words = sorted(words_for("contacts", use, "en"), key=lambda word: (-len(word), word))
    return "|".join(f"{re.escape(word.capitalize())}|{re.escape(word.upper())}" for word in words)


def _endings() -> Iterator[str]:
    """Hauptstraße 5, Lange Straße 5, Kerkstraat 12."""
    sure, other = _one_of("street ending"), _one_of("street ending, often else")
    yield rf"(?<!\w)(?:{_NAME} )?(?i:[\w'’.-]*[^\W\d_]-?(?:{sure}))\.? ?{_NUMBER}{_AFTER}"
    yield rf"(?<!\w)(?:{_NAME} )+(?i:{_one_of('street ending', language='de')}) ?{_NUMBER}{_AFTER}"
    yield rf"(?<!\w)(?P<stem>[A-ZÄÖÜ][\w'’.-]*?)(?i:s?)(?i:{other}) {_NUMBER}{_AFTER}"
    yield rf"(?<!\w)Stra(?:ß|ss)e (?:des|der|am|zum|zur) [\w. ]{{2,25}}? {_NUMBER}{_AFTER}"


_OF_FR = r"(?:(?:de|du|des|la|le|les|et|en|sur|aux?|à|saint|sainte) |[dl]['’])*"
_OF_ES = r"(?:(?:de|del|la|las|los|el|y|san|santa) )*"
_OF_IT = r"(?:(?:di|del|della|dei|degli|delle|san|santa|santo|sant['’]|\d{1,2}) |(?:dell|d|sant)['’])*"
_NO_OF = r"(?:n\.?[ºo°]?\.? ?)?"


def _french() -> Iterator[str]:
    number = rf"{_BEFORE}\d{{1,4}}(?: ?(?:bis|ter|quater|[A-D]))?,? "
    sure, other = _one_of("street first", language="fr"), _one_of("street first, often else", language="fr")
    names = rf"(?:{_NAME}(?: {_OF_FR}{_NAME}){{0,3}})"
    yield rf"{number}(?i:{sure}) {_OF_FR}(?:{names}|[^\W\d_][\w'’-]+)"
    yield rf"{number}(?i:{other})\.? {_OF_FR}{names}"
    yield rf"(?<!\w)(?i:{sure}|{other}) {_OF_FR}{names},? {_NUMBER}{_AFTER}"


def _spanish() -> Iterator[str]:
    sure, other = _one_of("street first", language="es"), _one_of("street first, often else", language="es")
    names = rf"(?:{_OF_ES}{_NAME}(?: {_OF_ES}{_NAME}){{0,3}})"
    lower = rf"{_OF_ES}[^\W\d_]\w+(?: {_OF_ES}[^\W\d_]\w+){{0,2}}"
    yield rf"(?<!\w)(?i:{sure}) ?(?:{names}|{lower}),? {_NO_OF}{_NUMBER}{_AFTER}"
    yield rf"(?<!\w)(?i:{other}) {names},? {_NO_OF}{_NUMBER}{_AFTER}"


def _italian() -> Iterator[str]:
    others = rf"(?!via\b)(?:{_one_of('street first, often else', language='it')})"
    names = rf"(?P<name>{_OF_IT}{_NAME}(?: {_OF_IT}{_NAME}){{0,3}})"
    yield rf"(?<!\w)(?P<first>(?i:via))\.? {names},? {_NO_OF}{_NUMBER}{_AFTER}"
    yield rf"(?<!\w)(?i:{others})\.? {names},? {_NO_OF}{_NUMBER}{_AFTER}"


def _hint() -> str:
    whole = _one_of("street", "street, often else", "street, shape too", "street first", "street first, often else")
    endings = _one_of("street ending", "street ending, often else")
    return rf"(?i:(?:^|\W)(?:{whole})(?:\W|$)|(?:{endings})[. ])"


STREET_HINT = _hint()
"""A pattern that fits every text with a street word, in Rust's grammar."""
