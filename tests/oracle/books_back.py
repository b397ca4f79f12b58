"""The oracle's goods sent back: which purchase each line comes off, and what is lost of a lot that went back whole."""

from collections import defaultdict
from collections.abc import Callable

from books_flow import Lot
from books_hours import Row
from books_sums import cut, shares


class SentBack:
    """`parts`: lines with the lot that they come off (or none) and their cents. `emptied`: lots with what is lost."""

    def __init__(self, back: list[Row], lots: list[Lot], measured: Callable[[Row], int], net: dict[int, int]) -> None:
        self.lots = sorted(lots, key=lambda x: x.place)
        self.whole = {id(x): x.quantity for x in lots}
        self.left = {row["row_id"]: measured(row) for row in back}
        self.takes: dict[int, list[tuple[Lot | None, int]]] = defaultdict(list)
        self.parts: list[tuple[Row, Lot | None, int]] = []
        back = sorted(back, key=lambda r: (r["on_date"], r["row_id"]))
        for row in back:  # what is named is kept for the line that names it
            mine = [x for x in self.lots if row["returns"] and (x.item, x.tag) == (row["item"], row["returns"])]
            for lot in mine[-1:]:
                self._take(row, lot)
        for row in back:
            for lot in reversed(self.lots):
                if lot.item == row["item"] and lot.day <= row["on_date"]:
                    self._take(row, lot)
            rest, takes = self.left[row["row_id"]], self.takes[row["row_id"]]
            if rest or not takes:
                takes.append((None, rest))
            cents = shares(net[row["row_id"]], self._worth(takes))
            self.parts += [(row, sent, c) for (sent, _), c in zip(takes, cents, strict=True)]
        self.emptied = self._settle()

    def _take(self, row: Row, lot: Lot) -> None:
        quantity = min(self.left[row["row_id"]], lot.quantity)
        if quantity > 0:
            self.left[row["row_id"]] -= quantity
            lot.quantity -= quantity
            self.takes[row["row_id"]].append((lot, quantity))

    def _worth(self, takes: list[tuple[Lot | None, int]]) -> list[int]:
        """What each part had cost, in thousandths; what no lot holds at the mean of the rest, free goods by number."""
        worth = {
            at: max(cut(1000 * lot.cents, quantity, self.whole[id(lot)]), 0)
            for at, (lot, quantity) in enumerate(takes)
            if lot and self.whole[id(lot)]
        }
        if not sum(worth.values()):
            return [quantity for _, quantity in takes]
        number = sum(takes[at][1] for at in worth)
        return [worth.get(at, cut(sum(worth.values()), quantity, number)) for at, (_, quantity) in enumerate(takes)]

    def _settle(self) -> list[tuple[Row, Lot, int]]:
        last: dict[int, Row] = {}
        for row, sent, cents in self.parts:
            if sent:
                sent.cents += cents
                last[id(sent)] = row
        out = []
        for lot in self.lots:
            # nothing of it is on the shelf that its cost could be for
            if id(lot) in last and not lot.quantity:
                out.append((last[id(lot)], lot, lot.cents))
                lot.cents = 0
        return out
