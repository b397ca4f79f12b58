"""Tags that are written otherwise than on record: hf 04, SM46 and 041 for HF-04, SM/046 and SM/041.

A tag is taken for the only one on record that it can mean. What has the same letters and number is the same tag; of a
bare number, of one behind a word and of a tag among words it is likely, and told.
"""

import re
from collections import defaultdict
from collections.abc import Iterable

from pipeline.cleaning.tags import spelled

_LAST_NUMBER = re.compile(r"(?:^|\D)(\d{2,})\W*$")
"""Of a text that is no tag, a number of two figures at its end; one figure may count things."""

_SERIAL = re.compile(r"\d[^\d\s]*[-/._]0*(\d+)$")
"""The number within a year: of W25-014 and 2025/14 people say 14."""


class OnRecord:
    """The tags of one kind that are on record."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names = sorted(set(names))
        self._alike: dict[tuple[str, str], set[str]] = defaultdict(set)
        self._numbered: dict[str, set[str]] = defaultdict(set)
        self._serial: dict[str, set[str]] = defaultdict(set)
        for name in self.names:
            letters, number = spelled(name)
            self._alike[letters, number].add(name)
            if number:
                self._numbered[number].add(name)
            if last := _SERIAL.search(name):
                self._serial[last[1]].add(name)

    def same(self, tag: str) -> str:
        """The tag on record that has the same letters and number; "" for none, or several."""
        return _one(self._alike.get(spelled(tag), set()))

    def likely(self, tag: str) -> str:
        """The tag on record that is meant by a number alone or among words; "" for none, or several."""
        letters, number = spelled(tag)
        if not letters:
            return _one(self._numbered.get(number, set()) | self._serial.get(number, set())) if number else ""
        runs = re.findall(r"\d+", re.sub(r"[\W_]", "", tag))
        near = {name for run in runs for name in self._numbered.get(run.lstrip("0"), ())}
        if within := {name for name in near if _holds(tag, name)}:
            return _one(within)
        last = _LAST_NUMBER.search(tag)
        known = {letters for letters, _ in self._alike}
        if not last or any(letters.endswith(each) and each for each in known):
            return ""  # letters of ours with another number are another tag
        return _one(self._numbered.get(last[1].lstrip("0"), set()))


def _holds(tag: str, name: str) -> bool:
    """Whether a text has a tag in it, at a word's beginning or at its own end."""
    if re.search(rf"(?<![^\W_]){re.escape(name)}(?!\d)", tag):
        return True
    return len(name) > 3 and tag.endswith(name) and not (name[0].isdigit() and tag[: -len(name)][-1:].isdigit())


def _one(names: set[str]) -> str:
    return next(iter(names)) if len(names) == 1 else ""
