"""The oracle's doors: sales, returns, gifts, losses, scrap, and what it costs to sell."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from books_hours import Piece, Row, in_force
from books_sums import cut, lower_median, month_end, month_of, months, shares

if TYPE_CHECKING:
    from collections.abc import Iterator

    from books import Books, Move

ENDS = {"gift": "period", "kept": "own use", "lost": "waste", "scrapped": "pool", "test": "pool"}


@dataclass(frozen=True)
class Exit:
    day: date
    row: int
    piece: str
    units: int
    place: str
    turn: int


class Exits:
    def __init__(self, books: Books) -> None:
        self.b = books
        self.of: dict[str, list[Exit]] = defaultdict(list)
        self.unmatched: list[tuple[Row, int]] = []
        self.tagged: dict[str, dict[date, int]] = defaultdict(lambda: defaultdict(int))
        self.guessed: dict[str, int] = defaultdict(int)
        self._scraps()
        self._sales()
        self._ends()

    def _sales(self) -> None:
        rows = sorted(self.b.records["sales"], key=lambda r: (r["on_date"], r["row_id"]))
        for row in rows:
            # what was scrapped or kept when it came back is not for sale again
            if row["piece"] and not (row["quantity"] < 0 and row["returned_to"] in ("scrap", "kept")):
                self.tagged[row["piece"]][row["on_date"]] += row["quantity"]
        for row in rows:
            tag = row["piece"]
            if not tag and row["lot"]:
                continue
            if tag:
                self._sale(row, tag, row["quantity"])
                continue
            left = row["quantity"]
            for fit in self._fits(row):
                units = min(left, self._free(fit, row["on_date"]))
                if units > 0:
                    self.guessed[fit] += units
                    left -= units
                    self._sale(row, fit, units)
            if left > 0:
                self.unmatched.append((row, left))

    def _sale(self, row: Row, tag: str, units: int) -> None:
        place = "sold"
        head = (row["on_date"], row["row_id"], tag)
        self.of[tag].append(Exit(*head, units, place, 1 if units < 0 else 2))
        if row["quantity"] < 0 and row["returned_to"] in ("scrap", "kept"):
            there = "pool" if row["returned_to"] == "scrap" else "own use"
            self.of[tag].append(Exit(*head, -row["quantity"], there, 3))

    def _free(self, tag: str, day: date) -> int:
        """Units on the shelf on a day that no later record needs."""
        days = {d for d in self.tagged[tag] if d > day} | {day}
        most = max(sum(units for d, units in self.tagged[tag].items() if d <= last) for last in days)
        return self.b.pieces[tag].quantity - most - self.guessed[tag]

    def _scraps(self) -> None:
        """Units of a run that an inspection found fit for scrap only."""
        for row in self.b.records["inspections"]:
            if row["action"] == "scrap" and row["piece"] and row["quantity"]:
                self.tagged[row["piece"]][row["on_date"]] += row["quantity"]
                self.of[row["piece"]].append(
                    Exit(row["on_date"], row["row_id"], row["piece"], row["quantity"], "pool", 3)
                )

    def _fits(self, row: Row) -> list[str]:
        """The pieces that a sale without a tag may have been of: the nearest list price first, then the oldest."""
        fits = []
        for piece in self.b.pieces.values():
            own = piece.row
            begun = own["finished"] and own["finished"] <= row["on_date"]
            if own["product"] != row["product"] or not begun or piece.status != "finished" or own["order_no"]:
                continue
            asked = self._asked(own, row["on_date"])
            fits.append((asked is None, abs((asked or 0) - row["price_cents"]), own["finished"], piece.tag))
        return [tag for *_, tag in sorted(fits)]

    def _asked(self, own: Row, day: date) -> int | None:
        """What the piece's label says that day; a sale before there was one tells that the first hung there already."""
        told = [(own["listed"] or date.min, 1, own["list_price_cents"])]
        for move in self.b.records["moves"]:
            if own["piece"] in (move["pieces"] or []):
                told.append((move["on_date"], 0, move["list_price_cents"]))
        labels: dict[date, int] = {}
        for begins, _, cents in sorted(each for each in told if each[2] is not None):
            labels.setdefault(begins, cents)
        hung = [begins for begins in labels if begins <= day] or sorted(labels)[:1]
        return labels[max(hung)] if hung else None

    def _ends(self) -> None:
        for piece in self.b.pieces.values():
            place = ENDS.get(piece.status)
            day = self._end(piece) if place else None
            if not place or not day:
                continue
            # what comes back later is not there to be given away, lost or scrapped
            left = piece.quantity - sum(e.units for e in self.of[piece.tag] if e.day <= day)
            if left > 0:
                self.of[piece.tag].append(Exit(day, piece.row["row_id"], piece.tag, left, place, 4))
        for some in self.of.values():
            # on one day what comes back comes first, then sales, what goes on from a return, and the end
            some.sort(key=lambda e: (e.day, e.turn, e.row))

    def _end(self, piece: Piece) -> date | None:
        """The day a piece ended; a test for an order waits for a piece that can take its cost, or the order's end."""
        day: date = piece.row["ended"] or piece.row["finished"] or self.b.horizon
        order = piece.row["order_no"]
        if piece.status != "test" or not order:
            return day
        waits = [
            max(day, p.start) for p in self.b.pieces.values() if self._takes(p, order, month_of(max(day, p.start)))
        ]
        waits += [
            max(day, r["cancelled"]) for r in self.b.records["orders"] if r["order_no"] == order and r["cancelled"]
        ]
        return min(waits, default=None)

    def _takes(self, piece: Piece, order: str, month: date) -> bool:
        """Whether a piece takes what tests for its order cost in a month: from its beginning until it was scrapped."""
        if piece.row["order_no"] != order or piece.status == "test" or piece.start > month_end(month):
            return False
        ended = piece.row["ended"] or piece.row["finished"] or self.b.horizon
        return piece.status not in ("scrapped", "lost") or month_of(ended) >= month

    def gone(self, tag: str, day: date) -> bool:
        """Whether the last unit left on an earlier day, and none was back before this one."""
        piece = self.b.pieces[tag]
        before = sum(e.units for e in self.of[tag] if e.day < day)
        return before >= piece.quantity

    def scrapped(self, tag: str, day: date) -> bool:
        """Whether some of the piece was scrapped, or a test, by the end of that month."""
        return self._scrapped_units(tag, month_end(day)) > 0

    def _scrapped_units(self, tag: str, day: date) -> int:
        return sum(e.units for e in self.of[tag] if e.place == "pool" and e.day <= day)

    # what selling costs

    def selling(self) -> None:
        for row in self.b.records["sales"]:
            self._fees(row)
        self._booths()

    def _fees(self, row: Row) -> None:
        rule = in_force(self.b.settings["channel"], row["channel"], row["on_date"]) or {}
        price = row["price_cents"] * row["quantity"] - (row["discount_cents"] or 0)
        paid = price + (row["shipping_charged_cents"] or 0) + (row["sales_tax_cents"] or 0)
        for field, base, share, fixed in (
            ("channel_fee_cents", price, "share_ppm", "fixed_cents"),
            ("payment_fee_cents", paid, "payment_share_ppm", "payment_fixed_cents"),
        ):
            cents, guessed = row[field], False
            if cents is None and rule and row["quantity"] > 0:
                cents, guessed = cut(base * (rule[share] or 0), 1, 10**6) + (rule[fixed] or 0), True
            self.b.move(
                row["on_date"],
                row["row_id"],
                "fee",
                "sold",
                "selling",
                cents or 0,
                piece=row["piece"],
                estimated=guessed,
            )
        self.b.move(
            row["on_date"], row["row_id"], "fee", "sold", "selling", row["shipping_paid_cents"] or 0, piece=row["piece"]
        )

    def _booths(self) -> None:
        fees: dict[str, list[tuple[date, int, str, int]]] = defaultdict(list)
        for row in self.b.records["purchases"]:
            if row["category"] == "selling" and row["event"]:
                fees[row["event"]].append((row["on_date"], row["row_id"], "receipt", self.b.net[row["row_id"]]))
        for event in self.b.settings["event"]:
            if event["name"] not in fees and event["fee_cents"]:
                day = event["day"] or self.b.shop["start"]
                fees[event["name"]].append((day, event["row_id"], "setting", event["fee_cents"]))
        days = {e["name"]: e["day"] for e in self.b.settings["event"]}
        for event, some in fees.items():
            sales = [r for r in self.b.records["sales"] if r["event"] == event and r["quantity"] > 0]
            sales.sort(key=lambda r: (r["on_date"], r["row_id"]))
            for day, row_id, source, cents in some:
                self.b.move(day, row_id, source, "pool", "selling", cents, item=event)
                if not sales:
                    # a market that sold nothing is a loss of its own day, though its booth was paid before
                    lost = max(day, days.get(event) or day)
                    self.b.move(lost, row_id, "pool", "period", "selling", cents, item=event)
                    continue
                weights = [r["price_cents"] * r["quantity"] - (r["discount_cents"] or 0) for r in sales]
                for sale, part in zip(sales, shares(cents, weights), strict=True):
                    when = max(day, sale["on_date"])
                    self.b.move(when, row_id, "pool", "sold", "selling", part, item=event, piece=sale["piece"])

    # leaving

    def run(self) -> None:
        into: dict[str, list[Move]] = defaultdict(list)
        for move in self.b.moves:
            if move.place == "piece" and move.piece:
                into[move.piece].append(move)
        for month in months(self.b.shop["start"], self.b.horizon):
            self._spoilage(into, month)
        for tag in sorted(self.of):
            self.b.moves += self._leave(tag, into[tag])
        self._unmatched()

    def _leave(self, tag: str, inflows: list[Move]) -> list[Move]:
        from books import Move

        cost, out = 0, []
        taken_over: dict[date, int] = defaultdict(int)
        inflows = sorted(inflows, key=lambda m: (m.day, m.layer, m.origin, m.item or "", m.cents))
        for inflow in inflows:
            takers, units = self._takers(tag, inflow)
            gone, before = 0, taken_over[inflow.day] if inflow.layer == "spoilage" else 0 if inflow.cents < 0 else cost
            for leaving in takers:
                new = gone + leaving.units
                cents = cut(before + inflow.cents, new, units) - cut(before, new, units)
                cents -= cut(before + inflow.cents, gone, units) - cut(before, gone, units)
                gone = new
                day = max(inflow.day, leaving.day)
                layer = "selling" if self.b.pieces[tag].status == "gift" and leaving.place == "period" else inflow.layer
                # scrap that a piece had taken over is lost with it, not shared out again
                place = "waste" if leaving.place == "pool" and inflow.layer == "spoilage" else leaving.place
                item = "spoilage" if place == "pool" else None
                if cents:
                    out.append(Move(day, leaving.row, "piece", place, layer, inflow.origin, cents, tag, item=item))
            if inflow.layer == "spoilage":
                taken_over[inflow.day] += inflow.cents
            elif inflow.cents > 0:
                cost += inflow.cents
        return out

    def _apart(self, inflow: Move) -> bool:
        """Scrap taken over, and what was saved from scrap, are not for all units of a run."""
        return inflow.layer == "spoilage" or inflow.cents < 0

    def _takers(self, tag: str, inflow: Move) -> tuple[list[Exit], int]:
        """The ways out by which a cost leaves, and of how many units: what was saved comes off the scrapped ones, scrap
        taken over is for those still good, if there were any."""
        exits, total = self.of[tag], self.b.pieces[tag].quantity
        if inflow.cents < 0:
            some = [e for e in exits if e.place == "pool" and e.day <= month_end(inflow.day)]
            return some, sum(e.units for e in some)
        good = total - self._scrapped_units(tag, inflow.day)
        if inflow.layer == "spoilage" and good > 0:
            return [e for e in exits if e.place != "pool" or e.day > inflow.day], good
        return exits, total

    def _spoilage(self, into: dict[str, list[Move]], month: date) -> None:
        end = month_end(month)
        given = self._tests(into, month)
        circles: dict[object, list[Move]] = defaultdict(list)
        gross: dict[object, int] = defaultdict(int)
        for tag, piece in self.b.pieces.items():
            if piece.status != "test" and (tag in given or any(e.place == "pool" for e in self.of[tag])):
                pooled, circle = self._pooled(tag, into, month), self._circle(piece)
                # before anything was saved
                gross[circle] += sum(m.cents for m in (*pooled, *given[tag]) if m.cents > 0)
                circles[circle] += self._net(pooled, end, into) + given[tag]
        for circle, moves in circles.items():
            some = sorted(moves, key=lambda m: (m.day, m.row or 0))
            self._share_scrap(circle, some, gross[circle], month, end, into)

    def _pooled(self, tag: str, into: dict[str, list[Move]], month: date) -> list[Move]:
        return [m for m in self._leave(tag, into[tag]) if m.place == "pool" and month_of(m.day) == month]

    def _tests(self, into: dict[str, list[Move]], month: date) -> dict[str, list[Move]]:
        """The month's tests onto the pieces of their order; what falls on scrap of the month goes on with it."""
        end = month_end(month)
        tests: dict[str, list[Move]] = defaultdict(list)
        for tag, piece in self.b.pieces.items():
            if piece.status == "test":
                tests[piece.row["order_no"] or ""] += self._net(self._pooled(tag, into, month), end, into)
        given: dict[str, list[Move]] = defaultdict(list)
        for order, moves in tests.items():
            takers = [p for p in self.b.pieces.values() if order and self._takes(p, order, month)]
            for move in () if takers else moves:
                self._out(end, move, "period", None, move.cents, into)
            units = [(piece, piece.quantity) for piece in takers]
            for piece, move, cents in self._laid(moves, sum(m.cents for m in moves), units):
                if piece.status == "scrapped" and month_of(piece.row["ended"] or piece.row["finished"]) == month:
                    given[piece.tag].append(replace(move, cents=cents))
                else:
                    self._out(end, move, "piece", piece.tag, cents, into)
        return given

    def _net(self, moves: list[Move], end: date, into: dict[str, list[Move]]) -> list[Move]:
        """What was saved from a piece comes off its other cost, own labour last; the rest lessens the losses."""
        saved = -sum(m.cents for m in moves if m.cents < 0)
        out = []
        for move in sorted(moves, key=lambda m: m.origin == "own labour"):
            off = move.cents if move.cents < 0 else min(saved, move.cents)
            saved -= max(off, 0)
            self._out(end, move, "waste", None, off, into)
            if move.cents > off:
                out.append(replace(move, cents=move.cents - off))
        return out

    def _circle(self, piece: Piece) -> object:
        """What carries the scrap of a piece; pieces made for no order are a circle of their own."""
        rule = self.b.shop["scrap_circle"]
        return "shop" if rule == "shop" else piece.row["product" if rule == "product" else "order_no"]

    def _gone_by(self, piece: Piece, end: date) -> bool:
        """A test is no good piece, nor one that was lost or scrapped by the end of the month."""
        ended = piece.row["ended"] or piece.row["finished"]
        return piece.status == "test" or (piece.status in ("scrapped", "lost") and ended <= end)

    def _share_scrap(
        self,
        circle: object,
        moves: list[Move],
        gross: int,
        month: date,
        end: date,
        into: dict[str, list[Move]],
    ) -> None:
        good = [
            (p, units)
            for p in self.b.pieces.values()
            if p.row["finished"]
            and month_of(p.row["finished"]) == month
            and not self._gone_by(p, end)
            and self._circle(p) == circle
            and (units := p.quantity - self._scrapped_units(p.tag, end)) > 0
        ]
        cost = 0
        for piece, units in good:
            own = sum(m.cents for m in into[piece.tag] if not self._apart(m) and m.day <= end)
            cost += cut(own, units, piece.quantity)
        total = sum(m.cents for m in moves)
        allowed = max(cut(cost * self.b.rule("normal_scrap_ppm", end), 1, 10**6), 0) if good else 0
        normal = cut(total, allowed, gross) if gross > allowed else total
        run, kept = 0, []
        for move in moves:
            part = cut(normal, run + move.cents, total) - cut(normal, run, total)
            run += move.cents
            kept.append(replace(move, cents=part))
            self._out(end, move, "waste", None, move.cents - part, into)
        for piece, move, cents in self._laid(kept, normal, good):
            self._out(end, move, "piece", piece.tag, cents, into)

    def _laid(self, moves: list[Move], total: int, good: list[tuple[Piece, int]]) -> Iterator[tuple[Piece, Move, int]]:
        """The total over the pieces by units; what it is made of is laid along them in its order."""
        begin = 0
        for (piece, _), cents in zip(good, shares(total, [units for _, units in good]), strict=True):
            end, low = begin + cents, 0
            for move in moves:
                high = low + move.cents
                part = max(0, min(end, high) - max(begin, low))
                if part:
                    yield piece, move, part
                low = high
            begin = end

    def _out(
        self, day: date, move: Move, place: str, piece: str | None, cents: int, into: dict[str, list[Move]]
    ) -> None:
        before = len(self.b.moves)
        self.b.move(day, move.row, "pool", place, "spoilage", cents, origin=move.origin, piece=piece, item="spoilage")
        if piece and len(self.b.moves) > before:
            into[piece].append(self.b.moves[-1])

    def _unmatched(self) -> None:
        """A sale of a piece that nobody knows costs its product's median."""
        for row, units in self.unmatched:
            costs = []
            for piece in self.b.pieces.values():
                if piece.row["product"] == row["product"] and piece.status == "finished":
                    made = sum(
                        m.cents
                        for m in self.b.moves
                        if m.place == "piece" and m.piece == piece.tag and m.source != "sold"
                    )
                    costs.append(cut(made, 1, piece.quantity))
            if costs:
                cents = lower_median(costs) * units
                self.b.move(row["on_date"], row["row_id"], "imputed", "sold", "imputed", cents, estimated=True)
