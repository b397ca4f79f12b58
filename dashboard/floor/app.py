"""Who is answered on the shop floor, and with what: a few addresses, each asked in one way; all else is nothing.

Whoever shares the maker's network can reach this server, and pages that a phone has open elsewhere can make its browser
ask. So nothing is looked at before the Host, the Origin and the very shape of the request are right; nothing but the
page to pair with is shown to a device that isn't paired; and what is refused is told nothing.
"""

import asyncio
import json
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any

from dashboard import gate
from dashboard.floor import page
from dashboard.floor.tries import Tries
from dashboard.floor.work import NONSENSE, REFUSED, NonsenseError, Work
from dashboard.gate import Receive, Scope, Send
from pipeline.pages import actions, devices

COOKIE = "__Host-kerfledger-"
"""How its name begins; the port follows, for a browser has one store of cookies for all ports of an address, and at
another port another shop may be served."""
KEPT_S = 180 * 24 * 3600
MOST_BYTES, MOST_HEADERS = 16 * 1024, 50
SPAN_S = 600.0
PAIRING_EACH, PAIRING_ALL = 10, 30
"""Tries to pair within the span: of one address, and of all together."""
WRITES_S, WRITES_EACH = 60.0, 120

ONCE = (b"host", b"origin", b"content-type", b"content-length", b"cookie")
"""Headers that stand in a request once at most: two servers could take different ones for the true one."""
NEVER = (b"transfer-encoding", b"upgrade", b"expect", b"te", b"trailer")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
DRESS = gate.ALWAYS | {
    b"content-security-policy": POLICY.encode(),
    b"cache-control": b"no-store",
    b"permissions-policy": b"camera=(), microphone=(), geolocation=()",
    b"connection": b"close",
}

JSON, HTML = "application/json", "text/html; charset=utf-8"


@dataclass(frozen=True)
class Answer:
    """What is sent back: nothing but a status, where nothing else is said."""

    status: int
    body: bytes = b""
    kind: str = ""
    cookie: str = ""


NOTHING = Answer(404)
MISDIRECTED, FOREIGN, UNPAIRED, TOO_OFTEN, TOO_MUCH = (Answer(status) for status in (421, 403, 401, 429, 413))
OUT_OF_REACH = Answer(503)
"""The disk or the shop's folder is gone, or full: nobody is told that they are no longer paired."""


def of_json(status: int, told: dict[str, Any], cookie: str = "") -> Answer:
    return Answer(status, json.dumps(told, ensure_ascii=False).encode(), JSON, cookie)


class Floor:
    """The server's app. `authority`: the address and port that it is served at; `now`: seconds since 1970."""

    def __init__(self, folder: Path, authority: str, now: Callable[[], float] = time.time) -> None:
        self._folder, self._authority, self._now = folder, authority, now
        self._cookie = cookie_name(authority)
        self._work = Work(folder)
        self._pairing = Tries(now, SPAN_S, PAIRING_EACH, PAIRING_ALL)
        self._writes = Tries(now, WRITES_S, WRITES_EACH, 4 * WRITES_EACH)
        self._noted: set[str] = set()

    def warm(self) -> None:
        """Load what an answer needs before the first is asked for."""
        page.log("")
        self._work.warm()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            return
        try:
            answer = await self._answer(scope, receive)
        except actions.UserError:
            answer = OUT_OF_REACH
        except Exception as error:
            self._note(actions.place_of(error))  # no text of a request or a cell
            answer = Answer(500)
        headers = [*DRESS.items(), (b"content-length", str(len(answer.body)).encode())]
        headers += [(b"content-type", answer.kind.encode())] if answer.kind else []
        headers += [(b"set-cookie", answer.cookie.encode())] if answer.cookie else []
        await send({"type": "http.response.start", "status": answer.status, "headers": headers})
        await send({"type": "http.response.body", "body": answer.body})

    async def _answer(self, scope: Scope, receive: Receive) -> Answer:
        if refused := self._refused(scope):
            return refused
        where = (scope["method"], scope["raw_path"])
        if where in page.FILES:
            return Answer(200, *page.FILES[where])
        token = _token(scope, self._cookie)
        if where == ("POST", b"/pair"):
            return await self._pair(scope, receive)
        device = await asyncio.to_thread(devices.device_of, self._folder, token, self._now()) if token else None
        if where == ("GET", b"/"):
            shown = page.log(device.name) if device else page.PAIRING
            return Answer(200, shown.encode(), HTML)
        if not device:
            return UNPAIRED
        if where == ("GET", b"/now"):
            return of_json(200, await asyncio.to_thread(self._work.now))
        if not self._writes.one_more(device.id):
            return TOO_OFTEN
        message = await _message(scope, receive)
        if isinstance(message, Answer):
            return message
        try:
            return await asyncio.to_thread(self._done, token, message)
        except NonsenseError:
            return Answer(NONSENSE)

    def _done(self, token: str, message: Any) -> Answer:
        # while it was sent, the device may have been sent away
        if not devices.device_of(self._folder, token, self._now()):
            return UNPAIRED
        return of_json(*self._work.do(message))

    def _note(self, place: str) -> None:
        if place not in self._noted:  # once: nobody can fill the disk by asking again
            self._noted.add(place)
            print(place, file=sys.stderr, flush=True)

    async def _pair(self, scope: Scope, receive: Receive) -> Answer:
        address = str((scope.get("client") or ("",))[0])
        if not self._pairing.one_more(address):
            return TOO_OFTEN
        message = await _message(scope, receive)
        if isinstance(message, Answer):
            return message
        number, name = (message.get(part) if isinstance(message, dict) else None for part in ("number", "name"))
        if not isinstance(number, str) or not isinstance(name, str) or len(name) > 200:
            return Answer(NONSENSE)
        digits = re.sub(r"[ -]", "", number)
        if not re.fullmatch(rf"[0-9]{{{devices.DIGITS}}}", digits):
            return UNPAIRED
        try:
            token = await asyncio.to_thread(devices.pair, self._folder, digits, name, self._now(), address)
        except devices.TooManyError as error:
            return of_json(REFUSED, {"what": error.what, "mend": error.mend})
        if not token:
            return UNPAIRED
        kept = f"{self._cookie}={token}; Path=/; Max-Age={KEPT_S}; Secure; HttpOnly; SameSite=Strict"
        return of_json(200, {}, kept)

    def _refused(self, scope: Scope) -> Answer | None:
        """What is wrong with a request before anything else looks at it; None where nothing is."""
        names = [name.lower() for name, _ in scope["headers"]]
        if len(names) > MOST_HEADERS or sum(len(name) + len(value) for name, value in scope["headers"]) > MOST_BYTES:
            return Answer(431)
        if gate.values(scope, b"host") != [self._authority]:
            return MISDIRECTED
        if any(names.count(name) > 1 for name in ONCE) or any(name in names for name in NEVER):
            return Answer(NONSENSE)
        # as it was sent: nothing is decoded, and no way leads out of it and in again
        where = (scope["method"], scope["raw_path"])
        if scope["query_string"] or where not in WHERE:
            return NOTHING
        origins = gate.values(scope, b"origin")
        if origins not in ([], [f"https://{self._authority}"]) or (scope["method"] == "POST" and not origins):
            return FOREIGN
        return FOREIGN if gate.embedded(scope) else None


WHERE = {("GET", b"/"), ("GET", b"/now"), ("POST", b"/pair"), ("POST", b"/entry"), *page.FILES}
"""All that there is."""


async def _message(scope: Scope, receive: Receive) -> Any:
    """The body of a request as JSON; an `Answer` where it is none, or too long."""
    if gate.values(scope, b"content-type") != [JSON]:
        return Answer(415)
    said = (gate.values(scope, b"content-length") or [""])[0]
    if not re.fullmatch(r"[0-9]{1,9}", said):
        return Answer(411)
    if int(said) > MOST_BYTES:
        return TOO_MUCH
    body = b""
    while True:
        part = await receive()
        if part["type"] != "http.request":
            return Answer(NONSENSE)  # it went away before all was there
        body += part.get("body", b"")
        if len(body) > MOST_BYTES:
            return TOO_MUCH
        if not part.get("more_body"):
            break
    try:
        return json.loads(body.decode("utf-8"))
    except (ValueError, RecursionError):
        return Answer(NONSENSE)


def cookie_name(authority: str) -> str:
    """The name of the cookie that holds a device's token at this address and port."""
    port = re.search(r":(\d+)$", authority)
    return COOKIE + (port[1] if port else "443")


def _token(scope: Scope, name: str) -> str:
    told = SimpleCookie()
    try:
        told.load("".join(gate.values(scope, b"cookie")))
    except CookieError:
        return ""
    found = told[name].value if name in told else ""
    return found if re.fullmatch(r"[A-Za-z0-9_-]{43}", found) else ""
