"""The dashboard's server: a process of its own, on this machine only, that never outlives who started it."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import webbrowser
from collections.abc import Callable
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from pipeline.commands.shop_floor import ShopFloor

HOST = "127.0.0.1"
USUAL_PORT = 8501
SHOP_VARIABLE = "KERFLEDGER_SHOP"
"""The environment variable by which the dashboard learns of its shop folder."""

FLOOR_VARIABLE, OWN_VARIABLE = "KERFLEDGER_SHOP_FLOOR", "KERFLEDGER_CERTIFICATE"
"""Those by which it learns where the shop floor is served, and by which certificate of the maker's own."""

LOG = "dashboard.log"
FLOOR_LOG = ".shop-floor/shop-floor.log"
START_S = 60.0
END_S = 5.0


def home() -> Path:
    """The dashboard's folder. Found without importing it: nothing here may lean on the dashboard."""
    spec = find_spec("dashboard")
    if not spec or not spec.submodule_search_locations:
        raise FileNotFoundError("the dashboard is not installed beside the pipeline")
    return Path(next(iter(spec.submodule_search_locations)))


def free_port(wanted: int = USUAL_PORT) -> int:
    """`wanted`, or any free port if something else listens there."""
    for port in (wanted, 0):
        with socket.socket() as probe:
            if os.name != "nt":  # there it would allow a port in use
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OSError("no free port")


def command(port: int) -> list[str]:
    """The call that serves the dashboard for as long as its standard input is held open."""
    # -P: what lies in the folder one happens to be in must not shadow our modules
    return [sys.executable, "-P", "-m", "dashboard.server", str(port), "--while-stdin-is-open"]


def floor_command(floor: ShopFloor) -> list[str]:
    """The call that serves the shop floor for as long as its standard input is held open."""
    own = [str(path.resolve()) for path in (floor.certificate, floor.key) if path]
    module = ["-m", "dashboard.floor.server", floor.address, str(floor.port), *own]
    return [sys.executable, "-P", *module, "--while-stdin-is-open"]


def serve(folder: Path, tell: Callable[[str], None], port: int = USUAL_PORT, floor: ShopFloor | None = None) -> int:
    """Serve the dashboard of a shop until Ctrl-C, and the shop floor beside it. Gives the exit code: 0 when it was
    asked to end."""
    port = free_port(port)
    own = str(floor.certificate.resolve()) if floor and floor.certificate else ""
    told = {SHOP_VARIABLE: str(folder.resolve()), FLOOR_VARIABLE: floor.url if floor else "", OWN_VARIABLE: own}
    environment = os.environ | told
    # ended from outside, the server must not stay behind
    signal.signal(signal.SIGTERM, _end)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        # a library that ran a refresh here may have put its own in the place of Python's, which then hears of nothing
        signal.signal(signal.SIGINT, signal.default_int_handler)
    # its own folder: the dashboard's look is in .streamlit/config.toml there. The pipe is closed when this process is
    # no more, even where it was killed
    beside: subprocess.Popen[bytes] | None = None
    ending = threading.Event()
    if floor:
        beside = subprocess.Popen(
            floor_command(floor), cwd=home(), env=environment, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
    server = subprocess.Popen(command(port), cwd=home(), env=environment, stdin=subprocess.PIPE)
    try:
        if floor and beside and not _listens(beside, floor.port, floor.address):
            tell(f"The shop floor could not be served. What is known of it: {folder / FLOOR_LOG}")
            return beside.wait() or 1
        if not _listens(server, port):
            tell(f"The dashboard could not be started. What is known of it: {folder / 'database' / LOG}")
            return server.wait() or 1
        tell(f"The dashboard is at http://{HOST}:{port} (on this machine only). Ctrl-C ends it.")
        if floor:
            tell(f"The shop floor is at {floor.url}. Pair a phone on the Log page of the dashboard.")
            said = f"The shop floor is served no more. What is known of it: {folder / FLOOR_LOG}"
            threading.Thread(target=_tell_if_it_fails, args=(beside, ending, partial(tell, said)), daemon=True).start()
        if _has_screen():
            webbrowser.open(f"http://{HOST}:{port}")
        return server.wait()
    except KeyboardInterrupt:
        return 0
    finally:
        ending.set()
        for each in (server, beside):
            if each:
                _ended(each)


def _tell_if_it_fails(
    server: "subprocess.Popen[bytes] | None", ending: threading.Event, tell: Callable[[], None]
) -> None:
    """Ctrl-C reaches all that runs in a terminal, and each then ends by itself, with 0."""
    if server and server.wait() and not ending.is_set():
        tell()


def _ended(server: "subprocess.Popen[bytes]") -> None:
    server.terminate()
    try:
        server.wait(END_S)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
    if server.stdin:
        server.stdin.close()


def _end(number: int, _: object) -> None:
    raise SystemExit(128 + number)


def _has_screen() -> bool:
    if not sys.stdout.isatty():
        return False
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _listens(server: "subprocess.Popen[bytes]", port: int, host: str = HOST) -> bool:
    for _ in range(int(START_S / 0.1)):
        if server.poll() is not None:
            return False
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
            if probe.connect_ex((host, port)) == 0:
                return True
        time.sleep(0.1)
    return False
