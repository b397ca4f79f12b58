"""The word tables of `pipeline/reference`, read once."""

import csv
import functools
import re
import unicodedata
from importlib.resources import files


@functools.cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of `pipeline/reference/<name>.csv`."""
    text = files("pipeline.reference").joinpath(f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@functools.cache
def vocabulary(name: str) -> dict[str, str]:
    """`words.csv` for one vocabulary: word, case folded → its usual name."""
    return {row["word"].casefold(): row["meaning"] for row in rows("words") if row["vocabulary"] == name}


@functools.cache
def minor_digits(currency: str) -> int:
    """Decimals of an amount in this currency (ISO 4217 code): two, but for those that `currencies.csv` names."""
    return next((int(row["minor_digits"]) for row in rows("currencies") if row["currency"] == currency), 2)


@functools.cache
def key(word: str) -> str:
    """How words are compared: case, accents, hyphens, points and double spaces don't count."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", word.casefold()) if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W_]+|[&+%#✓✔✗✘]", plain))


@functools.cache
def words_for(table: str, use: str, language: str = "") -> tuple[str, ...]:
    """The words of a table that have one use, in one language or in all."""
    return tuple(r["word"] for r in rows(table) if r["use"] == use and language in ("", r["language"]))


@functools.cache
def _for() -> re.Pattern[str]:
    return re.compile(rf"(?:^|\s+)(?:{'|'.join(words_for('contacts', 'for'))})(?:\s+|$)", re.IGNORECASE)


def before_for(text: str) -> list[str]:
    """What stands before each "for" of a text, in any of six languages, the longest first; none where it is not."""
    return [text[: found.start()] for found in _for().finditer(text)][::-1]


_SHORT = {
    "#": "no", "num": "no", "nr": "no", "number": "no", "inv": "invoice", "desc": "description", "descr": "description",
    "amt": "amount", "qty": "quantity", "qnty": "quantity", "cat": "category", "ship": "shipping", "pct": "%",
    "percent": "%", "temp": "temperature", "hum": "humidity", "mins": "minutes", "hrs": "hours",
}  # fmt: skip


@functools.cache
def header_key(header: str) -> str:
    """A header as it is compared: OrderDate, order_date and "Order date" are one, and so are qty and quantity; what
    has capitals within but no word before them, as MwSt and UoM, is one word."""
    parted = re.sub(r"(?<=[A-Za-z]{2}[a-z])(?=[A-Z])", " ", header).replace("#", " no ")
    return " ".join(_SHORT.get(word, word) for word in key(parted).split())


@functools.cache
def synonyms(record: str) -> dict[str, frozenset[str]]:
    """For a record: field → the headers it is known by there; "-" = headers that are of no use there."""
    found: dict[str, set[str]] = {"-": set()}
    for row in rows("headers"):
        if row["record"] == record and row["field"]:
            found.setdefault(row["field"], set()).add(header_key(row["header"]))
    return {field: frozenset(headers) for field, headers in found.items()}


@functools.cache
def names(kind: str) -> dict[str, frozenset[str]]:
    """For a vocabulary, each known word's `key` → the usual names it can stand for (several = it has two meanings)."""
    found: dict[str, set[str]] = {}
    for word, meaning in [
        *_table(kind),
        *((r["word"], r["meaning"]) for r in rows("words") if r["vocabulary"] == kind),
    ]:
        found.setdefault(key(word), set()).add(meaning)
    for row in rows("words"):
        if row["vocabulary"] == kind:
            found.setdefault(key(row["meaning"]), set()).add(row["meaning"])
    return {word: frozenset(meanings) for word, meanings in found.items() if word}


def _table(kind: str) -> list[tuple[str, str]]:
    if kind == "species":
        return [pair for row in rows("species") for pair in _species(row)]
    if kind == "defect":
        return [(word, row["term"]) for row in rows("defects") for word in _alternatives(row["term"])]
    return []


def _species(row: dict[str, str]) -> list[tuple[str, str]]:
    name = row["common_name"]
    words = [name, row["botanical_name"], re.sub(r"\s*\(.*?\)", "", name)]
    for synonym in filter(None, row["synonyms"].split("|")):
        word = re.sub(r"\s*\(.*?\)", "", synonym).strip()
        # a figure such as birdseye occurs in several species, and a related one is another species
        if "(related)" in synonym or ("figure)" in synonym and " " not in word and word != "lacewood"):
            continue
        words.append(word)
    return [(word, name) for word in words]


def _alternatives(term: str) -> list[str]:
    """ "torn / chipped grain" is also known by either half, and "micro-bubbles (haze of …)" without its bracket."""
    bare = re.sub(r"\s*\(.*?\)", "", term).strip()
    return list(dict.fromkeys([term, bare, *(part.strip() for part in bare.split(" / "))]))
