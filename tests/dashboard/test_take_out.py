"""What the command line hands out comes from the Files page too, and is the same."""

import io
import zipfile
from datetime import date
from pathlib import Path

import pytest

from pipeline.backups import restore
from pipeline.commands import main
from pipeline.pages import take_out
from pipeline.refresh import background
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.changing.test_trial import FILES
from tests.dashboard.conftest import Run, html
from tests.refreshed import refreshed

MARCH = date(2026, 3, 1)


@pytest.fixture
def shop(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in FILES.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(tiny_shop)
    monkeypatch.setattr(background, "start", lambda _: None)
    return tiny_shop


def test_a_file_is_the_one_that_the_command_writes(shop: Path, tmp_path: Path) -> None:
    assert main(["report", str(shop), "--month", "2026-03"]) == 0
    (written,) = (shop / "reports").glob("*.html")
    assert take_out.month_report(shop, MARCH) == written.read_bytes()
    assert main(["report", str(shop), "--year", "2026"]) == 0
    (written,) = (shop / "reports").glob("*.xlsx")
    with zipfile.ZipFile(io.BytesIO(take_out.year_end(shop, 2026))) as own, zipfile.ZipFile(written) as other:
        sheets = [name for name in own.namelist() if name.startswith("xl/worksheets/")]
        assert len(sheets) > 3 and [own.read(name) for name in sheets] == [other.read(name) for name in sheets]
    assert main(["export", str(shop), "--format", "csv", "--to", str(tmp_path / "tables")]) == 0
    with zipfile.ZipFile(io.BytesIO(take_out.all_tables(shop))) as own:
        assert {n: own.read(n) for n in own.namelist()} == {
            path.name: path.read_bytes() for path in (tmp_path / "tables").iterdir()
        }
    (tmp_path / "a.zip").write_bytes(take_out.backup(shop))
    restore(tmp_path / "a.zip", tmp_path / "again")
    assert (tmp_path / "again" / "shop.toml").read_bytes() == (shop / "shop.toml").read_bytes()


def test_a_month_is_closed_once_it_is_said_to_be_meant(page: Run, shop: Path) -> None:
    test = page("files", shop, **{"take-out": "true"})
    assert not test.exception
    test.selectbox(key="report-month").set_value("2026-03").run()
    assert "Closing freezes" in html(test) and not [b for b in test.button if b.label == "Close 2026-03"]
    test.checkbox(key="sure-2026-03").check().run()
    next(button for button in test.button if button.label == "Close 2026-03").click().run()
    assert not test.exception and take_out.is_closed(shop, MARCH)
    assert "2026-03 is closed" in html(test) and not [b for b in test.button if b.label == "Close 2026-03"]


def test_a_shop_without_records_hands_out_its_backup(page: Run, bare: Path) -> None:
    (bare / "inbox" / "hours.csv").write_text("date,person,operation,hours\n", encoding="utf-8")
    refreshed(bare)
    test = page("files", bare, **{"take-out": "true"})
    assert not test.exception and "kerfledger restore" in html(test)


def test_a_backup_becomes_a_shop_beside_the_present_one(page: Run, shop: Path) -> None:
    backup, mine = take_out.backup(shop), sorted(path.name for path in shop.parent.iterdir())
    test = page("files", shop, **{"take-out": "true"})
    assert "This page stays with the shop" in html(test)
    for name, content in (
        ("no shop.zip", b"PK"),
        ("my shop 2026-06-01.zip", backup),
        ("my shop 2026-06-01.zip", backup),
    ):
        (field,) = [each for each in test.get("file_uploader") if each.label.startswith("Backup")]
        field.set_value((name, content, "application/zip")).run()
        next(button for button in test.button if button.label == "Put it into a new folder").click().run()
        assert not test.exception
        if content != backup:
            assert "no backup that can be read" in test.error[0].value
            assert sorted(path.name for path in shop.parent.iterdir()) == mine
    new = sorted({path.name for path in shop.parent.iterdir()} - set(mine))
    assert new == ["my shop 2026-06-01", "my shop 2026-06-01 (2)"]
    for name in new:
        assert (shop.parent / name / "shop.toml").read_bytes() == (shop / "shop.toml").read_bytes()
    assert f"kerfledger show '{shop.parent.resolve() / new[1]}'" in test.success[0].value.replace("\\", "")
    assert refresh(load(shop.parent / new[1])).published
