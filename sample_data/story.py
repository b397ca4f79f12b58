"""What the parts of the story share: its lists, and how a row of work or a share of something comes about.

Rows are dictionaries by field name. Dates are ordinals, lengths micrometres, durations seconds, money cents. A key that
begins with `_` is truth that no file shows.
"""

import random
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sample_data import workshop as w

YEAR_OF_MILLIMETRES = date(2025, 1, 1).toordinal()
"""From then on the workshop writes millimetres and millilitres; before, inches and fluid ounces."""

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


def seconds(hours: float) -> int:
    # steps of three minutes, so that 0.35 h, 0:21 and 21 min say the same
    return max(1, round(hours * 20)) * 180


def log(
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
        "hours": sum(part for _, part in shares),
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


def split(total: int, weights: list[int]) -> list[int]:
    """`total` in whole shares by `weights`, by cumulative rounding."""
    whole, so_far, given, shares = sum(weights), 0, 0, []
    for weight in weights:
        so_far += weight
        upto = (2 * total * so_far + whole) // (2 * whole)
        shares.append(upto - given)
        given = upto
    return shares
