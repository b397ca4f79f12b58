"""The shop folder and its `shop.toml`, read into one frozen `Shop`. What can stand in it is in `settings.py`."""

import os
import tomllib
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pipeline import reference
from pipeline.errors import UserError, call
from pipeline.settings import PPM, SETTINGS, USUAL_OPERATIONS, Setting, SettingsTable
from pipeline.shop import format_versions
from pipeline.shop.list_of_pieces import ListOfPieces
from pipeline.shop.settings_checks import (
    check_alike,
    check_apart,
    check_entries,
    check_goals,
    check_one_thing,
    check_words,
    is_day,
    is_number,
    with_line,
)

FOLDERS = ("inbox", "mappings", "log", "mends", "quotes", "database", "reports")
"""The folders of a shop, beside `shop.toml`. The tool writes in all of them but `inbox`."""


READ_WITH = {
    "shop": ("name", "currency", "units", "sizes_in", "region", "time_zone"),
    "rule": ("tax_reclaimable",),
    "tax_rate": ("rate_ppm",),
    "item": ("name", "category", "base_unit"),
} | dict.fromkeys(("person_rate", "machine", "pool", "channel", "operation"), ("name",))
"""Table of settings → those of its columns that a file is read and cleaned with. Pay, fees and rent are none of them:
another figure of these has no file read anew."""


@dataclass(frozen=True)
class Shop:
    """A shop folder with its settings. `tables` holds `settings.*` as rows of stored values, without row ids.

    `dates`: what comes first in dates that may be read both ways, "day" or "month", as other files of the shop show;
    `year`: that of all days in those, for dates without one; 0 = they have several, or too few of them say one;
    `seen`: the tags and words that stand in those; `listed`: which of their tables lists the pieces.
    """

    folder: Path
    tables: dict[str, list[dict[str, Any]]]
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    dates: str = ""
    year: int = 0
    seen: dict[str, frozenset[str]] = field(default_factory=dict)
    listed: ListOfPieces | None = None

    @property
    def minor_digits(self) -> int:
        return reference.minor_digits(self["currency"])

    def __getitem__(self, setting: str) -> Any:
        """A setting of the shop itself, by its stored name."""
        return self.tables["shop"][0][setting]

    def names(self, table: str) -> list[str]:
        """The distinct names in a settings table, such as `person_rate`."""
        return list(dict.fromkeys(row["name"] for row in self.tables[table]))

    @property
    def reading(self) -> dict[str, Any]:
        """What the readers of files need to know of the shop."""
        return {
            "time_zone": self["time_zone"],
            "operations": (*self.names("operation"), *self.words.get("operation", {})),
            "own_name": self["name"],
        }

    def to_read_with(self) -> "Shop":
        """The shop with nothing but the settings that files are read with: those of `READ_WITH`, and its words."""
        tables: dict[str, list[dict[str, Any]]] = {}
        for name, columns in READ_WITH.items():
            rows = [{column: row[column] for column in columns} for row in self.tables[name]]
            tables[name] = [row for at, row in enumerate(rows) if row not in rows[:at]]
        return replace(self, tables=tables)

    def now(self) -> datetime:
        """This moment by the shop's clock."""
        zone = self["time_zone"]
        return datetime.now(ZoneInfo(zone)) if zone else datetime.now().astimezone()

    def as_of(self, day: date) -> "Shop":
        """The shop as it is on a day, which its settings then name."""
        (row,) = self.tables["shop"]
        return replace(self, tables=self.tables | {"shop": [row | {"as_of": day}]})

    def path(self, folder: str) -> Path:
        return self.folder / folder


def load(folder: Path) -> Shop:
    """Read `folder/shop.toml`. Raises `UserError` for a missing folder or file, bad TOML, or an impossible setting."""
    file = folder / "shop.toml"
    _stands(folder, file)
    try:
        content = file.read_bytes()
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise UserError(f"shop.toml can't be read: {why}.", str(file), "Make it a file that you may read.") from error
    return checked(folder, content)


def checked(folder: Path, content: bytes) -> Shop:
    """What the bytes of a `shop.toml` say. Raises `UserError` for bad TOML, or an impossible setting."""
    file = folder / "shop.toml"
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        data = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:  # TOML, its encoding, its depth, its numbers
        raise UserError(f"shop.toml can't be read: {error}.", str(file), "Mend the line named.") from None
    try:
        format_versions.refuse_newer("settings file", data.pop(format_versions.KEY, None), str(file))
        return _shop(folder, data, str(file))
    except UserError as error:
        raise with_line(error, text) from None


def is_a_programs_own(path: Path) -> bool:
    """Whether a program keeps this file for itself (.DS_Store, ~$book.xlsx): no refresh reads it."""
    return path.name.startswith((".", "~$"))


def named_well(folder: Path) -> None:
    """Raise `UserError` for a folder in which DuckDB can't keep a file: it takes a backslash for a folder's end, a
    question mark for the path's, and knows no names in bytes of another encoding."""
    if os.name == "nt":
        return  # Windows allows no such names
    named = str(folder.resolve())
    wrong = next((c for c in named if c in "\\?" or "\ud800" <= c <= "\udfff"), "")
    if wrong:
        what = f"`{wrong}`" if wrong in "\\?" else "bytes that are no UTF-8"
        raise UserError(
            f"No database can be kept below a folder with {what} in its name.",
            named.encode(errors="backslashreplace").decode(),
            "Give the folder another name.",
        )


def _stands(folder: Path, file: Path) -> None:
    """Raise `UserError` where a shop's folders and settings are something else, or not to be read."""
    if folder.exists() and not folder.is_dir():
        raise UserError("This is a file, no shop's folder.", str(folder), "Name the folder that holds shop.toml.")
    if not folder.is_dir():
        raise UserError("There is no such folder.", str(folder), "Make one with: kerfledger new DIR")
    named_well(folder)
    if file.is_dir():
        raise UserError("A folder stands where the shop's settings should be.", str(file), "Take it away.")
    if not file.is_file():
        raise UserError(
            "This folder holds no shop.toml, so it is no shop.", str(folder), f"Make one with: {call('new', folder)}"
        )
    for path in map(folder.joinpath, FOLDERS):
        if os.path.lexists(path) and not path.is_dir():
            raise UserError("A file stands where a folder should be.", str(path), "Move it somewhere else.")
        if path.is_dir() and not os.access(path, os.R_OK | os.X_OK):
            # what can't be listed would look like an empty folder, and all its figures would be gone
            raise UserError("You may not read this folder.", str(path), "Make it readable for yourself.")


def _shop(folder: Path, data: dict[str, Any], where: str) -> Shop:
    top = (*SETTINGS["shop"].settings, *SETTINGS["rule"].settings)
    known = {t.section for t in SETTINGS.values()} | {s.name for s in top} | {"words"}
    unknown = sorted(set(data) - known)
    if unknown:
        raise UserError(
            f"shop.toml has a setting that is not known: {unknown[0]}",
            where,
            f"Known ones: {', '.join(sorted(k for k in known if k))}.",
        )
    shop_rows = list(_rows(SETTINGS["shop"], [data], None, where))
    start = shop_rows[0]["start"]
    minor = reference.minor_digits(shop_rows[0]["currency"])
    if minor != 2:
        shop_rows = list(_rows(SETTINGS["shop"], [data], None, where, minor))
    tables = {"shop": [row | {"from_date": start, "as_of": None, "minor_units": 10**minor} for row in shop_rows]}
    for table in SETTINGS.values():
        if not table.section:
            continue
        entries = data.get(table.section, [])
        if table.name == "goal" and isinstance(entries, dict):
            entries = [entries]  # of one year it may stand in single brackets
        check_entries(table.section, entries, table.dated, where)
        if table.name == "rule":
            entries = _in_force(data, entries, start)
        if table.name in ("machine", "pool"):
            check_one_thing(table, entries, where)
            entries = _as_first_said(table, entries)
        if table.name == "pool":
            entries = [{"basis": "budget"} | e if _has_rate(e) else e for e in entries]
        if table.name == "channel":
            entries = [_with_all_fees(entry) for entry in entries]
        if table.name == "operation":
            named = {reference.key(str(e.get("name"))) for e in entries}
            usual = [op for op in USUAL_OPERATIONS if reference.key(op[0]) not in named]
            entries = [*entries, *({"name": n, "kind": k, "driver": d} for n, k, d in usual)]
        tables[table.name] = list(_rows(table, entries, start, where, minor))
        _check_names(table, tables[table.name], where)
    check_apart(tables, where)
    check_alike(tables, {table.name: table.section for table in SETTINGS.values()}, where)
    check_goals(tables["goal"], where)
    _check_pools(tables, where)
    _check_rates(tables["tax_rate"], where)
    check_words(data.get("words", {}), where)
    words = {v: {str(a): str(b) for a, b in aliases.items()} for v, aliases in data.get("words", {}).items()}
    return Shop(folder, tables, words)


def _as_first_said(table: SettingsTable, entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What a later entry of the same name leaves out of the thing itself is as its first one says."""
    first: dict[str, dict[str, Any]] = {}
    fixed = {setting.name for setting in table.settings} - {"basis"}
    for entry in entries:
        first.setdefault(str(entry.get("name")), {name: said for name, said in entry.items() if name in fixed})
    return [first[str(entry.get("name"))] | entry for entry in entries]


def _has_rate(pool: dict[str, Any]) -> bool:
    """A rate that is given is meant: it needs no word that says so."""
    return any("rate" in entry for entry in (pool, *pool.get("amounts", ())))


_FEES = tuple(setting.name for setting in SETTINGS["channel"].dated_settings)


def _with_all_fees(entry: dict[str, Any]) -> dict[str, Any]:
    """Who says one fee of a channel has said them all; where none is said, its own sales show them."""
    if not isinstance(entry.get("fees"), list):
        return dict.fromkeys(_FEES, 0) | entry if any(name in entry for name in _FEES) else entry
    dated = [dict.fromkeys(_FEES, 0) | one if any(name in one for name in _FEES) else one for one in entry["fees"]]
    return entry | {"fees": dated}


def _check_names(table: SettingsTable, rows: list[dict[str, Any]], where: str) -> None:
    named = [row for row in rows if row.get("name")]
    for row in _twice(named, lambda row: (row["name"], row["from_date"], row.get("day"))):
        raise UserError(
            f"Two entries of [[{table.section}]] are named `{row['name']}`, from the same day.",
            where,
            "Leave one of them, or give the other a name of its own.",
        )


def _twice(rows: list[dict[str, Any]], says: Callable[[dict[str, Any]], Hashable]) -> Iterator[dict[str, Any]]:
    """Rows that say what one before them does. What stands twice for one day could be taken either way."""
    seen = set()
    for row in rows:
        if says(row) in seen:
            yield row
        seen.add(says(row))


def _check_pools(tables: dict[str, list[dict[str, Any]]], where: str) -> None:
    """A machine is a pool by itself. An hour is paid for once: what pools name is shop work, each operation by one."""
    kinds = {row["name"]: row["kind"] for row in tables["operation"]}
    named: dict[str, str] = {}
    for pool in tables["pool"]:
        if pool["basis"] == "budget" and pool["rate_cents"] is None:
            raise UserError(
                f"The pool `{pool['name']}` goes by a budgeted rate, but has no `rate` from {pool['from_date']} on.",
                where,
                'Give it one, or write basis = "normal": then the rate is worked out.',
            )
        for operation in pool["operations"].split("; ") if pool["operations"] else ():
            if kinds.get(operation) != "shop":
                raise UserError(
                    f"The pool `{pool['name']}` names `{operation}`, which is no shop work.",
                    where,
                    'Name one of: {}; or add it to [[operations]] with kind = "shop".'.format(
                        ", ".join(sorted(name for name, kind in kinds.items() if kind == "shop"))
                    ),
                )
            if named.setdefault(operation, pool["name"]) != pool["name"]:
                raise UserError(
                    f"Two pools name `{operation}`: `{named[operation]}` and `{pool['name']}`.",
                    where,
                    "Leave it with the one whose cost it is.",
                )


def _check_rates(rates: list[dict[str, Any]], where: str) -> None:
    for row in _twice(rates, lambda row: (row["regime"], row["category"], row["from_date"])):
        raise UserError(
            f"Two entries of [[tax_rates]] are for {row['category'] or 'all the rest'}, from the same day.",
            where,
            "Leave one of them, or give the other its own `category` or `from`.",
        )


def _in_force(data: dict[str, Any], later: list[dict[str, Any]], start: date) -> list[dict[str, Any]]:
    """The rules from each day on: those at the top of the file, then what each later entry changes of them; entries of
    one day, the start's too, are one: which of two held would else be luck."""
    entry = {s.name: data[s.name] for s in SETTINGS["rule"].settings if s.name in data} | {"from": start}
    entries = {str(start): entry}
    for change in sorted(later, key=lambda change: str(change.get("from", ""))):
        entry = entry | {"from": None} | change
        entries[str(entry["from"])] = entry
    return list(entries.values())


def _rows(
    table: SettingsTable, entries: list[dict[str, Any]], start: date | None, where: str, minor: int = 2
) -> Iterator[dict[str, Any]]:
    for number, entry in enumerate(entries, 1):
        place = f"{where}, [[{table.section}]] number {number}" if table.section else where
        allowed = {s.name for s in (*table.settings, *table.dated_settings)} | {"from", table.dated}
        strange = sorted(set(entry) - allowed) if table.section else []
        if strange:
            raise UserError(
                f"A setting that is not known: {strange[0]}",
                place,
                f"Known ones: {', '.join(sorted(a for a in allowed if a))}.",
            )
        fixed = {s.column: stored_value(s, entry.get(s.name), place, minor) for s in table.settings}
        if not table.dated:
            yield fixed | ({"from_date": _from(entry, start, place)} if table.section else {})
            continue
        for dated in entry.get(table.dated) or [entry]:
            from_date = dated.get("from", start)
            if not is_day(from_date):
                raise UserError(f"`from` is no date: {from_date!r}", place, "Write it as from = 2026-05-31.")
            yield (
                fixed
                | {"from_date": from_date}
                | {s.column: stored_value(s, dated.get(s.name), place, minor) for s in table.dated_settings}
            )


def _from(entry: dict[str, Any], start: date | None, where: str) -> date | None:
    given = entry.get("from", start)
    if start is not None and not is_day(given):
        raise UserError(f"`from` is no date: {given!r}", where, "Write it as from = 2026-05-31.")
    return given


def stored_value(setting: Setting, given: Any, where: str, minor: int) -> Any:
    """What is stored of what a setting says; its default where it says nothing. `UserError` for what it can't be."""
    if given is None:
        if setting.required:
            raise UserError(f"shop.toml lacks `{setting.name}`.", where, setting.why)
        given = setting.default
        if given is None:
            return None
    kind = setting.kind

    def problem() -> UserError:
        what = f"It takes a {kind.replace('_', ' ')}. {setting.why}"
        return UserError(f"`{setting.name}` can't be {given!r}.", where, what)

    if kind == "yes_no" or kind == "date":
        if not (isinstance(given, bool) if kind == "yes_no" else is_day(given)):
            raise problem()
        return given
    if kind == "text" or kind == "choice":
        if not isinstance(given, str) or (setting.choices and given not in setting.choices):
            raise (
                problem()
                if not setting.choices
                else UserError(
                    f"`{setting.name}` can't be {given!r}.", where, f"Choose one of: {', '.join(setting.choices)}."
                )
            )
        return given
    if kind == "zone":
        try:
            if not isinstance(given, str):
                raise TypeError
            return given and ZoneInfo(given).key
        except (ZoneInfoNotFoundError, ValueError, TypeError, OSError):
            raise UserError(
                f"`{setting.name}` can't be {given!r}.", where, 'Write an IANA name, as "America/Chicago".'
            ) from None
    if kind == "names":
        if not isinstance(given, list) or not all(isinstance(one, str) and one.strip() for one in given):
            raise problem()
        return "; ".join(one.strip() for one in given) or None
    if not is_number(given, kind):
        raise problem()
    number = Decimal(str(given))
    if kind == "number":
        return float(number)
    if kind == "rate":
        return float(round(number * 10**minor, 3))
    scale = {"money": 10**minor, "share": PPM, "density": 1000, "millilitres": 1000, "grams": 1000, "count": 1}[kind]
    if kind == "count" and number != number.to_integral_value():
        raise problem()
    return int((number * scale).to_integral_value(rounding="ROUND_HALF_EVEN"))
