"""Reads a shop's files: each by itself, whole, into cleaned tables and an account of what it was."""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import closing, hands, mapping, mends, saved_quotes, suggestion
from pipeline.cleaning import Cleaned, clean
from pipeline.entry.examples import without_examples
from pipeline.errors import UserError
from pipeline.headers import is_about_buyers
from pipeline.mapping import Mapping
from pipeline.mends import Mends
from pipeline.readers import READERS, TextTable, read
from pipeline.shop import Shop

READ_FOLDERS = ("inbox", "log", "mends")

TEXT_SHOWN = 200
"""Characters of an ignored row that are kept, to be recognised by."""

QUESTIONS_SHOWN = 3

Schema = dict[str, type[pl.DataType]]
FILE: Schema = {"file": pl.String, "sheet": pl.String, "record": pl.String, "mapping": pl.String, "how": pl.String}
FILE |= {"rows": pl.Int64, "message": pl.String}
IGNORED: Schema = {"file": pl.String, "sheet": pl.String, "row": pl.Int64, "reason": pl.String, "text": pl.String}

Tell = Callable[[str], None]


@dataclass
class Pile:
    """What the files held: the cleaned tables, what each file was, the rows that are no records, the mended rows,
    and the figures of closed months."""

    cleaned: list[Cleaned] = field(default_factory=list)
    files: list[dict[str, Any]] = field(default_factory=list)
    ignored: list[pl.DataFrame] = field(default_factory=list)
    quotes: pl.DataFrame = field(default_factory=pl.DataFrame)
    mends: Mends = field(default_factory=Mends)
    closed: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=closing.SCHEMA))

    def add(self, part: "Pile") -> None:
        """Take in what one file held."""
        self.cleaned += part.cleaned
        self.files += part.files
        self.ignored += part.ignored
        self.mends.add(part.mends)


def shop_files(shop: Shop) -> Iterator[Path]:
    """The files that a refresh reads, in order of their path."""
    for folder in READ_FOLDERS:
        # a file's name that starts so is a program's own: .DS_Store, ~$book.xlsx
        yield from sorted(p for p in shop.path(folder).rglob("*") if p.is_file() and not p.name.startswith((".", "~$")))


def read_pile(shop: Shop, tell: Tell, other: Executor | None = None) -> Pile:
    """Read and clean every file. One that can't be read is listed with the reason; the others go on.

    `other`: a process that reads some of them.
    """
    pile = Pile(mends=mends.load(shop), closed=closing.closed(shop.folder))
    mappings = mapping.load(shop.path("mappings"))
    pile.quotes, broken = saved_quotes.frame(shop.folder)
    pile.files += [_file(name, "unreadable", message=why) for name, why in broken]
    asked = [_asked(shop, pile.mends, path) for path in shop_files(shop)]
    largest_first = sorted(asked, key=lambda each: -each.size)
    parts = hands.share(other, partial(_read_file, mappings, shop), largest_first)
    found = {}
    for each, part in zip(largest_first, parts, strict=True):
        tell(f"reading {each.name}")
        found[each.name] = part
    for each in asked:
        pile.add(found[each.name])
    mends.left(pile.mends)
    pile.ignored += _unused(pile.mends)
    return pile


@dataclass(frozen=True)
class _Asked:
    """A file to be read, its name in the shop's folder, its size, and the mends that wait for its rows."""

    path: Path
    name: str
    size: int
    mends: Mends


def _asked(shop: Shop, waiting: Mends, path: Path) -> _Asked:
    name = path.relative_to(shop.folder).as_posix()
    size = path.stat().st_size if path.is_file() else 0
    return _Asked(path, name, size, Mends(waiting=mends.taken(waiting, name)))


def _read_file(mappings: list[Mapping], shop: Shop, asked: _Asked) -> Pile:
    pile, name = Pile(mends=asked.mends), asked.name
    if not asked.path.resolve().is_relative_to(shop.folder.resolve()):
        pile.files.append(_file(name, "ignored", message="It leads to a file outside of the shop folder."))
        return pile
    if asked.path.suffix.lower() not in READERS:
        kind = asked.path.suffix or name
        pile.files.append(_file(name, "ignored", message=f"Files of this kind aren't read: {kind}"))
        return pile
    try:
        found = read(asked.path, time_zone=shop["time_zone"])
    except UserError as error:
        pile.files.append(_file(name, "unreadable", message=error.what))
        return pile
    for table in map(without_examples, found):
        pile.ignored.append(_lost(table.ignored, name, table))
        if mends.is_mends(name, table):
            pile.files.append(_file(name, "mends", table.sheet, table.frame.height + table.ignored.height))
            continue
        how, questions = suggestion.settle(mappings, name.removeprefix("inbox/"), table, shop)
        pile.files.append(_entry(name, table, how, questions))
        if how and how.record:
            pile.cleaned.append(clean(*mends.apply(pile.mends, name, table, how), shop, name))
        else:
            pile.ignored.append(_lost(_as_ignored(table, how), name, table))
    return pile


def _unused(found: Mends) -> list[pl.DataFrame]:
    entries = [(*place, reason, None) for place, reason in found.unused]
    return [pl.DataFrame(entries, schema=IGNORED, orient="row")] if entries else []


def _entry(name: str, table: TextTable, how: Mapping | None, questions: tuple[str, ...]) -> dict[str, Any]:
    rows = table.frame.height + table.ignored.height
    if not how and not table.frame.height:
        return _file(name, "ignored", table.sheet, rows, message="It holds no rows of a table.")
    if not how:
        return _file(name, "unmapped", table.sheet, rows, message=" ".join(questions[:QUESTIONS_SHOWN]))
    word = how.name if how.name in ("canonical", "suggested") else "mapping file"
    return _file(name, word if how.record else "ignored", table.sheet, rows, how.record, how.name)


def _file(
    name: str, how: str, sheet: str = "", rows: int = 0, record: str = "", mapped: str = "", message: str | None = None
) -> dict[str, Any]:
    named = {"record": record or None, "mapping": mapped or None}
    return {"file": name, "sheet": sheet, **named, "how": how, "rows": rows, "message": message}


def _as_ignored(table: TextTable, how: Mapping | None) -> pl.DataFrame:
    if not table.columns:
        return table.ignored.clear()
    text = pl.concat_str(pl.exclude("row"), separator=" | ", ignore_nulls=True)
    reason = pl.lit("skipped by its mapping" if how else "no mapping").alias("reason")
    return table.frame.select("row", reason, text.alias("text"))


def _lost(ignored: pl.DataFrame, name: str, table: TextTable) -> pl.DataFrame:
    """Rows as `intake.ignored` keeps them: without their text where it may hold what is about a buyer."""
    open_text = pl.col("reason").is_in(["header", "blank"])
    if not table.dialect.get("hidden") and (ignored.filter(~open_text).is_empty() or not is_about_buyers(table)):
        open_text = pl.lit(True)
    text = pl.when(open_text).then(pl.col("text").str.slice(0, TEXT_SHOWN)).alias("text")
    place = [pl.lit(name).alias("file"), pl.lit(table.sheet).alias("sheet")]
    return ignored.select(*place, "row", "reason", text)
