"""A layer of a piece's cost: its lines beside what is usual, and the records behind them."""

import polars as pl

from dashboard import settings_in_force, widgets, words
from dashboard.widgets import Column, Page


def show(page: Page, piece: str, layer: str, key: str = "") -> None:
    """The lines, the rules in force on the day that it was finished, then the records."""
    columns = [
        Column("operation", "Operation", lambda name: name or words.DASH),
        *([Column("hours", "Hours", words.decimal(2), number=True)] if layer == "labour" else []),
        Column("cents", "Here", page.money, number=True),
        Column("usual_cents", "Usual", page.money.exact.otherwise("not told"), number=True),
        Column("rework_cents", "Of it rework", page.money, number=True),
        Column("records", "Records", number=True),
    ]
    lines = page.book.piece_lines(piece).filter(pl.col("layer") == layer)
    widgets.table(page, lines, columns, f"lines-{piece}-{layer.replace(' ', '-')}", key=key)
    row = page.book.pieces().filter(pl.col("piece") == piece).row(0, named=True)
    if day := row["finished"] or row["started"]:
        settings_in_force.show(page, day, *settings_in_force.of_layer(layer))
    widgets.records(page, page.book.piece_trace(piece, layer), f"{words.layer(layer)} in {piece}")
