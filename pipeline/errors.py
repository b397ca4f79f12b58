"""What can go wrong, said so that a maker can mend it.

Two kinds only. A wrong *call* (no such folder, a broken `shop.toml`) raises `UserError`, which the command line prints
once. A bad *row* never raises: it is set aside in `intake.rejected` under a code of `FAULTS`, and stays visible.
"""

import shlex
from dataclasses import dataclass
from pathlib import Path


def call(command: str, folder: Path) -> str:
    """The call of a command on a folder as a shell understands it, whatever the folder's name holds."""
    named = str(folder)
    return f"kerfledger {command} {shlex.quote(f'./{named}' if named.startswith('-') else named)}"


class UserError(Exception):
    """A wrong call or setting. Says what is wrong, where, and what to do about it."""

    def __init__(self, what: str, where: str = "", mend: str = "") -> None:
        self.what, self.where, self.mend = what, where, mend
        super().__init__(
            "\n".join(part for part in (what, where and f"  where: {where}", mend and f"  mend:  {mend}") if part)
        )

    def __reduce__(self) -> tuple[type["UserError"], tuple[str, str, str]]:
        return UserError, (self.what, self.where, self.mend)  # from another process it comes with its parts


@dataclass(frozen=True)
class Fault:
    """A kind of bad row: `title` names it, `meaning` says why the row can't be used, `mend` what to do."""

    title: str
    meaning: str
    mend: str


FAULTS: dict[str, Fault] = {
    "missing": Fault("A needed field is empty", "The record can't be used without it.", "Fill it in."),
    "date": Fault("Not a date", "What stands there is no date that exists.", "Write the date as 2026-05-31."),
    "date-order": Fault(
        "Day or month first?",
        "Every date of this file fits day first and month first, and nothing says which it is.",
        'Say `date_order = "day"` or `"month"` in the file\'s mapping.',
    ),
    "date-year": Fault(
        "Which year?",
        "The date has no year, and no heading, title, sheet or file name above it names one alone.",
        "Say `year = 2026` in the file's mapping.",
    ),
    "time": Fault("Not a time of day", "What stands there is no time of day.", "Write the time as 14:30."),
    "money": Fault("Not an amount", "What stands there is no amount of money.", "Write the amount as 1234.50."),
    "quantity": Fault(
        "Not a quantity", "What stands there is no number with a known unit.", "Write a number and a unit: 2.5 kg."
    ),
    "unit": Fault(
        "Unit not known",
        "The unit is not in the unit table, so it is not guessed.",
        "Use a usual unit, or add it to [words.unit] in shop.toml.",
    ),
    "unit-missing": Fault(
        "No unit",
        "A bare number stands where the unit is not known.",
        "Name the unit in the cell, in a unit column, or in the mapping.",
    ),
    "ounces": Fault(
        "Ounces by weight or by volume?",
        "Of resin `oz` can be either, and nothing says which it is.",
        'Say `part_a = "fl oz"`, or `"oz wt"`, under [units] of the file\'s mapping.',
    ),
    "duration": Fault(
        "Not a duration", "What stands there is no length of time.", "Write 1:45, 1h45, 105 min or 1.75."
    ),
    "number": Fault("Not a number", "What stands there is no number.", "Write a plain number."),
    "count": Fault("Not a whole number", "This field counts things.", "Write a whole number."),
    "yes-no": Fault("Neither yes nor no", "What stands there is no word for yes or no.", "Write yes or no."),
    "choice": Fault(
        "Not one of the words allowed", "The field takes one of a few words.", "Use one of the words listed."
    ),
    "tag": Fault("Not a tag", "The tag or the run of tags can't be read.", "Write T-031, or T-031..T-034 for a run."),
    "range": Fault(
        "Outside what can be", "The value can't be right: negative, or far too large.", "Check what stands there."
    ),
    "hours": Fault("No hours", "The row has neither hours nor both times.", "Fill hours, or started_at and ended_at."),
    "tax-differs": Fault(
        "Net, tax and gross don't add up",
        "The amount with its tax is not the one without it and a tax that there can be.",
        "Check the row's amounts, or take the column with the tax out of [helpers] of the file's mapping.",
    ),
    "charge-alone": Fault(
        "A charge without its goods",
        "Freight, packing, a discount, tax or a total stands in a row of its own, and no goods share its number.",
        "Give it the number of its receipt or order, and its supplier where two have that number; of freight that was "
        "bought for itself, write the category.",
    ),
    "charge-of-none": Fault(
        "A charge whose goods are set aside",
        "All rows that share its number are set aside themselves, so it is part of nothing yet.",
        "Mend those rows: this one then follows by itself.",
    ),
    "charge-back": Fault(
        "A charge that goes back, or whose goods do",
        "It is below nothing, is counted as none or less, or all that shares its number goes back: who bears it is "
        "not known.",
        "Write what was given back into the freight, discount or tax of the row that it belongs to.",
    ),
    "deposit-row": Fault(
        "A deposit among the goods",
        "It may be money that came in, money that goes back, or a deposit paid before that is taken off.",
        "If money moved that day, write it as a payment of kind deposit; else leave the row out.",
    ),
    "each-or-row": Fault(
        "For each, or for all of them?",
        "The row sells several, and nothing says whether its price is that of one.",
        "Answer the question about its price, or write the price of one in the row.",
    ),
    "none-sold": Fault(
        "A sale of none",
        "Nothing was handed over, and nothing came back.",
        "Leave out the row; what you took off the price later is a `discount` on the row of the sale.",
    ),
    "ambiguous-word": Fault(
        "A word with two meanings",
        "The word fits more than one kind.",
        "Write the full name, or settle it in [words] of shop.toml.",
    ),
    "tag-twice": Fault(
        "A tag used twice",
        "Two different rows carry the same tag, so neither can be trusted.",
        "Give each its own tag.",
    ),
    "pour-differs": Fault(
        "Rows of one pour disagree",
        "Parts, rests and readings stand on one row of a pour, or alike on each.",
        "Leave them on one row.",
    ),
    "torn": Fault(
        "More cells than headings",
        "A separator in a cell without quotes moved what stands behind it; some of it may be about a buyer.",
        "Put that cell into quotes.",
    ),
    "too-long": Fault("Too long a cell", "The cell holds more text than any field can.", "Check the file's quotes."),
}

QUESTIONS: dict[str, Fault] = {
    "sign-cost": Fault(
        "A minus before a cost, in some rows alone",
        "Each is counted as a cost, whichever sign it has.",
        'Say in the file\'s mapping, under [signs], what a minus is there: "cost", or "credit" for money given back.',
    ),
    "sign-income": Fault(
        "A minus before what the buyer paid",
        "It is taken as money given back.",
        "If it is what the shop paid, name the column shipping_paid in the file's mapping.",
    ),
    "sign-bank": Fault(
        "Money that goes out, with a minus in some rows alone",
        "Where most have a minus, those without are taken as money that came back; else all as money that went out.",
        'Say in the file\'s mapping, under [signs], amount = "out" (a minus goes out) or "kind" (a minus '
        "turns the kind round).",
    ),
    "sign-bill": Fault(
        "A bill with another sign than the rest, or than its quantity",
        "Where three and most have a minus, those without are taken as money given back; else those with one.",
        'Say in the file\'s mapping, under [signs], what a minus is there: amount = "cost" or "credit".',
    ),
    "row-total": Fault(
        "Rows whose total is not quantity times price",
        "The price of each is taken as it stands, and the total is not used.",
        "Name the column of what is taken off or put on, or take the wrong one out of the file's mapping.",
    ),
}
"""What a file can leave open: asked about once a file, with what is taken meanwhile."""
