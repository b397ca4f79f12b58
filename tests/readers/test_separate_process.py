"""A look at one file by a command or a page: done elsewhere, and ended where it goes too far."""

import re
from pathlib import Path

import pytest

from pipeline.commands import main
from pipeline.errors import UserError
from pipeline.pages import actions
from pipeline.readers import limits
from pipeline.readers.separate_process import apart
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.hostile import calendar_of_many_days, workbook_of_many_cells

SALES = "date,channel,product,price\n2026-03-02,market,tray,60\n"
ODD_SALE = "date,channel,product,price\n2026-03-02,market,tray,sixty\n"

HOSTILE = {"too-long.ics": calendar_of_many_days, "too-much.ods": workbook_of_many_cells}
GOES_TOO_FAR = re.compile(r"It takes more than (2 seconds|60 MB of memory) to read\.")


@pytest.fixture
def strict(monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits so small that a hostile file meets them soon: the tests are short."""
    monkeypatch.setattr(limits, "READ_SECONDS", 2.0)
    monkeypatch.setattr(limits, "READ_SECONDS_PER_MB", 0.0)
    monkeypatch.setattr(limits, "READ_BYTES", 60 * 2**20)
    monkeypatch.setattr(limits, "READ_TIMES", 0)


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
def test_a_hostile_file_leaves_whoever_reads_it(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch, hostile: str) -> None:
    monkeypatch.setattr(limits, "READ_SECONDS", 0.5)
    file = tiny_shop / "inbox" / "odd.csv"
    with pytest.raises(UserError) as told:
        apart(tiny_shop, file, "inbox/odd.csv", eval, hostile)
    assert "Save it again" in told.value.mend
    assert told.value.where == "inbox/odd.csv"
    assert apart(tiny_shop, file, "inbox/odd.csv", eval, "1 + 1") == 2


def test_what_is_stumbled_over_is_logged_with_its_place_and_without_its_text(tiny_shop: Path) -> None:
    (tiny_shop / "database").mkdir()
    with pytest.raises(UserError, match="stumbles over this file") as told:
        apart(tiny_shop, tiny_shop / "a.csv", "a.csv", eval, "__import__('pipeline.shop').shop.load('Ann')")
    assert "Ann" not in str(told.value)
    log = (tiny_shop / "database" / "refresh.log").read_text(encoding="utf-8")
    assert "at pipeline/shop/__init__.py:" in log
    assert "Ann" not in log


def test_a_file_without_a_shop_is_logged_in_the_users_own_folder(tmp_path: Path) -> None:
    with pytest.raises(UserError) as told:
        apart(None, tmp_path / "a.csv", "a.csv", eval, "1 // 0")
    assert "The details are in" in told.value.mend


@pytest.mark.parametrize("name", HOSTILE)
def test_each_command_and_page_tells_a_file_that_goes_too_far(
    tiny_shop: Path, strict: None, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    file = f"inbox/{name}"
    HOSTILE[name](tiny_shop / file)
    for call in (["peek", str(tiny_shop / file)], ["map", str(tiny_shop), file]):
        assert main(call) == 2
        said = capsys.readouterr().err
        assert GOES_TOO_FAR.search(said)
        assert name in said and "Save it again" in said
    for look in (
        lambda: actions.propose(tiny_shop, file),
        lambda: actions.try_mapping(tiny_shop, file, "", "hours", columns={}),
        lambda: actions.mend_rows(tiny_shop, [{"file": file, "sheet": "", "row": "1"}]),
    ):
        with pytest.raises(UserError) as raised:
            look()
        assert GOES_TOO_FAR.search(raised.value.what)


def test_rows_set_aside_whose_file_has_gone_too_far_since_are_told(
    tiny_shop: Path, strict: None, capsys: pytest.CaptureFixture[str]
) -> None:
    inbox = tiny_shop / "inbox"
    for file in ("grown.csv", "other.csv"):
        (inbox / file).write_text(ODD_SALE.replace("tray", file), encoding="utf-8")
    assert refresh(load(tiny_shop)).published
    (inbox / "grown.csv").write_text(ODD_SALE + "2026-03-02,market,tray,60\n" * 3_000_000, encoding="utf-8")
    out = tiny_shop / "set-aside.csv"
    assert main(["check", str(tiny_shop), "--set-aside", str(out)]) == 0
    said = capsys.readouterr().err
    assert "inbox/grown.csv" in said and GOES_TOO_FAR.search(said)
    text = out.read_text(encoding="utf-8")
    assert "inbox/other.csv" in text and "grown" not in text
    place = {"file": "inbox/grown.csv", "sheet": "", "row": 2, "occurrence": 0, "record": "sales"}
    with pytest.raises(UserError, match=GOES_TOO_FAR):
        actions.rows_to_mend(tiny_shop, [place])
