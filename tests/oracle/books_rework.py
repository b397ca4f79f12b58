"""The oracle's mending: what of a month's rework is more than is normal, and so a loss of the month."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from books_sums import cut, month_end, month_of, months

if TYPE_CHECKING:
    from datetime import date

    from books import Books, Move


def lose(books: Books) -> None:
    """Turns the part of each piece's rework that is not normal into a loss of its day."""
    for month in months(books.shop["start"], books.horizon):
        share = books.rule("normal_rework_ppm", month_end(month))
        if share is not None:
            _month(books, month, share)


def _month(books: Books, month: date, share: int) -> None:
    again = [m for m in books.moves if m.rework and m.place == "piece" and month_of(m.day) == month]
    if not again:
        return
    end = month_end(month)
    gross = sum(cut(_before(books, tag, end), *_again(books, tag, end)) for tag in {m.piece or "" for m in again})
    good = 0
    for tag, piece in books.pieces.items():
        done = piece.row["finished"]
        if done and month_of(done) == month and not books.exits._gone_by(piece, end):
            fit = piece.quantity - books.exits._scrapped_units(tag, end) - _again(books, tag, end)[0]
            good += cut(_before(books, tag, end), max(fit, 0), piece.quantity)
    allowed, whole = min(cut(good, share, 10**6), gross), gross
    if not gross or not share:
        allowed, whole = (1 if share else 0), 1
    run = 0
    for move in sorted(again, key=lambda m: (m.day, m.piece or "", m.layer, m.origin)):
        kept = cut(run + move.cents, allowed, whole) - cut(run, allowed, whole)
        run += move.cents
        _part(books, move, kept)


def _part(books: Books, move: Move, kept: int) -> None:
    books.moves.remove(move)
    for place, cents in (("piece", kept), ("waste", move.cents - kept)):
        if cents:
            books.moves.append(replace(move, place=place, cents=cents))


def _before(books: Books, tag: str, end: date) -> int:
    """What a piece had cost without mending."""
    own = [m for m in books.moves if m.place == "piece" and m.piece == tag and m.day <= end]
    return sum(m.cents for m in own if not m.rework and m.cents > 0)


def _again(books: Books, tag: str, end: date) -> tuple[int, int]:
    """The units of a piece that had to be mended by a day, of how many; all, where no look says how many."""
    units = books.pieces[tag].quantity
    looks = [r for r in books.records["inspections"] if r["piece"] == tag and r["action"] == "rework"]
    looks = [r for r in looks if r["on_date"] <= end]
    if looks:
        return min(units, sum(r["quantity"] or units for r in looks)), units
    mended = any(m.rework and m.piece == tag and m.day <= end and m.source != "piece" for m in books.moves)
    return (units if mended else 0), units
