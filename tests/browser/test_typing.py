"""What is typed into a form is logged, whichever way a field is left: every field of every record, at two widths."""

import json
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock

from dashboard.fields import css_class
from dashboard.sections.marking import RECORD as CHANGES
from dashboard.views.log import KINDS
from pipeline.commands import main
from pipeline.new_shop import new_shop
from pipeline.records import RECORDS, Field
from pipeline.refresh import background
from tests.browser.conftest import serving
from tests.browser.test_tasks import HOURS, logged, opened, wait

pytestmark = pytest.mark.browser

FORMS = {record: (f"/log?kind={kind.replace(' ', '%20')}", "", "Log it") for kind, record in KINDS.items()}
FORMS[CHANGES] = ("/rework?mark-change=true", "-rework", "Mark it")
"""Where each record's form is, what its fields' keys have more, and its button."""

PIECES = (
    "piece,product,species,started,finished\nT-1,tray,white oak,2026-03-01,2026-03-04\nT-2,tray,white oak,2026-03-02,\n"
)
INSPECTIONS = "date,piece,defect,action\n2026-03-05,T-1,bubble,rework\n"

TYPED = {
    "money": "12.5", "quantity": "7.25", "count": "3", "time": "14:30", "duration": "1:45", "length": "400 mm",
    "temperature": "21 C", "percent": "45 %", "number": "1.5", "text": "as it came", "unit": "oz",
}  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("typing") / "shop"
    new_shop(folder, date(2026, 1, 1))
    for name, text in (("pieces", PIECES), ("hours", HOURS), ("inspections", INSPECTIONS)):
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    assert main(["refresh", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def address(shop: Path) -> Iterator[str]:
    # a refresh seems to be under way all the while: the page looks at it each second, and none is begun
    with FileLock(shop / "database" / background._WORKER), serving(shop) as address:
        yield address


@pytest.fixture(scope="module", params=[1280, 360], ids=["wide", "phone"])
def screen(request: pytest.FixtureRequest, browser, address: str) -> Iterator[object]:
    phone = request.param < 400
    context = browser.new_context(
        viewport={"width": request.param, "height": 900}, base_url=address, has_touch=phone, is_mobile=phone
    )
    page = context.new_page()
    page.set_default_timeout(30_000)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield page
    context.close()
    assert errors == []


def by_enter(screen, box) -> None:
    screen.keyboard.press("Enter")


def by_tab(screen, box) -> None:
    screen.keyboard.press("Tab")


def by_next(screen, box) -> None:
    """A phone's key for the next field moves the focus, and nothing else."""
    screen.evaluate(
        """() => {
            const fields = [...document.querySelectorAll("input")].filter(field => field.checkVisibility());
            fields[(fields.indexOf(document.activeElement) + 1) % fields.length].focus({ preventScroll: true });
        }"""
    )


def by_touch_elsewhere(screen, box) -> None:
    """Beside the field, at the edge of the page, where nothing is."""
    there = box.bounding_box()
    at = (2, there["y"] + there["height"] / 2)
    if screen.viewport_size["width"] < 400:
        screen.touchscreen.tap(*at)
    else:
        screen.mouse.click(*at)


WAYS = (by_enter, by_tab, by_touch_elsewhere, by_next)


def offered(screen) -> dict[str, dict]:
    found: dict[str, dict] = {}
    for text in screen.locator(".kl-words").evaluate_all("them => them.map(each => each.dataset.words)"):
        found |= json.loads(text)
    return found


def part(screen, field: Field, record: str, more: str):
    return screen.locator("." + css_class(f"{field.name}-{record}{more}-0"))


def typed_into(screen, box, text: str, leave: Callable) -> None:
    box.evaluate("field => { field.scrollIntoView({ block: 'center' }); field.focus(); field.select(); }")
    screen.keyboard.insert_text(text)
    # who types sees the list open; here all of the text comes in one instant
    end = time.monotonic() + 2
    listed = box.evaluate("field => !!field.closest('[data-testid=stSelectbox]')")
    while listed and box.get_attribute("aria-expanded") == "false" and time.monotonic() < end:
        time.sleep(0.02)
    leave(screen, box)


def fill(screen, field: Field, part, words: list[str], leave: Callable, nth: int) -> str:
    """Type into a field and leave it; gives what must stand in the log."""
    box = part.locator("input").filter(visible=True).first
    known = words[nth % len(words)] if words and nth % 2 else ""
    match field.kind:
        case "date":
            box = part.locator("[role=spinbutton]").first
            box.evaluate("field => { field.scrollIntoView({ block: 'center' }); field.focus(); }")
            screen.keyboard.type("20260305")
            leave(screen, box)
            return "2026-03-05"
        case "yes_no":
            was = part.locator("input").is_checked()
            part.locator("label").click()
            return "no" if was else "yes"
        case "choice" | "word" if field.vocabulary == "category" or field.choices:
            text = (field.choices or words)[-1 - nth % 2]
            typed_into(screen, box, text, leave)
            return text
        case "tags":
            texts = (f"NEW-{nth}", known or "T-2", "NEW-0")
            for text in texts:
                typed_into(screen, box, text, leave)
            return "; ".join(texts)
        case "word" | "tag":
            # a word of one's own, or one that is known, typed just as it is
            text = known or f"QX-{nth}"
            typed_into(screen, box, text, leave)
            return text
    typed_into(screen, box, TYPED[field.kind], leave)
    return "7.25" if field.kind == "quantity" else TYPED[field.kind]


@pytest.mark.parametrize("record", FORMS)
def test_what_is_typed_into_a_field_is_logged(screen, shop: Path, record: str) -> None:
    path, more, button = FORMS[record]
    opened(screen, path)
    folds = screen.get_by_test_id("stForm").filter(has=screen.get_by_role("button", name=button)).locator("summary")
    for fold in folds.all():
        fold.click()
    words = offered(screen)
    before = len(logged(shop, record))
    shift = 1 if screen.viewport_size["width"] < 400 else 0
    expected: dict[str, str] = {}
    for nth, field in enumerate(RECORDS[record]):
        found = part(screen, field, record, more)
        known = words.get(css_class(f"{field.name}-{record}{more}-0"), {}).get("words", [])
        leave = WAYS[(nth // 2 + 2 * shift) % len(WAYS)]
        expected[field.name] = fill(screen, field, found, known, leave, nth + shift)
    screen.get_by_role("button", name=button, exact=True).click()
    wait(lambda: len(logged(shop, record)) > before or screen.get_by_test_id("stAlert").filter(visible=True).count())
    rows = logged(shop, record)
    assert len(rows) > before, screen.get_by_test_id("stAlert").all_inner_texts()
    assert {name: rows[-1].get(name, "") for name in expected} == expected
