"""A slow oracle of the whole trace: typed records in, every movement of cents out. Plain Python, whole numbers.

`Books(records, settings)` takes rows as dicts (stored columns with their row ids, list fields as lists of tags) and
leaves `moves`. Written from the design in words; it shares nothing with the SQL but the stored columns.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from itertools import count
from typing import Any

from books_exits import Exits
from books_flow import Draw, Part
from books_hours import Bench, Row, sized
from books_materials import Materials, landed
from books_pools import Pools
from books_rework import lose
from books_sums import shares
from books_value import blank_values


@dataclass(frozen=True)
class Move:
    day: date
    row: int | None
    source: str
    place: str
    layer: str
    origin: str
    cents: int
    piece: str | None = None
    lot: str | None = None
    item: str | None = None
    rework: bool = False
    assumed: bool = False
    estimated: bool = False


def last_day(records: dict[str, list[Row]], start: date) -> date:
    """The newest day in any record."""
    days = [start]
    for rows in records.values():
        for row in rows:
            days += [
                v
                for k, v in row.items()
                if isinstance(v, date) and k in ("on_date", "started", "finished", "ended", "cancelled")
            ]
    return max(days)


def numbered(records: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """Rows with numbers of the oracle's own: rows of one day stand in the order of their fields, as the record lists
    them, and an empty one comes last. Notes say nothing of it; of rows that agree in all else either may come first."""

    def fields(row: Row) -> list[tuple[bool, Any]]:
        return [(v is None, v if v is not None else 0) for k, v in row.items() if k not in ("row_id", "note")]

    ordered = {name: sorted(rows, key=fields) for name, rows in records.items()}
    number = count(1)
    return {name: [row | {"row_id": next(number)} for row in rows] for name, rows in ordered.items()}


class Books:
    def __init__(self, records: dict[str, list[Row]], settings: dict[str, list[Row]]) -> None:
        self.records, self.settings = records, settings = numbered(records), settings
        self.shop = settings["shop"][0]
        self.horizon = last_day(records, self.shop["start"])
        self.moves: list[Move] = []
        self.pieces = sized(records)
        self.worth = {r["row_id"]: r["worth_cents"] for r in records["counts"] if r["worth_cents"] is not None}
        self._starts()
        self.exits = Exits(self)
        self.net = landed(records["purchases"], lambda day: self.rule("tax_reclaimable", day))
        self.bench = Bench(records, settings, self.pieces, self.exits.gone)
        self.bench.cover()
        self.bench.estimate()
        self.materials = Materials(
            records, settings, self.pieces, self.bench, self.net, self.horizon, self.exits.gone, self.exits.scrapped
        )
        self._receipts()
        self._draws()
        self._openings()
        self.pools = Pools(self)
        self._labour()
        self.pools.run()
        self._offcuts()
        self.exits.selling()
        lose(self)
        self.exits.run()

    def rule(self, name: str, day: date) -> Any:
        """A rule of the shop on a day."""
        rows = sorted(self.settings["rule"], key=lambda r: r["from_date"])
        begun = [r for r in rows if r["from_date"] <= day]
        return (begun or rows[:1])[-1][name]

    def move(self, day: date, row: int | None, source: str, place: str, layer: str, cents: int, **more: Any) -> None:
        if cents:
            more.setdefault("origin", "resin" if layer == "resin waste" else layer)
            self.moves.append(Move(day, row, source, place, layer, cents=cents, **more))

    def _starts(self) -> None:
        first: dict[str, date] = {}
        named = [(r["on_date"], t) for r in self.records["hours"] for t in r["pieces"] or []]
        named += [(r["on_date"], r["piece"]) for r in self.records["pours"] if r["piece"]]
        for day, tag in named:
            first[tag] = min(first.get(tag, day), day)
        for piece in self.pieces.values():
            row = piece.row
            piece.start = row["started"] or first.get(piece.tag) or row["finished"] or self.shop["start"]

    def piece_or_period(self, piece: str, day: date) -> tuple[str, str | None]:
        """Work on a piece that has left the shop is warranty: a cost of its month."""
        return ("period", None) if self.exits.gone(piece, day) else ("piece", piece)

    def _receipts(self) -> None:
        for row in self.records["purchases"]:
            cents, category, layer = self.net[row["row_id"]], row["category"], row["category"]
            if row in self.materials.counted_at_start:
                self.move(row["on_date"], row["row_id"], "receipt", "setting", layer, cents, item=row["item"])
            elif row["row_id"] in self.materials.lot_of:
                lot = self.materials.lot_of[row["row_id"]]
                day = min(row["on_date"], lot.first_use or row["on_date"])
                self.move(day, row["row_id"], "receipt", "stock", layer, cents, lot=lot.tag, item=lot.item)
            elif category == "equipment":
                self.move(row["on_date"], row["row_id"], "receipt", "asset", "machine", cents, item=row["machine"])
        for row, sent, cents in self.materials.back.parts:
            place = "stock" if sent else "waste"
            self.move(row["on_date"], row["row_id"], "receipt", place, row["category"], cents, item=row["item"])
        for row, _, cents in self.materials.back.emptied:
            self.move(row["on_date"], row["row_id"], "stock", "waste", row["category"], cents, item=row["item"])
        self._salvage()
        for flow in self.materials.flows.values():
            for lot in flow.lots:
                if lot.source not in ("receipt", "saved"):
                    layer = "wood" if self.materials._is_wood(flow) else self.materials.category.get(lot.item or "", "")
                    source = "imputed" if lot.source == "imputed" else "setting"
                    cents = lot.cents if source == "imputed" else self.worth[lot.row]
                    self.move(lot.day, lot.row, source, "stock", layer, cents, lot=lot.tag, item=lot.item)

    def _salvage(self) -> None:
        """What was saved from a scrapped piece leaves it for the shelf."""
        for row in self.records["counts"]:
            if row["worth_cents"] and row["piece"] and self.exits.scrapped(row["piece"], row["on_date"]):
                layer, cents = self.materials.category[row["item"]], -row["worth_cents"]
                self.move(row["on_date"], row["row_id"], "stock", "piece", layer, cents, piece=row["piece"])

    def _draws(self) -> None:
        for flow in self.materials.flows.values():
            by_use: dict[int, list[Draw]] = defaultdict(list)
            for draw in flow.draws:
                by_use[draw.use.number].append(draw)
            for draws in by_use.values():
                self._use(draws)

    def _use(self, draws: list[Draw]) -> None:
        """A use's cents go over its pieces by weight; its lots pay for them in their order."""
        use = draws[0].use
        if use.back:
            for draw in draws:
                self.move(draw.day, use.row, "waste", "stock", use.layer, -draw.cents, item=draw.lot.item)
            return
        total = sum(d.cents for d in draws)
        starts, lot_start = [], 0
        for draw in draws:
            starts.append((lot_start, lot_start + draw.cents))
            lot_start += draw.cents
        begin = 0
        for part, cents in zip(use.parts, shares(total, [p.weight for p in use.parts]), strict=True):
            end = begin + cents
            for draw, (low, high) in zip(draws, starts, strict=True):
                paid = min(end, high) - max(begin, low)
                if paid > 0:
                    self._paid(draw, part, paid)
            begin = end

    def _paid(self, draw: Draw, part: Part, cents: int) -> None:
        use, place, piece = draw.use, part.place, part.piece
        # what a count or a month settles was used while the piece was made, though it is only known later
        if piece and use.layer != "wood" and use.after != 1:
            place, piece = self.piece_or_period(piece, draw.day)
        self.move(
            draw.day, use.row, "stock", place, part.layer, cents, piece=piece, lot=draw.lot.tag,
            item=use.item or draw.lot.item,
            rework=use.rework, assumed=use.assumed, estimated=use.estimated,
        )  # fmt: skip

    def _openings(self) -> None:
        for piece in self.pieces.values():
            cents = piece.row["opening_cost_cents"]
            if cents:
                self.move(self.shop["start"], piece.row["row_id"], "setting", "piece", "wood", cents, piece=piece.tag)

    def _labour(self) -> None:
        for hour in self.bench.hours:
            place, piece, item = "period", None, None
            if hour.piece:
                place, piece = self.piece_or_period(hour.piece, hour.day)
            elif self.pools.naming(hour):
                place, item = "pool", self.pools.naming(hour)
            layer = "selling" if hour.kind == "selling" else "labour"
            self.move(
                hour.day,
                hour.row,
                "imputed" if hour.estimated else "labour",
                place,
                layer,
                hour.cents,
                origin=hour.origin,
                piece=piece,
                item=item,
                rework=hour.rework,
                assumed=hour.assumed,
                estimated=hour.estimated,
            )

    def _offcuts(self) -> None:
        """The rest of a closed lot goes on the pieces cut from it, by volume."""
        for row in sorted(self.materials.closings, key=lambda r: (r["on_date"], r["row_id"])):
            for flow in self.materials.flows.values():
                lots = [x for x in flow.lots if x.tag == row["lot"] and row["lot"]]
                for lot in lots:
                    drawn: dict[str, int] = defaultdict(int)
                    spent = 0
                    for draw in flow.draws:
                        if draw.lot is lot:
                            spent += draw.cents
                            if draw.use.parts[0].piece:
                                drawn[draw.use.parts[0].piece] += draw.quantity
                    rest = lot.cents - spent
                    drawn.update(blank_values(flow, lot, self.pieces))
                    tags = sorted(drawn)
                    head = (row["on_date"], row["row_id"], "stock")
                    if not tags:
                        self.move(*head, "waste", "wood", rest, lot=lot.tag, item=lot.item)
                    for tag, cents in zip(tags, shares(rest, [drawn[t] for t in tags]), strict=True):
                        self.move(*head, "piece", "offcut", cents, origin="wood", piece=tag, lot=lot.tag, item=lot.item)

    # balances

    def by_piece(self) -> dict[tuple[str, str], int]:
        """Cents that ever went into a piece, by piece and layer."""
        out: dict[tuple[str, str], int] = defaultdict(int)
        for move in self.moves:
            if move.piece and move.place == "piece" and move.source != "sold":
                out[move.piece, move.layer] += move.cents
        return {k: v for k, v in out.items() if v}

    def by_day(self) -> dict[tuple[str, date], int]:
        """What came into each place less what left it, by place and day."""
        out: dict[tuple[str, date], int] = defaultdict(int)
        for move in self.moves:
            out[move.place, move.day] += move.cents
            out[move.source, move.day] -= move.cents
        return {k: v for k, v in out.items() if v}

    def balance(self, place: str, day: date) -> int:
        """What lies in a place at the end of a day."""
        return sum(cents for (where, when), cents in self.by_day().items() if where == place and when <= day)
