"""The paired phones of a shop: which device may write to the log from the shop floor, and how a new one is let in.

A device is paired by a short number that the page at the computer shows: it holds for some minutes, for one device, and
dies after a few wrong tries. The device then has a random token; here stands only the token's hash. What is damaged
lets nobody in; what is out of reach (the disk, the whole folder) is a `UserError`, and never taken for an empty list.
Times are seconds since 1970, as the caller's clock says them.
"""

import hashlib
import hmac
import json
import os
import secrets
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, TypeVar

from filelock import FileLock, Timeout

from pipeline.errors import UserError
from pipeline.writing import whole

FOLDER = ".shop-floor"
"""What only this computer's own programs may see: the devices, the certificate and its key. It may be deleted."""

DIGITS = 8
HOLDS_S = 5 * 60
WRONG_TRIES = 5
MOST_DEVICES = 20
LONGEST_NAME = 40
UNSEEN_S = 90 * 24 * 3600
"""A device that was not seen for so long must be paired anew."""

_DEVICES, _NUMBER, _LOCK = "devices.json", "number.json", ".lock"
_SEEN_EVERY_S, _LOCK_WAIT_S = 60, 5.0
_LAST_S = 250_000_000_000
"""No later time is a day of our calendar."""


class TooManyError(UserError):
    """As many devices are paired as can be; only who has the right number is told so."""


@dataclass(frozen=True)
class Device:
    """A paired device: what its holder calls it, the hash of its token, when it was paired and last seen."""

    id: str
    name: str
    token_hash: str
    paired: float
    seen: float


@dataclass(frozen=True)
class Number:
    """The number that lets the next device in, as a salted hash; how many wrong ones were tried, last by whom."""

    salt: str
    hash: str
    made: float
    wrong: int = 0
    wrong_from: str = ""

    def holds(self, now: float) -> bool:
        # a clock that was put back to before it was made lets nobody in
        return 0 <= now - self.made < HOLDS_S and self.wrong < WRONG_TRIES


_Kind = TypeVar("_Kind", Device, Number)


def new_number(folder: Path, now: float) -> str:
    """Make the number that the next device is paired by; an earlier one holds no more."""
    with _held(folder) as home:
        number, salt = f"{secrets.randbelow(10**DIGITS):0{DIGITS}}", secrets.token_hex(16)
        _put(home / _NUMBER, asdict(Number(salt, _hash(salt + number), now)))
        return number


def end_number(folder: Path) -> None:
    """Let nobody in by the number any more."""
    with _held(folder) as home:
        (home / _NUMBER).unlink(missing_ok=True)


def open_number(folder: Path) -> Number | None:
    """The number that was made last, if no device was paired by it."""
    return _as(Number, _read(folder, _NUMBER))


def pair(folder: Path, number: str, name: str, now: float, address: str = "") -> str | None:
    """Pair a device by the number. Gives its token; None, and nothing else, where the number lets nobody in."""
    with _held(folder) as home:
        wanted = open_number(folder)
        if not wanted or not wanted.holds(now):
            return None
        if not _same(wanted.hash, _hash(wanted.salt + number)):
            _put(home / _NUMBER, asdict(replace(wanted, wrong=wanted.wrong + 1, wrong_from=address)))
            return None
        known = devices(folder, now)
        if len(known) >= MOST_DEVICES:
            raise TooManyError("So many devices are paired already.", mend="Send one away at the computer first.")
        token = secrets.token_urlsafe(32)
        # before the token counts: of a number that can't be taken away nobody gets one
        (home / _NUMBER).unlink()
        taken = {each.name for each in known}
        _put_devices(home, [*known, Device(uuid.uuid4().hex, _name(name, taken), _hash(token), now, now)])
        return token


def device_of(folder: Path, token: str, now: float) -> Device | None:
    """The paired device that has this token, and that it was here now; None where there is none."""
    wanted = _hash(token)
    found = next((each for each in devices(folder, now) if _same(each.token_hash, wanted)), None)
    # one that was seen later than now was so by a wrong clock
    if found and not 0 <= now - found.seen < _SEEN_EVERY_S:
        with suppress(UserError), _held(folder) as home:  # a visit that can't be noted is one all the same
            known = devices(folder, now)  # sent away meanwhile, it is not put back
            _put_devices(home, [replace(each, seen=now) if each.id == found.id else each for each in known])
    return found


def devices(folder: Path, now: float) -> list[Device]:
    """The paired devices, the one seen last first."""
    told = _read(folder, _DEVICES).get("devices")
    known = [device for each in (told if isinstance(told, list) else []) if (device := _as(Device, each))]
    return sorted((each for each in known if now - each.seen < UNSEEN_S), key=lambda each: -each.seen)


def send_away(folder: Path, device: str, now: float) -> None:
    """Let a device in no more, from this moment on."""
    with _held(folder) as home:
        _put_devices(home, [each for each in devices(folder, now) if each.id != device])


def home_of(folder: Path) -> Path:
    """The folder for what only this computer's own programs may see, made where there is none."""
    home = folder / FOLDER
    _is_there(folder)
    if os.path.realpath(home) != os.path.join(os.path.realpath(folder), FOLDER):  # noqa: PTH118
        raise UserError("This folder leads elsewhere, and may lead anybody there.", str(home), "Take it away.")
    whole.make_folder(home)
    with whole.refusals_told(home):
        home.chmod(0o700)
    return home


def put_private(path: Path, content: bytes) -> None:
    """Write a file that nobody but its owner can read."""
    whole.write(path, content, private=True)


@contextmanager
def _held(folder: Path) -> Iterator[Path]:
    home = home_of(folder)
    try:
        with FileLock(home / _LOCK, timeout=_LOCK_WAIT_S, mode=0o600), whole.refusals_told(home):
            yield home
    except Timeout:
        raise UserError("The list of devices is in use.", str(home), "Wait a moment, then try again.") from None


def _put(path: Path, told: Mapping[str, Any]) -> None:
    whole.write(path, json.dumps(told, ensure_ascii=False, indent=1) + "\n", private=True)


def _put_devices(home: Path, known: list[Device]) -> None:
    _put(home / _DEVICES, {"devices": [asdict(each) for each in known]})


def _read(folder: Path, name: str) -> dict[str, Any]:
    path = folder / FOLDER / name
    _is_there(folder)
    try:
        told = json.loads(path.read_bytes())
    except FileNotFoundError:
        return {}
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise UserError(f"It can't be read: {why}.", str(path), "Make it a file that you may read.") from error
    except (ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def _is_there(folder: Path) -> None:
    if not folder.is_dir():
        raise UserError("The shop's folder is gone.", str(folder), "Put it back where it was.")


def _as(kind: type[_Kind], told: Any) -> _Kind | None:
    """What a file says of a device or a number; None unless all of it is there and can be."""
    try:
        made = kind(**told)
    except TypeError:
        return None
    return made if all(_can_be(part.type, getattr(made, part.name)) for part in fields(kind)) else None


def _can_be(kind: Any, value: object) -> bool:
    if kind is str:
        return isinstance(value, str)
    number = isinstance(value, int if kind is int else (int, float)) and not isinstance(value, bool)
    return number and 0 <= value < _LAST_S  # type: ignore[operator]


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(*(text.encode("utf-8", "surrogatepass") for text in (one, other)))


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _name(wanted: str, taken: set[str]) -> str:
    """A name on one line, of signs that can be seen, which no other device has: one of them may be sent away."""
    seen = "".join(sign if sign.isprintable() else " " for sign in wanted)
    name = " ".join(seen.split())[:LONGEST_NAME] or "A phone"
    others = (f"{name} {number}" for number in range(2, MOST_DEVICES + 2))
    return next(each for each in (name, *others) if each not in taken)
