"""The parts of an address that some page reads. What else stands there names nothing, and the page says so."""

from dashboard.links import HELD, KEPT, OPEN
from dashboard.setting_words import SECTIONS, TAUGHT

_CHOICES = (
    "against", "by", "counted", "defect", "earned-by", "earned-first", "earned-span", "fault", "figure", "file",
    "group", "kind", "margin", "material", "pair", "pour", "resin", "shown", "span", "step", "table", "wood", "year",
)  # fmt: skip

_DESCRIBED = (
    "carving", "diameter", "grams", "hardware", "if", "length", "margin-wanted", "pay", "quantity", "quote-channel",
    "quote-finish", "quote-product", "quote-species", "setup", "thickness", "width", "with",
)  # fmt: skip
"""What a quote is asked for."""

_FOLDS = (
    "agrees", "balance", "before-and-after", "both", "break-even", "by-channel", "by-file", "cash", "course", "cover",
    "defects", "dictionary", "difference", "differences", "earlier", "earned", "entries", "events", "extras",
    "finish-it", "found-at", "group-pieces", "groups", "layers", "left", "likely", "log-better", "lots", "make-more",
    "mark-change", "market", "mix-hint", "months", "more", "more-questions", "more-rework", "more-to-do", "need-groups",
    "never-cut", "not-known", "others", "quoted", "rates", "records", "relist", "resin-lots", "rests-on",
    "roll-forward", "rules", "run", "score", "set-goal", "shelf", "shelf-life", "shop-floor", "take-out", "unsold",
    "weighed", "why-aside", "wood-groups", "worst-pours", "write-downs", "wrong",
)  # fmt: skip

KEYS = frozenset((*HELD, *KEPT, OPEN, TAUGHT, *_CHOICES, *_DESCRIBED, *_FOLDS, *(section.key for section in SECTIONS)))

BEGINNINGS = ("each-", "looks-", "rest-")
"""How those begin that are made of a table's or a picture's name: its rest, its small bars, what was found on it."""


def is_read(key: str) -> bool:
    """Whether some page reads this part of an address."""
    return key in KEYS or key.startswith(BEGINNINGS)
