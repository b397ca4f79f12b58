"""What a phone's forms can offer: the shop's words and tags, put down by the dashboard's process after each refresh.

The shop floor's server has no way to the database: this file is all that it learns of what is published.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.log_fields import KINDS
from dashboard.options import NEW, FormOptions, form_options, next_tag
from pipeline.pages import devices

if TYPE_CHECKING:
    from dashboard.view_context import Page

FILE = "offers.json"


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

    def of(self, record: str) -> FormOptions:
        """What the form of a record can offer, what was logged a moment ago first."""
        logged = form_options(self._folder, None, record)
        told = self._read().get(record, {})
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
        return FormOptions(words, names, taken, examples, logged.currency)

    def _read(self) -> Mapping[str, Any]:
        try:
            at = self._path.stat()
            if (at.st_mtime_ns, at.st_size) != self._stamp:
                told = json.loads(self._path.read_text(encoding="utf-8"))
                self._told = told if isinstance(told, dict) else {}
                self._stamp = (at.st_mtime_ns, at.st_size)
        except (OSError, ValueError):
            self._told, self._stamp = {}, None
        return self._told


def _free(tag: str, taken: frozenset[str]) -> str:
    """The tag, or the next after all that begin like it, where it is taken."""
    return next_tag([tag, *taken]) if tag in taken else tag
