"""Damage a shop's files and see that nothing falls: no exit 3, no traceback, no hang, no gigabyte, no row lost.

    python tests/fuzz/run.py [--files 1200] [--refreshes 0] [--seed 1] [--shop DIR]

Prints each case that falls with its seed; the same seed gives the same case again. Exit 1 where any does. Without
`--shop` the demo shop is made. A refresh takes some seconds, a file much less.
"""

import argparse
import sys
import tempfile
from collections import Counter
from functools import partial
from pathlib import Path

from trial import one_file, seeds, whole_refresh

from pipeline.processes.workers import Limit, other_processes

LIMIT = Limit(20, 900 * 2**20)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=1200)
    parser.add_argument("--refreshes", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shop", type=Path)
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        home = Path(scratch) / "shop"
        seeds(asked.shop or _demo(Path(scratch) / "demo"), home)
        fallen = files(home, range(asked.seed, asked.seed + asked.files), asked.processes)
        for seed in range(asked.seed, asked.seed + asked.refreshes):
            into = Path(scratch) / f"refresh-{seed}"
            into.mkdir()
            for problem in whole_refresh(home, seed, into):
                fallen += 1
                print(f"refresh {seed}: {problem}", flush=True)
    print(f"{asked.files} files and {asked.refreshes} refreshes; {fallen} fell")
    return 1 if fallen else 0


def files(home: Path, cases: range, processes: int) -> int:
    """Runs the cases of single files; gives how many fell, and prints them with a count of each kind."""
    kinds: Counter[str] = Counter()
    with other_processes(processes) as others:
        for seed, done in zip(cases, others.share(partial(one_file, home), cases, lambda _: LIMIT), strict=True):
            try:
                problems = done.result()
            except Exception as error:  # of whatever kind: that is what is looked for
                problems = [f"{type(error).__name__}: {error}"]
            for problem in problems:
                print(f"file {seed}: {problem}", flush=True)
                kinds[problem.partition(": ")[2] or problem] += 1
    for kind, count in kinds.most_common(30):
        print(f"{count:5} {kind}")
    return kinds.total()


def _demo(folder: Path) -> Path:
    from sample_data.make import make

    folder.mkdir()
    make(folder)
    return folder


if __name__ == "__main__":
    sys.exit(main())
