"""Setting a year's goal: an entry of `[[goal]]` in `shop.toml` is put there, changed or taken away; all else stays."""

import re
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import polars as pl
import tomlkit
from tomlkit.items import AoT, InlineTable, Table

from pipeline.asking.answer import as_comment, file_bytes, parsed
from pipeline.cleaning import money, numbers
from pipeline.cleaning.parsed import UnreadableError
from pipeline.errors import UserError
from pipeline.shop import Shop, load, saved_settings

SECTION = "goal"
NAMES = {"result": "the result", "pay": "what an hour paid", "pieces": "the pieces"}
SAYS = "said on the page of the year"


def set_goal(folder: Path, year: int, told: Mapping[str, str]) -> Path:
    """Say what is wanted of a year: `told` has a text for `result`, `pay`, `pieces`; an empty one takes it away.

    Raises `UserError`, and writes nothing, for what is no amount or no number of pieces.
    """
    shop = load(folder)
    path = shop.folder / "shop.toml"
    wanted = {name: _read(name, text.strip(), shop) for name in NAMES if (text := told.get(name, "")).strip()}
    before = path.read_bytes()
    document = parsed(before, path)
    _put(document, year, wanted, path)
    after = file_bytes(document, before)
    wanted_words = ", ".join(f"{name} {told[name].strip()}" for name in wanted) or "none any more"
    saved_settings.save(folder, before, after, f"goal of {year}: {wanted_words}")
    return path


def _read(name: str, text: str, shop: Shop) -> int | float:
    try:
        value = _number(name, text, shop)
    except UnreadableError:
        such = "120" if name == "pieces" else "12000 or 25.50"
        raise UserError(f"“{text}” is no goal for {NAMES[name]}.", text, f"Write a number, such as {such}.") from None
    return int(value) if value.denominator == 1 else round(float(value), 3)


def _number(name: str, text: str, shop: Shop) -> Fraction:
    """What stands there, in the shop's money or in whole pieces."""
    mark = numbers.certain(pl.Series([text]))
    if name == "pieces":
        # no part of a piece is handed over: a mark before three digits is one of thousands
        value = numbers.signed(text, mark or ("," if re.fullmatch(r"\d{1,3}\.\d{3}", text) else "."))
    else:
        value = _amount(text, mark, shop)
    if not 0 <= value <= numbers.BIGGEST // 1000 or (name == "pieces" and value.denominator != 1):
        raise UnreadableError("number")
    return value


def _amount(text: str, mark: str, shop: Shop) -> Fraction:
    value, currency = money.amount(text, mark or ".")
    other, _ = money.amount(text, mark or ",")
    if value != other:
        large, small = sorted((value, other), reverse=True)
        mend = f"Write {large} or {float(small):.2f}, whichever is meant."
        raise UserError(f"“{text}” can be read two ways.", text, mend)
    if currency and not money.fits(currency, shop["currency"]):
        raise UserError(f"“{text}” is not in {shop['currency']}, the shop's money.", text, "Write the amount in it.")
    return value


def _put(document: tomlkit.TOMLDocument, year: int, wanted: Mapping[str, Any], path: Path) -> None:
    entries = _entries(document, path)
    at = next((n for n, each in enumerate(entries) if each.get("year") == year), None)
    if not wanted:
        if at is not None:
            del entries[at]
        if not len(entries):
            document.remove(SECTION)
        return
    if at is None:
        entry = tomlkit.table()
        entry["year"] = year
        entries.append(entry)
        at = len(entries) - 1
    entry = entries[at]
    for name in NAMES:
        if name in wanted and entry.get(name) != wanted[name]:
            said = tomlkit.item(wanted[name])
            said.comment(as_comment(SAYS))
            entry[name] = said
        elif name not in wanted and name in entry:
            entry.remove(name)


def _entries(document: tomlkit.TOMLDocument, path: Path) -> AoT:
    """The goals as a list of tables; a single one becomes the first of it."""
    found: Any = document.setdefault(SECTION, tomlkit.aot())
    if isinstance(found, Table) and not isinstance(found, InlineTable):
        listed = tomlkit.aot()
        entry = tomlkit.table()
        for name, value in found.items():
            entry[name] = value
        listed.append(entry)
        document.remove(SECTION)
        document[SECTION] = listed
        found = document[SECTION]
    if not isinstance(found, AoT):
        raise UserError("The goals stand in one line.", str(path), "Write each below a line [[goal]].")
    return found
