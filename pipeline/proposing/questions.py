"""What is open about a proposed mapping: the questions that the maker is asked, each with its choices.

A question that `holds` the "file" keeps the whole table waiting; one that holds "money" lets the rest in, but no row of
it is called logged; any other only leaves its column out. What an answer writes stands in each choice.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from pipeline.cleaning.recurring import TAGS, compared
from pipeline.cleaning.synonyms import NOT_TOLD
from pipeline.mapping import Mapping as FileMapping
from pipeline.mapping.private_columns import share_true
from pipeline.proposing import file_names, header_names
from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.proposing.file_names import CHANNELS, channels_of
from pipeline.proposing.helper_columns import is_money_mark
from pipeline.proposing.needed_fields import lacking
from pipeline.proposing.offered import (
    NOT_NEEDED,
    as_column,
    may_hold_tax,
    not_needed,
    other_records,
    record_choices,
    shown,
    ways,
)
from pipeline.proposing.question import FAIR, FILE, LITTLE, MONEY, Choice, Question, Table, constant, words
from pipeline.proposing.together import together
from pipeline.records import CATEGORIES, Field
from pipeline.reference import header_key, words_for
from pipeline.shop import Shop

MARGIN = 0.5
"""The record is asked for where the likeliest is not so much likelier than the next."""
CLOSE = 0.08
UNLIKELY = 0.75
"""A column that is less likely of no use is asked about."""
HALF = 0.5
"""A record that explains fewer of a table's columns is asked about, however few the others explain."""
READABLE = 0.5
"""A column is offered for a field if so much of it can be read as one."""

WORKSHOP = "workshop"
"""Where something is sold that goes over no counter but the maker's own."""
BY_ITEM = "by the item: each is asked about once"
MONEY_LIKE = r"^\W*(?:[A-Z]{3}\W*)?\d[\d.,'’\s]*[.,]\d{2}\W*(?:[A-Z]{3})?$|[$€£¥]"
"""What money looks like: two decimals, or the mark of a currency."""

_MOSTLY = 0.6
SEVERAL, MOST_KINDS = 3, 25
"""A column of at most so many words, which name so many records at least, says what each row is."""
AS_A_RECORD = 2
"""Columns of numbers, or one of days beside one of numbers, as records have them."""
_A_DAY = r"\d{1,4}\s?[-./]\s?\d{1,2}\s?[-./]\s?\d{2,4}"
_NUMBER = r"^\D{0,4}\d[\d.,'’\s:]*\D{0,4}$"
_TAGGED = re.compile(r"(?<![\w/#-])[\w/#-]*\d[\w/-]*")
_LONGEST_WORD = 40
_WEIGHTY = ("money", "quantity", "count")
_QUIET = ("note", "cause", "supplier", "product", "channel", "returned_to", "colourant", "paid_currency")
"""Fields that are left empty without a question, where none is surely theirs and their record needs them not."""
_NOT_OUT = 0.05
"""A column of numbers that may be the quantity so likely is not left out as long as nothing else is."""
_MAYBE = 0.25
"""A column that is so likely a field that matters is asked about."""


def open_questions(table: Table) -> tuple[Question, ...]:
    """What is open about a table's proposal; nothing where it may be used as it stands."""
    first = tuple(_which_record(table))  # what it holds decides what else is open
    if first:
        return first
    columns = list(_columns(table))
    at_once = list(together(table, columns))
    open_ = {name for question in at_once for name in question.fields}
    alone = [question for question in columns if question.field not in open_]
    return (*_missing(table), *at_once, *alone, *_unknown(table), *_meanings(table))


def sure_part(how: FileMapping, questions: Iterable[Question]) -> FileMapping | None:
    """The mapping without the columns that are asked about; None where a question keeps the whole file waiting."""
    asked = list(questions)
    if any(question.holds == FILE for question in asked):
        return None
    open_fields = {name for question in asked for name in question.fields}
    columns = {name: header for name, header in how.columns.items() if name not in open_fields}
    placeless = any((question.kind, question.field) == ("needed", "channel") for question in asked)
    constants = how.constants | ({"channel": NOT_TOLD} if placeless else {})
    return replace(how, columns=columns, constants=constants)


def settled_by(question: Question, name: str, header: str) -> bool:
    """Whether a question is answered once it is told that a field is this column ("" = that all rows have a text)."""
    if question.kind not in ("needed", "column", "which"):
        return False
    told = [choice.mapping for choice in question.choices]
    about = {each for says in told for each in (*says.get("columns", {}).values(), *says.get("left_out", []))}
    return question.field == name or (question.kind != "needed" and header in about)


def about_tax(record: str, guess: ColumnGuess) -> Iterator[Question]:
    """Whether a price whose header says so holds its tax."""
    if may_hold_tax(record, guess.field, guess.header):
        yield _taxed(record, guess)


def _headers(table: Table) -> tuple[str, ...]:
    return tuple(map(shown, table.found))


def _which_record(table: Table) -> Iterator[Question]:
    if not table.rivals:
        return
    best, second = table.record.name, table.rivals[1]
    if mixed := _mixed(table):
        ask = (
            f"Its column “{shown(mixed)}” says that its rows are several records. Put each kind into a file of its own."
        )
        choices = tuple(record_choices(table, table.rivals))
        yield Question("record", table.headings, ask, choices, FILE, best, such=_headers(table))
        return
    lacks = len(list(lacking(table.record, table.filled)))
    if table.scores[best] - table.scores[second] >= MARGIN and table.scores[best] >= HALF and lacks < 2:
        return
    ask = f"It could be {best} or {second}." if table.scores[best] else "Nothing in it is known."
    asked = not _is_likely_nothing(table) or any(map(partial(_something_hangs, table.shop), table.found))
    choices = tuple(record_choices(table, table.rivals))
    yield Question("record", table.headings, ask, choices, FILE, best, such=_headers(table), asked=asked)


def _mixed(table: Table) -> Column | None:
    """The column that says of each row which record it is, where rows are of several."""
    for column in table.found:
        named = [file_names.records_called(text) for text in column.texts] if column.texts.len() <= MOST_KINDS else []
        single = {next(iter(records)) for records in named if len(records) == 1}
        if len(single) >= SEVERAL and sum(map(bool, named)) >= HALF * len(named):
            return column
    return None


def _is_likely_nothing(table: Table) -> bool:
    """Whether a table is likelier no record than any, or lacks the number that its record is about and has none."""
    filled = [c.texts for c in table.found if c.texts.len()]
    numbers = sum(share_true(texts.str.contains(_NUMBER) & ~texts.str.contains(_A_DAY)) >= HALF for texts in filled)
    dated = any(share_true(texts.str.contains(_A_DAY)) >= HALF for texts in filled)
    if numbers + dated >= AS_A_RECORD:
        return False  # in words of another language it may be anything
    numeric = numbers > 0
    known = {g.field for g in table.guesses if g.field and g.why != "need"} | {*table.told.filled, *table.derived}
    wants = any(f.kind in (*_WEIGHTY, "duration") for f in lacking(table.record, known))
    only_days = all(table.record.field(name).kind == "date" for name in known)
    return sum(table.scores.values()) < HALF or (wants and not numeric) or only_days


def _something_hangs(shop: Shop, column: Column) -> bool:
    """Whether a column of a table that is likelier no record has money in it, or tags that are on record."""
    worded = (compared(word, "piece") for text in column.texts for word in _TAGGED.findall(text))
    known = frozenset[str]().union(*(shop.seen.get(kind, frozenset()) for kind in TAGS))
    return any(column.texts.str.contains(MONEY_LIKE)) or any(word in known for word in worded)


def _missing(table: Table) -> Iterator[Question]:
    """Needed fields that no column fills: columns that could be one, else what all rows have."""
    for needed in lacking(table.record, table.filled):
        held = {
            g.column for g in table.guesses if g.field and table.sure(g.field) and table.record.field(g.field).required
        }
        free = [c for c in table.found if c.name not in held]
        fitting = [c for c in free if c.texts.len() and (table.fits(c, needed) >= READABLE or _of_words(c, needed))]
        columns = [
            Choice(f"“{header}”{way}", f"takes “{header}” as the {words(needed.name)}{way}", mapping=told)
            for header in map(shown, sorted(fitting, key=lambda c: -table.fits(c, needed)))
            for way, told in ways(table.record.name, needed.name, header)
        ]
        constants = [constant(table.record.name, needed.name, word) for word in _constants(needed, table.shop)]
        if needed.name == "category" and "item" in table.filled:
            told = {"record": table.record.name, "constants": {"category": ""}}
            constants = [Choice(BY_ITEM, "asks of each item what it is used for", mapping=told), *constants]
        others = record_choices(table, [name for name in table.rivals if name != table.record.name][:3])
        yield Question(
            "needed", f"{table.record.name}|{needed.name}|{table.headings}",
            f"No column is the {words(needed.name)} that {table.record.name} need.",
            (*columns, *constants, *others), MONEY if _can_wait(table, needed) else FILE,
            table.record.name, needed.name, _headers(table),
        )  # fmt: skip


def _can_wait(table: Table, needed: Field) -> bool:
    """Whether rows are of use without a needed field: of sales it may be told later where they were made, if all else
    of it is sure."""
    if (table.record.name, needed.name) != ("sales", "channel"):
        return False
    others = [f for f in table.record if f.required and f.name != "channel"]
    return all(f.name in table.told.filled | table.derived or table.sure(f.name) for f in others)


def _of_words(column: Column, needed: Field) -> bool:
    """Whether a column holds words, for a field of words: what each of them means is asked in its turn. Work may stand
    with the tag of its piece."""
    figures = r"\d" if needed.vocabulary != "operation" else r"^[\W\d_]+$|\d\D*\d\D+\d"
    worded = ~column.texts.str.contains(figures) & column.texts.str.contains(r"[^\W\d_]{3}")
    worded &= column.texts.str.len_chars() <= _LONGEST_WORD
    return needed.kind in ("choice", "word") and share_true(worded) >= _MOSTLY


def _constants(needed: Field, shop: Shop) -> Sequence[str]:
    if needed.kind == "choice":
        return needed.choices
    if needed.vocabulary == "category":
        return CATEGORIES
    if needed.vocabulary == "channel":
        return tuple(dict.fromkeys((*channels_of(shop), *CHANNELS, WORKSHOP)))
    return shop.names("operation") if needed.vocabulary == "operation" else ()


def _columns(table: Table) -> Iterator[Question]:
    """Columns that are not surely what they were taken for, and fields that two columns fit alike."""
    contested = _contested(table)
    elsewhere = {header for headers in contested.values() for header in headers}
    settled = {q.field for q in _meanings(table)} | {g.field for g in table.guesses if shown(g) in elsewhere}
    for name, guess in table.held.items():
        others = contested.get(name, [])
        if not others and (guess.confidence >= table.need(name) or name in settled):
            continue
        required = table.record.field(name).required
        holds = FILE if required else _holds([table.record.field(name)])
        if others:
            yield _which(table, name, [shown(guess), *others], holds)
            continue
        choices = _field_choices(table, guess.column, shown(guess), name)
        yield Question(
            "column", f"{table.record.name}|{header_key(shown(guess))}", f"Is “{shown(guess)}” the {words(name)}?",
            choices, holds, table.record.name, name, guess.samples, required or name not in _QUIET,
        )  # fmt: skip


def _which(table: Table, name: str, headers: list[str], holds: str) -> Question:
    """Which of several columns a field is; another that is called so too is of no use then."""
    kind = table.record.field(name).kind
    alike = [h for h in headers if header_names.weight(h, table.record.name, name, kind) > 0]
    choices = [
        Choice(
            f"“{header}”{way}",
            f"takes “{header}” as the {words(name)}{way}",
            mapping=told | {"left_out": [other for other in headers if other != header and other in alike]},
        )
        for header in headers
        for way, told in ways(table.record.name, name, header)
    ]
    if not table.record.field(name).required:
        told = {"record": table.record.name, "left_out": headers}
        choices.append(Choice("neither", "leaves them all out", mapping=told))
    choices += other_records(table)
    about = "|".join([table.record.name, name, *sorted(map(header_key, headers))])
    listed = " and ".join(f"“{header}”" for header in headers)
    return Question(
        "which", about, f"{listed} could both be the {words(name)}.", tuple(choices), holds, table.record.name, name
    )


def _contested(table: Table) -> dict[str, list[str]]:
    """Field → the headers of other columns that fit it as well as the one chosen, and found no better place."""
    chosen, held = {guess.column: guess for guess in table.guesses}, table.held
    found: dict[str, list[str]] = {}
    for score, column, name, _ in table.pairs:
        own, holder = chosen[column.name], held.get(name)
        placed = own.why in ("not needed", "helper") or (own.field and own.confidence >= FAIR)
        if not name or holder is None or holder.column == column.name or placed:
            continue
        if score >= holder.confidence - CLOSE and own.confidence < score + CLOSE:
            found.setdefault(name, []).append(column.header or column.name)
    return found


def _field_choices(table: Table, column: str, header: str, first: str = "") -> tuple[Choice, ...]:
    """The fields that a column can be, the likeliest first, none that another column surely is."""
    found = next(c for c in table.found if c.name == column)
    scores = {name: score for score, c, name, _ in table.pairs if c.name == column and name}
    open_ = [f for f in table.record if f.name == first or not (f.name in table.filled and table.sure(f.name))]
    open_ = [f for f in open_ if f.name not in table.told.constants]
    fitting = {f.name: table.fits(found, f) for f in open_ if f.kind != "text" or f.name in scores}
    offered = [name for name, fit in fitting.items() if fit >= READABLE or name in scores or name == first]
    ranked = sorted(offered, key=lambda name: (name != first, -scores.get(name, 0.0), -fitting[name]))
    found_ = [choice for name in ranked for choice in as_column(table, name, header)]
    return (*found_, not_needed(table, header), *other_records(table))


def _holds(fields: Iterable[Field]) -> str:
    return MONEY if any(f.kind in _WEIGHTY for f in fields) else LITTLE


def _unknown(table: Table) -> Iterator[Question]:
    """Columns that may well be a field, and those of money: any other is left out, and told as such."""
    asked = {header for headers in _contested(table).values() for header in headers}
    for guess in table.guesses:
        if guess.field or guess.why != "not known" or not guess.samples or shown(guess) in asked:
            continue
        texts = next(c.texts for c in table.found if c.name == guess.column)
        choices = _field_choices(table, guess.column, shown(guess))
        about = f"{table.record.name}|{header_key(shown(guess))}"
        if share_true(texts.str.contains(MONEY_LIKE)) < _MOSTLY:
            if guess.confidence < UNLIKELY:
                others = [(score, name) for score, c, name, _ in table.pairs if c.name == guess.column and name]
                open_ = {name for score, name in others if score >= _NOT_OUT} - table.filled
                numeric = share_true(texts.str.contains(r"^[\d.,]+$")) == 1
                matters = sum(score for score, name in others if name not in _QUIET) >= _MAYBE
                ask = f"What is “{shown(guess)}”?"
                likely = {name for score, name in others if score >= _MAYBE}
                likely |= {f.name for f in table.record if f.kind == "quantity" and f.name in open_ and numeric}
                holds = _holds(map(table.record.field, likely))
                yield Question(
                    "column", about, ask, choices, holds, table.record.name, such=guess.samples, asked=matters
                )
            continue
        money = [f for f in table.record if f.kind == "money" and f.name not in table.filled]
        if money and not any(f.required for f in money):  # a needed one is asked for by itself
            ask = f"What is “{shown(guess)}”?"
            yield Question("column", about, ask, choices, MONEY, table.record.name, such=guess.samples)


_MAYBE_EACH = {"purchases": "amount", "sales": "price"}


def _meanings(table: Table) -> Iterator[Question]:
    """What a column of money holds: the price of one or of all, with its tax or without."""
    record, held = table.record.name, table.held
    money, count = held.get(_MAYBE_EACH.get(record, "")), held.get("quantity")
    unsaid = money and header_key(money.header) in words_for("phrases", f"each or all: {money.field}")
    marked = money and money.field == "price" and is_money_mark(money.header)
    if money and count and (unsaid or marked) and not table.told.price_for:
        texts = next(c.texts for c in table.found if c.name == count.column)
        if not texts.str.contains(r"^1(?:\D|$)").all():
            yield _each_or_row(record, money)
    for guess in (held.get("price"), held.get("amount")):
        if guess and not table.told.tax_included:
            yield from about_tax(record, guess)


def _each_or_row(record: str, money: ColumnGuess) -> Question:
    told = {"record": record, "columns": {money.field: money.header}}
    words = {"each": "for each", "row": "for the whole row"}
    choices = (
        *(
            Choice(label, f"takes “{money.header}” as {label}", mapping=told | {"price_for": said})
            for said, label in words.items()
        ),
        Choice(NOT_NEEDED, f"leaves “{money.header}” out", mapping={"record": record, "left_out": [money.header]}),
    )
    ask = f"Is “{money.header}” for each, or for the whole row?"
    return Question("each", f"{record}|{header_key(money.header)}", ask, choices, FILE, record, money.field)


def _taxed(record: str, money: ColumnGuess) -> Question:
    (_, inside), (_, outside) = ways(record, money.field, money.header)
    choices = (
        Choice("the tax is in it", f"takes the tax out of “{money.header}”", mapping=inside),
        Choice("it is without tax", f"takes “{money.header}” as it stands", mapping=outside),
        Choice(NOT_NEEDED, f"leaves “{money.header}” out", mapping={"record": record, "left_out": [money.header]}),
    )
    ask = f"Does “{money.header}” hold the tax?"
    return Question("taxed", f"{record}|{header_key(money.header)}", ask, choices, FILE, record, money.field)
