"""The list of paired devices: damaged it lets nobody in, out of reach it is not taken for empty, and no visit fails."""

import errno
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import UserError
from pipeline.pages import devices
from pipeline.writing import whole

NOW = 1_790_000_000.0


def paired(shop: Path, name: str = "bench") -> str:
    token = devices.pair(shop, devices.new_number(shop, NOW), name, NOW)
    assert token
    return token


def names(shop: Path) -> list[str]:
    return [each.name for each in devices.devices(shop, NOW)]


def test_a_damaged_device_lets_nobody_in_and_leaves_the_sound_ones(tiny_shop: Path) -> None:
    token, path = paired(tiny_shop), tiny_shop / devices.FOLDER / "devices.json"
    (sound,) = json.loads(path.read_text(encoding="utf-8"))["devices"]
    odd: list[Any] = [None, 5, [], {}, *({**sound, name: value} for name in sound for value in (None, [], {}, True))]
    odd += [{**sound, "seen": value} for value in (float("inf"), float("nan"), "now", -1e300)]
    odd.append({**sound, "more": "of a newer form"})
    for bad in odd:
        path.write_text(json.dumps({"devices": [bad, sound]}), encoding="utf-8")
        assert names(tiny_shop) == ["bench"], bad
        assert devices.device_of(tiny_shop, token, NOW)
    path.write_text(json.dumps({"devices": [{**sound, "token_hash": "é" * 64}, sound]}), encoding="utf-8")
    assert devices.device_of(tiny_shop, token, NOW)
    for text in ("", "{", "[]", "null", '{"devices": 5}', '{"devices": {"a": 1}}', "[" * 100_000):
        path.write_text(text, encoding="utf-8")
        assert names(tiny_shop) == []
        assert devices.device_of(tiny_shop, token, NOW) is None


def test_of_two_devices_of_one_name_each_can_be_told(tiny_shop: Path) -> None:
    for name in ("bench", "bench\n", " bench 2", "\u202e"):
        paired(tiny_shop, name)
    assert sorted(names(tiny_shop)) == ["A phone", "bench", "bench 2", "bench 2 2"]


def test_a_damaged_number_lets_nobody_in(tiny_shop: Path) -> None:
    number = devices.new_number(tiny_shop, NOW)
    path = tiny_shop / devices.FOLDER / "number.json"
    sound = json.loads(path.read_text(encoding="utf-8"))
    for bad in (None, [], {}, *({**sound, name: value} for name in sound for value in (None, [], "é", True))):
        path.write_text(json.dumps(bad), encoding="utf-8")
        if bad != {**sound, "wrong_from": "é"}:
            assert devices.pair(tiny_shop, number, "x", NOW) is None, bad
    assert names(tiny_shop) == []


def test_a_list_out_of_reach_is_not_taken_for_an_empty_one(tiny_shop: Path) -> None:
    """Else a phone were told that it is no longer paired, and the next visit would write the empty list over it."""
    token, path = paired(tiny_shop), tiny_shop / devices.FOLDER / "devices.json"
    kept = path.rename(path.with_name("kept"))
    path.mkdir()  # what can't be read, whoever asks
    for asked in (
        lambda: devices.device_of(tiny_shop, token, NOW),
        lambda: devices.send_away(tiny_shop, "x", NOW),
        lambda: devices.pair(tiny_shop, devices.new_number(tiny_shop, NOW), "x", NOW),
    ):
        with pytest.raises(UserError):
            asked()
    path.rmdir()
    kept.rename(path)
    assert devices.device_of(tiny_shop, token, NOW)
    there = tiny_shop.rename(tiny_shop.with_name("elsewhere"))
    for asked in (lambda: devices.device_of(tiny_shop, token, NOW), lambda: devices.new_number(tiny_shop, NOW)):
        with pytest.raises(UserError, match="folder"):
            asked()
    assert not tiny_shop.exists(), "no folder is made where the shop's was"
    there.rename(tiny_shop)
    shutil.rmtree(tiny_shop / devices.FOLDER)
    assert devices.device_of(tiny_shop, token, NOW) is None, "deleting it sends all phones away"


def test_a_visit_is_let_in_though_it_can_t_be_noted(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    token = paired(tiny_shop)

    def full(*_: object, **__: object) -> None:
        raise whole.unwritten(tiny_shop, OSError(errno.ENOSPC, "full"))

    monkeypatch.setattr(whole, "write", full)
    assert devices.device_of(tiny_shop, token, NOW + 3600)


def test_a_clock_that_was_wrong_keeps_no_device_for_ever(tiny_shop: Path) -> None:
    token = paired(tiny_shop)
    ahead = NOW + 80 * 24 * 3600
    assert devices.device_of(tiny_shop, token, ahead)
    assert devices.device_of(tiny_shop, token, NOW), "the clock was set right again"
    assert devices.devices(tiny_shop, NOW)[0].seen == NOW
    assert devices.device_of(tiny_shop, token, NOW + devices.UNSEEN_S) is None


def test_what_leads_elsewhere_is_not_followed(tiny_shop: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir(mode=0o755)
    (tiny_shop / devices.FOLDER).symlink_to(elsewhere)
    with pytest.raises(UserError, match="leads elsewhere"):
        devices.new_number(tiny_shop, NOW)
    assert (elsewhere.stat().st_mode & 0o777, list(elsewhere.iterdir())) == (0o755, [])
