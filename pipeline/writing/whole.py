"""Write a file whole or not at all: under a name that nobody reads, onto the disk, then in place in one step.

Whatever the disk or the folder refuses (no room, read-only, gone, a folder where the file should be) is a `UserError`
that says what, where and what to do; what stood there before then stays as it was.
"""

import errno
import os
import re
import shutil
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from pipeline.errors import UserError

_ROOM, _OWN = "Make room on the disk", "Make the folder writable for yourself"
_FILE_THERE = "A file stands where a folder should be: take it away"
_FOLDER_THERE = "A folder stands where the file should be: take it away"
_MENDS = {
    errno.ENOSPC: _ROOM,
    errno.EDQUOT: _ROOM,
    errno.EROFS: "The disk is read-only: make it writable, or copy the folder to another one",
    errno.EACCES: _OWN,
    errno.EPERM: _OWN,
    errno.EIO: "The disk fails: copy your files to another one",
    errno.ENOENT: "The folder is gone: put it back",
    errno.ENOTDIR: _FILE_THERE,
    errno.EEXIST: _FILE_THERE,
    errno.EISDIR: _FOLDER_THERE,
    errno.ENOTEMPTY: _FOLDER_THERE,
    errno.ENAMETOOLONG: "Give it a shorter name",
}

KNOWN = tuple(_MENDS)
"""The refusals of a disk, as `errno` numbers, that have a mend of their own."""

UNCONFIRMED = "It is done, but the disk doesn't say that it is safe"
"""How a refusal begins that comes when all is in place already: only a power cut could still take it back."""

_OF_THE_DISK = {errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO}

_NO_LINKS = {errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS}
"""How a disk says that it has no hard links, as those of cameras and memory sticks."""

_NO_SYNC = {errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM, errno.EBADF}
"""How a system says that it syncs no folders, or lets this user write into one that he can't list."""

BEING_WRITTEN = re.compile(r"\.[0-9a-f]{32}\.part")
"""The name of a file that is not whole yet."""

_STALE_S = 3600
"""A file that for so long nobody has gone on with is of a process that was killed: the largest takes some minutes."""


def write(path: Path, content: str | bytes, private: bool = False) -> Path:
    """Put this text (as UTF-8, its line ends as they are) or these bytes in place. Gives the path.

    `private`: nobody but its owner can read it, from the first moment on.
    """
    with refusals_told(path), _part_of(path, content, private=private) as part:
        if not private:
            with suppress(OSError):  # who could not read what stood there can't read what takes its place
                shutil.copymode(path, part)
        os.replace(part, path)  # noqa: PTH105 (the one place that does it)
        _confirm(path)
    return path


def write_ahead(path: Path, content: str | bytes, private: bool = False) -> None:
    """As `write`, of what must be on the disk before that which counts: whatever is refused, nothing counts yet."""
    with refusals_told(path), _part_of(path, content, private=private) as part:
        os.replace(part, path)  # noqa: PTH105
        sync(path.parent)


def write_passing(path: Path, content: bytes) -> None:
    """As `write`, but without waiting for the disk: for what can be made again, and tells by itself if it is torn."""
    with refusals_told(path), _part_of(path, content, synced=False) as part:
        os.replace(part, path)  # noqa: PTH105


def write_new(path: Path, content: str | bytes) -> bool:
    """As `write`, but never over a file that is there: False, and nothing written, where one is."""
    with refusals_told(path), _part_of(path, content) as part:
        if not _in_a_new_place(part, path):
            return False
        _confirm(path)
    return True


def _in_a_new_place(part: Path, path: Path) -> bool:
    try:
        os.link(part, path)  # unlike a rename, this fails where a file stands already
    except FileExistsError:
        return False
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        return _into_a_held_name(part, path)
    return True


@contextmanager
def filled(path: Path) -> Iterator[IO[bytes]]:
    """A file to be filled bit by bit, which is in place when the block is done, never over one that is there."""
    part = _passing(path)
    with refusals_told(path):
        try:
            with part.open("xb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            if not _in_a_new_place(part, path):
                raise UserError("This file is there already; it stays as it is.", str(path), "Name a new one.")
            _confirm(path)
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)


def keep_beside(path: Path, to: Path) -> None:
    """Let `to` be what `path` is now, in the place of what it was before; `path` stays where it is at every moment."""
    with refusals_told(to):
        passing = _passing(to)
        try:
            second_name(path, passing)
            os.replace(passing, to)  # noqa: PTH105
        finally:
            with suppress(OSError):
                passing.unlink(missing_ok=True)  # it is there still where both are names of one file already
        sync(to.parent)


def second_name(path: Path, to: Path) -> None:
    """Another name for a file that nobody writes into in place; a copy, where the disk has no second names."""
    try:
        os.link(path.resolve(), to)
    except FileNotFoundError:
        raise
    except OSError:
        shutil.copy2(path, to)


def sweep(folder: Path) -> None:
    """Take away what killed processes left half written in a folder and those in it: by its name ours, and stale."""
    for home, _, names in os.walk(folder):
        for name in filter(BEING_WRITTEN.fullmatch, names):
            with suppress(OSError):  # it is tried again the next time
                part = Path(home, name)
                if time.time() - part.stat().st_mtime > _STALE_S:
                    part.unlink()


def make_folder(path: Path) -> Path:
    """Make a folder, with those above it, where there is none. Gives the path."""
    with refusals_told(path):
        path.mkdir(parents=True, exist_ok=True)
    return path


@contextmanager
def all_of(folder: Path) -> Iterator[None]:
    """Make a new folder, or take an empty one, with all that is put into it; of half of it nothing is left."""
    make_folder(folder)
    try:
        with refusals_told(folder):
            yield
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def rename(path: Path, to: Path) -> None:
    """Give a file another name in one step; a file that had that name is gone."""
    with refusals_told(to):
        os.replace(path, to)  # noqa: PTH105
        _confirm(to)


def take_away(path: Path) -> None:
    """Delete a file."""
    with refusals_told(path):
        path.unlink()
        _confirm(path)


@contextmanager
def refusals_told(path: Path) -> Iterator[None]:
    """What the disk refuses while `path` is written, as a `UserError`."""
    try:
        yield
    except OSError as error:
        raise unwritten(path, error) from error


@contextmanager
def refused() -> Iterator[None]:
    """What can only be the disk's or a folder's refusal, wherever it was met, as a `UserError`."""
    try:
        yield
    except OSError as error:
        if error.errno not in _OF_THE_DISK:
            raise
        raise unwritten(Path(str(error.filename or ".")), error) from error


def unwritten(path: Path, error: OSError) -> UserError:
    """What to say where a file or a folder could not be written."""
    number = error.errno or 0
    mend = _MENDS.get(number, "Make room on the disk, or make the folder writable")
    what = os.strerror(number) if number else str(error)
    return UserError(f"It could not be written: {what}.", str(path), f"{mend}, then try again. Nothing was lost.")


def _confirm(path: Path) -> None:
    """Have the name of what was just put in place, or taken away, on the disk. What is done can't be told as not done:
    whoever does it again would have it twice."""
    try:
        sync(path.parent)
    except OSError as error:
        what = f"{UNCONFIRMED}: {os.strerror(error.errno or errno.EIO)}."
        mend = f"{_MENDS.get(error.errno or 0, _MENDS[errno.EIO])}. Look whether it is there before you do it again."
        raise UserError(what, str(path), mend) from error


def sync(path: Path) -> None:
    """Have a file, or a folder's list of names, on the disk before going on."""
    folder = path.is_dir()
    if os.name == "nt" and folder:
        return  # Windows can't open a folder
    try:
        # Windows wants a handle that can write
        handle = os.open(path, os.O_RDONLY if folder else os.O_RDWR)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        if not folder or error.errno not in _NO_SYNC:
            raise


def _passing(path: Path) -> Path:
    """A name beside a file's; a short one, since that may be the longest that can be."""
    return path.with_name(f".{uuid.uuid4().hex}.part")


@contextmanager
def _part_of(path: Path, content: str | bytes, synced: bool = True, private: bool = False) -> Iterator[Path]:
    """The content on the disk under a passing name."""
    part = _passing(path)
    try:
        if private:
            os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        with part.open("wb" if private else "xb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            if synced:
                file.flush()
                os.fsync(file.fileno())
        yield part
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _into_a_held_name(part: Path, path: Path) -> bool:
    try:
        path.touch(exist_ok=False)
    except FileExistsError:
        return False
    try:
        os.replace(part, path)  # noqa: PTH105
    except OSError:
        with suppress(OSError):
            path.unlink()
        raise
    sync(path.parent)
    return True
