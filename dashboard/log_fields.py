"""Which fields of a record a form of the log shows, in which order, and what each says: for the page and the phone."""

from pipeline.records import Field

KINDS = {
    "Work": "hours",
    "Pour": "pours",
    "Inspection": "inspections",
    "Material used": "usage",
    "Sale": "sales",
    "Purchase": "purchases",
    "New piece": "pieces",
    "Count": "counts",
    "Move or new price": "moves",
}
"""What one can log, as one says it → the record."""

MIND = {
    "pours": "uncured resin and hardener can hurt skin and lungs: gloves, fresh air, and what the product's data sheet "
    "says about mixing, heat and cure.",
    "hours": "dust and torches can hurt: extraction, a mask that fits, and what your local code says about fire.",
    "pieces": "nothing here says that a finish is fit for food: ask the product's data sheet, and let it cure in full.",
    "sales": "whether tax is due, and how much, is for your tax office or a licensed accountant to say.",
}
"""What to mind while doing what is logged, by record."""

FIRST: dict[str, tuple[str, ...]] = {
    "hours": ("date", "hours", "operation", "pieces", "person", "rework"),
    "pours": ("pour", "date", "purpose", "resin", "part_a", "part_b", "unit", "piece", "left_in_cup", "stir_minutes"),
    "inspections": ("date", "piece", "defect", "action", "found_at", "cause"),
    "usage": ("date", "item", "quantity", "unit", "pieces"),
    "sales": ("date", "channel", "piece", "quantity", "price", "discount", "sales_tax", "event"),
    "purchases": ("date", "supplier", "item", "category", "quantity", "unit", "amount", "tax", "lot"),
    "pieces": (
        *("piece", "product", "species", "finish", "lot", "started", "finished", "status"),
        *("length", "width", "thickness", "blank_length", "blank_width", "blank_thickness"),
    ),
    "counts": ("date", "item", "category", "quantity", "unit"),
    "moves": ("date", "pieces", "place", "list_price"),
}
"""The fields shown at once, by record."""

BY_CATEGORY: dict[str, tuple[str, ...]] = {
    "wood": ("species", "length", "width", "thickness", "diameter", "moisture", "count"),
    "resin": ("expires",),
    "colourant": ("expires",),
    "finish": ("expires",),
    "tool": ("machine",),
    "equipment": ("machine",),
    "overhead": ("pool", "covers"),
    "selling": ("event",),
}
"""What else a purchase of a category is asked: fields of `purchases` that other categories have no use for."""

UNIT_OF = {"wood": "bf", "resin": "kit", "hardware": "each"}
"""In what a purchase of a category is mostly counted, where nobody says it."""

FIRST_UNIT = {"pours": "g", "usage": "each"}
"""The unit that a form of a record begins with."""

HOLDERS = {"price": "for each one"}
"""What stands in an empty number, where its name alone would be read as what several of a thing brought together."""

UNITS = ("g", "ml", "kg", "l", "oz", "lb", "fl oz", "gal", "bf", "each", "kit")
PLACEHOLDERS = {
    "length": "400 mm or 16 in",
    "time": "14:30",
    "temperature": "20 C or 68 F",
    "percent": "45 %",
    "number": "1.5",
}


def label(field: Field) -> str:
    """What stands above a field."""
    other = f", or {field.unless.replace('_', ' ')}" if field.unless else ""
    return field.name.replace("_", " ").capitalize() + (f" (needed{other})" if field.required else "")


def meaning(field: Field) -> str | None:
    """The field's meaning, where it says more than its name does."""
    said = field.meaning.rstrip(".").casefold().removeprefix("the ")
    return None if said == field.name.replace("_", " ") else field.meaning


def sample(field: Field) -> str | None:
    """What such a field may hold, to stand in it while it is empty."""
    if field.kind != "duration":
        return PLACEHOLDERS.get(field.kind)
    return "3:30 or 3.5 min" if "minutes" in field.name else "1:45 or 105 min"
