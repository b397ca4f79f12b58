"""A shop that is gone is the same again from its backup; an archive that is none is refused, and leaves nothing."""

import shutil
import stat
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from pipeline import backups
from pipeline.backups import back_up, named, restore
from pipeline.commands import main
from pipeline.database import newest
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.changing.test_trial import FILES
from tests.refreshed import TINY_SHOP, refreshed
from tests.table_sets import differing

ON = date(2026, 6, 1)
MINE = {
    "inbox/bills/Rechnung (Nr. 1) – é🪵.csv": b"date,item,amount\r\n2026-03-01,glue,5\r\n",
    "inbox/.till.csv.before": b"kept",
    "log/2026-03-05.csv": b"",
    "quotes/Q-1.txt": b"\x00\xff",
    "reports/2026-03.html": b"<html>",
    ".settings/000001.json": b"{}",
    "notes.txt": b"mine",
    "inbox/half of a table.part": b"mine too",
}


@pytest.fixture
def shop(tiny_shop: Path) -> Path:
    for name, text in FILES.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    for own, content in MINE.items():
        (tiny_shop / own).parent.mkdir(parents=True, exist_ok=True)
        (tiny_shop / own).write_bytes(content)
    return tiny_shop


def files(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file())
    own = {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}
    return {name: content for name, content in own.items() if not name.startswith(backups.LEFT_OUT)}


def test_a_shop_that_is_gone_is_the_same_again(shop: Path, tmp_path: Path) -> None:
    refreshed(shop)
    (shop / ".shop-floor").mkdir()
    (shop / ".shop-floor" / "key.pem").write_text("secret", encoding="utf-8")
    assert not refresh(load(shop), on=ON).errors
    mine, database = files(shop), newest(shop)
    assert database
    before = shutil.copy(database, tmp_path / "before.duckdb")
    archive = tmp_path / "away" / "shop.zip"
    archive.parent.mkdir()
    assert main(["backup", str(shop), "--to", str(archive)]) == 0
    shutil.rmtree(shop)
    assert main(["restore", str(archive), str(shop)]) == 0
    assert files(shop) == mine and not (shop / "database").exists() and not (shop / ".shop-floor").exists()
    again = refresh(load(shop), on=ON).published
    assert again and differing(Path(before), again) == []


def test_nothing_that_is_there_is_written_over(shop: Path, tmp_path: Path) -> None:
    archive = tmp_path / "shop.zip"
    back_up(shop, archive)
    for wrong in (archive, shop / "in-it.zip"):
        with pytest.raises(UserError):
            back_up(shop, wrong)
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "mine.txt").write_text("mine", encoding="utf-8")
    for there in (tmp_path / "taken", archive, shop):
        before = files(tmp_path)
        with pytest.raises(UserError, match="there already"):
            restore(archive, there)
        assert files(tmp_path) == before
    (tmp_path / "empty").mkdir()
    assert restore(archive, tmp_path / "empty") == len(files(shop)) == len(files(tmp_path / "empty"))


def test_what_is_linked_from_elsewhere_stays_there(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    (shop / "inbox" / "link.txt").symlink_to(tmp_path / "secret.txt")
    (shop / "inbox" / "folder").symlink_to(tmp_path)
    (shop / ".shop-floor").mkdir()
    (shop / ".shop-floor" / "key.pem").write_text("secret", encoding="utf-8")
    (shop / "inbox" / "link of the floor.txt").symlink_to(shop / ".shop-floor" / "key.pem")
    (shop / "inbox" / f".{'0' * 32}.part").write_text("not whole yet", encoding="utf-8")
    back_up(shop, tmp_path / "shop.zip")
    with zipfile.ZipFile(tmp_path / "shop.zip") as archive:
        assert not [
            name for name in archive.namelist() if "link" in name or "folder" in name or name.endswith("0.part")
        ]


def entry(name: str, mode: int = stat.S_IFREG | 0o644) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo("x")
    info.filename = info.orig_filename = name
    info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, mode << 16
    return info


def made(path: Path, *entries: tuple[zipfile.ZipInfo, bytes], settings: str = TINY_SHOP) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("shop.toml", settings)
        for info, content in entries:
            archive.writestr(info, content)
    return path


@pytest.mark.parametrize(
    "name",
    [
        "/etc/out.txt", "../out.txt", "inbox/../../out.txt", "..\\out.txt", "inbox\\..\\..\\out.txt", "\\out.txt",
        "C:\\out.txt", "c:/out.txt", "./out.txt", "inbox//out.txt", "..", ".", "inbox/..", "//host/out.txt",
        "\\\\host\\out.txt", "/",
    ],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(UserError, match="leads elsewhere"):
        restore(made(tmp_path / "a.zip", (entry(name), b"out")), tmp_path / "shop")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.zip"]


@pytest.mark.parametrize("mode", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFBLK, stat.S_IFCHR, stat.S_IFSOCK])
def test_only_files_come_out(tmp_path: Path, mode: int) -> None:
    with pytest.raises(UserError, match="neither a file nor a folder"):
        restore(made(tmp_path / "a.zip", (entry("inbox", mode | 0o777), b"/etc")), tmp_path / "shop")
    assert not (tmp_path / "shop").exists()


def of_two_names(path: Path) -> Path:
    with pytest.warns(UserWarning, match="Duplicate"):
        return made(path, (entry("shop.toml"), b"start = 2020-01-01"))


def cut(path: Path) -> Path:
    made(path, (entry("a.csv"), b"a" * 5000))
    path.write_bytes(path.read_bytes()[:-40])
    return path


def torn(path: Path) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("shop.toml", TINY_SHOP)
        archive.writestr("a.csv", "a" * 5000)
    content = bytearray(path.read_bytes())
    content[content.index(b"aaaa") + 9] = 98
    path.write_bytes(content)
    return path


def no_zip(path: Path) -> Path:
    path.write_bytes(b"PK\x03\x04 no more")
    return path


def no_shop(path: Path) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("inbox/a.csv", "a")
    return path


def a_file_as_a_folder(path: Path) -> Path:
    return made(path, (entry("a"), b"file"), (entry("a/b"), b"file"))


def nothing(path: Path) -> Path:
    return path


@pytest.mark.parametrize("made_by", [of_two_names, cut, torn, no_zip, no_shop, a_file_as_a_folder, nothing])
def test_what_is_no_backup_leaves_nothing(tmp_path: Path, made_by: Callable[[Path], Path]) -> None:
    with pytest.raises(UserError):
        restore(made_by(tmp_path / "a.zip"), tmp_path / "shop")
    assert not (tmp_path / "shop").exists()


def test_an_archive_that_unpacks_without_end_is_refused_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backups, "ALWAYS_TAKEN", 1000)
    with pytest.raises(UserError, match="more than so small"):
        restore(made(tmp_path / "a.zip", (entry("a.csv"), b"\0" * 5_000_000)), tmp_path / "shop")
    monkeypatch.setattr(backups, "MOST_FILES", 2)
    with pytest.raises(UserError, match="too many files"):
        restore(made(tmp_path / "b.zip", (entry("a"), b""), (entry("b"), b"")), tmp_path / "shop")
    assert not (tmp_path / "shop").exists()


def test_a_restore_that_is_cut_off_is_no_shop(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when the computer goes off: nothing tidies up, and what is there must not pass for a whole shop."""
    back_up(shop, tmp_path / "shop.zip")
    there = []

    def noted(opened: object, info: zipfile.ZipInfo, path: Path, archive: str) -> None:
        there.append(path.name)

    monkeypatch.setattr(backups, "_unpack", noted)
    restore(tmp_path / "shop.zip", tmp_path / "again")
    assert there[-1] == "shop.toml" and len(there) == len(files(shop))


def test_a_file_that_goes_while_the_shop_is_weighed_weighs_nothing(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, gone = backups.size(shop), shop / "notes.txt"
    listed = list(backups._files(shop))
    monkeypatch.setattr(backups, "_files", lambda folder: iter(listed))
    gone.unlink()
    assert backups.size(shop) == whole - len(MINE["notes.txt"])


def test_a_database_that_is_sent_along_is_left_out(tmp_path: Path) -> None:
    sent = made(tmp_path / "a.zip", (entry("database/shop-000001.duckdb"), b"x"), (entry(".shop-floor/key"), b"x"))
    assert restore(sent, tmp_path / "shop") == 1
    assert [path.name for path in (tmp_path / "shop").iterdir()] == ["shop.toml"]


def test_a_backup_is_named_by_its_shop_and_day(tmp_path: Path) -> None:
    assert named(tmp_path / "my/shop: 1", ON) == "shop_ 1 2026-06-01.zip"
