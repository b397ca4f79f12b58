"""Ten questions that a maker comes with, answered in a browser at two widths: seconds, clicks, screens, and the answer.

    uv run python -m tests.benchmarks.bench_ten_questions my-shop

Each begins at the dashboard's first page and goes on as a person does: to a page by its name, to a fold by its label,
to a field by what stands above it. A choice in a list counts two clicks, a field that is typed into one. Seconds are
those of this machine until the answer is drawn: no reading, no thinking. The last column says how many screens lie
above it. Ends with 1 where an answer took more than fifteen seconds.
"""

import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

# run as a script: what stands two folders up is not on the path
sys.path.insert(0, str(Path(__file__).parents[2]))

from playwright.sync_api import sync_playwright

from tests.browser.conftest import FLAGS, chromium
from tests.browser.hand import WATCH, choose, heading, opened, seen, settled
from tests.shown import shown

WIDTHS = (1400, 360)
MOST_S = 15.0
ICON = re.compile(r"keyboard_arrow_\w+")
"""The mark of a fold, whose name is read where its font is not there."""

HELD = "text => [...new URLSearchParams(location.search).values()].includes(text)"
"""Whether the address holds what was typed: then the page is drawn with it."""

STANDS_MS = 400
"""What is read twice so far apart stands."""

LONGEST = 150
"""Letters of an answer that are printed."""


class Person:
    """Who looks for an answer: clicks are counted, and how far down what was read stands."""

    def __init__(self, screen) -> None:
        self.screen, self.clicks, self.screens = screen, 0, 0

    def page(self, name: str) -> None:
        self.clicks += 1
        self.screen.locator(".st-key-pages").get_by_role("link", name=name, exact=True).click()
        self.screen.wait_for_url(re.compile(rf"/{name.lower()}(\?|$)"))
        settled(self.screen)

    def fold(self, label: str) -> None:
        self.clicks += 1
        self.screen.locator("summary").filter(has_text=re.compile(label)).first.click()
        settled(self.screen)

    def press(self, label: str) -> None:
        self.clicks += 1
        seen(self.screen.get_by_role("radio", name=label, exact=True)).first.click()
        settled(self.screen)

    def choose(self, label: str, text: str) -> None:
        self.clicks += 2
        choose(self.screen, label, text)
        settled(self.screen)

    def type(self, label: str, text: str) -> None:
        self.clicks += 1
        field = seen(self.screen.get_by_label(label, exact=True)).first
        field.fill(text)
        field.press("Enter")
        self.screen.wait_for_function(HELD, arg=text)
        settled(self.screen)

    def read(self, css: str, has: str = "", nth: int = 0) -> str:
        """What stands there, once it does."""
        found = self.screen.locator(css).filter(has_text=re.compile(has)).nth(nth)
        found.wait_for()
        where = "each => each.getBoundingClientRect().top + document.querySelector('[data-testid=stMain]').scrollTop"
        self.screens = max(self.screens, int(found.evaluate(where) // self.screen.viewport_size["height"]))
        return " ".join(ICON.sub("", found.inner_text()).split())

    def headline(self) -> str:
        """The headline, once it stands: what was typed last may still be on its way to the page."""
        said = ""
        while said != (now := heading(self.screen)):
            said = now
            self.screen.wait_for_timeout(STANDS_MS)
        return said


def paid(who: Person) -> str:
    return f"{who.headline()} {who.read('summary', 'The difference to')}"


def lost(who: Person) -> str:
    who.fold("What made and what lost money")
    who.press("pieces")
    return "; ".join(who.read("table.kl tbody tr", nth=n) for n in range(3))


def back(who: Person) -> str:
    who.page("Rework")
    return f"{who.headline()} {who.read('.kl-do li')}"


def resin(who: Person) -> str:
    who.page("Materials")
    return f"{who.headline()} {who.read('.kl-do li')}"


def tray(who: Person) -> str:
    who.page("Pricing")
    who.choose("Product", "tray")
    who.choose("Species", "black walnut")
    who.choose("Channel", "market")
    who.type("Length", "45 cm")
    who.type("Width", "30 cm")
    who.fold("Round, extras")
    who.type("Extra resin in it, grams", "60")
    return f"{who.headline()} {who.read('dl.kl-figures div', 'Likely cost')}"


def dear(who: Person) -> str:
    who.page("Pricing")
    who.fold("below today's cost")
    return f"{who.read('summary', 'below today')} {who.read('table.kl tbody tr', 'of|none')}"


def tied(who: Person) -> str:
    who.page("Stock")
    return who.headline()


def better(who: Person) -> str:
    who.page("Files")
    who.fold("What to log better")
    return who.read(".st-key-log-better table.kl tbody tr, .st-key-to-log table.kl tbody tr")


def year(who: Person) -> str:
    who.page("Year")
    return who.headline()


def week(who: Person) -> str:
    who.page("Week")
    return "; ".join(who.read(".kl-week li a", nth=n) for n in range(5))


QUESTIONS: dict[str, Callable[[Person], str]] = {
    "Did the month pay, and why?": paid,
    "Which pieces lost money?": lost,
    "What comes back most, and what first?": back,
    "Where does the resin go?": resin,
    "A walnut tray 45 × 30 with inlay, at the market?": tray,
    "What to re-price, and to what?": dear,
    "What is tied up?": tied,
    "What to log better?": better,
    "How does the year stand?": year,
    "What to do this week?": week,
}


def main(shop: Path) -> int:
    slow = 0
    with shown(shop) as served, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        for width in WIDTHS:
            context = browser.new_context(viewport={"width": width, "height": 900}, base_url=served.address)
            context.add_init_script(WATCH)
            context.set_default_timeout(60_000)
            screen = context.new_page()
            opened(screen, "/")  # what the browser and the server read once is read
            print(f"\n{width} pixels wide\n{'':<50}{'seconds':>8}{'clicks':>8}{'screens':>9}")
            for question, answer in QUESTIONS.items():
                opened(screen, "/")
                who, begun = Person(screen), time.perf_counter()
                said = answer(who)
                took = time.perf_counter() - begun
                slow += took > MOST_S
                print(f"{question:<50}{took:>8.1f}{who.clicks:>8}{who.screens:>9}  {said[:LONGEST]}", flush=True)
        browser.close()
    return int(slow > 0)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
