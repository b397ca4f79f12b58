"""A write on a disk that fails at one of its steps, or in a process that dies there: what is wrong with how it ends."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from pipeline.errors import UserError
from pipeline.writing.whole import UNCONFIRMED
from tests.hard.disk import REFUSALS, Killed, failing
from tests.hard.scene import WRITES, differing, view

NEVER = 10**9

How = tuple[int | None, bool]
"""What the disk says (none: the process dies), and whether it goes on saying so."""

HOWS: tuple[How, ...] = ((None, False), *((number, stays) for number in REFUSALS for stays in (False, True)))

View = dict[str, object]


@dataclass
class Trials:
    """Writes of copies of one shop, in a folder that is theirs."""

    shop: Path
    scratch: Path
    known: dict[str, tuple[View, View, int]] = field(default_factory=dict)

    def undisturbed(self, name: str) -> tuple[View, View, int]:
        """What is the maker's before and after a write, and how many steps it takes."""
        if name not in self.known:
            folder = self.fresh(name)
            act = WRITES[name].ready(folder)
            before = view(folder)
            with failing(self.scratch, NEVER) as disk:
                act()
            self.known[name] = (before, view(folder), len(disk.steps))
        return self.known[name]

    def cases(self, name: str) -> Iterator[tuple[int, How]]:
        """Every step of a write in every way."""
        for at in range(1, self.undisturbed(name)[2] + 1):
            for how in HOWS:
                yield at, how

    def drawn(self, name: str, random: Random) -> tuple[int, How]:
        """One step of a write in one way."""
        return random.randint(1, self.undisturbed(name)[2]), random.choice(HOWS)

    def trial(self, name: str, at: int, how: How) -> list[str]:
        """What is wrong where a step of a write is refused, or the process dies there.

        Right is: it is as before, or as after; what was refused is told with its place and a mend; what is not done is
        then done at once.
        """
        before, after, _ = self.undisturbed(name)
        folder = self.fresh(name)
        act = WRITES[name].ready(folder)
        told, ended = None, ""
        with failing(self.scratch, at, *how) as disk:
            try:
                act()
            except UserError as error:
                told = error
            except Killed:
                ended = "killed"
            except BaseException as error:  # of whatever kind: that is what is looked for
                ended = f"{type(error).__name__}: {error}"
        now = view(folder)
        problems = list(_wrong(now, before, after, told, ended))
        if now == before:
            problems += self._again(name, folder, after)
        said = f"{os.strerror(how[0])}{' from then on' if how[1] else ''}" if how[0] else "killed"
        step = disk.steps[at - 1] if len(disk.steps) >= at else "not reached"
        return [f"{name}, step {at} ({step}), {said}: {problem}" for problem in problems]

    def _again(self, name: str, folder: Path, after: View) -> Iterator[str]:
        try:
            WRITES[name].ready(folder)()
        except BaseException as error:
            yield f"then it can't be done: {type(error).__name__}: {error}"
            return
        if (now := view(folder)) != after:
            yield f"done again it differs: {differing(now, after)}"

    def fresh(self, name: str) -> Path:
        """The shop as it is before a write, in a folder of its own."""
        shutil.rmtree(self.scratch, ignore_errors=True)
        self.scratch.mkdir(parents=True)
        folder = shutil.copytree(self.shop, self.scratch / "shop")
        WRITES[name].before(folder)
        return folder


def _wrong(now: View, before: View, after: View, told: UserError | None, ended: str) -> Iterator[str]:
    if ended and ended != "killed":
        yield f"it ends in {ended}"
    if now not in (before, after):
        yield f"half done: beside before {differing(now, before)}, beside after {differing(now, after)}"
    if told and not (told.what and told.where and told.mend):
        yield f"it says too little: {told!s}"
    if told and now == after and not told.what.startswith(UNCONFIRMED):
        yield "it is done, and told as not done"
    if told and now == before and told.what.startswith(UNCONFIRMED):
        yield "it is not done, and told as done"
    if not told and not ended and now != after:
        yield "nothing is told, and it is not done"
