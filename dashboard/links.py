"""What a click opens: a page with something chosen, or the records behind a figure. It stands in the address."""

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from urllib.parse import quote, unquote, urlencode

import streamlit as st

from dashboard.verbatim import verbatim

OPEN = "open"
"""The part of the address that says which records are open: `open=lot:31`."""

ANY = "any"
"""The choice that filters nothing."""

HELD = ("month", "product", "species", "finish", "channel", "units")
"""The choices that hold on every page. Their place is the address alone: see `parts.hold`."""

KEPT = ("piece",)
"""Choices of one page that the address alone keeps."""

Lead = tuple[str, str]
"""Where a row leads: a part of the address, as `pieces?piece`, or `?defect` on the same page, and what it is set to."""

SCRIPTS = ("links.js", "close.js", "rest.js", "terms.js", "words.js", "choices.js", "copy.js", "follow.js")

SCRIPT = "\n".join(Path(__file__).with_name(name).read_text(encoding="utf-8") for name in SCRIPTS)
"""Our own script, the same on every page: the content security policy knows it by its hash."""


def target(kind: str, *parts: object) -> str:
    """`"line", "2026-05-01", "revenue"` → `line:2026-05-01~revenue`."""
    # `~` is between the parts, and the one sign that `quote` never hides
    each = (quote(str(part), safe=" ,/()×&:+-|").replace("~", "%7E") for part in parts)
    return f"{kind}:{'~'.join(each)}"


def target_parts(wanted: str) -> tuple[str, list[str]]:
    """The kind and the parts of a target."""
    kind, colon, parts = wanted.partition(":")
    return kind, [unquote(part) for part in parts.split("~")] if colon else []


def behind(kind: str, *parts: object) -> Lead:
    """The lead to the records behind something, on the page where one is."""
    return f"?{OPEN}", target(kind, *parts)


def address(opens: str, value: str, kept: Mapping[str, str]) -> str:
    """`pieces?piece`, `T-1` → the address of that page with that chosen, and all else that was chosen before."""
    path, _, name = opens.partition("?")
    # opened on its own a piece is looked at whatever its month
    passed = ("month", name) if path else (OPEN, name)
    chosen = {k: v for k, v in (along(kept) if path else kept).items() if k not in passed}
    # what the link sets stands last: `links.js` takes it from there
    return f"{path}?{urlencode(chosen | {name: value}, quote_via=quote)}"


def along(kept: Mapping[str, str]) -> dict[str, str]:
    """What goes along to another page; what is chosen on a page alone is there again when one comes back to it."""
    return {name: value for name, value in kept.items() if name in HELD}


def choose(name: str, value: str) -> None:
    """Make a choice from a widget's callback: one that the address alone keeps, or one that is bound to its widget."""
    if name in (*HELD, *KEPT, OPEN):
        st.query_params[name] = value
    else:
        st.session_state[name] = True if name in st.session_state.get(OPENED_BY_TRUE, ()) else value
        st.session_state[f"led to {name}"] = True


OPENED_BY_TRUE = "opened by true"
"""Where it is kept which parts of the address are no choice but a fold that is open, or a switch that is on."""


def remember(fold: str) -> None:
    """A fold or a switch of this page: a lead to it opens it, or turns it on."""
    st.session_state.setdefault(OPENED_BY_TRUE, set()).add(fold)


def opens_by(fold: str, name: str) -> None:
    """Open a fold, before it is drawn, when the choice of that name in it is another than before, or was led to."""
    chosen, led = st.session_state.get(name, st.query_params.get(name)), st.session_state.pop(f"led to {name}", False)
    before = st.session_state.get(f"chosen in {fold}: {name}")
    st.session_state[f"chosen in {fold}: {name}"] = chosen
    if chosen not in (None, "", False, ANY) and (led or chosen != before):
        was_open = st.session_state.get(fold)
        st.session_state[fold] = True
        # its widget is not there yet: it puts into the address only what is chosen with it
        if led and not was_open:
            st.query_params[name] = str(chosen)


def follow(lead: Lead) -> None:
    """Go where a lead leads, from a widget's callback: a choice or the records now, a page when the script runs."""
    opens, value = lead
    path, _, name = opens.partition("?")
    if path:
        st.session_state["go to"] = address(opens, value, st.query_params.to_dict())
    else:
        choose(name, value)


def run_scripts() -> Callable[[], None]:
    """Let links be followed without loading the page anew, and newer figures in when nobody is in the middle of
    something; and go to the page that a callback asked for. What it gives is called when the page has run."""
    # `st.switch_page` can't set what is bound to a widget of this page; a link can
    there = st.session_state.pop("go to", None)
    to = f'<i hidden data-follow="{escape(there)}"></i>' if there else ""
    # one element at one place: were it there at times only, all below would be drawn anew
    with st.container(key="scripts"):
        st.html(f"{to}<script>{SCRIPT}</script>", unsafe_allow_javascript=True)
        heard = st.empty()

    def made() -> None:
        # the address that this run went by: `links.js` sees in it that the server has heard of what was typed
        heard.html(f'<i hidden data-heard="{escape(urlencode(st.query_params.to_dict()))}"></i>')

    return made


def opens_mark(key: str, opens: Mapping[str, Lead], value: str | None) -> None:
    """Follow the lead of a mark of the picture `key`; it can be clicked anew when what it opened is closed."""
    if value in opens:
        st.session_state["clicked"] = key
        follow(opens[str(value)])


def times_closed(key: str) -> int:
    """How often something that the picture `key` opened was closed: its marks are let go of each time."""
    return int(st.session_state.get(f"closed {key}", 0))


def close() -> None:
    """Close what is open."""
    st.query_params.pop(OPEN, None)
    if key := st.session_state.pop("clicked", None):
        st.session_state[f"closed {key}"] = times_closed(key) + 1


def ask(label: str, opens: Mapping[str, Lead], key: str) -> None:
    """A choice of what a picture's marks open, for those who don't click on marks."""

    def chosen() -> None:
        opens_mark(key, opens, st.session_state[f"ask-{key}"])
        st.session_state[f"ask-{key}"] = None

    st.selectbox(
        verbatim(label), list(opens), None, key=f"ask-{key}", on_change=chosen, placeholder="Choose, or click a mark"
    )


def on_select(leads: list[Lead | None], key: str) -> Callable[[], None]:
    """The callback of a grid: the row that is ticked leads on."""

    def follow_row() -> None:
        rows = st.session_state[key]["selection"]["rows"]
        if rows and (lead := leads[rows[0]]):
            follow(lead)

    return follow_row
