"""What `kerfledger map` shows: which column of a table may be which field, how sure that is, and what is open."""

import shlex
from collections.abc import Iterator
from typing import Any

from pipeline.errors import UserError
from pipeline.proposing.proposal import WHY, Proposal
from pipeline.reports.words import count, place, share

_WIDEST = 30


def data(proposals: list[Proposal]) -> list[dict[str, Any]]:
    """The proposals for JSON, one object a table."""
    return [
        {
            "file": proposal.file,
            "sheet": proposal.sheet,
            "rows": proposal.rows,
            "record": proposal.mapping.record,
            "confidence": proposal.suggestion.confidence,
            "sure": proposal.suggestion.sure,
            "could_be": proposal.torn or None,
            "read_by": proposal.used.name if proposal.used else None,
            "in_the_figures": proposal.preview.loaded,
            "set_aside": [{"row": row, "why": why} for row, why in proposal.preview.faults],
            "notes": list(proposal.preview.notes),
            "missing": list(proposal.missing),
            "columns": [
                {
                    "column": guess.column,
                    "header": guess.header,
                    "field": guess.field or None,
                    "confidence": guess.confidence,
                    "why": guess.why,
                    "samples": list(guess.samples),
                }
                for guess in proposal.columns
            ],
            "questions": [question.ask for question in proposal.questions],
        }
        for proposal in proposals
    ]


def text(proposals: list[Proposal], shop: str, record: str, saved: bool) -> Iterator[str]:
    """The proposals as lines of text; `shop` and `record` are the folder and the record as the maker named them."""
    for proposal in proposals:
        yield from _table(proposal)
    if not saved:
        yield from _next(proposals, shop, record)


def _table(proposal: Proposal) -> Iterator[str]:
    found = proposal.mapping.record or "passed over"
    sure = "" if proposal.used else f" ({share(proposal.suggestion.confidence)} sure)"
    where = place(proposal.file, proposal.sheet, None)
    yield f"{where}: {count(proposal.rows, 'row')}, {found}{sure}"
    lines = [("column", "field", "sure", "such as")]
    for guess in proposal.columns:
        sure = share(guess.confidence) if guess.field else ""
        lines.append(
            (
                guess.header or guess.column,
                guess.field or "-",
                sure,
                _samples(guess.samples, "" if guess.field else guess.why),
            )
        )
    widths = [max(len(_short(line[i])) for line in lines) for i in range(3)]
    for line in lines:
        yield "  " + "  ".join([*(_short(c).ljust(w) for c, w in zip(line, widths, strict=False)), line[3]]).rstrip()
    for question in proposal.questions:
        yield f"  Open: {question.ask}"
    if proposal.used:
        by = {"canonical": "its own headers", "suggested": "this proposal"}.get(proposal.used.name)
        yield f"  A refresh reads it by {by or f'mappings/{proposal.used.name}.toml'} as it is."
    yield from _preview(proposal)


def _preview(proposal: Proposal) -> Iterator[str]:
    """What a refresh would make of the table by this mapping."""
    if not proposal.mapping.record or proposal.missing:
        return
    yield f"  So read, {proposal.preview.loaded:,} of {count(proposal.rows, 'row')} would be in the figures."
    yield from (f"  Row {row} would be set aside: {why}" for row, why in proposal.preview.faults)
    yield from (f"  {note}" for note in proposal.preview.notes)


def _samples(samples: tuple[str, ...], why: str) -> str:
    told = " | ".join(_short(sample) for sample in samples)
    note = WHY.get(why)
    return f"({note}) {told}" if note else told


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= _WIDEST else flat[: _WIDEST - 1] + "…"


def _next(proposals: list[Proposal], shop: str, record: str) -> Iterator[str]:
    """The one command that settles it; a sheet each where several are open."""
    waiting = [proposal for proposal in proposals if not proposal.used]
    for proposal in waiting:
        named = proposal.mapping.record if proposal.torn else record
        said = f" --sheet {shlex.quote(proposal.sheet)}" if len(proposals) > 1 and proposal.sheet else ""
        said += f" --as {named}" if named else ""
        said += "".join(f" --set {name}=…" for name in proposal.missing)
        either = f" (or --as {proposal.torn})" if proposal.torn else ""
        yield f"To save it: kerfledger map {shop} {shlex.quote(proposal.file)}{said} --save{either}"


def refuse_unsettled(proposals: list[Proposal]) -> None:
    """Raises `UserError` for a proposal that can't be saved yet, with what to add to the command."""
    for found in (proposal for proposal in proposals if proposal.unsettled):
        wanted = found.missing[0] if found.missing else "FIELD"
        mend = f"Name the column, or a text for all rows: --set {wanted}=…"
        if found.torn:
            mend = f"Say which with --as {found.mapping.record} or --as {found.torn}."
        raise UserError(found.unsettled, found.file, mend)
