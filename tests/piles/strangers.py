"""A pile that strangers wrote, held against the truth that they wrote down: one `truth.jsonl` beside its `inbox/`.

Each line of it tells a row: `file`, `sheet`, `row`, the `record` that it is (null = none), and the `facts` that it
states, in main units of money, millimetres, ISO dates and words. A row of two records has two lines.
"""

import json
import re
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.units import Units
from pipeline.linking import Linked, link
from pipeline.proposing.file_names import channels_said
from pipeline.proposing.question import FILE
from pipeline.records import RECORDS
from pipeline.reference import key, names
from pipeline.refresh.read_files import FilesRead, read_files
from pipeline.shop import Shop

Place = tuple[str, str, int]
"""File, sheet and row."""

ENDS = ("right", "lacking", "wrong", "waiting", "stuck", "passed", "lost")
"""What became of a row: all of it right; loaded without something that it states; loaded with something else; not
loaded, and asked about; set aside with no question that leads out; passed over as no record; nowhere at all."""

WAYS = ("in", "out", "payment", "ontvangst", "betaling")
SAME = {"category": {"event", "selling"}}
"""Words of the truth's own that mean the same as ours."""

UM_OFF, SECONDS_OFF, SHARE_OFF = 1000, 60, 0.002
"""How far a size, a time and an amount may be off: what the truth rounds."""


@dataclass
class Judged:
    """What became of each row that is a record, of each that is none and was loaded, and why."""

    ends: dict[Place, str] = field(default_factory=dict)
    whys: dict[Place, str] = field(default_factory=dict)
    loaded_noise: list[Place] = field(default_factory=list)
    tables: int = 0

    @property
    def right(self) -> int:
        return sum(end == "right" for end in self.ends.values())

    def score(self) -> float:
        """How good it is for the maker: a wrong row costs more than one that waits."""
        worth = {"right": 1.0, "lacking": 0.5, "wrong": -1.0}
        return sum(worth.get(end, 0.0) for end in self.ends.values()) - len(self.loaded_noise)

    def by_file(self) -> Iterator[tuple[str, Counter[str]]]:
        found: dict[str, Counter[str]] = defaultdict(Counter)
        for (file, _, _), end in self.ends.items():
            found[file][end] += 1
        for file, _, _ in self.loaded_noise:
            found[file]["noise"] += 1
        yield from sorted(found.items())


@dataclass(frozen=True)
class TrueRow:
    """A record that a row is, and what it states."""

    record: str
    facts: dict[str, Any]


def truth_of(path: Path) -> dict[Place, list[TrueRow]]:
    """The truth of a pile: each row with the records that it is, none where it is none."""
    found: dict[Place, list[TrueRow]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.strip():
            continue
        said = json.loads(line)
        place = (str(said["file"]), str(said.get("sheet") or ""), int(said["row"]))
        rows = found.setdefault(place, [])
        if said["record"]:
            rows.append(TrueRow(said["record"], {n: v for n, v in (said["facts"] or {}).items() if v is not None}))
    return found


def judged(shop: Shop, truth: dict[Place, list[TrueRow]]) -> Judged:
    """What a refresh would make of the shop's files, row by row."""
    pile = read_files(shop, lambda _: None)
    return held_against(truth, pile, link(pile.cleaned, shop), shop)


def held_against(truth: dict[Place, list[TrueRow]], pile: FilesRead, linked: Linked, shop: Shop) -> Judged:
    """Each row of the truth beside what was loaded of it."""
    loaded = _loaded(linked)
    asked, unmapped = _asked(pile)
    aside: dict[Place, list[tuple[str, str, str, tuple[str, str]]]] = defaultdict(list)
    for file, sheet, row, code, name, text in linked.rejected.select(
        "file", "sheet", "row", "code", "field", "text"
    ).rows():
        aside[_place(file, sheet, row)].append((code, name or "", text or "", (file, sheet)))
    passed = {
        _place(file, sheet, row): reason
        for frame in pile.ignored
        for file, sheet, row, reason in frame.select("file", "sheet", "row", "reason").rows()
    }
    found = Judged(tables=len(pile.files))
    sheets: dict[str, set[str]] = defaultdict(set)
    for entry in pile.files:
        sheets[entry["file"].removeprefix("inbox/")].add(_place("", entry["sheet"], 0)[1])
    for place, rows in truth.items():
        only = next(iter(sheets[place[0]])) if len(sheets[place[0]]) == 1 else place[1]
        here = (place[0], place[1] or only, place[2])  # of a workbook of one sheet nobody need name it
        have = loaded.get(here, [])
        if not rows:
            if have:
                found.loaded_noise.append(place)
                found.whys[place] = f"nothing → {have[0][0]}"
            continue
        end, why = _end(rows, have, shop)
        if not have:
            if here in aside:
                code, name, text, table = aside[here][0]
                led = {0, here[2]} & asked.get(table, set())
                end, why = ("waiting" if led else "stuck"), f"{rows[0].record} {code} {name}: {text[:30]}"
            elif here[:2] in unmapped:
                end, why = "waiting", f"table asked about: {unmapped[here[:2]][:80]}"
            elif passed.get(here, "").endswith("of its receipt"):
                end, why = "right", ""  # it became the freight, or the tax, of the lines beside it
            elif here in passed:
                end, why = "passed", f"{rows[0].record}: {passed[here]}"
            else:
                end, why = "lost", rows[0].record
        found.ends[place] = end
        found.whys[place] = why
    return found


def _place(file: str, sheet: str | None, row: int) -> Place:
    # a further table of a sheet has a name of its own, as have the rows of one record: they are those of the sheet
    return (file.removeprefix("inbox/"), re.sub(r"(?:(?:^| )table \d+)?(?:(?:^| )\([^()]+\))?$", "", sheet or ""), row)


def _loaded(linked: Linked) -> dict[Place, list[tuple[str, dict[str, Any]]]]:
    """What each row was loaded as; a twin as what it is the twin of."""
    by_id = {row["row_id"]: (name, row) for name, frame in linked.records.items() for row in frame.to_dicts()}
    found: dict[Place, list[tuple[str, dict[str, Any]]]] = defaultdict(list)
    for row in linked.row.to_dicts():
        if not row["file"] or row["record"] not in RECORDS:
            continue
        known = by_id.get(row["row_id"]) or by_id.get(row["twin_of"])
        if known:
            found[_place(row["file"], row["sheet"], row["row"])].append(known)
    return found


def _asked(pile: FilesRead) -> tuple[dict[tuple[str, str], set[int]], dict[tuple[str, str], str]]:
    """Of each table the rows that it is asked about, 0 where all are; and the tables that wait whole."""
    asked: dict[tuple[str, str], set[int]] = defaultdict(set)
    for each in pile.asked:
        place = (each.file, each.sheet)
        whole = each.places.is_empty() and each.question.holds == FILE
        asked[place] |= {0} if whole else {*each.places["row"]}
    unmapped = {
        _place(entry["file"], entry["sheet"], 0)[:2]: entry["message"] or ""
        for entry in pile.files
        if entry["how"] == "unmapped"
    }
    return asked, unmapped


def _end(rows: list[TrueRow], have: list[tuple[str, dict[str, Any]]], shop: Shop) -> tuple[str, str]:
    """What became of a row that was loaded."""
    worst, why = "right", ""
    records = {record for record, _ in have}
    for row in rows:
        if row.record not in records and len(rows) > 1 and records <= {each.record for each in rows}:
            worst, why = (worst, why) if worst == "wrong" else ("lacking", f"{row.record} beside another record")
            continue
        if row.record not in records:
            return "wrong", f"{row.record} → {'+'.join(sorted(records))}"
        same = [each for record, each in have if record == row.record]
        for name, value in row.facts.items():
            said = _compared(row, name, value, same, shop)
            if said == "":
                continue
            lacks = said.startswith("lacks")
            told = f"{row.record} {said}"
            if lacks and worst == "right":
                worst, why = "lacking", told
            elif not lacks:
                worst, why = "wrong", told
    if extra := records - {row.record for row in rows}:
        return "wrong", f"{rows[0].record} also → {'+'.join(sorted(extra))}"
    return worst, why


def _compared(row: TrueRow, name: str, value: Any, have: list[dict[str, Any]], shop: Shop) -> str:
    """ "" where a fact agrees; what is lacking or other."""
    if name == "unit":
        return ""
    record = RECORDS[row.record]
    if name == "seconds":
        name = "hours"
    if row.record == "payments" and name == "kind" and value in WAYS:
        return ""  # which way it went, which its kind follows
    if name in ("pieces", "piece") and name not in {f.name for f in record}:
        name = "piece" if name == "pieces" else "pieces"
    if name not in {f.name for f in record}:
        return ""
    about = record.field(name)
    columns = list(about.columns())
    if not columns:
        return ""
    found = [each.get(columns[0]) for each in have]
    given = [each for each in found if each is not None]
    if not given or given == [[]]:
        default = about.default
        if value in ("", [], 0, 0.0, False) or value == default:
            return ""
        return f"lacks {name}"
    if any(_same(about.kind, about.vocabulary or about.name, value, row.facts.get("unit"), have, columns, shop, name)):
        return ""
    return f"{name}: {value!r} read as {found[0]!r}"


def _same(
    kind: str,
    vocabulary: str,
    value: Any,
    unit: str | None,
    have: list[dict[str, Any]],
    columns: list[str],
    shop: Shop,
    name: str,
) -> Iterator[bool]:
    column = columns[0]
    values = [each.get(column) for each in have if each.get(column) is not None]
    if kind == "money":
        want = round(float(value) * 100)
        yield from (abs(v - want) <= 1 for v in [*values, sum(values)])
    elif kind == "duration":
        yield from (abs(v - float(value)) <= SECONDS_OFF for v in [*values, sum(values)])
    elif kind == "length":
        yield from (abs(v - float(value) * 1000) <= UM_OFF for v in values)
    elif kind == "quantity":
        yield from _amounts(value, unit, have, columns, shop)
    elif kind in ("count", "number", "temperature", "percent"):
        yield from (abs(float(v) - float(value)) <= SHARE_OFF * abs(float(value)) for v in [*values, sum(values)])
    elif kind == "date":
        yield from (str(v) == str(value) for v in values)
    elif kind in ("tag", "tags"):
        wanted = {_tag(t) for t in (value if isinstance(value, list) else [value])}
        got = {_tag(t) for v in values for t in (v if isinstance(v, list) else [v])}
        yield got == wanted
    elif kind == "yes_no":
        yield from (bool(v) == bool(value) for v in values)
    else:
        yield from (_alike(vocabulary, str(value), str(v), shop) for v in values)


def _tag(text: Any) -> str:
    return re.sub(r"[^0-9A-Z]", "", str(text).upper())


def _amounts(
    value: Any, unit: str | None, have: list[dict[str, Any]], columns: list[str], shop: Shop
) -> Iterator[bool]:
    for each in have:
        got, base = each.get(columns[0]), each.get(columns[1])
        if got is None:
            continue
        if not unit:
            yield any(abs(got / size - float(value)) < 1e-6 for size in (1, 1000, 10**6, 10**9))
        try:
            want, wanted = Reader(Units(shop.words.get("unit"))).read(f"{float(value):.6f}", unit or "each")
        except UnreadableError:
            yield abs(got / 1000 - float(value)) < 1e-6
            continue
        volumes = {"ul", "mm3"}
        if base == "each" and wanted == "each":  # six pairs are six of what has its own price
            yield got == round(float(value) * 1000)
        if base == wanted or {base, wanted} <= volumes or {base, wanted} <= {"each", "kit"}:
            yield abs(got - want) <= max(1, SHARE_OFF * abs(want))


def _alike(vocabulary: str, one: str, other: str, shop: Shop) -> bool:
    """Whether two words say the same: by their letters, or as words of one meaning."""
    a, b = _plain(one), _plain(other)
    if a == b or (a and b and (a in b or b in a)):
        return True
    if vocabulary in SAME and {a, b} <= SAME[vocabulary]:
        return True
    if vocabulary == "channel" and set(channels_said(key(one))) & {other}:
        return True
    words = Words(vocabulary, shop)
    if words.inside(one) == other:
        return True
    known = names(vocabulary)
    meanings = known.get(key(one), frozenset({one})), known.get(key(other), frozenset({other}))
    return bool({_plain(m) for m in meanings[0]} & {_plain(m) for m in meanings[1]})


def _plain(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[^0-9a-zß]", "", "".join(c for c in plain if not unicodedata.combining(c)))


def by_reason(found: Judged, ends: Iterable[str]) -> list[tuple[int, str]]:
    """Why rows are not right, most rows first, of each reason with one place."""
    wanted = set(ends)
    reasons: dict[str, list[Place]] = defaultdict(list)
    for place, why in found.whys.items():
        end = found.ends.get(place, "noise")
        if end in wanted:
            short = re.sub(r"(: ).*( read as ).*", r"\2…", why) if end == "wrong" else why.partition(": ")[0]
            reasons[f"{end:8} {place[0]} {place[1]} · {short}"].append(place)
    return sorted(
        (
            (len(places), f"{text}   e.g. row {places[0][2]}: {found.whys[places[0]]}")
            for text, places in reasons.items()
        ),
        reverse=True,
    )
