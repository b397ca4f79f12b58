"""Lists that hold none of a shop's records: whatever is loaded of them is an error."""

from decimal import Decimal
from hashlib import blake2b

from tests.piles.scenario import Scenario
from tests.piles.tables import Column, Table
from tests.piles.words import HALVES, Writer

SUBJECTS: dict[str, tuple[str, list[str], list[str]]] = {
    "van log": (
        "day place place km",
        ["Day", "Left from", "Drove to", "Miles"],
        ["Tag", "Abfahrt", "Ziel", "Kilometer"],
    ),
    "weather diary": (
        "day degrees words rain",
        ["Day", "Low", "Sky", "Rain mm"],
        ["Fecha", "Mínima", "Cielo", "Lluvia mm"],
    ),
    "meter readings": (
        "day reading reading",
        ["Read on", "Power meter", "Water meter"],
        ["Datum", "Stroommeter", "Watermeter"],
    ),
    "library": ("words name year shelf", ["Book", "Author", "Year", "Shelf"], ["Titre", "Auteur", "Année", "Étagère"]),
    "seed box": ("words number day yes", ["Seeds", "Packets", "Sown", "Up"], ["Semi", "Bustine", "Seminato", "Nato"]),
    "keys": ("number words name", ["Key", "Door", "Held by"], ["Schlüssel", "Tür", "Hat"]),
    "bird count": ("day words number", ["Day", "Bird", "Seen"], ["Dag", "Vogel", "Gezien"]),
    "team rota": ("day name name", ["Week of", "Opens", "Locks up"], ["Semana del", "Abre", "Cierra"]),
    "blade hours": ("words km day", ["Blade", "Run time", "Sharpened"], ["Lama", "Ore", "Affilata"]),
    "rivals": (
        "words degrees place",
        ["Their piece", "Their price", "Seen at"],
        ["Deren Stück", "Deren Preis", "Gesehen bei"],
    ),
}
"""Subject → what its columns hold, its headers in English, and in another language."""


def subjects(half: str) -> list[str]:
    return [name for name in SUBJECTS if blake2b(name.encode(), digest_size=1).digest()[0] % 2 == HALVES.index(half)]


def foreign(scenario: Scenario, writer: Writer) -> tuple[str, Table]:
    """The name of a list that is none of the shop's, and the list."""
    rng = writer.rng
    subject = rng.choice(subjects(writer.half))
    kinds, *headers = SUBJECTS[subject]
    count = rng.randint(12, 30)
    made = {
        "day": lambda: scenario.days(count),
        "place": lambda: [rng.choice(scenario.suppliers) for _ in range(count)],
        "km": lambda: [rng.randint(4, 160) for _ in range(count)],
        "degrees": lambda: [Decimal(rng.randint(10, 300)) / 10 for _ in range(count)],
        "words": lambda: [writer.word("weather") + f" {rng.randint(1, 9)}" for _ in range(count)],
        "rain": lambda: [rng.choice((0, 0, 2, 7)) for _ in range(count)],
        "reading": lambda: [4000 + at * rng.randint(3, 9) for at in range(count)],
        "name": lambda: [rng.choice(scenario.people) for _ in range(count)],
        "year": lambda: [rng.randint(1950, 2020) for _ in range(count)],
        "shelf": lambda: [f"{rng.choice('ABC')}{rng.randint(1, 5)}" for _ in range(count)],
        "number": lambda: [rng.randint(1, 12) for _ in range(count)],
        "yes": lambda: [rng.choice(("x", None)) for _ in range(count)],
    }
    table = Table("", writer)
    for kind, header in zip(kinds.split(), rng.choice(headers), strict=True):
        table.columns.append(Column(header, "", list(made[kind]()), [{} for _ in range(count)]))
    return subject, table
