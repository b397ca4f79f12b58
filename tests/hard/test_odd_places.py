"""A clock that goes back, a machine without HOME and language, a zone and a path as hardly anybody has."""

import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from pipeline import database
from pipeline.pages import daylog, inbox
from pipeline.refresh import corrections
from pipeline.shop import Shop, load
from tests.refreshed import begun

HOURS = "date,person,operation,pieces,hours\n2026-03-02,Ada,sanding,T-1,1:30\n2026-03-03,Ada,Schleifen,T-1,0:45\n"


@pytest.fixture
def shop(tiny_shop: Path) -> Path:
    (tiny_shop / "inbox" / "hours – März.csv").write_text(HOURS, encoding="utf-8")
    (tiny_shop / "inbox" / "pieces.csv").write_text("piece,product,finished\nT-1,tray,2026-03-04\n", encoding="utf-8")
    return tiny_shop


def test_the_later_of_two_mends_counts_though_the_clock_was_put_back(shop: Path) -> None:
    (shop / "mends").mkdir()
    last = "page-29991231-235959-999999.csv"
    for name in (last, "page-my own.csv"):
        (shop / "mends" / name).write_text("", encoding="utf-8")
    opened = load(shop)
    names = [last]
    for _ in range(3):
        names.append(inbox.new_name(opened))
        corrections.save(opened, names[-1], "")
    assert names == sorted(set(names))


def test_a_timer_over_which_the_clock_was_put_back_is_ended_or_refused_in_a_sentence(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = load(shop)
    timer = daylog.start(opened, {"operation": "sanding"})
    now = datetime.now().astimezone()
    monkeypatch.setattr(Shop, "now", lambda _: now - timedelta(hours=1))
    row = daylog.stop(opened, timer.id).cells
    # nobody knows how long it was: a second stands for it, and its times say no more than that
    assert row["hours"] == "0:00:01"
    assert daylog.state(opened).timers == []


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such language")
def test_no_home_no_language_an_odd_zone_and_path_are_no_matter(shop: Path, tmp_path: Path) -> None:
    odd = tmp_path / ("Zoë's “shop” & Söhne, №5 " + "x" * 170)
    begun(shop).rename(odd)
    call = [sys.executable, "-m", "pipeline.commands", "refresh", str(odd)]
    bare = {name: os.environ[name] for name in ("PATH", "PYTHONPATH") if name in os.environ}
    bare |= {"LC_ALL": "C", "TZ": "Pacific/Chatham", "PYTHONHASHSEED": "7"}
    done = subprocess.run(call, env=bare, capture_output=True, check=False, cwd=Path(__file__).parents[2])
    assert done.returncode == 0, done.stderr
    with database.open_newest(odd) as con:
        # an hour and a half, and three quarters of one, of which the word for sanding is German, at 30.00
        assert con.execute("select piece, labour_cents from cost.piece").fetchall() == [("T-1", 4500 + 2250)]
        assert con.execute("select file from intake.file order by file").fetchall() == [
            ("inbox/hours – März.csv",), ("inbox/pieces.csv",)
        ]  # fmt: skip
