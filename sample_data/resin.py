"""Resin: which coats a piece gets, what each pour needs by its geometry, and where the mix went."""

import math
import random

from sample_data import workshop as w
from sample_data.story import YEAR_OF_MILLIMETRES, Row, Story, Use, log, seconds, split

RESIN_FINISHES = {"resin inlay", "flood coat", "cast river"}


def pour_all(rng: random.Random, story: Story, pieces: list[Row], day: int) -> int:
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
        return [("seal", 1)] * (rng.random() < 0.45) + [("inlay", 1)]
    if finish == "flood coat":
        return [("seal", 1)] * (rng.random() < 0.85) + [("flood", 1)] + [("flood", 2)] * (rng.random() < 0.8)
    return [("seal", 1)] * (rng.random() < 0.8) + [("casting", 1)] + [("casting", 2)] * (rng.random() < 0.55)


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
    ounces = day < YEAR_OF_MILLIMETRES
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
    cut = split(mixed, deposits)
    for piece, share, deposit, row in zip(pieces, cut, deposits, story.pours[-len(pieces) :], strict=True):
        story.uses.append(Use(day, name, share, piece["piece"], good=max(0, 1000 * (deposit - row["_trimmed_g"]))))
        story.uses.append(Use(day, "mixing cup", 1000, piece["piece"]))
    story.uses.append(Use(day, "stir stick", 1000, pieces[0]["piece"]))
    story.uses.append(Use(day, "masking tape", rng.randint(1, 4) * 500_000, pieces[0]["piece"]))
    if colour:
        story.uses.append(Use(day, colour, max(1, round(mixed / 1e6 * 8)) * 1000, pieces[0]["piece"]))
    times = [(p["piece"], seconds(0.15 + 0.35 * rng.random())) for p in pieces]
    log(rng, story, day, pieces[0]["_person"], "pouring", times, rework=purpose == "repour")
    return max(1, round(cured / 24))
