"""What `kerfledger map` shows: which column of a table may be which field, how sure that is, and what is open."""

import shlex
from collections.abc import Iterator
from typing import Any

from pipeline.proposing.proposal import WHY, Proposal, missing
from pipeline.reports.words import count, place, share

_WIDEST = 30


def data(proposals: list[Proposal]) -> list[dict[str, Any]]:
    """The proposals for JSON, one object a table."""
    return [
        {
            "file": proposal.file,
            "sheet": proposal.table.sheet,
            "rows": proposal.table.frame.height,
            "record": proposal.suggestion.record,
            "confidence": proposal.suggestion.confidence,
            "sure": proposal.suggestion.sure,
            "could_be": proposal.torn or None,
            "read_by": proposal.used.name if proposal.used else None,
            "columns": [
                {
                    "column": guess.column,
                    "header": guess.header,
                    "field": guess.field or None,
                    "confidence": guess.confidence,
                    "why": guess.why,
                    "samples": list(guess.samples),
                }
                for guess in proposal.suggestion.columns
            ],
            "questions": list(proposal.suggestion.questions),
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
    found = proposal.suggestion
    where = place(proposal.file, proposal.table.sheet, None)
    yield f"{where}: {count(proposal.table.frame.height, 'row')}, {found.record} ({share(found.confidence)} sure)"
    lines = [("column", "field", "sure", "such as")]
    for guess in found.columns:
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
    for question in found.questions:
        yield f"  Open: {question}"
    if proposal.used:
        by = {"canonical": "its own headers", "suggested": "this proposal"}.get(proposal.used.name)
        yield f"  A refresh reads it by {by or f'mappings/{proposal.used.name}.toml'} as it is."


def _samples(samples: tuple[str, ...], why: str) -> str:
    told = " | ".join(_short(sample) for sample in samples)
    note = WHY.get(why)
    return f"({note}) {told}" if note else told


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= _WIDEST else flat[: _WIDEST - 1] + "…"


def _next(proposals: list[Proposal], shop: str, record: str) -> Iterator[str]:
    """The one command that settles it."""
    if all(proposal.used for proposal in proposals):
        return
    torn = next((p for p in proposals if p.torn), None)
    named = torn.suggestion.record if torn else record
    said = f" --as {named}" if named else ""
    said += "".join(f" --set {name}=…" for name in missing(proposals[0]))
    either = f" (or --as {torn.torn})" if torn else ""
    yield f"To save it: kerfledger map {shop} {shlex.quote(proposals[0].file)}{said} --save{either}"
