"""A refresh by two processes: the same figures as by one, in order, and nobody left behind."""

import operator
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import pytest

from pipeline.database import open_newest
from pipeline.hands import second, share
from pipeline.models import plan
from pipeline.refresh import refresh
from pipeline.shop import load


def test_shared_work_comes_back_in_order() -> None:
    items = list(range(200))
    assert list(share(None, operator.neg, items)) == [-item for item in items]
    with second() as other:
        assert list(share(other, operator.neg, items)) == [-item for item in items]


def test_what_goes_wrong_in_the_other_process_is_told_here() -> None:
    with second() as other, pytest.raises(ZeroDivisionError):
        assert other, "a machine with one core has no other process to test"
        other.submit(operator.truediv, 1, 0).result()


def test_two_processes_publish_what_one_does(demo: Path, tmp_path: Path) -> None:
    """The demo was refreshed by the command, that is by two."""
    alone = tmp_path / "shop"
    shutil.copytree(demo, alone, ignore=shutil.ignore_patterns("database"))
    assert refresh(load(alone)).published
    with open_newest(demo) as by_two, open_newest(alone) as by_one:
        for table in ("intake.file", "intake.row", "intake.rejected", "intake.ignored", *plan().models):
            assert rows(by_two, table) == rows(by_one, table), table


def rows(con: duckdb.DuckDBPyConnection, table: str) -> list[str]:
    return sorted(map(repr, con.execute(f"from {table}").fetchall()))


KILLED = """
import os, time
from pipeline.hands import second

if __name__ == "__main__":
    with second() as other:
        print(other.submit(os.getpid).result(), flush=True)
        time.sleep(60)
"""


@pytest.mark.skipif(os.name == "nt", reason="a process is asked after by a signal that Windows lacks")
def test_the_other_process_ends_with_a_killed_one(tmp_path: Path) -> None:
    script = tmp_path / "killed.py"
    script.write_text(KILLED, encoding="utf-8")
    root = str(Path(__file__).parents[1])
    with subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"PYTHONPATH": root},
    ) as begun:
        assert begun.stdout
        other = int(begun.stdout.readline())
        begun.send_signal(signal.SIGKILL)
        begun.wait()
    until = time.monotonic() + 20
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
