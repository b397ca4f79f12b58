"""Figures as a maker reads them: the shop's money, its units, and how sure a rate is."""

from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from pipeline.pages.actions import FEW as FEW
from pipeline.pages.actions import FEW_MONTHS as FEW_MONTHS
from pipeline.pages.actions import firm as firm
from pipeline.pages.actions import layer as layer
from pipeline.pages.actions import minor_digits

# with a word joiner behind it: a line must not break between the sign and its figure
MINUS, DASH = "\u2212\u2060", "\u2013"

SIGNS = {"USD": "$", "EUR": "€", "GBP": "£", "CHF": "CHF ", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$", "JPY": "¥"}


def half_up(value: float, digits: int = 0) -> Decimal:
    """The value to so many digits, a half upwards: as the pictures round it, so that a figure reads alike."""
    return Decimal(value).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


@dataclass(frozen=True)
class Unit:
    """How a stored number is shown: `factor` of it, with `digits`, between a `sign` and a name; `none` where it isn't
    known."""

    name: str
    factor: float
    digits: int
    sign: str = ""
    none: str = DASH

    def __call__(self, stored: float | None) -> str:
        """`1500` grams → `1.5 kg`."""
        if stored is None:
            return self.none
        shown = half_up(abs(stored * self.factor), self.digits)
        return f"{MINUS if stored < 0 and shown else ''}{self.sign}{shown:,} {self.name}".rstrip()

    def otherwise(self, none: str) -> "Unit":
        """The same, with words where nothing is known."""
        return replace(self, none=none)

    def per(self, factor: float) -> "Unit":
        """The same for so many times what it is stored for."""
        return replace(self, factor=self.factor * factor)

    @property
    def form(self) -> str:
        """The same as C's printf would write it, but for the place of a minus: for a grid of very many rows."""
        return f"{self.sign}%,.{self.digits}f {self.name.replace('%', '%%')}".rstrip()


def decimal(digits: int) -> Unit:
    """A bare number with so many digits."""
    return Unit("", 1, digits)


@dataclass(frozen=True)
class Money:
    """Amounts of the shop's currency, stored in minor units."""

    currency: str

    @property
    def digits(self) -> int:
        return minor_digits(self.currency)

    @property
    def sign(self) -> str:
        return SIGNS.get(self.currency, f"{self.currency} ")

    @property
    def exact(self) -> Unit:
        """`-123456` → `−$1,234.56`."""
        return Unit("", 10**-self.digits, self.digits, self.sign)

    @property
    def round(self) -> Unit:
        """The amount without its minor units, for sentences and titles."""
        return replace(self.exact, digits=0)

    def rate(self, cents: float) -> str:
        """An amount for one of something, which may have parts of a cent: `387.5` → `$3.875`."""
        parts = next(n for n in range(4) if abs(cents - round(cents, n)) < 0.0005)
        return replace(self.exact, digits=self.digits + parts)(cents)

    def per(self, factor: float) -> Unit:
        """The amount for so many times what it is stored for."""
        return self.exact.per(factor)

    def __call__(self, cents: float | None) -> str:
        return self.exact(cents)


@dataclass(frozen=True)
class Units:
    """The units of weight and of wood that the shop has chosen."""

    weight: Unit  # of grams
    heavy: Unit  # of grams, for totals
    wood: Unit  # of cubic decimetres
    per_wood: Unit  # of cents for a cubic decimetre
    others: dict[str, Unit]  # of the base units of length, area, volume and time

    def grams(self, stored: float | None) -> str:
        """An amount of grams: `1464` → `1.5 kg`, `64` → `64 g`, for what is little of a large unit is not nothing."""
        small = stored is not None and abs(stored) * self.heavy.factor < 1
        return (self.weight if small else self.heavy)(stored)


# by definition the inch is 25.4 mm, the US fluid ounce 1/128 of 231 cubic inches: 29.5735295625 ml
_HOURS = Unit("h", 1 / 3600, 1)
_METRIC_OTHERS = {
    "um": Unit("m", 1e-6, 1),
    "mm2": Unit("m²", 1e-6, 2),
    "ul": Unit("ml", 1e-3, 0),
    "s": _HOURS,
}
_US_OTHERS = {
    "um": Unit("ft", 1 / 304800, 1),
    "mm2": Unit("ft²", 1 / 304.8**2, 1),
    "ul": Unit("fl oz", 1 / 29573.5295625, 1),
    "s": _HOURS,
}

# by definition the international pound is 453.59237 g, a board foot 144 cubic inches of 25.4 mm: 2.359737216 dm³
_METRIC = Units(Unit("g", 1, 0), Unit("kg", 1e-3, 1), Unit("dm³", 1, 1), Unit("dm³", 1, 0), _METRIC_OTHERS)
_US = Units(
    Unit("oz", 16 / 453.59237, 1),
    Unit("lb", 1 / 453.59237, 1),
    Unit("bf", 1 / 2.359737216, 1),
    Unit("bf", 2.359737216, 0),
    _US_OTHERS,
)


def units(choice: str) -> Units:
    """The units for `settings.shop.units`: metric or us."""
    return _US if choice == "us" else _METRIC


share = Unit("%", 100, 0)
"""`0.814` → `81 %`; nothing known is a dash."""


def hours(number: float) -> str:
    """`36.1` → `36`, `4.52` → `4.5`: of few hours a part tells."""
    return decimal(0 if number >= 10 else 1)(number)


def hour_paid(paid: Unit, cents: int | None, owner_hours: float) -> str:
    """What an hour paid, or why that can't be told."""
    return paid.otherwise("too few hours" if owner_hours else "no hours")(cents)


def chance(part: float | None) -> str:
    """A probability: nothing is certain, so never 0 or 100 %."""
    if part is None:
        return DASH
    return "under 1 %" if part < 0.005 else "over 99 %" if part >= 0.995 else share(part)


def at_most_sure(part: float | None) -> str:
    """How sure a comparison can be: what is not on record may differ too, so never more than "over 95 %"."""
    return "over 95 %" if part is not None and part >= 0.95 else chance(part)


def rate(events: int, pieces: int, part: float | None, low: float | None, high: float | None) -> str:
    """A rate as counted never stands alone: `5 of 12, 42 % (19 to 68 %, 19 times in 20)`; of few the counts do."""
    if part is None or low is None or high is None or pieces < FEW:
        return f"{events} of {pieces}"
    return f"{events} of {pieces}, {share(part)} ({half_up(100 * low)} to {share(high)}, 19 times in 20)"


def count(number: int, thing: str, things: str = "") -> str:
    """`2, "row"` → `2 rows`."""
    return f"{number:,} {thing if number == 1 else things or thing + 's'}"


def sold_as_high(as_high: int, sold: int) -> str:
    """How many of a product's sold pieces brought a price or more: what buyers paid, beside what it should cost."""
    return f"{as_high or 'None'} of {sold:,} sold at that or more"


def month(day: date | None) -> str:
    """`2026-09-01` → `September 2026`."""
    return DASH if day is None else f"{day:%B %Y}"


def day(value: date | None) -> str:
    return DASH if value is None else value.isoformat()


def place(file: str | None, sheet: str | None, row: int | None, occurrence: int | None = None) -> str:
    """Where a record stands: `inbox/wood.xlsx, sheet 2025, row 14`, or `shop.toml, people, entry 3`."""
    if not file:
        return "no record: worked out"
    inner, entry = ("", "entry") if file.endswith(".toml") else ("sheet ", "row")
    whole = file.endswith(".toml") and not sheet  # what stands before all sections
    again = occurrence and f"occurrence {occurrence + 1}"  # of a repeating event, whose rows share a line
    parts = (file, sheet and f"{inner}{sheet}", row is not None and not whole and f"{entry} {row}", again)
    return ", ".join(part for part in parts if part)


def field(name: str) -> str:
    """The name of a record's field as one says it: `shipping_charged` → `shipping charged`."""
    return name.replace("_", " ")


def tag(name: str, *told: str | None) -> str:
    """A tag with what it is the tag of: `P-0101 · tray · walnut`."""
    return " · ".join(part for part in (name, *told) if part)


def article(noun: str) -> str:
    """`side table` → `a side table`, `ash tray` → `an ash tray`."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


def field_text(value: Any) -> str:
    """A field of a record as text."""
    if value is None:
        return DASH
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(str(part) for part in value)
    return f"{value:,}" if isinstance(value, int) else str(value)


def lasted(seconds: int) -> str:
    """A length of time: `210` → `3 min 30 s`."""
    told = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    return " ".join(f"{number:,} {unit}" for number, unit in told if number) or "0 s"


def signed_share(part: float | None) -> str:
    """`-0.12` → `−12 points`: a difference of shares."""
    if part is None:
        return DASH
    points = int(half_up(100 * abs(part))) * (1 if part > 0 else -1)
    return f"{MINUS if points < 0 else '+' if points > 0 else ''}{abs(points)} points"


def signed(number: float | None) -> str:
    """`-2.31` → `−2.3`, `0.5` → `+0.5`."""
    return DASH if number is None else f"{'+' if half_up(number, 1) > 0 else ''}{decimal(1)(number)}"


def measure(unit: str, units: Units) -> Unit:
    """The unit in which all amounts that are stored in one unit can be compared, such as grams for milligrams."""
    match unit:
        case "mg":
            return units.weight.per(1e-3)
        case "mm3":
            return units.wood.per(1e-6)
        case "each" | "kit":
            return Unit("" if unit == "each" else unit, 1e-3, 1)
        case _:
            return units.others[unit]


def amount(stored: float | None, unit: str, units: Units) -> str:
    """A stored quantity as one says it: `1464000, "mg"` → `1.5 kg`; thousandths of `each` become pieces."""
    if stored is None:
        return DASH
    if unit == "mg" and abs(stored) >= 1e6:
        return units.heavy.per(1e-3)(stored)
    plain = measure(unit, units)
    shown = half_up(stored * plain.factor, plain.digits)
    if stored > 0 and not shown:  # a little is not nothing
        return f"under {Decimal(1).scaleb(-plain.digits)} {plain.name}".rstrip()
    if unit in ("each", "kit") and shown % 1 == 0:
        plain = replace(plain, digits=0)
    return plain(stored)
