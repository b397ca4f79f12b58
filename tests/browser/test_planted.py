"""What stands in a maker's files is text and nothing else, on every page, in every fold and report, in every export."""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.app import VIEWS
from pipeline.commands import main
from tests.browser.conftest import serving
from tests.browser.hand import settled, with_all_folds
from tests.browser.planted import ALIVE, ELSEWHERE, write
from tests.refreshed import refreshed
from tests.whole import WHOLE

pytestmark = pytest.mark.browser

SEED = 88
BEYOND = """
function scrolls(part, main) {
    for (let at = part; at && at != main && at != document.body; at = at.parentElement)
        if (["auto", "scroll", "hidden", "clip"].includes(getComputedStyle(at).overflowX)) return true;
    return false;
}
function beyond() {
    const main = document.querySelector("[data-testid=stMain]"), range = document.createRange();
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
    while (texts.nextNode()) {
        const part = texts.currentNode.parentElement;
        range.selectNodeContents(texts.currentNode);
        if (range.getBoundingClientRect().right > innerWidth + 1 && part.checkVisibility() && !scrolls(part, main))
            found.push(`beyond the edge: ${part.outerHTML.slice(0, 160)}`);
    }
    return found;
}
"""
"""Texts that reach over the right edge of the screen, where nothing scrolls to them."""
MADE = f"""() => [
    window.ran && `a script ran: ${{window.ran}}`,
    ...[...document.querySelectorAll(
        "img[src='x'], [src*='//{ELSEWHERE}'], [href*='//{ELSEWHERE}'], [href^='javascript'], .katex"
    )].map(made => made.outerHTML.slice(0, 200)),
    ...[...document.querySelectorAll("strong, code, style, iframe")]
        .filter(made => /^(bold|b|code)$|display:none}}/.test(made.textContent) || made.localName == "iframe")
        .map(made => made.outerHTML.slice(0, 200)),
    document.documentElement.scrollWidth > innerWidth && `it is ${{document.documentElement.scrollWidth}} pixels wide`,
    ...beyond(),
].filter(Boolean)"""
"""What a page made of a text, in words; none where it is text."""


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write(tmp_path_factory.mktemp("planted") / "shop", SEED)
    refreshed(folder)
    return folder


@pytest.fixture(scope="module")
def served(planted: Path) -> Iterator[str]:
    with serving(planted) as address:
        yield address


PATHS = [view.path for view in VIEWS] if WHOLE else ["week", "pieces", "files"]


@pytest.mark.parametrize("width", [1280, 360] if WHOLE else [360])
@pytest.mark.parametrize("path", PATHS)
def test_a_page_shows_hostile_text_as_text(pages, served: str, path: str, width: int) -> None:
    screen = pages(width, served)
    asked: list[str] = []
    screen.on("request", lambda request: asked.append(request.url))
    with_all_folds(screen, f"{served}/{path}")
    settled(screen)
    assert screen.evaluate(f"() => {{ {BEYOND} return ({MADE})() }}") == []
    assert [url for url in asked if not url.startswith((served, "data:", "blob:"))] == []
    assert ":material/delete:" in screen.inner_text("body") or ":smile:" in screen.inner_text("body")


def test_a_report_shows_it_as_text_and_no_sheet_runs_it(pages, served: str, planted: Path, tmp_path: Path) -> None:
    for call in (
        ["report", str(planted), "--month", "2026-02"],
        ["report", str(planted), "--year", "2026"],
        ["export", str(planted), "--format", "csv", "--to", str(tmp_path / "tables")],
        ["check", str(planted), "--set-aside", str(tmp_path / "mended.csv")],
    ):
        assert main(call) in (0, 1), call
    screen = pages(360, served)
    asked: list[str] = []
    screen.on("request", lambda request: asked.append(request.url))
    for report in (planted / "reports").glob("*.html"):
        screen.goto(report.as_uri())
        assert screen.evaluate(f"() => {{ {BEYOND} return ({MADE})() }}") == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    tables = [*tmp_path.rglob("*.csv")]
    cells = [cell for path in tables for row in csv.reader(io.StringIO(path.read_text("utf-8"))) for cell in row]
    assert sum(ALIVE in cell for cell in cells) > 100
    assert [
        cell for cell in cells if re.match(r"[=+\-@\t\r\n]", cell) and not re.fullmatch(r"[+-]?[\d.,e-]+", cell)
    ] == []
    (book,) = (planted / "reports").glob("*.xlsx")
    with zipfile.ZipFile(book) as parts:
        sheets = {name: parts.read(name).decode() for name in parts.namelist() if name.endswith((".xml", ".rels"))}
    assert [name for name, text in sheets.items() if re.search(r"<f>[^<]*(HYPERLINK|calc)", text)] == []
    assert [name for name, text in sheets.items() if "TargetMode" in text or "<hyperlink" in text] == []
