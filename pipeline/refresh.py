"""The story: from a shop's files to a new published database."""

import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import closing, database, mapping, mends, models, reference, saved_quotes, suggestion
from pipeline.cleaning import Cleaned, clean
from pipeline.entry.examples import without_examples
from pipeline.errors import UserError
from pipeline.headers import is_about_buyers
from pipeline.linking import Linked, link
from pipeline.mapping import Mapping
from pipeline.mends import Mends
from pipeline.readers import READERS, TextTable, read
from pipeline.shop import Shop, load
from pipeline.spellings import unknown_items

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
class Summary:
    """What a refresh did. `published` is None when a check of severity error found rows: the last database stays."""

    published: Path | None = None
    counts: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    checks: list[dict[str, Any]] = field(default_factory=list)
    unmapped: list[tuple[str, str]] = field(default_factory=list)  # file, what is open about it

    @property
    def errors(self) -> list[dict[str, Any]]:
        return [check for check in self.checks if check["severity"] == "error" and check["rows"]]


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


def refresh(shop: Shop, tell: Tell = lambda _: None) -> Summary:
    """Read all files of the shop and publish a new database.

    Raises `UserError` for a broken setting or mapping, and `ModelError` for a bug of ours; either way the last
    published database stays.
    """
    summary = Summary()
    stage = _stages(summary.seconds, tell)
    with database.lock(shop.folder), database.draft(shop.folder) as draft, ThreadPoolExecutor(1) as aside:
        plan = aside.submit(models.plan)  # it loads the estimates' libraries, which takes as long as a small pile
        shop = load(shop.folder)  # again: it may have changed while another refresh held the lock
        with stage("read and clean"):
            pile = read_pile(shop, tell)
        with stage("link"):
            linked = link(pile.cleaned, shop)
            linked.row = mends.superseded(linked.row, pile.mends)
            linked.rejected = mends.at_their_place(linked.rejected, pile.mends)
            linked.unknown_word = unknown_items(linked, shop)
            frames = tables(linked, pile) | {"intake.quote": pile.quotes}
            summary.counts = _counts(frames["intake.file"])
            summary.unmapped = frames["intake.file"].filter(how="unmapped").select("file", "message").rows()
        with stage("load"):
            database.load(draft.con, frames)
        with stage("models"):
            models.run(draft.con, lambda _: None, plan.result())
        with stage("checks"):
            summary.checks = models.check(draft.con, plan.result())
        if not summary.errors:
            with stage("publish"):
                summary.published = draft.publish()
    return summary


def shop_files(shop: Shop) -> Iterator[Path]:
    """The files that a refresh reads, in order of their path."""
    for folder in READ_FOLDERS:
        # a file's name that starts so is a program's own: .DS_Store, ~$book.xlsx
        yield from sorted(p for p in shop.path(folder).rglob("*") if p.is_file() and not p.name.startswith((".", "~$")))


def read_pile(shop: Shop, tell: Tell) -> Pile:
    """Read and clean every file. One that can't be read is listed with the reason; the others go on."""
    pile = Pile(mends=mends.load(shop), closed=closing.closed(shop.folder))
    mappings = mapping.load(shop.path("mappings"))
    pile.quotes, broken = saved_quotes.frame(shop.folder)
    pile.files += [_file(name, "unreadable", message=why) for name, why in broken]
    home = shop.folder.resolve()
    for path in shop_files(shop):
        name = path.relative_to(shop.folder).as_posix()
        tell(f"reading {name}")
        if not path.resolve().is_relative_to(home):
            pile.files.append(_file(name, "ignored", message="It leads to a file outside of the shop folder."))
        elif path.suffix.lower() not in READERS:
            pile.files.append(_file(name, "ignored", message=f"Files of this kind aren't read: {path.suffix or name}"))
        else:
            _read_file(pile, path, name, mappings, shop)
    mends.left(pile.mends)
    pile.ignored += _unused(pile.mends)
    return pile


def _read_file(pile: Pile, path: Path, name: str, mappings: list[Mapping], shop: Shop) -> None:
    try:
        found = read(path, time_zone=shop["time_zone"])
    except UserError as error:
        pile.files.append(_file(name, "unreadable", message=error.what))
        return
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


def tables(linked: Linked, pile: Pile) -> dict[str, pl.DataFrame]:
    """All given tables by `schema.name`."""
    ignored = pl.concat([pl.DataFrame(schema=IGNORED), *pile.ignored])
    return (
        {f"settings.{name}": frame for name, frame in linked.settings.items()}
        | {"settings.species": species()}
        | {f"records.{name}": frame for name, frame in (linked.records | linked.bridges).items()}
        | {
            "intake.file": _account(pl.DataFrame(pile.files, schema=FILE), linked, ignored),
            "intake.row": linked.row,
            "intake.rejected": linked.rejected,
            "intake.ignored": ignored,
            "intake.unknown_word": linked.unknown_word,
            "intake.unlinked": linked.unlinked,
            "intake.closed": pile.closed,
        }
    )


def species() -> pl.DataFrame:
    """The reference table of species, as far as the models need it."""
    known = pl.DataFrame(list(reference.rows("species")))
    gravity = pl.col("specific_gravity_12").cast(pl.Float64, strict=False)
    return known.select(
        pl.col("common_name").alias("species"), "botanical_name", pl.col("pore_structure").replace("", None), gravity
    )


def _account(files: pl.DataFrame, linked: Linked, ignored: pl.DataFrame) -> pl.DataFrame:
    """What became of each table's rows. Counted at the end of the way, so that a row lost on it shows."""
    place = ("file", "sheet")
    loaded = pl.col("state") == "loaded"
    counted = (
        linked.row.group_by(place).agg(loaded.sum().alias("loaded"), (~loaded).sum().alias("duplicate")),
        # one row may have several faults
        linked.rejected.unique((*place, "row")).group_by(place).agg(pl.len().alias("set_aside")),
        ignored.group_by(place).agg(pl.len().alias("ignored")),
    )
    for counts in counted:
        files = files.join(counts, on=place, how="left", maintain_order="left")
    return files.with_columns(pl.col("loaded", "duplicate", "set_aside", "ignored").fill_null(0).cast(pl.Int64))


def _counts(files: pl.DataFrame) -> dict[str, int]:
    sums = files.select("rows", "loaded", "duplicate", "set_aside", "ignored").sum().row(0, named=True)
    ways = {how: files.filter(how=how)["file"].n_unique() for how in ("unreadable", "unmapped")}
    return {"files": files["file"].n_unique()} | sums | ways


def _stages(seconds: dict[str, float], tell: Tell) -> Callable[[str], Any]:
    @contextmanager
    def stage(name: str) -> Iterator[None]:
        tell(name)
        begin = time.perf_counter()
        yield
        seconds[name] = time.perf_counter() - begin

    return stage
