"""Cells of a CSV that a spreadsheet would run as a formula are written so that it shows them as text instead.

A cell that begins with =, +, -, @, a tab or a carriage return gets an apostrophe before it, unless it is a plain number
(OWASP, "CSV Injection"). `restored` takes the apostrophe away again.
"""

import polars as pl

_STARTS = r"^[=+\-@\t\r]"
_NUMBER = r"^[+-]?[\d.,]+$"


def neutral(cell: str) -> pl.Expr:
    """A String column with its formula-like cells made harmless."""
    text = pl.col(cell)
    risky = text.str.contains(_STARTS) & ~text.str.contains(_NUMBER)
    return pl.when(risky).then(pl.concat_str(pl.lit("'"), text)).otherwise(text).alias(cell)


def restored(cell: str) -> pl.Expr:
    """The column as it was before `neutral`."""
    return pl.col(cell).str.replace(r"^'([=+\-@\t\r])", "$1")
