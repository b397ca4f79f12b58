"""Unit words through the unit table, whose factors are Pint's, exactly; Pint itself is asked for a shop's own words.

Pint itself would read `fl oz` as femtolitre-ounces and `MBF` as a million board feet, so no text of a file reaches it.
"""

import csv
import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files

from pipeline.errors import UserError

_PINT_BASE = {"mg": "milligram", "ul": "microliter", "um": "micrometer", "mm2": "millimeter ** 2", "s": "second"}
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
def table() -> dict[str, Unit]:
    """`reference/units.csv`: word → its unit. `base_units` there is Pint's own exact factor (a test compares
    them), since to load Pint takes longer than to read a small pile; what is counted has none."""
    text = files("pipeline.reference").joinpath("units.csv").read_text(encoding="utf-8")
    return {
        tidy(row["word"]): Unit(row["base"], Fraction(row["base_units"] or COUNTED) * Fraction(row["times"] or 1))
        for row in csv.DictReader(text.splitlines())
    }


@functools.cache
def by_pint(name: str) -> Unit | None:
    """What Pint knows by this full name ("stone", "furlong"), exactly; None if it knows none that is measured here."""
    import pint  # slow to load

    registry: pint.UnitRegistry = pint.UnitRegistry(non_int_type=Fraction)
    if not re.fullmatch(r"[a-z_]{4,}|[a-z]+ \*\* [23]", name) or name.split()[0] not in registry:
        return None
    one = registry.Quantity(Fraction(1), name)
    # in this order: Pint sees no difference between a volume in ul and one in mm3, and cubic lengths have their own
    for base in ("mg", "mm3" if "**" in name else "ul", "um", "mm2", "s"):
        if one.is_compatible_with(_PINT_BASE[base]):
            return Unit(base, Fraction(one.to(_PINT_BASE[base]).magnitude))
    return None


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
        return table()[key]

    def _own_unit(self, key: str) -> Unit:
        meaning = self._own[key]
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)?\s*(\D.*)", meaning)
        unit = self._look_up(tidy(match[2])) or by_pint(match[2].strip()) if match else None
        if match is None or unit is None:
            raise UserError(
                f"The unit word {key!r} can't mean {meaning!r}.",
                "shop.toml, [words.unit]",
                'Write a known unit, or a number and one: tub = "5 kg".',
            )
        return Unit(unit.base, unit.size * Fraction(match[1] or 1))
