"""A slice of `python -m tests.hard.faults`: each way in which the tool writes, refused or killed at a step of it."""

import errno
from pathlib import Path
from random import Random

import pytest

from pipeline import mapping
from pipeline.errors import UserError
from pipeline.pages import inbox
from pipeline.quoting import saved_quotes
from pipeline.shop import load
from tests.hard import scene
from tests.hard.trials import Trials
from tests.hard.windows import rules_of_windows
from tests.refreshed import refreshed


@pytest.fixture(scope="module")
def trials(tmp_path_factory: pytest.TempPathFactory) -> Trials:
    home = tmp_path_factory.mktemp("faults")
    shop = scene.make(home / "shop")
    refreshed(shop)
    return Trials(shop, home / "scratch")


def test_what_is_refused_or_killed_is_not_done_and_can_be_done_then(trials: Trials) -> None:
    random = Random(20261130)
    problems = []
    for name in scene.WRITES:
        before, after, steps = trials.undisturbed(name)
        assert scene.differing(before, after) and steps > 3, name
        problems += trials.trial(name, *trials.drawn(name, random))
    assert problems == []


def test_what_takes_two_steps_is_never_half_done(trials: Trials) -> None:
    """An earlier file that makes room for its later copy, and an entry that is taken back by a mend."""
    problems = []
    for name, every in (("a later copy in place", 1), ("an entry that was read taken back", 4)):
        for at in range(1, trials.undisturbed(name)[2] + 1, every):
            for how in ((None, False), (errno.EIO, at % 2 == 0)):
                problems += trials.trial(name, at, how)
    assert problems == []


def test_each_write_keeps_to_windows_rules_of_names_and_open_files(trials: Trials) -> None:
    for name, write in scene.WRITES.items():
        _, after, _ = trials.undisturbed(name)
        folder = trials.fresh(name)
        act = write.ready(folder)
        with rules_of_windows(trials.scratch):
            act()
        assert scene.view(folder) == after, name


def test_the_rules_of_windows_are_kept(tmp_path: Path) -> None:
    """What the test above leans on: each of them refuses."""
    plain = tmp_path / "a.csv"
    for path in (plain, tmp_path / "c"):
        path.touch()
    with rules_of_windows(tmp_path):
        for name in ("con", "Aux.csv", "a:b.csv", "a.", "a ", "lpt1 .toml"):
            for act in ((tmp_path / name).touch, (tmp_path / name).mkdir, lambda at=name: plain.rename(tmp_path / at)):
                with pytest.raises(OSError):
                    act()
        with plain.open() as held:
            for act in (
                plain.unlink,
                lambda: plain.rename(tmp_path / "b.csv"),
                lambda: (tmp_path / "c").replace(plain),
            ):
                with pytest.raises(PermissionError):
                    act()
        assert held.closed
        plain.rename(tmp_path / "b.csv").unlink()


def test_no_name_that_a_maker_gives_is_one_that_windows_refuses(trials: Trials) -> None:
    """A shop goes from one machine to another: so these are no names on any of them."""
    folder = trials.fresh("a file dropped")
    given = ("con.csv", "AUX.csv", "nul .csv", "com1.2026.csv", "a<b>|c?.csv", "March. .csv", "a:b.csv")
    with rules_of_windows(folder):
        shop = load(folder)
        places = [inbox.drop(shop, name, scene.DROPPED + b"# %d" % n) for n, name in enumerate(given)]
        for name in places:
            (folder / "mappings" / f"{mapping.new_name([], name.removeprefix('inbox/'), '')}.toml").touch()
        for tag in ("CON", "Q.", "LPT1.A", "A-1"):
            try:
                saved_quotes.save(folder, scene.QUOTE, tag)
            except UserError as refused:
                assert refused.mend
    assert len({name.casefold() for name in places}) == len(given)
