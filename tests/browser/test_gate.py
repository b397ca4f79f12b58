"""Attacks on a running dashboard through the maker's browser, and that its own pages need nothing that is forbidden."""

import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import quote

import pytest

from dashboard.app import VIEWS
from tests.browser.conftest import FLAGS, chromium, laid, left, new_page, nothing_uncaught
from tests.browser.hand import PATIENCE_S, click_mark, settled, with_all_folds
from tests.one_look import HEIGHTS
from tests.shown import ROOT, shown

pytestmark = pytest.mark.browser

NAME = "evil.example"
"""A name of the attacker's that leads to this machine, as after DNS rebinding."""

OWN = "the attacker's own page"


@dataclass(frozen=True)
class Attacker:
    """A browser in which the attacker's name leads to this machine, and the port of the attacker's own pages."""

    browser: object
    port: int

    @property
    def origins(self) -> tuple[str, str]:
        # another site, and another port of the very address that is served
        return f"http://{NAME}:{self.port}", f"http://127.0.0.1:{self.port}"


class OwnPage(BaseHTTPRequestHandler):
    """Answers anything with an empty page."""

    def do_GET(self) -> None:
        body = f"<!doctype html><title>{OWN}</title><p>{OWN}".encode()
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def attacker(browser) -> Iterator[Attacker]:
    pages = ThreadingHTTPServer(("127.0.0.1", 0), OwnPage)
    threading.Thread(target=pages.serve_forever, daemon=True).start()
    # newer browsers ask before a page from outside reaches this machine; the dashboard must not hang on that
    unguarded = "--disable-features=LocalNetworkAccessChecks,BlockInsecurePrivateNetworkRequests"
    rule = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
    fooled = browser.browser_type.launch(executable_path=chromium(), args=[*FLAGS, rule, unguarded])
    yield Attacker(fooled, pages.server_port)
    fooled.close()
    pages.shutdown()
    pages.server_close()


TRY_ALL = """
async base => {
  const sure = (wanted, made) => new Promise(done => {
    made.onload = made.onopen = () => done(wanted + " got through");
    made.onerror = made.onclose = () => done(null);
    setTimeout(() => done(wanted + " never ended"), 20000);
  });
  const shown = made => (document.body.append(made), made);
  const asked = (path, how) => fetch(base + path, how).then(answer => path + " " + answer.status, () => null);
  const script = Object.assign(document.createElement("script"), { src: base + "/static/js/none.js" });
  const css = { rel: "stylesheet", href: base + "/static/css/none.css" };
  const sheet = Object.assign(document.createElement("link"), css);
  const results = await Promise.all([
    asked("/"), asked("/_stcore/health"), asked("/_stcore/host-config"), asked("/_stcore/metrics"),
    asked("/media/none.csv"),
    asked("/", { credentials: "include" }),
    asked("/_stcore/upload_file/x/y", { method: "PUT", body: new FormData() }),
    asked("/_stcore/upload_file/x/y", { method: "DELETE" }),
    asked("/_stcore/agent/interact", { method: "POST", body: "{}" }),
    asked("/_stcore/agent/interact", { method: "POST", body: "{}", headers: { "Content-Type": "application/json" } }),
    sure("websocket", new WebSocket(base.replace("http", "ws") + "/_stcore/stream")),
    sure("websocket with a protocol", new WebSocket(base.replace("http", "ws") + "/_stcore/stream", ["streamlit"])),
    sure("picture", Object.assign(new Image(), { src: base + "/favicon.png" })),
    sure("script", shown(script)), sure("style sheet", shown(sheet)),
  ]);
  return results.filter(Boolean);
}
"""
"""All that a page can ask of another: what got through, by name."""


@pytest.mark.parametrize("which", [0, 1], ids=["another site", "another port"])
def test_a_page_from_elsewhere_reads_and_changes_nothing(attacker: Attacker, address: str, which: int) -> None:
    page = attacker.browser.new_page()
    page.goto(attacker.origins[which])
    for base in (address, address.replace("127.0.0.1", "localhost")):
        assert page.evaluate(TRY_ALL, base) == []
    # the same list does get through where it may: the attacker's own server answers most of it
    assert page.evaluate(TRY_ALL, attacker.origins[which])
    page.close()


@pytest.mark.parametrize("which", [0, 1], ids=["another site", "another port"])
def test_a_form_of_another_page_is_refused(attacker: Attacker, address: str, which: int) -> None:
    page = attacker.browser.new_page()
    page.goto(attacker.origins[which])
    for path in ("/_stcore/upload_file/x/y", "/pieces", "/_stcore/agent/interact"):
        with page.expect_navigation() as sent:
            page.evaluate(
                """to => {
                  const form = Object.assign(document.createElement("form"),
                    { action: to, method: "post", enctype: "multipart/form-data" });
                  form.innerHTML = "<input name=a value=b>";
                  document.body.append(form);
                  form.submit();
                }""",
                address + path,
            )
        assert sent.value.status == 405
        assert not page.locator("#root").count()
        page.goto(attacker.origins[which])
    page.close()


SHOW = """([kind, there]) => {
  const frame = document.createElement(kind);
  frame[kind === "object" ? "data" : "src"] = there;
  document.body.append(frame);
}"""
KINDS = ("iframe", "object", "embed")


@pytest.mark.parametrize("which", [0, 1], ids=["another site", "another port"])
def test_no_page_of_ours_is_framed(attacker: Attacker, address: str, which: int) -> None:
    page = attacker.browser.new_page()
    page.goto(attacker.origins[which])
    sockets: list[str] = []
    page.on("websocket", lambda socket: sockets.append(socket.url))
    framed: list = []
    for kind in KINDS:
        page.evaluate(SHOW, [kind, f"{attacker.origins[which]}/inner"])
        for _ in range(PATIENCE_S * 10):
            if own := [frame for frame in page.frames[1:] if frame not in framed and OWN in frame.content()]:
                break
            page.wait_for_timeout(100)
        assert len(own) == 1, "the attacker's own page can be framed"
        framed += own
    for kind in KINDS:
        for path in ("/", "/pieces", "/?open=lot:1", "/_stcore/health"):
            page.evaluate(SHOW, [kind, address + path])
    page.wait_for_timeout(3000)
    assert len(page.frames) >= 4
    shown = [frame.content() for frame in page.frames[1:] if frame not in framed]
    assert not [text for text in shown if "root" in text or text == "ok"]
    assert sockets == []
    page.close()


STATEMENTS = (
    "piece) from cost.piece as piece; copy (select 1) to '{written}'; --",
    "x'; copy (select 1) to '{written}'; --",
    "species, (select content from read_text('{secret}'))",
)


@pytest.mark.parametrize("kind", ["sold", "wood"])
def test_an_address_writes_and_reads_no_file(attacker: Attacker, address: str, tmp_path: Path, kind: str) -> None:
    """Neither in a hidden frame of another page, nor as a link that somebody follows."""
    secret, written = tmp_path / "secret.txt", tmp_path / "written.csv"
    secret.write_text("what lies on this disk", encoding="utf-8")
    page = attacker.browser.new_page()
    for statement in STATEMENTS:
        factor = quote(statement.format(secret=secret, written=written)).replace("~", "%7E")
        there = f"{address}/month?open={quote(f'{kind}:{factor}~x')}"
        page.goto(attacker.origins[0])
        page.evaluate(
            "there => { const f = document.createElement('iframe'); f.hidden = true; f.src = there;"
            " document.body.append(f); }",
            there,
        )
        page.wait_for_timeout(1000)
        page.goto(there)
        dialog = page.get_by_role("dialog")
        dialog.get_by_text("Nothing of that name is on record").wait_for()
        assert "what lies on this disk" not in page.content()
        assert not written.exists()
    page.close()


def test_a_page_of_ours_is_no_handle_for_who_opened_it(attacker: Attacker, address: str) -> None:
    page = attacker.browser.new_page()
    page.goto(attacker.origins[0])
    with page.expect_popup() as opened:
        page.evaluate("there => { window.handle = window.open(there) }", address)
    opened.value.locator("h1.kl-answer").wait_for()
    assert page.evaluate("window.handle.closed")
    assert opened.value.evaluate("window.opener === null")
    page.context.close()


def test_a_name_that_is_made_to_mean_this_machine_gets_nothing(attacker: Attacker, address: str) -> None:
    rebound = address.replace("127.0.0.1", NAME)
    page = attacker.browser.new_page()
    answer = page.goto(rebound)
    assert answer.status == 421
    assert not page.locator("#root").count()
    assert "ledger" not in page.content().lower()
    # as a page would stand there that came from the attacker's server before the name was made to lead here
    page.route(f"{rebound}/lure", lambda route: route.fulfill(body=f"<p>{OWN}", content_type="text/html"))
    page.goto(f"{rebound}/lure")
    read = page.evaluate(
        """async () => {
          const paths = ["/", "/pieces", "/_stcore/health", "/_stcore/host-config", "/media/none.csv"];
          const answers = await Promise.all(paths.map(path => fetch(path)));
          const put = await fetch("/_stcore/upload_file/x/y", { method: "PUT", body: new FormData() });
          return [...answers, put].map(answer => answer.status);
        }"""
    )
    assert set(read) == {421}
    assert not [told for told in page.evaluate(TRY_ALL, rebound) if not told.endswith(" 421")]
    page.close()


@pytest.fixture(scope="module")
def reporting(browser, address: str) -> Iterator[object]:
    """A page, kept, that says on its console what its policy forbids."""
    page = new_page(browser, 1280, address)
    page.add_init_script(
        "document.addEventListener('securitypolicyviolation', "
        "event => console.error('forbidden: ' + event.violatedDirective + ' ' + event.blockedURI))"
    )
    yield page
    page.context.close()


@contextmanager
def watched(page, address: str) -> Iterator[object]:
    """A page that fails the test where its policy forbids something that it does, or where it asks anyone else."""
    asked: set[str] = set()
    said: list[str] = []
    listening = {
        "request": lambda request: asked.add(request.url),
        "websocket": lambda socket: asked.add(socket.url.replace("ws:", "http:")),
        "console": lambda message: said.append(message.text),
    }
    for event, listen in listening.items():
        page.on(event, listen)
    yield page
    for event, listen in listening.items():
        page.remove_listener(event, listen)
    left(page)
    assert [text for text in said if "forbidden" in text or "ontent Security Policy" in text] == []
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []


PATHS = (*(view.path for view in VIEWS), "materials?material=wood")
SHOWN = {"week": ".kl-week", "settings": "[data-testid=stExpander]"}
"""What stands on a page that has no picture."""


def test_each_fold_is_opened_by_its_address_and_no_page_does_what_is_forbidden_or_asks_anyone_else(
    reporting, address: str
) -> None:
    with watched(reporting, address) as page:
        for path in PATHS:
            view = path.partition("?")[0]
            assert with_all_folds(page, f"/{path}") or view not in HEIGHTS, path
            assert not page.locator("[data-testid=stException], .kl-fault").count(), path
            page.locator(SHOWN.get(view, "[data-testid=stVegaLiteChart] :is(svg, canvas)")).first.wait_for()
            page.locator("[data-testid=stExpander] summary").locator("visible=true").first.click()
            settled(page)
            assert page.evaluate("typeof window.kerfledgerFollow") == "function", path


def test_a_grid_and_what_is_open_need_nothing_that_is_forbidden(reporting, address: str) -> None:
    with watched(reporting, address) as page:
        page.goto("/pieces?others=true&rest-pieces=true")
        settled(page)
        page.locator("[data-testid=stDataFrame] canvas").first.wait_for()
        bar = page.locator("[data-testid=stVegaLiteChart] [aria-roledescription=bar]").first
        click_mark(bar, page.get_by_role("dialog").locator("details.kl-record").first)


def test_the_watch_sees_what_is_forbidden(reporting, address: str) -> None:
    with pytest.raises(AssertionError, match="violates"), watched(reporting, address) as page:
        page.goto("/")
        settled(page)
        page.evaluate("document.body.append(Object.assign(new Image(), { src: 'http://evil.example/a.png' }))")
        page.evaluate(
            "document.body.append(Object.assign(document.createElement('script'), { text: 'window.bad = 1' }))"
        )
        page.wait_for_timeout(500)
        assert page.evaluate("window.bad === undefined")


def test_a_young_shop_is_served_as_strictly(reporting, young: Path, bench: tuple[Path, str]) -> None:
    folder, address = bench
    laid(young, folder)
    with watched(reporting, address) as page:
        page.goto(f"{address}/")
        page.locator("[data-testid=stFileUploader]").first.wait_for()
    nothing_uncaught(folder)


FAULT = """
import sys

if "dashboard.server" in sys.orig_argv:
    from dashboard import data

    def newest(folder):
        raise ValueError("cell text: Mr Sentinel, 12 Oak Lane")

    data.newest = newest
"""


def test_a_fault_is_a_sentence_on_the_page_and_a_place_in_the_log(browser, young: Path, tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(FAULT, encoding="utf-8")
    shop = laid(young, tmp_path / "shop")
    with shown(shop, PYTHONPATH=f"{tmp_path}:{ROOT}") as running:
        page = browser.new_page(base_url=running.address)
        page.goto("/")
        told = page.locator(".kl-fault")
        told.wait_for()
        said = page.locator("body").inner_text()
        page.close()
    assert "a fault of the tool, not of your files" in said
    assert "load it again" in said
    assert "dashboard.log" in said
    log = shop / "database" / "dashboard.log"
    written = log.read_text(encoding="utf-8")
    assert re.search(r"ValueError at dashboard/app\.py:\d+$", written, re.MULTILINE)
    for text in (said, written):
        assert "Traceback" not in text
        assert "Sentinel" not in text
    assert "ValueError" not in said
    assert log.stat().st_mode & 0o077 == 0
