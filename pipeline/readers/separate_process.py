"""Reading one file in a standing process of its own, within the file's limits: no file takes a command or a page along.

A refresh, which reads many, shares them out itself (`refresh/read_files.py`).
"""

import atexit
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TypeVar

from pipeline.errors import UserError
from pipeline.processes.workers import DiedError, TooMuchError, Workers
from pipeline.readers.limits import CLOSED, cant_open, limit
from pipeline.writing.internal_errors import AGAIN, one_file

Done = TypeVar("Done")


def apart(shop_folder: Path | None, path: Path, file: str, work: Callable[..., Done], *given: object) -> Done:
    """`work`, which reads the file at `path`, done elsewhere. What the maker is told of it names it `file`.

    `UserError` where it goes over its limits, ends the process that reads it, or is stumbled over.
    """
    try:
        size = path.stat().st_size if path.is_file() else 0
        return standing().within(limit(path, size), _told, shop_folder, file, work, *given).result()
    except (TooMuchError, DiedError) as error:
        raise UserError(too_far(error), file, AGAIN) from None
    except OSError as error:
        raise UserError(cant_open(error), file, CLOSED) from None


def too_far(error: TooMuchError | DiedError) -> str:
    """What is said of a file whose reading had to be ended, or ended the process that read it."""
    return str(error) or "It ends the program that reads it."


@cache
def standing() -> Workers:
    """One process for as long as this one lives. Ask for it before importing what is slow to load."""
    hands = Workers(1)
    atexit.register(hands.shutdown)
    return hands


def _told(shop_folder: Path | None, file: str, work: Callable[..., Done], *given: object) -> Done:
    """Over there, where what was raised still knows its place in our code."""
    with one_file(shop_folder, file):
        return work(*given)
