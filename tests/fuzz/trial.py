"""One case of damage: what is wrong with how it is taken, as sentences; none = well."""

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from random import Random
from xml.sax.saxutils import escape

import duckdb
import polars as pl
import psutil
from excerpt import excerpt
from mutate import mutated
from pypdf import PdfWriter

from pipeline import mapping
from pipeline.database import newest
from pipeline.errors import UserError
from pipeline.mapping import Mapping
from pipeline.pages import daylog
from pipeline.quoting import saved_quotes
from pipeline.readers import READERS, read
from pipeline.refresh import corrections, read_files
from pipeline.refresh.corrections import Mends
from pipeline.refresh.read_files import FilesRead
from pipeline.shop import Shop, load
from tests.hostile import cell, ods

STANDARDS = Path(__file__).parents[1] / "readers" / "standards"
FORM_1 = Path(__file__).parents[1] / "shop" / "form_1"

SECONDS, MEMORY = 20, 2**30
KEPT = ("shop.toml", "mappings", "mends", "log", "quotes", "inbox")


def seeds(shop: Path, home: Path) -> list[Path]:
    """A shop's files to be damaged, and a few of them again in the kinds that it has none of; copied into `home`."""
    for name in KEPT:
        if (shop / name).is_dir():
            shutil.copytree(shop / name, home / name)
        elif (shop / name).is_file():
            home.mkdir(parents=True, exist_ok=True)
            shutil.copy(shop / name, home / name)
    for name in KEPT[1:-1]:  # of what it has none of: as an older shop has it
        if not (home / name).is_dir():
            shutil.copytree(FORM_1 / name, home / name)
    for path in sorted((home / "inbox").rglob("*.csv"))[::4]:
        (table,) = read(path)[:1]
        names = [name or column for name, column in zip(table.names or table.columns, table.columns, strict=False)]
        unique = [f"{name}{n}" if names.index(name) != n else name for n, name in enumerate(names)]
        frame = table.frame.select(pl.col(c).alias(n) for c, n in zip(table.columns, unique, strict=False))
        frame.write_json(path.with_name(f"{path.stem}-j.json"))
        frame.write_parquet(path.with_name(f"{path.stem}-p.parquet"))
        _write_ods(frame.head(60), path.with_name(f"{path.stem}-o.ods"))
        shutil.copy(path, path.with_name(f"{path.stem}-t.txt"))
    for path in sorted(STANDARDS.glob("*.xml")):
        shutil.copy(path, home / "inbox")
    with (home / "inbox" / "bill.pdf").open("wb") as file:
        writer = PdfWriter()
        writer.add_blank_page(100, 100)
        writer.add_attachment("factur-x.xml", (STANDARDS / "cii.xml").read_bytes())
        writer.write(file)
    return sorted(p for p in (home / "inbox").rglob("*") if p.suffix in READERS)


def _write_ods(frame: pl.DataFrame, path: Path) -> None:
    def row(cells: Iterable[str | None]) -> str:
        held = "".join("<table:table-cell/>" if text is None else cell(escape(text)) for text in cells)
        return f"<table:table-row>{held}</table:table-row>"

    ods(path, "".join(map(row, [frame.columns, *frame.iter_rows()])))


@cache
def _by_suffix(home: Path) -> dict[str, list[Path]]:
    found: dict[str, list[Path]] = {}
    for path in sorted(p for p in (home / "inbox").rglob("*") if p.suffix in READERS):
        found.setdefault(path.suffix, []).append(path)
    return found


def case(home: Path, seed: int, whole: bool = False) -> tuple[Path, bytes]:
    """The file of a seed, and its damaged content: of a few of its rows, or of all. Most are CSV, as in a shop."""
    random = Random(seed)
    kinds = _by_suffix(home)
    path = random.choice(kinds[random.choice([*sorted(kinds), ".csv", ".csv", ".csv", ".xlsx"])])
    data = path.read_bytes() if whole else excerpt(path.suffix, path.read_bytes(), random)
    return path, mutated(path.suffix, data, random)


@cache
def _shop(home: Path) -> tuple[Shop, list[Mapping]]:
    """Read once: they are the same for each file of a process."""
    shop = load(home)
    return shop, mapping.load(shop.path("mappings"))


def one_file(home: Path, seed: int, whole: bool = False) -> list[str]:
    """Read, map and clean one damaged file."""
    path, data = case(home, seed, whole)
    return read_one(home, path.relative_to(home).as_posix(), data)


def with_long_cells(path: Path) -> bytes:
    """The head of a CSV and three of its rows; in the last every cell is a word of 70,000 letters."""
    lines = path.read_text(encoding="utf-8").splitlines()[: 1 + 3]
    mark = ";" if lines[0].count(";") > lines[0].count(",") else ","
    return "\n".join([*lines[:-1], mark.join(["x" * 70_000] * (lines[0].count(mark) + 1))]).encode()


def read_one(home: Path, name: str, data: bytes) -> list[str]:
    """Read, map and clean one file of the shop with such content."""
    shop, mappings = _shop(home)
    place = home / ".fuzz" / str(os.getpid()) / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(data)
    begun, before = time.process_time(), psutil.Process().memory_info().rss
    try:
        asked = read_files._Asked(place, name, len(data), 0, Mends(), False, "")
        found = read_files._read_file(mappings, shop, asked)
    finally:
        place.unlink()
    took = time.process_time() - begun
    # what the process held before is no file's doing: a run of tests holds shops of others
    held = psutil.Process().memory_info().rss - before
    much = [f"it took {took:.0f} s"] if took > SECONDS else []
    much += [f"the process that read it holds {held / 2**20:.0f} MB"] if held > MEMORY else []
    return [*(f"it was stumbled over: {trip}" for trip in found.trips), *much, *_lost(found)]


def own_file(home: Path, seed: int) -> list[str]:
    """Read one damaged file of the shop's own (settings, mapping, mend, log, quote): read, or refused in a sentence."""
    random = Random(seed)
    path = random.choice(own_files(home))
    whole = path.read_bytes()
    begun = time.process_time()
    path.write_bytes(mutated(path.suffix, whole, random))
    try:
        shop = load(home)
        mapping.load(home / "mappings")
        corrections.load(shop)
        daylog.state(shop)
        saved_quotes.frame(home)
    except UserError as error:
        return [] if error.what and error.where and error.mend else [f"it says too little: {error}"]
    finally:
        path.write_bytes(whole)
    took = time.process_time() - begun
    return [f"it took {took:.0f} s"] if took > SECONDS else []


@cache
def own_files(home: Path) -> list[Path]:
    """The shop's own files: one for each kind of its folders, so that each kind is as likely."""
    kinds = [[home / "shop.toml"], *(sorted((home / name).iterdir()) for name in KEPT[1:-1] if (home / name).is_dir())]
    most = max(map(len, kinds))
    return [kind[n % len(kind)] for kind in kinds if kind for n in range(most)]


def _lost(found: FilesRead) -> Iterator[str]:
    for entry in found.files:
        place = pl.col("sheet") == entry["sheet"]
        cleaned = sum(c.frame.filter(place).height + c.rejected.filter(place).height for c in found.cleaned)
        ignored = sum(frame.filter(place).height for frame in found.ignored)
        if entry["rows"] != cleaned + ignored:
            yield f"{entry['rows']} rows in {entry['sheet']!r}, of which {cleaned} were cleaned and {ignored} ignored"
        if entry["how"] == "unreadable" and not entry["message"]:
            yield "it is unreadable, and nothing is said of it"


TOO_FAR = re.compile(r"Traceback|fault of the tool|panicked")


def whole_refresh(home: Path, seed: int, into: Path) -> list[str]:
    """Refresh a shop of which some files, settings, mappings and quotes are damaged."""
    random = Random(seed)
    for name in KEPT:
        if (home / name).exists():
            (shutil.copytree if (home / name).is_dir() else shutil.copy)(home / name, into / name)
    held = [*sorted(p for name in KEPT for p in (into / name).rglob("*") if p.is_file()), into / "shop.toml"]
    inbox = [p for p in held if "inbox" in p.parts]
    for path in {*random.sample(inbox, 3), random.choice(held), random.choice([held[-1], *held])}:
        path.write_bytes(mutated(path.suffix, path.read_bytes(), random))
    begun, most, worked = time.monotonic(), 0, 0.0
    with subprocess.Popen(
        [sys.executable, "-m", "pipeline.commands", "refresh", str(into)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    ) as process:
        watched = psutil.Process(process.pid)
        while process.poll() is None:
            try:
                seen = [(p.memory_info().rss, p.cpu_times()) for p in (watched, *watched.children(recursive=True))]
                most = max(most, *(held for held, _ in seen))
                worked = max(worked, sum(times.user + times.system for _, times in seen))
            except psutil.Error:
                pass
            time.sleep(0.1)
        said = process.stdout.read().decode("utf-8", "replace") if process.stdout else ""
    problems = [f"exit {process.returncode}: {said[-300:]}"] if process.returncode not in (0, 1, 2) else []
    problems += [f"it says: {said[-300:]}"] if TOO_FAR.search(said) else []
    problems += [f"{most / 2**20:.0f} MB in one process"] if most > MEMORY else []
    # on a busy machine the clock says little: work counts, and the clock for what hangs without any
    clock = time.monotonic() - begun
    problems += [f"{worked:.0f} s of work, {clock:.0f} s"] if worked > 3 * SECONDS or clock > 30 * SECONDS else []
    log = into / "database" / "refresh.log"
    trips = log.read_text(encoding="utf-8").splitlines() if log.exists() else []
    return [*problems, *(f"in the log: {line}" for line in trips[:3]), *_unaccounted(into)]


def _unaccounted(folder: Path) -> Iterator[str]:
    try:
        path = newest(folder)
    except UserError:
        return
    if not path:
        return
    query = "select file, rows, loaded + duplicate + set_aside + ignored from intake.file where rows <> loaded + "
    with duckdb.connect(str(path), read_only=True) as con:
        for file, rows, told in con.execute(f"{query} duplicate + set_aside + ignored").fetchall():
            yield f"{file}: {rows} rows, {told} accounted for"
