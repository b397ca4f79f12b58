"""What stands in a folder of the shop: its files, and what of it can't be looked into, with the reason."""

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.shop import is_a_programs_own

_MEND = "Make it readable for yourself: nothing of it is in the figures."


LAST_REFRESH = Path("database", ".read", "refreshed")
"""In a shop's folder, what its last refresh was made from and gave."""


@dataclass
class Contents:
    """The files of a folder and of those below it, in order of their path; and `(place, why)` of what is none, or is
    closed to us: what stands in there would be missing without a word."""

    files: list[Path] = field(default_factory=list)
    closed: list[tuple[Path, str]] = field(default_factory=list)


def contents(folder: Path) -> Contents:
    """All that a person put there. A name that starts so is a program's own: .DS_Store, .git/, ~$book.xlsx."""
    found = Contents()
    for path, why in _walked(folder):
        if why:
            found.closed.append((path, why))
        else:
            found.files.append(path)
    found.files.sort()
    found.closed.sort()
    return found


def changed_since(folder: Path, file: Path) -> bool:
    """Whether anything in a shop's folder looks newer than `file`, which stands in its `database/`, or that is gone.

    A guess by the times of files, good enough to choose how to begin, never what to do.
    """
    try:
        since = file.stat().st_mtime_ns
        for home, folders, names in os.walk(folder):
            if Path(home) == folder:
                folders.remove("database")
            if any(Path(home, name).stat().st_mtime_ns > since for name in (*folders, *names)):
                return True
    except (OSError, ValueError):
        return True
    return False


def _walked(folder: Path) -> Iterator[tuple[Path, str]]:
    refused: list[OSError] = []
    for home, folders, names in os.walk(folder, onerror=refused.append):
        folders[:] = [name for name in folders if not is_a_programs_own(Path(name))]
        for name in folders:
            if (path := Path(home, name)).is_symlink():
                yield path, "It is a link to a folder, and none is followed. Put the folder itself in its place."
        for name in names:
            if not is_a_programs_own(Path(name)):
                yield (path := Path(home, name)), why_closed(path)
    for error in refused:
        if not isinstance(error, FileNotFoundError):  # a folder that isn't there holds nothing
            yield Path(error.filename), f"This folder can't be opened: {error.strerror}. {_MEND}"


def why_closed(path: Path) -> str:
    """Why what stands there is no file to be read, and what to do; "" where it is one."""
    if any("\ud800" <= c <= "\udfff" for c in str(path)):
        return "Its name holds bytes that are no text. Give it another name."
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        # one that is gone since it was listed is told when it is read
        return "It is a link that leads nowhere. Put the file itself in its place." if path.is_symlink() else ""
    except OSError as error:
        return f"It can't be opened: {error.strerror}. {_MEND}"
    return "" if stat.S_ISREG(mode) else "It is no file that can be read. Take it out."
