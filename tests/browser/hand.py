"""What a person does at a page: waits until it is made, types, chooses, clicks, and looks whether it was taken.

A page may be drawn anew at any moment, later where the machine is slow: a list closes then, a mark moves away under the
finger. Nobody waits half a minute for what they see didn't happen. What is *typed* is never typed anew here: it must
stay, and tests of it use the keys alone.
"""

import re
from collections.abc import Callable

from playwright.sync_api import Error

PATIENCE_S = 60
"""How long a page may take on a slow machine. Nothing is asserted of it."""

SOON_MS = 8_000
"""After how long a person does it again."""

WATCH = """
(() => {
  let asked = 0, begun = 0;
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (data) { asked = performance.now(); return send.call(this, data); };
  const state = () => document.querySelector("[data-testid=stApp]")?.dataset.testScriptState;
  const look = () => state() !== "notRunning" && (begun = performance.now());
  new MutationObserver(look).observe(document, { subtree: true, attributeFilter: ["data-test-script-state"] });
  // what was asked within a run that goes on begins with no sign of its own
  window.answered = () => state() === "notRunning" && (begun >= asked || performance.now() - asked > 1500);
})();
"""
"""Run in each page before its own scripts: tells whether the server has answered all that the page asked."""

MADE = """() => document.querySelector("h1.kl-answer") && window.answered()"""


def settled(screen) -> None:
    """Wait until the page has run, after all that was done to it."""
    screen.wait_for_function(MADE)


def opened(screen, path: str) -> None:
    screen.goto(path)
    settled(screen)


def with_all_folds(screen, path: str) -> list[str]:
    """Open a page, then again with each of its folds open, as its address has them; gives their keys."""
    opened(screen, path)
    keys = screen.locator("[class*=st-key-]:has(> .stExpander)").evaluate_all(
        "all => all.map(each => [...each.classList].find(name => name.startsWith('st-key-')).slice(7))"
    )
    opened(screen, f"{path}{'&' if '?' in path else '?'}" + "&".join(f"{key}=true" for key in keys))
    for key in keys:
        screen.locator(f".st-key-{key} details[open]").first.wait_for()
    settled(screen)
    return keys


def heading(screen) -> str:
    return screen.locator("h1.kl-answer").inner_text()


def answers(screen, text: str) -> None:
    """Wait until the page's headline says so; where it doesn't, it is told what it says, and at which address."""
    try:
        screen.locator("h1.kl-answer", has_text=text).wait_for()
    except Error:
        raise AssertionError(f"no {text!r} in {heading(screen)!r} at {screen.url}") from None


def shows(box, text: str) -> None:
    """Wait until a field holds a text: it may be drawn a moment before its value."""
    for _ in range(SOON_MS // 100):
        if box.input_value() == text:
            return
        box.page.wait_for_timeout(100)
    raise AssertionError(f"the field shows {box.input_value()!r}, not {text!r}")


def seen(found):
    """What is found but not folded away."""
    return found.filter(visible=True)


def alert(screen, text: str):
    return screen.get_by_test_id("stAlert").filter(has_text=re.compile(text))


def at_rest(found):
    """What is found, once it stands still: pictures that are still being drawn above move it."""
    found.scroll_into_view_if_needed(timeout=SOON_MS)
    before, looks = None, 0
    while (now := found.bounding_box(timeout=SOON_MS)) is None or now != before:
        before, looks = now, looks + 1
        assert looks < 200, "it never comes to rest"
        found.page.wait_for_timeout(150)
    return found


def soon(found) -> bool:
    """Whether it comes to be seen within the time that a person gives it."""
    try:
        found.wait_for(timeout=SOON_MS)
    except Error:
        return False
    return True


def until(found, act: Callable[[], object]) -> None:
    """Do it, and do it anew where the page has answered and still doesn't show what it leads to."""
    for _ in range(5):
        try:
            act()
        except Error:
            continue
        if soon(found):
            return
        settled(found.page)
        # a dialog that is open was led to: what is done behind it would close it again
        if found.count() or found.page.get_by_role("dialog").count():
            break
    found.wait_for()


def click_mark(mark, leads_to) -> None:
    """Click on a mark of a picture, until what it leads to is seen."""
    until(leads_to, lambda: at_rest(mark).click(force=True, timeout=SOON_MS))


def goes(screen, act: Callable[[], object], there: re.Pattern[str]) -> None:
    """Do it until it leads to such an address."""
    for _ in range(5):
        try:
            act()
            screen.wait_for_url(there, timeout=SOON_MS)
            return
        except Error:
            settled(screen)
            if there.search(screen.url):
                return
    raise AssertionError(f"it leads to {screen.url}")


def click_goes(mark, there: re.Pattern[str]) -> None:
    """Click on a mark of a picture, until the address is one that it leads to."""
    goes(mark.page, lambda: at_rest(mark).click(force=True, timeout=SOON_MS), there)


def choose(screen, label: str, text: str, nth: int = 0) -> None:
    """Type into a choice and take what it offers for that: a word that is known, or the word as a new one."""
    take(screen, seen(screen.get_by_label(label, exact=True)).nth(nth), text)


def take(screen, box, text: str) -> None:
    """Choose in a list by typing and a click on its row."""
    if box.input_value() == text:
        return

    def act() -> None:
        box.evaluate("field => field.scrollIntoView({block: 'center'})")  # a list closes when the page scrolls
        box.click(timeout=SOON_MS)
        box.fill(text, timeout=SOON_MS)
        rows = screen.get_by_role("option")
        rows.filter(has_text=text).first.wait_for(timeout=SOON_MS)
        own = rows.filter(has_text=re.compile(f"^(Add: )?{re.escape(text)}$"))
        (own if own.count() else rows.filter(has_text=text)).first.click(timeout=SOON_MS)

    _chosen(box, text, act)


def take_by_keys(screen, box, text: str) -> None:
    """Choose in a list with keys alone, and see that the field has it."""
    _chosen(box, text, lambda: by_keys(screen, box, text))


def by_keys(screen, box, text: str) -> None:
    """Type and press Enter, which takes what the list offers: so that must be there first."""
    box.focus(timeout=SOON_MS)
    box.fill(text, timeout=SOON_MS)
    screen.get_by_role("option", name=text).first.wait_for(timeout=SOON_MS)
    screen.keyboard.press("Enter")


TAKEN = """(field, text) => {
  const chips = [...field.closest(".kl-chosen")?.querySelectorAll(".kl-chip") ?? []].map(chip => chip.title);
  return field.getAttribute("aria-expanded") !== "true" && [field.value, ...chips].some(said => said.includes(text));
}"""


def _chosen(box, text: str, act: Callable[[], None]) -> None:
    """Choose, look whether the field shows it, and choose anew where the page was drawn anew meanwhile."""
    for tries in range(5):
        try:
            act()
        except Error:
            if tries == 4:
                raise
            continue
        for _ in range(SOON_MS // 100):
            if box.evaluate(TAKEN, text):
                return
            box.page.wait_for_timeout(100)
    raise AssertionError(f"the field doesn't show {text}, but {box.input_value()}")


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
    if screen.evaluate("navigator.maxTouchPoints"):
        screen.touchscreen.tap(*at)
    else:
        screen.mouse.click(*at)


def typed_till_taken(screen, box, text: str, leave: Callable, taken) -> None:
    """Type into a list and leave it. Where it says that the text was not taken (a slow machine), type it anew.

    `taken`: what is seen once it is taken. A text that is dropped in silence fails.
    """
    lost = screen.locator(".kl-unfit", has_text=f"“{text}” was not taken: type it again")
    for _ in range(3):
        typed_into(screen, box, text, leave)
        taken.or_(lost).first.wait_for()
        if taken.count():
            return
    taken.wait_for()


def pressed(button, done: Callable[[], object]) -> None:
    """Click a button until it is done: a page that is drawn anew moves it away under the finger."""
    for _ in range(5):
        button.click()
        for _ in range(SOON_MS // 100):
            if done():
                return
            button.page.wait_for_timeout(100)
    raise AssertionError("what the button does was never done")


WAYS = (by_enter, by_tab, by_touch_elsewhere, by_next)
"""All ways of leaving a field."""


def typed_into(screen, box, text: str, leave: Callable) -> None:
    """All of a text in one instant, and away."""
    box.evaluate("field => { field.scrollIntoView({ block: 'center' }); field.focus(); field.select(); }")
    screen.keyboard.insert_text(text)
    leave(screen, box)
