"""A mapping proposed for a table that nobody has mapped: which record it holds and which column is which field.

All evidence is weighed together: the words of the headers (`header_names.py`), what stands below them (`contents.py`),
what the columns say of each other row by row (`row_relations.py`), and what file and sheet are called. For each record
the fields are given to the columns at once, by the best sum of all weights (`assignment.py`); the record is the one
that explains the table best. How sure that is stands beside it, as a share that holds of so many in a hundred piles
of the tests. What is not sure is a question to the maker.
"""

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import polars as pl

from pipeline.cleaning.taught_words import NO_RECORD
from pipeline.cleaning.times_of_work import UNIT_OF_TIME
from pipeline.mapping import HELPERS, Mapping, canonical, column_of, named_records
from pipeline.mapping.private_columns import holds_contacts, is_private, is_private_header, overflow, sample
from pipeline.proposing import each_or_row, file_names, header_names, helper_columns, spread
from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.proposing.needed_fields import OFTEN_NO_COLUMN, lacking
from pipeline.proposing.question import SURE, Pair, Question, Table
from pipeline.proposing.questions import open_questions, sure_part
from pipeline.proposing.several_records import of_record, which_record
from pipeline.proposing.taught_headers import Taught, taught_by
from pipeline.proposing.together import RATHER
from pipeline.proposing.weighing import TAXED, Explained, WeighedColumn, explained, likely_records
from pipeline.readers.reader_output import OneRecord, TextTable
from pipeline.records import RECORDS, Field
from pipeline.shop import Shop

_FREE = ("text", "word", "tag", "tags")
"""Kinds of field that would store any text."""

UNSURE = 0.85
"""A column that is a field only since its record needs one is no surer of it: it is asked about."""

MANY_STRAY = 8
"""From so many columns on that rows with too many cells make, these are not weighed."""
MOST_COLUMNS = 120
"""So many columns of a table are looked at; to weigh hundreds takes minutes."""


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


def choose(mappings: list[Mapping], file: str, table: TextTable, shop: Shop) -> Mapping | None:
    """The mapping for a table: an explicit one, else canonical names, else an unambiguous suggestion, else None."""
    return choose_or_ask(mappings, file, table, shop)[0]


def choose_or_ask(
    mappings: list[Mapping], file: str, table: TextTable, shop: Shop
) -> tuple[Mapping | None, tuple[Question, ...]]:
    """What `choose` gives, and what is open about the table: a column that is asked about is left out of it."""
    for mapping in mappings:
        if mapping.fits(file, table.sheet) and _has_needed(mapping, table):
            return _by_mapping(mapping, mappings, file, table, shop)
    if same := settled_for(mappings, file, table):
        return _by_mapping(same, mappings, file, table, shop)
    if table.part and (table.part.record or table.part.word):
        return _of_part(table.part, mappings, file, table, shop)
    known = canonical(file, table)
    named = named_records(file, table.sheet)
    if known and (not named or known.record in named):
        return _without_private(known, table), ()
    proposal = suggest(table, shop, file, taught=taught_by(mappings))
    if known and proposal.record == known.record:  # what the file is called fits it no better
        return _without_private(known, table), ()
    return sure_part(proposal.mapping, proposal.questions), proposal.questions


def _of_part(
    part: OneRecord, mappings: Sequence[Mapping], file: str, table: TextTable, shop: Shop
) -> tuple[Mapping | None, tuple[Question, ...]]:
    """The rows of a log of several records that are of one: their word says which, or is asked about."""
    if part.record == NO_RECORD:
        return Mapping("suggested", file or "*", table.sheet), ()
    proposal = suggest(table, shop, file, part.record, taught=taught_by(mappings))
    if part.word:
        ranked = sorted(proposal.records, key=lambda name: (-proposal.records[name], name))
        return None, (which_record(part, ranked),)
    return sure_part(proposal.mapping, proposal.questions), proposal.questions


def _with_part(told: Mapping | None, record: str, file: str, table: TextTable) -> Mapping | None:
    """What is told of a table, with what the words tell by which its rows were told apart."""
    field = table.part.field if table.part else ""
    if not table.part or not field or (told and field in told.filled):
        return told
    how = told or Mapping("suggested", file or "*", table.sheet, record)
    return replace(how, columns=how.columns | {field: table.part.header})


def settled_for(mappings: Sequence[Mapping], file: str, table: TextTable) -> Mapping | None:
    """The mapping that was settled for a table with the same headings, in another file or sheet; None where several
    were that say other things."""
    found = [how for how in mappings if how.is_settled_for(table) and not how.fits(file, table.sheet)]
    found = [how for how in found if of_record(how.sheets) == (of_record(table.sheet) if table.part else "")]
    sheets = [how for how in found if how.sheets not in ("*", "") and how.fits(how.files, table.sheet)] or found
    says = [replace(how, name="", files="*", sheets="*", headings=()) for how in sheets]
    return sheets[-1] if says and all(each == says[0] for each in says) else None


def _by_mapping(
    mapping: Mapping, mappings: Sequence[Mapping], file: str, table: TextTable, shop: Shop
) -> tuple[Mapping | None, tuple[Question, ...]]:
    if mapping.rest and mapping.record:
        proposal = suggest(table, shop, file, mapping.record, mapping, taught_by(mappings))
        return sure_part(proposal.mapping, proposal.questions), proposal.questions
    return _without_private(mapping, table), ()


def suggest(
    table: TextTable,
    shop: Shop,
    file: str = "",
    record: str = "",
    told: Mapping | None = None,
    taught: Taught | None = None,
) -> Suggestion:
    """A proposal for `table`; `file` is its path below `inbox/`, whose words are a hint too.

    With `record` the maker has said which record it holds, so that only its columns are open; `told` is a mapping that
    says of some columns what they are, `taught` what headers were settled as in other tables.
    """
    found = _columns(table)
    told = _with_part(told, record, file, table)
    settled = _settled(found, table, told)
    told = told or Mapping("")
    stray = _stray(found, table)
    open_columns = [
        c for c in found if c.name not in (settled.keys() | stray.keys()) and not is_private(c.header, c.texts)
    ]
    said_of = told.filled
    helping = {} if told.helpers else helper_columns.find(table, open_columns, shop)
    helping = {role: column for role, column in helping.items() if not said_of & {*HELPERS[role]["payments"]}}
    of_told = {name: _texts_of(table, found, header) for name, header in told.columns.items()}
    filled = dict.fromkeys(said_of) | of_told
    apart = None if told.spread else spread.find(open_columns, shop)
    names = {column.name for column in spread.columns_of(apart, open_columns)}
    of_spread = (apart.record, apart.field) if apart else ("", "")
    likely = explained(table, open_columns, filled, settled.keys(), shop, file, helping, taught or {}, names, of_spread)
    scores = likely_records(likely)
    ranked = sorted(scores, key=lambda name: (-scores[name], name))
    best = record or ranked[0]
    best_way = likely[best]
    guesses = [_guess(column, best_way, at) for at, column in enumerate(open_columns)]
    guesses = _with_needed(guesses, open_columns, best_way, said_of)
    told = replace(told, price_for=told.price_for or _price_for(table, best, open_columns, guesses))
    helpers = {
        role: c.header or c.name for role, c in _helping(table, best, open_columns, guesses, helping, told).items()
    }
    if "amount" in best_way.derived - said_of:
        one = helper_columns.price_of_one(table, open_columns)
        guesses = [
            replace(g, field="amount", confidence=1.0, why="name") if one and g.column == one.name else g
            for g in guesses
        ]
        told = replace(told, price_for="each")
    if best == "sales" and _holds_tax(table, open_columns, guesses):
        told = replace(told, tax_included=True)
    row = helper_columns.price_of_row(table, open_columns) if best == "sales" and not told.price_for else None
    if row and any(guess.field == "price" and guess.column == row.name for guess in guesses):
        told = replace(told, price_for="row")
    if apart and best == apart.record:
        told = replace(told, spread=apart.columns, spread_over=apart.field)
    helping_ = {*helpers.values(), *told.spread}
    guesses = [replace(g, field="", why="helper") if (g.header or g.column) in helping_ else g for g in guesses]
    assigned = {guess.column: guess for guess in guesses} | stray | settled
    columns_found = tuple(assigned.get(c.name) or _private(c) for c in found)

    def fits(column: Column, field: Field) -> float:
        return column.fit(field, shop) if isinstance(column, WeighedColumn) else 0.0

    derived = best_way.derived | _by_item(best, scores[best], guesses, told, record)
    questions = open_questions(
        Table(
            RECORDS[best], scores, [] if record else ranked, open_columns, guesses,
            list(_pairs(open_columns, best_way, guesses)), fits, shop,
            replace(told, record=best, helpers=told.helpers | helpers), derived,
        )
    )  # fmt: skip
    mapped = {g.field: g.header or g.column for g in columns_found if g.field and g.why != "need"}
    mapping = Mapping("suggested", file or "*", table.sheet or "*", best, mapped, helpers=helpers)
    mapping = replace(
        mapping,
        tax_included=told.tax_included,
        price_for=told.price_for,
        spread=told.spread,
        spread_over=told.spread_over,
    )
    if told.record:
        more = {f: h for f, h in mapped.items() if f not in said_of}
        mapping = replace(told, columns=told.columns | more, helpers=told.helpers | helpers)
    mapping = _told_otherwise(mapping, derived, file, table, shop)
    return Suggestion(best, round(scores[best], 3), not questions, columns_found, scores, questions, mapping)


def _texts_of(table: TextTable, found: Sequence[WeighedColumn], header: str) -> pl.Series | None:
    """What stands in the column that is called so."""
    name = column_of(table, header)
    return next((column.texts for column in found if column.name == name), None)


def _by_item(record: str, likely: float, guesses: Sequence[ColumnGuess], told: Mapping, chosen: str) -> frozenset[str]:
    """The category, of what was surely bought: each item that no word tells is asked about by itself."""
    held = {guess.field for guess in guesses if guess.field and guess.confidence >= SURE}
    bought = record == "purchases" and (chosen or likely >= SURE) and {"item", "amount"} <= held | {*told.filled}
    return frozenset({"category"} if bought and "category" not in {g.field for g in guesses} else ())


def _told_otherwise(mapping: Mapping, derived: Set[str], file: str, table: TextTable, shop: Shop) -> Mapping:
    """The mapping with what no column says: the channel by the name of the file, which way money goes by its sign."""
    open_ = derived - mapping.filled
    if "item" in open_ and "species" in mapping.columns:
        wood = {"category": "wood"} if "category" in open_ else {}
        named = mapping.columns | {"item": mapping.columns["species"]}
        mapping = replace(mapping, columns=named, constants=mapping.constants | wood)
    if "date" in open_:
        return replace(mapping, constants=mapping.constants | {"date": file_names.day_called(table, file)})
    if "channel" in open_:
        channel = file_names.channel_called(file, table.sheet, shop) or file_names.market_of(shop)
        return replace(mapping, constants=mapping.constants | {"channel": channel})
    if "kind" in open_:
        return replace(mapping, signs=mapping.signs | {"amount": "out"})
    return mapping


def _settled(found: list[WeighedColumn], table: TextTable, told: Mapping | None) -> dict[str, ColumnGuess]:
    """The columns that a mapping says all about."""
    if not told:
        return {}
    fields = {column_of(table, header): name for name, header in told.columns.items()}
    left_out = {column_of(table, header) for header in (*told.left_out, *told.helpers.values(), *told.spread)}
    return {
        c.name: ColumnGuess(c.name, c.header, fields.get(c.name, ""), 1.0, "settled", tuple(c.texts.head(3)))
        for c in found
        if c.name in fields or c.name in left_out
    }


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


def _columns(table: TextTable) -> list[WeighedColumn]:
    found = []
    for i, name in enumerate(c for c in table.frame.columns if c != "row"):
        header = table.names[i] if i < len(table.names) else ""
        texts = sample(table.frame[name])
        if table.part and (not texts.len() or (header == table.part.header and not table.part.field)):
            continue
        if header.strip() or texts.len():
            found.append(WeighedColumn(name, header, texts, {}))
    return found


def _stray(found: list[WeighedColumn], table: TextTable) -> dict[str, ColumnGuess]:
    """What rows with too many cells make: columns that say nothing of what the table holds, where there are many, or
    where they may hold what is about a buyer. Nothing of them is shown. So too what a damaged file has beyond any
    table of a shop."""
    beyond = {*overflow(table), *(column.name for column in found[MOST_COLUMNS:])}
    private = any(is_private_header(name) for name in table.names)
    if len(beyond) < MANY_STRAY and not private:
        return {}
    why = "private" if private else "not known"
    return {c.name: ColumnGuess(c.name, c.header, "", 1.0, why, ()) for c in found if c.name in beyond}


def _price_for(table: TextTable, record: str, columns: Sequence[Column], guesses: Sequence[ColumnGuess]) -> str:
    """Whether the rows themselves show that a price of sales is for each or for the row; "" where they don't."""
    held = {guess.field: guess.column for guess in guesses if guess.field}
    if record != "sales" or not {"price", "quantity"} <= held.keys():
        return ""
    by_name = {column.name: column for column in columns}
    thing = by_name.get(held.get("product", ""))
    return each_or_row.shown(table, by_name[held["quantity"]], by_name[held["price"]], thing)


def _private(column: WeighedColumn) -> ColumnGuess:
    return ColumnGuess(column.name, column.header, "", 1.0, "private", ())


def _helping(
    table: TextTable,
    record: str,
    columns: list[WeighedColumn],
    guesses: list[ColumnGuess],
    of_payments: dict[str, Column],
    told: Mapping,
) -> dict[str, Column]:
    """The helping columns of a table as the record that it is likeliest to hold."""
    if record == "payments":
        return of_payments
    if record == "hours":
        unit = helper_columns.unit_of_time(columns)
        return {UNIT_OF_TIME: unit} if unit and not told.helpers else {}
    field_, tax = TAXED.get(record, ("", ""))
    held = {guess.field: guess.column for guess in guesses if guess.field}
    if field_ not in held or told.helpers or told.tax_included:
        return {}
    of_row = record == "purchases" or "quantity" not in held or told.price_for == "row"
    if tax in held and of_row and told.price_for != "each":
        by_name = {column.name: column for column in columns}
        price = by_name[held[field_]]
        return {"gross": price} if helper_columns.holds_tax(table, columns, price, by_name[held[tax]]) else {}
    if tax in {*held, *told.filled}:
        return {}
    # what is proved of each row is that row's gross, and no total of a receipt
    free = {guess.column for guess in guesses if guess.field in ("", "total", field_)}
    found = helper_columns.gross(table, [c for c in columns if c.name in free], held[field_])
    return {"gross": found} if found else {}


def _holds_tax(table: TextTable, columns: Sequence[WeighedColumn], guesses: Sequence[ColumnGuess]) -> bool:
    """Whether the price of a sale says that the tax is in it, and the tax beside it is in every row."""
    held = {guess.field: guess.column for guess in guesses if guess.field}
    by_name = {column.name: column for column in columns}
    price, tax = by_name.get(held.get("price", "")), by_name.get(held.get("sales_tax", ""))
    if price is None or tax is None or not helper_columns.says_gross(price.header):
        return False
    return helper_columns.holds_tax(table, columns, price, tax)


def _guess(column: WeighedColumn, found: Explained, at: int) -> ColumnGuess:
    name, samples = found.chosen[at], tuple(column.texts.head(3))
    share = found.shares[at].get(name, 0.0)
    if not name:
        why = "not needed" if found.weights[at][""] >= header_names.ALIKE else "not known"
        return ColumnGuess(column.name, column.header, "", round(share, 3), why, samples)
    named = header_names.weight(column.header, found.record, name, RECORDS[found.record].field(name).kind) > 0
    return ColumnGuess(column.name, column.header, name, round(share, 3), "name" if named else "content", samples)


def _with_needed(
    guesses: list[ColumnGuess], columns: Sequence[WeighedColumn], found: Explained, said_of: Set[str]
) -> list[ColumnGuess]:
    """The guesses, with those columns that are a needed field since nothing else is, and rather that than another."""
    filled = {*found.chosen, *found.derived, *said_of}
    needed = {field.name for field in lacking(RECORDS[found.record], filled)} - OFTEN_NO_COLUMN
    if not needed:
        return guesses
    way = found.by_need(needed)
    again = [_guess(column, way, at) for at, column in enumerate(columns)]
    return [
        replace(new, confidence=min(new.confidence, UNSURE), why="need")
        if not old.field and new.field in needed and new.confidence >= RATHER
        else old
        for old, new in zip(guesses, again, strict=True)
    ]


def _pairs(columns: list[WeighedColumn], found: Explained, guesses: list[ColumnGuess]) -> list[Pair]:
    """How likely each column is each field."""
    return [
        (share, column, name, guess.why)
        for column, shares, guess in zip(columns, found.shares, guesses, strict=True)
        for name, share in shares.items()
    ]
