"""A shop floor's server at a second loopback address, with a clock that the test sets, and requests byte for byte."""

import asyncio
import json
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from dashboard.floor import certificate, server
from dashboard.floor.app import Floor, cookie_name
from pipeline.pages import devices

ADDRESS = "127.0.0.2"
WAIT_S = 60.0
ID = "0123456789abcdef" * 2


@dataclass
class Clock:
    """Seconds since 1970, as the test says."""

    now: float = 1_790_000_000.0

    def __call__(self) -> float:
        return self.now


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def told(self) -> Any:
        return json.loads(self.body)

    @property
    def cookie(self) -> str:
        return self.headers.get("set-cookie", "").partition(";")[0]


@dataclass
class Served:
    """A running server of the shop floor: its shop, its port, and its clock."""

    shop: Path
    port: int
    clock: Clock
    app: Floor
    cookie: str = ""
    context: ssl.SSLContext = field(default_factory=lambda: trusting_all())

    @property
    def authority(self) -> str:
        return f"{ADDRESS}:{self.port}"

    def raw(self, sent: bytes, wait: bool = True) -> bytes:
        """Send these bytes, and give all that comes back until the server ends the connection."""
        with self.line() as line:
            line.sendall(sent)
            return all_of(line) if wait else b""

    @contextmanager
    def line(self) -> Iterator[ssl.SSLSocket]:
        with (
            socket.create_connection((ADDRESS, self.port), WAIT_S) as plain,
            self.context.wrap_socket(plain, server_hostname=ADDRESS) as line,
        ):
            yield line

    def ask(self, method: str, target: str, body: bytes | None = None, **headers: str | None) -> Answer:
        """A request as our own page makes it; `headers` (with `_` for `-`) take the place of its own, None of none."""
        own: dict[str, str | None] = {"host": self.authority, "cookie": self.cookie or None}
        if method == "POST":
            own |= {"origin": f"https://{self.authority}", "content-type": "application/json"}
        if body is not None:
            own["content-length"] = str(len(body))
        own |= {name.replace("_", "-"): value for name, value in headers.items()}
        lines = [
            f"{method} {target} HTTP/1.1",
            *(f"{name}: {value}" for name, value in own.items() if value is not None),
        ]
        return parsed(self.raw("\r\n".join([*lines, "", ""]).encode("latin-1") + (body or b"")))

    def post(self, target: str, told: Any, **headers: str | None) -> Answer:
        return self.ask("POST", target, json.dumps(told).encode(), **headers)

    def direct(
        self,
        target: str,
        told: Any,
        who: str = "127.0.0.9",
        cookie: str = "",
        meanwhile: Callable[[], None] = lambda: None,
    ) -> int:
        """The status of a message that is given to the app itself, as from another address; `meanwhile` happens
        before its body is there."""
        body, found = json.dumps(told).encode(), []
        headers = {"host": self.authority, "origin": f"https://{self.authority}", "content-type": "application/json"}
        headers |= {"content-length": str(len(body))} | ({"cookie": cookie} if cookie else {})
        scope = {
            "type": "http", "method": "POST", "raw_path": target.encode(), "query_string": b"", "client": (who, 1),
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        }  # fmt: skip

        async def receive() -> dict[str, Any]:
            meanwhile()
            return {"type": "http.request", "body": body}

        async def send(message: dict[str, Any]) -> None:
            found.append(message)

        # in a thread: a test in a browser that ran before may have left a loop of events in this one
        with ThreadPoolExecutor(1) as thread:
            thread.submit(asyncio.run, self.app(scope, receive, send)).result()
        return found[0]["status"]

    def number(self) -> str:
        return devices.new_number(self.shop, self.clock())

    def pair(self, number: str, **headers: str | None) -> Answer:
        return self.post("/pair", {"number": number, "name": "bench"}, **headers)

    def paired(self) -> "Served":
        """As a device that is paired."""
        answer = self.pair(self.number())
        assert (answer.status, answer.cookie.startswith(f"{cookie_name(self.authority)}=")) == (200, True)
        self.cookie = answer.cookie
        return self

    def rows(self) -> list[str]:
        """The rows of the log's files."""
        found = sorted((self.shop / "log").glob("*.csv"))
        return [line for path in found for line in path.read_text(encoding="utf-8").splitlines()[1:]]


def entry(entry_id: str = ID, **more: Any) -> dict[str, Any]:
    cells = {"date": "2026-03-02", "hours": "1:30", "operation": "sanding"}
    return {"id": entry_id, "action": "entry", "record": "hours", "cells": cells} | more


def trusting_all() -> ssl.SSLContext:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return context


def all_of(line: ssl.SSLSocket) -> bytes:
    found = b""
    try:
        while part := line.recv(65536):
            found += part
    except (ConnectionError, ssl.SSLError):
        pass  # ended without a word
    return found


def parsed(found: bytes) -> Answer:
    head, _, body = found.partition(b"\r\n\r\n")
    first, *lines = head.decode("latin-1").split("\r\n")
    headers = dict(line.partition(": ")[::2] for line in lines)
    return Answer(int(first.split()[1]) if first else 0, headers, body)


@contextmanager
def serving(shop: Path, port: int = 0) -> Iterator[Served]:
    """The server in a thread of the test, as its own process runs it but for `reach.keep_within`, which never ends."""
    clock = Clock()
    listening = server.bind(ADDRESS, port)
    port = listening.getsockname()[1]
    context = server.tls(*certificate.own(shop, ADDRESS, datetime.now(UTC)))
    app = Floor(shop, server.authority(ADDRESS, port), clock)
    run = uvicorn.Server(server.settings(app, context))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(run, listening)))
    thread.start()
    try:
        end = time.monotonic() + WAIT_S
        while not run.started and time.monotonic() < end:
            time.sleep(0.02)
        assert run.started
        yield Served(shop, port, clock, app)
    finally:
        run.should_exit = True
        thread.join()
        listening.close()


Serve = Callable[[], Served]


@pytest.fixture
def served(tiny_shop: Path) -> Iterator[Served]:
    with serving(tiny_shop) as running:
        yield running
