"""Which cells of a table are which field, and what the whole file shows about them: date order, decimal mark, units."""

import re
from dataclasses import dataclass, replace

import polars as pl

from pipeline.cleaning import dates, durations, numbers, unicode_marks
from pipeline.cleaning.amounts_in_names import POURED, amount_in
from pipeline.cleaning.parsed import About
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.units import Units
from pipeline.mapping import Mapping, column_of
from pipeline.mapping.private_columns import torn
from pipeline.readers import TYPED
from pipeline.readers.reader_output import TextTable, occurrences
from pipeline.records import Field, Record
from pipeline.reference import key, words_for
from pipeline.shop import Shop

_EMPTY = ("", "-", "–", "—", "−", "－", "n/a", "N/A", "#N/A", "NULL", "null")
_NONE = words_for("phrases", "nothing")
"""Words for nothing, or for what is not known, where a number, a size or a day is wanted."""
_INVISIBLE = r"[\u200b\u200c\u200d\u2060\ufeff\u200e\u200f]"
COUNTED = ("abrasive", "hardware", "consumable", "packaging", "tool", "overhead", "selling", "equipment")
"""Categories that are counted by the piece: a bare number of them is so many of each (common practice, no source)."""
_NUMERIC = ("money", "quantity", "length", "number", "percent", "temperature", "duration")
_LEAST_LINES = 5
"""Of so many lines at least it is told that all their quantities are counts."""
_LEAST_SIZED, _LONG, _THICK = 3, 150, 12
"""So many rows with sizes, and so large ones by the middle of them, are in millimetres."""
_WITHOUT_WORDS = (*_NUMERIC, "count", "date", "time")


def cells(table: TextTable, mapping: Mapping, record: Record) -> pl.DataFrame:
    """`row`, `occurrence`, `unit`, `lone`, and a String column for each field that the mapping fills: trimmed, null
    where empty."""
    chosen: list[pl.Expr | pl.Series] = [pl.col("row"), occurrences(table.frame["row"])]
    unclean = _with_invisible(table)
    moved, behind = torn(table)
    for field in record:
        column = column_of(table, mapping.columns.get(field.name, ""))
        constant = mapping.constants.get(field.name)
        if column is None and constant is None:
            continue
        text = _trimmed(column, column in unclean) if column else pl.lit(None, pl.String)
        if column in behind:
            # in a torn row it may be a buyer's name, whatever the column is
            text = pl.when(~moved).then(text)
        if field.kind in _WITHOUT_WORDS:
            text = pl.when(~text.str.to_lowercase().is_in(_NONE)).then(text)
        chosen.append(
            (text if constant is None else pl.coalesce(text, pl.lit(constant or None, pl.String))).alias(field.name)
        )
    found = table.frame.select(chosen)
    if any(f.kind == "quantity" for f in record) and "unit" not in found.columns:
        found = found.with_columns(pl.lit(None, pl.String).alias("unit"))
    return found.with_columns(pl.lit(None, pl.String).alias("lone"))


def in_usual_marks(found: pl.DataFrame, record: Record) -> pl.DataFrame:
    """The cells with digits, signs and spaces in their usual form, but for fields of plain text and words."""
    kinds = {f.name: f.kind for f in record}
    turned = {
        name: unicode_marks.in_usual_marks(found[name])
        for name in found.columns
        if kinds.get(name, "text") not in unicode_marks.KEPT
    }
    return found.with_columns(column for name, column in turned.items() if column is not found[name])


def texts_of(table: TextTable, column: str) -> pl.Series:
    """The cells of one column as those of a field are read: trimmed, null where empty."""
    unclean = bool(table.frame[column].str.contains(_INVISIBLE).any())
    return table.frame.select(_trimmed(column, unclean).alias(column)).to_series()


def _with_invisible(table: TextTable) -> set[str]:
    """The columns that hold an invisible character anywhere."""
    if not table.columns:
        return set()
    found = table.frame.select(pl.col(table.columns).str.contains(_INVISIBLE).any())
    return {name for name in found.columns if found[name][0]}


def _trimmed(column: str, unclean: bool) -> pl.Expr:
    text = pl.col(column)
    if unclean:
        text = text.str.replace_all(_INVISIBLE, "")
    bare = text.str.strip_chars()
    return pl.when(~bare.is_in(_EMPTY)).then(bare)


def with_lone_units(found: pl.DataFrame, shop: Shop) -> pl.DataFrame:
    """Fills `lone`, the unit of a bare number where nothing names one: each, for what is counted by the piece."""
    items = {key(row["name"]): row for row in shop.tables.get("item", [])}
    counted = {
        name
        for name, row in items.items()
        if row.get("base_unit") == "each" or (not row.get("base_unit") and row.get("category") in COUNTED)
    }
    tests = []
    if "category" in found.columns:
        tests.append(pl.col("category").is_in(_fitting(found["category"], shop)))
    if "item" in found.columns and counted:
        names = [text for text in found["item"].drop_nulls().unique() if key(text) in counted]
        tests.append(pl.col("item").is_in(names))
    if {"item", "category", "amount"} <= {*found.columns}:  # of what is bought by the tin a bare number counts those
        units = Units(shop.words.get("unit"))
        tins = [text for text in found["item"].drop_nulls().unique() if amount_in(text, units)]
        poured = pl.col("category").is_in(_fitting(found["category"], shop, POURED))
        tests.append(poured & pl.col("item").is_in(tins))
    if {"item", "amount", "quantity"} <= {*found.columns}:
        tests.append(pl.lit(_all_whole(found["quantity"])) & _not_wooden(found, shop))
    if not tests:
        return found
    return found.with_columns(pl.when(pl.any_horizontal(tests)).then(pl.lit("each")).alias("lone"))


def _all_whole(quantities: pl.Series) -> bool:
    """Whether all that a receipt's lines say is how many: whole numbers, and never a unit."""
    filled = quantities.drop_nulls()
    return filled.len() >= _LEAST_LINES and bool(filled.str.contains(r"^[-−]?\d{1,4}(?:[.,]0+)?$").all())


def _not_wooden(found: pl.DataFrame, shop: Shop) -> pl.Expr:
    """The rows of what is no wood, which is bought by volume or by the foot."""
    if "category" not in found.columns:
        return pl.lit(value=True)
    return ~pl.col("category").is_in(_fitting(found["category"], shop, ("wood",))).fill_null(value=False)


def _fitting(categories: pl.Series, shop: Shop, wanted: tuple[str, ...] = COUNTED) -> list[str]:
    words = Words("category", shop)
    return [text for text in categories.drop_nulls().unique() if words.find(text) in wanted]


@dataclass(frozen=True)
class Evidence:
    """What a file shows: its date order, the decimal mark of each numeric field, and that of the file for the rest;
    what its dates prove of their order (`dates.shown`), and the unit of bare sizes ("" = it shows none)."""

    order: str
    decimals: dict[str, str]
    decimal: str
    dates: str = ""
    sizes: str = ""


def sizes_shown(found: pl.DataFrame) -> str:
    """ "mm" where bare sizes can be nothing else: nobody makes boards of 1.5 m and more by 12 cm and more."""
    if not {"length", "thickness"} <= {*found.columns}:
        return ""
    bare = [
        found[name].str.extract(r"^(\d{1,5}(?:[.,]\d+)?)$").str.replace(",", ".") for name in ("length", "thickness")
    ]
    long, thick = (texts.cast(pl.Float64, strict=False).drop_nulls() for texts in bare)
    if min(long.len(), thick.len()) < _LEAST_SIZED:
        return ""
    return "mm" if (long.median() or 0) >= _LONG and (thick.median() or 0) >= _THICK else ""  # type: ignore[operator]


def evidence(found: pl.DataFrame, mapping: Mapping, record: Record, file: str, shop: Shop) -> Evidence:
    """Told by the mapping, else shown by the cells: by the column's own first, then by all of the file together."""
    return replace(_marks(found, mapping, record, file, shop), sizes=sizes_shown(found))


def _marks(found: pl.DataFrame, mapping: Mapping, record: Record, file: str, shop: Shop) -> Evidence:
    days = _together(found, [f for f in record if f.kind == "date"])
    order = mapping.date_order or dates.order(days) or shop.dates
    proved = mapping.date_order or dates.shown(days)
    if mapping.decimal:
        return Evidence(order, {}, mapping.decimal, proved)
    numeric = [f for f in record if f.kind in _NUMERIC and f.name in found.columns]
    shown = {f.name: numbers.certain(_together(found, [f])) for f in numeric}
    together = {mark for mark in shown.values() if mark}
    if not together and file.lower().endswith(TYPED):
        return Evidence(order, {}, ".", proved)
    whole = together.pop() if len(together) == 1 else "?" if together else ""
    for field in numeric:
        money = field.kind == "money" and not shown[field.name]
        shape = numbers.thousands(_together(found, [field]), shop.minor_digits) if money else ""
        # 850 and 1.234 look like thousands, but not if the rest of the file has the point for decimals
        shown[field.name] = shown[field.name] or ("?" if shape and whole not in ("", shape) else shape)
    return Evidence(order, shown, whole, proved)


def about(table: TextTable, mapping: Mapping, field: Field, shop: Shop, shown: Evidence) -> About:
    decimal = shown.decimals.get(field.name) or shown.decimal
    header = mapping.columns.get(field.name, "")
    unit = mapping.units.get(field.name, "") or unit_in_header(header, field.kind) or unit_in_title(table, field.kind)
    if not unit and field.kind == "length":
        unit = shop.tables["shop"][0].get("sizes_in") or shown.sizes
    return About(field, shop, unit, shown.order, decimal, header)


def _together(found: pl.DataFrame, fields: list[Field]) -> pl.Series:
    """The distinct texts of several fields."""
    parts = [found[f.name].drop_nulls().unique() for f in fields if f.name in found.columns]
    return pl.concat(parts).unique() if parts else pl.Series([], dtype=pl.String)


_IN_TITLE = re.compile(
    r"[(\[]\s*(?:in\s+|all in\s+)?([^()\[\]\d]{1,12}?)\s*[)\]]|(?:\bin|\ben|[:=])\s+([^\s,;:]+)\s*\.?$"
)
_TITLE_BASES = {"length": ("um",), "quantity": ("mg", "ul")}


def unit_in_title(table: TextTable, kind: str) -> str:
    """The unit that a title above the table names: "Sizes in mm", "Cut list (cm)"; "" where none or several do."""
    if kind not in _TITLE_BASES:
        return ""
    said = [match[1] or match[2] for title in table.titles for match in _IN_TITLE.finditer(title.strip())]
    found = {word for word in said if (unit := Units().find(word)) and unit.base in _TITLE_BASES[kind]}
    return found.pop() if len(found) == 1 else ""


_HEADER_BASES = {"length": ("um",), "quantity": ("mg", "mm3", "ul", "um", "mm2", "each", "kit")}


def unit_in_header(name: str, kind: str) -> str:
    """The unit that a header names: "Length (in)", "weight_kg", "Stirred [min]"; "" if it names none."""
    if kind not in ("length", "quantity", "duration", "temperature"):
        return ""
    bracket = re.search(r"[(\[]\s*(?:in\s+)?([^)\]]+?)\s*[)\]]", name)
    tail = re.split(r"[\s_,/:-]+(?:in\s+)?", name.strip())
    candidates = [bracket[1]] if bracket else []
    if len(tail) > 1:
        candidates += [" ".join(tail[-2:]), tail[-1]]
    if kind == "duration":
        return next((c for c in [*candidates, name.strip()] if c.casefold().rstrip(".") in durations.UNITS), "")
    if kind == "temperature":
        return next(
            (c for c in candidates if re.fullmatch(r"(?:°|º|deg\.?\s*)?[fc](?:elsius|ahrenheit)?", c, re.IGNORECASE)),
            "",
        )
    units = Units()
    candidates += [name.strip()] if kind == "length" else []  # a column of sizes may be called cm
    for candidate in candidates:
        found = units.find(candidate)
        if found and found.base in _HEADER_BASES[kind]:
            return candidate
    return ""
