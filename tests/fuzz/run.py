"""Damage a shop's files and see that nothing falls: no exit 3, no traceback, no hang, no gigabyte, no row lost.

    python tests/fuzz/run.py [--files 1200] [--own 500] [--refreshes 0] [--seed 1] [--shop DIR] [--minutes 10]

`--files`: damaged files, read one after the other by one process, each a few rows of one of the shop's; with `--whole`
all of its rows.

`--own`: damaged files of the shop's own: settings, mappings, mends, log, quotes. What is left when the minutes are over
is not tried, and not counted.

Prints each case that falls with its seed; the same seed gives the same case again. Exit 1 where any does. Without
`--shop` the demo shop is made. A refresh takes some seconds, a file much less.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from functools import partial
from pathlib import Path

from trial import one_file, own_file, seeds, whole_refresh

from pipeline.processes.workers import Limit, other_processes

BATCH, TOLD_EACH = 100, 500
LIMIT = Limit(20, 900 * 2**20)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=1200)
    parser.add_argument("--own", type=int, default=500)
    parser.add_argument("--minutes", type=float, default=600)
    parser.add_argument("--refreshes", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shop", type=Path)
    parser.add_argument("--whole", action="store_true")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        home = Path(scratch) / "shop"
        seeds(asked.shop or _demo(Path(scratch) / "demo"), home)
        until = time.monotonic() + 60 * asked.minutes
        done, fallen = files(home, range(asked.seed, asked.seed + asked.files), asked.processes, asked.whole, until)
        own = refreshed = 0
        for seed in range(asked.seed, asked.seed + asked.own):
            if time.monotonic() > until:
                break
            own += 1
            for problem in _told(home, seed):
                fallen += 1
                print(f"own file {seed}: {problem}", flush=True)
        for seed in range(asked.seed, asked.seed + asked.refreshes):
            if time.monotonic() > until:
                break
            refreshed += 1
            into = Path(scratch) / f"refresh-{seed}"
            into.mkdir()
            for problem in whole_refresh(home, seed, into):
                fallen += 1
                print(f"refresh {seed}: {problem}", flush=True)
    print(f"{done} files, {own} of the shop's own, and {refreshed} refreshes; {fallen} fell")
    return 1 if fallen else 0


def _told(home: Path, seed: int) -> list[str]:
    try:
        return own_file(home, seed)
    except Exception as error:  # of whatever kind: that is what is looked for
        return [f"{type(error).__name__}: {error}"]


def files(home: Path, cases: range, processes: int, whole: bool, until: float) -> tuple[int, int]:
    """Runs the cases of single files; gives how many there were and how many problems, and prints them by kind."""
    kinds: Counter[str] = Counter()
    number = 0
    with other_processes(processes) as others:
        for first in range(cases.start, cases.stop, BATCH):
            if time.monotonic() > until:
                break
            batch = range(first, min(first + BATCH, cases.stop))
            number += len(batch)
            work = partial(one_file, home, whole=whole)
            for seed, done in zip(batch, others.share(work, batch, lambda _: LIMIT), strict=True):
                try:
                    problems = done.result()
                except Exception as error:  # of whatever kind: that is what is looked for
                    problems = [f"{type(error).__name__}: {error}"]
                for problem in problems:
                    print(f"file {seed}: {problem}", flush=True)
                    kinds[problem.partition(": ")[2] or problem] += 1
            if number % TOLD_EACH == 0:
                print(f"{number} files, {kinds.total()} problems", flush=True)
    for kind, count in kinds.most_common(30):
        print(f"{count:5} {kind}")
    return number, kinds.total()


def _demo(folder: Path) -> Path:
    from sample_data.make import make

    folder.mkdir()
    make(folder)
    return folder


if __name__ == "__main__":
    sys.exit(main())
