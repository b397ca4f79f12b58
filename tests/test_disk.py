"""What a disk can do to a shop: full, read-only, gone, something else in a place, a damaged database, an odd name.

Each ends in one sentence and exit 2; the last database and the maker's files stay as they were. What pages write is
refused step by step in `tests/hard/`.
"""

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from pipeline import database
from pipeline.commands import main
from pipeline.errors import UserError
from pipeline.pages import actions
from pipeline.shop import FOLDERS

Capture = pytest.CaptureFixture[str]

PURCHASES = "date,item,category,quantity,unit,amount\n2026-02-01,gloves,consumable,10,each,12.00\n"
PIECES = "piece,product,finished\nT-1,tray,2026-02-03\nT-2,tray,2026-03-03\n"
SETTINGS = 'currency = "EUR"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'


@pytest.fixture(scope="module")
def refreshed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("disk") / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "inbox" / "purchases.csv").write_text(PURCHASES, encoding="utf-8")
    (folder / "inbox" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    assert main(["refresh", str(folder)]) == 0
    return folder


@pytest.fixture
def shop(refreshed: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    shutil.copytree(refreshed, folder)
    return folder


def files(folder: Path) -> dict[str, bytes]:
    """All files of a shop with their content, without locks and notes of how far a refresh is."""
    found = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def refused(capsys: Capture, *call: str | Path) -> str:
    """What a call that must end in one sentence and exit 2 says."""
    capsys.readouterr()
    assert main([str(part) for part in call]) == 2, capsys.readouterr()
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert "fault of the tool" not in told
    what, where, mend, *more = told.strip().split("\n")
    assert what.endswith((".", "?"))
    assert where.startswith("  where: ")
    assert mend.startswith("  mend:  ")
    assert not more
    return told


def writing(shop: Path) -> dict[str, list[str | Path]]:
    """Every command that writes."""
    return {
        "refresh": ["refresh", shop, "--all"],
        "new": ["new", shop / "other"],
        "demo": ["demo", shop / "demo", "--no-show"],
        "map": ["map", shop, "inbox/purchases.csv", "--save"],
        "close": ["close", shop, "2026-02"],
        "month": ["report", shop, "--month", "2026-02"],
        "year": ["report", shop, "--year", "2026"],
        "parquet": ["export", shop],
        "csv": ["export", shop, "--format", "csv"],
        "set aside": ["check", shop, "--set-aside", shop / "mend.csv"],
    }


READING = ("check", "trace", "close", "report", "export", "quote")


def reading(shop: Path) -> dict[str, list[str | Path]]:
    """Every command that reads the published database."""
    return {
        "check": ["check", shop],
        "trace": ["trace", shop, "T-1"],
        "close": ["close", shop, "2026-02"],
        "report": ["report", shop, "--month", "2026-02"],
        "export": ["export", shop],
        "quote": ["quote", shop, "--product", "tray"],
    }


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES], ids=errno.errorcode.get)
def test_every_command_tells_what_a_disk_refuses(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, number: int
) -> None:
    bad = "date,person,operation,hours\nsoon,Ada,sanding,1:00\n"
    (shop / "inbox" / "hours.csv").write_text(bad, encoding="utf-8")
    assert main(["refresh", str(shop)]) == 0
    before = files(shop)

    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    for name, call in writing(shop).items():
        if name == "demo":
            continue  # its files are the made ones; see below
        with monkeypatch.context() as patched:
            patched.setattr("os.fsync" if number != errno.EACCES else "os.replace", fail)
            told = refused(capsys, *call)
        assert os.strerror(number) in told, name
        shutil.rmtree(shop / "other", ignore_errors=True)
    assert files(shop) == before


def test_half_a_demo_shop_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("sample_data.settings.shop_toml", fail)  # the last that is written
    folder = tmp_path / "demo"
    assert str(folder) in refused(capsys, "demo", folder, "--no-show")
    assert not folder.exists()


@pytest.mark.parametrize("name", FOLDERS)
def test_a_file_in_the_place_of_a_folder_is_named(shop: Path, capsys: Capture, name: str) -> None:
    shutil.rmtree(shop / name, ignore_errors=True)
    (shop / name).write_text("not a folder", encoding="utf-8")
    for call in (["refresh", shop], ["check", shop], ["where", shop]):
        told = refused(capsys, *call)
        assert str(shop / name) in told
        assert "A file stands where a folder should be" in told
    with pytest.raises(UserError, match="A file stands where a folder should be"):
        actions.log_state(shop)


def test_what_is_no_shop_is_told(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "file").touch()
    (tmp_path / "empty").mkdir()
    (tmp_path / "folder" / "shop.toml").mkdir(parents=True)
    (tmp_path / "bytes").mkdir()
    (tmp_path / "bytes" / "shop.toml").write_bytes(b"\xff\x00name")
    (tmp_path / "nothing").mkdir()
    (tmp_path / "nothing" / "shop.toml").touch()
    for name in ("file", "file/below", "gone", "empty", "folder", "bytes", "nothing"):
        for call in reading(tmp_path / name).values():
            refused(capsys, *call)
        for command in ("refresh", "where"):
            refused(capsys, command, tmp_path / name)
    assert "This is a file" in refused(capsys, "refresh", tmp_path / "file")


def test_a_folder_that_may_not_be_read_does_not_empty_the_books(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    allowed = os.access
    # a test run by root may read everything
    monkeypatch.setattr("os.access", lambda path, mode: Path(path).name != "inbox" and allowed(path, mode))
    before = files(shop)
    assert "You may not read this folder" in refused(capsys, "refresh", shop)
    assert files(shop) == before


def test_a_database_folder_that_vanishes_during_a_refresh_is_told(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    from pipeline.database.run import run_checks

    checks = run_checks

    def vanishing(*given: object) -> object:
        found = checks(*given)  # type: ignore[arg-type]
        shutil.rmtree(shop / "database")
        return found

    with monkeypatch.context() as patched:
        patched.setattr("pipeline.refresh.refresh.run_checks", vanishing)
        refused(capsys, "refresh", shop, "--all")
    assert main(["refresh", str(shop)]) == 0


def damaged(path: Path) -> Iterator[bytes]:
    whole = path.read_bytes()
    yield b""
    yield b"not a database at all"
    yield whole[:100]
    yield whole[:4096]
    yield whole[: len(whole) // 2]
    yield b"\x00" * len(whole)
    yield whole[:12288] + os.urandom(len(whole) - 12288)


def test_a_damaged_database_is_told_and_a_refresh_mends_it(shop: Path, capsys: Capture) -> None:
    path = database.newest(shop)
    assert path
    for content in list(damaged(path)):
        path.write_bytes(content)
        for call in reading(shop).values():
            refused(capsys, *call)
    capsys.readouterr()
    assert main(["refresh", str(shop)]) == 0
    assert main(["check", str(shop)]) == 0
    assert database.newest(shop) != path


def test_an_older_versions_database_is_told(shop: Path, capsys: Capture) -> None:
    path = database.newest(shop)
    assert path
    made = path.read_bytes()
    for change in (
        "drop schema checks cascade; drop schema cost cascade; drop schema price cascade; drop schema money cascade",
        "alter table checks.result drop column meaning; alter table cost.movement drop column layer;"
        "alter table money.month drop column whole; alter table price.today drop column unit;"
        "alter table settings.shop drop column currency",
    ):
        path.write_bytes(made)
        with duckdb.connect(str(path)) as con:
            con.execute(change)
        codes = {name: main([str(part) for part in call]) for name, call in reading(shop).items()}
        told = capsys.readouterr().err
        assert "fault of the tool" not in told, change
        assert 2 in codes.values(), change
        assert set(codes.values()) <= {0, 1, 2}


ODD = "-a*c[e]f\"g'h;i%j#k\nl ü=~$&<{m}>|!^`é" + "x" * 150


@pytest.mark.skipif(os.name == "nt", reason="Windows allows no such names")
def test_a_shop_of_an_odd_name_works(tmp_path: Path, capsys: Capture, refreshed: Path) -> None:
    folder = tmp_path / ODD
    assert main(["new", str(folder), "--start", "2026-01-01"]) == 0
    (folder / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    for file in (refreshed / "inbox").iterdir():
        shutil.copy(file, folder / "inbox")
    assert main(["refresh", str(folder)]) == 0
    assert [path.name for path in (folder / "database").glob("shop-*")] == ["shop-000001.duckdb"]
    assert main(["map", str(folder), "inbox/purchases.csv", "--save"]) == 0
    calls = reading(folder)
    codes = {name: main([str(part) for part in calls[name]]) for name in READING if name != "quote"}
    assert set(codes.values()) == {0}, codes
    with database.open_newest(folder) as con:
        assert con.execute("select count(*) from records.purchases").fetchall() == [(1,)]
    capsys.readouterr()


@pytest.mark.skipif(os.name == "nt", reason="Windows allows no such names")
@pytest.mark.parametrize("name", ["a\\b", "a?b", os.fsdecode(b"caf\xe9")], ids=ascii)
def test_a_name_that_the_database_can_not_have_is_refused(
    tmp_path: Path, capsys: Capture, name: str, refreshed: Path
) -> None:
    folder = tmp_path / name / "shop"
    for call in (["new", folder], ["demo", folder, "--no-show"]):
        assert "Give the folder another name" in refused(capsys, *call)
    assert not (tmp_path / name).exists()
    shutil.copytree(refreshed, folder)
    for call in (["refresh", folder], *reading(folder).values()):
        assert "Give the folder another name" in refused(capsys, *call)
    (tmp_path / "plain").symlink_to(folder)
    refused(capsys, "refresh", tmp_path / "plain")


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root mounts a small disk")
def test_a_disk_that_is_really_full(refreshed: Path, tmp_path: Path, capsys: Capture) -> None:
    small = tmp_path / "small"
    small.mkdir()
    room = f"size={sum(map(len, files(refreshed).values())) + 2**20}"
    if subprocess.run(["mount", "-t", "tmpfs", "-o", room, "none", str(small)], check=False).returncode:
        pytest.skip("no disk may be mounted here")
    try:
        shop = small / "shop"
        shutil.copytree(refreshed, shop)
        assert _said("refresh", shop, "--all").startswith("It could not be written: No space left on device.")
        shutil.rmtree(shop / "database" / ".read")  # it may be deleted at any time, and would give room
        before = files(shop)
        (small / "ballast").write_bytes(b"x" * (os.statvfs(small).f_bavail * os.statvfs(small).f_frsize))
        for name, call in writing(shop).items():
            if name == "set aside":
                continue  # no row is
            assert refused(capsys, *call).startswith("It could not be written: No space left on device."), name
        assert files(shop) == before
        (small / "ballast").unlink()
        assert (
            subprocess.run([sys.executable, "-m", "pipeline.commands", "check", str(shop)], check=False).returncode == 0
        )
    finally:
        subprocess.run(["umount", str(small)], check=True)


def _said(*call: str | Path) -> str:
    words = [sys.executable, "-m", "pipeline.commands", *map(str, call)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done
    return done.stderr
