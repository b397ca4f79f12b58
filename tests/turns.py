"""What costs most of the suite takes turns by commit: a run takes a sixth of those tests, six commits all of them.

Only where the whole suite is asked for, without a name. Who names a folder, a file or a test gets all of it:
`uv run pytest tests` runs everything, `TURN=2 uv run pytest` another sixth.
"""

import os
import subprocess
from pathlib import Path
from zlib import crc32

import pytest

from tests.whole import WHOLE

TURNS = 6

ROOMS = (
    "asking", "browser", "commands", "dashboard", "estimates", "fuzz", "oracle", "published", "refresh", "reports",
    "test_disk.py", "test_sentinel.py",
)  # fmt: skip
"""Where most tests make a whole shop or drive a browser: nine tenths of the time that all tests take."""

_HERE = Path(__file__).parent


def pytest_configure(config: pytest.Config) -> None:
    """The processes of a run take the turn of the one that begins them."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        named = WHOLE or config.args_source != pytest.Config.ArgsSource.TESTPATHS
        config.stash[_TURN] = None if named else turn(os.environ.get("TURN") or _commits())
        os.environ["KERFLEDGER_TURN"] = "" if named else str(config.stash[_TURN])


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if this := config.stash.get(_TURN, None):
        terminalreporter.line(f"This was turn {this} of {TURNS} of the tests that cost most; all: uv run pytest tests")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    this = os.environ.get("KERFLEDGER_TURN")
    if not this:
        return
    waits = [item for item in items if turn_of(item.nodeid) not in (None, int(this))]
    if waits:
        config.hook.pytest_deselected(items=waits)
        items[:] = [item for item in items if turn_of(item.nodeid) in (None, int(this))]


def turn_of(test: str) -> int | None:
    """In which turn the test of this id is taken; None: in each."""
    return turn(crc32(test.encode())) if test.split("::")[0].split("/")[1] in ROOMS else None


def turn(number: int | str) -> int:
    """1 to 6, of any whole number."""
    try:
        return int(number) % TURNS or TURNS
    except ValueError:
        raise pytest.UsageError(f"TURN={number} is no number: give 1 to {TURNS}") from None


def _commits() -> int:
    """How many commits led to this one; 0 where no history is there."""
    counted = subprocess.run(["git", "rev-list", "--count", "HEAD"], cwd=_HERE, capture_output=True, text=True)
    return int(counted.stdout) if counted.returncode == 0 else 0


_TURN = pytest.StashKey[int | None]()
