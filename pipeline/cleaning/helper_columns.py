"""Columns that are no field but say what fields are: money in and money out, a direction, a row's total, a gross price.

Each is read as an amount (a direction as a word) and turned into fields of its row. What doesn't add up is set aside
or asked about; a price that is for the whole row is parted into that of each, to the cent.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import polars as pl

from pipeline.cleaning import column_formats, money, numbers, payment_kinds, unicode_marks
from pipeline.cleaning.column_formats import Evidence
from pipeline.cleaning.cross_field_rules import fault
from pipeline.cleaning.parsed import About, Kind, UnreadableError, each, parse
from pipeline.cleaning.quantities import half_even
from pipeline.cleaning.signs import Asked
from pipeline.mapping import Mapping, column_of
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS, Field
from pipeline.reference import key, names
from pipeline.shop import Shop

MOST_TAX = 0.28
"""No tax on sales is a larger share of the net price (the highest rate in Europe is 27 %: Hungary, Directive
2006/112/EC, article 97 names no highest one), unless the shop's own settings have a higher rate."""
_LEADING = r"^\s*([-+]?\s*\d[\d.,'’\x{a0}\x{202f} ]*|[-+]?\s*[.,]\d+)\s*(?:[^\d\s].*)?$"
_PARTS, _FINE = 10**6, 10**4
_LARGEST = 10**17


class Fault(NamedTuple):
    """Which rows, the code, the field, the hint, and the cells that it is about."""

    rows: pl.Expr
    code: str
    field: str
    hint: str
    text: pl.Expr | None = None


@dataclass
class Helped:
    """A frame with the fields that helping columns fill, the rows that don't add up, what is asked, and the mapping as
    it then is to be read."""

    frame: pl.DataFrame
    mapping: Mapping
    faults: list[Fault] = field(default_factory=list)
    reclaims: bool = False  # tax on purchases comes back to the shop
    most_tax: float = MOST_TAX  # as a share of the net
    asked: list[Asked] = field(default_factory=list)


def _columns(
    table: TextTable, cells: pl.DataFrame, mapping: Mapping, shop: Shop, shown: Evidence
) -> tuple[list[pl.Series], list[Fault]]:
    """The helping columns of a table as values, `_<role>`, and the cells of them that can't be read."""
    made: list[pl.Series] = []
    faults: list[Fault] = []
    target = RECORDS[mapping.record].field("price" if mapping.record == "sales" else "amount")
    for role in mapping.helpers:
        column = column_of(table, mapping.helpers[role])
        if column is None:
            made.append(pl.Series(f"_{role}", [None] * cells.height, pl.String if role == "direction" else pl.Int64))
            continue
        text = column_formats.texts_of(table, column)
        if role == "direction":
            made.append(_directions(text, shop))
            unread = text.is_not_null() & made[-1].is_null()
            hint = "Write in or out, or CRDT or DBIT."
        else:
            values, unread = _amounts(unicode_marks.in_usual_marks(text), target, shop, shown)
            made.append(values.alias(f"_{role}"))
            hint = f"“{mapping.helpers[role]}” holds no amount in this row."
        if unread.any():
            code = "choice" if role == "direction" else "money"
            faults.append(Fault(pl.lit(unread), code, target.name, hint, pl.lit(text)))
    if mapping.price_for == "each" and mapping.record == "purchases" and {"quantity", "amount"} <= set(cells.columns):
        made += [_numbers(cells["quantity"], shop, shown), _fine(cells["amount"], target, shop, shown)]
    return made, faults


def _amounts(text: pl.Series, target: Field, shop: Shop, shown: Evidence) -> tuple[pl.Series, pl.Series]:
    own = numbers.certain(text.drop_nulls().unique())
    decimal = own or shown.decimals.get(target.name) or shown.decimal
    done = parse(text, Kind(money.amounts, money.easy), About(target, shop, decimal=decimal))
    foreign = pl.Series([False] * text.len(), dtype=pl.Boolean)
    if "currency" in done.columns:
        known = [c for c in done["currency"].drop_nulls().unique() if money.fits(c, shop["currency"])]
        foreign = done["currency"].is_not_null() & ~done["currency"].is_in(known)
    return done["value"], (text.is_not_null() & done["value"].is_null()) | foreign


def ways(shop: Shop) -> Callable[[str], str]:
    """Gives "in" or "out" where a text says one of them, by the shop's own words first; else ""."""
    own = {key(word): meaning for word, meaning in shop.words.get("direction", {}).items()}

    def way(text: str) -> str:
        meanings = names("direction").get(key(own.get(key(text), text)), frozenset())
        return next(iter(meanings)) if len(meanings) == 1 else ""

    return way


def _directions(text: pl.Series, shop: Shop) -> pl.Series:
    way = ways(shop)
    known = {t: way(t) or None for t in text.drop_nulls().unique()}
    return text.replace_strict(known, default=None, return_dtype=pl.String).alias("_direction")


def _numbers(text: pl.Series, shop: Shop, shown: Evidence) -> pl.Series:
    """The number before a quantity's unit, in millionths; null where the cell has more than one."""
    field_ = RECORDS["purchases"].field("paid_rate")
    bare = text.str.extract(_LEADING).str.strip_chars()
    single = ~text.str.contains(r"\d\s*[x×*/]\s*\d")
    about = About(field_, shop, decimal=shown.decimals.get("quantity") or shown.decimal)
    values = parse(bare, Kind(numbers.numbers), about)["value"]
    millionths = (values * _PARTS).round().cast(pl.Int64, strict=False)
    return millionths.to_frame("n").select(pl.when(pl.lit(single)).then("n").alias("_number")).to_series()


def _fine(text: pl.Series, target: Field, shop: Shop, shown: Evidence) -> pl.Series:
    """A price of each in ten-thousandths of a cent: screws may well be 0.0335 each."""
    decimal, size = shown.decimals.get(target.name) or shown.decimal, 10**shop.minor_digits * _FINE

    def read(cell: str) -> int:
        value = round(money.amount(cell, decimal)[0] * size)
        if abs(value) > _LARGEST:
            raise UnreadableError("range")
        return value

    done = each(text.drop_nulls().unique(), read, {"value": pl.Int64})
    return text.replace_strict(done["text"], done["value"], default=None, return_dtype=pl.Int64).alias("_fine")


def apply(
    frame: pl.DataFrame, table: TextTable, cells: pl.DataFrame, mapping: Mapping, shop: Shop, shown: Evidence
) -> tuple[pl.DataFrame, Mapping, list[Asked], list[pl.DataFrame]]:
    """The frame with what its helping columns say, the mapping as it then is to be read, what is asked, and the rows
    that don't add up."""
    # the unit of hours stands behind their numbers already
    if mapping.record == "hours" or not (mapping.helpers or mapping.price_for or mapping.helped):
        return frame, mapping, [], []
    more, faults = _columns(table, cells, mapping, shop, shown)
    reclaims = any(row["tax_reclaimable"] for row in shop.tables.get("rule", []))
    most_tax = max([MOST_TAX, *(row["rate_ppm"] / 1_000_000 for row in shop.tables.get("tax_rate", []))])
    helped = Helped(frame.with_columns(more), mapping, faults, reclaims, most_tax)
    if worker := {"payments": _payments, "sales": _sales, "purchases": _purchases}.get(mapping.record):
        worker(helped)
    for name in sorted(mapping.helped):
        stored = name if name in helped.frame.columns else f"{name}_cents"
        helped.faults.append(Fault(pl.col(stored).is_null(), "missing", name, ""))
    found = [
        fault(helped.frame, wrong.rows.fill_null(value=False), wrong.code, wrong.field, wrong.hint, wrong.text)
        for wrong in helped.faults
    ]
    return helped.frame.drop(column.name for column in more), helped.mapping, helped.asked, found


# --- which way money goes ---------------------------------------------------------------------------------------------


def _payments(helped: Helped) -> None:
    """Amounts as a bank writes them, a minus for what goes out; a running balance proves which way that is."""
    frame, amount = helped.frame, pl.col("amount_cents")
    if "_direction" in frame.columns:
        out, come = (pl.col("_direction") == way for way in ("out", "in"))
        twice = "It came in, and has a minus: say which."
        helped.faults.append(Fault(come & (amount < 0), "range", "amount", twice))
        helped.faults.append(
            Fault(pl.col("_direction").is_null() & amount.is_not_null(), "missing", "amount", "In or out?")
        )
        frame = frame.with_columns(pl.when(out).then(-amount.abs()).otherwise(amount).alias("amount_cents"))
    elif {"_money_in", "_money_out"} & set(frame.columns):
        frame = _from_two_columns(helped)
    elif helped.mapping.signs.get("amount") == "out":
        helped.frame = payment_kinds.with_kinds(frame)
        return
    else:
        return
    helped.frame = payment_kinds.with_kinds(_by_balance(frame))
    helped.mapping = replace(helped.mapping, signs=helped.mapping.signs | {"amount": "out"})


def _from_two_columns(helped: Helped) -> pl.DataFrame:
    frame = helped.frame
    have = [pl.col(f"_{role}") if f"_{role}" in frame.columns else pl.lit(None, pl.Int64) for role in _TWO]
    out, come = have
    written = frame.select(out.alias("out"))["out"]
    # a bank may write what went out with a minus, though it has a column of its own
    minus = int((written < 0).sum()) > int((written > 0).sum())
    out = -out if minus else out
    both = (out.fill_null(0) != 0) & (come.fill_null(0) != 0)
    helped.faults.append(Fault(both, "range", "amount", "Money in and money out in one row: write a row for each."))
    amount = pl.when(out.is_not_null() | come.is_not_null()).then(come.fill_null(0) - out.fill_null(0))
    return frame.with_columns(pl.coalesce(amount, "amount_cents").alias("amount_cents"))


_TWO = ("money_out", "money_in")


def _by_balance(frame: pl.DataFrame) -> pl.DataFrame:
    """Turned round where the balance says so: in a book of one's own, what the account is debited with comes in."""
    amount, balance = frame["amount_cents"], frame["balance_cents"]
    steps = [balance.diff(), -balance.diff(-1)] if balance.null_count() < balance.len() else []
    fits, turned = (max((int((sign * amount == step).sum()) for step in steps), default=0) for sign in (1, -1))
    if turned > max(2, 2 * fits):
        return frame.with_columns(-pl.col("amount_cents"))
    return frame


# --- what a price is for ----------------------------------------------------------------------------------------------


def _sales(helped: Helped) -> None:
    mapping, frame = helped.mapping, helped.frame
    units = pl.col("quantity").fill_null(1).abs()
    price, total = pl.col("price_cents"), pl.col("_row_total")
    if "_gross" in frame.columns and not {"price", "row_total"} & {
        *mapping.columns,
        *mapping.constants,
        *mapping.helpers,
    }:
        frame = frame.with_columns(pl.col("_gross").alias("price_cents"))
        helped.mapping = replace(mapping, tax_included=True)
    if mapping.price_for == "row":
        frame = _parted(frame, price, units)
    elif "_row_total" in frame.columns:
        bare = price.is_null() & total.is_not_null()
        parted = _parted(frame.with_columns(price_cents=pl.when(bare).then(total)), price, units)
        frame = frame.with_columns(
            *(
                pl.when(bare).then(parted[name]).otherwise(pl.col(name)).alias(name)
                for name in ("price_cents", "discount_cents")
            )
        )
        gives = price.abs() * units - pl.col("discount_cents").fill_null(0).abs()
        taxed = gives + pl.col("sales_tax_cents").fill_null(0).abs()
        other = ~bare & pl.all_horizontal(total.abs() != way for way in (price.abs() * units, gives, taxed))
        stated = frame.select(other.fill_null(value=False).alias("stated"))["stated"]
        if stated.any():
            helped.asked.append(("price", "row-total", stated))
    if "_gross" in frame.columns and not helped.mapping.tax_included:
        frame = _taxed(frame, helped, "price", "sales_tax", units)
    helped.frame = frame


def _parted(frame: pl.DataFrame, total: pl.Expr, units: pl.Expr) -> pl.DataFrame:
    """A total as the price of each, and what the units cost less together: 3 for 100.00 are 33.34 each less 0.02."""
    by = pl.when(units == 0).then(1).otherwise(units)
    each = (total.abs() + by - 1) // by
    rest = each * by - total.abs()
    discount = pl.col("discount_cents")
    return frame.with_columns(
        pl.when(total < 0).then(-each).otherwise(each).alias("price_cents"),
        pl.when(rest > 0).then(discount.fill_null(0).abs() + rest).otherwise(discount).alias("discount_cents"),
    )


def _purchases(helped: Helped) -> None:
    mapping, frame = helped.mapping, helped.frame
    if mapping.price_for == "each" and "_number" in frame.columns:
        number = pl.col("_number").abs()
        several = pl.col("quantity").is_not_null() & pl.col("_number").is_null()
        hint = "The price is for each, and the quantity is no plain number: write what the row cost."
        helped.faults.append(Fault(several, "quantity", "amount", hint))
        cents, fine = pl.col("amount_cents"), pl.col("_fine").abs().cast(pl.Int128)
        size = half_even(fine * number.cast(pl.Int128), pl.lit(_PARTS * _FINE, pl.Int128)).cast(pl.Int64, strict=False)
        helped.faults.append(Fault(number.is_not_null() & (size.is_null() | (size > 10**14)), "range", "amount", ""))
        whole = pl.when(number.is_null()).then(cents).otherwise(size * pl.when(cents < 0).then(-1).otherwise(1))
        frame = frame.with_columns(whole.alias("amount_cents"))
    if "_gross" in frame.columns:
        frame = _taxed(frame, helped, "amount", "tax", pl.lit(1))
    helped.frame = frame


def _taxed(frame: pl.DataFrame, helped: Helped, net_name: str, tax_name: str, units: pl.Expr) -> pl.DataFrame:
    """The tax as the difference of gross and net, or either from the other two; each row must prove it."""
    gross, tax = pl.col("_gross").abs(), pl.col(f"{tax_name}_cents").abs()
    net_column = f"{net_name}_cents"
    if net_name not in {*helped.mapping.columns, *helped.mapping.constants}:
        # where tax never comes back it is part of what things cost, and need not be parted
        inside = tax if helped.reclaims else tax.fill_null(0)
        made = pl.when(pl.col("_gross") < 0).then(inside - gross).otherwise(gross - inside)
        hint = "The tax is said to be in it: name the column of the tax, or write the row's tax."
        helped.faults.append(Fault(pl.col("_gross").is_not_null() & made.is_null(), "missing", tax_name, hint))
        return frame.with_columns(pl.coalesce(net_column, made).alias(net_column))
    net = pl.col(net_column).abs() * units
    less = pl.col("discount_cents").fill_null(0).abs() if net_name == "price" else pl.lit(0)
    ways = [gross * units - net, gross - net + less] if net_name == "price" else [gross - net]
    fitting = [int(frame.select((way.is_between(0, helped.most_tax * net + 1)).sum()).item()) for way in ways]
    reckoned = ways[fitting.index(max(fitting))]
    wrong = ~reckoned.is_between(0, helped.most_tax * net + 1) | (tax.is_not_null() & ((tax - reckoned).abs() > 1))
    helped.faults.append(Fault(wrong.fill_null(False), "tax-differs", net_name, ""))
    right = pl.when(~wrong.fill_null(value=False)).then(reckoned)
    signed = pl.when(pl.col(net_column) < 0).then(-right).otherwise(right)
    return frame.with_columns(pl.coalesce(f"{tax_name}_cents", signed).cast(pl.Int64).alias(f"{tax_name}_cents"))
