"""A slice of `python -m tests.hard.faults`: each way in which the tool writes, refused or killed at a step of it."""

import errno
from random import Random

import pytest

from tests.hard import scene
from tests.hard.trials import Trials
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
