"""The server of the shop floor, as `kerfledger show --shop-floor` runs it, in a process of its own.

It listens at one address of this machine, over TLS alone, calls nobody, opens nothing of the shop but the log, and ends
with who started it. A connection is for one request, and lasts some seconds at most.
"""

import asyncio
import logging
import os
import socket
import ssl
import sys
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from dashboard import SHOP_VARIABLE, faults
from dashboard.floor import certificate, reach
from dashboard.floor.app import Floor
from dashboard.server import LIFELINE, end_with_whoever_holds
from pipeline.pages import devices

LOG = "shop-floor.log"
_MOST_BYTES = 1_000_000
HANDSHAKE_S, CONNECTION_S = 5.0, 20.0
MOST_CONNECTIONS, EACH_CONNECTIONS = 64, 16
MOST_UNREAD = 8 * 1024


def main(address: str, port: int, own: tuple[Path, Path] | None = None) -> None:
    """Serve until told to end. The shop folder stands in the environment; `own`: the maker's certificate and key."""
    folder = Path(os.environ.get(SHOP_VARIABLE, "."))
    faults.keep_text_out_of_logs()
    logging.disable()  # of what strangers send nothing is noted: they could fill the disk with it
    _log_to_file(devices.home_of(folder))
    files = own or certificate.own(folder, address, datetime.now(UTC))
    context = tls(*files)
    listening = bind(address, port)
    app = Floor(folder, authority(address, port))
    app.warm()
    server = uvicorn.Server(settings(app, context))
    reach.keep_within(folder)
    with suppress(KeyboardInterrupt):
        asyncio.run(serve(server, listening))
    sys.stderr.flush()
    os._exit(0)


def authority(address: str, port: int) -> str:
    """How a browser names the server in Host and Origin. It leaves out the port that https has of itself."""
    host = f"[{address}]" if ":" in address else address
    return host if port == 443 else f"{host}:{port}"


def settings(app: Floor, context: ssl.SSLContext) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=Brief,
        ws="none",
        lifespan="off",
        loop="asyncio",
        interface="asgi3",
        ssl_context_factory=lambda *_: context,
        h11_max_incomplete_event_size=MOST_UNREAD,
        proxy_headers=False,
        server_header=False,
        date_header=False,
        access_log=False,
        log_config=None,
        log_level="warning",
        timeout_keep_alive=1,
        timeout_graceful_shutdown=1,
        backlog=32,
    )


class Brief(H11Protocol):
    """A connection that ends after some seconds, whatever it waits for, and of which no address has many."""

    seconds = CONNECTION_S

    def end(self, msg: str = "") -> None:
        self.transport.abort()

    send_400_response = end  # what is no HTTP gets no answer

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        who = self.client[0] if self.client else ""
        others: list[Any] = list(self.connections)
        same = sum(1 for other in others if other.client and other.client[0] == who)
        if len(self.connections) > MOST_CONNECTIONS or same > EACH_CONNECTIONS:
            self.end()
            return
        self._ends = self.loop.call_later(self.seconds, self.end)

    def connection_lost(self, exc: Exception | None) -> None:
        if ends := getattr(self, "_ends", None):
            ends.cancel()
        super().connection_lost(exc)


async def serve(server: uvicorn.Server, listening: socket.socket) -> None:
    loop = asyncio.get_running_loop()
    make: Callable[..., Any] = loop.create_server
    # who begins TLS and says no more is not waited for as long as is usual
    loop.create_server = partial(make, ssl_handshake_timeout=HANDSHAKE_S)  # type: ignore[method-assign]
    await server.serve(sockets=[listening])


def tls(chain: Path, key: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.options |= ssl.OP_NO_COMPRESSION | ssl.OP_NO_RENEGOTIATION
    context.set_alpn_protocols(["http/1.1"])
    context.load_cert_chain(chain, key, password=lambda: "")  # nobody is there to be asked
    return context


def bind(address: str, port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET)
    if os.name != "nt":  # there it would allow a port in use
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
    except OSError:
        made.close()
        raise
    return made


def _log_to_file(home: Path) -> None:
    path = home / LOG
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0)
    if path.exists() and path.stat().st_size > _MOST_BYTES:
        flags |= os.O_TRUNC
    sys.stderr = os.fdopen(os.open(path, flags, 0o600), "w", buffering=1, encoding="utf-8", errors="replace")


if __name__ == "__main__":
    if LIFELINE in sys.argv:
        end_with_whoever_holds(open(0, "rb", buffering=0, closefd=False))  # noqa: SIM115 (it stays open)
        sys.argv.remove(LIFELINE)
    _, where, number, *files = sys.argv
    main(where, int(number), (Path(files[0]), Path(files[1])) if files else None)
