"""A changed `shop.toml` comes into place only over the text that it was made of, and can be taken back."""

import os
from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.shop import saved_settings
from pipeline.shop.saved_settings import KEPT, last_change, save, undo
from pipeline.writing import whole

BEFORE = b"\xef\xbb\xbf# mine\r\nstart = 2026-01-01\r\nname = 'A'"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "shop.toml").write_bytes(BEFORE)
    return tmp_path


def test_changes_are_taken_back_one_after_the_other_to_the_byte(shop: Path) -> None:
    texts = [BEFORE, *(BEFORE.replace(b"'A'", f"'{name}'".encode()) for name in "BCD")]
    for number, (one, other) in enumerate(pairwise(texts)):
        save(shop, one, other, f"change {number}")
    for number in (2, 1, 0):
        last = last_change(shop)
        assert last and last.said == f"change {number}"
        assert undo(shop) == f"change {number}"
        assert (shop / "shop.toml").read_bytes() == texts[number]
    assert last_change(shop) is None
    with pytest.raises(UserError, match="no change"):
        undo(shop)


def test_the_second_of_two_pages_sees_what_the_first_one_changed(shop: Path) -> None:
    save(shop, BEFORE, BEFORE.replace(b"'A'", b"'B'"), "one")
    with pytest.raises(UserError, match="changed meanwhile") as told:
        save(shop, BEFORE, BEFORE.replace(b"2026", b"2025"), "other")
    assert "line 3: − `name = 'A'` + `name = 'B'`" in told.value.mend
    assert b"'B'" in (shop / "shop.toml").read_bytes() and b"2026" in (shop / "shop.toml").read_bytes()


def test_what_was_changed_by_hand_since_is_not_lost(shop: Path) -> None:
    save(shop, BEFORE, BEFORE.replace(b"'A'", b"'B'"), "one")
    by_hand = b"# mine\nstart = 2026-01-01\nname = 'B'\ncurrency = 'EUR'\n"
    (shop / "shop.toml").write_bytes(by_hand)
    with pytest.raises(UserError, match="by hand since") as told:
        undo(shop)
    assert "− `currency = 'EUR'`" in told.value.mend
    assert (shop / "shop.toml").read_bytes() == by_hand


def test_what_was_taken_back_by_hand_bars_no_change_before_it(shop: Path) -> None:
    texts = [BEFORE, *(BEFORE.replace(b"'A'", f"'{name}'".encode()) for name in "BCD")]
    for one, other in pairwise(texts):
        save(shop, one, other, other.decode()[-3:])
    (shop / "shop.toml").write_bytes(texts[2])  # by hand, as it was before the last change
    assert undo(shop) == "'C'"
    last = last_change(shop)
    assert last and (last.said, last.changed_since) == ("'B'", False)
    assert undo(shop) == "'B'" and (shop / "shop.toml").read_bytes() == BEFORE


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such marks")
def test_who_could_not_read_the_settings_reads_no_copy_of_them(shop: Path) -> None:
    (shop / "shop.toml").chmod(0o600)
    save(shop, BEFORE, BEFORE.replace(b"'A'", b"'B'"), "one")
    assert [path.stat().st_mode & 0o777 for path in (shop / "shop.toml", *(shop / KEPT).iterdir())] == [0o600] * 2


@pytest.mark.parametrize("bad", [b"start = ", b"start = 2026-01-01\nwrong = 1\n", b"\xff", b""])
def test_what_can_t_be_used_never_comes_into_place(shop: Path, bad: bytes) -> None:
    with pytest.raises(UserError):
        save(shop, BEFORE, bad, "bad")
    assert (shop / "shop.toml").read_bytes() == BEFORE and not (shop / KEPT).exists()


def test_a_change_that_never_came_into_place_is_none(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write = whole.write

    def full(path: Path, content: str | bytes) -> Path:
        if path.name == "shop.toml":
            raise whole.unwritten(path, OSError(28, ""))
        return write(path, content)

    monkeypatch.setattr(whole, "write", full)
    with pytest.raises(UserError, match="could not be written"):
        save(shop, BEFORE, BEFORE.replace(b"'A'", b"'B'"), "one")
    monkeypatch.undo()
    assert last_change(shop) is None and (shop / "shop.toml").read_bytes() == BEFORE


@pytest.mark.parametrize("torn", ["", "{", "[]", '{"said": 1}', '{"said": "x", "at": "x", "after": "x"}'])
def test_a_torn_text_of_before_is_passed_over(shop: Path, torn: str) -> None:
    save(shop, BEFORE, BEFORE.replace(b"'A'", b"'B'"), "one")
    (shop / KEPT / "000009.json").write_text(torn, encoding="utf-8")
    (shop / KEPT / "x.json").write_text(torn, encoding="utf-8")
    assert undo(shop) == "one"


def test_only_so_many_are_kept(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(saved_settings, "MOST", 3)
    text = BEFORE
    for number in range(6):
        save(shop, text, text := BEFORE + f" # {number}".encode(), str(number))
    assert [path.stem for path in sorted((shop / KEPT).iterdir())] == ["000004", "000005", "000006"]
