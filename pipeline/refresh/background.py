"""A refresh in the background: asked for by a page, run by a process of its own, its progress told in a small file.

Whoever asks leaves a wish in the shop's `database/`. One worker at a time takes wishes and refreshes until there is
none; wishes left while it runs become one more run. It then waits for the next wish, since its libraries are loaded and
its plan is read, until nobody has wished for long or whoever began it is gone. Run it as
`python -m pipeline.refresh.background DIR SECONDS`.
"""

import json
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import nullcontext, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from filelock import FileLock, Timeout

from pipeline.errors import UserError, call
from pipeline.processes.workers import Workers, other_processes
from pipeline.shop import load
from pipeline.writing import whole
from pipeline.writing.internal_errors import ends_us, keep, place_of

if TYPE_CHECKING:
    from pipeline.refresh.refresh import Summary

_WISH, _WORKER, _WAITING, _STATE = ".refresh-wanted", ".refresh-worker", ".refresh-waiting", ".refresh.json"

STAYS_S = 600.0
"""How long a worker waits for another wish."""

_LOOK_S = 0.05

STEPS = ("read and clean", "link", "load", "models", "checks", "publish")
"""The stages of a refresh, as they are told."""

_STARTING_S = 20.0
"""A worker that has not taken its wish after this long never began."""

_started: list["subprocess.Popen[bytes]"] = []


@dataclass(frozen=True)
class Progress:
    """How far the refresh is: its stage, or how the last one ended. `share` (0 to 1) is of its stages, not of time."""

    running: bool = False
    stage: str = ""
    share: float = 0.0
    again: bool = False
    ended: float = 0.0
    fault: str = ""
    mend: str = ""
    said: str = ""


def start(folder: Path) -> None:
    """Ask for a refresh. Raises `UserError` where nothing can be written."""
    home = folder / "database"
    try:
        home.mkdir(exist_ok=True)
        (home / _WISH).touch()
        if _held(home / _WAITING):
            return  # somebody will see the wish, at the latest when it is done
        _forget_ended()
        _started.append(
            subprocess.Popen(
                [sys.executable, "-P", "-m", "pipeline.refresh.background", str(folder.resolve()), str(STAYS_S)],
                stdin=subprocess.PIPE,  # by its end the worker knows that we are gone
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,  # what libraries say there may hold what stands in a cell
                start_new_session=True,  # it goes on when the dashboard is closed
            )
        )
    except OSError as error:
        what = f"The refresh could not be started: {error.strerror or error}."
        raise UserError(what, str(home), f"Run: {call('refresh', folder)}") from error


def _forget_ended() -> None:
    for worker in [worker for worker in _started if worker.poll() is not None]:
        _started.remove(worker)
        if worker.stdin:
            worker.stdin.close()


def progress(folder: Path) -> Progress:
    """What the page shows of it. Waits for nobody."""
    home = folder / "database"
    told = _told(home)
    works, wished = _held(home / _WORKER), _age(home / _WISH)
    if works:
        now = told if told.running else Progress(True, "starting")
        return Progress(**{**asdict(now), "again": wished is not None})
    if wished is not None and wished < _STARTING_S:
        return Progress(True, "starting")
    if told.running:
        return Progress(
            fault="The refresh ended before it was done.",
            mend="The last published database is as it was. Start the refresh again.",
        )
    return told


def work(folder: Path, stays_s: float = 0.0, left: threading.Event | None = None) -> None:
    """Refresh the shop whenever somebody wishes it, until nobody has for so many seconds, or `left` is set.

    At once done where another worker does that already.
    """
    home = folder / "database"
    home.mkdir(exist_ok=True)
    with other_processes() if stays_s else nullcontext() as other, suppress(Timeout):
        while True:
            # a page that only looks holds the lock for an instant
            with FileLock(home / _WAITING, timeout=1.0):
                _take_wishes(folder, other, stays_s, left or threading.Event())
            if not (home / _WISH).exists():  # else somebody wished while we still held the lock
                return


def _take_wishes(folder: Path, other: Workers | None, stays_s: float, left: threading.Event) -> None:
    wish = folder / "database" / _WISH
    until = time.monotonic() + stays_s
    while True:
        if wish.exists():
            with FileLock(wish.with_name(_WORKER), timeout=1.0):
                while wish.exists():
                    wish.unlink(missing_ok=True)
                    _tell(wish.parent, _once(folder, other))
            until = time.monotonic() + stays_s
        elif time.monotonic() >= until or left.is_set():
            return
        time.sleep(_LOOK_S)


def _once(folder: Path, other: Workers | None) -> Progress:
    home = folder / "database"

    def tell(text: str) -> None:
        done = STEPS.index(text) if text in STEPS else 0
        _tell(home, Progress(True, text, done / len(STEPS)))

    try:
        with whole.refused():
            return _ended(refresh(folder, tell, other))
    except UserError as error:
        return Progress(ended=time.time(), fault=f"{error.what} {error.where}".strip(), mend=error.mend)
    except BaseException as error:  # as the command does: told in a sentence, kept in the log
        if ends_us(error):
            raise
        log = keep(folder, error)
        what = f"This is a fault of the tool, not of your files: {place_of(error)}."
        return Progress(ended=time.time(), fault=what, mend=f"It is noted in {log}." if log else "")


def refresh(folder: Path, tell: Callable[[str], None], other: Workers | None = None) -> "Summary":
    """One refresh, in this process and others: `other`, or some of its own."""
    # first of all, so that they load the libraries while this process does
    with nullcontext(other) if other else other_processes() as others:
        from pipeline.refresh.refresh import refresh as run

        return run(load(folder), tell, others)


def _ended(summary: "Summary") -> Progress:
    if summary.errors:
        what = "; ".join(f"{check['meaning']} ({check['rows']} rows)" for check in summary.errors)
        mend = "The last published database stays. Mend what is named, then refresh again."
        return Progress(ended=time.time(), fault=f"Not published: {what}", mend=mend)
    counts = summary.counts
    said = f"Rows in the figures: {counts['loaded']:,}; set aside: {counts['set_aside']:,}."
    return Progress(ended=time.time(), share=1.0, said=said)


def _tell(home: Path, now: Progress) -> None:
    with suppress(UserError):  # a refresh is not lost for want of its news
        whole.write(home / _STATE, json.dumps(asdict(now)))


def _told(home: Path) -> Progress:
    try:
        return Progress(**json.loads((home / _STATE).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError, RecursionError):
        return Progress()


def _held(path: Path) -> bool:
    """Whether a process holds this lock."""
    if not path.exists():
        return False
    try:
        with FileLock(path, timeout=0):
            return False
    except (Timeout, OSError):
        return True


def _age(path: Path) -> float | None:
    try:
        return time.time() - path.stat().st_mtime
    except OSError:
        return None


def _watch(left: threading.Event) -> None:
    sys.stdin.buffer.read()
    left.set()


def main(folder: Path, stays_s: float) -> None:
    """Work until whoever holds the other end of our standard input is gone."""
    left = threading.Event()
    threading.Thread(target=_watch, args=(left,), daemon=True).start()
    work(folder, stays_s, left)


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]))
