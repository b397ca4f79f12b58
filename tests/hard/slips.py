"""Cells that are wrong and still plausible: how many of such slips are asked about?

    python -m tests.hard.slips [--slips 1000] [--at-once 40] [--seed 1] [--minutes 10]

Into the demo's plain files go slips of four kinds: a digit typed twice, day and month turned, g for kg (ml for l, mm
for cm), two tags swapped; so many at once, each in a row of its own, whose tags no other slip's row has. A slip counts
as asked about where something is told that was not told before and names its row, or a tag, receipt or order of it: a
row set aside, a check's row (warnings too), a tag that leads nowhere, a question, a word. Where only its item is named,
it is counted apart: others may be the cause. Prints counts by kind; there is no pass or fail.
"""

import argparse
import csv
import io
import re
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import duckdb

from pipeline.database.plan import read_plan
from pipeline.refresh.refresh import refresh
from pipeline.shop import load

DEMO = Path(__file__).parents[2] / "sample_data" / "demo"
FILES = (
    *("hours/hours-2026.csv", "receipts/purchases-2026.csv", "sales/by-hand.csv", "counts/counts.csv"),
    *("orders/orders.csv", "payments/payments.csv", "moves/moves.csv"),
)
TAGS = ("piece", "pieces", "lot", "order_no", "receipt")
NUMBERS = ("hours", "quantity", "amount", "price", "tax", "freight", "worth", "list_price")
SMALLER = {"kg": "g", "l": "ml", "cm": "mm", "m": "cm", "lb": "oz", "gal": "fl oz"}
ELSEWHERE = (
    "select file || ' ' || row || ' ' || field || ' ' || coalesce(text, '') as told from intake.rejected",
    "select row_id || ' ' || tag as told from intake.unlinked",
    "select ask as told from intake.question",
    "select vocabulary || ' ' || word as told from intake.unknown_word",
)


@dataclass(frozen=True)
class Slip:
    """One wrong cell, or two of a column: its kind, its file and rows (as the tool counts them), what names it."""

    kind: str
    file: str
    rows: tuple[int, ...]
    tags: frozenset[str]
    item: str
    said: str


def slips(tables: dict[str, list[list[str]]], number: int, random: Random) -> list[Slip]:
    """Put so many slips into the tables (header and rows of a file); gives them."""
    made: list[Slip] = []
    taken: set[str] = set()
    kinds = (doubled, turned, smaller, swapped)
    for turn in range(number * 30):
        if len(made) == number:
            break
        file = random.choice([*tables])
        slip = kinds[turn % len(kinds)](file, tables[file], random, taken)
        if slip:
            made.append(slip)
            taken |= slip.tags | {f"{file} {row}" for row in slip.rows}
    return made


def _row(file: str, table: list[list[str]], random: Random, taken: set[str]) -> tuple[int, dict[str, str]] | None:
    at = random.randrange(1, len(table))
    cells = dict(zip(table[0], table[at], strict=False))
    return None if f"{file} {at + 1}" in taken or _tags(cells) & taken else (at, cells)


def _tags(cells: dict[str, str]) -> frozenset[str]:
    return frozenset(tag for name in TAGS for tag in re.split(r"[; ]+|\.\.", cells.get(name, "")) if tag)


def _put(file: str, table: list[list[str]], at: int, name: str, text: str, kind: str) -> Slip:
    cells = dict(zip(table[0], table[at], strict=False))
    before = cells[name]
    table[at][table[0].index(name)] = text
    return Slip(kind, file, (at + 1,), _tags(cells), cells.get("item", ""), f"{name} {before!r} → {text!r}")


def doubled(file: str, table: list[list[str]], random: Random, taken: set[str]) -> Slip | None:
    """A digit before the point typed twice."""
    found = _row(file, table, random, taken)
    names = [name for name in NUMBERS if found and re.match(r"\d", found[1].get(name, ""))]
    if not found or not names:
        return None
    name = random.choice(names)
    text = found[1][name]
    digits = [match.start() for match in re.finditer(r"[1-9]", re.split(r"[. ]", text)[0])]
    if not digits:
        return None
    at = random.choice(digits)
    return _put(file, table, found[0], name, text[: at + 1] + text[at:], "a digit doubled")


def turned(file: str, table: list[list[str]], random: Random, taken: set[str]) -> Slip | None:
    """Day and month of a date turned, where both fit."""
    found = _row(file, table, random, taken)
    day = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", found[1].get("date", "")) if found else None
    if not found or not day or day[2] == day[3] or int(day[3]) > 12:
        return None
    return _put(file, table, found[0], "date", f"{day[1]}-{day[3]}-{day[2]}", "day and month turned")


def smaller(file: str, table: list[list[str]], random: Random, taken: set[str]) -> Slip | None:
    """The next smaller unit written for the right one."""
    found = _row(file, table, random, taken)
    for name in ("quantity", "length", "width", "thickness") if found else ():
        parts = re.fullmatch(r"([\d.]+ ?)([a-z ]+)", found[1].get(name, "")) if found else None
        if found and parts and parts[2] in SMALLER:
            return _put(file, table, found[0], name, parts[1] + SMALLER[parts[2]], "g for kg")
    return None


def swapped(file: str, table: list[list[str]], random: Random, taken: set[str]) -> Slip | None:
    """The tags of two rows changed for each other."""
    one, other = _row(file, table, random, taken), _row(file, table, random, taken)
    for name in TAGS if one and other and one[0] != other[0] else ():
        if one and other and (first := one[1].get(name)) and (second := other[1].get(name)) and first != second:
            place = table[0].index(name)
            table[one[0]][place], table[other[0]][place] = second, first
            tags = _tags(one[1]) | _tags(other[1])
            return Slip("two tags swapped", file, (one[0] + 1, other[0] + 1), tags, "", f"{name} {first} ⇄ {second}")
    return None


def told(con: duckdb.DuckDBPyConnection) -> set[str]:
    """All that is told of the records, a text each."""
    found: set[str] = set()
    for check in read_plan().checks:
        rows = con.execute(f"select to_json(t)::varchar from ({check.sql}) as t").fetchall()
        found |= {f"{check.table} {text}" for (text,) in rows}
    for query in ELSEWHERE:
        found |= {f"{query.split()[-1]} {text}" for (text,) in con.execute(query).fetchall()}
    return found


def asked_about(slip: Slip, new: list[str], con: duckdb.DuckDBPyConnection) -> str:
    """What names the slip, of what is told anew; "its item" where no more is named; "" for nothing."""
    query = "select row_id from intake.row where file = ? and list_contains(?, row)"
    ids = [str(row) for (row,) in con.execute(query, [f"inbox/{slip.file}", list(slip.rows)]).fetchall()]
    places = [f"inbox/{slip.file} {row} " for row in slip.rows]
    for text in new:
        if any(place in text for place in places) or any(re.search(rf"\b{each}\b", text) for each in ids):
            return text.split(" ")[0]
        if any(re.search(rf"(?<![\w-]){re.escape(tag)}(?![\w-])", text) for tag in slip.tags):
            return text.split(" ")[0]
    return "its item" if slip.item and any(slip.item in text for text in new) else ""


def batch(home: Path, number: int, random: Random, before: set[str]) -> Iterator[tuple[Slip, str]]:
    """So many slips in a fresh demo, and what is told of each."""
    shutil.rmtree(home / "inbox")
    shutil.copytree(DEMO / "inbox", home / "inbox")
    tables = {}
    for file in FILES:
        text = (home / "inbox" / file).read_text(encoding="utf-8-sig")
        tables[file] = list(csv.reader(io.StringIO(text, newline="")))
    made = slips(tables, number, random)
    for file, rows in tables.items():
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        (home / "inbox" / file).write_text(out.getvalue(), encoding="utf-8")
    summary = refresh(load(home))
    if not summary.published:
        for slip in made:
            yield slip, "the refresh stops"
        return
    with duckdb.connect(str(summary.published), read_only=True) as con:
        new = sorted(told(con) - before)
        for slip in made:
            yield slip, asked_about(slip, new, con)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--slips", type=int, default=1000)
    parser.add_argument("--at-once", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=10)
    asked = parser.parse_args()
    until, random = time.monotonic() + 60 * asked.minutes, Random(asked.seed)
    tried, named, item = Counter[str](), Counter[str](), Counter[str]()
    by = Counter[str]()
    with tempfile.TemporaryDirectory() as folder:
        home = Path(shutil.copytree(DEMO, Path(folder) / "demo"))
        published = refresh(load(home)).published
        assert published
        with duckdb.connect(str(published), read_only=True) as con:
            before = told(con)
        while tried.total() < asked.slips and time.monotonic() < until:
            for slip, what in batch(home, min(asked.at_once, asked.slips - tried.total()), random, before):
                tried[slip.kind] += 1
                named[slip.kind] += what not in ("", "its item")
                item[slip.kind] += what == "its item"
                by[what] += 1
                print(f"{slip.kind}, {slip.file} row {slip.rows[0]}, {slip.said}: {what or 'nothing'}", flush=True)
    for kind in sorted(tried):
        print(f"{kind}: {tried[kind]} tried, {named[kind]} asked about, of {item[kind]} more only the item is named")
    print(f"all: {tried.total()} tried, {named.total()} asked about, {item.total()} more by their item")
    print(", ".join(f"{what or 'nothing'} {number}" for what, number in by.most_common()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
