"""Which way money goes: what a minus means on a return, on a fee, and in a bank's export.

What came back or was sent back (a negative quantity) turns all money of its row round, however that is written. On
other rows a column's own habit says what a minus means: a till that writes all its fees with a minus means fees, a
list of expenses that writes its bills with one means bills. Where a column of fees has both, each counts as a cost and
the file asks once: nothing becomes an income by accident.
"""

from collections.abc import Iterator, Sequence

import polars as pl

from pipeline.mapping import SIGNS, Mapping
from pipeline.tables import in_polars, place_columns

QUESTION = in_polars(place_columns() | dict.fromkeys(("record", "field", "code"), "VARCHAR"))

COSTS = {
    "sales": tuple(name for of, name in SIGNS if of == "sales" and name != "shipping_charged"),
    "purchases": ("tax", "freight", "discount"),
}
"""Amounts that a row rarely has below nothing: there a minus is a way of writing."""

TURNED = {
    "sales": ("price", *COSTS["sales"], "shipping_charged"),
    "purchases": ("amount", *COSTS["purchases"]),
}
"""All money of a row that what came back turns round; a price stays above nothing, for its quantity is below it."""

OUT = ("refund", "supplier", "pay", "drawing", "tax")
"""Kinds of payments whose amount, written without a sign, goes out."""

HABIT = 3
"""So many bills with a minus are a way of writing; fewer may as well be money given back."""

Told = tuple[pl.DataFrame, pl.DataFrame]

Asked = tuple[str, str, pl.Series]
"""The field that a file is asked about, the code of the question, and which rows of the frame it is about."""


def apply(frame: pl.DataFrame, mapping: Mapping, already: Sequence[Asked] = ()) -> Told:
    """The frame with its money the right way round, and what the file must be asked, a row for each row that it is
    about, with what it is asked `already`."""
    record = mapping.record
    if record == "payments":
        turned, asked = _payments(frame, mapping)
    elif record in COSTS:
        turned, asked = _rows(frame, mapping)
    else:
        return frame, pl.DataFrame(schema=QUESTION)
    places = [
        frame.filter(about).select(*place_columns(), record=pl.lit(record), field=pl.lit(name), code=pl.lit(code))
        for name, code, about in (*already, *asked)
    ]
    return turned, pl.concat([pl.DataFrame(schema=QUESTION), *(part.cast(pl.Schema(QUESTION)) for part in places)])


def _rows(frame: pl.DataFrame, mapping: Mapping) -> tuple[pl.DataFrame, list[Asked]]:
    back = (pl.col("quantity") < 0).fill_null(False)
    asked: list[Asked] = []
    if mapping.record == "purchases":
        frame, asked = _bills(frame, mapping)
    fits = _adds_up() if mapping.record == "purchases" else pl.lit(False)
    frame = frame.with_columns(back.alias("_back"), fits.fill_null(False).alias("_fits"))
    turned: list[pl.Expr] = []
    for name in TURNED[mapping.record]:
        column = f"{name}_cents"
        if not frame[column].null_count() < frame.height:
            continue
        forward, question = pl.col(column), None
        if name in COSTS[mapping.record]:
            forward, question = _forward(frame, name, mapping)
        elif name == "shipping_charged" and not mapping.signs.get(name):
            question = _odd(frame, name)
        asked += [question] if question else []
        kept = pl.col("_fits") if name in ("tax", "freight", "discount") else pl.lit(False)
        own = pl.col(column).abs() if name == "price" else -pl.col(column).abs()
        turned.append(pl.when(kept).then(column).when("_back").then(own).otherwise(forward).alias(column))
    if mapping.record == "purchases":
        turned.append(_total())
    return frame.with_columns(turned).drop("_back", "_fits"), asked


def _bills(frame: pl.DataFrame, mapping: Mapping) -> tuple[pl.DataFrame, list[Asked]]:
    """Bills above nothing: of a file that writes them with a minus all are turned, and what then is below nothing is
    money given back. A minus that no habit explains is money given back too, and asked about: beside a quantity
    above nothing, or where most bills have one."""
    forward = ~(frame["quantity"] < 0).fill_null(value=False)
    amount, said = frame["amount_cents"], mapping.signs.get("amount")
    minus, plus = ((forward & side).fill_null(value=False) for side in (amount < 0, amount > 0))
    mostly = minus.sum() > plus.sum()
    if said == "cost" or (not said and mostly and minus.sum() >= HABIT):
        total = -1 if (frame["total_cents"] < 0).sum() > (frame["total_cents"] > 0).sum() else 1
        frame = frame.with_columns(-pl.col("amount_cents"), pl.col("total_cents") * total)
        odd = plus
    else:
        odd = minus & ((frame["quantity"] > 0).fill_null(value=False) | mostly)
    return frame, [("amount", "sign-bill", odd)] if odd.any() and not said else []


def _total() -> pl.Expr:
    """The total of a receipt on which all goes back."""
    total, lines = pl.col("total_cents"), pl.struct("receipt", "supplier")
    all_back = pl.when(pl.col("receipt").is_null()).then("_back").otherwise(pl.col("_back").all().over(lines))
    return pl.when(all_back).then(-total.abs()).otherwise(total).alias("total_cents")


def _adds_up() -> pl.Expr:
    """Whether the lines of a receipt come to its total just as they are written: then no sign of it is a habit."""
    over = ("receipt", "supplier")
    parts = [pl.col(f"{name}_cents").fill_null(0) for name in ("amount", "tax", "freight")]
    lines = (parts[0] + parts[1] + parts[2] - pl.col("discount_cents").fill_null(0)).sum().over(over)
    turned = ((pl.col("quantity") < 0) & (pl.col("amount_cents") > 0)).any().over(over)
    return pl.col("receipt").is_not_null() & ~turned & (lines == pl.col("total_cents").max().over(over))


def _below(frame: pl.DataFrame, name: str) -> tuple[pl.Series, bool]:
    """Which rows that are no returns have the amount with a minus, and whether any has it above nothing."""
    forward = ~frame["_back"] & ~frame["_fits"]
    if name in ("tax", "freight", "discount") and "amount_cents" in frame.columns:
        forward &= frame["amount_cents"] >= 0  # a credit's own tax is below nothing too
    values = frame[f"{name}_cents"]
    return (forward & (values < 0)).fill_null(value=False), (forward & (values > 0)).any()


def _forward(frame: pl.DataFrame, name: str, mapping: Mapping) -> tuple[pl.Expr, Asked | None]:
    """The amount of a row that is no return as a cost, and the question where its column has both signs."""
    column = pl.col(f"{name}_cents")
    credit = pl.col("amount_cents") < 0 if mapping.record == "purchases" else pl.lit(False)
    said = mapping.signs.get(name)
    if said:
        return (-column if said == "cost" else column), None
    minus, plus = _below(frame, name)
    if not minus.any():
        return column, None
    cost = pl.when(credit).then(column).otherwise(column.abs())
    return cost, (name, "sign-cost", minus) if plus else None


def _odd(frame: pl.DataFrame, name: str) -> Asked | None:
    minus, _ = _below(frame, name)
    return (name, "sign-income", minus) if minus.any() else None


def _payments(frame: pl.DataFrame, mapping: Mapping) -> tuple[pl.DataFrame, list[Asked]]:
    """Amounts as the kind says: of what goes out, a bank's minus is taken off."""
    amount, out = pl.col("amount_cents"), pl.col("kind").is_in(OUT)
    asked = list(_asked_of_a_bank(frame, mapping))
    turned = pl.when(out).then(-amount if _is_banks(frame, mapping) else amount).otherwise(amount)
    if not mapping.signs.get("amount"):
        turned = pl.when(out & (amount < 0)).then(-amount).otherwise(turned)
    used = pl.col("kind") == "voucher used"  # it moves no money either way
    return frame.with_columns(pl.when(used).then(amount.abs()).otherwise(turned).alias("amount_cents")), asked


def _signs_of_out(frame: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """Which rows of money that goes out have a minus, and which are above nothing."""
    out, amount = frame["kind"].is_in(OUT), frame["amount_cents"]
    return (out & (amount < 0)).fill_null(value=False), (out & (amount > 0)).fill_null(value=False)


def _is_banks(frame: pl.DataFrame, mapping: Mapping) -> bool:
    """Whether a file writes money as a bank does: a minus for what goes out."""
    said = mapping.signs.get("amount")
    if said:
        return said == "out"
    minus, plus = _signs_of_out(frame)
    return minus.sum() > plus.sum()


def _asked_of_a_bank(frame: pl.DataFrame, mapping: Mapping) -> Iterator[Asked]:
    minus, plus = _signs_of_out(frame)
    if minus.any() and plus.any() and not mapping.signs.get("amount"):
        yield "amount", "sign-bank", plus if minus.sum() > plus.sum() else minus
