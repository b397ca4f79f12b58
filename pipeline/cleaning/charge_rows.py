"""Rows of a receipt or a sales export that are no goods: freight, packing, a discount, tax, a total, a deposit.

They become the freight, discount, tax and total of the goods beside them, to the cent; a deposit that came in with an
order is a payment. What belongs to no goods, or says too little, is set aside and asked about.
"""

import functools
from collections.abc import Mapping as Mapping_
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.cleaning.column_formats import Evidence
from pipeline.cleaning.cross_field_rules import fault
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable
from pipeline.records import STOCK_CATEGORIES
from pipeline.reference import key, rows

FIELDS: dict[str, dict[str, str]] = {
    "purchases": {"freight": "freight", "packing": "freight", "discount": "discount", "tax": "tax", "total": "total"},
    "sales": {
        "freight": "shipping_charged",
        "packing": "shipping_charged",
        "discount": "discount",
        "tax": "sales_tax",
        "total": "",
    },
}
"""Record → charge → the field of the goods that it becomes ("" = it is only passed over)."""

_NAMED = {"purchases": ("item", "amount"), "sales": ("product", "price")}
_GROUP = {"purchases": "receipt", "sales": "order_no"}
_WHOLE = {"purchases": "receipt", "sales": "order"}
_GOODS = {"purchases": ("lot", "species"), "sales": ("piece", "lot")}


@dataclass
class Charged:
    """The frame with its charges where they belong; the rows that were passed over (`at` → why); faults; the rows that
    are deposits that came in."""

    frame: pl.DataFrame
    gone: dict[int, str] = field(default_factory=dict)
    faults: list[pl.DataFrame] = field(default_factory=list)
    deposits: list[int] = field(default_factory=list)
    named: list[int] = field(default_factory=list)

    def stands(self, found: pl.DataFrame) -> pl.DataFrame:
        """Of the faults of cells, those that still count: a charge needs no category."""
        told = [at for one in self.faults for at in one["at"]]
        needless = pl.col("at").is_in(self.named) & (pl.col("field") == "category")
        return found.filter(~pl.col("at").is_in([*self.gone, *told]) & ~needless)


def charges(cells: pl.DataFrame, mapping: Mapping) -> pl.Series | None:
    """For each row of a table's cells the charge that it is, or null; None where the table has none."""
    if mapping.record not in FIELDS:
        return None
    named = _NAMED[mapping.record][0]
    if named not in cells.columns:
        return None
    known = {text: found for text in cells[named].drop_nulls().unique() if (found := charge_of(text))}
    if not known:
        return None
    goods = [pl.col(c).is_not_null() for c in _GOODS[mapping.record] if c in cells.columns]
    if "category" in cells.columns and "category" in mapping.columns:
        goods.append(pl.col("category").str.to_lowercase().is_in(STOCK_CATEGORIES))
    said = pl.col(named).replace_strict(known, default=None, return_dtype=pl.String)
    made = pl.when(~pl.any_horizontal(goods).fill_null(value=False)).then(said) if goods else said
    return cells.select(made.alias("charge"))["charge"]


def passed(table: TextTable, gone: Mapping_[int, str], record: str) -> pl.DataFrame:
    """The rows that became part of others, in the shape of `TextTable.ignored`."""
    why = {at: charge if charge == "total" else f"{charge} of its {_WHOLE[record]}" for at, charge in gone.items()}
    told = table.frame[list(why)] if why else table.frame.clear()
    text = pl.concat_str(pl.col(table.columns), separator=" | ", ignore_nulls=True) if table.columns else pl.lit("")
    return told.select("row", pl.Series("reason", list(why.values()), pl.String), text.alias("text"))


def deposits(table: TextTable, at: list[int], mapping: Mapping, shown: Evidence) -> tuple[TextTable, Mapping]:
    """The deposits among the rows of an export as a table of payments, read as the rest of its file is."""
    columns = {f: mapping.columns[f] for f in ("date", "order_no", "note") if f in mapping.columns}
    decimal = shown.decimals.get("price") or shown.decimal
    how = Mapping(
        mapping.name,
        record="payments",
        columns=columns | {"amount": mapping.columns["price"]},
        constants={"kind": "deposit"},
        date_order=shown.order if shown.order in ("day", "month", "year") else "",
        decimal=decimal if decimal in (".", ",") else "",
        year=mapping.year,
    )
    return replace(table, frame=table.frame[at]), how


@functools.cache
def charge_of(text: str) -> str:
    """The charge that a text names and nothing else: "Discount 5 %", "Versandkosten"; "" for goods."""
    tokens = [token for token in key(text).split() if token.strip("%")]
    words = _words()
    plain = " ".join(token for token in tokens if not token.isdigit())
    if plain in words:
        return words[plain]
    return words.get(" ".join(token for token in plain.split() if token not in _beside()), "")


@functools.cache
def _words() -> dict[str, str]:
    return {key(row["word"]): row["charge"] for row in rows("charges") if row["charge"]}


@functools.cache
def _beside() -> frozenset[str]:
    """Words that may stand beside that of a charge and say nothing more."""
    return frozenset(key(row["word"]) for row in rows("charges") if not row["charge"])


def apply(frame: pl.DataFrame, cells: pl.DataFrame, faults: list[pl.DataFrame], mapping: Mapping) -> Charged:
    """The charges of a table, told by its `cells`, given to its goods but for those that are set aside."""
    named = charges(cells, mapping)
    if named is None:
        return Charged(frame)
    record = mapping.record
    bad = {at for found in faults for at in found["at"]}
    amount, group = f"{_NAMED[record][1]}_cents", _GROUP[record]
    units = pl.col("quantity").fill_null(1) if record == "sales" else pl.lit(1)
    whole = frame.with_row_index("at").with_columns(
        named.alias("charge"),
        _group(group, record).alias("group"),
        (pl.col(amount) * units).alias("cents"),
        pl.col("at").is_in(list(bad)).alias("bad"),
        pl.col("quantity").fill_null(1).alias("units"),
    )
    goods = whole.filter(pl.col("charge").is_null() & ~pl.col("bad") & pl.col("group").is_not_null())
    rows_ = whole.filter(pl.col("charge").is_not_null())
    with_goods = rows_.filter(pl.col("group").is_in(goods["group"].unique().implode()))
    done = Charged(frame, named=rows_["at"].to_list())
    usable = with_goods.filter(
        pl.col("cents").is_not_null()
        & (pl.col("units") > 0)
        & (pl.col("charge").is_in(["discount"]) | (pl.col("cents") >= 0))
        & (pl.col("charge") != "deposit")
    )
    if record == "sales":
        came = rows_.filter((pl.col("charge") == "deposit") & (pl.col("cents") > 0) & pl.col(group).is_not_null())
        done.deposits = came["at"].to_list()
    done.gone = dict(usable.select("at", "charge").rows()) | dict.fromkeys(done.deposits, "deposit")
    alone = rows_.filter(~pl.col("at").is_in(list(done.gone)))
    if record == "purchases":  # postage on a receipt of its own was bought like anything else
        alone = alone.filter(~(pl.col("charge").is_in(["freight", "packing"]) & pl.col("category").is_not_null()))
    for code, which in (
        ("deposit-row", pl.col("charge") == "deposit"),
        ("charge-alone", pl.col("charge") != "deposit"),
    ):
        at = alone.filter(which & pl.col("cents").is_not_null())["at"]
        if at.len():
            places = pl.int_range(pl.len(), dtype=pl.UInt32).is_in(at.implode())
            done.faults.append(fault(frame, places, code, _NAMED[record][0]))
    taken = usable.with_columns(
        pl.col("charge").replace_strict(FIELDS[record], default="", return_dtype=pl.String).alias("field")
    ).filter(pl.col("field") != "")
    passed_over = pl.int_range(pl.len(), dtype=pl.UInt32).is_in(list(done.gone))
    # what was passed over is in no sum of its receipt any more
    done.frame = frame.with_columns(
        pl.when(passed_over).then(None).otherwise(pl.col(c)).alias(c) for c in (amount, group)
    )
    for (name,), part in taken.group_by("field", maintain_order=True):
        sums = part.group_by("group").agg(pl.col("cents").abs().sum().alias("charged"))
        done.frame = _given(done.frame, goods, sums, str(name), mapping)
    return done


def _group(group: str, record: str) -> pl.Expr:
    """What the rows of one receipt or order share; without its number those of a supplier's day."""
    own = pl.concat_str(pl.lit("#"), pl.col(group))
    if record == "sales":
        return own
    return pl.coalesce(own, pl.concat_str(pl.col("on_date").cast(pl.String), pl.col("supplier"), separator=" "))


def _given(frame: pl.DataFrame, goods: pl.DataFrame, sums: pl.DataFrame, name: str, mapping: Mapping) -> pl.DataFrame:
    """The charge of each group cut to its goods by what they cost, so that the cents add up; a total stands once."""
    column = f"{name}_cents"
    share = goods.join(sums, on="group", how="inner", maintain_order="left").with_columns(
        pl.col("cents").abs().alias("weight"), pl.col("charged").cast(pl.Int128)
    )
    total = pl.col("weight").sum().over("group")
    running = pl.col("weight").cum_sum().over("group").cast(pl.Int128)
    first = pl.int_range(pl.len()).over("group") == 0
    end = 2 * pl.col("charged") * running // total.cast(pl.Int128) + 1
    cut = (end // 2) - (end // 2).shift(1, fill_value=0).over("group")
    own = pl.when(total == 0).then(pl.when(first).then(pl.col("charged")).otherwise(0)).otherwise(cut)
    if name == "total" or mapping.repeats_total:
        own = pl.when(first | pl.lit(mapping.repeats_total)).then(pl.col("charged"))
    share = share.select("at", own.cast(pl.Int64).alias("more"))
    joined = frame.with_row_index("at").join(share, on="at", how="left", maintain_order="left")
    more = pl.col("more")
    made = (
        pl.coalesce(column, "more")
        if name == "total"
        else pl.when(more.is_null()).then(pl.col(column)).otherwise(pl.col(column).fill_null(0) + more)
    )
    return joined.with_columns(made.alias(column)).drop("at", "more")
