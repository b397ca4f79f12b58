"""What files held, kept in `database/.read`, so that a refresh reads again only what has changed.

A file's key is a hash of its bytes, its name and all that its reading is given (mappings, settings, mends) beside the
version of the tool. What is kept may be deleted at any time. It is read as data alone: a folder that somebody sends
along may hold a `.read` of its own.
"""

import io
import json
import os
import re
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import fields, is_dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.database import digests
from pipeline.errors import UserError
from pipeline.shop.contents import LAST_REFRESH
from pipeline.writing import whole
from pipeline.writing.internal_errors import ends_us

FOLDER = LAST_REFRESH.parent.name

_KEY = re.compile(r"[0-9a-f]{40}")

_frames: dict[bytes, pl.DataFrame] = {}
_used: dict[bytes, pl.DataFrame] = {}
"""Frames by a hash of what was written: those of the refresh before, and of this one."""

REMEMBERED = 1_000_000
"""Bytes of a frame above which a process that waits doesn't hold it."""

LARGEST = 200_000_000
"""Bytes of a file above which nothing is kept of it: to hash it would take as long as much of the refresh."""


def key(path: Path, *given: object) -> str:
    """The key of a file that is read with all of this; "" where nothing is to be kept of it."""
    try:
        if path.stat().st_size > LARGEST:
            return ""
        hashed = blake2b(path.read_bytes(), digest_size=20)
    except OSError:  # told when it is read
        return ""
    # a calendar without a zone is read by the machine's
    for part in (digests.version(), path.name, os.environ.get("TZ"), time.tzname, *given):
        hashed.update(f"\0{part!r}".encode("utf-8", "backslashreplace"))
    return hashed.hexdigest()


def keep(home: Path, name: str, value: object, kinds: Iterable[type]) -> None:
    """Keep a value under a key: dataclasses of these `kinds`, frames, lists, tuples, dicts, texts, numbers.

    One of anything else is not kept, nor is any where the disk refuses.
    """
    blobs: list[bytes] = []
    try:
        said = json.dumps(_said(value, {kind.__name__: kind for kind in kinds}, blobs))
    except TypeError:
        return
    body = b"".join([said.encode("utf-8", "surrogatepass"), *blobs])
    sizes = [len(body) - sum(map(len, blobs)), *map(len, blobs)]
    head = json.dumps([blake2b(body, digest_size=20).hexdigest(), sizes]).encode()
    folder = _own(home)
    if folder:
        with suppress(UserError):
            whole.write_passing(whole.make_folder(folder) / name, head + b"\n" + body)


def value_of(home: Path, name: str, kinds: Iterable[type]) -> Any:
    """The value kept under a key; None where there is none, or it is damaged."""
    folder = _own(home)
    if not folder:
        return None
    try:
        head, _, body = (folder / name).read_bytes().partition(b"\n")
        told, sizes = json.loads(head)
        if told != blake2b(body, digest_size=20).hexdigest():
            return None
        parts, begin = [], 0
        for size in sizes:
            parts.append(body[begin : begin + size])
            begin += size
        said = json.loads(parts[0].decode("utf-8", "surrogatepass"))
        return _value(said, {kind.__name__: kind for kind in kinds}, [_frame(blob) for blob in parts[1:]])
    except FileNotFoundError:
        return None
    except BaseException as error:  # whatever stands there, the file itself is read instead
        if ends_us(error):
            raise
        return None


def sweep(home: Path, names: Iterable[str]) -> None:
    """Delete all that is kept but under these keys. It ends a reading: frames that it had no use for are let go."""
    _frames.clear()
    _frames.update(_used)
    _used.clear()
    wanted, folder = set(names), _own(home)
    with suppress(OSError):
        for path in folder.iterdir() if folder else ():
            if path.name not in wanted and (_KEY.fullmatch(path.name) or path.name == LAST_REFRESH.name):
                path.unlink(missing_ok=True)


def _own(home: Path) -> Path | None:
    """The folder of what is kept; None where a link stands there: what it leads to is not ours to read or delete."""
    folder = home / FOLDER
    return None if folder.is_symlink() else folder


def _said(value: object, kinds: dict[str, type], blobs: list[bytes]) -> Any:
    """A value in what JSON has: each that JSON has not is a list whose first part says what it is."""
    if value is None or isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, pl.DataFrame):
        written = io.BytesIO()
        value.write_parquet(written, compression="lz4", statistics=False)
        blobs.append(written.getvalue())
        return ["frame", len(blobs) - 1]
    if isinstance(value, list | tuple):
        return [type(value).__name__, [_said(each, kinds, blobs) for each in value]]
    if isinstance(value, dict):
        pairs = [[_said(name, kinds, blobs), _said(each, kinds, blobs)] for name, each in value.items()]
        return ["dict", pairs]
    kind = type(value).__name__
    if kinds.get(kind) is not type(value) or not is_dataclass(value):
        raise TypeError(kind)
    return [kind, [_said(getattr(value, field.name), kinds, blobs) for field in fields(value)]]


def _frame(written: bytes) -> pl.DataFrame:
    """A frame as it was written. What a process has read before, it has: most refreshes of a process that waits for
    the next are of the same frames, and those without rows are mostly alike."""
    if len(written) > REMEMBERED:
        return pl.read_parquet(io.BytesIO(written))
    name = blake2b(written, digest_size=20).digest()
    if name not in _used:
        known = _frames.get(name)
        _used[name] = pl.read_parquet(io.BytesIO(written)) if known is None else known
    return _used[name]


def _value(said: Any, kinds: dict[str, type], frames: list[pl.DataFrame]) -> Any:
    if not isinstance(said, list):
        return said
    what, inner = said
    if what == "frame":
        return frames[inner]
    parts = [_value(each, kinds, frames) for each in inner] if what != "dict" else inner
    if what == "list":
        return parts
    if what == "tuple":
        return tuple(parts)
    if what == "dict":
        return {_value(name, kinds, frames): _value(each, kinds, frames) for name, each in inner}
    return kinds[what](*parts)
