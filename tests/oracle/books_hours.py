"""The oracle's bench: sizes of pieces, and every hour with its piece, logged, covered or estimated."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from books_sums import cut, lower_median, rounded, shares
from books_usual import Usual, worked

Row = dict[str, Any]


@dataclass
class Piece:
    tag: str
    row: Row
    quantity: int
    area: int = 0
    volume: int = 0
    blank: int = 0  # volume to be cut
    blank_estimated: bool = False
    start: date | None = None

    @property
    def status(self) -> str:
        return self.row["status"] or ("finished" if self.row["finished"] else "in progress")


@dataclass
class Hour:
    """A stretch of work on one piece, or on none."""

    day: date
    row: int
    piece: str | None
    operation: str
    kind: str
    person: str | None
    seconds: int  # of labour
    machine: str | None
    machine_seconds: int
    cents: int
    origin: str
    rate_row: int | None = None
    rework: bool = False
    assumed: bool = False
    estimated: bool = False


def in_force(rows: list[Row], name: str | None, day: date) -> Row | None:
    """The setting of that name on that day: the last that began, else the first."""
    named = sorted((r for r in rows if r["name"] == name), key=lambda r: r["from_date"])
    begun = [r for r in named if r["from_date"] <= day]
    return begun[-1] if begun else (named[0] if named else None)


def box(length: int | None, width: int | None, thickness: int | None, diameter: int | None) -> tuple[int, int] | None:
    """Surface in mm2 and volume in mm3 of a box or a disc, from micrometres."""
    if length and width and thickness:
        area = Fraction(2 * (length * width + length * thickness + width * thickness), 10**6)
        return rounded(area), rounded(Fraction(length * width * thickness, 10**9))
    if diameter and thickness:
        pi = Fraction(355, 113)
        area = pi * diameter * diameter / 2 + pi * diameter * thickness
        return rounded(area / 10**6), rounded(pi * diameter * diameter * thickness / 4 / 10**9)
    return None


def sized(records: dict[str, list[Row]]) -> dict[str, Piece]:
    """Every piece with its sizes for the whole run."""
    pieces = {
        r["piece"]: Piece(r["piece"], r, r["quantity"]) for r in sorted(records["pieces"], key=lambda r: r["piece"])
    }
    known: dict[str, list[tuple[int, int]]] = defaultdict(list)
    units: dict[str, tuple[int, int]] = {}
    for tag, piece in pieces.items():
        row = piece.row
        size = box(row["length_um"], row["width_um"], row["thickness_um"], row["diameter_um"])
        if size:
            units[tag] = size
            known[row["product"]].append(size)
    for tag, piece in pieces.items():
        same = known[piece.row["product"]]
        area, volume = units.get(tag) or (
            (lower_median(a for a, _ in same), lower_median(v for _, v in same)) if same else (0, 0)
        )
        piece.area, piece.volume = area * piece.quantity, volume * piece.quantity
    _blanks(pieces)
    return pieces


def _blanks(pieces: dict[str, Piece]) -> None:
    ratios: dict[str | None, list[Fraction]] = defaultdict(list)
    for piece in pieces.values():
        row = piece.row
        size = box(row["blank_length_um"], row["blank_width_um"], row["blank_thickness_um"], None)
        if size:
            piece.blank = size[1] * piece.quantity
            if box(row["length_um"], row["width_um"], row["thickness_um"], row["diameter_um"]):
                ratios[row["species"]].append(Fraction(piece.blank, piece.volume))
    everything = [r for some in ratios.values() for r in some]
    for piece in pieces.values():
        if piece.blank:
            continue
        some = (ratios.get(piece.row["species"]) if piece.row["species"] else None) or everything
        piece.blank = rounded(piece.volume * (lower_median(some) if some else Fraction(1)))
        piece.blank_estimated = True


def first_owner(people: list[Row]) -> str | None:
    owners = [p for p in sorted(people, key=lambda p: p["position"]) if p["role"] in ("owner", "partner")]
    return owners[0]["name"] if owners else None


class Bench:
    def __init__(
        self,
        records: dict[str, list[Row]],
        settings: dict[str, list[Row]],
        pieces: dict[str, Piece],
        gone: Callable[[str, date], bool],
    ) -> None:
        self.gone = gone
        self.people = settings["person_rate"]
        self.operations = {o["name"]: o for o in settings["operation"]}
        self.pieces = pieces
        self.hours: list[Hour] = []
        self.loose: list[tuple[Row, Hour]] = []
        for row in sorted(records["hours"], key=lambda r: (r["on_date"], r["row_id"])):
            self._row(row)

    def pay(self, person: str | None, day: date, seconds: int) -> tuple[int, str, int | None]:
        """Cents, origin and the row of the rate, of so many seconds of a person."""
        who = person or first_owner(self.people)
        rate = in_force(self.people, who, day)
        if not rate:
            return 0, "own labour", None
        origin = "own labour" if rate["role"] in ("owner", "partner") else "labour"
        return cut(seconds * round(1000 * rate["rate_cents"]), 1, 3600_000), origin, rate["row_id"]

    def _row(self, row: Row) -> None:
        operation = self.operations.get(row["operation"])
        kind, driver = (operation["kind"], operation["driver"]) if operation else ("bench", "equal")
        attended = row["attended"] is not False
        seconds = row["seconds"] if attended else 0
        machine_seconds = row["seconds"] if row["machine"] else 0
        cents, origin, rate_row = self.pay(row["person"], row["on_date"], seconds)
        tags = sorted({t for t in row["pieces"] or [] if t in self.pieces})
        head = (row["on_date"], row["row_id"])
        if not tags or kind != "bench":
            hour = Hour(
                *head,
                None,
                row["operation"],
                kind,
                row["person"],
                seconds,
                row["machine"],
                machine_seconds,
                cents,
                origin,
                rate_row,
            )
            self.hours.append(hour)
            if kind == "bench" and attended:
                self.loose.append((row, hour))
            return
        pieces = [self.pieces[t] for t in tags]
        weights = {"area": [p.area for p in pieces], "volume": [p.blank for p in pieces]}.get(driver, [])
        weights = weights if any(weights) else [p.quantity for p in pieces]
        for tag, part, running, money in zip(
            tags, shares(seconds, weights), shares(machine_seconds, weights), shares(cents, weights), strict=True
        ):
            self.hours.append(
                Hour(
                    *head,
                    tag,
                    row["operation"],
                    kind,
                    row["person"],
                    part,
                    row["machine"],
                    running,
                    money,
                    origin,
                    rate_row,
                    bool(row["rework"]),
                )
            )

    def cover(self) -> None:
        """Bench hours without a piece go to pieces in progress that lack the operation."""
        # what is usual is what was logged: hours that are only taken to be a piece's say nothing new
        self.usual = Usual(self.pieces)
        worked(self.usual, self)
        lacking = self.usual.lacking("work")
        need = self.need = {(tag, name): seconds for (tag, (_, name, _)), seconds in lacking.items()}
        for row, hour in self.loose:
            day = row["on_date"]
            open_pieces = []
            for piece in self.pieces.values():
                last = piece.row["finished"] or piece.row["ended"]
                begun = piece.start is not None and piece.start <= day
                if begun and (last is None or day <= last) and need.get((piece.tag, hour.operation), 0) > 0:
                    open_pieces.append(piece.tag)
            needs = [need[t, hour.operation] for t in open_pieces]
            covered = min(hour.seconds, sum(needs))
            if not covered:
                continue
            money = cut(hour.cents, covered, hour.seconds)
            run = 0
            for tag, part in zip(open_pieces, shares(covered, needs), strict=True):
                cents = cut(money, run + part, covered) - cut(money, run, covered)
                run += part
                need[tag, hour.operation] -= part
                self.hours.append(
                    Hour(
                        day,
                        hour.row,
                        tag,
                        hour.operation,
                        "bench",
                        hour.person,
                        part,
                        None,
                        0,
                        cents,
                        hour.origin,
                        hour.rate_row,
                        assumed=True,
                    )
                )
            hour.seconds -= covered
            hour.cents -= money

    def estimate(self) -> None:
        """A finished piece that lacks an operation, or a machine's time, gets what is usual for its like."""
        lacking = [(tag, operation, None, seconds) for (tag, operation), seconds in self.need.items()]
        machines = self.usual.lacking("machine")
        lacking += [(tag, name, machine, seconds) for (tag, (_, name, machine)), seconds in machines.items()]
        for tag, operation, machine, seconds in sorted(lacking, key=lambda x: (x[0], x[1], x[2] or "")):
            piece = self.pieces[tag]
            day = piece.row["finished"]
            if piece.status != "finished" or day is None or seconds <= 0:
                continue
            cents, _, rate_row = self.pay(None, day, 0 if machine else seconds)
            self.hours.append(
                Hour(
                    day, piece.row["row_id"], tag, operation, "bench", None, 0 if machine else seconds, machine,
                    seconds if machine else 0, cents, "own labour", rate_row, estimated=True,
                )
            )  # fmt: skip
