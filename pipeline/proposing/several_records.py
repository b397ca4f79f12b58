"""A log of several records: one of its columns ("Kind") says of each row which record it is.

Each record's rows become a table of their own, which is proposed, asked about and settled by itself; rows of an unknown
word wait for it. What such words mean stands in `reference/words.csv`, and in `[words.record]` of `shop.toml`.
"""

import re
from collections.abc import Sequence, Set
from dataclasses import replace

import polars as pl

from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.taught_words import NO_RECORD
from pipeline.mapping import Mapping
from pipeline.proposing.question import FILE, Choice, Question
from pipeline.readers.reader_output import OneRecord, TextTable
from pipeline.readers.sections import without_sections
from pipeline.records import RECORDS
from pipeline.reference import key, names
from pipeline.shop import Shop

SAYS_RECORD = "says which record a row is"
"""Why the column that the rows were told apart by is no field, as it is listed."""

SECTION, NO_RECORDS = "words.record", "none of these: such rows are passed over"

NO_SUCH = "says that it is no record"
"""Why such a row is no record, as it is listed."""

SEVERAL, AT_THE_BENCH = 3, frozenset({"hours", "pours", "inspections", "moves"})
"""So many records make a log of several; two do where one is work and the other is none."""
NO_WORD = "no word"
"""What rows are called that say nothing of themselves."""
MOST_KINDS, LEAST_NAMED = 25, 0.5
"""Of so many words at most, so much of the rows must say a record."""
OF_ONE_RECORD = ("operation", "category")
"""Vocabularies whose words part the rows of one record: a column with any of them says what kind of it each row is."""
DIFFERING, FILLED, EMPTY = 2, 0.8, 0.2
"""So many columns must be filled in one record and empty in another: a column of categories leaves all others alike."""

TOLD_TOO = {
    "payments": ("kind", ("deposit", "payout", "drawing", "capital", "loan")),
    "purchases": ("category", ("selling", "overhead", "equipment")),
}
"""Record → the field that a word tells too, and what it then says, where that is of no other record ("stall fee")."""


def parts(table: TextTable, shop: Shop) -> list[TextTable]:
    """The table as one for each record that its rows are, or as it is where they are of one. Lines that are no rows
    stay with the first."""
    words = Words("record", shop)
    found = _column(table, words)
    if not found:
        return [table]
    plain = without_sections(table)
    column, header = found
    said = _said(plain.frame[column], words)
    rows = plain.frame.with_columns(_said=plain.frame[column].replace_strict(said, default="", return_dtype=pl.String))
    above = " · ".join(plain.titles)
    made = [
        replace(
            plain,
            sheet=_sheet(plain.sheet, name or NO_WORD),
            frame=_kept(group.drop("_said"), column, name),
            part=OneRecord(header, *_of_group(group, column, name)),
            above=above,
            masked=0,
            ignored=plain.ignored.clear(),
        )
        for (name,), group in rows.group_by("_said", maintain_order=True)
    ]
    return [replace(made[0], above=plain.above, masked=plain.masked, ignored=plain.ignored), *made[1:]]


def split(tables: Sequence[TextTable], file: str, mappings: Sequence[Mapping], shop: Shop) -> list[TextTable]:
    """The tables of a file (its path below `inbox/`), each log of several records as its parts, unless a mapping is for
    it whole."""
    found: list[TextTable] = []
    for table in tables:
        whole = any(
            how.fits(file, table.sheet) or (how.is_settled_for(table) and not of_record(how.sheets)) for how in mappings
        )
        made = [table] if whole else parts(table, shop)
        taken = {each.sheet for each in (*tables, *found)} if len(made) > 1 else set()
        found += [table] if taken & {each.sheet for each in made} else made
    return found


def _sheet(sheet: str, said: str) -> str:
    return f"{sheet} ({said})".strip()


def of_record(sheet: str) -> str:
    """What the rows of a part are, by what its sheet, or the pattern for it, is called; "" for a whole table."""
    found = re.search(r"(?:^| )\((?P<said>[^()]+)\)$", sheet)
    return found["said"] if found and found["said"] in (*RECORDS, NO_WORD) else ""


def _of_group(rows: pl.DataFrame, column: str, said: str) -> tuple[str, str, str]:
    """The record of a group, the field that its words tell too, and a word that nobody knows."""
    known = said in (*RECORDS, NO_RECORD)
    word = next((text for text in rows[column] if text), "")
    return (said, _field_told(rows, column, said), "") if known else ("", "", word)


def _column(table: TextTable, words: Words) -> tuple[str, str] | None:
    """The column that says of each row which record it is, with its header."""
    for name, header in zip(table.columns, table.names, strict=False):
        texts = table.frame[name]
        listed = texts.drop_nulls().unique()
        if not header.strip() or not 1 < listed.len() <= MOST_KINDS:
            continue
        said = {text: record for text, record in _said(listed, words).items() if record in (*RECORDS, NO_RECORD)}
        if any(key(text) in known for text in listed if text not in said for known in map(names, OF_ONE_RECORD)):
            continue
        records = {*said.values()} & RECORDS.keys()
        work = AT_THE_BENCH & records
        if len(records) < (2 if work and work != records else SEVERAL):
            continue
        named = table.frame.with_columns(_said=texts.replace_strict(said, default=None, return_dtype=pl.String))
        named = named.filter(pl.col("_said").is_in(records))
        if named.height >= LEAST_NAMED * (texts.len() - texts.null_count()) and _differs(named, {name, "row"}):
            return name, header
    return None


def _differs(rows: pl.DataFrame, apart: Set[str]) -> bool:
    """Whether some columns are filled in one record and empty in another."""
    columns = [c for c in rows.columns if c not in (*apart, "_said")]
    shares = rows.group_by("_said").agg(pl.col(columns).is_not_null().mean())
    differs = shares.select((pl.col(c).max() >= FILLED) & (pl.col(c).min() <= EMPTY) for c in columns)
    return sum(differs.row(0)) >= DIFFERING if columns else False


def _said(texts: pl.Series, words: Words) -> dict[str, str]:
    """Text → the record that it means; the text itself, as words are compared, where nobody knows."""
    return {text: _record(text, words) or key(text) for text in texts.drop_nulls().unique(maintain_order=True)}


def _record(text: str, words: Words) -> str:
    try:
        if known := words.find(text):
            return known
    except UnreadableError:
        return ""
    told = [record for record in TOLD_TOO if _tells_too(text, record)]
    return told[0] if len(told) == 1 else ""


def _tells_too(text: str, record: str) -> bool:
    name, meanings = TOLD_TOO[record]
    said = names(name).get(key(text), frozenset())
    return bool(said) and said <= {*meanings}


def _kept(rows: pl.DataFrame, column: str, record: str) -> pl.DataFrame:
    """The rows without those words of the column that say no more than the record."""
    if record not in TOLD_TOO:
        return rows
    less = [text for text in rows[column].drop_nulls().unique() if not _tells_too(text, record)]
    return rows.with_columns(pl.when(~pl.col(column).is_in(less)).then(column).alias(column))


def _field_told(rows: pl.DataFrame, column: str, record: str) -> str:
    """The field that words of the column tell beside the record; "" for none."""
    told = record in TOLD_TOO and any(_tells_too(text, record) for text in rows[column].drop_nulls().unique())
    return TOLD_TOO[record][0] if told else ""


def which_record(part: OneRecord, ranked: Sequence[str]) -> Question:
    """What the rows of a word are, to be taught in `[words.record]`; `ranked`: the records, likeliest first."""
    word = part.word
    choices = [
        Choice(f"{name}: {RECORDS[name].meaning.rstrip('.').lower()}", _does(word, name), ((SECTION, word, name),))
        for name in ranked
    ]
    none = Choice(NO_RECORDS, _does(word, NO_RECORD), ((SECTION, word, NO_RECORD),))
    ask = f"What is a row whose “{part.header}” is “{word}”?"
    return Question("word", f"record|{key(word)}", ask, (*choices, none), FILE, field="record")


def _does(word: str, record: str) -> str:
    return f"[{SECTION}]: rows called “{word}” are {record}"
