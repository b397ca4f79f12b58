"""Reads a shop's files: each by itself, whole, into cleaned tables and an account of what it was."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from hashlib import blake2b
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import mapping
from pipeline.asking.of_categories import of_categories
from pipeline.asking.of_rows import of_rows
from pipeline.asking.question_at import QuestionAt, at_pay
from pipeline.cleaning import Cleaned, clean
from pipeline.cleaning.taught_words import not_understood
from pipeline.cleaning.unfolding import unfolded
from pipeline.cleaning.worth import pay
from pipeline.database import closed_months, digests
from pipeline.errors import UserError
from pipeline.linking import known_categories
from pipeline.mapping import Mapping
from pipeline.mapping.private_columns import shown
from pipeline.new_shop.examples import without_examples
from pipeline.processes.workers import DiedError, TooMuchError, Workers
from pipeline.proposing import several_records, suggestion
from pipeline.proposing.question import Choice, Question
from pipeline.quoting import saved_quotes
from pipeline.readers import MESSAGE, READERS, UNREADABLE, TextTable, read
from pipeline.readers.limits import CLOSED, cant_open, limit
from pipeline.readers.sections import without_sections
from pipeline.readers.separate_process import too_far
from pipeline.refresh import corrections, file_cache, last_refresh, table_account
from pipeline.refresh.corrections import Mend, Mends
from pipeline.refresh.of_other_files import ROUNDS, TableOfPieces, of_others, pieces_in, seen_in, to_read_again
from pipeline.refresh.passed_over import LIKE_NOTHING, NOTHING, is_nothing, stray_tags
from pipeline.shop import Shop
from pipeline.shop.contents import contents
from pipeline.tables import in_polars, intake
from pipeline.writing.internal_errors import AGAIN, LOG, ends_us, place_of

READ_FOLDERS = ("inbox", "log", "mends")

IDLE = "a mapping that fits no file"
TAUGHT_IN_VAIN = "taught in vain"
TEXT_SHOWN = 200
"""Characters of an ignored row that are kept, to be recognised by."""

QUESTIONS_SHOWN = 3

COUNTED = ("loaded", "duplicate", "set_aside", "ignored")
"""What of a table of a file is counted only at the end of the way."""

FILE = {name: kind for name, kind in in_polars(intake("file")).items() if name not in COUNTED}
IGNORED = in_polars(intake("ignored"))

Tell = Callable[[str], None]


@dataclass
class FilesRead:
    """What the files held: the cleaned tables, what each file was, the rows that are no records, the mended rows,
    the figures of closed months; for the log what we stumbled over; what only the maker knows; words taken for likely
    ones; and what each column is. `seen`: of one file, its tags and words by what they name; `lists`: its tables that
    list pieces; `untold`: whether it has a table that looks like no record, or a column of tags of no use, unless
    another file knows them. `signature`: a hash of all that it was made from; `known`: whether no file had to be read
    for it."""

    cleaned: list[Cleaned] = field(default_factory=list)
    files: list[dict[str, Any]] = field(default_factory=list)
    ignored: list[pl.DataFrame] = field(default_factory=list)
    quotes: pl.DataFrame = field(default_factory=pl.DataFrame)
    mends: Mends = field(default_factory=Mends)
    closed: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=closed_months.SCHEMA))
    trips: list[str] = field(default_factory=list)
    asked: list[QuestionAt] = field(default_factory=list)
    likely: list[pl.DataFrame] = field(default_factory=list)
    columns: list[pl.DataFrame] = field(default_factory=list)
    seen: dict[str, list[str]] = field(default_factory=dict)
    lists: list[TableOfPieces] = field(default_factory=list)
    untold: bool = False
    signature: str = ""
    known: bool = False

    def add(self, part: "FilesRead") -> None:
        """Take in what one file held."""
        self.cleaned += part.cleaned
        self.files += part.files
        self.ignored += part.ignored
        self.mends.add(part.mends)
        self.trips += part.trips
        self.asked += part.asked
        self.likely += part.likely
        self.columns += part.columns
        self.lists += part.lists
        self.untold |= part.untold


KEPT_KINDS = (FilesRead, Cleaned, Mapping, Mends, Mend, QuestionAt, Question, Choice, TableOfPieces)


def read_files(shop: Shop, tell: Tell, other: Workers | None = None, anew: bool = False) -> FilesRead:
    """Read and clean every file that isn't known from the last time. One that can't be read is listed with the reason;
    the others go on.

    `other`: a process that reads some of them. `anew`: read those that are known too.
    """
    pile = FilesRead(mends=corrections.load(shop, _mends(shop, other)), closed=closed_months.closed(shop.folder))
    mappings = mapping.load(shop.path("mappings"))
    pile.quotes, broken = saved_quotes.frame(shop.folder)
    pile.files += [_file(name, "unreadable", message=why) for name, why in broken]
    found_in = [contents(shop.path(folder)) for folder in READ_FOLDERS]
    pile.files += [
        _file(_named(shop, path), "unreadable", message=why) for each in found_in for path, why in each.closed
    ]
    reading = shop.to_read_with()  # whatever else it says has no file read again
    given = repr((mappings, reading.tables, reading.words))
    asked = [_asked(shop, pile.mends, path, given) for each in found_in for path in each.files]
    pile.signature = _signature(shop, pile, given, asked)
    read_with = partial(_found, mappings, other=other, anew=anew, tell=tell)
    found, pile.known = read_with(reading, asked)
    again: list[_Asked] = []
    read_as: dict[str, Shop] = {}
    for _ in range(ROUNDS):
        for more, files in to_read_again(reading, found, asked, read_as):
            keyed = [each.keyed(given, *of_others(more)) for each in files]
            read_again, known = read_with(more, keyed)
            found, pile.known, again = found | read_again, pile.known and known, [*again, *keyed]
            read_as |= {each.name: more for each in files}
    file_cache.sweep(shop.path("database"), (last_refresh.NAME, *(each.key for each in (*asked, *again))))
    for each in asked:
        pile.add(found[each.name])
    pile.cleaned = known_categories.settle(pile.cleaned)
    pile.asked += of_categories(pile.cleaned)
    pile.asked = [at_pay(each, pay(shop)) for each in pile.asked]
    corrections.left(pile.mends)
    pile.ignored += _unused(pile.mends)
    used = {entry["mapping"] for entry in pile.files}
    pile.ignored.append(_idle([how for how in mappings if how.name not in used], [each.name for each in asked]))
    strange = [("shop.toml", "", line, TAUGHT_IN_VAIN, what) for line, what in not_understood(shop)]
    pile.ignored.append(pl.DataFrame(strange, schema=IGNORED, orient="row"))
    return pile


def _found(
    mappings: list[Mapping], shop: Shop, asked: list["_Asked"], other: Workers | None, anew: bool, tell: Tell
) -> tuple[dict[str, FilesRead], bool]:
    """What each file holds, by its name, and whether all of it was known from the last time."""
    home = shop.path("database")
    kept = {} if anew else {each.name: file_cache.value_of(home, each.key, KEPT_KINDS) for each in asked if each.key}
    found = {name: part for name, part in kept.items() if isinstance(part, FilesRead)}
    known = all(each.name in found or each.refused for each in asked)
    largest_first = sorted((each for each in asked if each.name not in found), key=lambda each: -each.size)
    for each, part in zip(largest_first, _parts(mappings, shop, largest_first, other), strict=True):
        tell(f"reading {each.name}")
        found[each.name] = part
    return found, known


@dataclass(frozen=True)
class _Asked:
    """A file to be read, its name in the shop's folder, its size, when it was changed, the mends that wait for its
    rows, whether it is left alone whatever it holds, and the key by which it is known again ("" = not at all)."""

    path: Path
    name: str
    size: int
    changed: int
    mends: Mends
    refused: bool
    key: str

    def keyed(self, *given: object) -> "_Asked":
        return replace(self, key=self.key and file_cache.key(self.path, self.name, given[0], self.mends, *given[1:]))


def _asked(shop: Shop, waiting: Mends, path: Path, given: str) -> _Asked:
    name = _named(shop, path)
    size, changed = _stamp(path)
    mends = Mends(waiting=corrections.take_waiting(waiting, name))
    refused = bool(_refused(shop, path, name))
    key = "" if refused else file_cache.key(path, name, given, mends)
    return _Asked(path, name, size, changed, mends, refused, key)


def _signature(shop: Shop, pile: FilesRead, given: str, asked: list[_Asked]) -> str:
    """A hash of all that the pile is made from, before the files are added."""
    made_from = [(each.name, each.key) for each in asked]
    settings = (shop.folder / "shop.toml").read_bytes()  # a finding names a line of it
    parts = (digests.version(), given, settings, made_from, pile.files, pile.quotes.rows(), pile.closed.rows())
    return blake2b(repr(parts).encode("utf-8", "backslashreplace"), digest_size=20).hexdigest()


def _stamp(path: Path) -> tuple[int, int]:
    """Size and time of change of a file."""
    with suppress(OSError):  # gone since it was listed: told when it is read
        now = path.stat()
        return now.st_size, now.st_mtime_ns
    return 0, 0


def _mends(shop: Shop, other: Workers | None) -> Iterator[list[tuple[str, TextTable]]]:
    files = corrections.files(shop)
    if not other:
        yield from (corrections.tables(shop, path) for path in files)
        return
    for future in other.share(partial(corrections.tables, shop), files, lambda path: limit(path, path.stat().st_size)):
        try:
            yield future.result()
        except (TooMuchError, DiedError):  # told when the file is read as all others are
            yield []


def _parts(mappings: list[Mapping], shop: Shop, asked: list[_Asked], other: Workers | None) -> Iterator[FilesRead]:
    """What each file holds, in order. By other processes none of them can take this one along."""
    work = partial(_read_and_keep, mappings, shop)
    if not other:
        yield from map(work, asked)
        return
    for each, future in zip(asked, other.share(work, asked, lambda each: limit(each.path, each.size)), strict=True):
        try:
            yield future.result()
        except (TooMuchError, DiedError) as error:
            message = f"{too_far(error)} {AGAIN}"
            trip = [f"{each.name}: {type(error).__name__} {error}"]
            yield FilesRead(files=[_file(each.name, "unreadable", message=message)], mends=each.mends, trips=trip)


def _read_and_keep(mappings: list[Mapping], shop: Shop, asked: _Asked) -> FilesRead:
    part = _read_file(mappings, shop, asked)
    unreadable = any(entry["how"] == "unreadable" for entry in part.files)  # it may be for want of memory, or a lock
    if asked.key and not part.trips and not unreadable and _stamp(asked.path) == (asked.size, asked.changed):
        file_cache.keep(shop.path("database"), asked.key, part, KEPT_KINDS)
    return part


def _read_file(mappings: list[Mapping], shop: Shop, asked: _Asked) -> FilesRead:
    """One file, whatever it holds: what can't be read is told in its row of `intake.file`, and never raised."""
    pile = FilesRead(mends=asked.mends)
    try:
        refused = _refused(shop, asked.path, asked.name)
        found = [] if refused else read(asked.path, **shop.reading)
        if asked.name.startswith("inbox/"):
            found = several_records.split(found, asked.name.removeprefix("inbox/"), mappings, shop)
        pile.files += refused
    except UserError as error:
        found = []
        pile.files.append(_file(asked.name, "unreadable", message=" ".join(filter(None, (error.what, error.mend)))))
    except BaseException as error:
        if ends_us(error):
            raise
        found = []
        pile.trips.append(f"{asked.name}: {place_of(error)}")
        pile.files.append(_file(asked.name, "unreadable", message=_why(error)))
    for table in found:
        _add_table(pile, mappings, shop, asked.name, table)
    pile.seen = seen_in(pile.cleaned)
    return pile


def _refused(shop: Shop, path: Path, name: str) -> list[dict[str, Any]]:
    """The account of a file that is left alone, whatever it holds."""
    if not path.resolve().is_relative_to(shop.folder.resolve()):
        return [_file(name, "ignored", message="It leads to a file outside of the shop folder.")]
    if path.suffix.lower() not in READERS:
        kind = path.suffix or name
        return [_file(name, "ignored", message=f"Files of this kind aren't read: {_shown(kind)}")]
    return []


def _add_table(pile: FilesRead, mappings: list[Mapping], shop: Shop, name: str, table: TextTable) -> None:
    """One table of a file; the others go on where it can't be used."""
    if UNREADABLE in table.dialect:
        pile.files.append(_file(name, "unreadable", table.sheet, message=str(table.dialect[UNREADABLE])))
        return
    place = (name, table.sheet)
    own = Mends(waiting={place: dict(pile.mends.waiting[place])} if place in pile.mends.waiting else {})
    try:
        part = _table(mappings, shop, own, name, table)
    except BaseException as error:
        if ends_us(error):
            raise
        pile.trips.append(f"{name}: {place_of(error)}")
        rows = table.frame.height + table.ignored.height
        pile.files.append(_file(name, "unreadable", table.sheet, rows, message=_why(error)))
        kept = [table.ignored.select("row", "reason"), table.frame.select("row", pl.lit("not read").alias("reason"))]
        without_text = pl.concat(kept).with_columns(pl.lit(None, pl.String).alias("text"))
        pile.ignored.append(_at(name, table.sheet, without_text))
        return
    pile.mends.waiting.pop(place, None)
    pile.add(part)


def _table(mappings: list[Mapping], shop: Shop, own: Mends, name: str, whole: TextTable) -> FilesRead:
    pile, table = FilesRead(mends=own), whole if whole.part else without_sections(without_examples(whole))
    pile.ignored.append(_lost(table.ignored, name, table))
    if corrections.is_mends(name, table):
        rows = table.frame.height + table.ignored.height
        pile.files.append(_file(name, "mends", table.sheet, rows) | {"masked": table.masked})
        return pile
    how, questions = suggestion.choose_or_ask(mappings, name.removeprefix("inbox/"), table, shop)
    as_written = how
    if how and how.record:
        table, how = unfolded(table, how)
    pile.files.append(_entry(name, table, how, questions) | {"masked": table.masked})
    pile.columns.append(table_account.columns(table, as_written, questions, name))
    if how and how.record:
        pile.lists = pieces_in(table, how, name)
        cleaned = clean(*corrections.apply(pile.mends, name, table, how), shop, name)
        pile.cleaned += [cleaned, *cleaned.beside]
        pile.ignored.append(_lost(cleaned.passed, name, table))
        pile.asked += table_account.questions_at(table, cleaned, questions, shop, name)
        pile.asked += of_rows(table, cleaned, shop, name)
        pile.likely.append(table_account.likely(table, how, cleaned, shop, name, mappings))
    else:
        if not how:
            pile.asked += table_account.questions_at(table, None, questions, shop, name)
        pile.ignored.append(_lost(_as_ignored(table, how, questions), name, table))
        pile.untold = not how and is_nothing(questions)
    pile.untold |= bool(as_written and as_written.name == "suggested" and stray_tags(whole, as_written))
    return pile


def _why(error: BaseException) -> str:
    """What the maker is told of a file that we stumble over; the rest is in the log."""
    if isinstance(error, OSError):
        return f"{cant_open(error)} {CLOSED}"
    if isinstance(error, MemoryError):
        return "It needs more memory than there is. Split it by year."
    return f"The tool stumbles over it. {AGAIN} The details are in database/{LOG}."


def _named(shop: Shop, path: Path) -> str:
    return _shown(path.relative_to(shop.folder).as_posix())


def _shown(text: object) -> str:
    """A file's name as it can be stored: a byte of it that is no text is written out."""
    return str(text).encode("utf-8", "backslashreplace").decode()


def _idle(mappings: list[Mapping], names: list[str]) -> pl.DataFrame:
    """The mappings whose pattern fits no file: a slip in it would leave its files to be guessed at."""
    inner = [name.removeprefix("inbox/") for name in names]
    idle = [how for how in mappings if not any(replace(how, sheets="*").fits(name, "") for name in inner)]
    rows = [(f"mappings/{how.name}.toml", "", 1, IDLE, how.files) for how in idle]
    return pl.DataFrame(rows, schema=IGNORED, orient="row")


def _unused(found: Mends) -> list[pl.DataFrame]:
    entries = [(*place[:3], reason, None) for place, reason in found.unused]
    return [pl.DataFrame(entries, schema=IGNORED, orient="row")] if entries else []


def _entry(name: str, table: TextTable, how: Mapping | None, questions: Sequence[Question]) -> dict[str, Any]:
    rows = table.frame.height + table.ignored.height
    if not how and not table.frame.height:
        said = str(table.dialect.get(MESSAGE, "It holds no rows of a table."))
        return _file(name, "ignored", table.sheet, rows, message=said)
    if not how and is_nothing(questions):
        return _file(name, "ignored", table.sheet, rows, message=LIKE_NOTHING)
    if not how:
        open_ = [question.ask for question in questions[:QUESTIONS_SHOWN]]
        return _file(name, "unmapped", table.sheet, rows, message=" ".join(open_))
    if how.name == "suggested" and not how.record:
        return _file(name, "ignored", table.sheet, rows, message="Its rows say of themselves that they are no records.")
    if how.name in ("canonical", "suggested"):
        return _file(name, how.name, table.sheet, rows, how.record, how.name)
    own = how.fits(name.removeprefix("inbox/"), table.sheet)
    message = None if own else f"It has the same headings as the table that mappings/{how.name}.toml was settled for."
    return _file(name, "mapping file" if how.record else "ignored", table.sheet, rows, how.record, how.name, message)


def _file(
    name: str, how: str, sheet: str = "", rows: int = 0, record: str = "", mapped: str = "", message: str | None = None
) -> dict[str, Any]:
    named = {"record": record or None, "mapping": mapped or None}
    return {"file": name, "sheet": sheet, **named, "how": how, "rows": rows, "masked": 0, "message": message}


def _as_ignored(table: TextTable, how: Mapping | None, questions: Sequence[Question]) -> pl.DataFrame:
    if not table.columns:
        return table.ignored.clear()
    text = pl.concat_str(pl.exclude("row"), separator=" | ", ignore_nulls=True)
    why = "skipped by its mapping" if how else NOTHING if is_nothing(questions) else "no mapping"
    why = several_records.NO_SUCH if how and how.name == "suggested" else why
    reason = pl.lit(why).alias("reason")
    return table.frame.select("row", reason, text.alias("text"))


def _lost(ignored: pl.DataFrame, name: str, table: TextTable) -> pl.DataFrame:
    """Rows as `intake.ignored` keeps them."""
    return _at(name, table.sheet, shown(ignored, table).with_columns(pl.col("text").str.slice(0, TEXT_SHOWN)))


def _at(name: str, sheet: str, ignored: pl.DataFrame) -> pl.DataFrame:
    return ignored.select(pl.lit(name).alias("file"), pl.lit(sheet).alias("sheet"), "row", "reason", "text")
