"""A shop of nobody's: its items, pieces, orders and days, so that the files of a pile speak of the same things."""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from tests.piles.words import cells

_SYLLABLES = ("bar", "hol", "lin", "mar", "ost", "pel", "ruv", "san", "tev", "wil", "zor", "kem")
_KINDS = ("& Co", "Tools", "Timber", "Supply", "Nord", "24")
_PEOPLE = ("Ada", "Ben", "Ida", "Jo", "Kim", "Lou", "Max", "Noa")
ITEMS = {
    "walnut boards": ("wood", "kg"),
    "oak slab": ("wood", "each"),
    "casting resin": ("resin", "kg"),
    "sanding discs": ("abrasive", "each"),
    "hard-wax oil": ("finish", "l"),
    "brass hinges": ("hardware", "each"),
    "nitrile gloves": ("consumable", "each"),
    "shipping boxes": ("packaging", "each"),
    "forstner bit": ("tool", "each"),
}
"""Item → its category, and the unit that it is bought and used in."""


@dataclass(frozen=True)
class Scenario:
    """What all files of one pile have in common."""

    rng: Random
    currency: str
    year: int
    suppliers: tuple[str, ...]
    people: tuple[str, ...]
    pieces: tuple[str, ...]
    products: tuple[str, ...]  # of each piece, its meaning
    orders: tuple[str, ...]
    rate: int  # of tax, in percent

    def day(self) -> date:
        return date(self.year, 1, 1) + timedelta(days=self.rng.randrange(300))

    def days(self, count: int) -> list[date]:
        """Days in order, one of them at least late in its month: no file leaves open which part is the day."""
        found = [self.day() for _ in range(count - 1)]
        return sorted([*found, date(self.year, self.rng.randint(1, 10), self.rng.randint(20, 28))])

    def buyer(self) -> str:
        names = self.rng.sample(_SYLLABLES, 3)
        return f"{self.rng.choice(_PEOPLE)} {''.join(names[:2]).title()}"


def scenario(rng: Random) -> Scenario:
    """A random shop."""
    prefix = rng.choice(("T-", "W", "SB-", "P-", "K", "NR-"))
    order = rng.choice(("A-", "O", "C-2", "B"))
    width = rng.choice((2, 3, 4))
    count = rng.randint(18, 40)
    start = rng.randint(1, 50)
    products = list(cells()["product"])
    return Scenario(
        rng,
        rng.choice(("EUR", "EUR", "USD", "GBP")),
        rng.choice((2024, 2025)),
        tuple(_supplier(rng) for _ in range(rng.randint(4, 8))),
        tuple(rng.sample(_PEOPLE, rng.randint(1, 3))),
        tuple(f"{prefix}{start + number:0{width}}" for number in range(count)),
        tuple(rng.choice(products) for _ in range(count)),
        tuple(f"{order}{number:03}" for number in range(rng.randint(1, 80), 120)),
        rng.choice((19, 20, 21, 22)),
    )


def _supplier(rng: Random) -> str:
    return f"{''.join(rng.sample(_SYLLABLES, 2)).title()} {rng.choice(_KINDS)}"
