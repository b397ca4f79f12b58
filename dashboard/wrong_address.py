"""An address that names what isn't there: the page says so, and shows nothing else in its place.

Each choice looks up what the address names before it is drawn, and raises where that isn't to be had; what no page
reads at all, and a page that isn't there, are looked up first of all.
"""

from collections.abc import Callable, Collection

import streamlit as st

MOST_LETTERS = 40
"""Letters of a name that are repeated: an address may be as long as it likes."""

SWITCHED = ("true", "false")
"""What a fold or a switch can be in an address."""


class WrongAddressError(Exception):
    """The address names something, under `key`, that isn't there. `label` is what the page calls such a thing."""

    def __init__(self, label: str, key: str, wanted: str) -> None:
        super().__init__(key)
        cut = wanted if len(wanted) <= MOST_LETTERS else f"{wanted[:MOST_LETTERS]}…"
        self.label, self.key, self.named = label, key, cut


def look_up(label: str, key: str, options: Collection[str]) -> None:
    """Raises `WrongAddressError` where the address names, under `key`, what is not among the options.

    What was chosen on the page itself is no such name: where another choice takes it away, the first stands instead.
    """
    _look_up(label, key, lambda wanted: wanted in options)


def look_up_switch(label: str, key: str) -> None:
    """The same of a fold, which is open or not, and of a switch."""
    _look_up(label, key, lambda wanted: wanted.lower() in SWITCHED)


def look_up_number(label: str, key: str, least: int, most: int) -> None:
    """The same of a whole number from `least` to `most`."""
    _look_up(label, key, lambda wanted: wanted.isdecimal() and len(wanted) < 10 and least <= int(wanted) <= most)


def _look_up(label: str, key: str, fits: Callable[[str], bool]) -> None:
    wanted = st.query_params.get(key)
    if not wanted or fits(wanted) or str(st.session_state.get(key)) == wanted:
        return
    raise WrongAddressError(label, key, wanted)
