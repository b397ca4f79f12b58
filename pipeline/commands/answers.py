"""The questions of a shop on the command line: shown, or answered by number, several at once."""

import shlex
import sys
from collections.abc import Sequence
from pathlib import Path

from pipeline.asking.answer import answer
from pipeline.commands.shared import FINDINGS, FINE, WRONG_CALL, money_digits, open_database, printed, refreshed
from pipeline.errors import UserError
from pipeline.reports import questions as report
from pipeline.writing import whole


def show(folder: Path, as_json: bool) -> int:
    """Print what is open, most money first."""
    with open_database(folder) as con:
        asked = report.questions(con)
    printed(asked, report.text(asked, money_digits(folder), shlex.quote(str(folder))), as_json)
    return FINDINGS if asked else FINE


def take(folder: Path, answers: Sequence[tuple[str, int | str]], as_json: bool) -> int:
    """Take each answer for itself, as one that is refused takes nothing from the others, and refresh by those taken."""
    taken = 0
    for name, choice in answers:
        try:
            with whole.refused():
                told = answer(folder, name, choice)
        except UserError as error:
            print(f"Not taken: {name}={choice}.\n{error}", file=sys.stderr)
            continue
        taken += 1
        said = ", ".join(str(path) for path in told.paths)
        # at once: whatever happens to the next one, this one is taken
        print(f"{told.ask} {told.label}.\n  It stands in {said}.", file=sys.stderr if as_json else sys.stdout)
    code = refreshed(folder, as_json) if taken else WRONG_CALL
    return code if taken == len(answers) else WRONG_CALL
