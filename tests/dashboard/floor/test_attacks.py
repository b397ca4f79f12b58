"""Somebody in the same network: nothing gets through, nothing is written, and what is refused is told nothing."""

import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.floor import app, server
from dashboard.floor.app import COOKIE, cookie_name
from pipeline.pages import devices
from tests.dashboard.floor.conftest import ADDRESS, ID, Served, all_of, entry, parsed

PATHS = (
    *("/", "/now", "/entry", "/pair", "/keep.js", "/floor.css"),
    *("/index.html", "/log", "/shop.toml", "/database/shop-000001.duckdb", "/.shop-floor/devices.json", "/favicon.ico"),
    *("/_stcore/stream", "/_stcore/upload_file/a/b", "/_stcore/health", "/docs", "/openapi.json", "/metrics"),
    *("/../shop.toml", "/floor.js/../../../../shop.toml", "/%2e%2e/shop.toml", "/..%2fshop.toml", "/..;/now"),
    *("//", "//now", "/now/", "/./now", "/NOW", "/now?x=1", "/now?", "/now%00", "/%6eow", "/now#x", "/floor.js%00.css"),
    *("https://127.0.0.2/now", "http://example.org/", "*", "/\\..\\shop.toml", "/static/../now", "/" + "a" * 4000),
)
FILES = ("/keep.js", "/pair.js", "/floor.js", "/worker.js", "/floor.css")
OWN = {("GET", path) for path in ("/", "/now", "/now?", *FILES)}
"""What gives more than a status to a device that is paired; a `?` with nothing behind it is the path itself."""
METHODS = ("GET", "POST", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "CONNECT", "get")


@pytest.fixture
def untouched(served: Served) -> Iterator[Served]:
    """A server of which nothing is written while a test attacks it."""
    yield served
    assert served.rows() == []
    assert not (served.shop / "log" / ".running.json").exists()
    assert not list((served.shop / "database").glob("*")) if (served.shop / "database").exists() else True


def is_nothing(answer) -> bool:
    """Whether an answer says no more than a status of refusal; what is no HTTP gets no answer at all."""
    return (answer.status >= 400 or not answer.status) and answer.body == b"" and "set-cookie" not in answer.headers


def test_a_device_that_is_not_paired_sees_the_page_to_pair_with_and_nothing_else(untouched: Served) -> None:
    shown = untouched.ask("GET", "/")
    assert shown.status == 200
    assert b"Pair this device" in shown.body
    assert b"data-record" not in shown.body
    name = cookie_name(untouched.authority)
    for cookie in (None, f"{name}=", f"{name}={'A' * 43}", f"{name}={'A' * 5000}", "a=b; c", "\x7f"):
        untouched.cookie = cookie or ""
        assert is_nothing(untouched.ask("GET", "/now"))
        assert is_nothing(untouched.post("/entry", entry()))
        assert untouched.ask("GET", "/").body in (shown.body, b"")


def test_every_other_address_and_way_of_asking_is_nothing(untouched: Served) -> None:
    untouched.paired()
    for path in PATHS:
        for method in METHODS if path in ("/", "/now", "/entry") else ("GET", "POST"):
            if (method, path) in OWN:
                continue
            answer = untouched.ask(method, path, b"" if method == "POST" else None)
            assert is_nothing(answer), (method, path, answer)


def test_a_request_that_was_not_made_here_is_refused(untouched: Served) -> None:
    """By a page elsewhere, or under a name that somebody points at this machine (DNS rebinding)."""
    untouched.paired()
    there, other = untouched.authority, "evil.example"
    for origin in (f"https://{other}", f"http://{there}", f"https://{ADDRESS}", f"https://{there}.{other}", "null", ""):
        assert is_nothing(untouched.post("/entry", entry(), origin=origin)), origin
        assert is_nothing(untouched.ask("GET", "/now", origin=origin)), origin
    assert is_nothing(untouched.post("/entry", entry(), origin=None))
    hosts = (other, "localhost", f"localhost:{untouched.port}", ADDRESS, f"127.0.0.1:{untouched.port}", f"{there}.", "")
    for host in (*hosts, f"{there}@{other}", f"{other}:{untouched.port}", f"{there}, {other}"):
        refused = untouched.post("/entry", entry(), host=host, origin=f"https://{host}")
        assert is_nothing(refused), host
        assert is_nothing(untouched.ask("GET", "/", host=host)), host
    for site in ("cross-site", "same-site"):
        assert is_nothing(untouched.post("/entry", entry(), sec_fetch_site=site))
        assert is_nothing(untouched.ask("GET", "/now", sec_fetch_site=site, sec_fetch_mode="cors"))
    # a form of another page can send these without asking first
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", None, ""):
        assert is_nothing(untouched.post("/entry", entry(), content_type=kind)), kind


def test_no_websocket_is_opened(untouched: Served) -> None:
    opening = {
        "connection": "Upgrade", "upgrade": "websocket", "sec_websocket_version": "13",
        "sec_websocket_key": "c2l4dGVlbiBieXRlcyBvaw==",
    }  # fmt: skip
    for cookie in ("", untouched.paired().cookie):
        untouched.cookie = cookie
        for path in ("/", "/now", "/_stcore/stream"):
            assert is_nothing(untouched.ask("GET", path, **opening, origin=f"https://{untouched.authority}"))


def test_a_number_lets_one_device_in_while_it_holds(untouched: Served) -> None:
    number = untouched.number()
    untouched.clock.now += devices.HOLDS_S
    assert is_nothing(untouched.pair(number)), "its time is over"
    untouched.clock.now -= devices.HOLDS_S + 60
    assert is_nothing(untouched.pair(number)), "the clock was put back"
    untouched.clock.now += 120
    assert untouched.pair(number).status == 200
    untouched.clock.now += app.SPAN_S
    assert is_nothing(untouched.pair(number)), "replayed"
    older, newer = untouched.number(), untouched.number()
    assert is_nothing(untouched.pair(older)), "a newer one was made"
    assert untouched.pair(newer).status == 200
    assert len(devices.devices(untouched.shop, untouched.clock())) == 2
    assert is_nothing(untouched.pair("")), "none was made"


def test_guessing_ends_the_number_and_then_all_answers(untouched: Served) -> None:
    number = untouched.number()
    wrong = [f"{guess:08}" for guess in range(1001) if f"{guess:08}" != number][:1000]
    found = [untouched.pair(guess).status for guess in wrong[:20]]
    # the handshakes of so many connections would only take time
    found += [untouched.direct("/pair", {"number": guess, "name": "x"}) for guess in wrong[20:]]
    assert set(found) == {401, 429}
    assert found.count(401) == 2 * app.PAIRING_EACH, "from two addresses"
    known = devices.open_number(untouched.shop)
    assert (known.wrong, known.holds(untouched.clock())) == (devices.WRONG_TRIES, False)
    assert known.wrong_from.startswith("127.0.0."), "the page says who tried"
    assert is_nothing(untouched.pair(number)), "too often, and the number died of the wrong ones"
    assert devices.pair(untouched.shop, number, "x", untouched.clock()) is None
    untouched.clock.now += app.SPAN_S
    assert untouched.pair(untouched.number()).status == 200


def test_a_token_of_another_port_is_left_alone() -> None:
    """Cookies have no port (RFC 6265, 8.5): those of two shops that are served at one address must not meet."""
    names = {
        cookie_name(each) for each in ("127.0.0.2:8502", "127.0.0.2:8503", "127.0.0.2", "[fd00::2]", "[fd00::2]:1")
    }
    assert names == {f"{COOKIE}{port}" for port in (8502, 8503, 443, 1)}


def test_what_is_no_number_is_no_key(untouched: Served) -> None:
    untouched.number()
    for number in (None, 12345678, ["1"], {"a": 1}, "1" * 8000, "１２３４５６７８", "1234567", "-1234567"):
        assert is_nothing(untouched.post("/pair", {"number": number, "name": "x"})), number
        assert is_nothing(untouched.post("/pair", [number]))
        untouched.clock.now += app.SPAN_S


def test_a_device_that_was_sent_away_is_out_at_once(untouched: Served) -> None:
    untouched.paired()
    assert untouched.ask("GET", "/now").status == 200
    (device,) = devices.devices(untouched.shop, untouched.clock())
    devices.send_away(untouched.shop, device.id, untouched.clock())
    assert is_nothing(untouched.ask("GET", "/now"))
    assert is_nothing(untouched.post("/entry", entry()))


def test_a_device_that_is_sent_away_while_it_still_sends_is_out(untouched: Served) -> None:
    untouched.paired()
    (device,) = devices.devices(untouched.shop, untouched.clock())

    def sent_away() -> None:
        devices.send_away(untouched.shop, device.id, untouched.clock())

    assert untouched.direct("/entry", entry(), cookie=untouched.cookie, meanwhile=sent_away) == 401


def test_where_the_shop_is_out_of_reach_nobody_is_told_that_they_are_out(untouched: Served) -> None:
    """A phone that is told so asks to be paired anew, in vain; so it waits until the disk is back."""
    untouched.paired()
    there = untouched.shop.rename(untouched.shop.with_name("elsewhere"))
    asked = [
        untouched.ask("GET", "/"),
        untouched.ask("GET", "/now"),
        untouched.post("/entry", entry()),
        untouched.pair("12345678"),
    ]
    gone = untouched.shop.exists()
    there.rename(untouched.shop)
    assert [(answer.status, answer.body) for answer in asked] == [(503, b"")] * 4
    assert not gone
    assert untouched.ask("GET", "/now").status == 200


def test_a_device_that_was_long_not_seen_is_out(untouched: Served) -> None:
    untouched.paired()
    untouched.clock.now += devices.UNSEEN_S
    assert is_nothing(untouched.post("/entry", entry()))


def test_only_the_hash_of_a_token_is_kept_and_only_for_its_owner(served: Served) -> None:
    token = served.paired().cookie.partition("=")[2]
    answer = served.pair(served.number())
    said = answer.headers["set-cookie"].lower()
    assert all(part in said for part in ("; path=/;", "; secure", "; httponly", "; samesite=strict"))
    assert "domain" not in said
    for path in served.shop.rglob("*"):
        if path.is_file():
            assert token.encode() not in path.read_bytes()
    home = served.shop / devices.FOLDER
    assert home.stat().st_mode & 0o777 == 0o700
    assert {path.name: path.stat().st_mode & 0o077 for path in home.iterdir() if path.stat().st_mode & 0o077} == {}


def test_a_body_that_is_huge_or_no_message_is_refused(untouched: Served) -> None:
    untouched.paired()
    assert is_nothing(untouched.post("/entry", entry(note="x" * app.MOST_BYTES)))
    assert untouched.ask("POST", "/entry", None, content_length="999999999").status == 413
    deep = b"[" * 8000 + b"]" * 8000
    for body in (b"", b"{", b"null", b"[]", b'"x"', b"1e999", deep, b"\xff\xfe", b'{"id": "' + ID.encode() + b'"}'):
        assert untouched.ask("POST", "/entry", body).status == 400, body
    bad = (
        *({"id": value} for value in ("", "x", ID + "0", ID.upper(), "../" * 10 + "aa", 5, None)),
        *({"action": value} for value in ("", "undo", "delete", None, "__init__", ["entry"])),
        *({"record": value} for value in ("", "orders", "../hours", "payments", 7, None)),
        *({"cells": value} for value in (None, [], "x", {"date": 5}, {"date": "x" * 501}, {"no such": "x"}, {"a": {}})),
        *({"sure": value} for value in (5, [["a", "b"]] * 51)),
        {"suggested": 5},
        {"action": "start", "cells": {"date": "2026-03-02"}},
        {"action": "start", "cells": {"operation": "sanding"}, "ago_s": "soon"},
        {"action": "start", "cells": {"operation": "sanding"}, "ago_s": True},
        {"action": "stop", "timer": "x"},
        {"action": "drop"},
    )
    untouched.clock.now += 1
    for more in bad:
        untouched.clock.now += app.WRITES_S
        assert untouched.post("/entry", entry(**more)).status == 400, more
    sent = json.dumps(entry(action="start", cells={"operation": "sanding"}, ago_s=0)).replace(
        '"ago_s": 0', '"ago_s": NaN'
    )
    assert untouched.ask("POST", "/entry", sent.encode()).status == 400


def test_smuggled_and_doubled_headers_are_refused(untouched: Served) -> None:
    untouched.paired()
    body = json.dumps(entry()).encode()
    own = [
        f"Host: {untouched.authority}", f"Origin: https://{untouched.authority}", "Content-Type: application/json",
        f"Cookie: {untouched.cookie}",
    ]  # fmt: skip
    length = f"Content-Length: {len(body)}"
    attacks = (
        [*own, length, "Transfer-Encoding: chunked"],
        [*own, "Transfer-Encoding: chunked"],
        [*own, length, "Transfer-Encoding : chunked"],
        [*own, length, "Transfer-Encoding:\tidentity, chunked"],
        [*own, length, f"Content-Length: {len(body) + 5}"],
        [*own, f"Content-Length: {len(body)}, {len(body) + 5}"],
        [*own, f"Content-Length: +{len(body)}"],
        [*own, f"Content-Length: 0x{len(body):x}"],
        [*own, "Content-Length: -1"],
        [*own, length, "Host: evil.example"],
        [*own, length, "Origin: https://evil.example"],
        [*own, length, f"Cookie: {cookie_name(untouched.authority)}=x"],
        [*own, length, "Content-Type: text/plain"],
        [*own, length, " folded: yes"],
        [*own, length, "Expect: 100-continue"],
        [*own, length, "Bad\x00Name: x"],
        [*own, length, "X: a\rGET /now HTTP/1.1"],
        [length, *own[1:]],
    )
    for lines in attacks:
        sent = "\r\n".join(["POST /entry HTTP/1.1", *lines, "", ""]).encode("latin-1")
        answer = untouched.raw(sent + (b"0\r\n\r\n" if "chunked" in lines[-1] else b"") + body)
        assert b" 200 " not in answer.partition(b"\r\n")[0], lines
        assert answer.count(b"HTTP/1.1 ") <= 1, "one answer, for one request"
    # a second request behind the first one's body is never looked at
    first = "\r\n".join([f"GET /floor.css HTTP/1.1\r\nHost: {untouched.authority}", "", ""]).encode()
    second = "\r\n".join(["POST /entry HTTP/1.1", *own, length, "", ""]).encode() + body
    assert untouched.raw(first + second).count(b"HTTP/1.1 ") == 1
    assert is_nothing(parsed(untouched.raw(b"GET /now HTTP/1.0\r\n\r\n")))
    many = "\r\n".join(["GET / HTTP/1.1", own[0], *(f"X-{n}: {'y' * 100}" for n in range(200)), "", ""])
    assert b" 200 " not in untouched.raw(many.encode()).partition(b"\r\n")[0]


def test_who_is_slow_is_not_waited_for(untouched: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """The time is over at once for the connections of this test: each ends with nothing said, whatever it waits for."""
    untouched.paired()
    own = f"Host: {untouched.authority}\r\nOrigin: https://{untouched.authority}\r\nCookie: {untouched.cookie}\r\n"
    whole = f"POST /entry HTTP/1.1\r\n{own}Content-Type: application/json\r\nContent-Length: 500\r\n\r\n"
    monkeypatch.setattr(server.Brief, "seconds", 0.2)
    for sent in ("", "GET / HT", f"GET / HTTP/1.1\r\n{own}", whole, whole + '{"id": "'):
        with untouched.line() as line:
            line.sendall(sent.encode())
            assert all_of(line) == b""  # without its end, this would wait for ever


def test_one_address_has_few_connections(untouched: Served) -> None:
    lines = [untouched.line() for _ in range(server.EACH_CONNECTIONS)]
    held = [line.__enter__() for line in lines]
    with untouched.line() as line:
        assert all_of(line) == b""
    held[0].close()
    for line in held[1:]:
        line.close()


def test_without_tls_nothing_is_said(untouched: Served) -> None:
    with socket.create_connection((ADDRESS, untouched.port), 60) as plain:
        plain.sendall(f"GET / HTTP/1.1\r\nHost: {untouched.authority}\r\n\r\n".encode())
        found = b""
        try:
            while part := plain.recv(1000):
                found += part
        except ConnectionError:
            pass
    assert b"HTTP" not in found


def test_every_answer_tells_the_browser_to_refuse_the_rest(served: Served) -> None:
    for answer in (served.ask("GET", "/"), served.ask("GET", "/nothing"), served.paired().ask("GET", "/now")):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert answer.headers["cache-control"] == "no-store"
        assert "access-control-allow-origin" not in answer.headers
        assert "server" not in answer.headers
    page = served.ask("GET", "/").body.decode()
    assert "<script>" not in page
    assert " style=" not in page
    assert " onclick=" not in page


def test_what_a_name_of_a_device_or_a_shop_s_word_holds_is_text(served: Served, tmp_path: Path) -> None:
    served.post("/pair", {"number": served.number(), "name": "<script>alert(1)</script>\x00\n\"'"})
    (device,) = devices.devices(served.shop, served.clock())
    assert "\n" not in device.name
    answer = served.post("/pair", {"number": served.number(), "name": device.name})
    served.cookie = answer.cookie
    page = served.ask("GET", "/").body.decode()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
