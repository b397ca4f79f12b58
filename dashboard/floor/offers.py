"""What a phone's forms can offer: the shop's words and tags, put down by the dashboard's process after each refresh.

The shop floor's server has no way to the database: this file is all that it learns of what is published.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.floor import untold
from dashboard.log_fields import KINDS
from dashboard.options import NEW, FormOptions, form_options, next_tag
from pipeline.pages import devices, from_the_floor

if TYPE_CHECKING:
    from dashboard.view_context import Page

FILE = "offers.json"

Stamps = tuple[tuple[int, int] | None, ...]


def write(folder: Path, page: "Page | None") -> None:
    """Put down what each form can offer; `page` is None while nothing is published."""
    told = {}
    for record in KINDS.values():
        known = form_options(folder, page, record)
        told[record] = {
            "words": {name: list(words) for name, words in known.words.items()},
            "names": dict(known.names),
            "taken": {name: sorted(tags) for name, tags in known.taken.items()},
            "examples": dict(known.examples),
        }
    content = json.dumps(told, ensure_ascii=False)
    devices.put_private(devices.home_of(folder) / FILE, content.encode())


class Offers:
    """What was put down, read again when it changes, and what was logged since then."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._path = folder, folder / devices.FOLDER / FILE
        self._stamp: tuple[int, int] | None = None
        self._told: dict[str, Any] = {}
        self._worked_out: dict[str, tuple[Stamps, FormOptions]] = {}

    def of(self, record: str) -> FormOptions:
        """What the form of a record can offer, what was logged a moment ago first. Kept while nothing has changed."""
        stamps = tuple(_stamp(path) for path in (*from_the_floor.files_of_words(self._folder), self._path))
        before = self._worked_out.get(record)
        if before and before[0] == stamps:
            return before[1]
        options = self._of(record)
        self._worked_out[record] = (stamps, options)
        return options

    def _of(self, record: str) -> FormOptions:
        logged = form_options(self._folder, None, record)
        try:
            return _together(record, logged, self._read().get(record, {}))
        except (AttributeError, TypeError, ValueError):  # damaged: the dashboard's process puts it down anew
            return _together(record, logged, {})

    def _read(self) -> Mapping[str, Any]:
        stamp = _stamp(self._path)
        if stamp != self._stamp:
            try:
                told = json.loads(self._path.read_text(encoding="utf-8"))
            except (OSError, ValueError):
                told = {}
            self._told, self._stamp = told if isinstance(told, dict) else {}, stamp
        return self._told


def _together(record: str, logged: FormOptions, told: Mapping[str, Any]) -> FormOptions:
    """What was logged a moment ago, and then what was put down."""
    words = {
        name: list(dict.fromkeys([*logged.words.get(name, []), *told.get("words", {}).get(name, [])]))
        for name in {**told.get("words", {}), **logged.words}
    }
    taken = {
        name: frozenset(told.get("taken", {}).get(name, [])) | logged.taken.get(name, frozenset())
        for name in ("piece", "pour")
    }
    examples = {**logged.examples, **told.get("examples", {})}
    if new := NEW.get(record, ""):
        examples[new] = _free(examples.get(new, ""), taken.get(new, frozenset()))
    names = {**told.get("names", {}), **logged.names}
    return untold.offered(FormOptions(words, names, taken, examples, logged.currency))


def _stamp(path: Path) -> tuple[int, int] | None:
    """What tells a file from what stood there before."""
    try:
        at = path.stat()
    except OSError:
        return None
    return at.st_mtime_ns, at.st_size


def _free(tag: str, taken: frozenset[str]) -> str:
    """The tag, or the next after all that begin like it, where it is taken."""
    return next_tag([tag, *taken]) if tag in taken else tag
