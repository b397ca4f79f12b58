"""A short slice of `tests/fuzz/run.py`, over the demo's files: the rest is run by hand."""

from pathlib import Path

import pytest
from trial import one_file, own_file, read_one, seeds, whole_refresh, with_long_cells

from tests.whole import WHOLE


@pytest.fixture(scope="module")
def home(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz") / "shop"
    seeds(demo, folder)
    return folder


@pytest.mark.parametrize("first", range(0, 60 if WHOLE else 40, 10))
def test_a_damaged_file_is_read_or_named(home: Path, first: int) -> None:
    fallen = {seed: problems for seed in range(first, first + 10) if (problems := one_file(home, seed))}
    assert fallen == {}


@pytest.mark.parametrize("file", ["hours-2025.csv", "online-2025-rest.csv", "orders.csv", "receipts-2025.csv"])
def test_cells_of_a_page_each_take_no_time_of_their_square(home: Path, file: str) -> None:
    (path,) = (home / "inbox").rglob(file)
    assert read_one(home, "inbox/strange.csv", with_long_cells(path)) == []


def test_hundreds_of_columns_take_no_time_of_their_square(home: Path) -> None:
    header = ",".join(f"date {number},hours {number}" for number in range(250))
    data = f"{header}\n" + f"{','.join(['1', '2.50'] * 250)}\n" * 3
    assert read_one(home, "inbox/strange.csv", data.encode()) == []


def test_a_damaged_file_of_the_shop_s_own_is_read_or_refused_in_a_sentence(home: Path) -> None:
    fallen = {seed: problems for seed in range(20) if (problems := own_file(home, seed))}
    assert fallen == {}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2 if WHOLE else 1))
def test_a_refresh_of_damaged_files_ends_well(home: Path, tmp_path: Path, seed: int) -> None:
    assert whole_refresh(home, seed, tmp_path) == []
