"""The log of the refreshes, `database/refresh.log`: what went wrong within the tool, without any text of a cell.

Where there is no shop to hold it, it stands in the user's own folder. Nobody but the user reads it.
"""

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from traceback import walk_tb
from typing import TextIO

from pipeline.errors import UserError

LOG = "refresh.log"
AGAIN = "Save it again where it comes from, or as CSV."
"""What to do about a file that the tool gives up on."""

_ROOT = Path(__file__).parents[2]
_OURS = tuple(_ROOT / floor for floor in ("pipeline", "dashboard"))


def note(home: Path, lines: Iterable[str]) -> None:
    """Add lines to the log in the folder `home`, each with the time."""
    text = "".join(f"{datetime.now():%Y-%m-%d %H:%M:%S} {' '.join(line.split())}\n" for line in lines)
    if not text:
        return
    with suppress(OSError), own_file(home / LOG) as file:
        file.write(text)


def own_file(path: Path) -> TextIO:
    """A file to add to, that is a file of its own and nobody else's to read, whoever could before."""
    flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
    handle = os.open(path, flags, 0o600)
    try:
        if hasattr(os, "fchmod"):
            os.fchmod(handle, 0o600)
        return os.fdopen(handle, "a", encoding="utf-8", errors="backslashreplace")
    except BaseException:
        os.close(handle)
        raise


def keep(folder: Path | None, error: BaseException) -> Path | None:
    """Note a fault of the tool: in the shop's log, else in the user's own. Gives the log, None where none can be."""
    for home in _homes(folder):
        with suppress(OSError), own_file(home / LOG) as file:
            file.write("".join(f"{datetime.now():%Y-%m-%d %H:%M:%S} {line}\n" for line in trail(error)))
            return home / LOG
    return None


@contextmanager
def one_file(folder: Path | None, file: str) -> Iterator[None]:
    """Whatever is raised over one file, but for a `UserError`, is noted as a fault and told as that file's sentence."""
    try:
        yield
    except UserError:
        raise
    except BaseException as error:
        if ends_us(error):
            raise
        log = keep(folder, error)
        mend = AGAIN + (f" The details are in {log}." if log else "")
        raise UserError("The tool stumbles over this file.", file, mend) from None


def trail(error: BaseException) -> Iterator[str]:
    """The kind of an exception, each place in our own code that it came through, and what it came from. No text."""
    seen: set[int] = set()
    at: BaseException | None = error
    why = ""
    while at is not None and id(at) not in seen:
        seen.add(id(at))
        yield f"{why}{type(at).__name__}"
        yield from (f"  at {place}" for place in _places(at))
        at, why = at.__cause__ or (None if at.__suppress_context__ else at.__context__), "because of "


def _homes(folder: Path | None) -> Iterator[Path]:
    """Folders for the log, the best first; each is there when it is given."""
    if folder and (folder / "database").is_dir():
        yield folder / "database"
    with suppress(OSError, RuntimeError):  # a user may have no folder
        if (own := user_folder()).is_absolute():
            own.mkdir(mode=0o700, parents=True, exist_ok=True)
            yield own
    with suppress(OSError):
        yield Path(tempfile.mkdtemp(prefix="kerfledger-"))  # a new one, closed to others: its name can't be foreseen


def user_folder() -> Path:
    """Where programs of this user keep what they note of themselves (XDG Base Directory Specification: the state)."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local", "kerfledger")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Logs" / "kerfledger"
    told = Path(os.environ.get("XDG_STATE_HOME", ""))  # by the specification one that isn't absolute is passed over
    return (told if told.is_absolute() else Path.home() / ".local" / "state") / "kerfledger"


def place_of(error: BaseException) -> str:
    """The kind of an exception and the innermost place in our own code that it came through. Never its message, which
    may repeat what stands in a cell."""
    places = _places(error)
    return type(error).__name__ + (f" at {places[-1]}" if places else "")


def _places(error: BaseException) -> list[str]:
    """The places in our own code that an exception came through, the innermost last."""
    each = ((Path(frame.f_code.co_filename), line) for frame, line in walk_tb(error.__traceback__))
    return [
        f"{path.relative_to(_ROOT).as_posix()}:{line}"
        for path, line in each
        if any(path.is_relative_to(floor) for floor in _OURS)
    ]


def ends_us(error: BaseException) -> bool:
    """Whether an exception is a wish to end, and none of a library's: some of those are no `Exception` either."""
    return isinstance(error, (KeyboardInterrupt, SystemExit, GeneratorExit))
