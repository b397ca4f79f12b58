"""How strongly a header speaks for or against a field, by the words of `reference/headers.csv`, in weights of evidence.

A weight is a natural logarithm of odds: 0 says nothing, 3 is twenty to one. A header that is known whole weighs most;
one that is nearly a known one, or is put together of words that known headers of the field are made of, weighs less.
"""

import difflib
import functools
import re
from collections import defaultdict

from pipeline.cleaning import column_formats
from pipeline.records import RECORDS
from pipeline.reference import header_key, synonyms, words_for

KNOWN, COMMON = 5.0, 4.2
"""A header that the record knows; one that any record may have."""
BARE = 0.3
"""What the words of a header weigh less without the brackets and the unit beside them."""
WITH_TAX = 1.5
"""What they weigh less without words that say that the tax is in it: another column may be the price without."""
NAMED = 0.8
"""What they weigh less without a word that says only that it is a name."""
VAGUE, SEVERAL = 2.5, 3
"""What a word weighs less that may name several fields of words, as “name” and “type” do: the one that a field is
called by itself comes first."""
SPELLED, ALIKE = 3.2, 2.0
"""A header that is but for a slip a known one; one that is much like one, as the word of a sister language."""
OF_WORDS, LETTER = 3.6, 1.5
"""A header put together of a field's words; the letter of a component beside such words."""
STRANGE, ELSEWHERE, OTHERS = -1.2, -3.0, -4.0
"""An unknown header; one that is known as a field of other records; one that is known as another field of this one."""

_SLIP, _SISTER, _TOKEN = 0.88, 0.76, 0.82
_SHORTEST, _LONGEST = 4, 60
_SLIPPERY = 7
"""A shorter word is too near to too many others: gusts are no Guss."""
_NAMES = re.compile(r" (?:name|nom|nombre|naam|nome)$")
_RATE = re.compile(r"[\s(@à]*\b\d{1,2}(?:[.,]\d{1,3})?\s?%\)?")
_TAX_NAMED = "|".join(words_for("phrases", "tax by name"))
_TAX_IN, _TAX_OUT, _KIND_OF = (
    "|".join(words_for("phrases", use)) for use in ("tax included", "tax not in it", "kind of")
)
_LESS = {
    re.compile(rf"\b(?:(?:{_TAX_NAMED}) )?(?:{_TAX_OUT})\b(?: (?:{_TAX_NAMED})\b)?"): BARE,
    re.compile(rf"\b(?:(?:{_TAX_NAMED}) )?(?:{_TAX_IN})\b(?: (?:{_TAX_NAMED})\b)?"): WITH_TAX,
    re.compile(rf"^(?:{_KIND_OF})\b(?! of\b)|\b(?:{_KIND_OF})$"): BARE,
}
"""What a header has beside its name, and what the name weighs less for it: per stuk excl. btw, soort hars."""
_TAIL = 5
"""So many letters at the end of a word make it a compound of that word: Rechnungsdatum is a Datum."""
A_DAY = 0.5
"""A header that is known as a day of other records."""
NOWHERE = "-"
_WORDED = ("word", "choice", "text")


def weight(header: str, record: str, field: str, kind: str) -> float:
    """How strongly a header speaks for a field of a record."""
    header = _without_rate(header)
    if not header.strip():
        return STRANGE
    letter = _letter(header)
    if letter and field[-2:] in ("_a", "_b") and field[-1] != letter:
        return OTHERS
    best = max(_whole(text, record, field) - off for text, off in _forms(header, kind))
    if best >= SPELLED:
        return best
    text = _forms(header, kind)[-1][0]
    of_words = _of_words(text, record).get(field, 0.0)
    if letter and field[-2:] in ("_a", "_b"):  # Hars B is no Hars but its partner
        said = _of_words(" ".join(word for word in text.split() if word != letter), record)
        of_words = max(LETTER + said.get(f"{field[:-1]}{side}", -LETTER) for side in "ab")
    best = max(best, of_words)
    if best > 0:
        return best
    against = _against(header_key(header), record)
    # the day of an order will do for a sale that has no other
    return A_DAY if field == "date" and against == ELSEWHERE and _is_a_day(header_key(header)) else against


def _without_rate(header: str) -> str:
    """A header of tax without the rate of it: USt 19 % holds what the USt is, in money."""
    return _RATE.sub("", header).strip() or header


@functools.cache
def _is_a_day(text: str) -> bool:
    """Whether a header is known as a day of any record."""
    days = ((record, f.name) for record, fields in RECORDS.items() for f in fields if f.kind == "date")
    return any(text in synonyms(record).get(name, ()) for record, name in days)


def _letter(header: str) -> str:
    """Which of two components a header names by its letter: a or b, "" for neither or both."""
    said = {"a", "b"} & set(header_key(header).split()[1:])
    return said.pop() if len(said) == 1 else ""


def against_all(header: str, record: str) -> float:
    """How strongly a header says that its column is of no use to a record."""
    header = _without_rate(header)
    whole = header_key(header)
    if whole in synonyms(record)[NOWHERE] or whole in synonyms("*")[NOWHERE]:
        return COMMON
    if any(whole in known for f in RECORDS[record] for known in _headers(record, f.name)):
        return 0.0
    bare = re.sub(r"\s*[(\[].*?[)\]]", "", header)
    near = max(_whole(header_key(bare), record, NOWHERE), 0.0)
    return max(near - BARE, _of_words(whole, record).get(NOWHERE, 0.0), 0.0)


@functools.cache
def bare(header: str, kind: str) -> str:
    """A header without its brackets and the unit that it names."""
    unit = column_formats.unit_in_header(header, kind)
    words = header_key(re.sub(r"\s*[(\[].*?[)\]]", "", header))
    return words.removesuffix(f" {header_key(unit)}").removesuffix(" in").strip() if unit else words


def words_of(header: str, kind: str) -> list[str]:
    """A header as it may be called: as it is, without its unit, and without what it says of tax and of kind."""
    return [text for text, _ in _forms(header, kind)]


@functools.cache
def _forms(header: str, kind: str) -> list[tuple[str, float]]:
    found = [(header_key(header), 0.0)]
    if (short := bare(header, kind)) and short != found[0][0]:
        found.append((short, BARE))
    for beside, off in _LESS.items():
        if (short := " ".join(beside.sub(" ", found[-1][0]).split())) and short != found[-1][0]:
            found.append((short, found[-1][1] + off))
    if (short := _NAMES.sub("", found[-1][0])) and short != found[-1][0]:
        found.append((short, NAMED))
    return found


@functools.cache
def _headers(record: str, field: str) -> tuple[frozenset[str], frozenset[str]]:
    """What a field is called in its record, and in any; under "-" what is of no use there."""
    spoken = frozenset() if field == NOWHERE else frozenset({header_key(field.replace("_", " "))})
    return synonyms(record).get(field, frozenset()) | spoken, synonyms("*").get(field, frozenset())


@functools.cache
def _whole(text: str, record: str, field: str) -> float:
    own, common = _headers(record, field)
    if text in own | common:
        vague = text != header_key(field.replace("_", " ")) and len(_named_by(text)) >= SEVERAL
        return (KNOWN if text in own else COMMON) - (VAGUE if vague else 0.0)
    return max((_near(text, known) for known in (*own, *common)), default=0.0)


@functools.cache
def _named_by(text: str) -> frozenset[str]:
    """The fields of words, of all records, that a header is known to name."""
    worded = ((record, f.name) for record, fields in RECORDS.items() for f in fields if f.kind in _WORDED)
    return frozenset(name for record, name in worded if any(text in known for known in _headers(record, name)))


@functools.cache
def _near(text: str, known: str) -> float:
    if not _SHORTEST < len(text) <= min(_LONGEST, 2 * len(known)):
        return 0.0  # no slip makes twice as much of a word, and to compare a long text takes for ever
    ratio = _ratio(text, known)
    if len(text) < _SLIPPERY:
        return ALIKE if ratio >= _SLIP else 0.0
    return SPELLED if ratio >= _SLIP else ALIKE if ratio >= _SISTER else 0.0


@functools.cache
def _ratio(one: str, two: str) -> float:
    if one[0] != two[0] or abs(len(one) - len(two)) > 4:
        return 0.0
    matcher = difflib.SequenceMatcher(None, one, two)
    return matcher.ratio() if matcher.real_quick_ratio() >= _SISTER else 0.0


@functools.cache
def _small_words() -> frozenset[str]:
    return frozenset(words_for("phrases", "of"))


@functools.cache
def _words(record: str) -> dict[str, dict[str, float]]:
    """Word → field → how much of its use in the headers of a record is for that field."""
    counted: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    fields = [*(f.name for f in RECORDS[record]), NOWHERE]
    for field in fields:
        own, common = _headers(record, field)
        for header in own | common:
            parts = [word for word in header.split() if word not in _small_words() and len(word) > 2]
            for word in set(parts):
                counted[word][field] += 1 / len(parts)
    return {
        word: {field: uses / sum(found.values()) for field, uses in found.items()} for word, found in counted.items()
    }


@functools.cache
def _of_words(text: str, record: str) -> dict[str, float]:
    """Field → how strongly the words of a header speak for it together; a word that nothing knows weakens it."""
    words = [word for word in text.split() if word not in _small_words()]
    if not words or len(text) > _LONGEST:
        return {}
    shares: dict[str, float] = defaultdict(float)
    for word in words:
        for field, share in _one_word(word, record).items():
            shares[field] += share
    return {field: OF_WORDS * share / (len(words) + 0.5) for field, share in shares.items() if share > 0.3}


@functools.cache
def _one_word(word: str, record: str) -> dict[str, float]:
    """What one word speaks for: as it is, as the end of a compound, as a word of a sister language."""
    table = _words(record)
    if word in table:
        return table[word]
    tails = [known for known in table if len(known) >= _TAIL and len(word) > len(known) + 2 and word.endswith(known)]
    if tails:
        return {field: 0.8 * share for field, share in table[max(tails, key=len)].items()}
    if not _SHORTEST < len(word) <= _LONGEST:
        return {}
    near = max(table, key=lambda known: _ratio(word, known) if len(known) > 3 else 0.0, default="")
    return {field: 0.7 * share for field, share in table[near].items()} if near and _ratio(word, near) >= _TOKEN else {}


@functools.cache
def _against(text: str, record: str) -> float:
    """What a header that doesn't name the field says against it."""
    own = synonyms(record)
    if any(text in headers for headers in own.values()):
        return OTHERS
    if any(text in _headers(record, f.name)[0] | _headers(record, f.name)[1] for f in RECORDS[record]):
        return OTHERS + 0.5
    if any(text in headers for other in ("*", *RECORDS) for headers in synonyms(other).values()):
        return ELSEWHERE
    return STRANGE
