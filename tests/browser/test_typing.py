"""What is typed into a form is logged, whichever way a field is left: every field of every record."""

import json
import shutil
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock

from dashboard.entry_check import parts
from dashboard.fields import css_class
from dashboard.log_fields import KINDS
from dashboard.sections.shop_changes import RECORD as CHANGES
from dashboard.setting_words import SECTIONS, TAUGHT
from pipeline.database import newest
from pipeline.new_shop import new_shop
from pipeline.pages import actions, daylog
from pipeline.records import RECORDS, Field
from pipeline.refresh import background
from pipeline.shop import load
from tests.browser.conftest import WIDTHS, laid, new_page, nothing_uncaught, phone, wide
from tests.browser.hand import PATIENCE_S, WAYS, choose, opened, settled, typed_into
from tests.browser.test_tasks import HOURS, logged, wait
from tests.refreshed import refreshed
from tests.whole import WHOLE, in_slice

pytestmark = pytest.mark.browser

FORMS = {record: (f"/log?kind={kind.replace(' ', '%20')}", "", "Log it") for kind, record in KINDS.items()}
FORMS[CHANGES] = ("/rework?mark-change=true", "-rework", "Mark it")
"""Where each record's form is, what its fields' keys have more, and its button."""

PIECES = (
    "piece,product,species,started,finished\nT-1,tray,white oak,2026-03-01,2026-03-04\nT-2,tray,white oak,2026-03-02,\n"
)
INSPECTIONS = "date,piece,defect,action\n2026-03-05,T-1,bubble,rework\n"

TYPED = {
    "money": ("12.5", "13.5"), "quantity": ("7.25", "8.25"), "count": ("3", "4"), "time": ("14:30", "15:30"),
    "duration": ("1:45", "2:45"), "length": ("400 mm", "500 mm"), "temperature": ("21 C", "22 C"),
    "percent": ("45 %", "55 %"), "number": ("1.5", "2.5"), "text": ("as it came", "mended"), "unit": ("oz", "kg"),
}  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, bench: tuple[Path, str]) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("typing") / "shop"
    new_shop(folder, date(2026, 1, 1))
    for name, text in (("pieces", PIECES), ("hours", HOURS), ("inspections", INSPECTIONS)):
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    yield laid(folder, bench[0])
    nothing_uncaught(bench[0])


@pytest.fixture(scope="module")
def address(shop: Path, bench: tuple[Path, str]) -> Iterator[str]:
    # a refresh seems to be under way all the while: the page looks at it each second, and none is begun
    home = shop / "database"
    with FileLock(home / background._WORKER):
        (home / background._WISH).touch()  # who waits for one sees that another has it, and leaves
        with FileLock(home / background._WAITING, timeout=PATIENCE_S):
            yield bench[1]


@pytest.fixture(scope="module", params=[*WIDTHS], ids=[*WIDTHS.values()])
def screen(request: pytest.FixtureRequest, browser, address: str) -> Iterator[object]:
    phone = request.param < 400
    page = new_page(browser, request.param, address, has_touch=True, is_mobile=phone)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield page
    page.context.close()
    assert errors == []


def offered(screen) -> dict[str, dict]:
    found: dict[str, dict] = {}
    for text in screen.locator(".kl-words").evaluate_all("them => them.map(each => each.dataset.words)"):
        found |= json.loads(text)
    return found


def part(screen, field: Field, record: str, more: str):
    return screen.locator("." + css_class(f"{field.name}-{record}{more}-0"))


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
            # the pieces that were worked on last may stand there already
            stood = parts(part.get_by_test_id("stTextInputField").input_value())
            texts = (f"NEW-{nth}", known or "T-2", "NEW-0", "NEW-1")
            for each, text in enumerate(texts):
                typed_into(screen, box, text, WAYS[(WAYS.index(leave) + each) % len(WAYS)])
            return "; ".join(dict.fromkeys([*stood, *texts]))
        case "word" | "tag":
            # a word of one's own, or one that is known, typed just as it is
            text = known or f"QX-{nth}"
            typed_into(screen, box, text, leave)
            return text
    text = TYPED[field.kind][nth % 2]
    typed_into(screen, box, text, leave)
    return text


def of_each_record() -> list:
    """Each record's form at one width, the next one's at the other; all forms are made of the same fields."""
    widths, forms = list(WIDTHS), in_slice(list(enumerate(FORMS)), 3)
    cases = [(width, record) for nth, record in forms for width in (widths if WHOLE else [widths[nth % 2]])]
    return [pytest.param(width, record, id=f"{WIDTHS[width]}-{record}") for width, record in cases]


@pytest.mark.parametrize(("screen", "record"), of_each_record(), indirect=["screen"])
def test_what_is_typed_into_a_field_is_logged(screen, shop: Path, record: str) -> None:
    path, more, button = FORMS[record]
    opened(screen, path)
    folds = screen.get_by_test_id("stForm").filter(has=screen.get_by_role("button", name=button)).locator("summary")
    for fold in folds.all():
        fold.click()
    words = offered(screen)
    before = len(logged(shop, record))
    publish_anew(shop)  # the page comes to know of it while it is filled
    shift = 1 if screen.viewport_size["width"] < 400 else 0
    expected: dict[str, str] = {}
    for nth, field in enumerate(RECORDS[record]):
        found = part(screen, field, record, more)
        known = words.get(css_class(f"{field.name}-{record}{more}-0"), {}).get("words", [])
        # a field that is left in one way is gone back to and left in the next; the last text counts
        for turn in range(1 if field.kind in ("tags", "yes_no") else len(WAYS) if WHOLE else 2):
            leave = WAYS[(nth // 2 + 2 * shift + turn) % len(WAYS)]
            text = expected[field.name] = fill(screen, field, found, known, leave, nth + shift + turn)
            if field.kind in ("text", "word", "tag", "choice", "unit"):
                stands = found.locator("input").filter(visible=True).first.input_value()
                assert stands == text, (field.name, leave.__name__)
    let_in(screen)
    screen.get_by_role("button", name=button, exact=True).click()
    wait(lambda: len(logged(shop, record)) > before or screen.get_by_test_id("stAlert").filter(visible=True).count())
    rows = logged(shop, record)
    assert len(rows) > before, screen.get_by_test_id("stAlert").all_inner_texts()
    assert {name: rows[-1].get(name, "") for name in expected} == expected


def publish_anew(shop: Path) -> None:
    """What was published last, as if another refresh had published it."""
    last = newest(shop)
    assert last
    again = last.with_name(f"shop-{int(last.stem.removeprefix('shop-')) + 1:06}.duckdb")
    shutil.copy(last, again.with_suffix(".draft"))
    again.with_suffix(".draft").rename(again)


def let_in(screen) -> None:
    """Have the newer figures shown, though a form is half filled: the page is drawn anew around it."""
    newer = screen.get_by_role("button", name="Show the newer figures").first
    newer.wait_for()
    newer.dispatch_event("click")
    newer.wait_for(state="hidden")
    settled(screen)


SETTINGS_FORMS = [section.key for section in SECTIONS] + [TAUGHT]
OTHERS = {
    "settings": "/settings?" + "&".join(f"{key}=true" for key in SETTINGS_FORMS),
    "finishing": "/pieces?piece=T-2&finish-it=true",
    "an entry": "/log?entries=true",
    "a goal": "/year?set-goal=true",
}
"""Forms beside those of the log: where they are."""


@phone
def test_what_is_typed_into_any_other_form_stays_while_newer_figures_come_in(screen, shop: Path) -> None:
    cells = {"date": "2026-03-05", "hours": "2:00", "person": "Me", "operation": "sanding", "pieces": "T-1"}
    daylog.add(load(shop), "hours", cells)
    for name, path in OTHERS.items():
        opened(screen, path)
        if name == "an entry":
            choose(screen, "Entry", "sanding")
            settled(screen)
        boxes = screen.locator("[data-testid=stForm] [data-testid=stTextInputField]:not(.kl-under)").filter(
            visible=True
        )
        least = {"settings": 60, "finishing": 5, "an entry": 2, "a goal": 2}[name]
        wait(lambda boxes=boxes, least=least: boxes.count() >= least)
        settled(screen)
        publish_anew(shop)
        typed = [f"qx {nth}" for nth in range(boxes.count())]
        for nth, text in enumerate(typed):
            typed_into(screen, boxes.nth(nth), text, WAYS[nth % len(WAYS)])
        let_in(screen)
        assert [boxes.nth(nth).input_value() for nth in range(len(typed))] == typed, name


@phone
def test_what_is_no_word_of_a_closed_list_is_said_beside_it_and_stays(screen, shop: Path) -> None:
    opened(screen, "/log?kind=Pour")
    purpose = RECORDS["pours"].field("purpose")
    found = part(screen, purpose, "pours", "")
    box, told = found.locator("input").first, found.locator(".kl-unfit")
    before = len(logged(shop, "pours"))
    for nth, leave in enumerate(WAYS):
        typed_into(screen, box, f"qxj {nth}", leave)
        told.wait_for()
        assert f"“qxj {nth}” is none of the words here" in told.inner_text()
        assert box.get_attribute("aria-invalid") == "true"
        assert box.input_value() == f"qxj {nth}"
    typed_into(
        screen, part(screen, RECORDS["pours"].field("pour"), "pours", "").locator("input").first, "P-77", WAYS[0]
    )
    screen.get_by_role("button", name="Log it", exact=True).click()
    screen.get_by_test_id("stAlert").filter(visible=True).first.wait_for()
    assert len(logged(shop, "pours")) == before
    assert box.input_value() == "qxj 3"
    # some letters of a word are the first word that they fit
    typed_into(screen, box, purpose.choices[0][:3], WAYS[1])
    assert box.input_value() == purpose.choices[0]
    assert not told.count()


@wide
def test_what_is_typed_into_a_timer_is_what_runs(screen, shop: Path) -> None:
    opened(screen, "/log")
    form = screen.get_by_test_id("stForm").filter(has=screen.get_by_role("button", name="Start", exact=True))
    for nth, leave in enumerate(WAYS):
        typed_into(screen, form.get_by_label("Operation", exact=True), f"QZ-{nth}", leave)
        typed_into(screen, form.get_by_label("Pieces", exact=True), f"NEW-{nth}", leave)
    form.get_by_role("button", name="Start", exact=True).click()
    wait(lambda: actions.log_state(shop).timers)
    (timer,) = actions.log_state(shop).timers
    actions.drop_timer(shop, timer.id)
    assert timer.cells["operation"] == "QZ-3"
    assert timer.cells["pieces"] == "NEW-0; NEW-1; NEW-2; NEW-3"
