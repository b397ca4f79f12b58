"""The shelf: what must have been bought, and when, for the uses to be possible; receipts, counts, true costs."""

import math
import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from sample_data import workshop as w
from sample_data.bench import blank_mm3, finished_mm3
from sample_data.story import Row, Story, Use


@dataclass
class Lot:
    """A slab, round or pack of boards with what was cut from it: (piece, volume in mm³)."""

    tag: str
    species: str
    row: Row
    mm3: int
    cuts: list[tuple[str, int]] = field(default_factory=list)
    finished_mm3: float = 0.0
    last_cut: int = 0
    closed: int = 0
    split: bool = False


def count_days(story: Story) -> list[int]:
    """The last day of each year, and of the records."""
    years = range(date.fromordinal(story.start).year + 1, date.fromordinal(story.end).year)
    return [date(y, 12, 31).toordinal() for y in years] + [story.end]


def stock_up(rng: random.Random, story: Story) -> dict[str, int]:
    """Buy and count every item, so that no use lacks its supply. Gives back the losses found at counts, by item."""
    by_item: dict[str, list[Use]] = defaultdict(list)
    for use in story.uses:
        by_item[use.item].append(use)
    losses: dict[str, int] = {}
    for name in w.ITEMS:
        uses = sorted(by_item.get(name, []), key=lambda u: (u.day, u.piece))
        losses[name] = _stock_item(rng, story, name, uses)
    return losses


def _stock_item(rng: random.Random, story: Story, name: str, uses: list[Use]) -> int:
    item = w.ITEMS[name]
    counted = (
        count_days(story)
        if item.category in ("resin", "hardware") or name in ("hard wax oil", "sanding disc P120")
        else []
    )
    shelf, floor, lost = _open(rng, story, name, item), story.start, 0
    for use in [*uses, Use(story.end + 1, name, 0)]:
        while counted and use.day > counted[0]:
            day = counted.pop(0)
            loss = _count(rng, story, name, item, day, shelf)
            shelf, lost, floor = shelf - loss, lost + loss, day + 1
        # nobody begins a pour with the last kit
        reserve = item.pack if item.category == "resin" and use.quantity else 0
        while shelf < use.quantity + reserve:
            packs = rng.randint(1, item.most)
            day = max(floor, use.day - rng.randint(2, 24))
            _buy(rng, story, name, item, packs, day)
            shelf += packs * item.pack
        shelf -= use.quantity
    return lost


def _open(rng: random.Random, story: Story, name: str, item: w.Item) -> int:
    """What was there on the first day: a count with its worth."""
    if item.category in ("packaging", "colourant"):
        return 0
    packs = 2 if item.category == "abrasive" else 1
    row = {
        "date": story.start,
        "item": name,
        "category": item.category,
        "quantity": _written(rng, item, packs),
        "worth": packs * item.cents,
    }
    story.counts.append(row | {"note": "opening stock", "_base": packs * item.pack})
    return packs * item.pack


def _count(rng: random.Random, story: Story, name: str, item: w.Item, day: int, shelf: int) -> int:
    expired = name == "deep pour resin" and day == count_days(story)[-2:][0] != story.end
    there = int(shelf * (0.62 if expired else rng.uniform(0.955, 1.0)))
    unit = {"mg": "g", "ul": "ml", "each": "each"}[item.base]
    there = there // 1000 * 1000  # whole grams, millilitres or pieces
    row = {
        "date": day,
        "item": name,
        "category": item.category,
        "quantity": (there // 1000, unit),
        "cause": "expired" if expired else "count",
    }
    story.counts.append(row | {"_base": there, "_loss": shelf - there})
    return shelf - there


def _written(rng: random.Random, item: w.Item, packs: int) -> tuple[str, str]:
    number, unit = rng.choice(item.written)
    if unit == "kit" or packs == 1:
        return (str(packs) if unit == "kit" else number), unit
    return f"{packs} x {number}", unit


def _buy(rng: random.Random, story: Story, name: str, item: w.Item, packs: int, day: int) -> None:
    price = item.cents * (1 + 0.035 * (day - story.start) / 365) * rng.uniform(0.96, 1.04)
    row: Row = {"date": day, "supplier": item.supplier, "item": name, "category": item.category}
    row |= {"quantity": _written(rng, item, packs), "amount": round(price * packs), "_base": packs * item.pack}
    if item.category == "resin":
        row |= {"lot": f"K-{len(story.purchases):05d}", "expires": day + 30 * w.RESINS[name].shelf_months}
    story.purchases.append(row)


def buy_wood(rng: random.Random, story: Story) -> list[Lot]:
    """Slabs, rounds and board packs for the pieces, species by species, each bought before its first cut."""
    lots: list[Lot] = []
    by_species: dict[str, list[Row]] = defaultdict(list)
    for piece in story.pieces:
        if "_opening" not in piece:
            by_species[piece["species"]].append(piece)
    for species in w.WOODS:
        current: Lot | None = None
        room = 0.0
        for piece in by_species.get(species, []):
            volume = blank_mm3(piece)
            rest = int(room)
            if (
                current
                and volume > room
                and piece["product"] == "side table"
                and rest > 0.3 * volume
                and len(current.cuts)
            ):
                _cut(current, piece, rest, rest / volume)
                current, room = _next_lot(rng, story, lots, species, piece, current)
                _cut(current, piece, volume - rest, 1 - rest / volume)
                piece["_lots"] = [(lots[-2].tag, rest), (current.tag, volume - rest)]
                room -= volume - rest
                continue
            if current is None or volume > room:
                current, room = _next_lot(rng, story, lots, species, piece, current)
            _cut(current, piece, volume, 1.0)
            room -= volume
            piece["_lots"] = [(current.tag, volume)]
            piece["lot"] = current.tag
    _close_lots(rng, story, lots)
    return lots


def _cut(lot: Lot, piece: Row, volume: int, share: float) -> None:
    lot.cuts.append((piece["piece"], volume))
    lot.finished_mm3 += share * finished_mm3(piece) * (piece["status"] not in ("scrapped", "test"))
    lot.last_cut = piece["started"]


def _next_lot(
    rng: random.Random, story: Story, lots: list[Lot], species: str, piece: Row, last: Lot | None
) -> tuple[Lot, float]:
    if last:
        last.closed = piece["started"] if last.cuts else 0
    day = max(story.start, piece["started"] - rng.randint(4, 70))
    wood = w.WOODS[species]
    least = blank_mm3(piece) / (wood.usable * 0.92)
    lot = _lot(rng, story, f"L-{len(lots) + 1:04d}", species, day, least)
    lots.append(lot)
    return lot, lot.mm3 * min(0.95, wood.usable * rng.uniform(0.92, 1.08))


def _lot(rng: random.Random, story: Story, tag: str, species: str, day: int, least: float) -> Lot:
    """A lot of at least so many cubic millimetres: more alike slabs or rounds where one is too small."""
    wood = w.WOODS[species]
    row: Row = {
        "date": day,
        "supplier": rng.choice(("Larkhill Sawmill", "Old Quarry Lumber")),
        "category": "wood",
        "lot": tag,
    }
    row |= {"species": species, "moisture": rng.randint(7, 13), "_base_unit": "mm3"}
    inches = day < date(2025, 1, 1).toordinal()
    form, thickness = rng.choice(("slab", "slab", "slab", "round", "boards")), rng.choice((50800, 50800, 63500))
    if form == "boards":
        feet = max(rng.randint(8, 18), math.ceil(least / w.MM3_PER_BOARD_FOOT))
        mm3 = round(feet * w.MM3_PER_BOARD_FOOT)
        row |= {"quantity": (str(feet), "bf"), "item": f"{species} boards"}
    elif form == "round":
        across = rng.randint(16, 24) * 25400 if inches else rng.randint(42, 62) * 10000
        mm3 = round(math.pi / 4 * across * across * thickness / 1e9)
        count = max(1 + (rng.random() < 0.3), math.ceil(least / mm3))
        mm3 *= count
        row |= {"diameter": across, "thickness": thickness, "count": count, "item": f"{species} round"}
    else:
        length = rng.randint(42, 70) * 25400 if inches else rng.randint(22, 36) * 50000
        width = rng.randint(24, 42) * 12700 if inches else rng.randint(60, 106) * 5000
        mm3 = round(length * width * thickness / 1e9)
        row |= {"length": length, "width": width, "thickness": thickness, "item": f"{species} slab"}
        if least > mm3:
            row["count"] = math.ceil(least / mm3)
            mm3 *= row["count"]
    dearer = 1 + 0.04 * (day - story.start) / 365
    form_price = {"slab": 1.0, "round": 0.8, "boards": 1.05}[form]
    row["amount"] = (
        round(mm3 / w.MM3_PER_BOARD_FOOT * wood.board_foot * dearer * form_price * rng.uniform(0.88, 1.14) / 100) * 100
    )
    row["_base"] = mm3
    if day < story.start + 1:
        # already on the rack on the first day: a count with its worth instead of a receipt
        opening = {
            "date": story.start,
            "item": row["item"],
            "category": "wood",
            "lot": tag,
            "species": species,
            "worth": row["amount"],
        }
        story.counts.append(
            opening | {"quantity": (f"{mm3 / w.MM3_PER_BOARD_FOOT:.2f}", "bf"), "note": "opening stock", "_base": mm3}
        )
        row["_opening"] = True
    else:
        story.purchases.append(row)
    return Lot(tag, species, row, mm3)


def _close_lots(rng: random.Random, story: Story, lots: list[Lot]) -> None:
    for lot in lots:
        if not lot.closed or rng.random() < 0.22:
            lot.closed = 0
            continue
        lot.closed = min(story.end, max(lot.closed, lot.last_cut + 1) + rng.randint(0, 20))
        lot.split = rng.random() < 0.025
        row = {"date": lot.closed, "item": lot.row["item"], "category": "wood", "lot": lot.tag, "species": lot.species}
        story.counts.append(row | {"quantity": ("0", "bf"), "cause": "split" if lot.split else "count", "_base": 0})
