"""The oracle's shelf: one flow of lots and uses, stepped through day by day."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import count as numbers

from books_sums import cut


@dataclass
class Lot:
    row: int
    day: date
    quantity: int
    cents: int
    tag: str | None = None
    item: str | None = None
    source: str = "receipt"  # or "opening", "imputed"
    reserved: int = 0
    taken: int = 0  # beyond what is reserved
    first_use: date | None = None
    found: bool = False  # by a count

    @property
    def place(self) -> tuple[date, bool, int]:
        """What was there at the start lies before what was bought that day."""
        return self.day, self.source != "opening", self.row

    @property
    def left(self) -> int:
        return self.quantity - self.reserved - self.taken


@dataclass(frozen=True)
class Part:
    """Where a share of a use goes."""

    place: str
    piece: str | None
    layer: str
    weight: int


@dataclass
class Use:
    day: date
    row: int
    quantity: int
    layer: str
    parts: list[Part]
    lot: str | None = None
    item: str | None = None
    assumed: bool = False
    estimated: bool = False
    rework: bool = False
    after: int = 0  # 1 = at the end of the day, as a count is
    number: int = field(default_factory=numbers().__next__)
    own: tuple[Lot, int] | None = None  # the lot that it is a part of, and where that part begins
    patient: bool = False  # waits for its lot, as what a count settles does
    back: bool = False  # is no use: a count finds again what was lost

    @property
    def lost(self) -> bool:
        return self.after == 2 and self.parts[0].place == "waste"


@dataclass(frozen=True)
class Draw:
    """So much of a lot, for a use."""

    use: Use
    lot: Lot
    quantity: int
    cents: int
    day: date
    start: int = 0


@dataclass
class Count:
    day: date
    row: int
    quantity: int
    cause: str
    category: str


Settle = Callable[[Count, int, date | None], "list[Use] | None"]


@dataclass
class Flow:
    """One item's, or one species', lots and uses. `settle` says what a count's shortage was: uses, or None = a loss."""

    lots: list[Lot]
    uses: list[Use]
    counts: list[Count] = field(default_factory=list)
    late: int = 7
    draws: list[Draw] = field(default_factory=list)
    backs: list[Use] = field(default_factory=list)
    lost: list[tuple[Lot, int, int]] = field(default_factory=list)  # of which lot, from where in it, how much
    here: list[tuple[Lot, int, int]] = field(default_factory=list)  # the same, of what is here again

    def count(self, settle: Settle) -> None:
        """Turn each count into what it found: a lot, or uses. Quantities only.

        "Uses that name a lot reserve it first; unnamed uses draw on the rest": a count too is held against the rest.
        What lies there for a later use that names it is left out of it, and of the use and the lot.
        """
        begin: date | None = None
        opening = away = 0
        promises = self._promises()
        for count in sorted(self.counts, key=lambda c: (c.day, c.row)):
            kept = [quantity for lot, use, quantity in promises if lot.day <= count.day < use.day]
            lots = [x for x in self.lots if (begin is None or x.day > begin) and x.day <= count.day]
            uses = [u for u in self.uses if (begin is None or u.day > begin) and u.day <= count.day]
            free = [(lot.day, lot.quantity - sum(q for x, _, q in promises if x is lot)) for lot in lots]
            used = missing = 0
            for use in sorted(uses, key=lambda u: (u.day, u.row)):
                used += use.quantity - sum(q for _, u, q in promises if u is use)
                by = use.day + timedelta(days=self.late)
                missing = max(missing, used - opening - sum(quantity for day, quantity in free if day <= by))
            book = opening + sum(quantity for _, quantity in free) + missing - used
            there = max(count.quantity - sum(kept), 0)
            if there > book:
                again = min(away, there - book)
                away -= again
                if again:
                    waste = [Part("waste", None, count.category, 1)]
                    self.backs.append(Use(count.day, count.row, again, count.category, waste, after=3, back=True))
                if there - book > again:
                    self.lots.append(self._imputed(count.day, count.row, there - book - again, found=True))
            elif there < book:
                spent = settle(count, book - there, begin)
                away += sum(use.quantity for use in spent if use.lost)
                self.uses += spent
            begin, opening = count.day, there

    def _promises(self) -> list[tuple[Lot, Use, int]]:
        """What each use takes of the lot that it names, the earlier use first."""
        found: list[tuple[Lot, Use, int]] = []
        for use in sorted((u for u in self.uses if u.lot is not None), key=lambda u: (u.day, u.after, u.row)):
            missing = use.quantity
            for lot in (x for x in self.lots if x.tag == use.lot):
                take = min(missing, lot.quantity - sum(q for x, _, q in found if x is lot))
                if take > 0:
                    found.append((lot, use, take))
                    missing -= take
        return found

    def fifo(self) -> None:
        self.lots.sort(key=lambda lot: lot.place)
        for use in sorted([*self._reserve(), *self.backs], key=lambda u: (u.day, u.after, u.row)):
            if use.back:
                self._put_back(use)
                continue
            before = len(self.draws)
            self._take(use)
            if use.lost:
                self.lost += [(draw.lot, draw.start, draw.quantity) for draw in self.draws[before:]]

    def _put_back(self, use: Use) -> None:
        """What was lost first is found first, and what is found is taken before all else."""
        for lot, start, size in self._first_of(self.lost, use.quantity):
            cents = cut(lot.cents, start + size, lot.quantity) - cut(lot.cents, start, lot.quantity)
            self.draws.append(Draw(use, lot, -size, -cents, use.day))
            self.here.append((lot, start, size))

    @staticmethod
    def _first_of(some: list[tuple[Lot, int, int]], quantity: int) -> list[tuple[Lot, int, int]]:
        """So much of these parts, which they then lack."""
        out = []
        while quantity and some:
            lot, start, size = some.pop(0)
            take = min(size, quantity)
            out.append((lot, start, take))
            quantity -= take
            if take < size:
                some.insert(0, (lot, start + take, size - take))
        return out

    def _reserve(self) -> list[Use]:
        rest = []
        for use in sorted(self.uses, key=lambda u: (u.day, u.after, u.row)):
            missing = use.quantity
            if use.own:
                lot, start = use.own
                self._draw(use, lot, start, missing)
                lot.reserved = lot.quantity
                continue
            for lot in self.lots:
                if use.lot is None or lot.tag != use.lot or missing == 0:
                    continue
                take = min(missing, lot.quantity - lot.reserved)
                if take > 0:
                    self._draw(use, lot, lot.reserved, take)
                    lot.reserved += take
                    missing -= take
            if missing > 0:
                rest.append(replace(use, quantity=missing, lot=None))
        return rest

    def _draw(self, use: Use, lot: Lot, start: int, take: int) -> None:
        cents = cut(lot.cents, start + take, lot.quantity) - cut(lot.cents, start, lot.quantity)
        day = max(use.day, lot.day) if use.patient else use.day
        lot.first_use = min(lot.first_use or day, day)
        self.draws.append(Draw(use, lot, take, cents, day, start))

    def _late(self, day: date) -> date:
        """The last day of a receipt that may cover a use: within the days allowed, and before the next count."""
        counted = [c.day for c in self.counts if c.day >= day]
        return min(day + timedelta(days=self.late), *counted) if counted else day + timedelta(days=self.late)

    def _latest(self, use: Use, lot: Lot) -> date:
        if not lot.found:
            return self._late(use.day)
        # a count is taken after the day's work
        return use.day if use.after == 2 else use.day - timedelta(days=1)

    def _take(self, use: Use) -> None:
        missing = use.quantity
        for lot, start, size in self._first_of(self.here, missing):
            self._draw(use, lot, start, size)
            missing -= size
        for lot in list(self.lots):
            if missing == 0:
                break
            if lot.left <= 0 or (lot.day > self._latest(use, lot) and not use.patient):
                continue
            take = min(missing, lot.left)
            self._draw(use, lot, lot.reserved + lot.taken, take)
            lot.taken += take
            missing -= take
        if missing > 0:
            lot = self._imputed(use.day, use.row, missing)
            lot.taken = missing
            self.lots.append(lot)
            self.lots.sort(key=lambda lot: lot.place)
            self._draw(use, lot, 0, missing)

    def _imputed(self, day: date, row: int, quantity: int, found: bool = False) -> Lot:
        """A lot that must have been there, at the last unit cost known that day, else the next."""
        priced = [lot for lot in self.lots if lot.cents > 0 and lot.quantity > 0 and lot.source != "imputed"]
        priced.sort(key=lambda lot: lot.place)
        earlier = [lot for lot in priced if lot.day <= day]
        model = earlier[-1] if earlier else (priced[0] if priced else None)
        cents = cut(model.cents, quantity, model.quantity) if model else 0
        return Lot(row, day, quantity, cents, None, self.lots[0].item if self.lots else None, "imputed", found=found)

    def average(self) -> None:
        """One running pool; draws that name a lot stand apart."""
        self.lots.sort(key=lambda lot: lot.place)
        rest = self._reserve()
        waiting, quantity, cents = list(self.lots), 0, 0
        away = lost = 0
        for use in sorted([*rest, *self.backs], key=lambda u: (u.day, u.after, u.row)):
            if use.back:
                paid = cut(lost, use.quantity, away)
                away, lost, quantity, cents = away - use.quantity, lost - paid, quantity + use.quantity, cents + paid
                self.draws.append(Draw(use, Lot(0, use.day, 0, 0), -use.quantity, -paid, use.day))
                continue
            while waiting:
                lot, latest = waiting[0], self._latest(use, waiting[0])
                if lot.day > latest or (lot.day > use.day and quantity >= use.quantity):
                    break
                waiting.pop(0)
                lot.first_use = min(lot.first_use or lot.day, use.day)
                quantity += lot.quantity - lot.reserved
                cents += lot.cents - cut(lot.cents, lot.reserved, lot.quantity) if lot.quantity else 0
            if use.quantity > quantity:
                lot = self._imputed(use.day, use.row, use.quantity - quantity)
                lot.taken = lot.quantity
                self.lots.append(lot)
                cents += lot.cents
                quantity = use.quantity
            paid = cut(cents, use.quantity, quantity) if quantity else 0
            quantity -= use.quantity
            cents -= paid
            if use.lost:
                away, lost = away + use.quantity, lost + paid
            self.draws.append(Draw(use, Lot(0, use.day, 0, 0), use.quantity, paid, use.day))
