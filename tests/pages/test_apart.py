"""A page's look at one file: done elsewhere, and ended where it goes too far."""

from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.pages import actions
from pipeline.pages.apart import apart
from pipeline.readers import limits

SALES = "date,channel,product,price\n2026-03-02,market,tray,60\n"


def test_a_page_sees_what_is_made_of_a_file(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "sales.csv").write_text(SALES, encoding="utf-8")
    (made,) = actions.propose(tiny_shop, "inbox/sales.csv")
    assert (made.mapping.record, made.preview.loaded) == ("sales", 1)
    tried = actions.try_mapping(tiny_shop, "inbox/sales.csv", "", "sales", columns=made.mapping.columns)
    assert tried.preview.loaded == 1


def test_what_is_wrong_with_it_is_told(tiny_shop: Path) -> None:
    with pytest.raises(UserError) as told:
        actions.propose(tiny_shop, "inbox/gone.csv")
    assert told.value.mend


@pytest.mark.parametrize("hostile", ["[0 for _ in iter(int, 1)]", "__import__('os')._exit(1)", "1 // 0"])
def test_a_hostile_file_leaves_the_page(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch, hostile: str) -> None:
    monkeypatch.setattr(limits, "READ_SECONDS", 0.5)
    (tiny_shop / "database").mkdir()
    with pytest.raises(UserError) as told:
        apart(tiny_shop, "inbox/odd.csv", eval, hostile)
    assert "save it again" in told.value.mend
    assert apart(tiny_shop, "inbox/odd.csv", eval, "1 + 1") == 2
