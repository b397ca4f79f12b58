"""The whole shop in one file, and a shop made of such a file again: settings, inbox, log, mends, quotes, reports.

The database is not in it: it follows from the files. What only this computer may know (the paired phones) is not
either. An archive comes from outside, and nothing in it is trusted: names, sizes, and what kind of thing each is.
"""

import os
import re
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path, PurePosixPath
from typing import IO

from pipeline.errors import UserError, call
from pipeline.shop import load
from pipeline.writing import whole
from pipeline.writing.file_names import NOT_EVERYWHERE

LEFT_OUT = ("database", ".shop-floor")
"""What is no part of it: made again by a refresh, or a secret of this computer."""

SETTINGS = "shop.toml"
USUAL = (0, stat.S_IFREG, stat.S_IFDIR)

MOST_FILES, MOST_BYTES = 200_000, 50 * 2**30
"""Files and bytes that an archive may unpack to."""

MOST_TO_ONE, ALWAYS_TAKEN = 200, 100 * 2**20
"""Bytes to each of the archive's own that it may unpack to, beyond so many: a shop's files have some ten."""

_PIECE = 2**20
_DRIVE = re.compile(r"[A-Za-z]:([\\/]|$)")


def named(folder: Path, on: date) -> str:
    """What the backup of a shop is called: `my-shop 2026-11-30.zip`."""
    plain = "".join(c if c.isalnum() or c in "-_ " else "_" for c in folder.resolve().name).strip() or "shop"
    return f"{plain} {on}.zip"


def back_up(folder: Path, to: Path) -> int:
    """Put all files of the shop into a new archive; gives how many. Raises `UserError` where `to` is there already,
    or stands in the shop itself."""
    load(folder)
    if to.resolve().is_relative_to(folder.resolve()):
        mend = "Name a place outside of the shop's folder, best on another disk."
        raise UserError("A backup within the shop would go along with it.", str(to), mend)
    if to.exists():
        raise UserError("This file is there already; it stays as it is.", str(to), "Name a new one.")
    with whole.filled(to) as file:
        return pack(folder, file)


def pack(folder: Path, file: IO[bytes]) -> int:
    """Write the archive of the shop into an open file; gives how many files are in it."""
    number = 0
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as archive:
        for path, name in _files(folder):
            try:
                archive.write(path, name)
                number += 1
            except FileNotFoundError:  # it is gone since it was listed
                continue
            except OSError as error:
                why = error.strerror or type(error).__name__
                raise UserError(
                    f"This file can't be read: {why}.", str(path), "Make it readable, or move it."
                ) from error
    return number


def size(folder: Path) -> int:
    """The bytes of all files that a backup would hold."""
    total = 0
    for path, _ in _files(folder):
        with suppress(FileNotFoundError):  # it is gone since it was listed
            total += path.stat().st_size
    return total


def _files(folder: Path) -> Iterator[tuple[Path, str]]:
    def refused(error: OSError) -> None:
        mend = "Make it readable for yourself: a backup without it would not be whole."
        raise UserError(f"This folder can't be opened: {error.strerror}.", str(error.filename), mend) from error

    for home, folders, names in os.walk(folder, onerror=refused):
        if Path(home) == folder:
            folders[:] = [name for name in folders if name not in LEFT_OUT]
        folders[:] = sorted(name for name in folders if not Path(home, name).is_symlink())
        for name in sorted(names):
            path = Path(home, name)
            own = path.relative_to(folder).as_posix()
            if path.is_file() and _is_own(path, folder) and not whole.BEING_WRITTEN.fullmatch(name):
                if any("\ud800" <= c <= "\udfff" for c in own):
                    raise UserError("A file's name holds bytes that are no text.", ascii(own), "Give it another name.")
                yield path, own


def _is_own(path: Path, folder: Path) -> bool:
    """Whether it is no link that leads out of the shop, or to what is no part of a backup."""
    if not path.is_symlink():
        return True
    there, home = path.resolve(), folder.resolve()
    return there.is_relative_to(home) and there.relative_to(home).parts[0] not in LEFT_OUT


def restore(archive: Path, to: Path) -> int:
    """Make a shop of an archive, in a folder that is new or empty; gives how many files. Raises `UserError`, and leaves
    nothing behind, where anything of it is not as a backup is."""
    try:
        file = archive.open("rb")
    except OSError as error:
        what = f"There is no such file: {error.strerror or type(error).__name__}."
        raise UserError(what, str(archive), "Name the archive that `backup` wrote.") from error
    with file:
        return unpack(file, str(archive), to)


def unpack(file: IO[bytes], archive: str, to: Path) -> int:
    """As `restore`, of an open file that is called `archive`."""
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise UserError("Something is there already; it stays as it is.", str(to), "Name a new folder.")
    try:
        size = file.seek(0, os.SEEK_END)
        with zipfile.ZipFile(file) as opened:
            wanted = list(_wanted(opened.infolist(), archive, size))
            _room(sum(info.file_size for info, _ in wanted), to, archive)
            # a restore that was cut off is no shop: its settings, which make it one, come last
            wanted.sort(key=lambda each: each[1] == Path(SETTINGS))
            with whole.all_of(to.resolve()):
                for info, name in wanted:
                    _unpack(opened, info, to / name, archive)
    except (OSError, zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise UserError("This is no backup that can be read.", archive, "Take another copy of it.") from error
    return len(wanted)


def beside(folder: Path, name: str) -> Path:
    """A folder that is not there yet, beside that of a shop, for the backup of this file name."""
    plain = "".join(c if c.isalnum() or c in "-_() " else "_" for c in PurePosixPath(name).stem).strip(" -")[:100]
    home = folder.resolve().parent
    numbers = ("", *(f" ({number})" for number in range(2, 1000)))
    found = next((to for each in numbers if not os.path.lexists(to := home / f"{plain or 'shop'}{each}")), None)
    if not found:
        raise UserError("Too many folders have this name.", str(home), "Give the file another name.")
    return found


def _wanted(infos: Iterable[zipfile.ZipInfo], archive: str, packed: int) -> Iterator[tuple[zipfile.ZipInfo, Path]]:
    """The files of an archive of so many bytes, with their place in the shop. Raises `UserError` for what no backup has
    in it."""
    most = min(MOST_BYTES, MOST_TO_ONE * packed + ALWAYS_TAKEN)
    seen: set[str] = set()
    size = 0
    for number, info in enumerate(infos, 1):
        name = info.orig_filename
        size += info.file_size
        wrong = (
            (number > MOST_FILES, "too many files"),
            (_leads_elsewhere(name), "a name that leads elsewhere"),
            (stat.S_IFMT(info.external_attr >> 16) not in USUAL, "what is neither a file nor a folder"),
            (bool(info.flag_bits & 1), "a file that is locked by a password"),
            (size > most, "more than so small a file can"),
            (name in seen, "two files of one name"),
        )
        if what := next((what for is_so, what in wrong if is_so), ""):
            raise _refused(what, info, archive)
        seen.add(name)
        place = PurePosixPath(name)
        if not info.is_dir() and place.parts[0] not in LEFT_OUT:
            yield info, Path(*place.parts)
    if SETTINGS not in seen:
        raise UserError(f"This archive holds no {SETTINGS}.", archive, "Name an archive that `backup` wrote.")


def _refused(what: str, info: zipfile.ZipInfo, archive: str) -> UserError:
    name = ascii(info.orig_filename)[:80]
    return UserError(f"This is no backup of a shop: it holds {what}.", f"{archive}, {name}", "Nothing was unpacked.")


def _leads_elsewhere(name: str) -> bool:
    """Whether a name is none of a file below a folder."""
    parts = name.removesuffix("/").split("/")
    if "\0" in name or _DRIVE.match(name) or any(part in ("", ".", "..") for part in parts):
        return True
    if os.name == "nt":
        return any(NOT_EVERYWHERE.search(part) for part in parts)
    return any(part in ("", "..") for part in name.split("\\"))  # as another system would take it


def _room(size: int, to: Path, archive: str) -> None:
    home = next(place for place in (to.absolute(), *to.absolute().parents) if place.is_dir())
    free = shutil.disk_usage(home).free
    if size > free:
        what = f"It unpacks to {size // 2**20:,} MB, and the disk has {free // 2**20:,} MB left."
        raise UserError(what, archive, "Make room, or name a folder on another disk.")


def _unpack(opened: zipfile.ZipFile, info: zipfile.ZipInfo, path: Path, archive: str) -> None:
    whole.make_folder(path.parent)
    left = info.file_size
    with opened.open(info) as packed, whole.filled(path) as file:
        while piece := packed.read(_PIECE):
            left -= len(piece)
            if left < 0:
                raise _refused("a file larger than it says", info, archive)
            file.write(piece)
    if left:
        raise _refused("a file shorter than it says", info, archive)


def next_step(folder: Path) -> str:
    """What to do with a shop that was restored."""
    return f"Its figures are worked out anew by: {call('refresh', folder)}"
