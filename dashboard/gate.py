"""Who is answered by the dashboard's server, and what every answer tells the browser to refuse.

A page anywhere can reach a server on this machine through the maker's browser: by a request, a hidden frame, or a name
of its own that it points at this machine (DNS rebinding). Only what was asked of the address that is served is let
through, over HTTP and websocket alike, and before anything else looks at it.
"""

import base64
import hashlib
import re
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass
from typing import Any

Scope = MutableMapping[str, Any]
Headers = list[tuple[bytes, bytes]]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Asgi = Callable[[Scope, Receive, Send], Awaitable[None]]

NAMES = ("127.0.0.1", "localhost", "[::1]")
"""This machine's names for itself. No name on the internet can be made to mean one of them in a browser."""

UPLOADS = b"/_stcore/upload_file/"
"""The only place where a request changes anything; all else that a page does goes through its websocket."""

LOOKS = ("GET", "HEAD")
CHANGES = ("PUT", "DELETE")

ALWAYS = {
    b"x-frame-options": b"DENY",  # for browsers that don't know frame-ancestors
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"no-referrer",  # an address holds what was chosen: pieces, lots, buyers' orders
    b"cross-origin-opener-policy": b"same-origin",
    b"cross-origin-resource-policy": b"same-origin",
}


@dataclass(frozen=True)
class Refusal:
    """Why a request isn't answered: the status, and a sentence that tells nothing of the shop."""

    status: int
    sentence: str


MISDIRECTED = Refusal(421, "Nothing is served at this address. Open the one that the command has named.")
MALFORMED = Refusal(400, "This is no request to a page here. Open the address that the command has named.")
UNKNOWN_METHOD = Refusal(405, "Nothing here is done in this way. Open the page in a browser.")
FOREIGN = Refusal(403, "Asked by another page. Open the dashboard's own address.")


class Gate:
    """The layer before the app: refuses what was not asked of the served address, and dresses every answer."""

    def __init__(self, app: Asgi, port: int, scripts: Iterable[str]) -> None:
        self._app = app
        self._port = port
        self._hashes = " ".join(hash_of(script) for script in scripts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        refused = refusal(scope, self._port)
        told = ALWAYS | {b"content-security-policy": policy(host_of(scope) if not refused else "", self._hashes)}

        async def dressed(message: MutableMapping[str, Any]) -> None:
            if message["type"] in ("http.response.start", "websocket.http.response.start"):
                message = {**message, "headers": _dress(message.get("headers", ()), told)}
            await send(message)

        if refused:
            return await _refuse(scope, refused, dressed)
        return await self._app(_same_origin(scope), receive, dressed)


def refusal(scope: Scope, port: int) -> Refusal | None:
    """Why this request isn't answered, or None where it is."""
    if len(hosts := values(scope, b"host")) != 1 or hosts[0].lower() not in _authorities(port):
        return MISDIRECTED
    # a whole address is for proxies, and may name another host than the header does
    if not scope["raw_path"].startswith(b"/") or scope["raw_path"].startswith(b"//"):
        return MALFORMED
    method = scope.get("method", "GET")
    changes = method in CHANGES and scope["raw_path"].startswith(UPLOADS)
    if method not in LOOKS and not changes:
        return UNKNOWN_METHOD
    # a browser names the origin with every websocket and every change, and only then must it be there
    origins = values(scope, b"origin")
    if len(origins) > 1 or (not origins and (changes or scope["type"] == "websocket")):
        return FOREIGN
    if origins and origins[0] not in {f"http://{authority}" for authority in _authorities(port)}:
        return FOREIGN
    return FOREIGN if embedded(scope) else None


def embedded(scope: Scope) -> bool:
    """Whether the browser says that another page asks for it, other than by a link that somebody followed."""
    if set(values(scope, b"sec-fetch-site")) <= {"same-origin", "none"}:
        return False
    opened = values(scope, b"sec-fetch-mode") == ["navigate"] and values(scope, b"sec-fetch-dest") == ["document"]
    return not (opened and scope.get("method") in LOOKS)


def policy(host: str, hashes: str) -> bytes:
    """The content security policy of an answer: what a page of ours needs, and no other host."""
    sockets = f" ws://{host}" if host else ""
    parts = {
        "default-src": "'none'",
        # Streamlit's modules are files; what stands in a page itself is known by its hash. Its messages hold numbers
        # of 64 bits, which a few bytes of WebAssembly multiply. Vega interprets its expressions: nothing is evaluated
        "script-src": f"'self' 'wasm-unsafe-eval' {hashes}".strip(),
        # emotion, the data grid and Vega write styles into the page as they draw
        "style-src": "'self' 'unsafe-inline'",
        # icons in the style sheets, and those that the data grid draws on its canvas
        "img-src": "'self' data:",
        # the signs of formulas, which stand in a style sheet
        "font-src": "'self' data:",
        # some browsers don't count the websocket of the same place as 'self'
        "connect-src": f"'self'{sockets}",
        "frame-ancestors": "'none'",
        # forms go through the websocket; none is ever sent
        "form-action": "'none'",
        "base-uri": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in parts.items()).encode()


def hash_of(script: str) -> str:
    """How a policy names a script that stands in a page."""
    digest = hashlib.sha256(script.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def scripts_in(page: str) -> list[str]:
    """The scripts that stand in an HTML page themselves."""
    return re.findall(r"<script>(.*?)</script>", page, re.DOTALL)


def host_of(scope: Scope) -> str:
    return values(scope, b"host")[0]


def _authorities(port: int) -> set[str]:
    # a browser leaves out the port that http has of itself
    return {f"{name}:{port}" for name in NAMES} | (set(NAMES) if port == 80 else set())


def values(scope: Scope, wanted: bytes) -> list[str]:
    """All values of a header."""
    return [value.decode("latin-1") for name, value in scope["headers"] if name.lower() == wanted]


def _same_origin(scope: Scope) -> Scope:
    """The request as from the very address it was sent to: our names for this machine are one. Of any other pair
    Streamlit would ask an outside service for this machine's address."""
    headers: Headers = [
        (name, f"http://{host_of(scope)}".encode("latin-1") if name.lower() == b"origin" else value)
        for name, value in scope["headers"]
    ]
    return {**scope, "headers": headers}


def _dress(headers: Iterable[tuple[bytes, bytes]], told: dict[bytes, bytes]) -> Headers:
    # nobody else may read an answer
    kept = [
        (name, value)
        for name, value in headers
        if name.lower() not in told and not name.lower().startswith(b"access-control-")
    ]
    return [*kept, *told.items()]


async def _refuse(scope: Scope, refused: Refusal, send: Send) -> None:
    kind = "websocket.http.response" if scope["type"] == "websocket" else "http.response"
    body = refused.sentence.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    await send({"type": f"{kind}.start", "status": refused.status, "headers": [*headers, (b"connection", b"close")]})
    await send({"type": f"{kind}.body", "body": b"" if scope.get("method") == "HEAD" else body})
