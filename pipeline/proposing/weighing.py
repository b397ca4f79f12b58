"""How well a table is each record: the weights of all that its columns could be, given to fields at once.

All evidence is added up: the words of the headers (`header_names.py`), what stands below them (`contents.py`), what the
columns say of each other row by row (`row_relations.py`), and what file and sheet are called.
"""

import functools
from collections.abc import Mapping as Dictionary
from collections.abc import Set
from dataclasses import dataclass, field, replace
from math import exp

import polars as pl

from pipeline.cleaning.item_categories import categories
from pipeline.cleaning.recurring import kind_of, stands_in
from pipeline.cleaning.several_facts import mixed
from pipeline.mapping import HELPERS, SPREAD
from pipeline.proposing import (
    assignment,
    contents,
    file_names,
    header_names,
    helper_columns,
    lone_columns,
    taught_headers,
)
from pipeline.proposing.columns import Column
from pipeline.proposing.needed_fields import lacking
from pipeline.proposing.row_relations import Weights, relations
from pipeline.proposing.taught_headers import Taught
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS, Field, Record
from pipeline.reference import header_key, key, names, synonyms
from pipeline.shop import Shop

NEEDED, MISSING, TOLD_LATER = 1.0, -4.0, -1.5
"""A record's needed field weighs more; a record of which one is not found weighs less; not as much where it may be told
later, as the one channel of all sales."""
BY_NEED = 4.0
"""What a needed field weighs more once it is known which record it is: some column is it, whatever speaks against."""
MOST_RESINS = 12
"""A column of more words than these is of no kinds of resin."""
SIZES = 5.0
"""What several sizes in a cell weigh for the length, whatever it is called."""
HELPER = 2.5
"""What a column weighs that fills a needed field together with others."""
STRANGE = -2.5
"""So much for each column that a record has no use for, and that is not known as of no use."""
NONE = 4.0
"""What a table weighs as one that holds none of the records."""
WARMTH, RECORD_WARMTH = 1.0, 1.5
"""By how much less weight something is less likely by a factor of e: evidence is not as independent as it is added."""
TAX_INSIDE = 7.0
"""What a price with its tax weighs for the price, where every row has the tax beside it and none the price without."""
DAYS = 9.0
"""What numbers of days weigh for the day, where headings between the rows name the months."""
POURED = {"part_a", "part_b", "resin", "piece", "deposited"}
"""What a pour says of itself beside its day."""
TAXED = {"purchases": ("amount", "tax"), "sales": ("price", "sales_tax")}
"""Record → the field of its money, and of the tax on it."""
LISTED = -15.0
"""What a table weighs less as a list of pieces where another lists these: only what looks like nothing else is one."""
AT_EVENTS = -3.0
"""What a table weighs less as purchases where every row names a market: that is where things are sold."""
CALLED_SO = -0.5
"""A column that is called as a field weighs no less, whatever stands in it: left out, it is asked about."""
LEAST = -2.5
"""A field that a column speaks more against is not weighed."""


@dataclass(frozen=True)
class WeighedColumn(Column):
    fits: dict[tuple[object, ...], float] = field(default_factory=dict)  # so that no content is read twice

    def fit(self, field: Field, shop: Shop) -> float:
        known = _alike(field)
        if known not in self.fits:
            self.fits[known] = contents.fit(self.texts, field, shop, self.header)
        return self.fits[known]

    def recurring(self, field: Field, shop: Shop) -> float:
        """How strongly it speaks for a field that what stands in the column stands in other files too."""
        known = ("recurring", *_alike(field))
        if known not in self.fits:
            self.fits[known] = contents.recurring(self.texts, field, shop)
        return self.fits[known]

    def weight(self, field: Field, shop: Shop) -> float:
        """How strongly what stands in the column speaks for a field."""
        known = ("weight", *_alike(field))
        if known not in self.fits:
            self.fits[known] = contents.weight(self.texts, field, shop, self.header)
        return self.fits[known]


def _alike(field: Field) -> tuple[object, ...]:
    """What is the same of all fields that content speaks for alike."""
    own = field.name in ("event", "date", "stir_minutes") or field.name.endswith("length")
    return (field.kind, field.vocabulary, field.choices, own, kind_of(field))


@dataclass(frozen=True)
class Explained:
    """A table as one record: the weights of each column's fields, the field of each column, and their sum."""

    record: str
    weights: list[dict[str, float]]
    chosen: list[str]
    total: float
    derived: frozenset[str] = frozenset()

    def by_need(self, lacking_: Set[str]) -> "Explained":
        """The same with a column for each field that is lacking, where any may be it."""
        if not lacking_:
            return self
        weights = [{f: w + BY_NEED * (f in lacking_) for f, w in row.items()} for row in self.weights]
        return replace(self, weights=weights, chosen=assignment.best(weights))

    @functools.cached_property
    def shares(self) -> list[dict[str, float]]:
        return assignment.shares(self.weights, self.chosen, WARMTH)


def explained(
    table: TextTable,
    columns: list[WeighedColumn],
    told: Dictionary[str, pl.Series | None],
    settled: Set[str],
    shop: Shop,
    file: str,
    helping: Dictionary[str, Column],
    taught: Taught,
    spread: Set[str] = frozenset(),
    of_spread: tuple[str, str] = ("", ""),
) -> dict[str, Explained]:
    """The table as each record; `told` are the fields that a mapping fills, with what stands in their columns,
    `settled` the names of these and of those that it leaves out; `helping` are the columns that fill fields of
    payments, `taught` what headers were settled as in other tables; `spread` the columns of hours, or of amounts, that
    are called by what they are over, and `of_spread` the record and the field that this is."""
    said_of = told.keys()
    related = relations(table, [*(column.name for column in columns), *settled], shop)
    lone_columns.add(related, table, columns)
    for column in filter(helper_columns.holds_sizes, columns):
        for name in ("pieces", "purchases"):
            related[name][column.name, "length"] += SIZES
            related[name][column.name, ""] -= SIZES
    if days := lone_columns.days_below(table, columns):
        for name, record in RECORDS.items():
            related[name][days.name, "date"] += DAYS * any(f.name == "date" for f in record)
    if row := helper_columns.price_of_row(table, columns):
        related["sales"][row.name, "price"] += TAX_INSIDE
        related["sales"][row.name, ""] -= TAX_INSIDE
    if one := helper_columns.price_of_one(table, columns):
        related["sales"][one.name, "price"] += TAX_INSIDE  # whatever the row comes to
    if alone := helper_columns.gross_alone(table, columns):
        for name, fields in TAXED.items():
            for amount, field_ in zip(alone, fields, strict=True):
                related[name][amount.name, field_] += TAX_INSIDE
                related[name][amount.name, ""] -= TAX_INSIDE
    for column in columns:
        if column.texts.len() and all(mixed(text) for text in column.texts):
            related["pours"][column.name, "part_a"] += TAX_INSIDE + SIZES
            related["pours"][column.name, ""] -= TAX_INSIDE
        if _names_resins(column, shop):
            related["pours"][column.name, "resin"] += TAX_INSIDE
            related["pours"][column.name, "purpose"] -= TAX_INSIDE
    if kept_of := helper_columns.settlement(table, columns):
        gross, fee, left = kept_of
        sold = _says_what_was_sold(columns)
        money, kept = ("price", "channel_fee") if sold else ("amount", "")
        name = "sales" if sold else "payments"
        for of_sum, field_ in ((gross, money), (fee, kept), (left, "")):
            related[name][of_sum.name, field_] += TAX_INSIDE
            related[name][of_sum.name, ""] -= TAX_INSIDE * bool(field_)
    found = {}
    for name, record in RECORDS.items():
        helpers = {c.name for c in helping.values()} if name == "payments" else set()
        filled = {f for role in helping if name == "payments" for f in HELPERS[role][name]}
        if name == of_spread[0] and spread:
            helpers, filled = {*spread}, {SPREAD[name][0], of_spread[1]}
        open_ = _without(record, {*said_of, *(filled - {"kind"})})
        weights = [
            {"": HELPER} if column.name in helpers else _weights(column, open_, shop, related[name], taught)
            for column in columns
        ]
        chosen = assignment.best(weights)
        texts = {**{f: c.texts for f, c in zip(chosen, columns, strict=True) if f}, **told}
        derived = _derived(table, name, columns, texts, shop) | (filled & {"kind", "hours", "quantity", of_spread[1]})
        if name == "counts" and "date" not in chosen and file_names.day_called(table, file):
            derived |= {"date"}
        if name == "sales" and "channel" not in chosen:
            named = file_names.channel_called(file, table.sheet, shop)
            derived |= {"channel"} if named or _at_events(table, columns, chosen) else set()
        way = Explained(name, weights, chosen, 0.0, derived)
        needed = {f.name for f in lacking(record, {*chosen, *derived, *said_of, *filled})}
        # what no column is by itself may be one by need, at a loss that is less than to lack it
        totals = [
            assignment.total(weights, each)
            + sum(_loss(f, {*each, *said_of}) for f in needed - {*each})
            + STRANGE * sum(map(_is_strange, columns, weights, each))
            for each in (chosen, way.by_need(needed).chosen)
        ]
        if name == "pieces" and _listed_elsewhere(texts.get("piece"), table, shop, file):
            totals = [total + LISTED for total in totals]
        if name == "purchases" and _at_events(table, columns, chosen):
            totals = [total + AT_EVENTS for total in totals]
        if name == "pours" and not POURED & {*chosen, *said_of}:
            totals = [total + MISSING for total in totals]
        found[name] = replace(way, total=max(totals) + file_names.called(name, file, table.sheet))
    return found


def _names_resins(column: WeighedColumn, shop: Shop) -> bool:
    """Whether all words of a column are kinds of resin ("deep pour", "table top"), and it is not called a purpose."""
    called = header_names.weight(column.header, "pours", "purpose", "choice")
    if not column.texts.len() or column.texts.len() > MOST_RESINS or called >= header_names.COMMON:
        return False
    category = categories(shop)
    return all(category(text) == "resin" for text in column.texts)


def _says_what_was_sold(columns: list[WeighedColumn]) -> bool:
    """Whether a column says which piece, or what, was sold: and not but what kind of payment each row is."""
    kinds = names("kind")
    worded = [c for c in columns if c.texts.len() and not all(key(text) in kinds for text in c.texts)]
    days = synonyms("sales")["date"] - synonyms("payments")["date"]
    return any(
        header_key(c.header) in days
        or header_names.weight(c.header, "sales", "product", "word") >= header_names.OF_WORDS
        or header_names.weight(c.header, "sales", "piece", "tag") >= header_names.OF_WORDS
        for c in worded
    )


def _listed_elsewhere(tags: pl.Series | None, table: TextTable, shop: Shop, file: str) -> bool:
    listed = shop.listed
    if not listed or tags is None or (listed.file, listed.sheet) == (file, table.sheet):
        return False
    return stands_in(tags.drop_nulls().to_list(), listed)


def _loss(lacking_: str, chosen: Set[str]) -> float:
    """What a table weighs less for a needed field that it lacks: where things were sold is told later, if what is."""
    return TOLD_LATER if lacking_ == "channel" and {"product", "piece"} & chosen else MISSING


def _at_events(table: TextTable, columns: list[WeighedColumn], chosen: list[str]) -> bool:
    """Whether every row says at which market or fair it was sold."""
    events = [column.name for column, field_ in zip(columns, chosen, strict=True) if field_ == "event"]
    return bool(events) and table.frame[events[0]].str.strip_chars().replace("", None).null_count() == 0


def _is_strange(column: WeighedColumn, weights: Dictionary[str, float], chosen: str) -> bool:
    return not chosen and weights[""] < header_names.ALIKE and bool(column.texts.len())


def _derived(
    table: TextTable,
    record: str,
    columns: list[WeighedColumn],
    filled: Dictionary[str, pl.Series | None],
    shop: Shop,
) -> frozenset[str]:
    """Needed fields that no column is, but that those `filled`, with the texts of their columns, tell."""
    amounts, items = filled.get("amount"), filled.get("item")
    if record == "payments" and amounts is not None and "kind" not in filled:
        told = helper_columns.has_both_signs(amounts) or bool(helper_columns.settlement(table, columns))
        return frozenset({"kind"} if told else ())
    found = set()
    if record == "purchases" and "item" not in filled and "species" in filled and "amount" in filled:
        found |= {"item", "category"} - filled.keys()  # a list of wood alone
    if record == "purchases" and items is not None and "category" not in filled:
        found |= {"category"} if helper_columns.told_by_item(items, shop) else set()
    if record == "purchases" and "quantity" in filled and "amount" not in filled:
        # what all of it cost follows from how many there were
        found |= {"amount"} if helper_columns.price_of_one(table, columns) else set()
    return frozenset(found)


def _weights(column: WeighedColumn, record: Record, shop: Shop, related: Weights, taught: Taught) -> dict[str, float]:
    """Field → how strongly all speaks for it, "" = for none."""
    no_use = header_names.against_all(column.header, record.name)
    no_use = taught_headers.weight(taught, column.header, record.name, "", no_use)
    no_use += contents.of_no_use(column.texts) - contents.of_our_pieces(column.texts, record, shop)
    found = {"": no_use + related.get((column.name, ""), 0.0)}
    for each in record:
        named = header_names.weight(column.header, record.name, each.name, each.kind)
        named = taught_headers.weight(taught, column.header, record.name, each.name, named)
        weight = named + related.get((column.name, each.name), 0.0) + NEEDED * each.required
        if weight <= LEAST and weight + column.recurring(each, shop) <= LEAST:
            continue
        weight += column.weight(each, shop)
        if named >= header_names.SPELLED:
            weight = max(weight, CALLED_SO)
        if weight > LEAST:
            found[each.name] = weight
    return found


def likely_records(likely: Dictionary[str, Explained]) -> dict[str, float]:
    """Record → how likely the table holds it, beside the others and beside none of them."""
    best = max(NONE, *(explained.total for explained in likely.values()))
    odds = {name: exp((explained.total - best) / RECORD_WARMTH) for name, explained in likely.items()}
    whole = sum(odds.values()) + exp((NONE - best) / RECORD_WARMTH)
    return {name: value / whole for name, value in odds.items()}


def _without(record: Record, fields: Set[str]) -> Record:
    return replace(record, fields=tuple(f for f in record if f.name not in fields)) if fields else record
