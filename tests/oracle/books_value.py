"""The oracle's slabs whose blanks all have a value: what was cut of them goes by it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from books_sums import shares

if TYPE_CHECKING:
    from books_flow import Draw, Flow, Lot
    from books_hours import Piece


def blank_values(flow: Flow, lot: Lot, pieces: dict[str, Piece]) -> dict[str, int]:
    """Piece → what its blanks of a lot are worth; none where one of the blanks has no value."""
    rows = {piece.row["row_id"] for piece in pieces.values()}
    others = [d for d in flow.draws if d.lot is lot and d.use.row not in rows]
    if any(d.use.parts[0].place in ("piece", "period") for d in others):
        return {}
    found = {tag: (pieces[tag].row["blank_value_cents"] or 0) * pieces[tag].quantity for tag in _cut(flow, lot, pieces)}
    return found if all(found.values()) else {}


def share_by_value(flow: Flow, pieces: dict[str, Piece]) -> None:
    for lot in flow.lots:
        values = blank_values(flow, lot, pieces)
        cut = _cut(flow, lot, pieces)
        tags = sorted(values)
        total = sum(draw.cents for draw in cut.values())
        for tag, cents in zip(tags, shares(total, [values[t] for t in tags]), strict=True):
            flow.draws[flow.draws.index(cut[tag])] = replace(cut[tag], cents=cents)


def _cut(flow: Flow, lot: Lot, pieces: dict[str, Piece]) -> dict[str, Draw]:
    rows = {piece.row["row_id"]: tag for tag, piece in pieces.items()}
    return {rows[d.use.row]: d for d in flow.draws if d.lot is lot and d.use.row in rows}
