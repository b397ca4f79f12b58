"""The log of the refreshes, `database/refresh.log`: what went wrong within the tool, without any text of a cell."""

from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from traceback import walk_tb

LOG = "refresh.log"
_OURS = Path(__file__).parent


def note(home: Path, lines: Iterable[str]) -> None:
    """Add lines to the log in the folder `home`, each with the time."""
    text = "".join(f"{datetime.now():%Y-%m-%d %H:%M:%S} {' '.join(line.split())}\n" for line in lines)
    if not text:
        return
    with suppress(OSError), (home / LOG).open("a", encoding="utf-8", errors="backslashreplace") as file:
        file.write(text)


def place_of(error: BaseException) -> str:
    """The kind of an exception and the innermost place in our own code that it came through. Never its message, which
    may repeat what stands in a cell."""
    place = ""
    for frame, line in walk_tb(error.__traceback__):
        path = Path(frame.f_code.co_filename)
        if path.is_relative_to(_OURS):
            place = f" at {path.relative_to(_OURS.parent).as_posix()}:{line}"
    return type(error).__name__ + place


def ends_us(error: BaseException) -> bool:
    """Whether an exception is a wish to end, and none of a library's: some of those are no `Exception` either."""
    return isinstance(error, (KeyboardInterrupt, SystemExit, GeneratorExit))
