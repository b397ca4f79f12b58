"""Which way money goes: what a minus means on a return, on a fee, and in a bank's export.

What came back or was sent back (a negative quantity) turns all money of its row round, however that is written. On
other rows a column's own habit says what a minus means: a till that writes all its fees with a minus means fees. Where
a column has both, each counts as a cost and the file asks once: nothing becomes an income by accident.
"""

from collections.abc import Iterator, Sequence

import polars as pl

from pipeline.mapping import SIGNS, Mapping
from pipeline.tables import in_polars

QUESTION = in_polars(dict.fromkeys(("file", "sheet", "record", "field", "code"), "VARCHAR") | {"rows": "BIGINT"})

COSTS = {
    record: tuple(name for (of, name), said in SIGNS.items() if of == record and "cost" in said)
    for record in ("sales", "purchases")
}
"""Amounts that a row rarely has below nothing: there a minus is a way of writing."""

TURNED = {
    "sales": ("price", *COSTS["sales"], "shipping_charged"),
    "purchases": ("amount", *COSTS["purchases"]),
}
"""All money of a row that what came back turns round; a price stays above nothing, for its quantity is below it."""

OUT = ("refund", "supplier", "pay", "drawing", "tax")
"""Kinds of payments whose amount, written without a sign, goes out."""

Told = tuple[pl.DataFrame, pl.DataFrame]


def apply(
    frame: pl.DataFrame, mapping: Mapping, file: str, sheet: str, already: Sequence[tuple[str, str, int]] = ()
) -> Told:
    """The frame with its money the right way round, and what the file must be asked, with what it is asked `already`:
    field, code, rows."""
    record = mapping.record
    if record == "payments":
        turned, asked = _payments(frame, mapping)
    elif record in COSTS:
        turned, asked = _rows(frame, mapping)
    else:
        return frame, pl.DataFrame(schema=QUESTION)
    rows = [(file, sheet, record, name, code, number) for name, code, number in (*already, *asked)]
    return turned, pl.DataFrame(rows, schema=QUESTION, orient="row")


def _rows(frame: pl.DataFrame, mapping: Mapping) -> tuple[pl.DataFrame, list[tuple[str, str, int]]]:
    back = (pl.col("quantity") < 0).fill_null(False)
    fits = _adds_up() if mapping.record == "purchases" else pl.lit(False)
    frame = frame.with_columns(back.alias("_back"), fits.fill_null(False).alias("_fits"))
    turned: list[pl.Expr] = []
    asked: list[tuple[str, str, int]] = []
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


def _seen(frame: pl.DataFrame, name: str) -> tuple[int, int]:
    """How many rows that are no returns have the amount with a minus, and how many above nothing."""
    forward = frame.filter(~pl.col("_back") & ~pl.col("_fits"))
    if name in ("tax", "freight", "discount") and "amount_cents" in frame.columns:
        forward = forward.filter(pl.col("amount_cents") >= 0)  # a credit's own tax is below nothing too
    values = forward[f"{name}_cents"]
    return int((values < 0).sum()), int((values > 0).sum())


def _forward(frame: pl.DataFrame, name: str, mapping: Mapping) -> tuple[pl.Expr, tuple[str, str, int] | None]:
    """The amount of a row that is no return as a cost, and the question where its column has both signs."""
    column = pl.col(f"{name}_cents")
    credit = pl.col("amount_cents") < 0 if mapping.record == "purchases" else pl.lit(False)
    said = mapping.signs.get(name)
    if said:
        return (-column if said == "cost" else column), None
    minus, plus = _seen(frame, name)
    if not minus:
        return column, None
    cost = pl.when(credit).then(column).otherwise(column.abs())
    return cost, (name, "sign-cost", minus) if plus else None


def _odd(frame: pl.DataFrame, name: str) -> tuple[str, str, int] | None:
    minus, _ = _seen(frame, name)
    return (name, "sign-income", minus) if minus else None


def _payments(frame: pl.DataFrame, mapping: Mapping) -> tuple[pl.DataFrame, list[tuple[str, str, int]]]:
    """Amounts as the kind says: of what goes out, a bank's minus is taken off."""
    amount, out = pl.col("amount_cents"), pl.col("kind").is_in(OUT)
    asked = list(_asked_of_a_bank(frame, mapping))
    turned = pl.when(out).then(-amount if _is_banks(frame, mapping) else amount).otherwise(amount)
    if not mapping.signs.get("amount"):
        turned = pl.when(out & (amount < 0)).then(-amount).otherwise(turned)
    used = pl.col("kind") == "voucher used"  # it moves no money either way
    return frame.with_columns(pl.when(used).then(amount.abs()).otherwise(turned).alias("amount_cents")), asked


def _signs_of_out(frame: pl.DataFrame) -> tuple[int, int]:
    out = frame.filter(pl.col("kind").is_in(OUT))["amount_cents"]
    return int((out < 0).sum()), int((out > 0).sum())


def _is_banks(frame: pl.DataFrame, mapping: Mapping) -> bool:
    """Whether a file writes money as a bank does: a minus for what goes out."""
    said = mapping.signs.get("amount")
    if said:
        return said == "out"
    minus, plus = _signs_of_out(frame)
    return minus > plus


def _asked_of_a_bank(frame: pl.DataFrame, mapping: Mapping) -> Iterator[tuple[str, str, int]]:
    minus, plus = _signs_of_out(frame)
    if minus and plus and not mapping.signs.get("amount"):
        yield "amount", "sign-bank", min(minus, plus)
