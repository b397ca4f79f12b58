"""What only the maker knows is asked where a new shop begins, and on the Files page, and answered by a button."""

from pathlib import Path

import pytest

from tests.dashboard.conftest import Run, html
from tests.refreshed import refreshed


@pytest.fixture
def strange(tiny_shop: Path) -> Path:
    """A shop with one file of sales of which nothing says where they were made."""
    rows = "".join(f"2026-03-{n};T-{n};{n}.50\n" for n in range(13, 19))
    (tiny_shop / "inbox" / "sales of all.csv").write_text("Date;Piece;Price\n" + rows, encoding="utf-8")
    refreshed(tiny_shop)
    return tiny_shop


@pytest.mark.parametrize("path", ["start", "files"])
def test_a_question_is_asked_and_answered(page: Run, strange: Path, path: str) -> None:
    test = page(path, strange)
    assert not test.exception
    assert "1 question that only you can answer" in html(test)
    assert "channel" in html(test)
    button = next(button for button in test.button if "market" in button.label)
    button.click().run()
    assert not test.exception
    (mapping,) = (strange / "mappings").glob("*.toml")
    assert 'channel = "market"' in mapping.read_text(encoding="utf-8")
