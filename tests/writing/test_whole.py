"""Files put down whole or not at all, whatever the disk refuses and when."""

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.writing import whole

REFUSALS = [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EACCES]


def failing(number: int) -> Callable[..., None]:
    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    return fail


def test_text_and_bytes_are_put_in_place_as_they_are(tmp_path: Path) -> None:
    file = tmp_path / "note.csv"
    assert whole.write(file, "größe\r\n1\n") == file
    assert file.read_bytes() == "größe\r\n1\n".encode()
    whole.write(file, b"\xff\x00")
    assert file.read_bytes() == b"\xff\x00"
    assert [path.name for path in tmp_path.iterdir()] == ["note.csv"]


@pytest.mark.parametrize("number", REFUSALS)
@pytest.mark.parametrize("step", ["os.fsync", "os.replace", "pathlib.Path.open"])
def test_what_stood_there_stays_where_the_disk_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int
) -> None:
    file = tmp_path / "note.csv"
    file.write_text("before", encoding="utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(step, failing(number))
        with pytest.raises(UserError) as told:
            whole.write(file, "after")
    assert file.read_text(encoding="utf-8") == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["note.csv"]  # nothing half written is left
    assert os.strerror(number) in told.value.what
    assert told.value.where == str(file)
    assert "try again" in told.value.mend


def test_the_longest_name_that_a_disk_takes_can_be_written(tmp_path: Path) -> None:
    file = tmp_path / ("x" * 255)
    whole.write(file, "text")
    assert file.read_text(encoding="utf-8") == "text"
    with pytest.raises(UserError, match="shorter name"):
        whole.write(tmp_path / ("x" * 256), "text")


def test_a_folder_in_the_way_a_missing_one_and_a_file_for_one_are_told(tmp_path: Path) -> None:
    (tmp_path / "taken").mkdir()
    with pytest.raises(UserError, match="A folder stands where the file should be"):
        whole.write(tmp_path / "taken", "text")
    with pytest.raises(UserError, match="The folder is gone"):
        whole.write(tmp_path / "gone" / "note.csv", "text")
    (tmp_path / "file").touch()
    for wrong in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(UserError, match="A file stands where a folder should be"):
            whole.make_folder(wrong)


def test_a_new_file_is_never_put_over_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "drop.csv"
    assert whole.write_new(file, "first")
    assert not whole.write_new(file, "second")
    # a memory stick's file system has no hard links
    monkeypatch.setattr("os.link", failing(errno.EPERM))
    assert not whole.write_new(file, "third")
    assert whole.write_new(tmp_path / "other.csv", "fourth")
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"drop.csv": "first", "other.csv": "fourth"}


def test_a_system_that_syncs_no_folders_is_no_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sync = os.fsync

    def files_only(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "no")
        sync(handle)

    monkeypatch.setattr("os.fsync", files_only)
    whole.write(tmp_path / "note.csv", "text")
    assert (tmp_path / "note.csv").read_text() == "text"
