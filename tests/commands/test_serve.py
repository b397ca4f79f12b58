"""The dashboard's server as a process: where it listens, and that it never stays behind."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from pipeline.commands import serve
from tests.refreshed import refreshed
from tests.shown import ROOT, SHOW, ask, listens, shown

ENDS_S = 30.0


def test_a_busy_port_gives_way_to_a_free_one() -> None:
    with socket.socket() as busy:
        busy.bind((serve.HOST, 0))
        busy.listen()
        taken = busy.getsockname()[1]
        other = serve.free_port(taken)
    assert other != taken
    assert serve.free_port(taken) == taken


def test_nothing_in_the_folder_one_is_in_shadows_a_module(tiny_shop: Path, tmp_path: Path) -> None:
    (tmp_path / "streamlit.py").write_text("raise SystemExit('not this one')", encoding="utf-8")
    before = Path.cwd()
    os.chdir(tmp_path)
    try:
        with shown(tiny_shop) as running:
            assert ask(running.port, "/", [("Host", f"127.0.0.1:{running.port}")]).status == 200
    finally:
        os.chdir(before)


@contextmanager
def looked_at(port: int) -> Iterator[None]:
    """A page that is open: its websocket stays."""
    headers = (
        f"Host: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
    )
    headers += "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: c2l4dGVlbiBieXRlcyBvaw==\r\n"
    with socket.create_connection((serve.HOST, port)) as line:
        line.sendall(f"GET /_stcore/stream HTTP/1.1\r\n{headers}\r\n".encode())
        assert line.recv(100).startswith(b"HTTP/1.1 101")
        yield


Ends = Callable[["subprocess.Popen[str]"], None]


def by(number: signal.Signals) -> Ends:
    return lambda process: process.send_signal(number)


def by_keys(process: "subprocess.Popen[str]") -> None:
    # a terminal sends it to all that runs in it
    os.killpg(process.pid, signal.SIGINT)


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="processes are listed in another way")
@pytest.mark.parametrize(
    ("end", "code", "new"),
    [
        # a new shop is refreshed by the command first, and a library that runs then may take Ctrl-C for itself
        (by(signal.SIGINT), 0, True),
        (by_keys, 0, False),
        (by(signal.SIGTERM), 128 + signal.SIGTERM, False),
        (by(signal.SIGHUP), -signal.SIGHUP, False),
        (by(signal.SIGKILL), -signal.SIGKILL, False),
    ],
    ids=["SIGINT", "Ctrl-C", "SIGTERM", "SIGHUP", "SIGKILL"],
)
def test_however_the_command_ends_no_process_stays_behind(tiny_shop: Path, end: Ends, code: int, new: bool) -> None:
    if not new:
        refreshed(tiny_shop)
    call = [sys.executable, "-c", SHOW, str(tiny_shop), str(serve.free_port(0))]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(call, env=environment, text=True, start_new_session=True, **pipes) as process:
        line = next(text for text in process.stdout if "The dashboard is at" in text)
        port = int(re.search(r"http://127\.0\.0\.1:(\d+) ", line)[1])
        try:
            with looked_at(port):
                assert len(group(process.pid)) == 2, "the command and its server"
                end(process)
                assert process.wait(ENDS_S) == code
                until = time.monotonic() + ENDS_S
                while (left := group(process.pid)) and time.monotonic() < until:
                    time.sleep(0.1)
        except BaseException:
            process.kill()  # its server ends with it; nobody must wait for it
            raise
        assert left == []
        assert not listens(port)
        assert process.stderr.read() == ""


def group(leader: int) -> list[str]:
    """The processes of a group, by their numbers; what has ended and waits to be noticed is none."""
    found = []
    for told in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # gone since it was listed
            state, _, of = told.read_text(encoding="utf-8").rpartition(")")[2].split()[:3]
            found += [told.parent.name] if of == str(leader) and state != "Z" else []
    return found


def test_a_server_that_cannot_start_says_where_to_look(
    tiny_shop: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    monkeypatch.setattr(serve.signal, "signal", lambda *_: None)  # that of the tests' own process
    with socket.socket() as busy:
        busy.bind((serve.HOST, 0))
        busy.listen()
        # taken by another program since it was found free
        monkeypatch.setattr(serve, "free_port", lambda _: busy.getsockname()[1])
        monkeypatch.setattr(serve, "_listens", lambda server, _: server.wait() < 0)
        assert serve.serve(tiny_shop, told.append) != 0
    log = tiny_shop / "database" / "dashboard.log"
    assert told == [f"The dashboard could not be started. What is known of it: {log}"]
    assert "OSError at dashboard/server.py" in log.read_text(encoding="utf-8")
    assert "Traceback" not in capfd.readouterr().err


def test_a_shop_floor_that_fails_while_it_is_served_is_told(
    tiny_shop: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    told, heard = [], tmp_path / "heard"
    floor = serve.ShopFloor("127.0.0.2", 1)

    def tell(text: str) -> None:
        told.append(text)
        if "no more" in text:
            heard.touch()

    until_heard = f"import pathlib, time\nwhile not pathlib.Path({str(heard)!r}).exists(): time.sleep(0.05)"
    monkeypatch.setattr(serve.signal, "signal", lambda *_: None)  # that of the tests' own process
    monkeypatch.setattr(serve, "_listens", lambda *_: True)
    monkeypatch.setattr(serve, "command", lambda _: [sys.executable, "-c", until_heard])
    monkeypatch.setattr(serve, "floor_command", lambda _: [sys.executable, "-c", "raise SystemExit(3)"])
    assert serve.serve(tiny_shop, tell, serve.free_port(0), floor) == 0
    assert told[-1] == f"The shop floor is served no more. What is known of it: {tiny_shop / serve.FLOOR_LOG}"
    # one that is ended with the rest has not failed
    told.clear()
    monkeypatch.setattr(serve, "floor_command", lambda _: [sys.executable, "-c", "import time; time.sleep(60)"])
    assert serve.serve(tiny_shop, tell, serve.free_port(0), floor) == 0
    assert [text for text in told if "no more" in text] == []
