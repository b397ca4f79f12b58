"""What a change would do to the figures is what it then does; trying it changes nothing of the shop."""

import os
import time
from pathlib import Path

import pytest

from pipeline.changing import trial
from pipeline.changing.entries import stand
from pipeline.changing.figures import MONTH, PAY, PIECE, differing, figures
from pipeline.changing.plan import LATER, WORD, Change, Planned, plan
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from pipeline.shop import load, saved_settings
from tests.refreshed import refreshed

FILES = {
    "pieces": "piece,product,species,started,finished\nT-1,tray,white oak,2026-03-01,2026-03-04\n"
    "T-2,tray,my oak,2026-04-02,2026-04-05\n",
    "hours": "date,person,operation,pieces,hours\n2026-03-02,Ada,sanding,T-1,3\n2026-04-03,Ada,sanding,T-2,5\n",
    "sales": "date,channel,piece,price\n2026-03-20,market,T-1,200\n2026-04-20,market,T-2,200\n",
}
RAISE = Change(LATER, "person_rate", "Ada", typed={"from": "2026-04-01", "rate": "36"})


@pytest.fixture
def shop(tiny_shop: Path) -> Path:
    for name, text in FILES.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    (tiny_shop / "inbox" / "elsewhere.csv").symlink_to(tiny_shop.parent / "out.csv")
    (tiny_shop.parent / "out.csv").write_text(FILES["sales"].replace("200", "900"), encoding="utf-8")
    refreshed(tiny_shop)
    return tiny_shop


def planned(folder: Path, asked: Change) -> Planned:
    return plan(stand(load(folder), (folder / "shop.toml").read_bytes()), asked)


def tried(folder: Path, what: Planned) -> trial.State:
    name = trial.begin(folder, what)
    while (now := trial.state(folder, name)).running:
        time.sleep(0.05)
    trial.end(folder, name)
    return now


def contents(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file() and trial.HOME not in path.parts)
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


def test_what_was_tried_is_what_saving_does(shop: Path) -> None:
    before, kept = figures(shop, load(shop).now().date()), contents(shop)
    what = planned(shop, RAISE)
    found = tried(shop, what)
    assert contents(shop) == kept and found.fault == ""
    told = {(row["kind"], row["of"]): (row["before"], row["after"]) for row in found.differing}
    # five hours of April at 36 for 30; nothing of March
    assert told[PIECE, "T-2"] == (15000, 18000) and told[MONTH, "2026-04"] == (5000, 2000)
    assert not {of for kind, of in told if kind in (PIECE, MONTH, PAY)} - {"T-2", "2026-04"}
    saved_settings.save(shop, what.before, what.after, what.said)
    assert not refresh(load(shop)).errors
    assert differing(before, figures(shop, load(shop).now().date())) == found.differing
    saved_settings.undo(shop)
    assert not refresh(load(shop)).errors
    assert figures(shop, load(shop).now().date()) == before


def test_files_that_came_since_the_last_refresh_are_no_part_of_a_change(shop: Path) -> None:
    (shop / "inbox" / "more.csv").write_text("date,channel,piece,price\n2026-05-20,market,,70\n", encoding="utf-8")
    assert tried(shop, planned(shop, Change(WORD, "person", typed={"word": "A.", "meaning": "Ada"}))).differing == []


def test_a_trial_that_can_t_be_done_says_why(shop: Path) -> None:
    what = planned(shop, RAISE)
    found = tried(shop, Planned(what.before, b"start = 2026-01-01\nnonsense = 1\n", "x"))
    assert "nonsense" in found.fault and not found.differing
    assert trial.state(shop, "nothing").fault == "The trial is gone."


def test_what_is_left_of_a_trial_is_taken_away_by_the_next(shop: Path) -> None:
    left = shop / "database" / trial.HOME / ("0" * 32)
    left.mkdir(parents=True)
    (left / "state.json").write_text("{}", encoding="utf-8")
    trial.end(shop, trial.begin(shop, planned(shop, RAISE)))
    assert left.is_dir()  # another page may have begun it just now
    os.utime(left, (0, 0))
    trial.end(shop, trial.begin(shop, planned(shop, RAISE)))
    assert [path.name for path in (shop / "database" / trial.HOME).iterdir() if path.is_dir()] == []


def test_what_a_killed_trial_leaves_of_the_shop_goes_with_the_next(shop: Path) -> None:
    """The page that began it is still open, so what it was stays told; the copy of the shop doesn't stay."""
    name = trial.begin(shop, planned(shop, RAISE))
    process, place = trial._started[name], shop / "database" / trial.HOME / name
    process.kill()
    process.wait()
    (place / "shop" / "inbox").mkdir(parents=True, exist_ok=True)
    (place / "shop" / "inbox" / "sales.csv").write_text("mine", encoding="utf-8")
    assert "ended before" in trial.state(shop, name).fault
    trial.sweep(shop)
    assert place.is_dir() and not (place / "shop").exists()
    trial.end(shop, name)
    assert not place.exists()


def test_no_folder_but_a_trial_s_own_is_swept(shop: Path, tmp_path: Path) -> None:
    """A folder that somebody sends along may hold a link to any other."""
    mine = tmp_path / "mine"
    for name in ("letters", "0" * 32):
        (mine / name).mkdir(parents=True)
        os.utime(mine / name, (0, 0))
    home = shop / "database" / trial.HOME
    home.symlink_to(mine)
    trial.sweep(shop)
    with pytest.raises(UserError, match="A link stands"):
        trial.begin(shop, planned(shop, RAISE))
    home.unlink()
    (home / "letters").mkdir(parents=True)
    os.utime(home / "letters", (0, 0))
    trial.sweep(shop)
    assert (home / "letters").is_dir()
    assert sorted(path.name for path in mine.iterdir()) == ["0" * 32, "letters"]
