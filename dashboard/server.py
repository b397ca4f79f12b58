"""The server of the dashboard, as `kerfledger show` runs it: `python -m dashboard.server PORT`.

Streamlit's app behind a gate of our own. It listens on this machine alone, calls nobody, and ends with who started it.
"""

import os
import signal
import socket
import sys
import threading
import time
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import IO, Any

from dashboard import FLOOR_VARIABLE, SHOP_VARIABLE, faults, gate

LIFELINE = "--while-stdin-is-open"
"""With this the server ends as soon as its standard input does: whoever held the other end is gone, however it went."""

LOG = "dashboard.log"
_MOST_BYTES = 1_000_000
_ENDING_S = 3.0

OPTIONS: dict[str, object] = {
    "browser.gatherUsageStats": False,
    "client.allowedOrigins": [],  # whose frames a page would take orders from
    "client.showErrorDetails": "none",
    "client.showErrorLinks": False,
    "client.toolbarMode": "minimal",
    "global.developmentMode": False,
    # a choice that is gone is set to the first there is, and the number of pieces to what is usual: meant so each time
    "global.disableWidgetStateDuplicationWarning": True,
    "logger.enableRich": False,  # it prints a fault with all its text
    "server.allowedHosts": [],
    "server.baseUrlPath": "",
    "server.corsAllowedOrigins": [],
    "server.enableAgentApi": False,
    "server.enableCORS": True,  # despite its name this is the protection
    "server.enableStaticServing": False,
    "server.enableXsrfProtection": True,
    "server.fileWatcherType": "none",
    "server.showEmailPrompt": False,
    "server.trustedUserHeaders": {},
    "server.xsrfCookieSameSite": "strict",
    # those of another app in the user's folder could bring a log-in along, which calls its provider
    "secrets.files": [],
}
"""What the maker's own settings of Streamlit, made for another app, must not change."""

LOOPBACK = ("127.0.0.1", "::1", "localhost", None, "")


def main(port: int) -> None:
    """Serve until told to end. The shop folder stands in the environment."""
    faults.keep_text_out_of_logs()
    refuse_calls()
    log = _log_to_file(Path(os.environ.get(SHOP_VARIABLE, ".")) / "database")
    if os.environ.get(FLOOR_VARIABLE):
        from dashboard.floor.follow import follow

        follow(Path(os.environ.get(SHOP_VARIABLE, ".")))
    sockets = [_bind(socket.AF_INET, "127.0.0.1", port)]
    with suppress(OSError):  # not every machine has it, and `localhost` may mean it
        sockets.append(_bind(socket.AF_INET6, "::1", port))

    import uvicorn

    settings = uvicorn.Config(
        app(port, log),
        # it leaves the target of a request as it was sent, for the gate to look at
        http="h11",
        ws="websockets-sansio",
        ws_max_size=200 * 1024 * 1024,
        ws_ping_interval=30,
        ws_ping_timeout=30,
        proxy_headers=False,
        server_header=False,
        access_log=False,
        log_config=None,
        log_level="warning",
        timeout_graceful_shutdown=1,
    )
    with suppress(KeyboardInterrupt):
        uvicorn.Server(settings).run(sockets=sockets)
    sys.stderr.flush()
    os._exit(0)  # a page that is still being made is nobody's any more


def app(port: int, log: Path | None) -> gate.Gate:
    """The pages behind the gate."""
    import streamlit
    from streamlit.web import bootstrap

    from dashboard.links import SCRIPT

    pages = streamlit.App(Path(__file__).with_name("app.py"), on_script_error=partial(faults.show, log))
    bootstrap.load_config_options(OPTIONS | {"server.address": "127.0.0.1", "server.port": port})
    shell = Path(streamlit.__file__).parent / "static" / "index.html"
    return gate.Gate(pages, port, [SCRIPT, *gate.scripts_in(shell.read_text(encoding="utf-8"))])


def refuse_calls() -> None:
    """Make every call out of this process fail, whichever library would make it: the dashboard needs none."""

    def listen(event: str, args: tuple[Any, ...]) -> None:
        if event in ("socket.connect", "socket.sendto", "socket.sendmsg"):
            # a socket of another kind has a path, and stays on this machine
            host = args[1][0] if isinstance(args[1], tuple) else None
        elif event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"):
            host = args[0]
        else:
            return
        if host not in LOOPBACK:
            raise PermissionError("the dashboard calls nobody")

    sys.addaudithook(listen)


def end_with_whoever_holds(stream: IO[bytes]) -> None:
    """End this process when the other end of `stream` is closed, by will or because its process was killed."""

    def wait() -> None:
        stream.read()
        signal.raise_signal(signal.SIGTERM)
        time.sleep(_ENDING_S)
        os._exit(0)

    threading.Thread(target=wait, daemon=True).start()


def _log_to_file(home: Path) -> Path | None:
    """Send what this process has to say to a file beside the database, readable by its owner alone."""
    path = home / LOG
    noted: Path | None = path
    try:
        home.mkdir(exist_ok=True)
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
        if path.exists() and path.stat().st_size > _MOST_BYTES:
            flags |= os.O_TRUNC
        sys.stderr = os.fdopen(os.open(path, flags, 0o600), "w", buffering=1, encoding="utf-8", errors="replace")
    except OSError:
        noted = None
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 (for as long as the process lives)
    # what isn't Python writes to the terminal itself, and quotes cells
    with open(os.devnull, "wb") as nowhere:  # noqa: PTH123
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
    return noted


def _bind(family: socket.AddressFamily, host: str, port: int) -> socket.socket:
    made = socket.socket(family)
    if os.name != "nt":  # there it would allow a port in use
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if family == socket.AF_INET6:
        made.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
    try:
        made.bind((host, port))
    except OSError:
        made.close()
        raise
    return made


if __name__ == "__main__":
    if LIFELINE in sys.argv:
        # unbuffered: a thread that waits in a buffered stream ends Python's own end with an abort
        end_with_whoever_holds(open(0, "rb", buffering=0, closefd=False))  # noqa: SIM115 (it stays open)
    main(int(sys.argv[1]))
