"""What can only be told from several fields of a row: hours from two times, tax inside a price, a foreign currency."""

from collections.abc import Callable

import polars as pl

from pipeline.cleaning.money import fits
from pipeline.cleaning.quantities import half_even
from pipeline.cleaning.row_faults import FAULT
from pipeline.mapping import Mapping
from pipeline.records import Record
from pipeline.shop import Shop

_DAY = 86_400
_LAST = 10**6
_BIGGEST = 10**14
_MONEY = ("amount", "tax", "freight", "discount", "total")
_SALE_MONEY = ("discount", "shipping_charged", "sales_tax", "channel_fee", "payment_fee", "shipping_paid")


def currency_of(field: str) -> str:
    """The name of the passing column that holds the currency a money cell names."""
    return f"_currency_{field}"


def apply(frame: pl.DataFrame, record: Record, mapping: Mapping, shop: Shop) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """The frame with the rules of its record applied, and the faults found (shape as in `clean`)."""
    faults = [*_currencies(frame, record, shop)]
    rule = _RULES.get(record.name)
    if rule:
        frame, more = rule(frame, mapping, shop)
        faults += more
    return frame, faults


def fault(
    frame: pl.DataFrame, wrong: pl.Expr, code: str, field: str, hint: str = "", text: pl.Expr | None = None
) -> pl.DataFrame:
    """The rows for which `wrong` holds, as faults that come after those of single cells."""
    shown = pl.lit(None, pl.String) if text is None else text.cast(pl.String)
    return (
        frame.with_columns(shown.alias("_shown"))
        .with_row_index("at")
        .filter(wrong)
        .select(
            "at",
            pl.lit(_LAST, pl.Int64).alias("place"),
            pl.lit(code).alias("code"),
            pl.lit(field).alias("field"),
            pl.col("_shown").alias("text"),
            pl.lit(hint).alias("hint"),
        )
        .cast(pl.Schema(FAULT))
    )


def _currencies(frame: pl.DataFrame, record: Record, shop: Shop) -> list[pl.DataFrame]:
    """A cell that names another currency than the shop's, or than the row's own, would be read as the wrong money."""
    faults = []
    for name in (f.name for f in record if currency_of(f.name) in frame.columns):
        column = currency_of(name)
        paid = pl.col("paid_currency") if "paid_currency" in frame.columns else pl.lit(None, pl.String)
        pairs = frame.select(pl.col(column).alias("cell"), paid.alias("paid")).unique().drop_nulls("cell")
        bad = [(cell, code) for cell, code in pairs.rows() if not fits(cell, code or shop["currency"])]
        if not bad:
            continue
        wrong = pl.any_horizontal(
            [(pl.col(column) == cell) & paid.eq_missing(pl.lit(code, pl.String)) for cell, code in bad]
        )
        hint = (
            f"The shop counts in {shop['currency']}: fill paid_currency and paid_rate."
            if record.name == "purchases"
            else f"Write it in {shop['currency']}."
        )
        faults.append(fault(frame, wrong, "money", name, hint, pl.col(column)))
    return faults


def _hours(frame: pl.DataFrame, mapping: Mapping, shop: Shop) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """`hours` stands as written; without it the two times give it, an end before the start being after midnight."""
    start, end = (pl.col(c).cast(pl.Int64) // 1_000_000_000 for c in ("started_at", "ended_at"))
    frame = frame.with_columns(pl.coalesce("seconds", (end - start) % _DAY).alias("seconds"))
    none = pl.col("seconds").is_null() | (pl.col("seconds") == 0)
    # more than a day has is asked about, over all rows of the day: a row may sum up a month's work
    return frame, [fault(frame, none, "hours", "hours")]


def _purchases(frame: pl.DataFrame, mapping: Mapping, shop: Shop) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """What was paid in another currency is turned into the shop's at the row's rate, rounded once, half to even."""
    foreign = pl.col("paid_currency").is_not_null() & (pl.col("paid_currency") != shop["currency"])
    if not frame.select(foreign.any()).item():
        return frame, []
    faults = [
        fault(
            frame,
            foreign & pl.col("paid_rate").is_null(),
            "missing",
            "paid_rate",
            "Say what one unit of the currency paid was worth that day.",
        )
    ]
    rate = pl.col("paid_rate")
    names = [f"{name}_cents" for name in _MONEY]
    turned = [
        pl.when(foreign)
        .then((pl.col(n) * rate).round(mode="half_to_even").clip(-_BIGGEST, _BIGGEST).cast(pl.Int64))
        .otherwise(pl.col(n))
        .alias(n)
        for n in names
    ]
    far = pl.any_horizontal((pl.col(n) * rate).abs() >= _BIGGEST for n in names)
    faults.append(fault(frame, foreign & far, "range", "paid_rate", text=rate))
    return frame.with_columns(turned), faults


def _sales(frame: pl.DataFrame, mapping: Mapping, shop: Shop) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Where prices have the tax in them, a row's tax is taken off its goods and shipping, each its part of it.

    Each unit's share is rounded half to even. Tax that no file states is parted by the shop's rates (`sales_tax`).
    """
    # a till's line of none without money is a void one, and harms nothing
    money = pl.any_horizontal(pl.col(f"{name}_cents").fill_null(0) != 0 for name in _SALE_MONEY)
    none = fault(frame, (pl.col("quantity") == 0) & money, "none-sold", "quantity")
    below = fault(
        frame,
        pl.col("price_cents") < 0,
        "range",
        "price",
        "If it came back, write its quantity with a minus; a discount has a field of its own.",
        pl.col("price_cents") / 10**shop.minor_digits,
    )
    if not mapping.tax_included:
        return frame, [none, below]
    count = pl.col("quantity").abs()
    tax, shipped = pl.col("sales_tax_cents").abs(), pl.col("shipping_charged_cents").fill_null(0).abs()
    gross = count * pl.col("price_cents") - pl.col("discount_cents").fill_null(0).abs() + shipped
    of_shipping = pl.when(gross > 0).then((tax * shipped / gross).round(0)).otherwise(0).fill_null(0).cast(pl.Int64)
    share = half_even(tax - of_shipping, count)
    price = pl.col("price_cents") - pl.when(count > 0).then(share).otherwise(0).fill_null(0)
    sent = pl.col("shipping_charged_cents") - pl.col("shipping_charged_cents").sign() * of_shipping
    frame = frame.with_columns(price.alias("price_cents"), sent.alias("shipping_charged_cents"))
    over = fault(
        frame, pl.col("price_cents") < 0, "range", "sales_tax", "The tax is more than the price it is said to be in."
    )
    return frame, [none, below, over]


_RULES: dict[str, Callable[[pl.DataFrame, Mapping, Shop], tuple[pl.DataFrame, list[pl.DataFrame]]]] = {
    "hours": _hours,
    "purchases": _purchases,
    "sales": _sales,
}
