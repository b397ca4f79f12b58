"""Makes the pictures of the README: each page that it shows of the demo shop, as `dashboard/pictures/<page>.png`.

Run it as `python tests/browser/pictures.py [SHOP]`; without a shop it makes the demo in a temporary folder first.
"""

import sys
import tempfile
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from playwright.sync_api import Page, sync_playwright

from dashboard.app import VIEWS
from pipeline.commands import main
from tests.browser.conftest import FLAGS, chromium, serving

FOLDER = Path(__file__).parents[2] / "dashboard" / "pictures"
README = Path(__file__).parents[2] / "README.md"
WIDTH, TALLEST = 1280, 1500
MOST_BYTES = 200_000

CHOSEN = {"pieces": "?piece=P-0311", "files": "?why-aside=true", "log": "?kind=Pour"}
"""What is chosen on a page for its picture."""


def make(shop: Path, folder: Path = FOLDER) -> list[Path]:
    """A picture of each page of a shop that the README shows; gives their files."""
    folder.mkdir(parents=True, exist_ok=True)
    shown = [view.path for view in VIEWS if f"pictures/{view.path}.png" in README.read_text(encoding="utf-8")]
    with serving(shop) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        page = browser.new_page(viewport={"width": WIDTH, "height": TALLEST}, base_url=address)
        made = [_picture(page, path, folder / f"{path}.png") for path in shown]
        browser.close()
    return made


def _picture(page: Page, path: str, file: Path) -> Path:
    own = "" if path == VIEWS[0].path else path  # the first page has no address of its own
    page.goto(f"/{own}{CHOSEN.get(path, '')}")
    page.locator("h1.kl-answer").wait_for()
    page.locator(".kl-week, [data-testid=stVegaLiteChart] svg").first.wait_for()
    page.locator("[data-testid=stApp][data-test-script-state=notRunning]").wait_for()
    page.wait_for_timeout(1000)  # pictures still fade in
    tall = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.screenshot(path=file, clip={"x": 0, "y": 0, "width": WIDTH, "height": min(tall, TALLEST)})
    return _fewer_colours(file)


def _fewer_colours(file: Path) -> Path:
    """The picture in 128 colours of its own: the pages have few, and the file shrinks to a third."""
    from PIL import Image

    with Image.open(file) as picture:
        picture.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(file, optimize=True)
    return file


def _demo(folder: Path) -> Path:
    if main(["demo", str(folder), "--no-show"]):
        raise SystemExit("the demo could not be made")
    return folder


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        for made_file in make(Path(sys.argv[1]) if len(sys.argv) > 1 else _demo(Path(home) / "demo-shop")):
            size = made_file.stat().st_size
            print(f"{made_file}: {size / 1000:,.0f} kB")
            if size > MOST_BYTES:
                raise SystemExit(f"{made_file.name} is larger than {MOST_BYTES:,} bytes")
