"""What a paired phone may do: write an entry and start, stop or throw away a timer, each once by its id. Nothing else.

The entries go the same way into the log as those of the dashboard (`daylog.py`). No refresh is begun here: whoever
serves the phones knows of no database. That something was written, and when, is left as a mark.
"""

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from pipeline import mapping
from pipeline.errors import UserError
from pipeline.pages import daylog, devices
from pipeline.pages.daylog import WrittenBeforeError as WrittenBeforeError  # what the server catches
from pipeline.shop import Shop, load

_MARK = "written"


class UnreadableError(UserError):
    """The shop can't be read just now. It says no more: what is wrong there may repeat a setting, such as a rate."""

    def __init__(self) -> None:
        super().__init__("The shop can't be read just now.", mend="See at the computer what is wrong.")


def refuse_twice(folder: Path, given: str) -> None:
    """Raises `WrittenBeforeError` where something of this id was written."""
    try:
        daylog.refuse_twice(daylog.state(_shop(folder)), given)
    except WrittenBeforeError:
        _mark(folder)  # who sends it again was not answered: it may have failed at just this
        raise


def enter(folder: Path, record: str, cells: Mapping[str, str], entry_id: str) -> Any:
    """Write a record. `UserError`, and nothing written, for what can't be read."""
    entry = daylog.add(_shop(folder), record, cells, entry_id)
    _mark(folder)
    return entry


def start(folder: Path, cells: Mapping[str, str], timer_id: str, ago_s: float) -> Any:
    """Let a timer run, since so many seconds ago."""
    return daylog.start(_shop(folder), cells, timer_id, ago_s)


def stop(folder: Path, timer: str, entry_id: str, ago_s: float) -> Any:
    """End a timer as of so many seconds ago, and write its hours."""
    entry = daylog.stop(_shop(folder), timer, None, entry_id, ago_s)
    _mark(folder)
    return entry


def drop(folder: Path, timer: str, wish_id: str) -> None:
    """Throw a timer away."""
    daylog.drop(_shop(folder), timer, wish_id)


def files_of_words(folder: Path) -> tuple[Path, ...]:
    """The files that say which words there are, beside what was published: the settings, and what was logged."""
    return folder / "shop.toml", folder / daylog.FOLDER / daylog.STATE


def written(folder: Path) -> int:
    """When something was last written from the shop floor, as a number that grows; 0 for never."""
    try:
        return (folder / devices.FOLDER / _MARK).stat().st_mtime_ns
    except OSError:
        return 0


def _shop(folder: Path) -> Shop:
    try:
        shop = load(folder)
        mapping.load(shop.path("mappings"))  # it is asked how the log's files are read
    except UserError:
        raise UnreadableError from None
    return shop


def _mark(folder: Path) -> None:
    with suppress(OSError, UserError):  # it is written; a later mark, or the next start, brings it into the figures
        (devices.home_of(folder) / _MARK).touch(mode=0o600)
