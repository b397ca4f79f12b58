"""Cells with several facts, parted before they are read: "30 x 20 x 2 cm", "Finishing SB-002, dp-001", "2x tealight".

A part goes only where the row has nothing yet, and only where each part is sure; all other cells stay as they are.
"""

import functools
import re
from collections.abc import Callable
from functools import partial

import polars as pl

from pipeline.cleaning.column_formats import COUNTED, unit_in_header, unit_in_title
from pipeline.cleaning.cross_field_rules import fault
from pipeline.cleaning.item_categories import categories
from pipeline.cleaning.numbers import unsigned
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.recurring import compared
from pipeline.cleaning.synonyms import Words, status_of
from pipeline.cleaning.texts import LONGEST
from pipeline.cleaning.times_of_work import span
from pipeline.cleaning.units import Units
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable
from pipeline.records import Record
from pipeline.reference import before_for, key, names, words_for
from pipeline.shop import Shop

Parts = dict[str, str]

PASSING = "_several"
"""The passing column that says where a count of more than one came out of another cell."""

_BY = re.compile(
    r"\s*(?<=[\d\s\"'″′”’.)a-zA-Z¼½¾])(?:[x×✕*]|\bby\b|\bmal\b|\bper\b)\s*(?=[\d.,¼½¾ØøLWBHTlwbht⌀])", re.IGNORECASE
)
_LABELS = {"l": "length", "w": "width", "b": "width", "h": "thickness", "t": "thickness", "ø": "diameter",
           "⌀": "diameter", "dia": "diameter", "diam": "diameter"}  # fmt: skip
_LABELLED = re.compile(
    r"^(ø|⌀|dia(?:m|\.)?|[lwbht](?=[\s.:=\d]))?[\s.:=]*(.*?)\s*(?:\(?(?<![a-z])([lwbht]|dia(?:m|\.)?|ø|⌀)\)?)?$",
    re.IGNORECASE,
)
_PART = re.compile(r"^([\d.,/\s¼½¾⅐-⅞]+(?:-\d+/\d+)?)\s*([^\d].*)?$")

_ROUND = re.compile(
    r"[øØ⌀]|\b(?:dia(?:m(?:[eè]t[er]{2}|etro)?)?|diámetro|durchm(?:esser)?|round|rund|rond)\b\.?", re.IGNORECASE
)

_MEASURED = ("quantity", "money", "count", "duration")
_REMARK = re.compile(
    r"^\s*((?:~|≈|ca\.?\s|approx\.?\s)?\s*[$€£]?\s*\d[\d.,/]*\s*(?:[^\W\d]{1,5}\.?)?)\s*"
    r"(?:\(([^()]*[^\W\d_]{3}[^()]*)\)|(?:-+>|=>|→)\s*(\S.*)|;\s*([^\d;].*))\s*$"
)

_MIXED = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*\+\s*(\d+(?:[.,]\d+)?)\s*([^\W\d_][^\d]*)?")
_TAG = r"(?:[A-Za-z]{1,6}[-_]\d{1,6}[A-Za-z]?|[A-Za-z]{2,6}\d{3,6}|[A-Za-z]0\d{2,5})"
_RUN = rf"{_TAG}(?:\s*(?:\.\.|…|–)\s*(?:{_TAG}|\d{{1,6}}))?"
_TAGS = re.compile(rf"(?<![\w-]){_RUN}(?:\s*(?:[,;&+/]|\b(?:and|und|et|y|e|en)\b)?\s*{_RUN})*(?![\w-])", re.IGNORECASE)
_NUMBERED = re.compile(r"(?<![\w-])[\w-]*\d[\w-]*")
_GRIT = re.compile(r"[Pp]-?[1-9]\d{1,3}")
_EDGES = " \t\n,;:-–—()[]/|"
_COUNT = re.compile(
    r"^(\d{1,4})\s*(?:[x×*]|(?:pcs?|pieces?|stk|stück|pezzi|pz|uds?|stuks)\b\.?)\s*(?=\D)(\S.*)$", re.IGNORECASE
)


def parted(found: pl.DataFrame, table: TextTable, mapping: Mapping, record: Record, shop: Shop) -> pl.DataFrame:
    """The cells of a table (`column_formats.cells`) with each fact in its own field."""
    fields = {f.name for f in record}
    if record.name == "pieces" and {"status", "finished"} <= {*found.columns}:
        found = _standing(found, shop)
    if "note" in fields:
        remarked = _remarked(shop)
        for each in record:
            if each.kind in _MEASURED and each.name in found.columns:
                found = _with_parts(found, each.name, partial(_named, each.name, remarked))
    for prefix in ("", "blank_"):
        if f"{prefix}length" in found.columns:
            found = _with_parts(found, f"{prefix}length", _sizes(table, mapping, prefix), needs_all=True)
    if record.name == "pours" and "part_a" in found.columns:
        found = _with_parts(found, "part_a", mixed, frozenset({"part_b"}))
    if record.name == "hours" and "hours" in found.columns:
        found = _with_parts(found, "hours", span, frozenset({"started_at", "ended_at"}))
    if record.name == "hours" and "note" in found.columns:
        found = _with_parts(found, "note", _redone, frozenset({"rework"}))
    if record.name == "hours" and "operation" in found.columns:
        found = _with_parts(found, "operation", _worked_again(shop), frozenset({"rework"}))
        found = _with_parts(found, "operation", _work(shop), frozenset({"pieces"}))
    for name in ("product", "item"):
        if name not in fields or name not in found.columns:
            continue
        if record.name == "sales":
            found = _with_parts(found, name, _tagged, frozenset({"piece"}))
        if name == "product" or record.name == "purchases":
            found = _with_parts(found, name, _counted(name, shop), frozenset({"quantity"}))
    return found


def for_each_or_row(frame: pl.DataFrame, cells: pl.DataFrame, mapping: Mapping) -> list[pl.DataFrame]:
    """Sales of several by a count in their text, where nothing says whether the price is for each or for the row."""
    if mapping.record != "sales" or mapping.price_for or PASSING not in cells.columns:
        return []
    return [fault(frame, pl.lit(cells[PASSING]), "each-or-row", "price")]


def _with_parts(
    found: pl.DataFrame,
    name: str,
    part: Callable[[str], Parts | None],
    into: frozenset[str] = frozenset(),
    needs_all: bool = False,
) -> pl.DataFrame:
    """The cells of field `name` parted; only in rows whose cells for the parts are empty."""
    parts = {text: made for text in found[name].drop_nulls().unique() if len(text) <= LONGEST and (made := part(text))}
    if not parts:
        return found
    names = sorted({field for made in parts.values() for field in made} - {name})
    found = found.with_columns(pl.lit(None, pl.String).alias(field) for field in names if field not in found.columns)
    asked = names if needs_all else [field for field in names if field in into]
    free = pl.all_horizontal(pl.col(name).is_in(list(parts)), *(pl.col(field).is_null() for field in asked))
    said = {
        field: pl.col(name).replace_strict(
            {text: made.get(field) for text, made in parts.items()}, default=None, return_dtype=pl.String
        )
        for field in (name, *names)
    }
    columns = [pl.when(free).then(said[name]).otherwise(pl.col(name)).alias(name)]
    columns += [
        pl.when(free).then(_joined(field, said[field])).otherwise(pl.col(field)).alias(field) for field in names
    ]
    if "quantity" in into:
        several = free & (said["quantity"] != "1")
        before = pl.col(PASSING) if PASSING in found.columns else pl.lit(value=False)
        columns.append((before | several.fill_null(value=False)).alias(PASSING))
    return found.with_columns(columns)


def _joined(field: str, said: pl.Expr) -> pl.Expr:
    """What a row has, else what its parted cell says; of notes both."""
    if field != "note":
        return pl.coalesce(field, said)
    both = pl.concat_str(pl.col(field), said, separator="; ", ignore_nulls=True)
    return pl.when(pl.col(field).is_not_null() | said.is_not_null()).then(both)


def _standing(found: pl.DataFrame, shop: Shop) -> pl.DataFrame:
    """Where pieces stand, by the one word for it in their cell; of a finished piece what says none is a note, such as
    the name of a gallery."""
    said, text = status_of(shop), pl.col("status")
    known = {each: said(each) or None for each in found["status"].drop_nulls().unique()}
    means = text.replace_strict(known, default=None, return_dtype=pl.String)
    remark = text.is_not_null() & pl.col("finished").is_not_null() & (means.is_null() | (text.str.len_chars() > 12))
    if "note" not in found.columns:
        found = found.with_columns(pl.lit(None, pl.String).alias("note"))
    noted = pl.when(remark).then(_joined("note", text)).otherwise("note").alias("note")
    left = pl.when(means.is_null() & pl.col("finished").is_not_null()).then(None).otherwise(pl.coalesce(means, text))
    return found.with_columns(noted, left.alias("status"))


# --- remarks ----------------------------------------------------------------------------------------------------------


def _remarked(shop: Shop) -> Callable[[str], tuple[str, str] | None]:
    """An amount and what is remarked behind it: "140 (made 2 coasters)", "85g -> test block"."""
    units = Units(shop.words.get("unit"))

    def part(text: str) -> tuple[str, str] | None:
        found = _REMARK.match(text)
        remark = next(filter(None, found.groups()[1:]), "").strip() if found else ""
        # "5 (bottles)" says its unit
        return (found[1].strip(), remark) if found and remark and units.find(remark) is None else None

    return part


def _named(name: str, remarked: Callable[[str], tuple[str, str] | None], text: str) -> Parts | None:
    made = remarked(text)
    return {name: made[0], "note": made[1]} if made else None


def _redone(text: str) -> Parts | None:
    """A remark that says nothing but that the work was done again."""
    return {"rework": "yes"} if key(text) in map(key, words_for("phrases", "done again")) else None


def mixed(text: str) -> Parts | None:
    """Both parts of a mix in one cell, resin first and then its hardener (common practice, no source): "180+90 ml"."""
    found = _MIXED.fullmatch(text)
    if not found:
        return None
    unit = found[3] or ""
    return {"part_a": f"{found[1]} {unit}".strip(), "part_b": f"{found[2]} {unit}".strip()}


# --- sizes ------------------------------------------------------------------------------------------------------------


def _sizes(table: TextTable, mapping: Mapping, prefix: str) -> Callable[[str], Parts | None]:
    header = mapping.columns.get(f"{prefix}length", "")
    unit = mapping.units.get(f"{prefix}length", "") or unit_in_header(header, "length")
    unit = unit or unit_in_title(table, "length")

    def part(text: str) -> Parts | None:
        made = sizes(text, unit)
        return {f"{prefix}{name}": size for name, size in made.items()} if made else None

    return part


def sizes(text: str, unit: str = "") -> Parts | None:
    """Length, width and thickness, or diameter and thickness, of one text; None where it is no such list. The last
    unit is that of the numbers before it that have none; `unit` is for those of a text without any."""
    split = [piece for piece in _BY.split(text.strip()) if piece.strip()]
    if len(split) == 1:
        return _round(text, unit)
    if len(split) not in (2, 3):
        return None
    numbers, labels, units = [], [], []
    for piece in split:
        labelled = _LABELLED.match(piece.strip())
        bare = _PART.match(labelled[2].strip()) if labelled else None
        if labelled is None or bare is None:
            return None
        labels.append(_LABELS.get((labelled[1] or labelled[3] or "").rstrip(".").casefold(), ""))
        numbers.append(bare[1].strip())
        units.append((bare[2] or "").strip())
    if not units[-1] and any(units):
        units = [own or next(filter(None, units)) for own in units] if units[0] and not any(units[1:]) else units
    shared = units[-1] or unit
    written = [f"{number} {own or shared}".strip() for number, own in zip(numbers, units, strict=True)]
    names = _names(numbers, labels)
    return dict(zip(names, written, strict=True)) if names else None


def _round(text: str, unit: str) -> Parts | None:
    """A lone size that says it is that of something round: 13" dia, Ø 32."""
    bare, found = _ROUND.subn(" ", text)
    number = _PART.match(bare.strip()) if found == 1 else None
    return {"diameter": f"{number[1].strip()} {(number[2] or unit).strip()}".strip()} if number else None


def _names(numbers: list[str], labels: list[str]) -> tuple[str, ...]:
    """Which size is which: by their letters, else as written; sawn wood is often written from the thickness up."""
    if all(labels):
        return tuple(labels) if len(set(labels)) == len(labels) else ()
    if labels[0] == "diameter" and len(numbers) == 2:
        return ("diameter", "thickness")
    if any(labels):
        return ()
    usual = ("length", "width", "thickness")[: len(numbers)]
    values = [_value(number) for number in numbers]
    return usual[::-1] if len(numbers) == 3 and values[0] < values[1] < values[2] else usual


def _value(number: str) -> float:
    try:
        return float(unsigned(number, "", "quantity"))
    except UnreadableError:
        return 0.0


# --- work, and what was sold ------------------------------------------------------------------------------------------


def work_of(shop: Shop) -> Callable[[str], bool]:
    """What tells whether a text is a known operation, alone or with its pieces."""
    known, pieces = _operation_of(shop), shop.seen.get("piece", frozenset())
    return lambda text: known(text) or work(text, known, pieces) is not None


def _operation_of(shop: Shop) -> Callable[[str], bool]:
    words = Words("operation", shop)

    def known(text: str) -> bool:
        try:
            return any(words.find(part) is not None for part in (text, *before_for(text)))
        except UnreadableError:
            return True

    return known


def _work(shop: Shop) -> Callable[[str], Parts | None]:
    known, pieces = _operation_of(shop), shop.seen.get("piece", frozenset())
    words = names("operation")

    def part(text: str) -> Parts | None:
        # "epoxy pour T-23" is known by what stands before a French "for", and has a piece all the same
        return None if key(text) in words else work(text, known, pieces)

    return part


def work(text: str, known: Callable[[str], bool], pieces: frozenset[str] = frozenset()) -> Parts | None:
    """Operation, pieces, rework and note of one text: "Sanding SB-002, dp-001 (rework)"; a tag that is one of `pieces`
    on record may look like anything."""
    rework = _rework().search(text)
    bare = _rework().sub(" ", text)
    on_record = (word for word in _NUMBERED.finditer(bare) if compared(word[0], "piece") in pieces)
    found = _TAGS.search(bare) or next(on_record, None)
    if not found or any(map(_GRIT.fullmatch, re.findall(_TAG, found[0]))):
        return None
    before, after = (" ".join(side.split()).strip(_EDGES) for side in (bare[: found.start()], bare[found.end() :]))
    before = re.sub(r"\s+(?:for|on|of|für|an|pour|para|per|voor)$", "", before, flags=re.IGNORECASE)
    if not before or (not known(before) and known(after)):
        before, after = after, before
    if not known(before) and (after or not before or not _all_on_record(found[0], pieces)):
        return None  # beside tags on record a strange word is work too, and asked about without them
    note = next(iter(before_for(f" {after}")[::-1]), after).strip(_EDGES)  # for whom it was is dropped
    told = {"operation": before, "pieces": found[0], "rework": "yes" if rework else "", "note": note}
    return {field: text for field, text in told.items() if text}


@functools.cache
def _rework() -> re.Pattern[str]:
    """What says of work that it was done again, in brackets or not."""
    words = "|".join(re.escape(word) for word in sorted(words_for("phrases", "done again"), key=len, reverse=True))
    return re.compile(rf"[(\[]?(?<!\w)(?:{words})(?!\w)[)\]]?", re.IGNORECASE)


def _worked_again(shop: Shop) -> Callable[[str], Parts | None]:
    """Known work that was done again: "oiling (redone)"."""
    known = _operation_of(shop)

    def part(text: str) -> Parts | None:
        bare = " ".join(_rework().sub(" ", text).split()).strip(_EDGES)
        return {"operation": bare, "rework": "yes"} if _rework().search(text) and bare and known(bare) else None

    return part


def _all_on_record(tags: str, pieces: frozenset[str]) -> bool:
    return all(compared(tag, "piece") in pieces for tag in _NUMBERED.findall(tags))


def _tagged(text: str) -> Parts | None:
    """A product with the one tag that stands beside it: "Serving board SB-002"."""
    found = re.findall(r"(?<![\w-])[A-Za-z]{1,6}-\d{2,6}[A-Za-z]?(?![\w-])", text)
    if len(found) != 1 or _GRIT.fullmatch(found[0]):
        return None
    rest = " ".join(text.replace(found[0], " ").split()).strip(_EDGES)
    return {"piece": found[0], "product": rest} if re.search(r"[^\W\d_]{2}", rest) else None


def _counted(name: str, shop: Shop) -> Callable[[str], Parts | None]:
    """How many and of what: "2x tealight". Of what is bought, only things that are counted."""
    category = categories(shop)

    def part(text: str) -> Parts | None:
        found = _COUNT.match(text)
        if not found or int(found[1]) == 0 or _BY.search(found[2]) or not re.search(r"[^\W\d_]{2}", found[2]):
            return None
        what = found[2].strip(_EDGES)
        if name == "item" and category(what) not in COUNTED:
            return None
        return {"quantity": found[1], name: what}

    return part
