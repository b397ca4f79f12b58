"""Settling what a file holds: the mapping proposed for each of its tables, and saving it for a person to edit."""

import glob
import re
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline import mapping
from pipeline.errors import UserError
from pipeline.mapping import Mapping
from pipeline.readers import TextTable, read
from pipeline.records import RECORDS
from pipeline.shop import Shop
from pipeline.suggestion import MARGIN, Suggestion, choose, suggest

WHY = {"private": "about a buyer; never stored", "not needed": "not needed", "not known": "not known"}
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


def propose(shop: Shop, path: Path, record: str = "") -> list[Proposal]:
    """A proposal for each table of a file that holds rows; `record` settles which record it is.

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
    tables = [table for table in read(place, time_zone=shop["time_zone"]) if table.frame.height]
    if not tables:
        raise UserError("There are no rows in this file.", file, f"See how it reads with: kerfledger peek {path}")
    return [_proposal(file, table, known, shop, record) for table in tables]


def _proposal(file: str, table: TextTable, known: list[Mapping], shop: Shop, record: str) -> Proposal:
    below = file.removeprefix("inbox/")
    return Proposal(file, table, suggest(table, shop, below, record), choose(known, below, table, shop))


def save(shop: Shop, proposals: list[Proposal]) -> list[Path]:
    """Save each proposal as a mapping file; gives their paths.

    Raises `UserError`, and saves nothing, where a table could be two records, has too little of any, or is mapped by a
    file of its own already.
    """
    paths = [shop.path("mappings") / f"{_name(proposal, len(proposals) > 1)}.toml" for proposal in proposals]
    for proposal, path in zip(proposals, paths, strict=True):
        _check(proposal, path)
    shop.path("mappings").mkdir(exist_ok=True)
    for proposal, path in zip(proposals, paths, strict=True):
        path.write_text(text(proposal), encoding="utf-8")
        mapping.read(path)  # what was written can be read
    return paths


def _check(proposal: Proposal, path: Path) -> None:
    best, other = proposal.suggestion.record, proposal.torn
    where = ", ".join(filter(None, (proposal.file, proposal.table.sheet)))
    if other:
        raise UserError(f"This could be {best} or {other}.", where, f"Say which with --as {best} or --as {other}.")
    if not proposal.suggestion.mapping.columns:
        raise UserError(
            "No column of this table is known.", where, f"Say what it holds with --as: {', '.join(RECORDS)}."
        )
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
    unused = [f"{guess.header or guess.column} ({WHY[guess.why]})" for guess in suggestion.columns if not guess.field]
    missing = [f.name for f in record if f.required and f.name not in exact.columns]
    notes = [
        f"How {proposal.file} is read. Proposed by the tool; change what is wrong.",
        f"Fields of {record.name}: {', '.join(f.name for f in record)}",
        *(f"Open: {question}" for question in suggestion.questions),
        *(
            f"Needed and not found: {name}. Name its column, or give a text for all rows in [constants]."
            for name in missing
        ),
        *([f"Left out: {', '.join(unused)}"] if unused else []),
    ]
    return "".join(f"# {' '.join(note.split())}\n" for note in notes) + "\n" + mapping.dump(exact)
