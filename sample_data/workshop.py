"""The invented workshop: what it makes, of what, who works there, and the truth behind its figures.

Nothing here is real: names, prices and effects are made up so that they look like a small wood and resin workshop
(common practice, no source). Sizes are in micrometres, hours in hours, money in cents, quantities in stored base units.
"""

from dataclasses import dataclass, field
from datetime import date

START = date(2023, 11, 1)
"""The day the books begin."""

NAME = "Ostrel & Wick Bench"
TAX_SHARE = 0.06
STIR_TIMER_AFTER = 0.67
"""Share of the time after which a timer hangs on the wall and short stirs become rare."""

MM3_PER_BOARD_FOOT = 2359737.216  # 144 cubic inches of 25.4 mm
ML_PER_FLUID_OUNCE = 29.5735295625  # 231 cubic inches to the US gallon, 128 ounces to the gallon


@dataclass(frozen=True)
class Product:
    """A kind of piece: `size` is length, width, thickness in mm (round: length = width = diameter)."""

    share: float
    size: tuple[int, int, int]
    hours: dict[str, float]
    router: float
    hardware: dict[str, int]
    days_to_sell: float
    packaging: str
    round: bool = False


PRODUCTS: dict[str, Product] = {
    "wall clock": Product(
        0.20,
        (300, 300, 25),
        {
            "design": 0.35,
            "sawing": 0.5,
            "surfacing": 0.6,
            "carving": 0.6,
            "sanding": 1.4,
            "finishing": 0.7,
            "assembly": 0.4,
        },
        0.9,
        {"clock movement": 1},
        45,
        "box small",
        True,
    ),
    "tray": Product(
        0.18,
        (450, 300, 30),
        {
            "design": 0.25,
            "sawing": 0.6,
            "surfacing": 0.8,
            "carving": 0.7,
            "sanding": 1.8,
            "finishing": 0.8,
            "assembly": 0.3,
        },
        1.1,
        {"tray handle": 2},
        50,
        "box large",
    ),
    "coaster run": Product(
        0.29,
        (100, 100, 12),
        {"sawing": 0.5, "surfacing": 0.5, "carving": 0.4, "sanding": 1.3, "finishing": 0.7},
        0.6,
        {"felt pad": 4},
        14,
        "box small",
    ),
    "house sign": Product(
        0.15,
        (600, 200, 22),
        {
            "design": 0.8,
            "sawing": 0.5,
            "surfacing": 0.6,
            "carving": 0.9,
            "sanding": 1.4,
            "finishing": 0.8,
            "assembly": 0.3,
        },
        1.8,
        {"wall bracket": 2},
        55,
        "box large",
    ),
    "side table": Product(
        0.09,
        (600, 450, 40),
        {
            "design": 0.6,
            "sawing": 1.4,
            "surfacing": 1.8,
            "gluing": 1.2,
            "sanding": 3.4,
            "finishing": 1.5,
            "assembly": 1.6,
        },
        0.0,
        {"table leg set": 1},
        75,
        "box large",
    ),
    "wall rack": Product(
        0.12,
        (700, 150, 25),
        {
            "design": 0.2,
            "sawing": 0.5,
            "surfacing": 0.6,
            "gluing": 0.4,
            "sanding": 1.2,
            "finishing": 0.6,
            "assembly": 0.5,
        },
        0.0,
        {"coat hook": 5},
        50,
        "box large",
    ),
}

SIZE_EXPONENT = {
    "design": 0.0,
    "sawing": 0.4,
    "surfacing": 0.6,
    "carving": 0.4,
    "gluing": 0.4,
    "sanding": 0.7,
    "finishing": 0.6,
    "assembly": 0.2,
}
"""Hours grow with (area / usual area) to this power."""
LEARNING_EXPONENT = -0.08
"""Hours go with (how many of this product so far) to this power, from the tenth on."""
RUN_EXPONENT = 0.6
"""Hours of a run go with (units / 6) to this power."""
HOURS_SPREAD = 0.18
"""Standard deviation of the log of an operation's hours."""
FINISH_HOURS = {
    "oil and wax": {},
    "hard wax oil": {"finishing": 1.15},
    "resin inlay": {"sanding": 1.25},
    "flood coat": {"sanding": 1.15, "finishing": 0.8},
    "cast river": {"sanding": 1.5, "surfacing": 1.3},
}


@dataclass(frozen=True)
class Wood:
    """A species: share of the pieces, cents a board foot, true usable share of a lot, true effect on rework (logit)."""

    share: float
    board_foot: int
    usable: float
    effect: float
    spellings: tuple[str, ...]


WOODS: dict[str, Wood] = {
    "black walnut": Wood(0.16, 1450, 0.66, 0.0, ("black walnut", "Walnut", "BW", "american walnut")),
    "black cherry": Wood(0.12, 950, 0.70, -0.1, ("black cherry", "Cherry", "american cherry")),
    "sugar maple": Wood(0.12, 980, 0.74, 0.1, ("sugar maple", "Hard maple", "rock maple")),
    "white oak": Wood(0.12, 1020, 0.68, 0.0, ("white oak", "White Oak", "WO")),
    "white ash": Wood(0.10, 740, 0.72, -0.1, ("white ash", "Ash", "american ash")),
    "American elm": Wood(0.12, 880, 0.58, 0.0, ("American elm", "Elm", "white elm")),
    "boxelder": Wood(0.12, 820, 0.46, 1.9, ("boxelder", "Box elder", "boxelder")),
    "American beech": Wood(0.07, 620, 0.71, 0.1, ("American beech", "Beech", "beech")),
    "yellow birch": Wood(0.05, 640, 0.73, 0.0, ("yellow birch", "Birch", "birch")),
    "eastern redcedar": Wood(0.02, 700, 0.60, 0.0, ("eastern redcedar", "red cedar", "aromatic cedar")),
}

FINISHES: dict[str, float] = {
    "oil and wax": -0.3,
    "hard wax oil": -0.2,
    "resin inlay": 0.2,
    "flood coat": 1.3,
    "cast river": 0.5,
}
"""True effect of each finish on the chance of rework (logit)."""
FINISH_SHARES = {"oil and wax": 0.25, "hard wax oil": 0.22, "resin inlay": 0.22, "flood coat": 0.13, "cast river": 0.18}
ELM_FINISH_SHARES = {
    "oil and wax": 0.08,
    "hard wax oil": 0.06,
    "resin inlay": 0.06,
    "flood coat": 0.72,
    "cast river": 0.08,
}
"""Elm only looks bad: it mostly gets the flood coat, and has no effect of its own."""
FINISH_SPELLINGS = {
    "oil and wax": ("oil and wax", "Oil & wax", "oil/wax"),
    "hard wax oil": ("hard wax oil", "Hardwax oil", "hard-wax oil"),
    "resin inlay": ("resin inlay", "Inlay", "resin inlay"),
    "flood coat": ("flood coat", "Flood", "flood-coat"),
    "cast river": ("cast river", "River", "cast river"),
}
REWORK_BASE = -2.6
SHORT_STIR_EFFECT = 1.5
EARLY_EFFECT = 0.4
SHORT_STIR_CHANCE = (0.24, 0.06)
"""Chance that a mix is stirred too short, before and after the timer."""
SCRAP_CHANCE = 0.018
SCRAP_AFTER_REWORK = 0.06
WARRANTY_CHANCE = 0.012

RESIN_LOSS = {"left_in_cup": 0.105, "spilled": 0.04, "unexplained": 0.02}
"""Mean shares of a mix that never reach a piece, by cause; what is trimmed is a share of the deposit, below."""
TRIM_SHARE = {"seal": 0.0, "inlay": 0.30, "casting": 0.15, "flood": 0.08, "repour": 0.15}

MATERIAL_FACTOR, HOUR_PRICE = 1.55, 6000
"""A list price is the usual hours × this, and the usual materials × that, with some noise."""


@dataclass(frozen=True)
class Item:
    """Something on the shelf: a pack holds `pack` of `base`, written as one of `written`; `log`: share noted."""

    category: str
    base: str
    pack: int
    cents: int
    supplier: str
    written: tuple[tuple[str, str], ...]
    log: float = 0.0
    most: int = 1


_OZ, _GAL = 28349, 3785412  # mg in an ounce, µl in a gallon
ITEMS: dict[str, Item] = {
    # 1 quart of coating mix at 1.12 g/ml; 1.5 l of deep pour at 1.10 g/ml
    "coating resin": Item("resin", "mg", 1059915, 4390, "Tarn Resin Supply", (("1", "kit"), ("946.353", "ml")), most=4),
    "deep pour resin": Item("resin", "mg", 1650000, 5680, "Tarn Resin Supply", (("1", "kit"), ("1.65", "kg")), most=4),
    "blue pigment": Item("colourant", "mg", 50000, 1150, "Tarn Resin Supply", (("50", "g"),), most=1),
    "black pigment": Item("colourant", "mg", 50000, 990, "Tarn Resin Supply", (("50", "g"),), most=1),
    "pearl powder": Item("colourant", "mg", 25000, 1290, "Tarn Resin Supply", (("25", "g"),), most=1),
    "sanding disc P80": Item("abrasive", "each", 18000, 890, "Gritworks", (("18", "each"), ("18", "pcs"))),
    "sanding disc P120": Item("abrasive", "each", 18000, 890, "Gritworks", (("18", "each"), ("18", "pcs"))),
    "sanding disc P180": Item("abrasive", "each", 18000, 890, "Gritworks", (("18", "each"), ("18", "pcs"))),
    "sanding disc P240": Item("abrasive", "each", 18000, 890, "Gritworks", (("18", "each"), ("18", "pcs"))),
    "finishing oil": Item("finish", "ul", 250000, 1090, "Harrow Hardware", (("250", "ml"), ("0.25", "l")), 0.5, 1),
    "paste wax": Item("finish", "mg", 250000, 1690, "Harrow Hardware", (("250", "g"), ("0.25", "kg")), 0.4, 1),
    "hard wax oil": Item("finish", "ul", 473176, 3490, "Harrow Hardware", (("16", "fl oz"), ("473.176", "ml")), 0.6, 1),
    "wood glue": Item("consumable", "ul", 236588, 790, "Harrow Hardware", (("8", "fl oz"),), 0.1, 1),
    "nitrile gloves": Item("consumable", "each", 100000, 1450, "Gritworks", (("100", "each"), ("100", "pcs")), 0.0, 1),
    "mixing cup": Item("consumable", "each", 20000, 760, "Tarn Resin Supply", (("20", "each"), ("20", "pcs")), 0.0, 1),
    "stir stick": Item("consumable", "each", 50000, 390, "Tarn Resin Supply", (("50", "each"), ("50", "pcs")), 0.0, 1),
    "masking tape": Item("consumable", "um", 50_000_000, 560, "Harrow Hardware", (("50", "m"),), 0.0, 2),
    "clock movement": Item("hardware", "each", 3000, 1950, "Harrow Hardware", (("3", "each"), ("3", "pcs")), 0.92),
    "tray handle": Item("hardware", "each", 6000, 2100, "Harrow Hardware", (("6", "each"), ("6", "pcs")), 0.9),
    "felt pad": Item("hardware", "each", 100000, 690, "Harrow Hardware", (("100", "each"), ("100", "pcs")), 0.7),
    "wall bracket": Item("hardware", "each", 6000, 1150, "Harrow Hardware", (("6", "each"), ("6", "pcs")), 0.9),
    "table leg set": Item("hardware", "each", 2000, 9800, "Harrow Hardware", (("2", "each"), ("2", "pcs")), 0.96),
    "coat hook": Item("hardware", "each", 10000, 1900, "Harrow Hardware", (("10", "each"), ("10", "pcs")), 0.9),
    "box small": Item("packaging", "each", 12000, 1190, "Packhorse Paper", (("12", "each"), ("12", "pcs")), most=2),
    "box large": Item("packaging", "each", 6000, 1350, "Packhorse Paper", (("6", "each"), ("6", "pcs"))),
    "tissue paper": Item("packaging", "each", 50000, 720, "Packhorse Paper", (("50", "each"), ("50", "pcs"))),
}


BILLS = {
    **dict.fromkeys(("electricity", "insurance"), "overhead"),
    **dict.fromkeys(("advertising", "web shop", "postage labels", "booth fee"), "selling"),
    **dict.fromkeys(
        ("router bit", "saw blade", "drill bit set", "dust filter", "blade sharpening", "sander pad"), "tool"
    ),
}
"""What is bought and never used by a piece."""


@dataclass(frozen=True)
class Resin:
    """What a data sheet would say: densities in g/ml, parts by volume."""

    density: float
    density_a: float
    density_b: float
    parts_a: int
    parts_b: int
    kit_ml: float
    shelf_months: int


RESINS = {
    "coating resin": Resin(1.12, 1.15, 1.09, 1, 1, 946.353, 12),
    "deep pour resin": Resin(1.10, 1.12, 1.06, 2, 1, 1500, 18),
}


@dataclass(frozen=True)
class Channel:
    """A channel's fees, each from its day (None = from the start): share, fixed, payment share, payment fixed."""

    fees: tuple[tuple[date | None, float, int, float, int], ...]
    tax_by: str = "us"


CHANNELS = {
    "market": Channel(((None, 0.0, 0, 0.026, 10),)),
    "online": Channel(((None, 0.065, 20, 0.03, 25), (date(2025, 2, 1), 0.08, 25, 0.03, 25)), "channel"),
    "commission": Channel(((None, 0.0, 0, 0.0, 0),)),
    "gallery": Channel(((None, 0.40, 0, 0.0, 0),), "channel"),
}


@dataclass(frozen=True)
class Person:
    role: str
    paid: bool
    slower: float
    rates: tuple[tuple[date | None, int], ...] = field(default=())


PEOPLE = {
    "Mara": Person("owner", False, 1.0, ((None, 3000),)),
    "Tobin": Person("employee", True, 1.12, ((None, 2150), (date(2025, 4, 1), 2400))),
}

MACHINES = {
    # name: (bought, cost with its tax, salvage, months)
    "CNC router": (date(2023, 11, 14), 689000, 90000, 84),
    "planer": (date(2023, 11, 1), 118000, 20000, 60),
    "drum sander": (date(2025, 3, 11), 137800, 25000, 72),
}


def in_force(dated: tuple[tuple[date | None, int], ...], day: int) -> int:
    """The value in force on `day` (an ordinal)."""
    return next(value for begin, value in reversed(dated) if begin is None or begin.toordinal() <= day)
