"""The amount in the name of what is bought by the kit or the tin: a "deep pour 12 L kit", "tung oil 4 L"."""

import re

from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.units import Units

POURED = ("resin", "finish", "colourant", "consumable")
"""Categories of what is used by weight or volume."""

_AMOUNT = re.compile(r"(?<![\w.,/])(\d+(?:[.,]\d+)?)[\s-]?((?:fl\.? ?)?[A-Za-z]{1,7})\b\.?(?!\s*[x×])")
_BASES = ("mg", "ul", "mm3")


def amount_in(name: str, units: Units) -> tuple[int, str, str] | None:
    """The one weight or volume that a name states, its base unit, and how it is written; None for none, or several."""
    found = {}
    for number, word in _AMOUNT.findall(name):
        unit = units.find(word)
        if unit and unit.base in _BASES:
            found[number, word] = f"{number} {word}"
    if len(found) != 1:
        return None
    (text,) = found.values()
    try:
        amount, base = Reader(units, "," if "," in text else ".").read(text)
    except UnreadableError:
        return None
    return (amount, base, text) if amount > 0 else None
