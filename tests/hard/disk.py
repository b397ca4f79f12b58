"""A disk that fails: each step of what is written (open, write, sync, rename, link, delete, folder) can be refused.

Patched are the functions of `os` and `io` that Python's own writing goes through, so that a step is counted and refused
wherever it comes from, a lock's too. What DuckDB writes goes another way: `full_disk` of `faults.py` fills a real one.
"""

import builtins
import errno
import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

REFUSALS = (errno.ENOSPC, errno.EIO, errno.EROFS)

ROOM = ("open", "write", "fsync", "mkdir", "link")
"""The steps that a full disk refuses: a rename, or a delete, needs no room."""


class Killed(BaseException):
    """The process is gone: nothing that runs on the way out can change the disk any more."""


@dataclass
class Disk:
    """Counts the steps below `root`, and refuses number `at`: with an `errno`, or by death where it has none.

    `stays`: all later steps of that kind are refused too, as by a disk that is full; after a death all are.
    """

    root: Path
    at: int
    number: int | None = None
    stays: bool = False
    steps: list[str] = field(default_factory=list)

    def step(self, kind: str, path: object = None) -> None:
        """Raises what the disk says to this step."""
        if path is not None and not self._mine(path):
            return
        self.steps.append(f"{kind} {Path(os.fsdecode(path)).name}" if isinstance(path, str | bytes | Path) else kind)
        taken = len(self.steps)
        if self.number is None:
            if taken >= self.at:
                raise Killed
            return
        if taken == self.at or (taken > self.at and self.stays and self._refuses(kind)):
            raise OSError(self.number, os.strerror(self.number), None if path is None else os.fsdecode(str(path)))

    def _refuses(self, kind: str) -> bool:
        return self.number != errno.ENOSPC or kind in ROOM

    def _mine(self, path: object) -> bool:
        if isinstance(path, int):
            return True
        return Path(os.fsdecode(path)).is_relative_to(self.root)  # type: ignore[arg-type]


class _Writing:
    """A file opened to be written: its writes are steps, of which a refused one is done by half."""

    def __init__(self, file: Any, disk: Disk, path: object) -> None:
        self._file, self._disk, self._path = file, disk, path

    def write(self, content: Any) -> int:
        try:
            self._disk.step("write", self._path)
        except (OSError, Killed):
            self._file.write(content[: len(content) // 2])
            self._file.flush()
            raise
        return int(self._file.write(content))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __enter__(self) -> "_Writing":
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def __iter__(self) -> Iterator[Any]:
        return iter(self._file)


@contextmanager
def failing(root: Path, at: int, number: int | None = None, stays: bool = False) -> Iterator[Disk]:
    """The disk of `root` refuses step `at` of what this process writes there."""
    disk = Disk(root, at, number, stays)

    def of(kind: str, real: Callable[..., Any], which: int = 0) -> Callable[..., Any]:
        def asked(*given: Any, **named: Any) -> Any:
            disk.step(kind, given[which])
            return real(*given, **named)

        return asked

    real_open, real_os_open = io.open, os.open

    def opened(file: Any, mode: str = "r", *given: Any, **named: Any) -> Any:
        if isinstance(file, int) or not set(mode) & set("wxa+") or not disk._mine(file):
            return real_open(file, mode, *given, **named)
        disk.step("open", file)
        return _Writing(real_open(file, mode, *given, **named), disk, file)

    def os_opened(path: Any, flags: int, *given: Any, **named: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            disk.step("open", path)
        return real_os_open(path, flags, *given, **named)

    names = {"replace": 1, "rename": 1, "link": 1, "mkdir": 0, "unlink": 0, "remove": 0, "rmdir": 0}
    patches = {name: of(name, getattr(os, name), which) for name, which in names.items()}
    patches |= {"fsync": of("fsync", os.fsync), "open": os_opened}
    with mock.patch.multiple(os, **patches), mock.patch.object(io, "open", opened):
        builtins_open, builtins.open = builtins.open, opened  # type: ignore[assignment]
        try:
            yield disk
        finally:
            builtins.open = builtins_open
