"""Headers of columns: how they are compared, what they are known as, and which are about a buyer."""

import functools
import re
from collections.abc import Iterable

import polars as pl

from pipeline.readers.mask_contacts import EMAIL, PHONE, STREET, mask_shown
from pipeline.readers.reader_output import TextTable
from pipeline.reference import header_key, rows, synonyms, words_for

_SAMPLE_ROWS, _SAMPLE_TEXTS = 2000, 40
_EMAIL = re.compile(rf"^(?:[^@\s]+@[^@\s]+\.\w+|{re.escape(EMAIL)})$")
_PHONE = re.compile(r"^(?=.*[( ])\(?\+?\d[\d\s()-]{8,}$")
_PHONE_ABROAD = re.compile(rf"^(?:\+\d[\d\s()-]{{8,}}|{re.escape(PHONE)}|{re.escape(STREET)})$")

_OF = rf"(?:(?:{'|'.join(words_for('phrases', 'of'))}) )*"


def sample(cells: pl.Series) -> pl.Series:
    """Some distinct texts of a column, none empty."""
    texts = cells.head(_SAMPLE_ROWS).str.strip_chars().replace("", None).drop_nulls()
    return texts.unique(maintain_order=True).head(_SAMPLE_TEXTS)


@functools.cache
def is_private_header(header: str) -> bool:
    """Whether a header names what is about a buyer, by the words of `reference/buyers.csv`."""
    words = header_key(header)
    return words in synonyms("private")["-"] or any(pattern.search(words) for pattern in _about_buyers())


@functools.cache
def _about_buyers() -> tuple[re.Pattern[str], ...]:
    """Words that are private wherever they stand; "buyer name" and Kundenname; "name of the buyer", nom du client."""
    parts: dict[str, list[str]] = {}
    for row in rows("buyers"):
        parts.setdefault(row["part"], []).append(re.escape(header_key(row["word"])))
    party, parcel, detail, number, anywhere = (
        "|".join(sorted(parts[name], key=len, reverse=True))
        for name in ("party", "parcel", "detail", "number", "anywhere")
    )
    return (
        re.compile(rf"\b(?:{anywhere})\b"),
        re.compile(rf"\b(?:{party}) ?s? ?(?:{_OF})?(?:{detail}|{number}|{anywhere})\b"),
        re.compile(rf"\b(?:{parcel}) ?s? ?(?:{_OF})?(?:{detail}|{anywhere})\b"),
        re.compile(rf"\b(?:{detail}) (?:{_OF})?(?:{party}|{parcel})s?\b"),
    )


def is_private(header: str, texts: Iterable[str]) -> bool:
    """Whether a column is about a buyer: no field is ever proposed for names, addresses, mails and phones."""
    if is_private_header(header):
        return True
    texts = list(texts)
    return holds_contacts(texts) or _share(texts, _PHONE) > 0.8


def holds_contacts(texts: Iterable[str]) -> bool:
    """Whether texts are mails, or phones with the + of a country (or were): nothing else looks like that."""
    texts = list(texts)
    return _share(texts, _EMAIL) > 0.5 or _share(texts, _PHONE_ABROAD) > 0.8


def _share(texts: list[str], pattern: re.Pattern[str]) -> float:
    return sum(bool(pattern.search(text)) for text in texts) / max(1, len(texts))


def is_about_buyers(table: TextTable) -> bool:
    """Whether any column of a table is about a buyer."""
    names = (*table.names, *[""] * (len(table.columns) - len(table.names)))
    if any(map(is_private_header, names)):
        return True
    first = table.frame.head(_SAMPLE_TEXTS).drop("row")
    return any(is_private("", [text.strip() for text in column.drop_nulls()]) for column in first)


def private_columns(table: TextTable) -> list[str]:
    """The columns of a table that are about a buyer: nothing of them is shown."""
    return [c for c, name in _named(table) if is_private(name, sample(table.frame[c]))]


def overflow(table: TextTable) -> list[str]:
    """The columns behind the last that has a heading, of which most rows have nothing: what rows with too many cells
    make. What stands there belongs elsewhere, and may be about a buyer."""
    named = _named(table)
    last = max((at for at, (_, name) in enumerate(named) if name.strip()), default=len(named))
    beyond = [column for column, _ in named[last + 1 :]]
    if not beyond:
        return []
    filled = table.frame.select(pl.col(c).str.strip_chars().replace("", None).count() for c in beyond).row(0)
    return [c for c, count in zip(beyond, filled, strict=True) if count < table.frame.height / 2]


def torn(table: TextTable) -> tuple[pl.Series, list[str]]:
    """Which rows of a text file have more cells than headings, where a column is about buyers, and the columns from
    that one on: a separator in a cell without quotes has moved to the right what stands there, a buyer's name too."""
    private = [at for at, (_, name) in enumerate(_named(table)) if is_private_header(name)]
    too_many = overflow(table) if private and table.dialect.get("delimiter") else []
    if not too_many:
        return pl.repeat(False, table.frame.height, eager=True, dtype=pl.Boolean), []
    filled = [pl.col(c).str.strip_chars().replace("", None).is_not_null() for c in too_many]
    return table.frame.select(pl.any_horizontal(filled).alias("torn")).to_series(), list(table.columns[private[0] :])


def _named(table: TextTable) -> list[tuple[str, str]]:
    """Each column with its heading, "" where it has none."""
    return list(zip(table.columns, (*table.names, *[""] * (len(table.columns) - len(table.names))), strict=True))


def shown(ignored: pl.DataFrame, table: TextTable) -> pl.DataFrame:
    """Rows of a table that are no records, with `row`, `reason` and `text`: without their text where it may hold what
    is about a buyer."""
    open_text = pl.col("reason").is_in(["header", "blank"])
    if not table.dialect.get("hidden") and (ignored.filter(~open_text).is_empty() or not is_about_buyers(table)):
        open_text = pl.lit(True)
    told = ignored.with_columns(pl.when(open_text).then("text").alias("text"))
    return told.with_columns(mask_shown(told["text"]))


def share_true(flags: pl.Series) -> float:
    return float(flags.cast(pl.Float64).sum()) / max(1, flags.len())
