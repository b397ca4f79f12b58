"""Each page answers at one look: how far down it goes at two widths, and what its headline takes to read.

Measured with the fonts of this machine, on the demo and on a shop with three times as many groups.
"""

from collections.abc import Iterator

import pytest

from tests.browser import many_groups
from tests.browser.conftest import serving
from tests.browser.hand import heading, opened, settled
from tests.one_look import HEIGHTS, too_much
from tests.refreshed import refreshed

pytestmark = pytest.mark.browser

WIDTHS = (1400, 360)
SMALL = """() => [".stButton button", ".stDownloadButton button", ".stExpander summary", ".st-key-pages a",
        "dl.kl-figures a", "dl.kl-figures dt button"]
    .flatMap(of => [...document.querySelectorAll(of)])
    .filter(each => each.checkVisibility())
    .filter(each => {
        const {width, height, left, top} = each.getBoundingClientRect();
        return width < 43.5 || height < 43.5;
    })
    .map(each => each.textContent)"""
"""What a thumb has to press on a phone and is smaller than one: 44 pixels (WCAG 2.2, 2.5.5)."""
IN_REACH = """() => {
    document.querySelector("[data-testid=stMain]").scrollTo(0, 1e6);
    return document.querySelector(".st-key-pages a")?.getBoundingClientRect().bottom > 30;
}"""
"""Whether the names of the pages are still there at the foot of a page."""
TALL = "() => document.querySelector('[data-testid=stMain]').scrollHeight"


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the dashboard of a shop with many groups listens."""
    folder = many_groups.written(tmp_path_factory.mktemp("many") / "shop")
    refreshed(folder)
    with serving(folder) as address:
        yield address


@pytest.fixture(params=["demo", "many"])
def shop(request: pytest.FixtureRequest) -> str:
    return str(request.getfixturevalue({"demo": "address", "many": "many"}[request.param]))


PATHS = (*HEIGHTS, "materials?material=wood")


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("width", WIDTHS)
def test_a_page_is_read_at_one_look(pages, shop: str, path: str, width: int) -> None:
    screen = pages(width, shop)
    opened(screen, f"{shop}/{path}")
    drawn(screen)
    assert too_much(heading(screen)) == ""
    assert screen.evaluate(TALL) <= HEIGHTS[path.partition("?")[0]][WIDTHS.index(width)]
    assert screen.evaluate("document.documentElement.scrollWidth <= innerWidth")
    if width == WIDTHS[1]:
        assert screen.evaluate(SMALL) == []
        screen.wait_for_function(IN_REACH)


def drawn(screen) -> None:
    """Wait until all pictures are there: they come after the page has run."""
    pictures = screen.locator("[data-testid=stVegaLiteChart]")
    for n in range(pictures.count()):
        pictures.nth(n).locator("svg").first.wait_for()
    settled(screen)
