"""What a table would give by a mapping, before anything is saved: rows, faults, and what would lead nowhere."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.cleaning import Cleaned, clean
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.tags import alike
from pipeline.database import newest
from pipeline.database.open_database import opened
from pipeline.mapping import Mapping
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop

_FAULTS_SHOWN = 5
_WORDS_SHOWN = 3
_AMOUNTS = {"sales": "price", "purchases": "amount", "payments": "amount"}
_NUMBER = re.compile(r"\d[\d.,’']*")


@dataclass(frozen=True)
class Preview:
    """`loaded` rows would be in the figures; `faults` are the first others, as (row, what); `notes` say what is odd."""

    loaded: int = 0
    faults: tuple[tuple[int, str], ...] = ()
    notes: tuple[str, ...] = ()


def preview(shop: Shop, file: str, table: TextTable, how: Mapping) -> Preview:
    """What a refresh would make of `table`, read by `how`."""
    if not how.record or not how.columns:
        return Preview()
    cleaned = clean(table, how, shop, file)
    told = cleaned.rejected.select("row", "field", "text", "reason", "suggestion").head(_FAULTS_SHOWN)
    faults = tuple(
        (row, f"{name.replace('_', ' ')}{f' “{text}”' if text else ''}: {reason} {mend}")
        for row, name, text, reason, mend in told.rows()
    )
    notes = (*_sum(shop, table, cleaned), *_lost_tags(shop, cleaned), *_unknown(shop, cleaned))
    return Preview(cleaned.frame.height, faults, notes)


def _sum(shop: Shop, table: TextTable, cleaned: Cleaned) -> Iterator[str]:
    """What the rows add up to, where a total in the file or a count above one lets one see whether that is right."""
    name = _AMOUNTS.get(cleaned.record)
    frame = cleaned.frame
    if not name or not frame.height:
        return
    each = pl.col("quantity") if cleaned.record == "sales" else pl.lit(1)
    several = frame.filter(each > 1).height if cleaned.record == "sales" else 0
    # numbers alone: a row of totals may say more than may be shown
    totals = [" · ".join(_NUMBER.findall(text)) for text in table.ignored.filter(reason="total")["text"]]
    if not several and not any(totals):
        return
    digits = shop.minor_digits
    cents = frame.select((pl.col(f"{name}_cents") * each).sum()).item() or 0
    said = f"{name.capitalize()}: the rows add up to {cents / 10**digits:,.{digits}f}"
    if several:
        said += f", {several} of them more than one at the price of each"
    told = next((total for total in totals if total), "")
    yield f"{said}; the file's total row says {told}." if told else f"{said}."


def _lost_tags(shop: Shop, cleaned: Cleaned) -> Iterator[str]:
    """Tags that lead to nothing on record, nor to a row of the same table."""
    fields = [field for field in RECORDS[cleaned.record] if field.leads]
    if not fields or cleaned.frame.is_empty():
        return
    known = _known_tags(shop)
    for field in fields:
        target = field.leads
        found = cleaned.frame.select(pl.col(field.name).alias("tag"), "row")
        found = found.explode("tag", empty_as_null=True) if field.kind == "tags" else found
        lost = found.drop_nulls("tag").filter(~pl.col("tag").is_in(sorted(known[target])))
        if not lost.height:
            continue
        tag, row = lost.row(0)
        near = alike(tag, known[target])
        meant = f" Is {' or '.join(near[:_WORDS_SHOWN])} meant?" if near else ""
        tags = lost["tag"].n_unique()
        yield (
            f"{tags:,} {'tag leads' if tags == 1 else 'tags lead'} to no {target} on record: {tag} in row {row}"
            f"{'' if tags == 1 else ', for example'}.{meant} Mend it in its row, or put the {target} on record."
        )


def _known_tags(shop: Shop) -> dict[str, set[str]]:
    """The tags of pieces and lots as of the last refresh."""
    if not newest(shop.folder):
        return {"piece": set(), "lot": set()}
    with opened(shop.folder) as con:
        pieces = con.execute("select piece from records.pieces").fetchall()
        lots = con.execute("select lot from records.purchases union select lot from records.counts").fetchall()
    return {"piece": {tag for (tag,) in pieces}, "lot": {tag for (tag,) in lots if tag}}


def _unknown(shop: Shop, cleaned: Cleaned) -> Iterator[str]:
    """Words that the shop doesn't know: each would be a kind of its own."""
    for (vocabulary,), found in cleaned.unknown_words.group_by("vocabulary", maintain_order=True):
        words = ", ".join(
            f"“{word}” ({rows:,} {'row' if rows == 1 else 'rows'}{f'; nearest: {near}' if near else ''})"
            for word, near, rows in found.select("word", "nearest", "rows").head(_WORDS_SHOWN).rows()
        )
        more = f" and {found.height - _WORDS_SHOWN:,} more" if found.height > _WORDS_SHOWN else ""
        names = Words(str(vocabulary), shop).own_names()
        known = f" The shop's own: {', '.join(names)}." if names else ""
        yield (
            f"Not known as {vocabulary}: {words}{more}.{known} Say what it means under [words.{vocabulary}] of "
            "shop.toml, or it counts as a kind of its own."
        )
