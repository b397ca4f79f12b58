"""Other processes: the same figures as by one, an end to what goes too far, and nobody left behind."""

import operator
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import duckdb
import psutil
import pytest

from pipeline.database import open_newest
from pipeline.database.plan import read_plan
from pipeline.processes import workers
from pipeline.processes.workers import DiedError, Limit, TooMuchError, other_processes
from pipeline.refresh.refresh import refresh
from pipeline.shop import load

ENOUGH = Limit(60, 2**30)


def test_shared_work_comes_back_in_order() -> None:
    items = list(range(200))
    with other_processes() as others:
        assert [done.result() for done in others.share(operator.neg, items, lambda _: ENOUGH)] == [-i for i in items]


def test_what_goes_wrong_in_the_other_process_is_told_here() -> None:
    with other_processes() as others, pytest.raises(ZeroDivisionError):
        others.submit(operator.truediv, 1, 0).result()


def test_a_process_that_reads_loads_nothing_that_reckons() -> None:
    """Each takes half as long to begin as with it."""
    with other_processes(1) as others:
        loaded = others.submit(eval, "set(__import__('sys').modules)").result()
    assert "pipeline.refresh.read_files" in loaded
    assert loaded.isdisjoint({"scipy", "altair", "streamlit", "xlsxwriter"})


# `eval` stands for a reader here, and what it is given for a file
FOREVER = "all(0 for _ in iter(int, 1)) or [0 for _ in iter(int, 1)]"
WITHIN_A_LIBRARY = "__import__('re').match('(a+)+b', 'a' * 60)"  # holds Python's own lock all the while
WAITS = "__import__('time').sleep(600)"
FILLS_THE_MEMORY = "[bytes(b'x' * 10**7) for _ in iter(int, 1)]"
DIES = "__import__('os')._exit(7)"
ASKS_FOR_TOO_MUCH = "b'x' * 10**18"


@pytest.mark.parametrize(
    ("hostile", "raised"),
    [
        (FOREVER, TooMuchError),
        (WITHIN_A_LIBRARY, TooMuchError),
        (WAITS, TooMuchError),
        (FILLS_THE_MEMORY, TooMuchError),
        (DIES, DiedError),
        (ASKS_FOR_TOO_MUCH, MemoryError),
    ],
)
def test_one_that_goes_too_far_ends_and_the_others_go_on(hostile: str, raised: type[Exception]) -> None:
    work = ["1 + 1", hostile, "2 + 2", "3 + 3"]
    little = Limit(0.5, 200 * 2**20, times_by_clock=6)
    with other_processes(1) as others:
        first, bad, *rest = others.share(eval, work, lambda text: little if text == hostile else ENOUGH)
        assert first.result() == 2
        with pytest.raises(raised):
            bad.result()
        assert [done.result() for done in rest] == [4, 6]
        assert others.submit(operator.neg, 5).result() == -5


@dataclass
class Threads:
    """A process whose threads have worked so many seconds; `told`: whether the system says so of each."""

    worked: list[float]
    told: bool = True

    def memory_info(self) -> SimpleNamespace:
        return SimpleNamespace(rss=0)

    def threads(self) -> list[SimpleNamespace]:
        if not self.told:
            raise psutil.AccessDenied
        return [SimpleNamespace(id=n, user_time=0.75 * s, system_time=0.25 * s) for n, s in enumerate(self.worked)]

    def cpu_times(self) -> SimpleNamespace:
        return SimpleNamespace(user=sum(self.worked), system=0.0)


@pytest.mark.parametrize(
    ("worked", "clock", "said"),
    [
        ([4.0, 0.0], 299.0, ""),  # it waited for a core, or for the disk
        ([4.0] * 64, 299.0, ""),  # a thread for each core of a large machine, of which it is given few
        ([0.0, 10.5], 10.5, "It takes more than 10 seconds to read."),
        ([0.0, 0.0], 301.0, "It takes more than 300 seconds to read."),
    ],
)
def test_work_counts_and_the_clock_only_for_what_waits_for_ever(
    monkeypatch: pytest.MonkeyPatch, worked: list[float], clock: float, said: str
) -> None:
    process, now = Threads([100.0, 200.0]), 1000.0
    monkeypatch.setattr(psutil, "Process", lambda _: process)
    monkeypatch.setattr(workers.time, "monotonic", lambda: now)
    watch = workers._Watch(1, Limit(10.0, 2**20))
    before = [*process.worked, *[0.0] * 62]
    process.worked = [was + more for was, more in zip(before, worked, strict=False)]
    now += clock
    assert watch.over() == said


def test_where_nobody_is_told_of_threads_the_process_counts_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    process = Threads([100.0, 200.0], told=False)
    monkeypatch.setattr(psutil, "Process", lambda _: process)
    watch = workers._Watch(1, Limit(10.0, 2**20))
    process.worked = [104.0, 204.0]
    assert watch.over() == ""
    process.worked = [106.0, 206.0]
    assert watch.over() == "It takes more than 10 seconds to read."


def test_what_a_library_prints_is_no_answer() -> None:
    with other_processes(1) as others:
        assert (
            others.submit(eval, "__import__('os').system('echo something') or print('more', flush=True)").result()
            is None
        )


def test_two_processes_publish_what_one_does(demo: Path, tmp_path: Path) -> None:
    """The demo was refreshed by the command, that is by two."""
    alone = tmp_path / "shop"
    shutil.copytree(demo, alone, ignore=shutil.ignore_patterns("database"))
    assert refresh(load(alone)).published
    with open_newest(demo) as by_two, open_newest(alone) as by_one:
        for table in ("intake.file", "intake.row", "intake.rejected", "intake.ignored", *read_plan().models):
            assert rows(by_two, table) == rows(by_one, table), table


def rows(con: duckdb.DuckDBPyConnection, table: str) -> list[str]:
    return sorted(map(repr, con.execute(f"from {table}").fetchall()))


BUSY = f"""
import os, time
from pipeline.processes.workers import other_processes

with other_processes(1) as other:
    print(other.submit(os.getpid).result(), flush=True)
    other.submit(eval, {WITHIN_A_LIBRARY!r})
    time.sleep(600)
"""


@pytest.mark.skipif(os.name == "nt", reason="a process is asked after by a signal that Windows lacks")
@pytest.mark.parametrize("ended_by", ["SIGKILL", "SIGTERM", "SIGINT"])
def test_no_process_is_left_behind(tmp_path: Path, ended_by: str) -> None:
    """However this one is ended, and whatever the other one is in the midst of."""
    script = tmp_path / "busy.py"
    script.write_text(BUSY, encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    ) as begun:
        assert begun.stdout
        other = int(begun.stdout.readline())
        begun.send_signal(getattr(signal, ended_by))
        begun.wait(60)
    until = time.monotonic() + 60
    while alive(other):
        assert time.monotonic() < until, "it goes on without anybody to work for"
        time.sleep(0.05)


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # one that has ended, but that nobody has asked after, still has its number
    stat = Path(f"/proc/{process}/stat")
    return not stat.exists() or stat.read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
