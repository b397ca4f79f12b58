"""Putting a changed `shop.toml` in place, and taking the last change back: its text before is kept.

Whoever changes it says from which text: where that is no longer what stands there, nothing is written, and the
difference is told.
"""

import difflib
import json
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import blake2b
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from pipeline.errors import UserError
from pipeline.shop import checked
from pipeline.writing import whole

KEPT = ".settings"
"""The folder of the texts before each change, in the shop's own: no refresh reads it."""

MOST = 50
"""So many changes can be taken back, one after the other."""

_WAIT_S = 20.0
_LINES = 40


@dataclass(frozen=True)
class LastChange:
    """The last change that was written, in words and when; whether the file was changed by hand after it."""

    said: str
    at: str
    changed_since: bool = False


def save(folder: Path, before: bytes, after: bytes, said: str) -> None:
    """Put `after` in the place of `before`, which is kept. Raises `UserError`, and writes nothing, where the file is
    no longer that, or `after` can't be used."""
    path = folder / "shop.toml"
    checked(folder, after)
    with _alone(folder):
        now = _read(path)
        if now != before:
            what = "shop.toml was changed meanwhile, by hand or on another page; nothing was written."
            raise UserError(what, str(path), f"Look at it once more, then save. {difference(before, now)}")
        if now == after:
            return
        kept = _kept(folder)
        number = int(kept[-1].stem) + 1 if kept else 1
        told = {"said": said, "at": datetime.now(UTC).isoformat(timespec="seconds"), "after": _hash(after)}
        home = whole.make_folder(folder / KEPT)
        text = json.dumps(told | {"before": before.decode("utf-8")})
        whole.write_ahead(home / f"{number:06}.json", text, private=True)
        whole.write(path, after)
        for old in kept[: len(kept) + 1 - MOST]:
            _forget(old)


def last_change(folder: Path) -> LastChange | None:
    """The change that `undo` would take back; None where there is none."""
    now = _read(folder / "shop.toml")
    for path in reversed(_kept(folder)):
        told = _told(path)
        if not told or told["before"].encode() == now:  # of a change that never came into place
            continue
        return LastChange(told["said"], told["at"], told["after"] != _hash(now))
    return None


def undo(folder: Path) -> str:
    """Put the text before the last change in its place again; gives what that was. Raises `UserError` where the file
    was changed since."""
    path = folder / "shop.toml"
    with _alone(folder):
        now, all_kept = _read(path), _kept(folder)
        for at, kept in reversed(list(enumerate(all_kept))):
            told = _told(kept)
            if told and told["after"] == _hash(now):
                whole.write(path, told["before"].encode())
                for gone in reversed(all_kept[at:]):  # those behind it were taken back by hand
                    _forget(gone)
                return str(told["said"])
            if told and told["before"].encode() != now:
                what = "shop.toml was changed by hand since, so the change can't be taken back from here."
                mend = f"Change it by a form. What taking it back would do: {difference(now, told['before'].encode())}"
                raise UserError(what, str(path), mend)
    raise UserError("There is no change to take back.", str(path), "Change it by a form.")


def difference(before: bytes, after: bytes) -> str:
    """The lines in which two texts of `shop.toml` differ: "line 7: − `rate = 30` + `rate = 32`"."""
    one, other = (text.decode("utf-8-sig", "replace").splitlines() for text in (before, after))
    found = []
    for kind, i, j, k, m in difflib.SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        if kind != "equal":
            gone, come = (" ".join(f"{sign} `{line.strip()}`" for line in some if line.strip()) for sign, some in (
                ("−", one[i:j]), ("+", other[k:m])
            ))  # fmt: skip
            found.append(f"line {k + 1}: {f'{gone} {come}'.strip() or 'blank lines'}")
    if not found:
        return "Only its line ends differ."
    more = f"; and {len(found) - _LINES} more places" if len(found) > _LINES else ""
    return f"{'; '.join(found[:_LINES])}{more}."


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Nobody else writes the settings meanwhile."""
    path = whole.make_folder(folder / "database") / ".settings-lock"
    lock = FileLock(path, timeout=_WAIT_S)
    try:
        lock.acquire()
    except Timeout:
        raise UserError("Another page is writing shop.toml.", str(path), "Try again in a moment.") from None
    except OSError as error:
        raise whole.unwritten(path, error) from error
    try:
        yield
    finally:
        lock.release()


def _forget(kept: Path) -> None:
    with suppress(UserError):  # what was asked for is done, and a text that stays is passed over
        whole.take_away(kept)


def _read(path: Path) -> bytes:
    with whole.refusals_told(path):
        return path.read_bytes()


def _kept(folder: Path) -> list[Path]:
    home = folder / KEPT
    found = [path for path in home.glob("*.json") if path.stem.isascii() and path.stem.isdigit()]
    return sorted(found, key=lambda path: int(path.stem))


def _told(path: Path) -> dict[str, Any] | None:
    """What was kept of a change; None where the file is damaged."""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return told if all(isinstance(told[name], str) for name in ("said", "at", "after", "before")) else None
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None


def _hash(content: bytes) -> str:
    return blake2b(content, digest_size=20).hexdigest()
