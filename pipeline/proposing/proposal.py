"""Settling what a file holds: the mapping proposed for each of its tables, and saving it for a person to edit."""

import glob
import re
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline import mapping
from pipeline.errors import UserError
from pipeline.mapping import Mapping, column_of
from pipeline.proposing.suggestion import MARGIN, Suggestion, choose, suggest
from pipeline.readers import TextTable, read
from pipeline.records import RECORDS
from pipeline.shop import Shop
from pipeline.writing import whole
from pipeline.writing.logbook import one_file

WHY = {
    "private": "about a buyer; never stored",
    "not needed": "not needed",
    "not known": "not known",
    "settled": "left out",
}
"""Why a column is left out, as it is told."""


@dataclass(frozen=True)
class Proposal:
    """What may be in one table of `file` (its path in the shop folder). `used` is the mapping by which a refresh reads
    it as things are, None where it asks."""

    file: str
    table: TextTable
    suggestion: Suggestion
    used: Mapping | None

    @property
    def torn(self) -> str:
        """The record that it could be as well; "" where the content decides."""
        scores = self.suggestion.records
        others = sorted((name for name in scores if name != self.suggestion.record), key=lambda n: (-scores[n], n))
        close = scores[self.suggestion.record] - scores[others[0]] < MARGIN
        return others[0] if close and any(q.startswith("It could be") for q in self.suggestion.questions) else ""


def propose(shop: Shop, path: Path, record: str = "", settled: dict[str, str] | None = None) -> list[Proposal]:
    """A proposal for each table of a file that holds rows; `record` settles which record it is.

    `settled` says of a field which column it is, or else the text that it has in all rows.

    `path` is as given or within the shop folder. Raises `UserError` for a file outside of the shop folder, one that
    can't be read, one without rows, or an unknown record.
    """
    if record and record not in RECORDS:
        raise UserError(f"There is no record {record!r}.", str(path), f"Choose one of: {', '.join(RECORDS)}.")
    home = shop.folder.resolve()
    place = next((p.resolve() for p in (path, shop.folder / path) if p.is_file()), None)
    if place is None:
        raise UserError("There is no such file.", str(path), f"Name a file in {shop.path('inbox')}.")
    if not place.is_relative_to(home / "inbox"):
        raise UserError("This file is not in the shop's inbox.", str(path), f"Copy it to {shop.path('inbox')} first.")
    file = place.relative_to(home).as_posix()
    known = mapping.load(shop.path("mappings"))
    with one_file(shop.folder, file):
        tables = [table for table in read(place, **shop.reading) if table.frame.height]
        if not tables:
            raise UserError("There are no rows in this file.", file, f"See how it reads with: kerfledger peek {path}")
        return [_settled(_proposal(file, table, known, shop, record), settled or {}) for table in tables]


def _proposal(file: str, table: TextTable, known: list[Mapping], shop: Shop, record: str) -> Proposal:
    below = file.removeprefix("inbox/")
    return Proposal(file, table, suggest(table, shop, below, record), choose(known, below, table, shop))


def _settled(proposal: Proposal, settled: dict[str, str]) -> Proposal:
    """The proposal with fields that the maker settled, and without the questions that this answers."""
    found, table = proposal.suggestion, proposal.table
    for name, text in settled.items():
        if name not in {f.name for f in RECORDS[found.record]}:
            known = ", ".join(f.name for f in RECORDS[found.record])
            raise UserError(f"{found.record} have no field {name!r}.", proposal.file, f"Known ones: {known}.")
        column = column_of(table, text)
        if any(g.column == column and g.why == "private" for g in found.columns):
            raise UserError(f"“{text}” is about a buyer.", proposal.file, "Such columns are never stored.")
        guesses = tuple(
            replace(g, field=name, confidence=1.0, why="settled")
            if g.column == column
            else replace(g, field="", confidence=0.0, why="settled")
            if g.field == name
            else g
            for g in found.columns
        )
        constants = found.mapping.constants | ({} if column else {name: text})
        columns = {g.field: g.header or g.column for g in guesses if g.field}
        answered = [f"No column is the {name} ", *(f"“{g.header or g.column}”" for g in guesses if g.column == column)]
        questions = tuple(q for q in found.questions if not any(part in q for part in answered) or "“, “" in q)
        mapping_ = replace(found.mapping, columns=columns, constants=constants)
        found = replace(found, columns=guesses, mapping=mapping_, questions=questions)
    return replace(proposal, suggestion=found)


def missing(proposal: Proposal) -> list[str]:
    """The needed fields that nothing fills."""
    filled = proposal.suggestion.mapping.columns.keys() | proposal.suggestion.mapping.constants.keys()
    return [f.name for f in RECORDS[proposal.suggestion.record] if f.required and f.name not in filled]


def save(shop: Shop, proposals: list[Proposal]) -> list[Path]:
    """Save each proposal as a mapping file; gives their paths.

    Raises `UserError`, and saves nothing, where a table could be two records, has too little of any, or is mapped by a
    file of its own already.
    """
    paths = [shop.path("mappings") / f"{_name(proposal, len(proposals) > 1)}.toml" for proposal in proposals]
    if len(proposals) > 1:
        proposals = [proposal if proposal.suggestion.mapping.columns else _skipped(proposal) for proposal in proposals]
    for proposal, path in zip(proposals, paths, strict=True):
        _check(proposal, path)
    whole.make_folder(shop.path("mappings"))
    for proposal, path in zip(proposals, paths, strict=True):
        whole.write(path, text(proposal))
        mapping.read(path)  # what was written can be read
    return paths


def _skipped(proposal: Proposal) -> Proposal:
    """A sheet beside others of which no column is known, such as a page of notes: its mapping passes over it."""
    found = proposal.suggestion
    skip = replace(found.mapping, record="", columns={}, constants={})
    return replace(proposal, suggestion=replace(found, mapping=skip, questions=()))


def _check(proposal: Proposal, path: Path) -> None:
    best, other = proposal.suggestion.record, proposal.torn
    where = ", ".join(filter(None, (proposal.file, proposal.table.sheet)))
    if other:
        raise UserError(f"This could be {best} or {other}.", where, f"Say which with --as {best} or --as {other}.")
    lacking = missing(proposal) if proposal.suggestion.mapping.record else []
    if lacking:
        mend = f"Name the column, or a text for all rows: --set {lacking[0]}=…"
        raise UserError(f"No column is the {lacking[0]} that {best} need.", where, mend)
    if path.exists():
        raise UserError("There is a mapping of this name already; it stays as it is.", str(path), "Edit or delete it.")


def _name(proposal: Proposal, several: bool) -> str:
    words = [proposal.file.removeprefix("inbox/").rpartition(".")[0]] + [proposal.table.sheet] * several
    return "-".join(re.findall(r"[^\W_]+", " ".join(words).casefold())) or "mapping"


def text(proposal: Proposal) -> str:
    """The mapping file: the mapping, and as comments what is open and which columns it leaves out."""
    suggestion = proposal.suggestion
    exact = replace(
        suggestion.mapping,
        files=glob.escape(proposal.file.removeprefix("inbox/")),
        sheets=glob.escape(proposal.table.sheet) or "*",
    )
    record = RECORDS[suggestion.record]
    also = 'tax_included = true, repeats_total = true, supersedes = ["order_no"], [constants], [units]'
    unused = [f"{guess.header or guess.column} ({WHY[guess.why]})" for guess in suggestion.columns if not guess.field]
    notes = [
        f"How {proposal.file} is read. Proposed by the tool; change what is wrong.",
        f"Fields of {record.name}: {', '.join(f.name for f in record)}",
        *(f"Open: {question}" for question in suggestion.questions),
        f"Can be said too: {also}",
        *([f"Left out: {', '.join(unused)}"] if unused else []),
    ]
    return "".join(f"# {' '.join(note.split())}\n" for note in notes) + "\n" + mapping.dump(exact)
