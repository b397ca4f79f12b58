"""Each write refused or killed at its steps, refreshes killed at any moment or on a full disk: nothing is lost.

    python -m tests.hard.faults [--steps 5] [--kills 200] [--full 20] [--seed 1] [--minutes 5] [--shop DIR]

`--steps`: so many steps of each way of writing, drawn by the seed, each refused or killed in one way (0: all,
in each way; -1: none). `--kills`: so many refreshes ended by SIGKILL, at moments drawn over the time that one takes,
each of other files than the last; after it the last database must open and the maker's files be as before; each tenth
time the next refresh is held against one that nothing disturbed, table by table. `--full`: so many refreshes whose
files may grow to some size and no further, as on a full disk. What is left when the minutes are over is not tried.
Prints each case that falls, with how to have it again, and the counts; exit 1 where any falls.
"""

import argparse
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from pipeline import database
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.hard import scene
from tests.hard.trials import Trials
from tests.table_sets import differing

CHECKED = 10
"""Each so-manieth killed refresh is followed by one that is held against an undisturbed one."""

MUCH = "date,person,operation,pieces,hours\n2026-03-0{n},Ada,sanding,T-002,0:{n}5\n"
LITTLE = "date,item,quantity,unit,amount\n2026-02-01,zorbit,{n},each,90.00\n"
"""A file that most figures hang on, and one that waits for an answer: most tables are taken over from the last refresh,
so that more of the moments fall on reading and publishing."""

SELDOM = 4
"""Each so-manieth change is of much."""

# begun once, so that a killed refresh costs no loading of libraries: it refreshes in a process of its own that it forks
SERVER = """
import os, resource, signal, sys
from pathlib import Path
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
print("ready", flush=True)
for line in sys.stdin:
    size, folder = line.rstrip("\\n").split(" ", 1)
    child = os.fork()
    if not child:
        if int(size):
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (int(size), int(size)))
        try:
            refresh(load(Path(folder)))
            code = 0
        except UserError as error:
            print("told", repr(str(error)), flush=True)
            code = 2
        except BaseException as error:
            print("fell", type(error).__name__, str(error)[:300].replace("\\n", " "), flush=True)
            code = 3
        os._exit(code)
    print(child, flush=True)
    _, status = os.waitpid(child, 0)
    print("ended", os.waitstatus_to_exitcode(status), flush=True)
"""


@dataclass
class Refreshes:
    """Refreshes of one shop in a process that may be killed; `fallen` tells what went wrong."""

    folder: Path
    random: Random
    fallen: list[str] = field(default_factory=list)
    number: int = 0
    usual_s: dict[bool, float] = field(default_factory=dict)
    much: bool = True

    def __post_init__(self) -> None:
        self.server = subprocess.Popen(
            [sys.executable, "-c", SERVER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self._line() == "ready"

    def end(self) -> None:
        """End the process that refreshes."""
        self.server.communicate()

    def _line(self) -> str:
        assert self.server.stdout
        return self.server.stdout.readline().rstrip("\n")

    def change(self) -> dict[str, bytes]:
        """Give the shop other files than it had; gives all that is the maker's."""
        self.number += 1
        self.much = self.number % SELDOM == 1
        name, text = ("added.csv", MUCH) if self.much else ("more.csv", LITTLE)
        (self.folder / "inbox" / name).write_text(text.replace("{n}", str(self.number % 7 + 1)), encoding="utf-8")
        return contents(self.folder)

    def run(self, after_s: float | None = None, size: int = 0) -> tuple[int, str]:
        """Refresh, killed after so long, or with files no larger than that: its exit code, and what it said."""
        assert self.server.stdin
        begun = time.monotonic()
        self.server.stdin.write(f"{size} {self.folder}\n")
        self.server.stdin.flush()
        child, said = int(self._line()), ""
        if after_s is not None:
            time.sleep(after_s)
            with suppress(ProcessLookupError):  # it was done already
                os.kill(child, signal.SIGKILL)
        while not (line := self._line()).startswith("ended "):
            said += line
        if after_s is None:
            self.usual_s[self.much] = time.monotonic() - begun
        return int(line.removeprefix("ended ")), said

    def look(self, case: str, mine: dict[str, bytes], before: Path, held: bytes) -> None:
        """The last database opens and is the one of before, or a new one; the maker's files are as they were."""
        if contents(self.folder) != mine:
            self.fallen.append(f"{case}: the maker's files are others")
        if before.exists() and before.read_bytes() != held:
            self.fallen.append(f"{case}: the last database was written into")
        try:
            with database.open_newest(self.folder) as con:
                con.execute("select count(*) from cost.trace").fetchall()
        except Exception as error:
            self.fallen.append(f"{case}: no database opens: {error}")

    def next_one(self, case: str, scratch: Path) -> None:
        """The next refresh gives what one of the same files from nothing gives, and leaves nothing half done."""
        code, said = self.run()
        if code:
            self.fallen.append(f"{case}: the next refresh ends with {code}: {said}")
            return
        shutil.rmtree(scratch, ignore_errors=True)
        undisturbed = scratch / "shop"
        shutil.copytree(self.folder, undisturbed, ignore=shutil.ignore_patterns("database"))
        right, made = refresh(load(undisturbed)).published, database.newest(self.folder)
        if not right or not made or (others := differing(right, made)):
            self.fallen.append(f"{case}: the next refresh has other rows: {others if right and made else 'none'}")
        home = self.folder / "database"
        if left := [*home.glob("*.draft*"), *home.glob("*.wal"), *home.glob(".*.part")]:
            self.fallen.append(f"{case}: it leaves {', '.join(path.name for path in left)}")


def contents(folder: Path) -> dict[str, bytes]:
    """All that is the maker's, as it stands on the disk."""
    found = (path for path in folder.rglob("*") if path.is_file() and "database" not in path.parts)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def writes(trials: Trials, each: int, random: Random, until: float) -> tuple[int, list[str]]:
    """So many steps of each way of writing: how many were tried, and what is wrong."""
    fallen: list[str] = []
    tried = 0
    for name in scene.WRITES:
        cases = list(trials.cases(name))
        for at, how in random.sample(cases, min(each, len(cases))) if each else cases:
            if time.monotonic() > until:
                return tried, fallen
            tried += 1
            for problem in trials.trial(name, at, how):
                print(problem, flush=True)
                fallen.append(problem)
    return tried, fallen


def cases(refreshes: Refreshes, number: int, until: float) -> Iterator[tuple[int, Path, bytes, dict[str, bytes]]]:
    """So many changes of the shop, while there is time: its number, the database before it, what that and the maker's
    files hold."""
    for case in range(number):
        if time.monotonic() > until:
            return
        before = database.newest(refreshes.folder)
        assert before
        yield case, before, before.read_bytes(), refreshes.change()


def kills(refreshes: Refreshes, number: int, scratch: Path, until: float, seed: int) -> tuple[int, int]:
    """Refreshes killed at moments of the time that one takes: how many, and how many of them were not done yet."""
    for _ in range(2):
        refreshes.change()
        if refreshes.run()[0]:
            refreshes.fallen.append("a refresh that nothing disturbs is refused")
    tried = cut_short = 0
    for case, before, held, mine in cases(refreshes, number, until):
        code, _ = refreshes.run(refreshes.random.uniform(0, refreshes.usual_s[refreshes.much]))
        tried += 1
        cut_short += code == -signal.SIGKILL
        named = f"kill {case} of seed {seed}"
        refreshes.look(named, mine, before, held)
        if case % CHECKED == CHECKED - 1:
            refreshes.next_one(named, scratch)
    refreshes.next_one(f"after {tried} kills of seed {seed}", scratch)
    return tried, cut_short


def full(refreshes: Refreshes, number: int, scratch: Path, until: float, seed: int) -> tuple[int, int]:
    """Refreshes whose files can't grow beyond some size: how many, and how many were refused."""
    last = database.newest(refreshes.folder)
    assert last
    largest, tried, refused = last.stat().st_size, 0, 0
    for case, before, held, mine in cases(refreshes, number, until):
        size = int(largest ** refreshes.random.uniform(0.3, 1.0))
        code, said = refreshes.run(size=size)
        tried += 1
        refused += code == 2
        named = f"no file above {size} bytes, case {case} of seed {seed}"
        if code == 3:
            refreshes.fallen.append(f"{named}: {said}")
        if code == 2 and ("where:" not in said or "mend:" not in said):
            refreshes.fallen.append(f"{named}: it says too little: {said}")
        refreshes.look(named, mine, before, held)
    refreshes.next_one(f"after {tried} refusals of seed {seed}", scratch)
    return tried, refused


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--steps", type=int, default=5)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--full", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--shop", type=Path, help="a folder as `scene.make` makes it, refreshed: saves making one")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    until, random = time.monotonic() + 60 * asked.minutes, Random(asked.seed)
    with tempfile.TemporaryDirectory() as home:
        scratch, shop = Path(home) / "scratch", asked.shop or scene.make(Path(home) / "made")
        if not database.newest(shop):
            refresh(load(shop))
        tried, fallen = writes(Trials(shop, scratch), asked.steps, random, until) if asked.steps >= 0 else (0, [])
        print(f"{tried} steps of {len(scene.WRITES)} ways of writing refused or killed: {len(fallen)} fell", flush=True)
        filled = refused = 0
        if asked.kills or asked.full:
            refreshes = Refreshes(shutil.copytree(shop, Path(home) / "shop"), random)
            killed, cut_short = kills(refreshes, asked.kills, scratch, until, asked.seed)
            print(f"{killed} refreshes killed, {cut_short} of them before they were done", flush=True)
            filled, refused = full(refreshes, asked.full, scratch, until, asked.seed)
            refreshes.end()
            for problem in refreshes.fallen:
                print(problem)
            fallen += refreshes.fallen
    print(f"{filled} refreshes with no room for larger files, {refused} of them refused; {len(fallen)} fell in all")
    return 1 if fallen else 0


if __name__ == "__main__":
    sys.exit(main())
