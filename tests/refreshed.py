"""A shop's database, made once for all tests of a process that begin with just the same files.

Each begins with the database of a shop without records, made once a process: what is as there need not be made again,
and `refresh/test_only_what_changed.py` proves that the figures are the same.
"""

import atexit
import shutil
import tempfile
from functools import cache
from hashlib import blake2b
from pathlib import Path

from pipeline.refresh.refresh import refresh
from pipeline.shop import load

TINY_SHOP = """
name = "Two Benches"
currency = "EUR"
start = 2026-01-01

[[people]]
name = "Ada"
rate = 30
"""


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
        _refresh(begun(folder))
        shutil.copytree(folder / "database", kept)
        return
    shutil.copytree(kept, folder / "database")


def begun(folder: Path) -> Path:
    """The shop, with the database of one without records where it has none: a refresh begins there."""
    if not (folder / "database").exists():
        shutil.copytree(without_records().parent, folder / "database")
    return folder


@cache
def without_records() -> Path:
    """The published database of a shop that has settings alone."""
    folder = _kept() / "without"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    published = refresh(load(folder)).published
    assert published
    return published


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
