"""Every page for everybody: axe-core finds nothing serious, by day and by night, on a laptop and on a phone."""

import re

import pytest

from dashboard.app import VIEWS
from tests.browser.conftest import needed, wide
from tests.browser.hand import at_rest, heading, opened, take_by_keys
from tests.browser.test_walk import go

pytestmark = pytest.mark.browser

# WCAG 2.2 levels A and AA, as axe-core tags its rules
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
GRAVE = """async rules => (await axe.run(document, rules)).violations
  .filter(({ impact }) => ["serious", "critical"].includes(impact))
  .map(({ impact, id, help, nodes }) =>
    `${impact}: ${id}, ${help}: ${nodes.slice(0, 3).map(node => node.html.slice(0, 200))}`)"""


def violations(screen) -> list[str]:
    if screen.evaluate("!window.axe"):
        screen.evaluate(needed("axe_playwright_python.base").AXE_SCRIPT)
    return screen.evaluate(GRAVE, RULES)


# both widths and both schemes of each page, though not each with each
@pytest.mark.parametrize(
    ("screen", "scheme"), [(1280, "light"), (360, "dark")], ids=["wide-light", "phone-dark"], indirect=["screen"]
)
def test_each_page_shows_its_answer_and_its_picture_and_has_no_serious_fault(screen, scheme: str) -> None:
    screen.emulate_media(color_scheme=scheme)
    opened(screen, "/")
    found = {}
    for view in VIEWS:
        go(screen, view.title)
        # what to do is a list, and so are settings: no picture
        # why rows of files are set aside is drawn behind a fold
        shown = {"week": ".kl-week", "files": "table.kl", "settings": "[data-testid=stExpander]"}
        screen.locator(shown.get(view.path, "[data-testid=stVegaLiteChart] svg")).first.wait_for()
        assert re.search(r"\d", heading(screen)), view.title
        assert not screen.locator("[data-testid=stException], .kl-fault").count(), view.title
        # nothing sticks out at the side: only tables scroll, in a frame of their own
        wide = screen.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
        assert wide <= screen.viewport_size["width"], view.title
        found[view.title] = violations(screen)
    assert found == {view.title: [] for view in VIEWS}


def test_the_check_can_fail(screen) -> None:
    screen.set_content(
        "<html lang=en><title>t</title><body><img src='x.png'><p style='color:#ccc'>pale</p></body></html>"
    )
    said = " ".join(violations(screen))
    assert "image-alt" in said
    assert "color-contrast" in said


@pytest.mark.parametrize(("ci", "raised"), [("true", pytest.fail.Exception), ("", pytest.skip.Exception)])
def test_without_a_library_it_skips_and_fails_where_nobody_looks(monkeypatch, ci: str, raised) -> None:
    monkeypatch.setenv("CI", ci)
    with pytest.raises(raised, match="no_such_library isn't installed"):
        needed("no_such_library")


def test_a_figure_tells_its_meaning_by_hover_by_focus_and_by_a_tap(screen) -> None:
    opened(screen, "/pieces?others=true")
    term = screen.locator("table.kl .kl-term").last
    word, tip = term.locator("button"), term.locator("[role=tooltip]")
    word.wait_for()
    at_rest(word)
    assert tip.is_hidden()
    word.hover()
    assert tip.is_visible()
    screen.mouse.move(0, 0)
    assert tip.is_hidden()
    # the first of the head is its one stop; from there the keys of a list go on
    first = screen.locator("table.kl .kl-term button").first
    first.focus()
    screen.keyboard.press("Shift+Tab")
    screen.keyboard.press("Tab")
    assert first.evaluate("each => each === document.activeElement")
    screen.keyboard.press("End")
    assert word.evaluate("each => each === document.activeElement")
    assert tip.is_visible()
    assert word.get_attribute("aria-describedby") == tip.get_attribute("id")
    screen.keyboard.press("Shift+Tab")
    word.click()
    screen.mouse.move(0, 0)
    assert tip.is_visible()
    box = tip.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= screen.viewport_size["width"]
    assert violations(screen) == []
    screen.keyboard.press("Escape")
    screen.evaluate("document.activeElement.blur()")
    assert tip.is_hidden()


STOPS = """() => [...document.querySelectorAll("dl.kl-figures, table.kl thead")].map(row => {
    const words = [...row.querySelectorAll(".kl-term > button")];
    return [words.length, words.filter(each => each.tabIndex >= 0).length];
}).filter(([words]) => words)"""


@wide
def test_a_row_of_words_with_a_meaning_is_one_stop_and_the_arrow_keys_reach_them_all(screen) -> None:
    found = []
    for path in ("month", "pieces", "year"):
        opened(screen, f"/{path}")
        rows = screen.evaluate(STOPS)
        assert rows, path
        assert {stops for _, stops in rows} == {1}
        found += rows
    assert sum(words for words, _ in found) > 2 * len(found)
    tiles = screen.locator("dl.kl-figures .kl-term")
    tiles.first.locator("button").focus()
    for n in range(tiles.count()):
        tip = tiles.nth(n).locator("[role=tooltip]")
        assert tiles.nth(n).locator("button").evaluate("each => each === document.activeElement")
        assert tip.is_visible()
        screen.keyboard.press("ArrowRight")
    # the Tab key comes back to the word that was gone to last
    screen.keyboard.press("Home")
    screen.keyboard.press("ArrowRight")
    last = screen.evaluate("document.activeElement.textContent")
    screen.keyboard.press("Shift+Tab")
    screen.keyboard.press("Tab")
    assert screen.evaluate("document.activeElement.textContent") == last


def test_the_filters_are_reached_and_set_with_keys_alone(screen) -> None:
    opened(screen, "/rework?defects=true")
    button = screen.locator(".st-key-narrow button").first
    button.focus()
    screen.keyboard.press("Enter")
    box = screen.get_by_label("Species", exact=True)
    box.wait_for()
    take_by_keys(screen, box, "American elm")
    screen.wait_for_url("**species=American*elm*")
    screen.locator(".kl-title", has_text="(American elm)").wait_for()
