"""Figures as a maker reads them."""


def amount(cents: int | None, digits: int = 2) -> str:
    """`123456` → `1,234.56`; nothing known is a dash."""
    if cents is None:
        return "–"
    sign, whole = ("-" if cents < 0 else ""), abs(cents)
    if not digits:
        return f"{sign}{whole:,}"
    return f"{sign}{whole // 10**digits:,}.{whole % 10**digits:0{digits}}"


TOO_FEW_HOURS = "too few hours on record to say what an hour paid"


LAYERS = {"labour": "work", "own labour": "own work", "overhead": "rent and power", "spoilage": "usual scrap"}
"""Kinds of cost whose names in the database are not those on a page: there one word stands for one thing."""


PRACTICES = {
    "off_ratio": "mix off its ratio", "short_stir": "stirred too short", "early_touch": "touched before it cured",
    "cold": "cold room", "damp": "damp room", "wet_wood": "wet wood", "unsealed": "flood coat on unsealed wood",
}  # fmt: skip
"""Practices that rework may go with, as one says them."""


def layer(name: str) -> str:
    """A kind of cost as one says it."""
    return LAYERS.get(name, name)


def share(part: float | None) -> str:
    """`0.814` → `81 %`; nothing known is a dash."""
    return "–" if part is None else f"{100 * part:.0f} %"


def count(number: int, thing: str) -> str:
    """`2, "row"` → `2 rows`."""
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def place(file: str | None, sheet: str | None, row: int | None, occurrence: int | None = None) -> str:
    """Where a record stands: `inbox/wood.xlsx, sheet 2025, row 14`."""
    again = occurrence and f"occurrence {occurrence + 1}"  # of a repeating event, whose rows share a line
    parts = (file or "?", sheet and f"sheet {sheet}", row is not None and f"row {row}", again)
    return ", ".join(part for part in parts if part)


def masked(number: int) -> str:
    """What was masked when files were read, as a sentence."""
    are = "mail, phone number or street was" if number == 1 else "mails, phone numbers or streets were"
    return f"{number:,} {are} masked in notes, titles and descriptions."
