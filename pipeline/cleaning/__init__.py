"""Text to typed values: `clean` is one loop over a record's fields.

Each field's distinct texts are parsed once and joined back, so that a million rows cost little more than their distinct
texts. Bad data never raises: a row with a fault is set aside with the first fault of its fields, and every row of the
table is either in `Cleaned.frame` or in `Cleaned.rejected`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.cleaning import (
    charge_rows,
    column_formats,
    cross_field_rules,
    dates,
    durations,
    headings,
    helper_columns,
    item_categories,
    money,
    numbers,
    ounces,
    quantities,
    row_faults,
    several_facts,
    signs,
    synonyms,
    tags,
    texts,
    times_of_work,
    unfolding,
)
from pipeline.cleaning.parsed import About, Kind, parse
from pipeline.cleaning.worth import AS_READ, worth
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import IGNORED_SCHEMA, TextTable
from pipeline.records import RECORDS, Field, Record
from pipeline.shop import Shop
from pipeline.tables import in_polars, place_columns

KINDS: dict[str, Kind] = {
    "date": Kind(dates.dates),
    "time": Kind(dates.times),
    "text": Kind(texts.texts, texts.easy),
    "tag": Kind(tags.tags, tags.easy_tag),
    "tags": Kind(tags.tag_lists, tags.easy_list),
    "word": Kind(synonyms.words),
    "choice": Kind(synonyms.choices),
    "money": Kind(money.amounts, money.easy),
    "length": Kind(quantities.lengths),
    "duration": Kind(durations.durations),
    "count": Kind(numbers.counts),
    "number": Kind(numbers.numbers),
    "temperature": Kind(numbers.temperatures),
    "percent": Kind(numbers.percents),
    "yes_no": Kind(synonyms.yes_no),
}
"""Kind of field → how it is read; `quantity` also needs the row's unit and has a way of its own."""

LACKING = in_polars(place_columns() | dict.fromkeys(("item", "supplier", "taken"), "VARCHAR"))
GUESSED = in_polars(place_columns() | dict.fromkeys(("vocabulary", "word", "taken"), "VARCHAR"))
_UNKNOWN = {"vocabulary": pl.String, "word": pl.String, "rows": pl.Int64}


@dataclass(frozen=True)
class Cleaned:
    """One table, cleaned.

    `frame` has the stored columns of the record but `row_id`, and `file`, `sheet`, `row`, `occurrence`. `rejected` has
    one row for each row set aside: file, sheet, row, occurrence, record, code (in `FAULTS`), field, text, reason,
    suggestion. `unknown_words` has vocabulary, word, nearest, rows, file; `questions` a row for each that one is about:
    its place, record, field, code (in `QUESTIONS`). `worth` has for every row, set aside or not, row, occurrence, and
    the cents and seconds that it is about. `passed` are rows that became part of others, as `TextTable.ignored` has
    them; `beside` what a table holds of another record; `waiting` the rows of purchases, as in `frame`, that are set
    aside for want of a category alone: another file may tell it. `lacking` has the place of each row whose category
    nothing in the file says, its item as written, and once it is taken from others of a `supplier`, that and what is
    `taken`. `guessed` has the place of each row with an empty cell that was filled by likelihood: vocabulary, word (the
    item; none of a payment's kind), taken. `dates`: what its dates prove of their order (`dates.shown`);
    `continued`: how many lines have the day and the supplier of the line above.
    """

    record: str
    frame: pl.DataFrame
    rejected: pl.DataFrame
    unknown_words: pl.DataFrame
    mapping: Mapping
    questions: pl.DataFrame
    passed: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=IGNORED_SCHEMA))
    beside: tuple["Cleaned", ...] = ()
    waiting: pl.DataFrame = field(default_factory=pl.DataFrame)
    worth: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=AS_READ))
    lacking: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=LACKING))
    guessed: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=GUESSED))
    dates: str = ""
    continued: int = 0


def schema(record: Record) -> dict[str, pl.DataType | type[pl.DataType]]:
    """The columns of `Cleaned.frame`, with their Polars types."""
    stored = {name: kind for name, kind in record.columns().items() if name != "row_id"}
    return in_polars(stored | place_columns())


def clean(table: TextTable, mapping: Mapping, shop: Shop, file: str) -> Cleaned:
    """The rows of `table` as the record that `mapping` says. Pure; `file` is its path, for the provenance."""
    record = RECORDS[mapping.record]
    table, mapping = unfolding.unfolded(table, mapping)
    table = times_of_work.with_units(table, mapping)
    raw = column_formats.cells(table, mapping, record)
    written = several_facts.parted(headings.category_below(raw, table, shop), table, mapping, record, shop)
    if record.name == "purchases":
        written = item_categories.with_categories(written, shop)
    cells = column_formats.in_usual_marks(column_formats.with_lone_units(written, shop), record)
    cells = headings.applied(cells, table, mapping, record, file, shop.year)
    cells, below = headings.continued(cells, record)
    shown = column_formats.evidence(cells, mapping, record, file, shop)
    values: dict[str, pl.Series] = {}
    faults: list[pl.DataFrame] = [row_faults.of_torn(table, mapping)]
    unknown: list[pl.DataFrame] = [pl.DataFrame(schema=_UNKNOWN)]
    helped = mapping.helped
    for place, each in enumerate(record):
        field = replace(each, required=False) if each.name in helped else each
        if field.kind == "unit":
            continue
        if field.name not in cells.columns:
            faults += row_faults.still_needed(row_faults.all_missing(cells.height, field, place), field, cells)
            continue
        parsed = _parsed(cells, field, column_formats.about(table, mapping, field, shop, shown))
        values |= _values(parsed, field)
        (found,) = row_faults.still_needed([row_faults.of_cells(parsed, field, place)], field, cells)
        shown_as = raw if field.name in raw.columns else written
        faults.append(row_faults.as_written(found, shown_as[field.name]))
        if "unknown" in parsed.columns and parsed["unknown"].any():
            unknown.append(_unknown(parsed, field))
    values |= tags.numbered(record, cells, values)
    frame = _framed(values, cells, record, file, table.sheet)
    frame, mapping_so, asked, more = helper_columns.apply(frame, table, cells, mapping, shop, shown)
    faults.extend([*more, *several_facts.for_each_or_row(frame, cells, mapping)])
    faults.extend(ounces.faults(frame, cells, table, mapping, shop, shown))
    charges = charge_rows.charges(raw, mapping)
    frame, questions = charge_rows.turned(
        frame, charges, record.name, lambda rows: signs.apply(rows, mapping_so, asked)
    )
    charged = charge_rows.apply(
        frame,
        charges,
        faults,
        mapping,
        shop["currency"],
        lambda rows: cross_field_rules.apply(rows, record, mapping_so, shop)[1],
    )
    faults = [*map(charged.stands, faults), *charged.faults]
    frame, more = cross_field_rules.apply(charged.frame, record, mapping_so, shop)
    faults += [found.filter(~pl.col("at").is_in(list(charged.gone))) for found in more]
    value = worth(frame, record.name)
    rejected = row_faults.first(faults, cells, record, file, table.sheet)
    bad = [*rejected["at"], *charged.gone]
    stored = [pl.col(name).cast(kind) for name, kind in schema(record).items()]
    waiting = frame[_without_category(faults)].select(stored) if record.name == "purchases" and bad else frame.clear()
    if bad:
        frame = frame.with_row_index("at").filter(~pl.col("at").is_in(bad)).drop("at")
    parts = {at: charge for at, charge in charged.gone.items() if charge != "deposit"}
    return Cleaned(
        record.name,
        frame.select(stored),
        rejected.select(row_faults.REJECTED.keys()),
        synonyms.unknown_words(pl.concat(unknown), shop, file),
        mapping,
        questions,
        charge_rows.passed(table, parts, record.name),
        tuple(_deposits(charged.deposits, mapping, file, table.sheet)),
        waiting,
        value,
        _lacking(rejected, written),
        _guessed(frame, written, record, shop),
        shown.dates,
        below,
    )


def _lacking(rejected: pl.DataFrame, written: pl.DataFrame) -> pl.DataFrame:
    """The rows that are set aside for want of a category, and postage alone, which needs one to have been bought."""
    if "item" not in written.columns:
        return pl.DataFrame(schema=LACKING)
    items = rejected.with_columns(written["item"].gather(rejected["at"]).alias("item")).drop_nulls("item")
    postage = [text for text in items["item"].unique() if charge_rows.charge_of(text) in ("freight", "packing")]
    lacks = (pl.col("code") == "missing") & (pl.col("field") == "category")
    alone = (pl.col("code") == "charge-alone") & pl.col("item").is_in(postage)
    of_purchases = items.filter((pl.col("record") == "purchases") & (lacks | alone))
    none = [pl.lit(None, pl.String).alias(name) for name in ("supplier", "taken")]
    return of_purchases.with_columns(none).select(pl.col(name).cast(kind) for name, kind in LACKING.items())


def _guessed(frame: pl.DataFrame, written: pl.DataFrame, record: Record, shop: Shop) -> pl.DataFrame:
    """What stands in no cell of the rows used, and was told by the words of an item, or by the way money went."""
    beside = [name for name in ("item", "kind", item_categories.BY_WORDS) if name in written.columns]
    cells = written.select("row", "occurrence", *beside)
    told = frame.join(cells, on=["row", "occurrence"], how="left", suffix="_cell", maintain_order="left")
    if record.name == "purchases" and item_categories.BY_WORDS in written.columns:
        told = told.filter(item_categories.BY_WORDS)
        found = told.with_columns(vocabulary=pl.lit("category"), word="item_cell", taken="category")
    elif record.name == "payments":
        cell = pl.col("kind_cell") if "kind_cell" in told.columns else pl.lit(None, pl.String)
        told = told.filter(cell.is_null() & pl.col("kind").is_not_null())
        found = told.with_columns(vocabulary=pl.lit("kind"), word=pl.lit(None, pl.String), taken="kind")
    else:
        return pl.DataFrame(schema=GUESSED)
    return found.select(pl.col(name).cast(kind) for name, kind in GUESSED.items())


def _without_category(faults: list[pl.DataFrame]) -> list[int]:
    """The rows that lack a category and are sound else."""
    found = pl.concat([f.cast(pl.Schema(row_faults.FAULT)) for f in faults])
    lacks = (found["code"] == "missing") & (found["field"] == "category")
    return sorted(set(found.filter(lacks)["at"]) - set(found.filter(~lacks)["at"]))


def _deposits(rows: pl.DataFrame, mapping: Mapping, file: str, sheet: str) -> Iterator[Cleaned]:
    """The deposits that came in among sales, as payments."""
    if rows.is_empty():
        return
    record = RECORDS["payments"]
    told = rows.select("on_date", "order_no", "note", amount_cents="cents", kind=pl.lit("deposit"))
    frame = _framed({each.name: each for each in told}, rows, record, file, sheet)
    stored = schema(record)
    by = tuple(name for name in mapping.supersedes if name in stored)
    yield Cleaned(
        record.name,
        frame.select(pl.col(name).cast(kind) for name, kind in stored.items()),
        pl.DataFrame(schema=row_faults.REJECTED),
        pl.DataFrame(schema=synonyms.UNKNOWN),
        Mapping(mapping.name, record=record.name, supersedes=by),
        pl.DataFrame(schema=signs.QUESTION),
    )


def _framed(values: dict[str, pl.Series], cells: pl.DataFrame, record: Record, file: str, sheet: str) -> pl.DataFrame:
    """All stored columns, those of fields that no column fills with their default."""
    types, defaults = schema(record), {name: f.default for f in record for name in f.columns()}
    given = {"file": pl.lit(file), "sheet": pl.lit(sheet), "row": pl.col("row"), "occurrence": pl.col("occurrence")}
    absent = [
        given.get(name, pl.lit(defaults.get(name), kind)).alias(name)
        for name, kind in types.items()
        if name not in values
    ]
    return cells.select("row", "occurrence").with_columns(*values.values(), *absent)


def _parsed(cells: pl.DataFrame, field: Field, about: About) -> pl.DataFrame:
    """One row a cell, in order: `text`, the value columns, `code`, `hint`."""
    text = cells[field.name].rename("text")
    if field.kind == "quantity":
        keys = pl.DataFrame({"text": text, "unit": cells["unit"], "lone": cells["lone"]})
        distinct = keys.filter(pl.col("text").is_not_null()).unique()
        short = distinct.filter(pl.col("text").str.len_bytes() <= texts.LONGEST)
        done = pl.concat([quantities.quantities(short, about), _too_long(distinct, texts.LONGEST)], how="diagonal")
        return keys.join(done, on=["text", "unit", "lone"], how="left", maintain_order="left", nulls_equal=True)
    limit = texts.LONGEST_NOTE if field.kind == "text" else texts.LONGEST
    long = text.str.len_bytes() > limit
    if not long.any():
        return parse(text, KINDS[field.kind], about)
    parsed = parse(text.to_frame().select(pl.when(~long).then("text")).to_series(), KINDS[field.kind], about)
    codes = [name for name in ("code", "hint") if name in parsed.columns]
    marked = parsed.with_columns(text, pl.lit(None, pl.String).alias("code") if not codes else pl.col("code"))
    return marked.with_columns(pl.when(long).then(pl.lit("too-long")).otherwise("code").alias("code"))


def _too_long(distinct: pl.DataFrame, limit: int) -> pl.DataFrame:
    long = distinct.filter(pl.col("text").str.len_bytes() > limit)
    return long.with_columns(pl.lit("too-long").alias("code"), pl.lit("").alias("hint"))


def _values(parsed: pl.DataFrame, field: Field) -> dict[str, pl.Series]:
    """The stored columns of the field (a fault leaves null), and the currency that its cells name."""
    names = list(field.columns())
    sources = ["value", "base"][: len(names)]
    types = list(in_polars(field.columns()).values())
    stored = {name: parsed[source].alias(name) for name, source in zip(names, sources, strict=True)}
    if field.default is not None:
        empty = parsed["text"].is_null()
        column = stored[names[0]].cast(types[0])
        stored[names[0]] = (
            column.to_frame()
            .select(pl.when(empty).then(pl.lit(field.default, types[0])).otherwise(pl.col(names[0])).alias(names[0]))
            .to_series()
        )
    if "currency" in parsed.columns and parsed["currency"].null_count() < parsed.height:
        stored[cross_field_rules.currency_of(field.name)] = parsed["currency"].alias(
            cross_field_rules.currency_of(field.name)
        )
    return stored


def _unknown(parsed: pl.DataFrame, field: Field) -> pl.DataFrame:
    found = (
        parsed.filter(pl.col("unknown").fill_null(False)).group_by("value").agg(pl.len().cast(pl.Int64).alias("rows"))
    )
    return found.select(pl.lit(field.vocabulary).alias("vocabulary"), pl.col("value").alias("word"), "rows")
