"""A shop's database, made once for all tests of a process that begin with just the same files."""

import atexit
import shutil
import tempfile
from functools import cache
from hashlib import blake2b
from pathlib import Path

from pipeline.refresh.refresh import refresh
from pipeline.shop import load


def refreshed(folder: Path) -> None:
    """Refresh the shop; a first refresh of files that another test had just so is copied from there.

    For tests of what is made of a refresh. Those of the refresh itself call it. It fails where a check of severity
    error finds something.
    """
    if (folder / "database").exists():
        _refresh(folder)
        return
    kept = _kept() / _digest(folder)
    if not kept.exists():
        _refresh(folder)
        shutil.copytree(folder / "database", kept)
        return
    shutil.copytree(kept, folder / "database")


def _refresh(folder: Path) -> None:
    assert refresh(load(folder)).errors == []


@cache
def _kept() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="refreshed-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _digest(folder: Path) -> str:
    """What all files of the shop hold, by name."""
    hashed = blake2b()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name, content = str(path.relative_to(folder)).encode(), path.read_bytes()
        hashed.update(b"%d %d " % (len(name), len(content)) + name + content)
    return hashed.hexdigest()
