"""Files of a shop say which version of their form they are in: older ones go on working, newer ones are refused.

`form_1` is a small shop's folder as the program left it when nothing said its form: settings, a mapping settled on the
Files page, a log with a timer that runs, a mended row, a saved quote. It is never changed; a new form gets one beside.
"""

import csv
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline import mapping
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.new_shop import new_shop
from pipeline.pages import daylog, inbox
from pipeline.quoting import saved_quotes
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from pipeline.shop.format_versions import NEWEST

FORM_1 = Path(__file__).parent / "form_1"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return shutil.copytree(FORM_1, tmp_path / "shop")


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_folder_of_the_first_form_gives_the_same_figures_and_stays_as_it_is(old: Path) -> None:
    before = contents(old)
    assert not any(b"form =" in content or b'"form"' in content for content in before.values())
    summary = refresh(load(old))
    assert (summary.errors, summary.counts["loaded"], summary.counts["set_aside"]) == ([], 10, 0)
    with open_newest(old) as con:
        # 2 of 12 board feet at 180.00 · 300 ml of 4 l at 96.00 · 2:30 at 24.00, and 1:45 at 26.00
        query = "select piece, wood_cents, resin_cents, labour_cents from cost.piece order by piece"
        assert con.execute(query).fetchall() == [("T-001", 3000, 720, 6000), ("T-002", 3000, 0, 4550)]
        # the mended row: 140.00, of which the market keeps 3 %
        month = con.execute("select revenue_cents, result_cents from money.month where revenue_cents > 0").fetchall()
        assert month == [(14000, 14000 - 9720 - 420)]
        assert con.execute("select quote, quoted_price_cents from intake.quote").fetchall() == [("Q-001", 15000)]
        mended = con.execute("select state from intake.row where record = 'sales' order by state").fetchall()
        assert mended == [("loaded",), ("superseded",)]
    after = {name: text for name, text in contents(old).items() if not name.startswith("database/")}
    assert after == before


def test_its_log_goes_on(old: Path) -> None:
    shop = load(old)
    known = daylog.state(shop)
    assert [timer.cells["operation"] for timer in known.timers] == ["finishing"]
    assert len(known.entries) == 2
    daylog.undo(shop)
    assert {timer.cells["operation"] for timer in daylog.state(shop).timers} == {"finishing", "sanding"}
    assert json.loads((old / "log" / ".running.json").read_text(encoding="utf-8"))["form"] == NEWEST["log"]


def test_a_new_file_says_its_form(old: Path, tmp_path: Path) -> None:
    new = new_shop(tmp_path / "new", load(old)["start"])
    assert "\nform = 1\n" in (new.folder / "shop.toml").read_text(encoding="utf-8")
    (how,) = mapping.load(old / "mappings")
    text = mapping.dump(how)
    assert text.startswith("form = 1\n")
    assert mapping.checked(how.name, text, old) == how
    quote = saved_quotes.read(old / "quotes" / "Q-001.json")
    assert saved_quotes.read(saved_quotes.save(old, quote, "Q-2"))["form"] == 1
    (old / "mends" / "page-20260401-090000-000000.csv").unlink()
    refresh(load(old))
    with open_newest(old) as con:
        (row,) = inbox.to_mend(load(old), con.sql("from intake.rejected").pl().rows(named=True))
    path = inbox.mend(load(old), [row | {"price": "140"}])
    with (old / path).open(encoding="utf-8") as file:
        (written,) = csv.DictReader(file)
    assert written["mark"].startswith("1.")


def settings(old: Path, form: str) -> None:
    file = old / "shop.toml"
    file.write_text(f"form = {form}\n{file.read_text(encoding='utf-8')}", encoding="utf-8")
    load(old)


def of_mapping(old: Path, form: str) -> None:
    file = old / "mappings" / "receipts.toml"
    file.write_text(f"form = {form}\n{file.read_text(encoding='utf-8')}", encoding="utf-8")
    refresh(load(old))


def of_mend(old: Path, form: str) -> None:
    (file,) = (old / "mends").iterdir()
    file.write_text(file.read_text(encoding="utf-8").replace(",2,0,", f",2,0,{form}."), encoding="utf-8")
    refresh(load(old))


def of_log(old: Path, form: str) -> None:
    file = old / "log" / ".running.json"
    file.write_text(json.dumps({"form": int(form)} | json.loads(file.read_text(encoding="utf-8"))), encoding="utf-8")
    daylog.undo(load(old))


def of_quote(old: Path, form: str) -> None:
    file = old / "quotes" / "Q-001.json"
    file.write_text(json.dumps({"form": int(form)} | json.loads(file.read_text(encoding="utf-8"))), encoding="utf-8")
    saved_quotes.read(file)


READS = {"settings file": settings, "mapping": of_mapping, "mend": of_mend, "log": of_log, "quote": of_quote}
ALL = pytest.mark.parametrize(("what", "read"), READS.items(), ids=list(READS))


@ALL
def test_a_newer_form_is_refused_and_nothing_changes(old: Path, what: str, read: Callable[[Path, str], None]) -> None:
    newest = NEWEST[what]
    with pytest.raises(UserError, match=f"is in form {newest + 1}, and this program knows none above {newest}") as told:
        read(old, str(newest + 1))
    assert told.value.where
    assert "newer program" in told.value.mend
    assert not list((old / "database").glob("*.duckdb"))
    for name, content in contents(FORM_1).items():
        if name.startswith(("inbox/", "log/2")):
            assert (old / name).read_bytes() == content


@ALL
def test_the_form_of_today_is_read_where_it_is_said(old: Path, what: str, read: Callable[[Path, str], None]) -> None:
    read(old, str(NEWEST[what]))


@pytest.mark.parametrize("form", ['"1"', "1.5", "true", "0", "-1"])
def test_what_is_no_form_is_told_with_its_line(old: Path, form: str) -> None:
    with pytest.raises(UserError, match="`form` can't be") as told:
        settings(old, form)
    assert told.value.where.endswith("line 1")
