"""Which record a table holds, and which of its columns is which field. Mapping files live in the shop's `mappings/`."""

import glob
import json
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from pipeline.errors import UserError
from pipeline.mapping.private_columns import is_private_header
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS, Record
from pipeline.shop import format_versions
from pipeline.shop.contents import why_closed
from pipeline.shop.settings_checks import with_line
from pipeline.writing.file_names import everywhere

_KEYS = {
    format_versions.KEY: int,
    "files": str,
    "sheets": str,
    "record": str,
    "columns": dict,
    "constants": dict,
    "date_order": str,
    "decimal": str,
    "units": dict,
    "tax_included": bool,
    "repeats_total": bool,
    "signs": dict,
    "helpers": dict,
    "year": int,
    "supersedes": list,
    "price_for": str,
    "rest": str,
    "left_out": list,
    "headings": list,
    "spread": dict,
    "spread_over": str,
}

SPREAD = {"hours": ("hours", ("person", "operation")), "usage": ("quantity", ("item",))}
"""Record → what several columns of it hold, and what their headers can be, one of each."""

_ALLOWED = {
    "date_order": ("", "year", "day", "month"),
    "decimal": ("", ".", ","),
    "price_for": ("", "each", "row"),
    "rest": ("", "ask", "each"),
    "spread_over": ("", *(name for _, over in SPREAD.values() for name in over)),
}

_TAKES: dict[type, str] = {
    str: "a text in quotes",
    int: "a whole number",
    dict: "a table: write its name in brackets on a line of its own, its entries below",
    bool: "true or false",
    list: 'a list of fields, such as ["receipt"]',
}

EARLIEST_YEAR = 1990

LONGEST_NAME = 80
"""So long a mapping's name is at most: a file's name has 255 bytes, and a letter up to four."""

OF_ITS_RECORD = (
    *("columns", "constants", "helpers", "units", "signs", "supersedes", "left_out"),
    *("tax_included", "repeats_total", "price_for", "spread", "spread_over"),
)
"""What a mapping says of one record: of no use to another, or wrong there."""

SIGNS: dict[tuple[str, str], tuple[str, ...]] = {
    ("sales", "discount"): ("cost", "credit"),
    ("sales", "channel_fee"): ("cost", "credit"),
    ("sales", "payment_fee"): ("cost", "credit"),
    ("sales", "shipping_paid"): ("cost", "credit"),
    ("sales", "sales_tax"): ("cost", "credit"),
    ("sales", "shipping_charged"): ("credit",),
    ("purchases", "amount"): ("cost", "credit"),
    ("purchases", "discount"): ("cost", "credit"),
    ("purchases", "freight"): ("cost", "credit"),
    ("purchases", "tax"): ("cost", "credit"),
    ("payments", "amount"): ("out", "kind"),
}
"""Fields of which a mapping may say what a minus means: a cost or money given back; money out, or against its kind."""

_SIGNS_OF_STANDARDS = {"payments": {"amount": "out"}, "purchases": {"amount": "credit"}}
"""What a minus is in a file of an open standard: money out in a bank's statement, a credit in an invoice."""

HELPERS: dict[str, dict[str, tuple[str, ...]]] = {
    "direction": {"payments": ("kind",)},
    "money_out": {"payments": ("amount", "kind")},
    "money_in": {"payments": ("amount", "kind")},
    "row_total": {"sales": ("price",)},
    "gross": {"sales": ("price",), "purchases": ("amount",)},
    "unit_of_time": {"hours": ()},
}
"""Columns that are no field, but say what fields are → the records that have them, and the needed fields they fill:
whether money came in or went out; a column for either; what all of a row cost; the price with its tax; the unit of each
row's hours.
`cleaning/helper_columns.py` turns them into fields."""


@dataclass(frozen=True)
class Mapping:
    """How the tables of some files are read.

    `files` and `sheets` are patterns (`bank/*.csv`) on the path below `inbox/` and the sheet; `record` is a record
    type, or "" to skip these tables. `columns` says field → header as written, `constants` field → text of every row
    ("" = no column tells it: it follows from other cells, or is asked about),
    `units` field → unit of bare numbers. `date_order` ("year", "day", "month") and `decimal` ("." or ",") are decided
    by the file's evidence when "". `supersedes` names fields: a row of a later file (by name) replaces an earlier
    file's row that is alike in them. `signs` says what a minus before an amount means (`SIGNS`), where a file has both.
    `price_for` says what a price or an amount is for, "each" or the whole "row" ("" = as the record has it). With
    `rest` = "ask" it is told in part: what it neither names nor has in `left_out` (headers) is proposed, or asked; with
    "each" every column by itself.
    `helpers` says which column helps to fill fields (`HELPERS`); `year` the year of dates without one. `headings` are
    all headers of the table that it was settled for: another file with the same ones is read by it too. `spread` are
    the columns of hours of a table that has one for each person, or each operation (`spread_over`), header → its name;
    or of amounts used, one for each item.
    """

    name: str
    files: str = "*"
    sheets: str = "*"
    record: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    date_order: str = ""
    decimal: str = ""
    units: dict[str, str] = field(default_factory=dict)
    tax_included: bool = False
    repeats_total: bool = False
    supersedes: tuple[str, ...] = ()
    signs: dict[str, str] = field(default_factory=dict)
    price_for: str = ""
    rest: str = ""
    left_out: tuple[str, ...] = ()
    helpers: dict[str, str] = field(default_factory=dict)
    year: int = 0
    headings: tuple[str, ...] = ()
    spread: dict[str, str] = field(default_factory=dict)
    spread_over: str = ""

    @property
    def filled(self) -> set[str]:
        """The fields that something fills: a column, a text for all rows, or helping columns."""
        return {
            *self.columns,
            *self.constants,
            *self.helped,
            *((SPREAD[self.record][0], self.spread_over) if self.spread else ()),
        }

    @property
    def helped(self) -> set[str]:
        """The needed fields that helping columns fill where their own cell is empty; what a payment was for follows
        from the way the money went."""
        found = {name for role in self.helpers for name in HELPERS[role].get(self.record, ())}
        return found | ({"kind"} if self.record == "payments" and self.signs.get("amount") == "out" else set())

    def fits(self, file: str, sheet: str) -> bool:
        return fnmatchcase(file.casefold(), self.files.replace("\\", "/").casefold()) and fnmatchcase(
            sheet.casefold(), self.sheets.casefold()
        )

    def is_settled_for(self, table: TextTable) -> bool:
        """Whether a table has all the headings that this was settled for, and no other."""
        own, others = headings_of(self.headings), headings_of(table.names)
        return len(own) > 1 and own == others


def exact(file: str, sheet: str) -> tuple[str, str]:
    """The patterns of file (its path below `inbox/`) and sheet that fit this table and no other."""
    return glob.escape(file), glob.escape(sheet) or "*"


def own(mappings: Iterable[Mapping], file: str, sheet: str) -> Mapping | None:
    """The mapping that is for this table and no other."""
    return next((how for how in mappings if (how.files, how.sheets) == exact(file, sheet)), None)


def new_name(mappings: Iterable[Mapping], file: str, sheet: str) -> str:
    """What a new mapping of a table is called: by the words of file and sheet, as no other is."""
    words = f"{file.rpartition('.')[0] or file} {sheet}"
    name = everywhere("-".join(re.findall(r"[^\W_]+", words.casefold()))[:LONGEST_NAME].strip("-"), "mapping")
    taken = {how.name.casefold() for how in mappings}
    others = (f"{name}-{number}" for number in range(2, len(taken) + 3))
    return name if name not in taken else next(other for other in others if other not in taken)


def headings_of(names: Iterable[str]) -> list[str]:
    """Headers as they are compared, whatever their order."""
    return sorted(filter(None, map(underscored, names)))


def load(folder: Path) -> list[Mapping]:
    """The mapping files of a shop, by name. Raises `UserError` for one that can't be."""
    return [read(file) for file in sorted(folder.glob("*.toml"))]


def read(file: Path) -> Mapping:
    """One mapping file. Raises `UserError` with the place and what to do."""
    if why := why_closed(file):
        raise UserError("This mapping can't be read.", str(file), why)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise UserError(f"This mapping can't be read: {error}", str(file), "Save it as UTF-8.") from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise UserError(f"This mapping can't be read: {why}.", str(file), "Make it a file that you may read.") from None
    return checked(file.stem, text, file)


def checked(name: str, text: str, file: Path) -> Mapping:
    """The text of a mapping file, to be called `name`. Raises `UserError` with the place and what to do."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # no TOML, or of a depth that nobody writes
        raise UserError(f"This mapping can't be read: {error}", str(file), "Mend the line named.") from None
    try:
        return _mapping(name, data, str(file))
    except UserError as error:
        raise with_line(error, text) from None


def _mapping(name: str, data: dict[str, Any], where: str) -> Mapping:
    format_versions.refuse_newer("mapping", data.get(format_versions.KEY), where)
    for setting, value in data.items():
        if setting not in _KEYS:
            raise UserError(f"A mapping has no `{setting}`.", where, f"Known ones: {', '.join(_KEYS)}.")
        if not isinstance(value, _KEYS[setting]):
            raise UserError(f"`{setting}` can't be {value!r}.", where, f"It takes {_TAKES[_KEYS[setting]]}.")
    record = data.get("record", "")
    if record and record not in RECORDS:
        raise UserError(
            f"There is no record {record!r}.",
            where,
            f'Choose one of: {", ".join(RECORDS)}; or "" to skip these tables.',
        )
    if "files" not in data:
        raise UserError("The mapping doesn't say which files it is for.", where, 'Write files = "bank/*.csv".')
    for setting, allowed in _ALLOWED.items():
        if data.get(setting, "") not in allowed:
            raise UserError(
                f"`{setting}` can't be {data[setting]!r}.", where, f"Choose one of: {', '.join(map(repr, allowed))}."
            )
    if data.get("year", 0) and not EARLIEST_YEAR <= data["year"] <= 2100:
        raise UserError(f"`year` can't be {data['year']!r}.", where, "Write it with four digits: year = 2026.")
    for setting in ("left_out", "headings"):
        if not all(isinstance(header, str) for header in data.get(setting, [])):
            raise UserError(f"`{setting}` can't be so.", where, 'It takes headers in quotes, as ["Till no."].')
    for setting in ("columns", "constants", "units", "supersedes", "signs"):
        _check_fields(data.get(setting, {}), setting, record, where)
    for name, said in data.get("signs", {}).items():
        if said not in SIGNS.get((record, name), ()):
            known = ", ".join(map(repr, SIGNS.get((record, name), ())))
            mend = f"Choose one of: {known}." if known else "Leave it out: a minus has one meaning there."
            raise UserError(f"[signs] {name} can't be {said!r}.", where, mend)
    _check_helpers(data.get("helpers", {}), record, where)
    spread = data.get("spread", {})
    if spread and data.get("spread_over") not in SPREAD.get(record, ("", ()))[1]:
        mend = 'Hours have it, with spread_over = "person" or "operation", and usage, with "item".'
        raise UserError("[spread] can't stand so.", where, mend)
    if not all(isinstance(text, str) and text for text in spread.values()):
        raise UserError("[spread] can't be so.", where, 'Write "Ada h" = "Ada".')
    _check_private(dict(zip(spread.values(), spread, strict=False)), where)
    _check_private(data.get("columns", {}) | data.get("helpers", {}), where)
    data.pop(format_versions.KEY, None)
    lists = {setting: tuple(data.get(setting, ())) for setting in ("supersedes", "left_out", "headings")}
    return Mapping(name, **{**data, **lists})


def _check_fields(named: Any, setting: str, record: str, where: str) -> None:
    known = [f.name for f in RECORDS[record]] if record else []
    for name in named:
        if name not in known:
            raise UserError(
                f"[{setting}] names a field that {record or 'a skipped table'} has not: {name}",
                where,
                f"Known ones: {', '.join(known)}.",
            )
        if isinstance(named, dict) and not isinstance(named[name], str):
            raise UserError(f"[{setting}] {name} can't be {named[name]!r}.", where, "Write a text in quotes.")


def _check_helpers(named: dict[str, Any], record: str, where: str) -> None:
    known = [role for role, records in HELPERS.items() if record in records]
    for role, header in named.items():
        if role not in known:
            mend = f"Known ones: {', '.join(known)}." if known else "Leave it out."
            raise UserError(f"[helpers] names what {record or 'a skipped table'} has not: {role}", where, mend)
        if not isinstance(header, str):
            raise UserError(f"[helpers] {role} can't be {header!r}.", where, "Write the header in quotes.")


def _check_private(named: dict[str, str], where: str) -> None:
    for name, header in named.items():
        if is_private_header(header):
            raise UserError(
                f"{name} would take in “{header}”, which is about a buyer.",
                where,
                "Buyers' names, addresses, mails and phones are never stored: take the line out.",
            )


def dump(mapping: Mapping) -> str:
    """The mapping file as text, for a person to read and edit."""
    lines = [f"{format_versions.KEY} = {format_versions.NEWEST['mapping']}"]
    lines += [
        f"{name} = {_toml(getattr(mapping, name))}" for name in ("files", "sheets", "record", "date_order", "decimal")
    ]
    lines += [f"{name} = true" for name in ("tax_included", "repeats_total") if getattr(mapping, name)]
    if mapping.year:
        lines.append(f"year = {mapping.year}")
    lines += [
        f"{name} = {_toml(said)}" for name in ("price_for", "rest", "spread_over") if (said := getattr(mapping, name))
    ]
    lists = {name: getattr(mapping, name) for name in ("supersedes", "left_out", "headings")}
    lines += [f"{name} = [{', '.join(map(_toml, listed))}]" for name, listed in lists.items() if listed]
    for section in ("columns", "constants", "helpers", "units", "signs"):
        entries = getattr(mapping, section)
        if entries:
            lines += ["", f"[{section}]", *(f"{name} = {_toml(text)}" for name, text in entries.items())]
    if mapping.spread:
        entries = [f"{_toml(header)} = {_toml(text)}" for header, text in mapping.spread.items()]
        lines += ["", "[spread]", *entries]
    return "\n".join(lines) + "\n"


def _toml(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def underscored(header: str) -> str:
    """A header as it is compared: words in lower case, joined by underscores."""
    return "_".join(re.findall(r"[^\W_]+", header.casefold()))


def column_of(table: TextTable, header: str) -> str | None:
    """The column (c0, c1, …) under a header, but for case and spaces; `c3` itself where there is no header."""
    if not header:
        return None
    if not table.names:
        return header if header in table.frame.columns else None
    if header in table.names:
        return f"c{table.names.index(header)}"
    alike = [i for i, name in enumerate(table.names) if underscored(name) == underscored(header)]
    if len(alike) == 1:
        return f"c{alike[0]}"
    nameless = [f"c{i}" for i, name in enumerate(table.names) if not name.strip()]
    return header if header in nameless else None


def canonical(file: str, table: TextTable) -> Mapping | None:
    """A mapping for a table whose headers are the field names of one record; file or sheet name settles a tie.

    A file of an open standard says itself which record it holds; what the standard has not is told by other means.
    """
    headers = {underscored(name): name for name in table.names if name.strip()}
    if table.dialect.get("record") in RECORDS:
        said = str(table.dialect["record"])
        return Mapping("canonical", file, record=said, columns=headers, signs=_SIGNS_OF_STANDARDS.get(said, {}))
    fitting = [record for record in RECORDS.values() if headers and _is_canonical(headers, record)]
    if len(fitting) > 1:
        named = [record for record in fitting if record.name in named_records(file, table.sheet)]
        fitting = named if len(named) == 1 else []
    if not fitting:
        return None
    record = fitting[0]
    columns = {f.name: headers[f.name] for f in record if f.name in headers}
    # an entry of the log is written by its form, which has no habits
    signs = {"amount": "credit"} if record.name == "purchases" and file.startswith("log/") else {}
    return Mapping("canonical", file, record=record.name, columns=columns, signs=signs)


def named_records(file: str, sheet: str) -> set[str]:
    """The records that the name of a file or of its sheet says by their own names."""
    return RECORDS.keys() & {*underscored(sheet).split("_"), *underscored(file).split("_")}


def _is_canonical(headers: dict[str, str], record: Record) -> bool:
    fields = {f.name for f in record}
    return set(headers) <= fields and all(f.name in headers for f in record if f.needed(headers))
