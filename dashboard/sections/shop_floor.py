"""Phones on the shop floor: pairing one by a picture code and a number, the paired ones, and sending one away."""

import os
import shlex
import time
from datetime import datetime
from functools import partial
from html import escape
from pathlib import Path
from urllib.parse import urlsplit

import streamlit as st

from dashboard import FLOOR_VARIABLE, OWN_VARIABLE, widgets, words
from dashboard.floor import certificate
from dashboard.refreshing import attempt, done, say_what_was_done
from dashboard.verbatim import verbatim
from pipeline.pages import actions, devices

PLACE = "shop floor"
NUMBER, NUMBER_MADE = "pairing number", "pairing number made at"
LOOK_EVERY_S = 2.0
FOLD = "Phones on the shop floor"


def show(folder: Path) -> None:
    """The fold of the Log page; where no phone is served it says how one is."""
    where = os.environ.get(FLOOR_VARIABLE, "")
    if not (box := widgets.folded(FOLD, "shop-floor")):
        return
    with box:
        if not where:
            widgets.say("To log from a phone, end the dashboard and start it with --shop-floor:", quiet=True)
            st.code(f"kerfledger show {shlex.quote(str(folder))} --shop-floor", language=None)
            return
        pairing = NUMBER in st.session_state
        st.fragment(_pairing, run_every=LOOK_EVERY_S if pairing else None)(folder, where)
        _paired(folder)
        say_what_was_done(PLACE)


def _pairing(folder: Path, where: str) -> None:
    number = st.session_state.get(NUMBER)
    if not number:
        if st.button("Pair a phone", key="pair", type="primary") and attempt(lambda: _begin(folder)):
            st.rerun(scope="app")
        return
    now, state = time.time(), devices.open_number(folder)
    if not state:
        since = st.session_state[NUMBER_MADE]
        paired = any(device.paired >= since for device in devices.devices(folder, now))
        _end("A phone was paired: it is in the list below." if paired else "The number holds no more.")
    elif state.wrong >= devices.WRONG_TRIES:
        tried = f" The last was tried from {state.wrong_from}." if state.wrong_from else ""
        _end(f"The number holds no more: wrong ones were tried {state.wrong} times.{tried}")
    elif not state.holds(now):
        _end("The time of the number is over. Take a new one.")
    else:
        left = max(1, round((devices.HOLDS_S - (now - state.made)) / 60))
        _code(folder, where, number)
        widgets.say(f"It holds for {words.count(left, 'more minute')}, for one phone.", quiet=True)
        if state.wrong:
            widgets.say(f"Wrong numbers tried so far: {state.wrong}, last from {state.wrong_from or 'somewhere'}.")
        if st.button("Let nobody in by it", key="unpair") and attempt(lambda: devices.end_number(folder)):
            _end("The number holds no more.")


def _begin(folder: Path) -> None:
    now = time.time()
    st.session_state[NUMBER], st.session_state[NUMBER_MADE] = devices.new_number(folder, now), now


def _end(said: str) -> None:
    st.session_state.pop(NUMBER, None)
    done(PLACE, said)
    st.rerun(scope="app")


def _code(folder: Path, where: str, number: str) -> None:
    import segno

    picture = segno.make(f"{where}/#{number}", error="m").png_data_uri(scale=6, border=4)
    parted = f"{number[:4]} {number[4:]}"
    own = os.environ.get(OWN_VARIABLE)
    path = Path(own) if own else certificate.files(folder, urlsplit(where).hostname or "")[0]
    try:
        fingerprint = certificate.fingerprint(path)
    except (OSError, ValueError):  # taken away since, with all that is in its folder
        widgets.say(f"The certificate is gone from {path}. End the dashboard, and start it again as before.")
        return
    told = "This is your own certificate." if own else (
        "The phone will warn that it doesn't know the certificate: this computer made it. Look at the certificate "
        "there, and go on only if its SHA-256 fingerprint is this one. If it is another, somebody stands between: stop."
    )  # fmt: skip
    st.html(
        f'<div class="kl-do"><p>1. With the phone in the same network, open {escape(where)}</p>'
        f'<img src="{picture}" width="222" height="222" alt="Picture code of the address and the number">'
        f"<p>2. Compare the certificate</p>{escape(told)}"
        f'<div style="overflow-wrap: anywhere"><code>{escape(fingerprint)}</code></div>'
        f"<p>3. The number</p><h2>{escape(parted)}</h2></div>"
    )


def _paired(folder: Path) -> None:
    now, zone = time.time(), actions.log_now(folder).tzinfo
    known = devices.devices(folder, now)
    widgets.say(words.count(len(known), "paired phone", "paired phones") + (":" if known else "."))
    for device in known:
        seen = datetime.fromtimestamp(device.seen, zone)
        with st.container(horizontal=True, vertical_alignment="center", key=f"device-{device.id}"):
            widgets.say(f"{device.name}, last here {seen:%Y-%m-%d %H:%M}")
            away = st.button(f"Send {verbatim(device.name)} away", key=f"away-{device.id}")
        if away and attempt(partial(devices.send_away, folder, device.id, now)):
            done(PLACE, f"{device.name} is let in no more.")
            st.rerun(scope="app")
