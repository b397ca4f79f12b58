"""Several answers in one call: what was taken is said and worked in, whatever else is refused."""

import errno
import json
from pathlib import Path

import pytest

from pipeline.commands import main
from pipeline.database import newest
from pipeline.shop import load
from pipeline.writing import whole
from tests.asking.test_answers import FOREIGN, asked, shop

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """A shop with two questions about a word each."""
    looks = FOREIGN["looks.csv"].replace("none,accept", "none,let go")
    made = shop(tmp_path / "mine", {"looks.csv": looks})
    assert [each["kind"] for each in asked(made)] == ["word", "word"]
    return made


def published(folder: Path, capsys: Capture) -> list[str]:
    """What the newest database asks."""
    capsys.readouterr()
    main(["answer", str(folder), "--json"])
    return [each["ask"] for each in json.loads(capsys.readouterr().out)]


@pytest.mark.parametrize("answers", [("1=1", "7=1"), ("7=1", "1=1"), ("1=1", "2=99"), ("1=1", "2=two")])
def test_what_was_taken_is_said_and_worked_in_though_another_is_refused(
    mine: Path, capsys: Capture, answers: tuple[str, ...]
) -> None:
    first, second = published(mine, capsys)
    wrong = next(answer for answer in answers if answer != "1=1")
    assert main(["answer", str(mine), *answers]) == 2
    told = capsys.readouterr()
    assert first in told.out
    assert "It stands in" in told.out
    assert f"Not taken: {wrong}." in told.err
    assert "mend:" in told.err
    assert len(load(mine).words["action"]) == 1
    assert published(mine, capsys) == [second]


def test_as_json_what_was_not_taken_stands_beside_the_refresh(mine: Path, capsys: Capture) -> None:
    assert main(["answer", str(mine), "1=1", "7=1", "--json"]) == 2
    told = capsys.readouterr()
    assert json.loads(told.out)["published"]
    assert "Not taken: 7=1." in told.err


def test_nothing_taken_needs_no_refresh(mine: Path, capsys: Capture) -> None:
    before = newest(mine)
    assert main(["answer", str(mine), "7=1", "8=1"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert [f"Not taken: {wrong}." in told.err for wrong in ("7=1", "8=1")] == [True, True]
    assert newest(mine) == before


def test_a_full_disk_at_the_second_answer_is_told_of_it_alone(
    mine: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    asks = published(mine, capsys)
    written = []

    def write(path: Path, content: bytes | str) -> None:
        if path.name == "shop.toml":
            written.append(path)
            if len(written) == 2:
                raise whole.unwritten(path, OSError(errno.ENOSPC, "full"))
        actual(path, content)

    actual = whole.write
    monkeypatch.setattr(whole, "write", write)
    assert main(["answer", str(mine), "1=1", "2=1"]) == 2
    told = capsys.readouterr()
    assert "Not taken: 2=1." in told.err
    assert "No space left" in told.err
    assert "shop.toml" in told.err.partition("where:")[2]
    assert asks[0] in told.out
    assert published(mine, capsys) == asks[1:]
