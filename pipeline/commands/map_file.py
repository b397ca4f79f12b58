"""The mapping proposed for a file, shown and saved: which column is which field."""

import shlex
from argparse import Namespace

from pipeline.commands.shared import FINDINGS, FINE, printed
from pipeline.errors import UserError
from pipeline.proposing import proposal
from pipeline.readers.separate_process import apart
from pipeline.reports import mapped
from pipeline.shop import load


def map_file(arguments: Namespace) -> int:
    """Print the proposal for each table of a file, and save it where that is asked for."""
    shop = load(arguments.folder)
    wrong = next((text for text in arguments.settled if "=" not in text), None)
    if wrong is not None:
        raise UserError(f"--set {wrong} says nothing.", "", "Write --set channel=market.")
    answers = dict(text.split("=", 1) for text in arguments.settled)
    file = proposal.place(shop, arguments.file)
    asked = (shop, arguments.file, arguments.record or "", answers, arguments.sheet)
    proposals = apart(shop.folder, file, proposal.named(shop, file), proposal.propose, *asked)
    wanted = proposal.without_notes(proposals) if arguments.save else []
    mapped.refuse_unsettled(wanted)
    saved = proposal.save_new(shop, wanted)
    named = shlex.quote(str(arguments.folder))
    text = [
        *mapped.text(proposals, named, arguments.record or "", bool(saved)),
        *(f"Saved {path}: look it through, then refresh." for path in saved),
    ]
    printed(mapped.data(proposals), text, arguments.json)
    return FINE if saved or all(p.used for p in proposals) else FINDINGS
