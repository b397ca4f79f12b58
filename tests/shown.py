"""A shop's dashboard as `kerfledger show` serves it, and single requests to it, written out byte for byte."""

import base64
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from pipeline.commands import serve

ROOT = Path(__file__).parents[1]
# tests that run behind a shell's back take no Ctrl-C, nor would what they start
SHOW = "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
SHOW += "from pipeline.commands import main; sys.exit(main(['show', sys.argv[1], '--port', *sys.argv[2:]]))"
WAIT_S = 60.0

Headers = list[tuple[str, str]]


@dataclass(frozen=True)
class Shown:
    """A running dashboard: its port and the process of the command."""

    port: int
    process: "subprocess.Popen[bytes]"

    @property
    def address(self) -> str:
        return f"http://{serve.HOST}:{self.port}"


@contextmanager
def shown(shop: Path, *more: str, **environment: str) -> Iterator[Shown]:
    """`kerfledger show` of a shop, ready to answer; `more` are further arguments. It is ended as it is from outside."""
    port = serve.free_port(0)
    # its own session: a signal to the tests' process group must not reach it
    process = subprocess.Popen(
        [sys.executable, "-c", SHOW, str(shop), str(port), *more],
        env=os.environ | {"PYTHONPATH": str(ROOT)} | environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        wait_for(port, process)
        yield Shown(port, process)
    finally:
        process.terminate()
        process.wait()


def wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        assert process.poll() is None, "the command ended"
        if listens(port):
            return
        time.sleep(0.1)
    raise AssertionError("the dashboard doesn't listen")


def listens(port: int, host: str = serve.HOST) -> bool:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        return probe.connect_ex((host, port)) == 0


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes


def ask(
    port: int, target: str, headers: Headers, method: str = "GET", body: bytes = b"", version: str = "1.1"
) -> Answer:
    """One request with just these headers, and its answer up to the end of the connection."""
    lines = [f"{method} {target} HTTP/{version}", *(f"{name}: {value}" for name, value in headers), "Connection: close"]
    if body:
        lines.append(f"Content-Length: {len(body)}")
    return _exchange(port, "\r\n".join(lines).encode("latin-1") + b"\r\n\r\n" + body)


def knock(port: int, headers: Headers, target: str = "/_stcore/stream") -> Answer:
    """The opening of a websocket with these headers beside those that every one has; 101 lets it in."""
    key = base64.b64encode(b"sixteen bytes ok").decode()
    opening = [("Connection", "Upgrade"), ("Upgrade", "websocket"), ("Sec-WebSocket-Version", "13")]
    opening += [("Sec-WebSocket-Key", key), ("Sec-WebSocket-Protocol", "streamlit, token")]
    lines = [f"GET {target} HTTP/1.1", *(f"{name}: {value}" for name, value in [*opening, *headers])]
    return _exchange(port, "\r\n".join(lines).encode("latin-1") + b"\r\n\r\n")


def _exchange(port: int, request: bytes) -> Answer:
    with socket.create_connection((serve.HOST, port), timeout=WAIT_S) as line:
        line.sendall(request)
        with line.makefile("rb") as answer:
            status = int(answer.readline().split()[1])
            headers: dict[str, str] = {}
            while text := answer.readline().decode("latin-1").strip():
                name, _, value = text.partition(":")
                headers[name.lower()] = value.strip()
            body = b"" if status == 101 else answer.read()
    return Answer(status, headers, body)
