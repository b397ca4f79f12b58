"""Masks what is about a buyer in free text: e-mail addresses, phone numbers, and streets with a house number.

Free text is notes, titles and descriptions: a column whose header says so, one that no header names as anything else,
and the rows above and below a table. What a header names as something else (an order number, a place, a supplier) is
never touched. Most cells are passed over by one pattern in Polars; the rest, each text once, is judged in Python,
since what is no phone (grits, dates, amounts, part numbers) hangs on what stands around it.
"""

import functools
import re
from collections.abc import Iterator
from dataclasses import replace

import polars as pl

from pipeline.readers.reader_output import TextTable
from pipeline.readers.rust_regex import loose
from pipeline.readers.streets import STREET_HINT, street_patterns, streets
from pipeline.records import RECORDS
from pipeline.reference import header_key, rows, synonyms, words_for

EMAIL, PHONE, STREET = "(e-mail)", "(phone)", "(street)"
"""What stands in the place of what was masked."""

_PROSE = r"@|\p{L}{2,}.*[^\p{L}].*\p{L}{2,}"

Span = tuple[int, int, str]

_FREE_FIELDS = ("note", "cause", "change", "product", "item", "operation")
"""The fields that say in words what a row is about."""
_VALUES = {
    *("date", "time", "money", "quantity", "length", "duration", "count", "number", "temperature", "percent"),
    *("yes_no", "unit", "choice"),
}
_PLACE = ("file", "sheet", "row", "record", "mark", "suggestion")
"""What a mended row is found by, beside the fields of its record."""

_MAIL = re.compile(
    r"(?:mailto:)?[\w.+%-]{1,64}(?:@|\s?[(\[]at[)\]]\s?)(?:[\w-]{1,63}\.){1,8}[^\W\d_]{2,24}", re.IGNORECASE
)
_GAP = r"[ \u00a0\u202f./()\-–]{0,3}"
_RUN = rf"\(?\d(?:{_GAP}\d)+"
_PLUS = re.compile(rf"(?<![\w+.,])\+(?=\(?[1-9])(?P<run>{_RUN})")
_ZEROS = re.compile(rf"(?<![\w+.,:/-])00(?P<run>(?: ?\(?)[1-9](?:{_GAP}\d)+)")
_GRITS = {re.sub(r"\D", "", row["grade"]) for row in rows("abrasives")} | {"36", "40", "60", "1200", "1500", "2000"}
_DATE = re.compile(
    r"(?:(?:19|20)\d\d[-./](?:0?[1-9]|1[0-2])[-./](?:0?[1-9]|[12]\d|3[01])"
    r"|(?:0?[1-9]|[12]\d|3[01])[-./](?:0?[1-9]|[12]\d|3[01])[-./](?:19|20)?\d\d)(?!\d)"
)
_NO_PHONE_AFTER = re.compile(
    rf"[.,:]\d|\s?[x×*]\s?\d|\s?[%€$£¥°\"″]|\s?(?:{'|'.join(words_for('contacts', 'unit'))})\b", re.IGNORECASE
)
# the country codes in use (ITU-T E.164, list of assigned country codes)
_COUNTRY = re.compile(
    r"1|7|2[07]|3[0-469]|4[013-9]|5[1-8]|6[0-6]|8[1246]|9[0-58]|2[1-6]\d|29\d|3[578]\d|42\d|5[09]\d|6[789]\d|8[05678]\d"
    r"|9[679]\d"
)
_NATIONAL = {
    "31": (9,), "32": (8, 9), "33": (9,), "34": (9,), "39": (9, 10), "41": (9,), "43": (10, 11), "44": (10,),
    "45": (8,), "46": (9,), "47": (8,), "48": (9,), "49": (10, 11), "351": (9,), "353": (9,), "61": (9,),
}  # fmt: skip
"""Country code → digits of a number there without it (ITU-T E.164, national numbering plans)."""
_LONGEST = 15
"""Digits of the longest number, country code included (ITU-T E.164)."""


def masked(table: TextTable) -> TextTable:
    """The table with its free text masked; `masked` says how many mails, phones and streets that were."""
    names = (*table.names, *[""] * (len(table.columns) - len(table.names)))
    found = 0
    changed = []
    for column, name in zip(table.columns, names, strict=True):
        if is_free_text(name) or is_value(name):
            cells, count = mask(table.frame[column], is_note(name), is_value(name))
            changed += [cells] if count else []
            found += count
    text, count = mask(table.ignored["text"], True)
    headers, named = _masked_headers(table.names)
    found += count + named
    if not found:
        return table
    dialect = table.dialect
    if named and isinstance(header := dialect.get("header"), list):
        dialect = dialect | {"header": [list(_masked_headers(tuple(row))[0]) for row in header]}
    frame, ignored = table.frame.with_columns(changed), table.ignored.with_columns(text)
    return replace(table, names=headers, frame=frame, ignored=ignored, dialect=dialect, masked=table.masked + found)


def _masked_headers(names: tuple[str, ...]) -> tuple[tuple[str, ...], int]:
    """Headers are the maker's words for columns, "Street 1" too; but a first row of data may be taken for one."""
    texts, count = mask(pl.Series("names", names, pl.String), False)
    if not count:
        return names, 0
    pairs = zip(names, texts, strict=True)
    kept = tuple(name if new == name or (STREET in new and len(name.split()) < 3) else new for name, new in pairs)
    return kept, sum(a != b for a, b in zip(kept, names, strict=True))


def mask(texts: pl.Series, sure: bool, prose: bool = False) -> tuple[pl.Series, int]:
    """Texts with what is about a buyer masked, and how much that was. `sure`: a text of digits alone is no code.
    `prose`: only texts of several words."""
    hinted = texts.str.contains(_hint()) | (texts.str.contains(STREET_HINT) & texts.str.contains(r"\d"))
    hinted = hinted.fill_null(False)
    if not hinted.any():
        return texts, 0
    some = texts.filter(hinted).unique()
    some = some.filter(some.str.contains(_PROSE)) if prose else some
    some = some.filter(some.to_frame().select(pl.any_horizontal(some.str.contains(p) for p in _loose())).to_series())
    new = {text: done for text in some if (done := _masked(text, sure))[1]}
    if not new:
        return texts, 0
    places = texts.is_in(list(new)).fill_null(False).arg_true()
    told = texts.gather(places)
    changed = pl.Series([new[text][0] for text in told], dtype=pl.String)
    return texts.scatter(places, changed), sum(new[text][1] for text in told)


def mask_shown(texts: pl.Series) -> pl.Series:
    """Texts that are only shown, such as those of rows set aside, masked."""
    return mask(texts, False)[0]


def masked_text(text: str) -> tuple[str, int]:
    """A note or title with what is about a buyer masked, and how much that was."""
    return _masked(text, True)


def _masked(text: str, sure: bool) -> tuple[str, int]:
    if not sure and text.strip().isdigit():
        return text, 0
    parts, end, count = [], 0, 0
    for first, last, word in sorted((*_mails(text), *_phones(text), *((a, b, STREET) for a, b in streets(text)))):
        if first < end:
            continue  # inside of what is masked already
        parts += [text[end:first], word]
        end, count = last, count + 1
    return "".join(parts) + text[end:], count


def _mails(text: str) -> Iterator[Span]:
    if "@" in text or "at" in text.casefold():
        yield from ((*found.span(), EMAIL) for found in _MAIL.finditer(text))


def _phones(text: str) -> Iterator[Span]:
    for pattern, ends in ((_PLUS, _plus), (_ZEROS, _zeros), (_after_word(), _worded)):
        for found in pattern.finditer(text):
            last = ends(found)
            if last:
                first = found.start("run") if pattern is _after_word() else found.start()
                yield first, last, PHONE


def _plus(found: re.Match[str]) -> int:
    return _end(found, 8)


def _zeros(found: re.Match[str]) -> int:
    run = found["run"].strip(" (")
    country = _country(run)
    separated = not run.isdigit()
    # a country code that stands apart is one: 00 120 150 180 is grit
    groups = re.split(r"\D+", run)
    if not country or (found["run"].startswith(" ") and not separated) or _is_code(found, run):
        return 0
    if found["run"].startswith(" ") and groups[0] != country:
        return 0
    national = re.sub(r"\D", "", run)[len(country) :]
    if (national.startswith("0") and country != "39" and "(0)" not in run) or (
        country == "1" and not separated and len(national) != 10
    ):
        return 0
    return _end(found, 9)


def _worded(found: re.Match[str]) -> int:
    return _end(found, 6)


def _country(run: str) -> str:
    digits = re.sub(r"\D", "", run)
    code = _COUNTRY.match(digits)
    return code[0] if code else ""


def _is_code(found: re.Match[str], run: str) -> bool:
    """Whether digits after 00 are a number of goods or papers: a word for one stands before, or they check as one."""
    if not re.fullmatch(r"[\d-]+", run):
        return False
    before = re.findall(r"[^\W\d_]+", found.string[: found.start()])
    if (
        before
        and header_key(before[-1]) in _code_words()
        and len(found.string[: found.start()].rpartition(before[-1])[2]) < 4
    ):
        return True
    country = _country(run)
    return _is_gtin("00" + run) and len(run) - len(country) not in _NATIONAL.get(country, ())


def _is_gtin(digits: str) -> bool:
    """Whether the last digit is the check digit of a number of goods (GS1 General Specifications, 7.9)."""
    if len(digits) not in (8, 12, 13, 14) or not digits.isdigit():
        return False
    body = [int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits[:-1]))]
    return -sum(body) % 10 == int(digits[-1])


def _end(found: re.Match[str], least: int) -> int:
    """Where the phone number of a match ends, 0 if that is none. What stands after it may be digits too."""
    text, first, last = found.string, found.start("run"), 0
    count, groups = 0, []
    for group in re.finditer(r"\d+", text[first : found.end()]):
        if _DATE.match(text, first + group.start()) or count + len(group[0]) > _LONGEST:
            break
        count += len(group[0])
        groups.append(group[0])
        last = first + group.end()
    if count < least or text[last : last + 1].isdigit() or _NO_PHONE_AFTER.match(text, last):
        return 0
    if len(groups) > 1 and all(group.lstrip("0") in _GRITS for group in groups):
        return 0
    if re.fullmatch(r"\d+\.\d\d?|\d{1,3}(?:\.\d{3}){1,2}", text[first:last]):
        return 0  # an amount
    return last


@functools.cache
def _after_word() -> re.Pattern[str]:
    words = "|".join(sorted(map(re.escape, words_for("contacts", "phone")), key=len, reverse=True))
    number = r"(?:\s?(?:no|nr|number|num|n[°º]|nummer|numéro|número|numero)\b\.?)?(?:\s?(?:is|ist|est|es|è)\b)?"
    return re.compile(rf"(?<!\w)(?:{words})(?!\w)\.?{number}\s?[:=#–-]?\s?(?P<run>\+?{_RUN})", re.IGNORECASE)


@functools.cache
def _code_words() -> frozenset[str]:
    return frozenset(map(header_key, words_for("contacts", "code")))


@functools.cache
def _hint() -> str:
    """What every text has that may hold a mail or a phone; quick, since most texts have none of it."""
    words = "|".join(sorted(map(re.escape, words_for("contacts", "phone")), key=len, reverse=True))
    rest = r"[\d \u{a0}\u{202f}./()–-]{5,}"
    phones = rf"\+\(?\d{rest}|(?:^|[^\w+.,:/-])00 ?\(?[1-9]{rest}|(?i:(?:^|\W)(?:{words})\W[^\d]{{0,12}}\d{rest})"
    return rf"@|(?i:[(\[]at[)\]])|{phones}"


@functools.cache
def _loose() -> tuple[str, ...]:
    """The patterns in Rust's grammar: without what they ask of the text around, which Rust can't, so they fit more."""
    mail = r"(?:@|(?i:[(\[]at[)\]]) ?)[\w-]+\."
    return (mail, *map(loose, (_PLUS, _ZEROS, _after_word(), *street_patterns())))


# --- which columns are free text --------------------------------------------------------------------------------------


@functools.cache
def is_free_text(header: str) -> bool:
    """Whether a column holds free text: its header says so, or says nothing that is known."""
    return is_note(header) or header_key(header) not in _known_else()


@functools.cache
def is_note(header: str) -> bool:
    """Whether a header names notes, a title or a description, in any of six languages."""
    said = _free_words()
    return any(
        word in said or any(len(free) > 5 and word.endswith(free) for free in said)
        for word in header_key(header).split()
    )


@functools.cache
def is_value(header: str) -> bool:
    """Whether a header names a day, an amount or a measure: several words there are a note in the wrong column."""
    return _kinds().get(header_key(header), frozenset({"text"})) <= _VALUES


@functools.cache
def _kinds() -> dict[str, frozenset[str]]:
    """A header that is known → the kinds of the fields that it may be."""
    kinds: dict[str, set[str]] = {}
    for record in RECORDS.values():
        for field in record:
            known = (synonyms(name).get(field.name, frozenset()) for name in ("*", record.name))
            for header in (header_key(field.name.replace("_", " ")), *frozenset().union(*known)):
                kinds.setdefault(header, set()).add(field.kind)
    return {header: frozenset(found) for header, found in kinds.items()}


@functools.cache
def _free_words() -> frozenset[str]:
    return frozenset(map(header_key, words_for("contacts", "free")))


@functools.cache
def _known_else() -> frozenset[str]:
    """The headers that are known as a code, a quantity, a day, a place or a name of somebody."""
    free: set[str] = set()
    other = set(_PLACE)
    for row in rows("headers"):
        if row["field"]:
            (free if row["field"] in _FREE_FIELDS else other).add(header_key(row["header"]))
    fields = (f.name for record in RECORDS.values() for f in record if f.name not in _FREE_FIELDS)
    return frozenset((other | {header_key(name.replace("_", " ")) for name in fields}) - free)
