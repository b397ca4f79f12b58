"""A choice shows what the page is of, also after another choice has changed what can be chosen in it."""

from pathlib import Path

import pytest

from pipeline.database import open_newest
from tests.browser.test_walk import settled, take_by_keys

pytestmark = pytest.mark.browser

wide = pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
GROUP = "The pieces behind it (or click its mark)"


def box(screen, label: str):
    return screen.get_by_role("combobox", name=label, exact=True)


@wide
def test_a_group_is_of_the_factor_that_is_chosen(screen, demo: Path) -> None:
    with open_newest(demo) as con:
        levels = dict(con.execute("select factor, list(level order by level) from quality.rate group by 1").fetchall())
    screen.goto("/rework")
    settled(screen)
    last = levels["species"][-1]
    take_by_keys(screen, box(screen, GROUP), last)
    screen.locator(f"[aria-label='pieces of species {last}']").wait_for()
    for factor in ("finish", "product"):
        take_by_keys(screen, box(screen, "By"), factor)
        region = screen.locator(f"[aria-label^='pieces of {factor}']")
        region.wait_for()
        settled(screen)
        level = region.get_attribute("aria-label").removeprefix(f"pieces of {factor} ")
        assert level in levels[factor]
        assert box(screen, GROUP).input_value() == level
        assert "group=" not in screen.url
