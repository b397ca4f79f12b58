"""What a change of the settings would do to the figures: a refresh before and after it, in a folder of its own.

The folder stands in the shop's `database/` and holds links to the shop's own files, its last database, and what is kept
of its files, so that only what changes is worked out. A process of its own does it: it ends when whoever began it is
gone. Run it as `python -m pipeline.changing.trial FOLDER`.
"""

import json
import os
import re
import shutil
import subprocess
import sys
import threading
import time
import uuid
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from pipeline.changing.plan import Planned
from pipeline.errors import UserError
from pipeline.shop import FOLDERS, is_a_programs_own, load
from pipeline.shop.contents import LAST_REFRESH
from pipeline.writing import whole
from pipeline.writing.internal_errors import ends_us, keep, place_of

HOME = ".trial"
"""The folder of all trials, in a shop's `database/`."""

_STATE, _BEFORE, _AFTER, _SHOP, _LOCK = "state.json", "before.toml", "after.toml", "shop", ".lock"
_STAGES = ("the files as they are", "the figures as they are", "the figures after the change")

_NAME = re.compile("[0-9a-f]{32}")
_STARTING_S = 300.0
_LOOKED_AT_S = 24 * 3600.0
"""So long what a trial found waits for a page to look at it."""

_started: dict[str, "subprocess.Popen[bytes]"] = {}


@dataclass(frozen=True)
class State:
    """How far a trial is, or what it found: the figures that differ, or what went wrong."""

    running: bool = True
    stage: str = "waiting to begin"
    share: float = 0.0
    differing: list[dict[str, Any]] = field(default_factory=list)
    fault: str = ""
    mend: str = ""


def begin(folder: Path, planned: Planned) -> str:
    """Begin a trial of a change; gives its name. Raises `UserError` where the disk refuses."""
    home = folder / "database" / HOME
    if home.is_symlink():
        raise UserError("A link stands where trials are made.", str(home), "Take it away, then try again.")
    sweep(folder)
    name = uuid.uuid4().hex
    place = whole.make_folder(home / name)
    whole.write(place / _BEFORE, planned.before)
    whole.write(place / _AFTER, planned.after)
    _tell(place, State())
    try:
        _started[name] = subprocess.Popen(
            [sys.executable, "-P", "-m", "pipeline.changing.trial", str(place.resolve())],
            stdin=subprocess.PIPE,  # by its end the trial knows that we are gone
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,  # what libraries say there may hold what stands in a cell
            start_new_session=True,
        )
    except OSError as error:
        raise UserError(f"The trial could not be started: {error.strerror or error}.", str(place)) from error
    return name


def state(folder: Path, name: str) -> State:
    """How far a trial is."""
    told = _told(folder / "database" / HOME / name)
    process = _started.get(name)
    if told.running and (process is None or process.poll() is not None):
        told = _told(folder / "database" / HOME / name)  # it may have ended since
        if told.running:
            return State(False, fault="The trial ended before it was done.", mend="Look at it once more.")
    return told


def end(folder: Path, name: str) -> None:
    """End a trial, and forget it."""
    process = _started.pop(name, None)
    if process:
        if process.stdin:
            process.stdin.close()
        process.terminate()
        process.wait()
    shutil.rmtree(folder / "database" / HOME / name, ignore_errors=True)


def sweep(folder: Path) -> None:
    """Take away what is left of trials that nobody waits for any more, and of those that were killed."""
    home = folder / "database" / HOME
    if home.is_symlink():  # what it leads to is not ours
        return
    for name, process in list(_started.items()):
        if process.poll() is None:
            continue
        shutil.rmtree(home / name / _SHOP, ignore_errors=True)  # whoever was killed left it
        if not (home / name).is_dir() or time.time() - (home / name).stat().st_mtime > _LOOKED_AT_S:
            _started.pop(name)
    with suppress(OSError):
        for place in home.iterdir():
            ours = _NAME.fullmatch(place.name) and place.is_dir() and not place.is_symlink()
            if ours and place.name not in _started and _is_over(place):
                shutil.rmtree(place, ignore_errors=True)


def _is_over(place: Path) -> bool:
    """Whether no process works there, nor is about to: one that was begun just now may still load its libraries."""
    if time.time() - place.stat().st_mtime < _STARTING_S:
        return False
    try:
        with FileLock(place / _LOCK, timeout=0):
            return True
    except (Timeout, OSError):
        return False


def run(place: Path) -> State:
    """Do a trial whose settings before and after stand in `place`. Gives what it found."""
    with FileLock(place / _LOCK, timeout=0), FileLock(place.parent / ".one-at-a-time"):
        try:
            return _tried(place)
        except UserError as error:
            return State(False, fault=f"{error.what} {error.where}".strip(), mend=error.mend)
        except BaseException as error:  # told in a sentence, kept in the log, as a refresh does
            if ends_us(error):
                raise
            keep(place.parents[2], error)
            return State(False, fault=f"This is a fault of the tool, not of your settings: {place_of(error)}.")
        finally:
            shutil.rmtree(place / _SHOP, ignore_errors=True)


def _tried(place: Path) -> State:
    from pipeline.changing.figures import differing, figures
    from pipeline.processes.workers import other_processes
    from pipeline.refresh.refresh import refresh

    def tell(stage: int, text: str) -> None:
        _tell(place, State(stage=f"{_STAGES[stage]}: {text}" if text else _STAGES[stage], share=stage / len(_STAGES)))

    tell(0, "")
    shop = _laid_out(place.parents[2], place / _SHOP)
    whole.write(shop / "shop.toml", (place / _BEFORE).read_bytes())
    today = load(shop).now().date()
    with other_processes() as other:
        before = refresh(load(shop), lambda text: tell(1, text), other, today)
        if before.errors:
            what = "Nothing can be compared: the figures as they are can't be published."
            return State(False, fault=what, mend="Mend what the Files page names first.")
        figures_before = figures(shop, today)
        whole.write(shop / "shop.toml", (place / _AFTER).read_bytes())
        after = refresh(load(shop), lambda text: tell(2, text), other, today)
    if after.errors:
        what = "; ".join(f"{check['meaning']} ({check['rows']} rows)" for check in after.errors)
        return State(False, fault=f"With it the figures could not be published: {what}", mend="Say it otherwise.")
    return State(False, "done", 1.0, differing(figures_before, figures(shop, today)))


def _laid_out(folder: Path, shop: Path) -> Path:
    """The shop's files laid out anew: links where the disk has them, copies where it has not."""
    database = shop / "database"
    whole.make_folder(database)
    for name in FOLDERS:
        if name != "database":
            _linked(folder / name, shop / name)
    _linked(folder / LAST_REFRESH.parent, shop / LAST_REFRESH.parent)
    for path in sorted((folder / "database").glob("shop-*.duckdb"))[-1:]:
        whole.second_name(path, database / path.name)
    return shop


def _linked(folder: Path, to: Path) -> None:
    if folder.is_symlink() or not folder.is_dir():
        return
    for home, folders, names in os.walk(folder):
        own = to / Path(home).relative_to(folder)
        own.mkdir(parents=True, exist_ok=True)
        folders[:] = [name for name in folders if _is_read(Path(home, name), folder)]
        for name in names:
            if (path := Path(home, name)).is_file() and _is_read(path, folder):
                with suppress(FileNotFoundError):  # it is gone since it was listed
                    whole.second_name(path, own / name)


def _is_read(path: Path, folder: Path) -> bool:
    """Whether a refresh reads it, or what is below it: no program's own, no link to a folder or out of the shop."""
    if is_a_programs_own(path) or (path.is_symlink() and path.is_dir()):
        return False
    return not path.is_symlink() or path.resolve().is_relative_to(folder.parent.resolve())


def _tell(place: Path, now: State) -> None:
    with suppress(UserError):
        whole.write_passing(place / _STATE, json.dumps(asdict(now)).encode())


def _told(place: Path) -> State:
    try:
        return State(**json.loads((place / _STATE).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return State(False, fault="The trial is gone.", mend="Look at it once more.")


def _ends_with_its_parent() -> None:
    sys.stdin.buffer.read()
    os._exit(0)


if __name__ == "__main__":
    threading.Thread(target=_ends_with_its_parent, daemon=True).start()
    _tell(Path(sys.argv[1]), run(Path(sys.argv[1])))
