"""The true cents of every use, by the rules that the makers themselves would follow: a lot's cents go by position."""

from collections import defaultdict

from sample_data import workshop as w
from sample_data.shelf import Lot
from sample_data.story import Story, Use


def cost_of_uses(story: Story) -> dict[str, list[tuple[Use, int]]]:
    """The cents of every use of every item, first in, first out, counts as losses in between."""
    supply: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    demand: dict[str, list[tuple[int, int, Use]]] = defaultdict(list)
    for row in story.purchases:
        if row["item"] in w.ITEMS:
            supply[row["item"]].append((row["date"], row["_base"], row["_landed"]))
    for row in story.counts:
        if row["item"] in w.ITEMS and "worth" in row:
            supply[row["item"]].append((row["date"] - 1, row["_base"], row["worth"]))
        elif row["item"] in w.ITEMS:
            demand[row["item"]].append((row["date"], 1, Use(row["date"], row["item"], row["_loss"])))
    for use in story.uses:
        demand[use.item].append((use.day, 0, use))
    return {item: _first_in_first_out(sorted(supply[item]), demand[item]) for item in w.ITEMS}


def _first_in_first_out(
    supply: list[tuple[int, int, int]], demand: list[tuple[int, int, Use]]
) -> list[tuple[Use, int]]:
    """A lot's cents go by from- and to-position, so every cent lands once."""
    costs, place, taken = [], 0, 0
    for _, _, use in sorted(demand, key=lambda d: (d[0], d[1], d[2].piece)):
        left, cents = use.quantity, 0
        while left and place < len(supply):
            _, size, worth = supply[place]
            part = min(left, size - taken)
            cents += (2 * worth * (taken + part) + size) // (2 * size) - (2 * worth * taken + size) // (2 * size)
            taken, left = taken + part, left - part
            if taken == size:
                place, taken = place + 1, 0
        costs.append((use, cents))
    return costs


def cost_of_wood(lots: list[Lot], started: dict[str, int]) -> tuple[dict[str, int], dict[str, int]]:
    """Cents of wood, and of offcut once its lot was closed, by piece."""
    wood: dict[str, int] = defaultdict(int)
    offcut: dict[str, int] = defaultdict(int)
    for lot in lots:
        cents = lot.row["amount"] if "_opening" in lot.row else lot.row["_landed"]
        cuts = sorted(lot.cuts, key=lambda cut: (started[cut[0]], cut[0]))
        whole, so_far, given = max(lot.mm3, sum(volume for _, volume in cuts)), 0, 0
        for piece, volume in cuts:
            so_far += volume
            upto = (2 * cents * so_far + whole) // (2 * whole)
            wood[piece] += upto - given
            given = upto
        if lot.closed and not lot.split and cuts:
            rest, cut, done, spread = cents - given, so_far, 0, 0
            for piece, volume in cuts:
                done += volume
                upto = (2 * rest * done + cut) // (2 * cut)
                offcut[piece] += upto - spread
                spread = upto
    return wood, offcut
