"""The account of one table of a file: what each column is, what is open, which words were taken for likely ones."""

from collections.abc import Iterator, Sequence

import polars as pl

from pipeline.asking.likely import likely_words
from pipeline.asking.question_at import QuestionAt, worth_of_all
from pipeline.cleaning import Cleaned, payment_kinds
from pipeline.cleaning.poured_together import POUR
from pipeline.cleaning.spread_columns import HOURS, OVER
from pipeline.linking import Linked
from pipeline.mapping import SPREAD, Mapping, column_of
from pipeline.mapping.private_columns import is_private, sample
from pipeline.proposing import file_names
from pipeline.proposing.question import FILE, LITTLE, Question
from pipeline.proposing.several_records import SAYS_RECORD
from pipeline.readers import TextTable
from pipeline.records import CATEGORIES
from pipeline.reference import header_key, synonyms
from pipeline.shop import Shop
from pipeline.tables import in_polars, intake

LIKELY, COLUMN = in_polars(intake("likely_word")), in_polars(intake("column"))

USED, PRIVATE, ASKED, LEFT_OUT, NOT_NEEDED, NO_FIELD, NOT_SURE = (
    "used", "about a buyer", "asked about", "left out by its mapping", "not needed", "no field is like it",
    "not sure which field it is",
)  # fmt: skip
"""Why a column is a field, or none."""

DATES = "dates that may be read both ways"
NO_YEAR = "dates without a year"
NO_DAY = "lines without a day and a supplier"

NO_KIND = "a payment whose kind nothing says"


def questions_at(
    table: TextTable, cleaned: Cleaned | None, questions: Sequence[Question], shop: Shop, file: str
) -> Iterator[QuestionAt]:
    """The open questions of a table, each with the rows and the cents that hang on it; while it waits and is not
    cleaned, only those that it waits for: what else is open may not be, once it is known what it holds."""
    if not table.frame.height or (table.frame.height == 1 and not any(table.names)):
        return  # a line without headings is a title, or a note: it is listed with its file
    mapping = "" if not cleaned or cleaned.mapping.name in ("canonical", "suggested") else cleaned.mapping.name
    for question in questions:
        if not question.asked or (not cleaned and question.holds != FILE):
            continue
        cents, seconds = 0, 0
        if question.holds != LITTLE or question.kind != "column":  # no money hangs on a supplier, or on a note
            cents, seconds = _sums(cleaned.worth) if cleaned else worth_of_all(table, shop, question.record)
        rows = table.frame.height
        yield QuestionAt(question, file, table.sheet, mapping, rows, cents, table.names, seconds=seconds)


def _sums(worth: pl.DataFrame) -> tuple[int, int]:
    return int(worth["cents"].sum()), int(worth["seconds"].sum())


def likely(
    table: TextTable, how: Mapping, cleaned: Cleaned, shop: Shop, file: str, mappings: Sequence[Mapping] = ()
) -> pl.DataFrame:
    """The words of a table that can mean several things, as `intake.likely_word` keeps them. What one of `mappings`
    says itself was not taken from elsewhere."""
    told = next((mapping.constants for mapping in mappings if mapping.name == how.name), {})
    rows = [
        (w.vocabulary, w.word, w.taken, ", ".join(m for m in w.meanings if m != w.taken), w.places.height, file)
        for w in likely_words(table, how, shop)
    ]
    rows += [(*what, table.frame.height, file) for what in _by_the_way(how, told, file, table.sheet)]
    rows += [(*what, file) for what in _guessed(cleaned)]
    if shop.dates and cleaned.dates == "open":
        other = {"day": "month", "month": "day"}[shop.dates]
        said = ("date", DATES, f"the {shop.dates} first, as in your other files", f"the {other} first")
        rows.append((*said, table.frame.height, file))
    if cleaned.continued:
        said = ("receipt", NO_DAY, "lines of the receipt above", "ones of another day or supplier")
        rows.append((*said, cleaned.continued, file))
    if shop.year:
        rows.append(("year", NO_YEAR, f"{shop.year}, as in your other files", "another year", table.frame.height, file))
    return pl.DataFrame(rows, schema=LIKELY, orient="row")


def _guessed(cleaned: Cleaned) -> Iterator[tuple[str, str, str, str, int]]:
    """What empty cells were taken for: vocabulary, word, meaning, other meanings, rows."""
    kinds = cleaned.guessed.filter(vocabulary="kind").height
    if kinds:
        others = "pay, drawing, tax, loan, capital"
        yield "kind", NO_KIND, f"{payment_kinds.IN} if it came in, {payment_kinds.OUT} if it went out", others, kinds
    of_items = cleaned.guessed.filter(vocabulary="category").group_by("word", "taken", maintain_order=True).len()
    for item, taken, number in of_items.rows():
        yield "category", item, taken, ", ".join(c for c in CATEGORIES if c != taken), number


def _by_the_way(how: Mapping, told: dict[str, str], file: str, sheet: str) -> Iterator[tuple[str, str, str, str]]:
    """What no column says and was taken from elsewhere: vocabulary, word, meaning, other meanings."""
    if "channel" in how.constants and "channel" not in told:
        taken = how.constants["channel"]
        yield "channel", sheet or file, taken, ", ".join(c for c in file_names.CHANNELS if c != taken)

    if "date" in how.constants and "date" not in told:
        yield "date", sheet or file, how.constants["date"], "another day"


def likely_tags(linked: Linked) -> pl.DataFrame:
    """The tags that were taken for one on record which is written otherwise, as `intake.likely_word` keeps them."""
    places = linked.row.select("row_id", "file")
    found = linked.likely_tag.join(places, on="row_id", how="left").group_by("tag", "taken", "file").len("rows")
    said = [pl.lit("tag").alias("vocabulary"), pl.col("tag").alias("word")]
    other = pl.lit("one that is not on record").alias("others")
    return (
        found.sort("tag", "file").with_columns(*said, other).select(pl.col(n).cast(kind) for n, kind in LIKELY.items())
    )


def likely_sizes(linked: Linked) -> pl.DataFrame:
    """What was taken for what is in one of an item, since its name says it, as `intake.likely_word` keeps it."""
    places = linked.row.select("row_id", "file")
    bought = linked.records["purchases"].select("row_id", "item").join(places, on="row_id", how="left")
    counted = bought.filter(pl.col("item").is_in(list(linked.sized))).group_by("item", "file").len("rows")
    rows = [
        ("size", item, f"{linked.sized[item]} in one", "another amount", number, file)
        for item, file, number in counted.sort("item", "file").rows()
    ]
    return pl.DataFrame(rows, schema=LIKELY, orient="row")


def columns(table: TextTable, how: Mapping | None, questions: Sequence[Question], file: str) -> pl.DataFrame:
    """What each column of a table is, as `intake.column` keeps it; what is about a buyer is not named."""
    named = {**how.columns, **how.helpers} if how else {}
    fields = {column_of(table, header): name for name, header in named.items()}
    fields |= {column_of(table, header): SPREAD[how.record][0] for header in how.spread} if how else {}
    open_ = {header for question in questions if question.asked for header in _headers(question)}
    listed = {header for question in questions if not question.asked for header in _headers(question)}
    rows = []
    for at, name in enumerate(table.columns):
        header = table.names[at] if at < len(table.names) else ""
        if header in (HOURS, OVER, POUR):
            continue
        texts = sample(table.frame[name])
        if not header.strip() and not texts.len():
            continue
        asked = (header or name) in open_ or (how is None and any(question.asked for question in questions))
        why = _why(fields.get(name, ""), header, how, is_private(header, texts), asked)
        why = NOT_SURE if why == NO_FIELD and (header or name) in listed else why
        if table.part and header == table.part.header and why != USED:
            why = SAYS_RECORD
        shown = "" if why == PRIVATE else header or name
        filled = table.frame.height - table.frame[name].null_count()
        rows.append((file, table.sheet, shown, fields.get(name) or None, why, filled))
    return pl.DataFrame(rows, schema=COLUMN, orient="row")


def _headers(question: Question) -> Iterator[str]:
    for choice in question.choices:
        yield from choice.mapping.get("left_out", ())
        yield from choice.mapping.get("columns", {}).values()


def _why(field: str, header: str, how: Mapping | None, private: bool, open_: bool) -> str:
    if field:
        return USED
    if private:
        return PRIVATE
    if open_:
        return ASKED
    if how is None:
        return NO_FIELD
    if how.name not in ("canonical", "suggested") and not how.rest:
        return LEFT_OUT
    known = header in how.left_out or header_key(header) in synonyms(how.record)["-"]
    return NOT_NEEDED if known else NO_FIELD
