"""Over all files at once: twins, superseded rows, tags used twice, row ids, links.

Everything here looks at typed content only, never at a file's name or a row's place, so the result does not depend on
how a maker splits the pile into files. There are two exceptions. A mapping may state that a corrected export supersedes
its predecessor, in order of file name. And of equal payments that state a balance and name no order,
those of one file are each their own, and only those of another file their twins: within a day money may go and come
back on one balance.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import polars as pl

from pipeline import cleaning
from pipeline.errors import FAULTS
from pipeline.linking import sales_tax, sizes_in_names, spelled_tags, wood_of_items
from pipeline.linking.row_ids import content_of, ids_of
from pipeline.records import MAKERS, RECORDS, Record
from pipeline.settings import SETTINGS
from pipeline.shop import Shop
from pipeline.tables import PLACE, in_polars, intake

# Rows that carry the same tag, and agree in the rest of the key (in everything where it is empty), are two views of
# one event. Records without such a tag (hours, usage) are never merged: two equal stretches of work in a day can be.
TWIN_KEYS: dict[str, tuple[str, tuple[str, ...]]] = {
    "purchases": (
        "receipt",
        ("receipt", "on_date", "item", "quantity", "quantity_unit", "amount_cents", "lot", "event", "machine", "pool"),
    ),
    "pieces": ("piece", ()),
    "orders": ("order_no", ()),
    "sales": ("order_no", ("order_no", "piece", "product", "lot", "quantity", "price_cents")),
    "pours": ("pour", ()),
    "inspections": ("piece", ()),
    "payments": ("order_no", ()),  # or its balance: see `_mark_twins`
    "moves": ("pieces", ()),
    "counts": ("item", ()),
    "changes": ("change", ()),
}

# A receipt or an order may rightly hold two equal lines: they are twins only if the whole of it stands twice.
ENTERED_WHOLE = ("purchases", "sales")

# What must agree on all rows of a pour; the rest of its fields belongs to the row's piece.
POUR_WIDE = tuple(
    column
    for field in RECORDS["pours"]
    if field.name not in {"pour", "piece", "deposited", "trimmed", "note"}
    for column in field.columns()
    if not column.endswith("_unit") or field.name.startswith("part")
)

_ROW, _REJECTED, _WORD, _UNLINKED = (
    in_polars(intake(table)) for table in ("row", "rejected", "unknown_word", "unlinked")
)
_LIKELY_TAG = {"row_id": pl.Int64, "tag": pl.String, "taken": pl.String}


@dataclass
class Linked:
    """What goes into the database: typed frames by table name, and where each row stands."""

    settings: dict[str, pl.DataFrame] = field(default_factory=dict)
    records: dict[str, pl.DataFrame] = field(default_factory=dict)
    bridges: dict[str, pl.DataFrame] = field(default_factory=dict)
    row: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=_ROW))
    rejected: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=_REJECTED))
    unknown_word: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=_WORD))
    unlinked: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=_UNLINKED))
    sized: dict[str, str] = field(default_factory=dict)
    likely_tag: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=_LIKELY_TAG))


def link(cleaned: Iterable, shop: Shop) -> Linked:
    """Join the cleaned tables of all files into records with ids and links.

    `cleaned` holds `Cleaned` tables. Every row comes back exactly once: loaded, duplicate, superseded (all in `row`) or
    set aside (in `rejected`).
    """
    cleaned = list(cleaned)
    linked = Linked()
    settings = _settings(shop)
    rejected = [c.rejected for c in cleaned]
    frames: dict[str, pl.DataFrame] = {}
    for record in RECORDS.values():
        frame = _gather(record, [c for c in cleaned if c.record == record.name])
        frame, refused = _set_aside(record, _mark_twins(record, _mark_superseded(frame)))
        if record.name == "purchases":
            frame = _once_a_receipt(frame)
        rejected.append(refused)
        frame = _in_order(frame, record)
        if record.name == "sales":
            loaded = {name: frames[name].filter(state="loaded") for name in ("pieces", "purchases")}
            frame = sales_tax.apply(frame, loaded["pieces"], loaded["purchases"].select("lot", "category"), shop)
        frames[record.name] = frame
    wooden = wood_of_items.named_in(frames["pieces"], frames["purchases"], frames["counts"])
    for name in ("purchases", "counts"):
        frames[name] = wood_of_items.apply(frames[name], wooden, shop)
    rows = _number(linked, settings, frames)
    _links(linked)
    _changes(linked)
    linked.settings["item"], linked.sized = sizes_in_names.sized(
        linked.settings["item"], linked.records["purchases"], shop
    )
    linked.row = pl.concat([f.cast(pl.Schema(_ROW)) for f in rows])
    linked.rejected = (
        pl.concat([f.select(*_REJECTED).cast(_REJECTED) for f in rejected]) if rejected else linked.rejected
    )
    words = [c.unknown_words.select(*_WORD).cast(_WORD) for c in cleaned]
    linked.unknown_word = pl.concat(words) if words else linked.unknown_word
    return linked


def _settings(shop: Shop) -> dict[str, pl.DataFrame]:
    """The tables of settings, each entry with its place in `shop.toml`; the day of the refresh is no part of what one
    says."""
    out = {}
    for name, table in SETTINGS.items():
        rows = [row | {"position": k} for k, row in enumerate(shop.tables[name], 1)]
        frame = pl.DataFrame(rows, schema=in_polars({c: t for c, t in table.columns().items() if c != "row_id"}))
        said = content_of(frame, f"settings.{name}", leave_out=("position", "as_of"))
        out[name] = frame.with_columns(said, pl.lit(None, pl.String).alias("note"))
    return out


def _number(linked: Linked, settings: dict[str, pl.DataFrame], frames: dict[str, pl.DataFrame]) -> list[pl.DataFrame]:
    """Give ids over all settings and records together, and list where each row stands. Settings have ids too, so that
    a rate is as open to a click as a receipt."""
    every = [*settings.values(), *frames.values()]
    ids, begin = ids_of(pl.concat([frame.select("content", "note") for frame in every])), 0
    rows = []
    for name, frame in settings.items():
        numbered = frame.with_columns(ids.slice(begin, frame.height))
        begin += frame.height
        linked.settings[name] = numbered.select(*SETTINGS[name].columns())
        rows.append(
            numbered.select(
                "row_id",
                pl.lit(f"settings.{name}").alias("record"),
                pl.lit("shop.toml").alias("file"),
                pl.lit(SETTINGS[name].section).alias("sheet"),
                pl.col("position").alias("row"),
                pl.lit(0, pl.Int64).alias("occurrence"),
                pl.lit("loaded").alias("state"),
                pl.lit(None, pl.Int64).alias("twin_of"),
            )
        )
    for name, frame in frames.items():
        numbered = frame.with_columns(ids.slice(begin, frame.height))
        begin += frame.height
        keepers = numbered.select(pl.col("at").alias("stands_for"), pl.col("row_id").alias("twin_of"))
        numbered = numbered.join(keepers, on="stands_for", how="left", maintain_order="left")
        rows.append(numbered.with_columns(pl.lit(name).alias("record")).select(*_ROW))
        linked.records[name] = numbered.filter(pl.col("state") == "loaded").select(*RECORDS[name].columns())
    return rows


def _changes(linked: Linked) -> None:
    """A change that is on record stands beside those of `shop.toml`; its row id is that of its record."""
    known, marked = linked.settings["change"], linked.records["changes"]
    more = marked.select("row_id", name="change", day="on_date", from_date="on_date")
    linked.settings["change"] = pl.concat([known, more], how="diagonal")


def _gather(record: Record, tables: list) -> pl.DataFrame:
    """All rows of a record from all files, with the rule by which later files supersede earlier ones."""
    schema = cleaning.schema(record)
    frames = [
        t.frame.select(*schema)
        .cast(pl.Schema(schema))
        .with_columns(
            pl.lit(t.mapping.name).alias("mapping"),
            pl.lit(";".join(t.mapping.supersedes)).alias("supersedes"),
            pl.lit(t.mapping.repeats_total).alias("repeats"),
            pl.lit(t.mapping.tax_included).alias("tax_inside"),
        )
        for t in tables
    ]
    marks = in_polars({"mapping": "VARCHAR", "supersedes": "VARCHAR", "repeats": "BOOLEAN", "tax_inside": "BOOLEAN"})
    every = pl.concat(frames) if frames else pl.DataFrame(schema=schema | marks)
    # as cleaning left it: what is done to a row because of others is not what it says
    said = every.select(c for c in record.columns() if c != "row_id")
    usual = {column: f.default for f in record for column in f.columns()}
    return every.with_columns(content_of(said, record.name, leave_out=("note",), usual=usual))


def _mark_superseded(frame: pl.DataFrame) -> pl.DataFrame:
    """Under a mapping that says so, a row gives way to a later file's row with the same key."""
    frame = frame.with_columns(
        pl.lit("loaded").alias("state"), pl.lit(None, pl.Int64).alias("stands_for")
    ).with_row_index("at")
    frame = frame.with_columns(pl.col("at").cast(pl.Int64))
    for (mapping, keys), group in frame.filter(pl.col("supersedes") != "").group_by("mapping", "supersedes"):
        key = [c for c in str(keys).split(";") if c in group.columns]
        last = group.group_by(key).agg(pl.col("file").max().alias("last"))
        old = (
            group.filter(pl.all_horizontal(pl.col(k).is_not_null() for k in key))
            .join(last, on=key, nulls_equal=True)
            .filter(pl.col("file") < pl.col("last"))
        )
        frame = frame.with_columns(
            pl.when(pl.col("at").is_in(old["at"].implode()))
            .then(pl.lit("superseded"))
            .otherwise("state")
            .alias("state")
        )
        del mapping
    return frame


def _mark_twins(record: Record, frame: pl.DataFrame) -> pl.DataFrame:
    """Of rows that are two views of one event, keep the fullest; the others point to it."""
    if record.name not in TWIN_KEYS or frame.is_empty():
        return frame
    identifier, key = TWIN_KEYS[record.name]
    content = [c for c in record.columns() if c != "row_id"]
    frame = _with_text_lists(frame, record)
    key = key or tuple(content)
    # a note makes no row fuller
    filled = pl.sum_horizontal(pl.col(c).is_not_null().cast(pl.Int32) for c in content if c != "note")
    told = pl.col(identifier).is_not_null()
    if record.name == "payments":
        # the account stands on one balance once, but for money that goes and comes back within a day: then one file
        # has the row twice, and another file that overlaps it has it as often
        told |= pl.col("balance_cents").is_not_null()
        again = pl.int_range(pl.len()).over([*key, "file", "sheet"])
        frame = frame.with_columns(pl.when(pl.col("order_no").is_null()).then(again).otherwise(0).alias("again"))
        key = (*key, "again")
    order = frame.filter(pl.col("state") == "loaded", told).with_columns(filled.alias("filled"))
    order = order.sort(
        "filled", *content, *PLACE, descending=[True] + [False] * (len(content) + len(PLACE)), nulls_last=True
    )
    alike = order.with_columns(
        pl.col("at").first().over(list(key)).alias("keeper"),
        pl.int_range(pl.len()).over(list(key)).alias("place"),
        pl.len().over(list(key)).alias("alike"),
    )
    copies = pl.col("alike")
    if record.name in ENTERED_WHOLE:  # what came back later is an entry of its own
        copies = copies.min().over(identifier, pl.col("quantity").fill_null(1) < 0)
    if record.name == "purchases":
        copies = pl.when(_lines_reach_total()).then(1).otherwise(copies)
    twins = alike.filter(pl.col("place") * copies >= pl.col("alike")).select("at", "keeper")
    frame = frame.join(twins, on="at", how="left", maintain_order="left").with_columns(
        pl.when(pl.col("keeper").is_not_null()).then(pl.lit("duplicate")).otherwise("state").alias("state"),
        pl.col("keeper").alias("stands_for"),
    )
    return _with_lists(frame.drop("keeper", "again", strict=False), record)


def _lines_reach_total() -> pl.Expr:
    """Whether a receipt's lines, equal ones all counted, come to the total that it states."""
    extras = [pl.col(c).max().over("receipt").fill_null(0) for c in ("tax_cents", "freight_cents")]
    lines = pl.col("amount_cents").sum().over("receipt") - pl.col("discount_cents").max().over("receipt").fill_null(0)
    return (lines + extras[0] + extras[1] == pl.col("total_cents").max().over("receipt")).fill_null(False)


def _once_a_receipt(frame: pl.DataFrame) -> pl.DataFrame:
    """Where a mapping says that the receipt's own amounts stand on each of its lines, keep them on one of them."""
    amounts = ("tax_cents", "freight_cents", "discount_cents", "total_cents")
    content = [c for c in RECORDS["purchases"].columns() if c != "row_id"]
    lines = frame.filter(pl.col("repeats"), pl.col("state") == "loaded", pl.col("receipt").is_not_null())
    first = lines.sort(*content, nulls_last=True).unique(["receipt", "supplier"], keep="first", maintain_order=True)
    others = lines.join(first.select("at"), on="at", how="anti")["at"]
    again = pl.col("at").is_in(others.implode())
    return frame.with_columns(pl.when(again).then(None).otherwise(pl.col(c)).alias(c) for c in amounts)


def _set_aside(record: Record, frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Rows that only all files together show to be wrong: a tag used twice, rows of one pour that disagree."""
    loaded = frame.filter(pl.col("state") == "loaded")
    if record.key:
        bad = loaded.filter(pl.len().over(record.key) > 1)
        field_name, code = record.key, "tag-twice"
    elif record.name == "pours":
        differs = pl.any_horizontal(pl.col(c).drop_nulls().n_unique().over("pour") > 1 for c in POUR_WIDE)
        bad = loaded.filter(differs)
        field_name, code = "pour", "pour-differs"
    else:
        bad, field_name, code = loaded.clear(), "", "missing"
    refused = bad.select(
        *PLACE,
        pl.lit(record.name).alias("record"),
        pl.lit(code).alias("code"),
        pl.lit(field_name).alias("field"),
        (pl.col(field_name) if field_name else pl.lit("")).alias("text"),
        pl.lit(FAULTS[code].meaning).alias("reason"),
        pl.lit(FAULTS[code].mend).alias("suggestion"),
    )
    return frame.join(bad.select("at"), on="at", how="anti", maintain_order="left"), refused


def _in_order(frame: pl.DataFrame, record: Record) -> pl.DataFrame:
    """The rows by content, loaded ones first, so that of equal ones no number moves when a twin turns up."""
    content = [c for c in record.columns() if c != "row_id"]
    flat = _with_text_lists(frame, record).with_columns((pl.col("state") != "loaded").alias("late"))
    return _with_lists(flat.sort("late", *content, *PLACE, nulls_last=True), record)


def _with_text_lists(frame: pl.DataFrame, record: Record) -> pl.DataFrame:
    lists = [f.name for f in record.list_fields()]
    return frame.with_columns(pl.col(c).list.join(";") for c in lists) if lists else frame


def _with_lists(frame: pl.DataFrame, record: Record) -> pl.DataFrame:
    lists = [f.name for f in record.list_fields()]
    return frame.with_columns(pl.col(c).str.split(";") for c in lists) if lists else frame


def _links(linked: Linked) -> None:
    """Empty the links that lead nowhere, list them, and spread lists of tags into their bridge tables."""
    records = linked.records
    targets = {
        made: pl.concat([records[record][name] for record, name in makers]).drop_nulls().unique().implode()
        for made, makers in MAKERS.items()
    }
    missing, likely = [], []
    known_tags = {made: spelled_tags.OnRecord(target.item().to_list()) for made, target in targets.items()}

    def told(lost: pl.DataFrame, record: str, name: str, column: str) -> pl.DataFrame:
        return lost.select(
            "row_id", pl.lit(record).alias("record"), pl.lit(name).alias("field"), pl.col(column).alias("tag")
        )

    for record, frame in records.items():
        for field_ in RECORDS[record]:
            column = field_.name
            if not field_.leads:
                continue
            frame, meant = _as_on_record(frame, column, known_tags[field_.leads])
            likely.append(meant)
            if field_.kind == "tags":
                records[record] = frame
                bridge = _bridge(frame, column)
                known = pl.col("piece").is_in(targets[field_.leads])
                missing.append(told(bridge.filter(~known), record, column, "piece"))
                linked.bridges[f"{record}_piece"] = bridge.filter(known)
                continue
            lost = pl.col(column).is_not_null() & ~pl.col(column).is_in(targets[field_.leads])
            missing.append(told(frame.filter(lost), record, column, column))
            frame = frame.with_columns(pl.when(lost).then(None).otherwise(pl.col(column)).alias(column))
        records[record] = frame
    linked.likely_tag = pl.concat([linked.likely_tag, *likely])
    linked.unlinked = pl.concat([m.cast(pl.Schema(_UNLINKED)).sort("tag", "row_id") for m in missing])


def _as_on_record(frame: pl.DataFrame, column: str, known: spelled_tags.OnRecord) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows with their tags as those on record are written, and each tag that is likely one of them (row_id, tag,
    taken)."""
    several = frame.schema[column] == pl.List(pl.String)
    named = frame.select("row_id", tag=pl.col(column)).drop_nulls("tag")
    named = named.explode("tag", empty_as_null=True).drop_nulls("tag") if several else named
    strange = sorted(set(named["tag"]) - set(known.names))
    same = {tag: name for tag in strange if (name := known.same(tag))}
    likely = {tag: name for tag in strange if tag not in same and (name := known.likely(tag))}
    meant = same | likely
    told = named.filter(pl.col("tag").is_in(list(likely))).with_columns(
        taken=pl.col("tag").replace_strict(likely, default=None, return_dtype=pl.String)
    )
    if not meant:
        return frame, told
    as_meant = pl.element().replace(meant) if several else pl.col(column).replace(meant)
    return frame.with_columns((pl.col(column).list.eval(as_meant) if several else as_meant).alias(column)), told


def _bridge(frame: pl.DataFrame, column: str) -> pl.DataFrame:
    tags = (
        frame.select("row_id", pl.col(column).list.unique(maintain_order=True).alias("piece"))
        .explode("piece", empty_as_null=True)
        .drop_nulls("piece")
    )
    return tags.with_columns(pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("row_id").alias("position"))
