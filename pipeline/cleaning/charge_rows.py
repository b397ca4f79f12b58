"""Rows of a receipt or a sales export that are no goods: freight, packing, a discount, tax, a total, a deposit.

They become the freight, discount, tax and total of the goods beside them, to the cent; a deposit that came in with an
order is a payment. What belongs to no goods, or says too little, is set aside with what it lacks.
"""

import functools
from collections.abc import Callable, Iterable, Iterator, Sequence
from collections.abc import Mapping as Mapping_
from dataclasses import dataclass, field
from typing import Any

import polars as pl

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
_MATTER = {
    "purchases": ("amount", "receipt", "supplier", "paid_currency", "paid_rate"),
    "sales": ("price", "order_no", "quantity"),
}
"""Record → the fields without which it is not known how much a charge is, or of what."""
_OF_A_PAYMENT = ("date", "note")
_GOODS = {"purchases": ("lot", "species"), "sales": ("piece", "lot")}


@dataclass
class Charged:
    """The frame with its charges where they belong; the rows that were passed over (`at` → why); faults; the rows that
    are deposits that came in; and all that are charges."""

    frame: pl.DataFrame
    gone: dict[int, str] = field(default_factory=dict)
    faults: list[pl.DataFrame] = field(default_factory=list)
    deposits: pl.DataFrame = field(default_factory=pl.DataFrame)
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


Rules = Callable[[pl.DataFrame], list[pl.DataFrame]]
"""What finds the rows of a frame that its record can't have, as faults."""


def turned(frame: pl.DataFrame, named: pl.Series | None, record: str, turn: Callable[[pl.DataFrame], Any]) -> Any:
    """What `turn` makes of a frame, in which no charge counts as a line of its receipt."""
    if named is None:
        return turn(frame)
    group = _GROUP[record]
    done, *more = turn(frame.with_columns(pl.when(named.is_null()).then(group).alias(group)))
    return done.with_columns(frame[group]), *more


def apply(
    frame: pl.DataFrame,
    named: pl.Series | None,
    faults: Sequence[pl.DataFrame],
    mapping: Mapping,
    currency: str,
    rules: Rules,
) -> Charged:
    """The charges of a table, as `named` has them, given to its goods but for those that are set aside, by the faults
    of their cells or by the `rules` of the record. `currency` is the shop's."""
    if named is None:
        return Charged(frame)
    record = mapping.record
    amount, group = f"{_NAMED[record][1]}_cents", _GROUP[record]
    frame = _in_their_currency(frame, named, record)
    of_rules = rules(frame)
    whole = frame.with_row_index("at").with_columns(
        named.alias("charge"),
        _group(group, record).alias("number"),
        (_group(group, record) + _paid(record, currency)).alias("group"),
        (pl.col(amount) * (pl.col("quantity").fill_null(1) if record == "sales" else 1)).alias("cents"),
        pl.col("quantity").fill_null(1).alias("units"),
    )
    beside = whole.filter(pl.col("charge").is_null() & pl.col("group").is_not_null())
    sound = beside.filter(~_among(found["at"] for found in (*faults, *of_rules)))
    # what goes back bears nothing of what was charged for the rest
    goods = sound.filter((pl.col("units") >= 0) & (pl.col("cents").fill_null(0) >= 0))
    rows_ = whole.filter(pl.col("charge").is_not_null())
    # a price below nothing is how a discount is written
    sums = [found.filter((pl.col("code") != "range") | (pl.col("field") != "price")) for found in of_rules]
    unsure = rows_.filter(_among(_unsure((*faults, *sums), rows_, record)))["at"]
    certain = rows_.filter(~pl.col("at").is_in(unsure.implode()) & pl.col("cents").is_not_null())
    taken = _taken(certain, goods, sound, record)
    done = Charged(frame, named=rows_["at"].to_list())
    if record == "sales":
        done.deposits = certain.filter(
            (pl.col("charge") == "deposit") & (pl.col("cents") > 0) & pl.col(group).is_not_null()
        )
        done.gone = dict.fromkeys(done.deposits["at"], "deposit")
    done.gone |= dict(taken.select("at", "charge").rows())
    done.faults = list(_left(certain, done, beside, sound, mapping))
    # what was passed over is in no sum of its receipt any more
    passed_over = pl.int_range(pl.len(), dtype=pl.UInt32).is_in(list(done.gone))
    done.frame = frame.with_columns(
        pl.when(passed_over).then(None).otherwise(pl.col(c)).alias(c) for c in (amount, group)
    )
    for (name,), part in taken.filter(pl.col("field") != "").group_by("field", maintain_order=True):
        of_groups = part.group_by("group").agg(pl.col("charged").last())
        to = sound if name == "total" else goods
        done.frame = _given(done.frame, to, of_groups, str(name), mapping)
    return done


def _among(places: Iterable[pl.Series]) -> pl.Expr:
    return pl.col("at").is_in(sorted({at for part in places for at in part}))


def _unsure(faults: Iterable[pl.DataFrame], rows_: pl.DataFrame, record: str) -> Iterator[pl.Series]:
    """The charges with a fault in what they are told by."""
    deposits = rows_.filter(charge="deposit")["at"].implode()
    for found in faults:
        yield found.filter(pl.col("field").is_in(_MATTER[record]))["at"]
        yield found.filter(pl.col("field").is_in(_OF_A_PAYMENT) & pl.col("at").is_in(deposits))["at"]


def _in_their_currency(frame: pl.DataFrame, named: pl.Series, record: str) -> pl.DataFrame:
    """The frame with the currency and the rate of a receipt's goods on its charges that name none."""
    if record != "purchases" or frame["paid_currency"].null_count() == frame.height:
        return frame
    goods = frame.with_columns(_group("receipt", record).alias("group")).filter(named.is_null())
    paid = goods.group_by("group").agg(
        pl.col(c).drop_nulls().unique().alias(f"{c}_of") for c in ("paid_currency", "paid_rate")
    )
    one = [pl.when(pl.col(c).list.len() == 1).then(pl.col(c).list.first()).alias(c) for c in paid.columns[1:]]
    told = frame.with_columns(_group("receipt", record).alias("group"), named.alias("charge"))
    told = told.join(paid.with_columns(one).drop_nulls("group"), on="group", how="left", maintain_order="left")
    bare = pl.col("charge").is_not_null() & pl.col("paid_rate").is_null()
    alike = bare & (pl.coalesce("paid_currency", "paid_currency_of") == pl.col("paid_currency_of"))
    return told.with_columns(
        pl.when(alike).then(f"{c}_of").otherwise(c).alias(c) for c in ("paid_currency", "paid_rate")
    ).select(frame.columns)


def _paid(record: str, currency: str) -> pl.Expr:
    """The currency and the rate that a row was paid in; nothing for the shop's own."""
    if record == "sales":
        return pl.lit("")
    other = pl.col("paid_currency").is_not_null() & (pl.col("paid_currency") != currency)
    paid = pl.concat_str(pl.col("paid_currency"), pl.col("paid_rate").cast(pl.String), separator=" ", ignore_nulls=True)
    return pl.when(other).then(pl.concat_str(pl.lit(" "), paid)).otherwise(pl.lit(""))


def _taken(certain: pl.DataFrame, goods: pl.DataFrame, sound: pl.DataFrame, record: str) -> pl.DataFrame:
    """The charges that have goods to belong to, each with its `field` and what its group is `charged` of that."""
    among, any_ = (part["group"].unique().implode() for part in (goods, sound))
    totals = certain.filter((pl.col("charge") == "total") & pl.col("group").is_in(any_))
    others = certain.filter(
        ~pl.col("charge").is_in(["deposit", "total"]) & pl.col("group").is_in(among) & (pl.col("units") > 0)
    )
    fields = pl.col("charge").replace_strict(FIELDS[record], default="", return_dtype=pl.String).alias("field")
    # where a minus is what is taken off, a plus beside it gives some of that back
    both = ((pl.col("cents") < 0).any() & (pl.col("cents") > 0).any()).over("group", "field")
    off = pl.when(both).then(-pl.col("cents")).otherwise(pl.col("cents").abs())
    value = pl.when(pl.col("field") == "discount").then(off).otherwise("cents")
    others = others.with_columns(fields).with_columns(value.sum().over("group", "field").alias("charged"))
    return pl.concat(
        [others.filter(pl.col("charged") >= 0), totals.with_columns(fields, pl.col("cents").alias("charged"))]
    )


def _left(
    certain: pl.DataFrame, done: Charged, beside: pl.DataFrame, sound: pl.DataFrame, mapping: Mapping
) -> Iterator[pl.DataFrame]:
    """The charges that belong to nothing, each with the reason."""
    alone = certain.filter(~pl.col("at").is_in(list(done.gone)))
    if mapping.record == "purchases":  # postage on a receipt of its own was bought like anything else
        alone = alone.filter(~(pl.col("charge").is_in(["freight", "packing"]) & pl.col("category").is_not_null()))
    usable, other, any_ = (
        pl.col(name).is_in(part[name].unique().implode()).fill_null(False)
        for name, part in (("group", sound), ("number", sound), ("number", beside))
    )
    code = (
        pl.when(pl.col("charge") == "deposit").then(pl.lit("deposit-row"))
        .when(usable).then(pl.lit("charge-back"))
        .when(other).then(pl.lit("money"))
        .when(any_).then(pl.lit("charge-of-none"))
        .otherwise(pl.lit("charge-alone"))
    )  # fmt: skip
    for (found,), part in alone.group_by(code.alias("code"), maintain_order=True):
        places = pl.int_range(pl.len(), dtype=pl.UInt32).is_in(part["at"].implode())
        hint = "Its goods were paid in another currency, or at another rate: write it so, too." * (found == "money")
        yield fault(done.frame, places, str(found), _NAMED[mapping.record][0], hint)


def _group(group: str, record: str) -> pl.Expr:
    """What the rows of one receipt or order share; without its number those of a supplier's day. Two suppliers may
    give one number: a row that names none is of the only one that has it."""
    own = pl.concat_str(pl.lit("#"), pl.col(group))
    if record == "sales":
        return own
    named = pl.col("supplier").str.to_lowercase()
    single = pl.when(named.drop_nulls().n_unique().over(group) == 1).then(named.drop_nulls().first().over(group))
    supplier = pl.coalesce(named, single, pl.lit(""))
    day = pl.concat_str(pl.col("on_date").cast(pl.String), named, separator=" ")
    return pl.coalesce(pl.concat_str(own, supplier, separator=" "), day)


def _given(frame: pl.DataFrame, goods: pl.DataFrame, sums: pl.DataFrame, name: str, mapping: Mapping) -> pl.DataFrame:
    """The charge of each group cut to its goods by what they cost, so that the cents add up; a total stands once."""
    column = f"{name}_cents"
    share = goods.join(sums, on="group", how="inner", maintain_order="left").with_columns(
        pl.col("cents").fill_null(0).abs().alias("weight"), pl.col("charged").cast(pl.Int128)
    )
    total = pl.col("weight").sum().over("group")
    running = pl.col("weight").cum_sum().over("group").cast(pl.Int128)
    first = pl.int_range(pl.len()).over("group") == 0
    end = 2 * pl.col("charged") * running // total.cast(pl.Int128) + 1
    cut = (end // 2) - (end // 2).shift(1, fill_value=0).over("group")
    own = pl.when(total == 0).then(pl.when(first).then(pl.col("charged")).otherwise(0)).otherwise(cut)
    if name == "total":
        back, stated = (pl.col("units") < 0).all().over("group"), pl.col("charged").cast(pl.Int64)
        own = pl.when(back).then(-stated.abs()).otherwise(stated)
    if name == "total" or mapping.repeats_total:
        own = pl.when(first | pl.lit(mapping.repeats_total)).then(own if name == "total" else pl.col("charged"))
    share = share.select("at", own.cast(pl.Int64).alias("more"))
    joined = frame.with_row_index("at").join(share, on="at", how="left", maintain_order="left")
    more = pl.col("more")
    made = (
        pl.coalesce(column, "more")
        if name == "total"
        else pl.when(more.is_null()).then(pl.col(column)).otherwise(pl.col(column).fill_null(0) + more)
    )
    return joined.with_columns(made.alias(column)).drop("at", "more")
