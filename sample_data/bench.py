"""What happened at the bench: pieces, hours, pours, looks and uses, with their truth.

Rows are dictionaries by field name. Dates are ordinals, lengths micrometres, durations seconds, money cents. A key that
begins with `_` is truth that no file shows.
"""

import math
import random
from collections import Counter

from sample_data import workshop as w
from sample_data.resin import RESIN_FINISHES, pour, pour_all
from sample_data.story import YEAR_OF_MILLIMETRES, Row, Story, Use, log, pick, seconds


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


def already_there(rng: random.Random, story: Story) -> None:
    """Three pieces that stood finished on the first day, with what had gone into them."""
    for number, (product, species, cents) in enumerate(
        (("wall clock", "black cherry", 11850), ("tray", "white oak", 14200), ("house sign", "sugar maple", 17375)), 1
    ):
        piece = _piece(rng, number, story.start, product) | {"piece": f"O-{number:03d}", "species": species}
        piece |= {"finish": "oil and wax", "status": "finished", "finished": story.start - 9 * number, "_nth": 1}
        piece |= {"opening_cost": cents, "_opening": True, "_test": False, "_lots": []}
        del piece["started"]
        story.pieces.append(piece)


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
    """Finished size and blank: whole sixteenths of an inch up to 2024, whole millimetres after."""
    inches = day < YEAR_OF_MILLIMETRES
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
    resin = [p for p in batch if p["finish"] in RESIN_FINISHES]
    if resin:
        day = pour_all(rng, story, resin, day + 1)
    for operation in _AFTER:
        day = _operate(rng, story, batch, operation, day)
    for piece in batch:
        _finish(rng, story, piece, day)


def _operate(rng: random.Random, story: Story, batch: list[Row], operation: str, day: int) -> int:
    """Hours rows of one operation over a batch; gives back the day on which the next one begins."""
    todo = [p for p in batch if operation in w.PRODUCTS[p["product"]].hours]
    if not todo:
        return day
    drawn = [
        (p, true_hours(p, operation) * math.exp(rng.gauss(0, w.HOURS_SPREAD)) * w.PEOPLE[p["_person"]].slower)
        for p in todo
    ]
    if len(todo) > 1 and rng.random() < 0.42:
        log(rng, story, day, todo[0]["_person"], operation, [(p["piece"], seconds(h)) for p, h in drawn])
    else:
        for piece, hours in drawn:
            sessions = 1 + int(hours > 0.75 and rng.random() < 0.9) + int(hours > 1.8)
            for part in range(sessions):
                log(rng, story, day + part, piece["_person"], operation, [(piece["piece"], seconds(hours / sessions))])
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
    return day + rng.choice((1, 2, 2, 3, 5))


def _router(rng: random.Random, story: Story, pieces: list[Row], day: int) -> None:
    for piece in pieces:
        hours = w.PRODUCTS[piece["product"]].router * piece["_grow"] ** 0.5
        if hours and rng.random() < 0.7:
            row = log(
                rng,
                story,
                day,
                piece["_person"],
                "carving",
                [(piece["piece"], seconds(hours * rng.uniform(0.7, 1.3)))],
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
            log(rng, story, day, piece["_person"], operation, [(piece["piece"], seconds(hours))], rework=True)
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
    if piece["finish"] in RESIN_FINISHES:
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
