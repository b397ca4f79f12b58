"""Work on one file of a page, done in a standing process of its own: no file takes the dashboard along."""

import atexit
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TypeVar

from pipeline.errors import UserError
from pipeline.processes.workers import DiedError, TooMuchError, Workers
from pipeline.readers.limits import limit
from pipeline.writing.logbook import note, place_of

Done = TypeVar("Done")

_MEND = "Take it out of the inbox, and save it again where it comes from, or as CSV."


def apart(shop_folder: Path, file: str, work: Callable[..., Done], *given: object) -> Done:
    """`work` within the limits of the file. `UserError` where it goes over them, or is stumbled over."""
    path = shop_folder / file
    size = path.stat().st_size if path.is_file() else 0
    try:
        return _standing().within(limit(path, size), work, *given).result()
    except UserError:
        raise
    except TooMuchError as error:
        raise UserError(str(error), file, _MEND) from None
    except DiedError:
        raise UserError("It ends the program that reads it.", file, _MEND) from None
    except Exception as error:
        note(shop_folder / "database", [f"{file}: {place_of(error)}"])
        raise UserError("The tool stumbles over it.", file, _MEND) from None


@cache
def _standing() -> Workers:
    """One process for as long as this one lives; begun when a page first asks."""
    hands = Workers(1)
    atexit.register(hands.shutdown)
    return hands
