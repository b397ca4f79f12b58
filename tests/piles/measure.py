"""What a program made of a pile, held against its truth: rows right, wrong, left; questions; sureness."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, time
from pathlib import Path
from random import Random
from statistics import mean
from typing import Any

from pipeline import shop as shops
from pipeline.proposing import suggestion
from pipeline.readers import read
from pipeline.records import RECORDS
from pipeline.refresh.of_other_files import seen_in, together
from pipeline.refresh.read_files import read_files
from tests.piles.pile import TrueTable
from tests.piles.tables import Truth

PLACES = {"file", "sheet", "row", "occurrence"}


@dataclass
class Found:
    """What was counted of one shop."""

    rows: int = 0
    right: int = 0
    wrong: int = 0
    asked: int = 0
    files: int = 0
    questions: int = 0
    columns: int = 0
    offered: list[bool] = field(default_factory=list)
    sure: list[tuple[float, bool]] = field(default_factory=list)
    wrongs: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)


def measured(folder: Path, truths: list[TrueTable]) -> Found:
    """Read the shop's files as a first refresh does, and compare each row that is in them."""
    shop = shops.load(folder)
    pile = read_files(shop, lambda _: None)
    found = Found()
    loaded: dict[tuple[str, str], dict[int, tuple[str, dict[str, Any]]]] = {}
    for each in pile.cleaned:
        for row in each.frame.to_dicts():
            loaded.setdefault((row["file"], row["sheet"]), {})[row["row"]] = (each.record, row)
    _questions(found, pile, truths)
    for truth in truths:
        file = f"inbox/{truth.file}"
        open_ = _open(pile, file)
        found.files += 1
        found.columns += len(truth.fields)
        _rows(found, truth, loaded.get((file, truth.sheet), {}), open_)
        others = together([seen_in(pile.cleaned)]) if any(each.file == file for each in pile.asked) else {}
        _columns(found, truth, folder / file, replace(shop, seen=others))
    return found


def _open(pile: Any, file: str) -> list[str]:
    """What is open about a file: its questions, the words that nothing knows, the signs that its rows leave open."""
    asked = [each.question.ask for each in pile.asked if each.file == file]
    signs = [
        str(row)
        for each in pile.cleaned
        for row in each.questions.filter(file=file).group_by("field", "code").len().rows()
    ]
    words = [str(row) for each in pile.cleaned for row in each.unknown_words.filter(file=file).rows()]
    return [text for text in (*asked, *signs, *words) if text.strip()]


def _questions(found: Found, pile: Any, truths: list[TrueTable]) -> None:
    """How many things are asked of the shop, and whether the truth is among the choices."""
    found.questions = len({(each.question.kind, each.question.about) for each in pile.asked})
    found.questions += len(
        {row for each in pile.cleaned for row in each.unknown_words.select("vocabulary", "word").rows()}
    )
    by_file = {f"inbox/{truth.file}": truth for truth in truths}
    for each in pile.asked:
        truth = by_file[each.file]
        if each.question.kind == "record":
            found.offered.append(any(choice.mapping.get("record") == truth.record for choice in each.question.choices))
        elif each.question.kind in ("column", "which", "needed") and each.question.record == truth.record:
            found.offered.append(any(_true(choice.mapping, truth) for choice in each.question.choices))


def _true(said: Any, truth: TrueTable) -> bool:
    """Whether all that a choice says of columns is true."""
    told = [(header, name) for name, header in said.get("columns", {}).items()]
    told += [(header, "") for header in said.get("left_out", ())]
    return bool(told) and all(truth.fields.get(header) == name for header, name in told)


def _rows(found: Found, truth: TrueTable, loaded: dict[int, tuple[str, dict[str, Any]]], open_: list[str]) -> None:
    if truth.record:
        found.rows += len(truth.rows)
    for place, (record, row) in loaded.items():
        faults = _faults(truth, place, record, row)
        said = {name: (truth.rows.get(place, {}).get(name), row.get(name)) for name in faults}
        told = f"{truth.file} {truth.record}→{record} {sorted(faults)}: {said}"
        if not faults:
            found.right += 1
        elif any(_tells(open_, name, truth) for name in faults):
            found.asked += 1
        elif all(row.get(name) is None and not _weighty(record, name) for name in faults - {"record"}) and said != {}:
            (found.wrongs if "record" in faults else found.missed).append(told)
            found.wrong += "record" in faults
        else:
            found.wrong += 1
            found.wrongs.append(told)


def _weighty(record: str, name: str) -> bool:
    """Whether a row without this column is a wrong one: money or a quantity."""
    return any(f.kind in ("money", "quantity", "count", "duration") and name in f.columns() for f in RECORDS[record])


def _faults(truth: TrueTable, place: int, record: str, row: dict[str, Any]) -> set[str]:
    """The stored columns of a row that aren't as they should be; `record` where it is another one's row.

    What the truth says under a name with a "?" may be there or not."""
    if record != truth.record or place not in truth.rows:
        return {"record"}
    said = truth.rows[place]
    defaults = {name: f.default for f in RECORDS[record] for name in f.columns()}
    names = {name for name, value in row.items() if name not in PLACES and value != defaults.get(name)}
    certain = {name for name in said if name[0] != "?"}
    return {name for name in names | certain if not _same(name, said, row, defaults)}


def _same(name: str, said: Truth, row: dict[str, Any], defaults: dict[str, Any]) -> bool:
    want, have = said.get(name, defaults.get(name)), row.get(name)
    if f"?{name}" in said and have == said[f"?{name}"]:
        return True
    if isinstance(have, date | time):
        return str(have) == str(want)
    if isinstance(have, list):
        return isinstance(want, list) and have == want
    if isinstance(have, str):
        return have.casefold() == str(want).casefold()
    return have == want


def _tells(open_: list[str], column: str, truth: TrueTable) -> bool:
    """Whether something that is open about a table speaks of this column."""
    name = column.removesuffix("_cents").removesuffix("_unit").removesuffix("_um").replace("on_date", "date")
    name = {"seconds": "hours"}.get(name, name)
    headers = [header for header, field in truth.fields.items() if field == name]
    return any(f"“{h}”" in text for h in headers for text in open_) or any(
        name in text.replace("'", " ").replace(",", " ").split() for text in open_
    )


def _columns(found: Found, truth: TrueTable, path: Path, shop: Any) -> None:
    """How sure the proposal was of each column, and whether it was right."""
    for table in read(path, **shop.reading):
        if table.sheet != truth.sheet:
            continue
        guess = suggestion.suggest(table, shop, truth.file)
        if not truth.record:
            continue
        for column in guess.columns:
            if column.why == "private" or column.header not in truth.fields:
                continue
            right = guess.record == truth.record and column.field == truth.fields[column.header]
            found.sure.append((column.confidence * guess.records[guess.record], right))


def interval(values: Iterable[float], draws: int = 400) -> tuple[float, float, float]:
    """The mean over shops, and its 95 % interval by drawing shops again."""
    found = list(values)
    rng = Random(0)
    means = sorted(mean(rng.choices(found, k=len(found))) for _ in range(draws))
    return mean(found), means[int(0.025 * draws)], means[int(0.975 * draws)]


def ratio(pairs: Iterable[tuple[float, float]], draws: int = 400) -> tuple[float, float, float]:
    """A share over all shops, and its 95 % interval by drawing shops again."""
    found = list(pairs)
    rng = Random(0)

    def share(drawn: list[tuple[float, float]]) -> float:
        return sum(a for a, _ in drawn) / max(1e-9, sum(b for _, b in drawn))

    shares = sorted(share(rng.choices(found, k=len(found))) for _ in range(draws))
    return share(found), shares[int(0.025 * draws)], shares[int(0.975 * draws)]
