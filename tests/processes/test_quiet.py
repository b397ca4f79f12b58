"""The terminal is ours alone: what libraries say, and what stands in a cell, is neither there nor in a log."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.commands import main
from pipeline.processes.quiet import quiet
from pipeline.writing import internal_errors
from tests.refreshed import refreshed

CELL = "ADA LOVELACE"

NOISY = f"""
import logging, os, sys, threading, warnings
import polars as pl
from pipeline.commands import main
from pipeline.reports import check

def noisy(*_):
    os.write(2, b"thread '<unnamed>' panicked at {CELL}")
    warnings.warn("{CELL}")
    logging.getLogger("a").warning("{CELL}")
    thread = threading.Thread(target=lambda: 1 / 0, name="{CELL}")
    thread.start(); thread.join()
    import subprocess
    subprocess.run([sys.executable, "-c", "import os; os.write(2, b'{CELL}')"])
    print("our own", file=sys.stderr)
    raise pl.exceptions.PanicException("{CELL}") from ValueError("{CELL}")

check.findings = noisy
sys.exit(main(["check", sys.argv[1]]))
"""


def test_libraries_say_nothing_on_the_terminal_and_a_panic_is_a_fault_of_ours(bare: Path) -> None:
    environment = os.environ | {"RUST_BACKTRACE": "full"}
    for name in ("PYTHONWARNINGS", "PYTEST_VERSION"):
        environment.pop(name, None)
    ran = subprocess.run(
        [sys.executable, "-c", NOISY, str(bare)], capture_output=True, text=True, env=environment, check=False
    )
    log = bare / "database" / internal_errors.LOG
    assert ran.returncode == 3
    assert ran.stderr.splitlines()[0] == "our own"
    assert "fault of the tool, not of your files: PanicException at pipeline/commands/__init__.py" in ran.stderr
    assert str(log) in ran.stderr
    assert CELL not in ran.stderr + ran.stdout
    noted = log.read_text(encoding="utf-8")
    assert (
        "PanicException" in noted and "because of ValueError" in noted and "at pipeline/commands/__init__.py:" in noted
    )
    assert CELL not in noted


@pytest.fixture
def bare(tiny_shop: Path) -> Path:
    refreshed(tiny_shop)
    return tiny_shop


def broken(*_: object, **__: object) -> None:
    raise ZeroDivisionError(CELL)


def test_outside_of_a_shop_the_log_is_in_the_users_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("pipeline.commands.inspect.peek", broken)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "database").mkdir()  # one that belongs to nobody's shop
    assert main(["peek", "a.csv"]) == 3
    log = tmp_path / "state" / "kerfledger" / internal_errors.LOG
    assert str(log) in capfd.readouterr().err
    assert "ZeroDivisionError" in log.read_text(encoding="utf-8")
    assert CELL not in log.read_text(encoding="utf-8")
    assert not list((tmp_path / "database").iterdir())
    assert stat.S_IMODE(log.stat().st_mode) == 0o600
    assert stat.S_IMODE(log.parent.stat().st_mode) == 0o700


def test_a_log_that_others_could_read_is_closed_to_them(tmp_path: Path) -> None:
    (tmp_path / "database").mkdir()
    log = tmp_path / "database" / internal_errors.LOG
    log.write_text("before\n", encoding="utf-8")
    log.chmod(0o666)
    assert internal_errors.keep(tmp_path, ValueError(CELL)) == log
    assert stat.S_IMODE(log.stat().st_mode) == 0o600
    assert log.read_text(encoding="utf-8").startswith("before\n")
    log.chmod(0o666)
    internal_errors.note(log.parent, ["more"])
    assert stat.S_IMODE(log.stat().st_mode) == 0o600


def test_a_link_in_the_place_of_the_log_is_not_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr("sys.platform", "linux")
    (tmp_path / "database").mkdir()
    other = tmp_path / "another file"
    other.touch()
    (tmp_path / "database" / internal_errors.LOG).symlink_to(other)
    assert internal_errors.keep(tmp_path, ValueError(CELL)) == tmp_path / "state" / "kerfledger" / internal_errors.LOG
    assert other.read_bytes() == b""


def test_without_a_folder_of_their_own_the_log_is_in_a_new_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for system, names in (("linux", ("XDG_STATE_HOME", "HOME")), ("win32", ("LOCALAPPDATA",)), ("darwin", ())):
        monkeypatch.setattr("sys.platform", system)
        for name in names:
            monkeypatch.delenv(name, raising=False)
        monkeypatch.setattr(Path, "home", lambda: (_ for _ in ()).throw(RuntimeError("no home")))
        monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
        log = internal_errors.keep(None, ValueError(CELL))
        assert log and log.parent.parent == tmp_path, system
        assert stat.S_IMODE(log.parent.stat().st_mode) == 0o700
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "not there"))
    assert internal_errors.keep(None, ValueError(CELL)) is None
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_STATE_HOME", "not/absolute")  # the specification: to be passed over
    assert internal_errors.keep(None, ValueError(CELL)) is None


def test_the_terminal_is_as_it_was_afterwards(capfd: pytest.CaptureFixture[str]) -> None:
    before = sys.stderr
    with quiet():
        os.write(2, b"a library")
        print("we", file=sys.stderr)
    os.write(2, b"after")
    assert sys.stderr is before
    assert capfd.readouterr().err == "we\nafter"
