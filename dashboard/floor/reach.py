"""What the shop floor's process can reach: the log, the settings it needs, its own folder. Nothing else of the shop.

A second wall behind `app.py`: were a way found to make this process open another file, call somebody, or run a
program, Python itself would refuse. Nothing that is set anywhere widens it.
"""

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import dashboard
import pipeline.pages
from pipeline.pages import devices

LOG, MAPPINGS, SETTINGS = "log", "mappings", "shop.toml"
NEVER_LOADED = ("duckdb", "streamlit", "dashboard.data", "dashboard.read", "pipeline.database")

_LISTING = ("os.listdir", "os.scandir")
_CHANGES = ("os.remove", "os.rename", "os.rmdir", "os.mkdir", "os.link", "os.symlink", "os.truncate", "os.chmod")
_NEVER = (
    *("subprocess.Popen", "os.system", "os.exec", "os.spawn", "os.posix_spawn", "os.fork", "os.forkpty"),
    *("os.startfile", "socket.connect", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo", "shutil.rmtree"),
    *("socket.bind", "pty.spawn", "webbrowser.open", "sqlite3.connect"),
)
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def keep_within(shop: Path) -> None:
    """Let this process reach no more than this from now on, for as long as it lives."""
    root = Path(os.path.realpath(shop))
    own = tuple(os.path.realpath(root / name) for name in (LOG, devices.FOLDER))
    ours = (Path(package.__file__ or "").parent for package in (dashboard, pipeline))
    places = (root / MAPPINGS, root / SETTINGS, Path(sys.prefix), Path(sys.base_prefix), *ours)
    read = (*own, *(os.path.realpath(each) for each in places))

    def listen(event: str, args: tuple[Any, ...]) -> None:
        if event in _NEVER:
            raise PermissionError("the shop floor's server does no such thing")
        if event == "import" and _is_of(str(args[0]), NEVER_LOADED):
            raise ImportError("the shop floor's server knows of no database")
        if event == "open":
            _may_open(args, str(root), own, read)
        elif event in _LISTING and _lies_in(args[0], (str(root),)) and not _lies_in(args[0], read):
            raise PermissionError("this is no part of the log")
        elif event in _CHANGES:
            paths = [each for each in args[:2] if isinstance(each, str | bytes | os.PathLike)]
            if not all(_lies_in(each, own) for each in paths):
                raise PermissionError("this is no part of the log")

    sys.addaudithook(listen)


def _may_open(args: tuple[Any, ...], root: str, own: Sequence[str], read: Sequence[str]) -> None:
    path, mode, flags = (*args, None, None)[:3]
    if isinstance(path, int) or path is None:
        return  # it is open already
    writes = bool((flags or 0) & _WRITES) or any(sign in (mode or "") for sign in "wax+")
    if writes and not _lies_in(path, (*own, os.devnull)):
        raise PermissionError("this is no part of the log")
    if not writes and _lies_in(path, (root,)) and not _lies_in(path, read):
        raise PermissionError("this is no part of the log")


def _lies_in(path: Any, places: Sequence[str]) -> bool:
    """Whether a path is one of these places or below it; a name that leads elsewhere is where it leads."""
    real = os.path.realpath(os.fsdecode(path)) if not isinstance(path, int) else ""
    return any(real == place or real.startswith(place + os.sep) for place in places)


def _is_of(name: str, packages: Sequence[str]) -> bool:
    return any(name == package or name.startswith(f"{package}.") for package in packages)
