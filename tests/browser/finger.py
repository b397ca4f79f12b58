"""A finger on a phone: it taps, and types where it tapped. It counts both, as a maker would feel them.

A tap is one touch of the glass, a key one letter of the phone's keys. What a field says already costs neither.
"""

import re
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Error

from tests.browser.hand import SOON_MS, at_rest, seen, settled


@dataclass
class Finger:
    """A finger at a page of the browser, and how often it touched the glass and the keys."""

    screen: Any
    taps: int = field(default=0)
    keys: int = field(default=0)

    def tap(self, found: Any) -> None:
        """Touch what is found, once it stands still."""
        at_rest(found).tap(timeout=SOON_MS)
        self.taps += 1

    def press(self, name: str) -> None:
        """Touch a button, by what it says."""
        self.tap(seen(self.screen.get_by_role("button", name=name, exact=True)).first)

    def field(self, label: str) -> Any:
        return seen(self.screen.get_by_label(label, exact=True)).first

    def fill(self, label: str, text: str) -> None:
        """Type into a field, in place of what stands there; nothing where it says so already."""
        box = self.field(label)
        if box.input_value() == text:
            return
        self.tap(box)
        box.press("ControlOrMeta+a")
        self.screen.keyboard.type(text)
        self.keys += len(text)

    def choose(self, label: str, text: str) -> None:
        """Take a row of a list: two taps where it is seen at once, else with the letters that find it. A page that is
        drawn anew closes a list: then it is opened again, which costs nothing here."""
        if self.field(label).input_value() == text:
            return
        for tries in range(5):
            before = self.taps, self.keys
            try:
                self._take(self.field(label), text)
                return
            except Error:
                if tries == 4:
                    raise
                self.taps, self.keys = before
                settled(self.screen)

    def _take(self, box: Any, text: str) -> None:
        self.tap(box)
        rows = self.screen.get_by_role("option")
        rows.first.wait_for(timeout=SOON_MS)
        own = rows.filter(has_text=re.compile(rf"^(Add: )?{re.escape(text)}( ·.*)?$"))
        if not own.count():
            own = rows.filter(has_text=text)
        if not own.count() or not own.first.is_visible():
            self.screen.keyboard.type(text)
            self.keys += len(text)
            own.first.wait_for(timeout=SOON_MS)
        own.first.scroll_into_view_if_needed(timeout=SOON_MS)
        own.first.tap(timeout=SOON_MS)
        self.taps += 1

    def day(self, label: str, text: str) -> None:
        """Type a day, as `2026-05-31`, into its three parts."""
        part = seen(self.screen.locator("[data-testid=stDateInput]").filter(has_text=label)).first
        year = part.get_by_role("spinbutton").first
        self.tap(year)
        self.screen.keyboard.type(text.replace("-", ""))
        self.keys += len(text) - 2

    def settled(self) -> None:
        settled(self.screen)
