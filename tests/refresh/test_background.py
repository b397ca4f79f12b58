"""A refresh in the background: a process of its own, one at a time, what is wished meanwhile done once more."""

import os
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock

from pipeline.database import newest, open_newest
from pipeline.refresh import background
from pipeline.refresh.refresh import Summary

ROOT = Path(__file__).parents[2]
SALES = "date,channel,product,price\n2026-03-02,market,tray,60\n"


@pytest.fixture(autouse=True)
def path_to_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.setattr(background, "STAYS_S", 0.0)


def wait(until: Callable[[], bool], seconds: float = 120) -> None:
    end = time.monotonic() + seconds
    while not until():
        assert time.monotonic() < end, "it never came"
        time.sleep(0.05)


def ended(folder: Path) -> Callable[[], bool]:
    return lambda: not background.progress(folder).running


def test_it_publishes_in_a_process_of_its_own(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "sales.csv").write_text(SALES, encoding="utf-8")
    background.start(tiny_shop)
    assert background.progress(tiny_shop).running
    wait(ended(tiny_shop))
    told = background.progress(tiny_shop)
    assert (told.fault, told.said) == ("", "Rows in the figures: 1; set aside: 0.")
    with open_newest(tiny_shop) as con:
        assert con.execute("select count(*) from records.sales").fetchall() == [(1,)]


def _sell(folder: Path, number: int) -> None:
    """One more sale: where nothing has changed, nothing is published."""
    (folder / "inbox" / f"sale{number}.csv").write_text(SALES, encoding="utf-8")


def test_it_stays_for_the_next_wish_and_ends_with_whoever_began_it(
    tiny_shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(background, "STAYS_S", 600.0)
    before = len(background._started)
    for number in (1, 2):
        _sell(tiny_shop, number)
        background.start(tiny_shop)
        wait(ended(tiny_shop))
        assert newest(tiny_shop) == tiny_shop / "database" / f"shop-00000{number}.duckdb"
    assert len(background._started) == before + 1
    worker = background._started[-1]
    assert worker.poll() is None
    assert worker.stdin
    worker.stdin.close()
    assert worker.wait(60) == 0
    _sell(tiny_shop, 3)
    background.start(tiny_shop)
    assert background._started[-1] is not worker
    wait(ended(tiny_shop))
    background._started[-1].communicate(timeout=60)
    assert newest(tiny_shop) == tiny_shop / "database" / "shop-000003.duckdb"


def test_a_broken_setting_is_told(tiny_shop: Path) -> None:
    (tiny_shop / "shop.toml").write_text("currency = 7", encoding="utf-8")
    (tiny_shop / "database").mkdir()
    (tiny_shop / "database" / ".refresh-wanted").touch()
    background.work(tiny_shop)
    told = background.progress(tiny_shop)
    assert "currency" in told.fault
    assert "shop.toml" in told.fault


def test_wishes_meanwhile_become_one_more_run(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    runs = []
    begun, go_on = threading.Event(), threading.Event()

    def slow(*_args: object) -> Summary:
        runs.append(1)
        begun.set()
        assert go_on.wait(30)
        return Summary(counts={"loaded": 1, "rows": 1, "set_aside": 0})

    monkeypatch.setattr(background, "refresh", slow)
    started: list[object] = []
    monkeypatch.setattr(background.subprocess, "Popen", lambda *args, **named: started.append(args) or _Done())
    background.start(tiny_shop)
    worker = threading.Thread(target=background.work, args=(tiny_shop,))
    worker.start()
    assert begun.wait(30)
    for _ in range(3):
        background.start(tiny_shop)
    assert background.progress(tiny_shop).again
    go_on.set()
    worker.join()
    assert len(started) == 1  # the other three wished while it worked
    assert len(runs) == 2
    assert not background.progress(tiny_shop).running


class _Done:
    stdin = None

    def poll(self) -> int:
        return 0


def test_two_workers_are_one(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tiny_shop / "database"
    home.mkdir()
    (home / ".refresh-wanted").touch()
    monkeypatch.setattr(background, "refresh", lambda *_: pytest.fail("it must leave this to the other"))
    with FileLock(home / ".refresh-waiting"):
        background.work(tiny_shop)
    assert (home / ".refresh-wanted").exists()


@pytest.mark.slow
def test_a_refresh_that_is_killed_leaves_the_last_database(tiny_shop: Path) -> None:
    """Killed at ten moments of its run; the last published database opens each time, and the next refresh is whole."""
    (tiny_shop / "inbox" / "sales.csv").write_text(SALES, encoding="utf-8")
    background.start(tiny_shop)
    wait(ended(tiny_shop))
    first = newest(tiny_shop)
    for part in range(10):
        (tiny_shop / "inbox" / "odd.csv").write_text(f"colour;weather\nred;{part}\n", encoding="utf-8")
        background.start(tiny_shop)
        worker = background._started[-1]
        time.sleep(0.3 * part)
        os.kill(worker.pid, signal.SIGKILL)
        worker.wait()
        with open_newest(tiny_shop) as con:
            assert con.execute("select sum(price_cents) from records.sales").fetchall() == [(6000,)]
        told = background.progress(tiny_shop)
        assert told.fault or not told.running or (tiny_shop / "database" / ".refresh-wanted").exists()
    background.start(tiny_shop)
    wait(ended(tiny_shop))
    assert background.progress(tiny_shop).fault == ""
    assert newest(tiny_shop) != first


@pytest.mark.parametrize("text", ["[", "[" * 100_000, "null", '{"running": 1, "more": 2}'])
def test_news_that_nobody_can_read_are_none(tiny_shop: Path, text: str) -> None:
    home = tiny_shop / "database"
    home.mkdir()
    (home / ".refresh.json").write_text(text, encoding="utf-8")
    assert background.progress(tiny_shop) == background.Progress()
