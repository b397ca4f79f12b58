"""Whether what stands in a settings file has the shape that it should, and on which line a setting stands."""

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from pipeline.errors import UserError
from pipeline.reference import key
from pipeline.settings import SettingsTable

MOST = {"count": 10**6, "number": 10**9, "share": 1, "rate": 10**9, "money": 10**12}
"""What a setting of each kind can hold; beyond it no sum of a workshop's would fit."""
MOST_OF_OTHERS = 10**9


def is_day(given: Any) -> bool:
    """Whether it is a day, and no moment of one."""
    return isinstance(given, date) and not isinstance(given, datetime)


def is_number(given: Any, kind: str) -> bool:
    """Whether it is a number, not negative, that a setting of this kind can hold. A yes and a text are none."""
    if isinstance(given, bool) or not isinstance(given, int | float | Decimal):
        return False
    number = Decimal(given)
    return number.is_finite() and 0 <= number <= MOST.get(kind, MOST_OF_OTHERS)


def check_entries(section: str, entries: Any, inner: str, where: str) -> None:
    """Raise `UserError` unless it is a list of tables, and the list `inner` of each is one too."""
    if not isinstance(entries, list):
        raise UserError(f"`{section}` must be a list: write [[{section}]].", where, "Double the brackets.")
    for number, entry in enumerate(entries, 1):
        place = f"{where}, [[{section}]] number {number}"
        if not isinstance(entry, dict):
            mend = f"Write [[{section}]] on a line of its own, and its settings below."
            raise UserError(f"`{section}` can't hold {entry!r}.", place, mend)
        later = entry.get(inner, [])
        if inner and (not isinstance(later, list) or not all(isinstance(each, dict) for each in later)):
            mend = f"Write [[{section}.{inner}]] on a line of its own, with `from` and its settings below."
            raise UserError(f"`{inner}` can't be {later!r}.", place, mend)


GOALS = ("result_cents", "pay_cents", "pieces")
YEARS = range(1900, 2200)


def check_goals(rows: list[dict[str, Any]], where: str) -> None:
    """Raise `UserError` for a goal of no year, of nothing, or a second one for a year."""
    seen: set[int] = set()
    for number, row in enumerate(rows, 1):
        place, year = f"{where}, [[goal]] number {number}", row["year"]
        if year not in YEARS:
            raise UserError(f"`year` can't be {year}.", place, "Write it as year = 2026.")
        if all(row[name] is None for name in GOALS):
            raise UserError(f"The goal for {year} doesn't say of what.", place, "Add one of: result, pay, pieces.")
        if year in seen:
            raise UserError(f"Two goals are for {year}.", place, "Leave one of them: it can hold all three kinds.")
        seen.add(year)


def check_one_thing(table: SettingsTable, entries: list[dict[str, Any]], where: str) -> None:
    """Raise `UserError` where entries of one name say different things of it, apart from what changes by date."""
    said: dict[str, dict[str, Any]] = {}
    # the basis follows from whether a rate is given, which changes by date
    fixed = [s.name for s in table.settings if s.name not in ("name", "basis")]
    for entry in entries:
        name = str(entry.get("name"))
        mine = {setting: entry[setting] for setting in fixed if setting in entry}
        first = said.setdefault(name, mine)
        other = next((setting for setting, given in mine.items() if first.get(setting, given) != given), None)
        other = other or next((setting for setting in mine if setting not in first), None)
        if other:
            raise UserError(
                f"Two entries of [[{table.section}]] are named `{name}`, and differ in `{other}`.",
                where,
                f"Give each a name of its own; what changes by date goes below [[{table.section}.{table.dated}]].",
            )


def check_apart(tables: dict[str, list[dict[str, Any]]], where: str) -> None:
    """Raise `UserError` where two machines, pools or events have names that nobody can tell apart."""
    named: dict[str, tuple[str, str]] = {"spoilage": ("the cost of scrap, on its way to good pieces", "spoilage")}
    kinds = (("machine", "a machine"), ("pool", "a pool"), ("event", "an event"))
    for kind, name in ((kind, row["name"]) for table, kind in kinds for row in tables[table]):
        mine = kind, name
        first = named.setdefault("".join(name.split()).casefold(), mine)
        if first != mine and (first[0] != kind or kind != "an event"):
            raise UserError(
                f"{kind.capitalize()} is named `{name}`, and {first[0]} `{first[1]}`.",
                where,
                "A cost finds each by its name alone: give one of them another.",
            )


def check_alike(tables: dict[str, list[dict[str, Any]]], sections: dict[str, str], where: str) -> None:
    """Raise `UserError` where two names differ by letters alone that no record tells apart: Ada and ada. `sections`:
    the section of `shop.toml` that each table is read from."""
    for table in ("person_rate", "channel", "operation", "item"):
        seen: dict[str, str] = {}
        for name in (row["name"] for row in tables[table]):
            first = seen.setdefault(key(name), name)
            if first != name:
                named = f"`{first}` and `{name}`, which records don't tell apart"
                mend = "Write the name in all of them alike, or give one another name."
                raise UserError(f"Entries of [[{sections[table]}]] are named {named}.", where, mend)


def check_words(words: Any, where: str) -> None:
    """Raise `UserError` unless it is tables of a word and what it means."""
    mend = 'Write [words.species] on a line of its own, and below it "soft maple" = "red maple".'
    if not isinstance(words, dict):
        raise UserError(f"`words` can't be {words!r}.", where, mend)
    for vocabulary, meanings in words.items():
        if not isinstance(meanings, dict):
            raise UserError(f"`{vocabulary}` in [words] can't be {meanings!r}.", where, mend)
        for word, meaning in meanings.items():
            if not isinstance(meaning, str):
                raise UserError(f"`{word}` in [words.{vocabulary}] can't mean {meaning!r}.", where, mend)


def with_line(error: UserError, text: str) -> UserError:
    """The error with the line of the setting that it names, where one is found."""
    section = re.search(r"\[\[(\w+)\]\] number (\d+)", error.where)
    lines = text.splitlines()
    heads = [at for at, line in enumerate(lines) if section and re.match(rf"\s*\[\[\s*{section[1]}\s*\]\]", line)]
    first = heads[int(section[2]) - 1] if section and len(heads) >= int(section[2]) else 0
    # the setting that is named, the list or table that it is in, then any other word of the message
    names = [*re.findall(r"`([^`]+)`", error.what), *re.findall(r"\[+(\w+)", f"{error.where} {error.what}")]
    names += re.findall(r"\w+", error.what) if not section else []
    for name in names:
        begins = re.compile(rf"\s*(?:\[+\s*)?[\"']?{re.escape(name)}\b[^=\[]*(?:=|\])")
        found = next((at for at in range(first, len(lines)) if begins.match(lines[at])), None)
        if found is not None:
            return UserError(error.what, f"{error.where}, line {found + 1}", error.mend)
    return error
