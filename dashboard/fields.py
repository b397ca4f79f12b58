"""Text fields that offer words: what stands in them is what was typed; the list under them only helps.

A choice that takes new words drops what is typed and not confirmed, so these are plain fields of text, and `words.js`
draws the list. What each offers goes to the page in one element for each form: `offer` puts it there.
"""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from html import escape
from typing import Any

import streamlit as st

from dashboard.entry_check import BETWEEN, parts

Offers = dict[str, dict[str, Any]]
"""What the fields of a form offer, by the class that Streamlit gives a field of that key."""


def one_of(
    label: str, words: Sequence[str], value: str | None, offers: Offers, names: Mapping[str, str], **named: Any
) -> str:
    """A field for one word: one of those that are offered, or any other."""
    _note(offers, named["key"], words, names)
    return (st.text_input(label, value or "", **named) or "").strip()


def choice_of(
    label: str, words: Sequence[str], value: str | None, offers: Offers, names: Mapping[str, str], **named: Any
) -> str:
    """A field for one word of those that are offered, and no other: `words.js` says beside it where a text is none."""
    _note(offers, named["key"], words, names, closed=True)
    return (st.text_input(label, value or "", **named) or "").strip()


def several_of(
    label: str, words: Sequence[str], values: Sequence[str] | None, offers: Offers, names: Mapping[str, str],
    fill: str = "", **named: Any,
) -> list[str]:  # fmt: skip
    """A field for several words. `fill`: what is put in when it comes to be known and nobody has touched the field."""
    _note(offers, named["key"], words, names, several=True, fill=fill)
    return parts(st.text_input(label, BETWEEN.join(values or []), **named) or "")


@contextmanager
def form(key: str) -> Iterator[None]:
    """A form that is sent by its button alone. What comes and goes above it neither moves the keys out of it nor takes
    away what is typed: a form is drawn anew wherever it moves to, what has a key of its own is not."""
    with st.container(key=f"around-{key}"), st.form(key, enter_to_submit=False):
        yield


def offer(offers: Offers, key: str) -> None:
    """Put on the page what the fields of a form offer, in an element of its own that takes no room."""
    with st.container(key=f"words-{key}"):
        st.html(f'<i class="kl-words" data-words="{escape(json.dumps(offers), quote=True)}"></i>')


def _note(
    offers: Offers, key: str, words: Sequence[str], names: Mapping[str, str], several: bool = False, fill: str = "",
    closed: bool = False,
) -> None:  # fmt: skip
    told = {word: names[word] for word in words if names.get(word, word) != word}
    kind = {"several": several, "closed": closed}
    offers[css_class(key)] = {"words": list(dict.fromkeys(words)), "names": told, "fill": fill, **kind}


def css_class(key: str) -> str:
    """The class that Streamlit gives the element of a widget with that key."""
    return "st-key-" + re.sub(r"[^a-zA-Z0-9_-]", "-", key.strip())
