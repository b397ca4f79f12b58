"""Cells of a CSV that a spreadsheet would run as a formula are written so that it shows them as text instead.

A cell that begins with =, +, -, @, a tab, a carriage return or a line feed gets an apostrophe before it, unless it is a
plain number (CWE-1236; OWASP, "CSV Injection"). `restored` takes the apostrophe away again.
"""

import polars as pl

_STARTS = r"[=+\-@\t\r\n]"
_NUMBER = r"^[+-]?[\d.,]+$"


def neutral(text: pl.Expr) -> pl.Expr:
    """String columns with their formula-like cells made harmless."""
    risky = text.str.contains(f"^{_STARTS}") & ~text.str.contains(_NUMBER)
    return pl.when(risky).then(pl.lit("'") + text).otherwise(text).name.keep()


def restored(cell: str) -> pl.Expr:
    """The column as it was before `neutral`."""
    return pl.col(cell).str.replace(f"^'({_STARTS})", "$1")
