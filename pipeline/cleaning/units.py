"""Unit words through the unit table; Pint only converts, once a unit, and exactly.

Pint itself would read `fl oz` as femtolitre-ounces and `MBF` as a million board feet, so no text of a file reaches it.
"""

import csv
import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files
from typing import Any

from pipeline.errors import UserError

_PINT_BASE = {
    "mg": "milligram",
    "mm3": "millimeter ** 3",
    "ul": "microliter",
    "um": "micrometer",
    "mm2": "millimeter ** 2",
    "s": "second",
}
_MARKS = str.maketrans("³²μµ″”“′’‘", "32uu\"\"\"'''")

COUNTED = 1000
"""`each` and `kit` count thousandths."""


@dataclass(frozen=True)
class Unit:
    """One unit is `size` of the base unit `base` (mg, mm3, ul, um, mm2, s, or thousandths of an each or a kit)."""

    base: str
    size: Fraction


def tidy(word: str) -> str:
    """A unit word as the table spells it: lower case, without points, with plain digits and marks."""
    word = word.strip().casefold().translate(_MARKS)
    word = word.replace("''", '"').replace(".", " ").replace("^", "").replace("_", " ").replace("-", " ")
    return " ".join(word.split())


@functools.cache
def table() -> dict[str, tuple[str, str, Fraction]]:
    """`reference/units.csv`: word → base, Pint's name of the unit ("" for things counted), how many of it."""
    text = files("pipeline.reference").joinpath("units.csv").read_text(encoding="utf-8")
    return {
        tidy(row["word"]): (row["base"], row["pint"], Fraction(row["times"] or 1))
        for row in csv.DictReader(text.splitlines())
    }


@functools.cache
def _registry() -> Any:
    import pint  # slow to load, and many files name no unit

    return pint.UnitRegistry(non_int_type=Fraction)


@functools.cache
def size(pint_name: str, base: str) -> Fraction:
    """How many base units make one of Pint's units, exactly."""
    return Fraction(_registry().Quantity(Fraction(1), pint_name).to(_PINT_BASE[base]).magnitude)


class Units:
    """The unit table, extended by the shop's own words (`[words.unit]`: word → a unit, or a number and a unit)."""

    def __init__(self, own: Mapping[str, str] | None = None) -> None:
        self._own = {tidy(word): meaning for word, meaning in (own or {}).items()}
        self._found: dict[str, Unit | None] = {}

    def find(self, word: str) -> Unit | None:
        """The unit that a word names, or None. "gal kit" is a gallon of mix."""
        key = tidy(word)
        if key not in self._found:
            self._found[key] = self._own_unit(key) if key in self._own else self._look_up(key)
        return self._found[key]

    def words(self) -> list[str]:
        return [*self._own, *table()]

    def _look_up(self, key: str) -> Unit | None:
        if key not in table():
            for suffix in (" kit", " kits", " of mix", " of"):
                if key.endswith(suffix) and key.removesuffix(suffix) in table():
                    unit = self._look_up(key.removesuffix(suffix))
                    return unit if unit and unit.base in ("ul", "mm3", "mg") else None
            return None
        base, pint_name, times = table()[key]
        return Unit(base, times * (size(pint_name, base) if pint_name else COUNTED))

    def _own_unit(self, key: str) -> Unit:
        meaning = self._own[key]
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)?\s*(\D.*)", meaning)
        unit = self._look_up(tidy(match[2])) if match else None
        if match is None or unit is None:
            raise UserError(
                f"The unit word {key!r} can't mean {meaning!r}.",
                "shop.toml, [words.unit]",
                'Write a known unit, or a number and one: tub = "5 kg".',
            )
        return Unit(unit.base, unit.size * Fraction(match[1] or 1))
