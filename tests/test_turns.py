"""Four runs take every test, and each of them all that costs little."""

import os
from collections import Counter
from pathlib import Path

import pytest

from tests.turns import ROOMS, TURNS, pytest_collection_modifyitems, turn, turn_of


class Item:
    def __init__(self, nodeid: str) -> None:
        self.nodeid = nodeid


def taken(monkeypatch: pytest.MonkeyPatch, this: str, ids: list[str]) -> list[str]:
    """Those of the tests that a run takes; the others are said to be left out."""
    left: list[Item] = []
    monkeypatch.setitem(os.environ, "KERFLEDGER_TURN", this)
    config = type("Config", (), {"hook": type("Hook", (), {"pytest_deselected": lambda items: left.extend(items)})})
    items = [Item(name) for name in ids]
    pytest_collection_modifyitems(config, items)
    assert {item.nodeid for item in items + left} == set(ids)
    return [item.nodeid for item in items]


def test_six_turns_take_what_costs_most_once_and_what_costs_little_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    costly = [f"tests/browser/test_open.py::test_page[{n}]" for n in range(400)] + ["tests/test_disk.py::test_full"]
    little = ["tests/sql/test_macros.py::test_share", "tests/test_house.py::test_top"]
    runs = [taken(monkeypatch, str(nth), costly + little) for nth in range(1, TURNS + 1)]
    assert Counter(name for run in runs for name in run) == {**dict.fromkeys(costly, 1), **dict.fromkeys(little, 6)}
    assert all(53 < len(run) < 80 for run in runs)
    assert taken(monkeypatch, "", costly + little) == costly + little


def test_every_room_that_takes_turns_is_there() -> None:
    assert [room for room in ROOMS if not (Path(__file__).parent / room).exists()] == []
    assert turn_of("tests/sql/test_macros.py::test_share") is None


def test_every_number_is_a_turn() -> None:
    assert [turn(number) for number in (0, 1, 6, 7, "1443")] == [6, 1, 6, 1, 3]
    with pytest.raises(pytest.UsageError, match="TURN=soon is no number: give 1 to 6"):
        turn("soon")
