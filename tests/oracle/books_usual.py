"""The oracle's comparable pieces: what each has on record, what most like it have, and what it lacks.

Small shops only: of twenty finished pieces and more the pipeline also looks at the whole shop and at records that are
likely lost, which is judged by a simulation instead (tests/estimates/test_part_logged.py).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from books_sums import lower_median, rounded

if TYPE_CHECKING:
    from books_hours import Bench, Piece

Row = dict[str, Any]

Thing = tuple[str, str, str]
"""What is wanted (work, machine, resin, item), its name, and the machine or category."""

FINE = 10**12
AS_PIECES = 4
BEARS = ("sanding", "finishing", "pouring")


def drawn_to(narrow: int | None, pieces: int, wide: int | None) -> int | None:
    if narrow is None or wide is None:
        return wide if narrow is None else narrow
    return (pieces * narrow + AS_PIECES * wide) // (pieces + AS_PIECES)


def windows(records: dict[str, list[Row]]) -> dict[str, list[tuple[date, date]]]:
    """Days on which a piece is back at the bench, both ends in it."""
    looks: dict[str, dict[date, set[str]]] = defaultdict(lambda: defaultdict(set))
    for row in records["inspections"]:
        if row["piece"] and row["action"]:
            looks[row["piece"]][row["on_date"]].add(row["action"])
    out: dict[str, list[tuple[date, date]]] = defaultdict(list)
    for tag, days in looks.items():
        for day, actions in days.items():
            if "rework" in actions:
                passed = [d for d, a in days.items() if d > day and a & {"accept", "discount", "scrap"}]
                out[tag].append((day, min(passed, default=date.max)))
    return out


@dataclass
class Usual:
    """`had` of a thing: piece → amount. Comparable pieces are the finished ones of a product."""

    pieces: dict[str, Piece]

    def __post_init__(self) -> None:
        self.had: dict[Thing, dict[str, int]] = defaultdict(dict)
        self.finished = [
            p for p in self.pieces.values() if p.status == "finished" and p.row["opening_cost_cents"] is None
        ]

    def add(self, thing: Thing, piece: str, amount: int) -> None:
        self.had[thing][piece] = self.had[thing].get(piece, 0) + amount

    def bears(self, thing: Thing) -> bool:
        want, name, part = thing
        return want == "resin" or name in BEARS or (want == "item" and part in ("finish", "abrasive", "colourant"))

    def amount(self, thing: Thing, piece: Piece) -> int:
        """What is usual of a thing for a piece; 0 where most of its like have none of it."""
        group = [p for p in self.finished if p.row["product"] == piece.row["product"]]
        have = [p for p in group if p.tag in self.had[thing]]
        if len(group) < 3 or not have:
            return 0
        share = Fraction(len(have), len(group))
        by_surface, by_unit = self._rates(thing, have)
        if self.bears(thing):
            for fields in (("finish",), ("finish", "species")):
                if not piece.row[fields[-1]]:
                    continue
                alike = [p for p in group if all((p.row[f] or "") == (piece.row[f] or "") for f in fields)]
                some = [p for p in alike if p.tag in self.had[thing]]
                share = (len(some) + AS_PIECES * share) / (len(alike) + AS_PIECES)
                narrow_surface, narrow_unit = self._rates(thing, some)
                by_surface = drawn_to(narrow_surface, len(some), by_surface)
                by_unit = drawn_to(narrow_unit, len(some), by_unit)
        if share < Fraction(3, 4) if thing[0] in ("item", "resin") else share <= Fraction(1, 2):
            return 0
        if by_surface is not None and piece.area:
            return rounded(Fraction(by_surface * piece.area, FINE))
        return rounded(Fraction((by_unit or 0) * piece.quantity, FINE))

    def _rates(self, thing: Thing, some: list[Piece]) -> tuple[int | None, int | None]:
        if not some:
            return None, None
        had = self.had[thing]
        sized = [p for p in some if p.area] if thing[0] != "item" or thing[2] != "hardware" else []
        by_surface = lower_median(had[p.tag] * FINE // p.area for p in sized) if sized else None
        return by_surface, lower_median(had[p.tag] * FINE // p.quantity for p in some)

    def lacking(self, want: str) -> dict[tuple[str, Thing], int]:
        """What pieces have nothing of though most of their like have: piece and thing → the usual amount."""
        out = {}
        for thing in sorted(t for t in self.had if t[0] == want):
            for tag, piece in self.pieces.items():
                if piece.row["opening_cost_cents"] is not None or tag in self.had[thing]:
                    continue
                if want == "machine" and tag in self.had["work", thing[1], ""]:
                    continue  # it may have been done by hand
                amount = self.amount(thing, piece)
                if amount and not (want == "item" and self._instead(thing, piece)):
                    out[tag, thing] = amount
        return out

    def _instead(self, thing: Thing, piece: Piece) -> bool:
        """Whether it has another item of that category, one that is not usual for it."""
        return any(
            piece.tag in had and not self.amount(other, piece)
            for other, had in self.had.items()
            if other[0] == "item" and other[2] == thing[2]
        )


def worked(usual: Usual, bench: Bench) -> None:
    """The hours that name their pieces, as things they have."""
    for hour in bench.hours:
        if not hour.piece or hour.kind != "bench" or hour.rework or bench.gone(hour.piece, hour.day):
            continue
        usual.add(("work", hour.operation, ""), hour.piece, hour.seconds)
        if hour.machine:
            usual.add(("machine", hour.operation, hour.machine), hour.piece, hour.machine_seconds)
