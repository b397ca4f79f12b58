"""A mapping proposed for a table that nobody has mapped: which record it holds and which column is which field.

Each column is scored for each field by its header (`reference/headers.csv`) and by its content: whether the field's own
reader can read what stands in it. The record is the one whose fields cover the columns best. A proposal is used
silently only if nothing about it is open; all else is a question to the maker.
"""

import difflib
import functools
import re
from collections.abc import Callable, Iterable, Set
from dataclasses import dataclass, replace

import polars as pl

from pipeline.cleaning import KINDS, column_formats, dates, numbers, quantities
from pipeline.cleaning.parsed import About
from pipeline.cleaning.synonyms import LISTED, Words
from pipeline.mapping import Mapping, canonical, column_of, named_records
from pipeline.mapping.private_columns import holds_contacts, is_private, sample, share_true
from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.proposing.questions import Question, Table, open_questions, sure_part
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS, Field, Record
from pipeline.reference import header_key, key, names, rows, synonyms
from pipeline.shop import Shop

_FREE = ("text", "word", "tag", "tags")
"""Kinds of field that would store any text."""


@dataclass(frozen=True)
class Suggestion:
    """A proposal for a table. `sure` = it may be used without asking; else `questions` says what is open, and
    `sure_part` what of it may be used meanwhile."""

    record: str
    confidence: float
    sure: bool
    columns: tuple[ColumnGuess, ...]
    records: dict[str, float]
    questions: tuple[Question, ...]
    mapping: Mapping


@dataclass(frozen=True)
class _Column(Column):
    fits: dict[tuple[object, ...], float]  # what `fit` found, so that no content is read twice

    def fit(self, field: Field, shop: Shop) -> float:
        known = (field.kind, field.vocabulary, field.choices, field.name in ("event", "date", "stir_minutes"))
        if known not in self.fits:
            self.fits[known] = fit(self.texts, field, shop, self.header)
        return self.fits[known]


def choose(mappings: list[Mapping], file: str, table: TextTable, shop: Shop) -> Mapping | None:
    """The mapping for a table: an explicit one, else canonical names, else an unambiguous suggestion, else None."""
    return choose_or_ask(mappings, file, table, shop)[0]


def choose_or_ask(
    mappings: list[Mapping], file: str, table: TextTable, shop: Shop
) -> tuple[Mapping | None, tuple[Question, ...]]:
    """What `choose` gives, and what is open about the table: a column that is asked about is left out of it."""
    for mapping in mappings:
        if mapping.fits(file, table.sheet) and _has_needed(mapping, table):
            if mapping.rest and mapping.record:
                proposal = suggest(table, shop, file, mapping.record, mapping)
                return sure_part(proposal.mapping, proposal.questions), proposal.questions
            return _without_private(mapping, table), ()
    known = canonical(file, table)
    named = named_records(file, table.sheet)
    if known and (not named or known.record in named):
        return _without_private(known, table), ()
    proposal = suggest(table, shop, file)
    if known and proposal.record == known.record:  # what the file is called fits it no better
        return _without_private(known, table), ()
    return sure_part(proposal.mapping, proposal.questions), proposal.questions


def suggest(table: TextTable, shop: Shop, file: str = "", record: str = "", told: Mapping | None = None) -> Suggestion:
    """A proposal for `table`; `file` is its path below `inbox/`, whose words are a hint too.

    With `record` the maker has said which record it holds, so that only its columns are open; `told` is a mapping that
    says of some columns what they are.
    """
    found = _columns(table)
    settled = _settled(found, table, told)
    told = told or Mapping("")
    open_columns = [c for c in found if c.name not in settled and not is_private(c.header, c.texts)]
    said = told.filled
    guesses = {name: _assign(open_columns, _without(fields, said), shop) for name, fields in RECORDS.items()}
    scores = {
        name: _score(guesses[name], RECORDS[name], len(open_columns)) + _hint(name, file, table.sheet)
        for name in RECORDS
    }
    ranked = sorted(scores, key=lambda name: (-scores[name], name))
    best = record or ranked[0]
    assigned = {guess.column: guess for guess in guesses[best]} | settled
    columns_found = tuple(assigned.get(c.name) or _private(c) for c in found)
    rivals = [] if record else ranked
    pairs = list(_pairs(open_columns, _without(RECORDS[best], said), shop))

    def fits(column: Column, field: Field) -> float:
        return column.fit(field, shop) if isinstance(column, _Column) else 0.0

    questions = open_questions(
        Table(RECORDS[best], scores, rivals, open_columns, guesses[best], pairs, fits, shop, told)
    )
    mapped = {g.field: g.header or g.column for g in columns_found if g.field}
    mapping = Mapping("suggested", file or "*", table.sheet or "*", best, mapped)
    if told.record:
        mapping = replace(told, columns=told.columns | {f: h for f, h in mapped.items() if f not in said})
    return Suggestion(best, round(min(1.0, scores[best]), 3), not questions, columns_found, scores, questions, mapping)


def _settled(found: list[_Column], table: TextTable, told: Mapping | None) -> dict[str, ColumnGuess]:
    """The columns that a mapping says all about."""
    if not told:
        return {}
    fields = {column_of(table, header): name for name, header in told.columns.items()}
    left_out = {column_of(table, header) for header in (*told.left_out, *told.helpers.values())}
    return {
        c.name: ColumnGuess(c.name, c.header, fields.get(c.name, ""), 1.0, "settled", tuple(c.texts.head(3)))
        for c in found
        if c.name in fields or c.name in left_out
    }


def _without(record: Record, fields: Set[str]) -> Record:
    return replace(record, fields=tuple(f for f in record if f.name not in fields)) if fields else record


def _without_private(mapping: Mapping, table: TextTable) -> Mapping:
    """The mapping without columns that hold mails or phones, whatever their headers say."""
    texts = {f.name for f in RECORDS[mapping.record] if f.kind in _FREE} if mapping.record else set()
    private = set()
    for name in texts & set(mapping.columns):
        column = column_of(table, mapping.columns[name])
        if column and holds_contacts(sample(table.frame[column])):
            private.add(name)
    kept = {name: header for name, header in mapping.columns.items() if name not in private}
    return replace(mapping, columns=kept) if private else mapping


def _has_needed(mapping: Mapping, table: TextTable) -> bool:
    if not mapping.record:
        return True
    needed = [f.name for f in RECORDS[mapping.record] if f.required and f.name in mapping.columns]
    found = [name for name, header in mapping.columns.items() if column_of(table, header)]
    return all(name in found for name in needed) and bool(found or not mapping.columns)


def _columns(table: TextTable) -> list[_Column]:
    found = []
    for i, name in enumerate(c for c in table.frame.columns if c != "row"):
        header = table.names[i] if i < len(table.names) else ""
        texts = sample(table.frame[name])
        if header.strip() or texts.len():
            found.append(_Column(name, header, texts, {}))
    return found


def _private(column: _Column) -> ColumnGuess:
    return ColumnGuess(column.name, column.header, "", 1.0, "private", ())


@functools.cache
def _bare(header: str, kind: str) -> str:
    """A header without its brackets and the unit that it names."""
    unit = column_formats.unit_in_header(header, kind)
    bare = re.sub(r"\s*[(\[].*?[)\]]", "", header)
    words = header_key(bare)
    return words.removesuffix(f" {header_key(unit)}").removesuffix(" in").strip() if unit else words


@functools.cache
def _name_score(header: str, record: str, field: str, kind: str) -> float:
    """How well a header names a field, 0 to 1."""
    own, common = synonyms(record).get(field, frozenset()), synonyms("*").get(field, frozenset())
    spoken = header_key(field.replace("_", " "))
    for text, off in ((header_key(header), 0.0), (_bare(header, kind), 0.03)):
        if not text:
            continue
        if text == spoken or text in own:
            return 1 - off
        if text in common:
            return 0.94 - off
    words = _bare(header, kind).split()
    if (
        field in _BY_LAST_WORD
        and words
        and words[-1] in {spoken, *own, *common}
        and not _means_else(" ".join(words), field)
    ):
        return 0.85  # an order date is a date, an expense category is a category
    return max((_overlap(set(words), synonym) for synonym in (spoken, *own, *common)), default=0.0)


_BY_LAST_WORD = ("date", "category", "product", "item", "operation", "note")


@functools.cache
def _means_else(header: str, field: str) -> bool:
    """Whether a header is known as another field somewhere: an expiry date is no date of a count."""
    return any(header in headers for r in ("*", *RECORDS) for name, headers in synonyms(r).items() if name != field)


def _overlap(words: set[str], synonym: str) -> float:
    parts = set(synonym.split())
    if not words or len(synonym) < 3:
        return 0.0
    if parts <= words and len(synonym) >= 4:
        return 0.45 + 0.35 * len(parts) / len(words)
    text = " ".join(sorted(words))
    # no slip makes twice as much of a word, and to compare a long text takes for ever
    if (
        4 < len(text) <= 2 * len(synonym)
        and difflib.SequenceMatcher(None, text, " ".join(sorted(parts))).ratio() > 0.87
    ):
        return 0.7
    return 0.0


def _assign(found: list[_Column], record: Record, shop: Shop) -> list[ColumnGuess]:
    """The fields of one record over the columns, best pairs first, each used once."""
    pairs = sorted(_pairs(found, record, shop), key=lambda pair: (-pair[0], pair[1].name, pair[2]))
    taken: dict[str, ColumnGuess] = {}
    used: set[str] = set()
    for score, column, field, why in pairs:
        if column.name in taken or (field in used and field):
            continue
        taken[column.name] = ColumnGuess(
            column.name, column.header, field, round(score, 3), why, tuple(column.texts.head(3))
        )
        used |= {field} if field else set()
    none = (ColumnGuess(c.name, c.header, "", 0.0, "not known", tuple(c.texts.head(3))) for c in found)
    return [taken.get(guess.column, guess) for guess in none]


def _pairs(found: list[_Column], record: Record, shop: Shop) -> Iterable[tuple[float, _Column, str, str]]:
    for column in found:
        if header_key(column.header) in synonyms(record.name)["-"]:
            yield 0.9, column, "", "not needed"
        for field in record:
            named = _name_score(column.header, record.name, field.name, field.kind)
            if named:
                yield named * (0.3 + 0.7 * column.fit(field, shop)), column, field.name, "name"
            elif telling := _telling(column, field, shop):
                yield telling, column, field.name, "content"


def _telling(column: _Column, field: Field, shop: Shop) -> float:
    """How strongly content alone speaks for a field: only dates and words of a known vocabulary do."""
    if not column.texts.len() or field.name not in ("date", "species", "operation", "defect", "category"):
        return 0.0
    share = column.fit(field, shop)
    return 0.5 * share if share > 0.8 else 0.0


def fit(texts: pl.Series, field: Field, shop: Shop, header: str = "") -> float:
    """How much of a column's content the field's own reader can read, 0 to 1."""
    if not texts.len():
        return 0.6
    if field.kind == "unit":
        return _share(texts, lambda text: quantities.Units().find(text) is not None)
    if field.kind == "text" or (field.kind == "word" and field.vocabulary not in LISTED):
        return 1.0 - 0.9 * share_true(texts.str.contains(r"^[\s\d.,:/$€£%-]+$"))
    if field.kind == "word":
        words = Words(field.vocabulary, shop)
        known = _share(texts, lambda text: key(text) in names(field.vocabulary) or key(text) in words._shop)
        return known if field.vocabulary == "category" else 0.4 + 0.6 * known
    if field.kind in ("tag", "tags"):
        return _looks_like_tags(texts, field)
    return _readable(texts, field, shop, header)


def _share(texts: pl.Series, test: Callable[[str], bool]) -> float:
    return sum(map(test, texts)) / texts.len()


def _looks_like_tags(texts: pl.Series, field: Field) -> float:
    if field.name == "event":
        return 1.0 - 0.8 * share_true(texts.str.contains(r"^[\d.,$€£-]+$"))
    tagged = texts.str.contains(r"\d") & ~texts.str.contains(
        r"^\d{4}-\d\d-\d\d|^\d{1,2}[./]\d{1,2}[./]\d{2,4}|[$€£]|^\d+[.,]\d{1,2}$"
    )
    if field.kind == "tag":
        tagged = tagged & (texts.str.len_chars() <= 30) & ~texts.str.contains(r"\s\w+\s")
    return share_true(tagged)


def _readable(texts: pl.Series, field: Field, shop: Shop, header: str) -> float:
    mark = numbers.certain(texts)
    order = dates.order(texts) if field.kind == "date" else ""
    about = About(
        field,
        shop,
        column_formats.unit_in_header(header, field.kind),
        order if order in ("day", "month") else "day",
        mark if mark in (".", ",") else ".",
        header,
    )
    if field.kind == "quantity":
        frame = (
            texts.rename("text")
            .to_frame()
            .with_columns(pl.lit(None, pl.String).alias("unit"), pl.lit(None, pl.String).alias("lone"))
        )
        done = quantities.quantities(frame, about)
    else:
        done = KINDS[field.kind].read(texts, about)
    open_codes = ["unit-missing", "date-order"]  # a question of the file, not a sign of the wrong field
    good = done["code"].is_null() | done["code"].is_in(open_codes)
    share = share_true(good) + 0.75 * share_true(done["code"] == "date-year")  # 2.5 is a day only below such a header
    if field.kind in ("money", "number", "count") and texts.str.contains(r"^(?:19|20)\d\d$").all():
        share *= 0.5  # a column of years
    return share


def _score(guesses: list[ColumnGuess], record: Record, width: int) -> float:
    """How well a record explains a table: the columns covered, and the needed fields found."""
    if not width:
        return 0.0
    have = {g.field for g in guesses}
    needed = [f.name for f in record if f.required]
    missing = sum(name not in have for name in needed)
    covered = sum(g.confidence if g.field else 0.5 * g.confidence for g in guesses) / width
    return round(max(0.0, covered - 0.2 * missing), 4)


def _hint(record: str, file: str, sheet: str) -> float:
    """What the names of sheet and file say about the record; the sheet's word weighs more."""
    words = {row["header"] for row in rows("headers") if row["record"] == record and not row["field"]} | {record}
    keys = {key(word) for word in words}
    stem = key(re.sub(r"\.\w+$", "", file).replace("_", " "))
    sheet_words = re.sub(r"\btable \d+$", "", key(sheet.replace("_", " "))).strip()

    def speaks(text: str) -> bool:
        return any(re.search(rf"\b{re.escape(word)}\b", text) for word in keys)

    return 0.2 * speaks(sheet_words) + 0.12 * speaks(stem)
