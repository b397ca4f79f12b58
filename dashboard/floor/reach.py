"""What the shop floor's process can reach: the log, the settings it needs, its own folder. Nothing else of the shop.

A second wall behind `app.py`: were a way found to make this process open another file, call somebody, or run a
program, Python itself would refuse. Nothing that is set anywhere widens it. It is no wall against code of somebody else
that already runs here: a library that isn't Python opens files of which Python hears nothing (PEP 578 says as much).
"""

import os
import sys
import zoneinfo
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import dashboard
import pipeline.pages
from pipeline.pages import devices

LOG, MAPPINGS, SETTINGS = "log", "mappings", "shop.toml"
NEVER_LOADED = (
    *("duckdb", "_duckdb", "sqlite3", "_sqlite3", "streamlit"),
    *("dashboard.data", "dashboard.read", "pipeline.database"),
)

_LISTING = ("os.listdir", "os.scandir")
_CHANGES = (
    *("os.remove", "os.rename", "os.rmdir", "os.mkdir", "os.link", "os.symlink", "os.truncate"),
    *("os.chmod", "os.chown", "os.chflags", "os.utime", "os.setxattr", "os.removexattr"),
)
_NEVER = (
    *("subprocess.Popen", "os.system", "os.exec", "os.spawn", "os.posix_spawn", "os.fork", "os.forkpty"),
    *("os.startfile", "os.kill", "os.killpg", "os.chdir", "os.fchdir", "shutil.rmtree", "pty.spawn"),
    *("socket.connect", "socket.sendto", "socket.sendmsg", "socket.bind", "socket.getaddrinfo"),
    *("socket.gethostbyname", "socket.gethostbyaddr", "webbrowser.open", "sqlite3.connect"),
    *("ctypes.dlopen", "ctypes.dlsym", "ctypes.call_function"),
)
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def keep_within(shop: Path) -> None:
    """Let this process reach no more than this from now on, for as long as it lives.

    Raises `PermissionError` where the log, or the server's own folder, leads to one that holds more than itself.
    """
    root = os.path.realpath(shop)
    own = tuple(os.path.realpath(Path(root, name)) for name in (LOG, devices.FOLDER))
    if any(_lies_in(root, (place,)) for place in own):
        raise PermissionError("the log is more than a log")
    ours = (Path(package.__file__ or "").parent for package in (dashboard, pipeline))
    code = (Path(sys.prefix), Path(sys.base_prefix), *ours, *map(Path, zoneinfo.TZPATH))
    read = (*own, *(os.path.realpath(Path(root, name)) for name in (MAPPINGS, SETTINGS)))
    # Python's own may lie in the shop's folder, but the shop not be taken for a part of Python's own
    read += tuple(place for each in code if not _lies_in(root, (place := os.path.realpath(each),)))
    listed = (*read, *(os.path.realpath(each) for each in sys.path if each))

    def listen(event: str, args: tuple[Any, ...]) -> None:
        if event in _NEVER:
            raise PermissionError("the shop floor's server does no such thing")
        if event == "import" and _is_of(str(args[0]), NEVER_LOADED):
            raise ImportError("the shop floor's server knows of no database")
        if event == "open":
            _may_open(args, own, read)
        elif event in _LISTING and not isinstance(args[0], int) and not _may_list(args[0], root, read, listed):
            raise PermissionError("this is no part of the log")
        elif event in _CHANGES:
            paths = [each for each in args[:2] if isinstance(each, str | bytes | os.PathLike)]
            if not all(_lies_in(each, own) for each in paths):
                raise PermissionError("this is no part of the log")

    sys.addaudithook(listen)


def _may_open(args: tuple[Any, ...], own: Sequence[str], read: Sequence[str]) -> None:
    path, mode, flags = (*args, None, None)[:3]
    if isinstance(path, int) or path is None:
        return  # it is open already
    writes = bool((flags or 0) & _WRITES) or any(sign in (mode or "") for sign in "wax+")
    places = (*(own if writes else read), os.path.realpath(os.devnull))
    # what a path is that begins nowhere, Python isn't told: it may begin at an open folder
    if not os.path.isabs(os.fsdecode(path)) or not _lies_in(path, places):  # noqa: PTH117
        raise PermissionError("this is no part of the log")


def _may_list(path: Any, root: str, read: Sequence[str], listed: Sequence[str]) -> bool:
    return _lies_in(path, read if _lies_in(path, (root,)) else listed)


def _lies_in(path: Any, places: Sequence[str]) -> bool:
    """Whether a path is one of these places or below it; a name that leads elsewhere is where it leads."""
    real = os.path.realpath(os.fsdecode(path)) if not isinstance(path, int) else ""
    return any(real == place or real.startswith(place + os.sep) for place in places)


def _is_of(name: str, packages: Sequence[str]) -> bool:
    return any(name == package or name.startswith(f"{package}.") for package in packages)
