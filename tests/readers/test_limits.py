from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.readers import READERS, limits, read


def test_an_unknown_suffix_names_the_known_ones(tmp_path: Path):
    path = tmp_path / "a.psd"
    path.touch()
    with pytest.raises(UserError) as refused:
        read(path)
    assert all(suffix in str(refused.value) for suffix in READERS)


def test_a_file_that_is_not_there(tmp_path: Path):
    with pytest.raises(UserError, match="no such file"):
        read(tmp_path / "a.csv")


def test_too_large_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "a.csv"
    path.write_text("a,b\n1,2\n")
    monkeypatch.setattr(limits, "FILE_BYTES", 7)
    with pytest.raises(UserError, match="at most"):
        read(path)


def test_too_many_cells(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "a.csv"
    path.write_text("a,b\n1,2\n3,4\n")
    monkeypatch.setattr(limits, "CELLS", 5)
    with pytest.raises(UserError, match="more than 5 cells"):
        read(path)


def test_too_long_a_cell(tmp_path: Path):
    path = tmp_path / "a.csv"
    path.write_text(f"a,b\n1,{'x' * (limits.CELL_BYTES + 1)}\n2,y\n")
    with pytest.raises(UserError, match="A cell holds"):
        read(path)
