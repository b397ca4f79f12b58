"""What happened at the bench: pieces, hours, pours, looks and uses, with their truth.

Rows are dictionaries by field name. Dates are ordinals, lengths micrometres, durations seconds, money cents. A key that
begins with `_` is truth that no file shows.
"""

import math
import random
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from sample_data import workshop as w

Row = dict[str, Any]


@dataclass
class Use:
    """Something that left the shelf for `piece` ('' = none): `quantity` in the item's base unit."""

    day: int
    item: str
    quantity: int
    piece: str = ""
    logged: bool = False
    good: int = 0  # resin: what stays in the piece


@dataclass
class Story:
    """Everything that happened, before it is written down."""

    start: int
    end: int
    pieces: list[Row] = field(default_factory=list)
    hours: list[Row] = field(default_factory=list)
    pours: list[Row] = field(default_factory=list)
    inspections: list[Row] = field(default_factory=list)
    uses: list[Use] = field(default_factory=list)
    orders: list[Row] = field(default_factory=list)
    sales: list[Row] = field(default_factory=list)
    payments: list[Row] = field(default_factory=list)
    moves: list[Row] = field(default_factory=list)
    events: list[tuple[str, int, int]] = field(default_factory=list)
    purchases: list[Row] = field(default_factory=list)
    counts: list[Row] = field(default_factory=list)

    @property
    def timer(self) -> int:
        """The day from which short stirs are rare."""
        return self.start + int((self.end - self.start) * w.STIR_TIMER_AFTER)


def pick(rng: random.Random, shares: dict[str, float]) -> str:
    """A key of `shares`, drawn by its share."""
    mark = rng.random() * sum(shares.values())
    for key, share in shares.items():
        mark -= share
        if mark < 0:
            return key
    return key


def work(rng: random.Random, story: Story, count: int) -> None:
    """Make `count` pieces or runs, in batches, from the first day to the last."""
    span = story.end - story.start
    days = sorted(story.start + 3 + int((span - 4) * rng.random() ** 0.92) for _ in range(count))
    made: Counter[str] = Counter()
    batch: list[Row] = []
    for number, day in enumerate(days, 1):
        joins = bool(batch) and len(batch) < 4 and day - batch[0]["started"] < 12 and rng.random() < 0.34
        if batch and not joins:
            _make(rng, story, batch)
            batch = []
        piece = _piece(rng, number, batch[0]["started"] if joins else day, batch[0]["product"] if joins else None)
        piece["_nth"] = made[piece["product"]] = made[piece["product"]] + 1
        batch.append(piece)
        story.pieces.append(piece)
    _make(rng, story, batch)


def _piece(rng: random.Random, number: int, day: int, product: str | None) -> Row:
    product = product or pick(rng, {name: p.share for name, p in w.PRODUCTS.items()})
    species = pick(rng, {name: s.share for name, s in w.WOODS.items()})
    shares = w.ELM_FINISH_SHARES if species == "American elm" else w.FINISH_SHARES
    if product == "coaster run":
        shares = shares | {"cast river": shares["cast river"] / 4}
    return {
        "piece": f"P-{number:04d}",
        "product": product,
        "species": species,
        "finish": pick(rng, shares),
        "quantity": rng.randint(4, 8) if product == "coaster run" else 1,
        "started": day,
        "status": "in progress",
        **_size(rng, w.PRODUCTS[product], day),
        "_person": "Mara" if rng.random() < 0.62 else "Tobin",
        "_short": False,
        "_early": False,
        "_rework": 0,
        "_scrap": False,
        "_test": product != "coaster run" and rng.random() < 0.012,
    }


def _size(rng: random.Random, product: w.Product, day: int) -> Row:
    """Finished size and blank: whole sixteenths of an inch up to 2024, whole millimetres after, as the book has them."""
    inches = day < _YEAR_OF_MILLIMETRES
    step = 1587.5 if inches else 1000.0
    grow = math.exp(rng.gauss(0, 0.13))
    length, width, thickness = product.size
    sizes = [
        max(1, round(length * 1000 * grow / step)),
        max(1, round(width * 1000 * grow / step)),
        max(1, round(thickness * 1000 / step)),
    ]
    if product.round:
        sizes[1] = sizes[0]
    spare = [round(18000 / step), round(12000 / step), round(5000 / step)]
    um = [_um(s, step) for s in sizes]
    blank = [_um(s + e, step) for s, e in zip(sizes, spare, strict=True)]
    shown = {"diameter": um[0]} if product.round else {"length": um[0], "width": um[1]}
    return shown | {
        "thickness": um[2],
        "blank_length": blank[0],
        "blank_width": blank[1],
        "blank_thickness": blank[2],
        "_area_mm2": round((math.pi / 4 if product.round else 1.0) * um[0] * um[1] / 1e6),
        "_grow": (um[0] * um[1] / 1e6) / (length * width),
    }


_YEAR_OF_MILLIMETRES = w.date(2025, 1, 1).toordinal()


def _um(steps: int, step: float) -> int:
    # half micrometres go to the even one, as cleaning rounds
    return round(steps * step)


def finished_mm3(piece: Row) -> float:
    """Volume of the finished piece or run."""
    return float(piece["_area_mm2"] * piece["thickness"] / 1000 * piece["quantity"])


def blank_mm3(piece: Row) -> int:
    """Volume of the blank; a run's blank is that of a unit times its units."""
    return round(piece["blank_length"] * piece["blank_width"] * piece["blank_thickness"] / 1e9) * int(piece["quantity"])


_BEFORE = ("design", "sawing", "surfacing", "gluing", "carving")
_AFTER = ("sanding", "finishing", "assembly")
_DRIVER = {"sawing": "volume", "surfacing": "volume", "gluing": "volume", "sanding": "area", "finishing": "area"}
_RESIN_FINISHES = {"resin inlay", "flood coat", "cast river"}


def true_hours(piece: Row, operation: str) -> float:
    """The hours that this operation takes on this piece before chance has its say."""
    product = w.PRODUCTS[piece["product"]]
    practice = max(1.0, min(piece["_nth"], 100) / 10) ** w.LEARNING_EXPONENT
    run = (piece["quantity"] / 6) ** w.RUN_EXPONENT if piece["product"] == "coaster run" else 1.0
    finish = w.FINISH_HOURS[piece["finish"]].get(operation, 1.0)
    return product.hours[operation] * piece["_grow"] ** w.SIZE_EXPONENT[operation] * practice * run * finish


def _make(rng: random.Random, story: Story, batch: list[Row]) -> None:
    day = batch[0]["started"]
    for operation in _BEFORE:
        day = _operate(rng, story, batch, operation, day)
    resin = [p for p in batch if p["finish"] in _RESIN_FINISHES]
    if resin:
        day = _pour_all(rng, story, resin, day + 1)
    for operation in _AFTER:
        day = _operate(rng, story, batch, operation, day)
    for piece in batch:
        _finish(rng, story, piece, day)


def _operate(rng: random.Random, story: Story, batch: list[Row], operation: str, day: int) -> int:
    """Hours rows of one operation over a batch; gives back the day on which the next one begins."""
    todo = [p for p in batch if operation in w.PRODUCTS[p["product"]].hours]
    if not todo or (operation == "carving" and rng.random() < 0.15):
        return day
    drawn = [
        (p, true_hours(p, operation) * math.exp(rng.gauss(0, w.HOURS_SPREAD)) * w.PEOPLE[p["_person"]].slower)
        for p in todo
    ]
    if len(todo) > 1 and rng.random() < 0.42:
        _log(rng, story, day, todo[0]["_person"], operation, [(p["piece"], _seconds(h)) for p, h in drawn])
    else:
        for piece, hours in drawn:
            sessions = 1 + int(hours > 0.75 and rng.random() < 0.9) + int(hours > 1.8)
            for part in range(sessions):
                _log(
                    rng, story, day + part, piece["_person"], operation, [(piece["piece"], _seconds(hours / sessions))]
                )
    if operation == "carving":
        _router(rng, story, todo, day)
    if operation == "sanding":
        for piece, hours in drawn:
            for grit in ("P80", "P120", "P180", "P240"):
                story.uses.append(
                    Use(day, f"sanding disc {grit}", round(1000 * hours * rng.uniform(0.6, 1.5)), piece["piece"])
                )
            story.uses.append(Use(day, "nitrile gloves", 2000, piece["piece"]))
    if operation == "finishing":
        for piece in todo:
            _oil(rng, story, piece, day)
    if operation == "gluing":
        for piece in todo:
            story.uses.append(Use(day, "wood glue", rng.randint(15, 45) * 1000, piece["piece"], rng.random() < 0.5))
    if operation == "assembly" or (operation == "finishing" and todo[0]["product"] == "coaster run"):
        for piece in todo:
            for item, each in w.PRODUCTS[piece["product"]].hardware.items():
                use = Use(day, item, each * piece["quantity"] * 1000, piece["piece"], rng.random() < w.ITEMS[item].log)
                story.uses.append(use)
    return day + rng.choice((0, 1, 2, 2, 4))


def _router(rng: random.Random, story: Story, pieces: list[Row], day: int) -> None:
    for piece in pieces:
        hours = w.PRODUCTS[piece["product"]].router * piece["_grow"] ** 0.5
        if hours and rng.random() < 0.7:
            row = _log(
                rng,
                story,
                day,
                piece["_person"],
                "carving",
                [(piece["piece"], _seconds(hours * rng.uniform(0.7, 1.3)))],
            )
            row |= {"machine": "CNC router", "attended": False, "_lost": False, "_named": True}


def _oil(rng: random.Random, story: Story, piece: Row, day: int) -> None:
    m2 = 2.2 * piece["_area_mm2"] * piece["quantity"] / 1e6
    if piece["finish"] in ("oil and wax", "resin inlay"):
        story.uses.append(
            Use(
                day,
                "finishing oil",
                1000 * round(110 * m2 * rng.uniform(0.8, 1.3) + 3),
                piece["piece"],
                rng.random() < 0.5,
            )
        )
        story.uses.append(
            Use(day, "paste wax", 1000 * round(45 * m2 * rng.uniform(0.8, 1.3) + 2), piece["piece"], rng.random() < 0.4)
        )
    elif piece["finish"] != "flood coat":
        story.uses.append(
            Use(
                day,
                "hard wax oil",
                1000 * round(95 * m2 * rng.uniform(0.8, 1.3) + 3),
                piece["piece"],
                rng.random() < 0.6,
            )
        )


def _seconds(hours: float) -> int:
    # steps of three minutes, so that 0.35 h, 0:21 and 21 min say the same
    return max(1, round(hours * 20)) * 180


def _log(
    rng: random.Random,
    story: Story,
    day: int,
    person: str,
    operation: str,
    shares: list[tuple[str, int]],
    rework: bool = False,
) -> Row:
    chance = rng.random()
    row: Row = {
        "date": day,
        "person": person,
        "operation": operation,
        "pieces": [piece for piece, _ in shares],
        "hours": sum(seconds for _, seconds in shares),
        "attended": True,
        "rework": rework,
        "_shares": shares,
        "_lost": chance < 0.045 and not rework,  # never written down
        "_named": not 0.045 <= chance < 0.08 or rework,  # written down, but with its pieces
    }
    if operation == "surfacing" and rng.random() < 0.6:
        row["machine"] = "planer"
    if operation == "sanding" and day >= w.MACHINES["drum sander"][0].toordinal() and rng.random() < 0.4:
        row["machine"] = "drum sander"
    story.hours.append(row)
    return row


def _pour_all(rng: random.Random, story: Story, pieces: list[Row], day: int) -> int:
    """All pours of a batch; gives back the day after the last one has cured."""
    stages: dict[tuple[str, int], list[Row]] = {}
    for piece in pieces:
        for purpose, coat in _stages(rng, piece["finish"]):
            stages.setdefault((purpose, coat), []).append(piece)
    order = {"seal": 0, "inlay": 1, "casting": 2, "flood": 3}
    for purpose, coat in sorted(stages, key=lambda s: (order[s[0]], s[1])):
        day += pour(rng, story, stages[purpose, coat], purpose, coat, day)
    return day


def _stages(rng: random.Random, finish: str) -> list[tuple[str, int]]:
    if finish == "resin inlay":
        return [("seal", 1)] * (rng.random() < 0.35) + [("inlay", 1)]
    if finish == "flood coat":
        return [("seal", 1)] * (rng.random() < 0.75) + [("flood", 1)] + [("flood", 2)] * (rng.random() < 0.8)
    return [("seal", 1)] * (rng.random() < 0.7) + [("casting", 1)] + [("casting", 2)] * (rng.random() < 0.45)


def _need_ml(piece: Row, purpose: str) -> float:
    """Millilitres that the geometry asks for."""
    area, run = piece["_area_mm2"], piece["quantity"]
    depth = {
        "seal": 0.25,
        "flood": 1.5,
        "repour": 0.6,
        "inlay": 0.06 * 4.0,
        "casting": 0.09 * piece["thickness"] / 1000,
    }[purpose]
    return float(area * depth * run / 1000)


def pour(rng: random.Random, story: Story, pieces: list[Row], purpose: str, coat: int, day: int) -> int:
    """One pour over its pieces: what was mixed, what stayed where. Gives back the days until it is touched again."""
    name = "deep pour resin" if purpose == "casting" else "coating resin"
    resin = w.RESINS[name]
    short = rng.random() < w.SHORT_STIR_CHANCE[day >= story.timer]
    stir = 15 * round(rng.uniform(5, 10)) if short else 15 * round(min(28, max(13, rng.gauss(18, 3))))
    early = rng.random() < 0.08
    cured = rng.randint(12, 21) if early else rng.randint(24, 60)
    needs = [max(6.0, _need_ml(p, purpose)) for p in pieces]
    keep = 1 - sum(w.RESIN_LOSS.values())
    mix_ml = sum(needs) / keep * math.exp(rng.gauss(0.04, 0.06))
    volume_a = max(4, round(mix_ml * resin.parts_a / (resin.parts_a + resin.parts_b)))
    volume_b = max(
        2, round(volume_a * resin.parts_b / resin.parts_a * (rng.choice((0.9, 1.1)) if rng.random() < 0.035 else 1.0))
    )
    ounces = day < _YEAR_OF_MILLIMETRES
    if ounces:  # the first years' log is in tenths of a fluid ounce
        tenths = [max(1, round(ml / w.ML_PER_FLUID_OUNCE * 10)) for ml in (volume_a, volume_b)]
        volume_a, volume_b = (t * w.ML_PER_FLUID_OUNCE / 10 for t in tenths)  # type: ignore[assignment]
    mixed = round(volume_a * resin.density_a * 1000) + round(volume_b * resin.density_b * 1000)
    losses = {cause: share * math.exp(rng.gauss(-0.03, 0.25)) for cause, share in w.RESIN_LOSS.items()}
    grams = {cause: round(mixed * share / 1000) for cause, share in losses.items() if cause != "unexplained"}
    left = mixed / 1000 * (1 - sum(losses.values()))
    deposits = [max(1, round(left * need / sum(needs))) for need in needs]
    tag = f"R-{len(story.pours) + 1:05d}"
    colour = (
        rng.choice(("blue pigment", "black pigment", "pearl powder"))
        if purpose in ("inlay", "casting") and rng.random() < 0.6
        else ""
    )
    weighed = rng.random() < 0.86
    for position, (piece, deposit) in enumerate(zip(pieces, deposits, strict=True)):
        trimmed = round(deposit * w.TRIM_SHARE[purpose] * math.exp(rng.gauss(-0.03, 0.25)))
        row: Row = {"pour": tag, "date": day, "purpose": purpose, "coat": coat, "resin": name, "piece": piece["piece"]}
        if position == 0:
            row |= {
                "part_a": (volume_a, "ml"),
                "part_b": (volume_b, "ml"),
                "stir_minutes": stir,
                "cured_hours": cured * 3600,
            }
            row |= {"temperature": rng.randint(13, 25), "humidity": rng.randint(38, 78)}
            row |= {cause: (mass, "g") for cause, mass in grams.items()} if weighed else {}
            row |= {"colourant": colour, "colourant_quantity": (max(1, round(mixed / 1e6 * 8)), "g")} if colour else {}
        if weighed:
            row |= {"deposited": (deposit, "g"), "trimmed": (trimmed, "g")}
        row |= {
            "_mixed_mg": mixed if position == 0 else 0,
            "_deposited_g": deposit,
            "_trimmed_g": trimmed,
            "_weighed": weighed,
        }
        row |= {
            "_cup_g": grams["left_in_cup"] if position == 0 else 0,
            "_spilled_g": grams["spilled"] if position == 0 else 0,
        }
        story.pours.append(row)
        piece["_short"] |= short
        piece["_early"] |= early
    cut = _split(mixed, deposits)
    for piece, share, deposit, row in zip(pieces, cut, deposits, story.pours[-len(pieces) :], strict=True):
        story.uses.append(Use(day, name, share, piece["piece"], good=max(0, 1000 * (deposit - row["_trimmed_g"]))))
        story.uses.append(Use(day, "mixing cup", 1000, piece["piece"]))
    story.uses.append(Use(day, "stir stick", 1000, pieces[0]["piece"]))
    story.uses.append(Use(day, "masking tape", rng.randint(1, 4) * 500_000, pieces[0]["piece"]))
    if colour:
        story.uses.append(Use(day, colour, max(1, round(mixed / 1e6 * 8)) * 1000, pieces[0]["piece"]))
    seconds = [(p["piece"], _seconds(0.15 + 0.35 * rng.random())) for p in pieces]
    _log(rng, story, day, pieces[0]["_person"], "pouring", seconds, rework=purpose == "repour")
    return max(1, round(cured / 24))


def _split(total: int, weights: list[int]) -> list[int]:
    """`total` in whole shares by `weights`, by cumulative rounding."""
    whole, so_far, given, shares = sum(weights), 0, 0, []
    for weight in weights:
        so_far += weight
        upto = (2 * total * so_far + whole) // (2 * whole)
        shares.append(upto - given)
        given = upto
    return shares


def rework_logit(piece: Row) -> float:
    """The true log odds that the piece comes back to the bench before it is passed."""
    effect = w.REWORK_BASE + w.WOODS[piece["species"]].effect + w.FINISHES[piece["finish"]]
    return effect + w.SHORT_STIR_EFFECT * piece["_short"] + w.EARLY_EFFECT * piece["_early"]


def _finish(rng: random.Random, story: Story, piece: Row, day: int) -> None:
    """Looks, rework and the day on which the piece was done or given up."""
    chance = 1 / (1 + math.exp(-rework_logit(piece)))
    piece["_chance"] = chance
    if piece["_test"]:
        piece |= {"status": "test", "ended": day}
        return
    scrap = rng.random() < w.SCRAP_CHANCE
    if not scrap and rng.random() < chance:
        piece["_rework"] = 1
        _look(story, piece, day, _defect(rng, piece), "rework")
        for operation, share in (("sanding", 0.55), ("finishing", 0.6)):
            hours = true_hours(piece, operation) * share * math.exp(rng.gauss(0, 0.25))
            day += 1
            _log(rng, story, day, piece["_person"], operation, [(piece["piece"], _seconds(hours))], rework=True)
        if piece["finish"] in ("flood coat", "cast river"):
            day += pour(rng, story, [piece], "repour", 1, day + 1)
        day += 1
        scrap = rng.random() < w.SCRAP_AFTER_REWORK
    if scrap:
        _look(story, piece, day, rng.choice(("split", "check", "tear-out")), "scrap")
        piece |= {"status": "scrapped", "ended": day, "_scrap": True}
        return
    _look(story, piece, day, "none", "accept")
    piece |= {"status": "finished", "finished": day}


def _defect(rng: random.Random, piece: Row) -> str:
    if piece["_short"] and rng.random() < 0.7:
        return "soft spot"
    if piece["species"] == "boxelder" and rng.random() < 0.6:
        return rng.choice(("check", "tear-out"))
    if piece["finish"] in _RESIN_FINISHES:
        return rng.choice(("pinhole", "bubble", "bubble", "fisheye", "orange peel"))
    return rng.choice(("blotching", "swirl marks", "tear-out"))


def _look(story: Story, piece: Row, day: int, defect: str, action: str) -> None:
    row = {"date": day, "piece": piece["piece"], "defect": defect, "found_at": "inspection", "action": action}
    story.inspections.append(row | ({"quantity": piece["quantity"]} if piece["quantity"] > 1 else {}))


def cut_off(story: Story) -> None:
    """Forget what would have happened after the last day."""
    for piece in story.pieces:
        if (piece.get("finished") or piece.get("ended") or 0) > story.end:
            for key in ("finished", "ended"):
                piece.pop(key, None)
            piece |= {"status": "in progress", "_scrap": False}
    for rows in (story.hours, story.pours, story.inspections):
        rows[:] = [row for row in rows if row["date"] <= story.end]
    story.uses[:] = [use for use in story.uses if use.day <= story.end]
    came_back = {row["piece"] for row in story.inspections if row["action"] == "rework" and "_warranty" not in row}
    for piece in story.pieces:
        piece["_rework"] = int(piece["piece"] in came_back)
