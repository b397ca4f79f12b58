"""The shop floor's server as a process: what it can reach, that it ends with the dashboard, its certificate."""

import os
import ssl
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dashboard.floor import certificate, reach, server
from pipeline.commands import serve
from pipeline.database import open_newest
from pipeline.pages import devices
from tests.dashboard.floor.conftest import ADDRESS, WAIT_S, Clock, Served, entry
from tests.refreshed import refreshed
from tests.shown import ROOT, listens, shown

REACH = """
import os, socket, subprocess, sys
from pathlib import Path
from dashboard.floor import reach, server
from dashboard.floor.work import Work
shop = Path(sys.argv[1])
work = Work(shop)
work.warm()
reach.keep_within(shop)
said, told = work.do({"id": "1" * 32, "action": "entry", "record": "hours",
                      "cells": {"date": "2026-03-02", "hours": "1:00", "operation": "sanding"}})
assert said == 200, told
assert work.now()["written"]
tries = {
    "a file of the inbox": lambda: (shop / "inbox" / "sales.csv").read_text(),
    "by another name": lambda: (shop / "log" / ".." / "inbox" / "sales.csv").read_text(),
    "by a link": lambda: (shop / "log" / "link").read_text(),
    "the database": lambda: (shop / "database" / "shop-000001.duckdb").read_bytes(),
    "its list": lambda: os.listdir(shop / "database"),
    "the folder's": lambda: list(os.scandir(shop)),
    "the settings changed": lambda: (shop / "shop.toml").write_text("x"),
    "a mapping written": lambda: (shop / "mappings" / "x.toml").write_text("x"),
    "a file elsewhere": lambda: Path(sys.argv[2]).write_text("x"),
    "taken away": lambda: (shop / "inbox" / "sales.csv").unlink(),
    "put there": lambda: os.replace(shop / "log" / ".lock", shop / "inbox" / "lock.csv"),
    "linked": lambda: os.symlink(shop / "inbox", shop / "inbox" / "more"),
    "from an open folder": lambda: os.open("../inbox/sales.csv", 0, dir_fd=os.open(shop / "log", 0)),
    "from another folder": lambda: os.chdir(shop / "inbox"),
    "a file of the system": lambda: open("/etc/passwd"),
    "of this process": lambda: open("/proc/self/environ"),
    "a folder of the system": lambda: os.listdir("/etc"),
    "given away": lambda: os.chown(shop / "shop.toml", os.getuid(), os.getgid()),
    "made older": lambda: os.utime(shop / "shop.toml", (1, 1)),
    "a library by hand": lambda: __import__("ctypes").CDLL(None),
    "another process ended": lambda: os.kill(os.getppid(), 0),
    "a name asked for, the old way": lambda: socket.gethostbyname("localhost"),
    "another program": lambda: subprocess.run(["true"]),
    "a shell": lambda: os.system("true"),
    "a call": lambda: socket.create_connection(("127.0.0.1", 9)),
    "a name asked for": lambda: socket.getaddrinfo("example.org", 80),
    "another port": lambda: socket.socket().bind(("127.0.0.1", 0)),
    "the database's inside": lambda: __import__("_duckdb"),
    "another database": lambda: __import__("sqlite3"),
    "duckdb": lambda: __import__("duckdb"),
    "the dashboard's reader": lambda: __import__("dashboard.data"),
    "the database's room": lambda: __import__("pipeline.database"),
    "streamlit": lambda: __import__("streamlit"),
}
for name, tried in tries.items():
    try:
        tried()
    except (PermissionError, ImportError) as error:
        assert "shop floor" in str(error) or "no part of the log" in str(error), (name, error)
    else:
        print("got through:", name)
print("loaded:", sorted({"duckdb", "streamlit", "dashboard.data", "pipeline.database"} & set(sys.modules)))
"""


def test_it_reaches_the_log_and_nothing_else_of_the_shop(tiny_shop: Path, tmp_path: Path) -> None:
    refreshed(tiny_shop)
    (tiny_shop / "inbox" / "sales.csv").write_text("date,price\n", encoding="utf-8")
    (tiny_shop / "log").mkdir()
    (tiny_shop / "mappings").mkdir(exist_ok=True)
    (tiny_shop / "log" / "link").symlink_to(tiny_shop / "inbox" / "sales.csv")
    before = {path: path.read_bytes() for path in tiny_shop.rglob("*") if path.is_file()}
    call = [sys.executable, "-c", REACH, str(tiny_shop), str(tmp_path / "elsewhere")]
    done = subprocess.run(call, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("loaded: []\n", "")
    assert {path: path.read_bytes() for path in before} == before
    assert not (tmp_path / "elsewhere").exists()


def test_a_log_that_leads_to_the_whole_shop_is_not_served(tiny_shop: Path) -> None:
    (tiny_shop / "log").symlink_to(tiny_shop)
    with pytest.raises(PermissionError):
        reach.keep_within(tiny_shop)


def test_it_comes_and_goes_with_the_dashboard_and_what_it_writes_is_refreshed(tiny_shop: Path) -> None:
    refreshed(tiny_shop)
    port = free_port()
    with shown(tiny_shop, "--shop-floor", f"{ADDRESS}:{port}") as running:
        wait_until(lambda: listens(port, ADDRESS))
        assert not listens(port), "at the one address that was picked, and no other"
        served = Served(tiny_shop, port, Clock(time.time()), None)
        assert served.paired().post("/entry", entry()).status == 200
        wait_until(lambda: hours(tiny_shop) == 1)
        assert running.process.poll() is None
    wait_until(lambda: not listens(port, ADDRESS))
    log = tiny_shop / devices.FOLDER / server.LOG
    assert log.read_text(encoding="utf-8") == ""


def hours(shop: Path) -> int:
    with open_newest(shop) as con:
        return con.execute("select count(*) from records.hours").fetchone()[0]


def free_port() -> int:
    with server.bind(ADDRESS, 0) as probe:
        return probe.getsockname()[1]


def wait_until(true) -> None:
    end = time.monotonic() + WAIT_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.1)


def test_its_own_certificate_is_for_its_address_alone_and_kept_while_it_holds(tiny_shop: Path) -> None:
    now = datetime(2026, 3, 2, tzinfo=UTC)
    path, key = certificate.own(tiny_shop, ADDRESS, now)
    first = (path.read_bytes(), key.read_bytes(), certificate.fingerprint(path))
    assert [file.stat().st_mode & 0o777 for file in (path, key)] == [0o600, 0o600]
    certificate.own(tiny_shop, ADDRESS, now + timedelta(days=300))
    assert (path.read_bytes(), key.read_bytes()) == first[:2]
    # each address has its own: who goes from one to the other and back meets no other certificate
    other, its_key = certificate.own(tiny_shop, "::1", now)
    server.tls(other, its_key)
    assert (other != path, (path.read_bytes(), key.read_bytes())) == (True, first[:2])
    other.write_bytes(path.read_bytes())
    its_key.write_bytes(key.read_bytes())
    certificate.own(tiny_shop, "::1", now)
    assert other.read_bytes() != first[0], "that of another address is none for this one"
    for day, break_ in ((380, None), (0, key), (0, path)):  # it would soon be over
        certificate.own(tiny_shop, ADDRESS, now)
        before = path.read_bytes()
        if break_:
            break_.write_bytes(b"no key")
        certificate.own(tiny_shop, ADDRESS, now + timedelta(days=day))
        assert path.read_bytes() != before
        server.tls(path, key)  # the two fit
    told = ssl._ssl._test_decode_cert(str(path))
    assert told["subjectAltName"] == (("IP Address", ADDRESS),)


def test_a_fingerprint_is_that_of_openssl(tiny_shop: Path) -> None:
    path, _ = certificate.own(tiny_shop, ADDRESS, datetime.now(UTC))
    call = ["openssl", "x509", "-in", str(path), "-noout", "-fingerprint", "-sha256"]
    try:
        said = subprocess.run(call, capture_output=True, text=True, check=True).stdout
    except FileNotFoundError:
        pytest.skip("no openssl on this machine")
    assert said.strip().partition("=")[2] == certificate.fingerprint(path)


def test_a_certificate_of_the_maker_s_own_is_taken(tiny_shop: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    path, key = certificate.own(tmp_path / "other", ADDRESS, datetime.now(UTC))
    call = serve.floor_command(serve.ShopFloor(ADDRESS, free_port(), path, key))
    environment = os.environ | {"PYTHONPATH": str(ROOT), "KERFLEDGER_SHOP": str(tiny_shop)}
    with subprocess.Popen(call, env=environment, stdin=subprocess.PIPE, cwd=ROOT) as process:
        port = int(call[call.index(ADDRESS) + 1])
        wait_until(lambda: process.poll() is not None or listens(port, ADDRESS))
        seen = ssl.get_server_certificate((ADDRESS, port))
        process.stdin.close()  # whoever started it is gone
        assert process.wait(WAIT_S) in (0, -15)
    assert ssl.PEM_cert_to_DER_cert(seen) == ssl.PEM_cert_to_DER_cert(path.read_text())
    assert not list((tiny_shop / devices.FOLDER).glob("*.pem"))
