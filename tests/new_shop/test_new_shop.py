"""A new shop: its settings, its entry workbook, and an inbox that can be refreshed as it stands."""

import re
import tomllib
import zipfile
from datetime import date
from decimal import Decimal
from pathlib import Path

import polars as pl
import pytest

from pipeline import database, mapping
from pipeline.cleaning import clean
from pipeline.commands import main
from pipeline.errors import UserError
from pipeline.new_shop import WORKBOOK, new_shop, workbook
from pipeline.new_shop.examples import MARK, examples, without_examples
from pipeline.proposing import suggestion
from pipeline.readers import TextTable, read
from pipeline.records import CATEGORIES, RECORDS
from pipeline.settings import SETTINGS
from pipeline.shop import FOLDERS, Shop, load
from pipeline.shop.settings_text import toml

START = date(2026, 1, 1)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return new_shop(tmp_path_factory.mktemp("new") / "shop", START)


@pytest.fixture(scope="module")
def sheets(shop: Shop) -> dict[str, TextTable]:
    return {table.sheet: table for table in read(shop.folder / WORKBOOK)}


def test_it_has_all_folders_and_settings_that_can_be_read(shop: Shop) -> None:
    assert sorted(path.name for path in shop.folder.iterdir()) == sorted((*FOLDERS, "shop.toml"))
    assert load(shop.folder).tables == shop.tables
    assert shop["start"] == START
    assert shop.names("person_rate") == ["Me"]


def test_what_is_left_as_it_is_has_the_defaults(shop: Shop, tmp_path: Path) -> None:
    bare = tmp_path / "bare"
    bare.mkdir()
    text = 'start = 2026-01-01\n[[people]]\nname = "Me"\nrate = 25\n'
    (bare / "shop.toml").write_text(text, encoding="utf-8")
    assert shop.tables == load(bare).tables


def test_every_setting_stands_in_the_file_with_its_why(shop: Shop) -> None:
    text = (shop.folder / "shop.toml").read_text(encoding="utf-8")
    told = " ".join(line.removeprefix("# ") for line in text.splitlines() if line.startswith("# "))
    for table in SETTINGS.values():
        for setting in (*table.settings, *table.dated_settings):
            assert re.search(rf"^#?{setting.name} = ", text, re.MULTILINE), (table.name, setting.name)
            assert " ".join(setting.why.split()) in told


def test_every_example_in_it_can_be_set(shop: Shop, tmp_path: Path) -> None:
    lines = (shop.folder / "shop.toml").read_text(encoding="utf-8").splitlines()
    set_all = [line.removeprefix("#") if re.match(r"#[^ ]", line) else line for line in lines]
    (tmp_path / "shop.toml").write_text("\n".join(set_all), encoding="utf-8")
    full = load(tmp_path)
    assert all(full.tables.values())
    assert len(full.tables["person_rate"]) == len(full.tables["machine"]) == 2  # an earlier and a later rate each


@pytest.mark.parametrize("value", ['a "quoted" word\\', True, date(2026, 5, 31), Decimal("0.065"), 12])
def test_values_are_written_as_toml_reads_them(value: object) -> None:
    read_back = tomllib.loads(f"value = {toml(value)}", parse_float=Decimal)["value"]
    assert (read_back, type(read_back)) == (value, type(value))


def test_a_folder_that_holds_a_shop_stays_as_it_is(shop: Shop) -> None:
    before = (shop.folder / "shop.toml").read_bytes()
    with pytest.raises(UserError, match="holds a shop already"):
        new_shop(shop.folder, date(2020, 1, 1))
    assert (shop.folder / "shop.toml").read_bytes() == before


def test_a_workbook_or_file_in_the_way_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "inbox").mkdir()
    (tmp_path / "inbox" / "entry.xlsx").write_bytes(b"mine")
    with pytest.raises(UserError, match="workbook is there already"):
        new_shop(tmp_path, START)
    assert (tmp_path / "inbox" / "entry.xlsx").read_bytes() == b"mine"
    (tmp_path / "file").write_text("mine")
    with pytest.raises(UserError, match="where a folder should be"):
        new_shop(tmp_path / "file", START)


def test_each_sheet_maps_itself(shop: Shop, sheets: dict[str, TextTable]) -> None:
    for record in RECORDS.values():
        table = sheets[record.name]
        found = suggestion.choose([], "entry.xlsx", table, shop)
        assert found is not None
        assert (found.name, found.record) == ("canonical", record.name)
        assert table.names == tuple(field.name for field in record)


def test_the_examples_are_right_but_not_read(shop: Shop, sheets: dict[str, TextTable]) -> None:
    for name in RECORDS:
        table = sheets[name]
        how = mapping.Mapping("canonical", record=name, columns={f.name: f.name for f in RECORDS[name]})
        cleaned = clean(table, how, shop, "entry.xlsx")
        assert (cleaned.frame.height, cleaned.rejected.rows()) == (2, [])
        rest = without_examples(table)
        assert rest.frame.height == 0
        assert rest.ignored.filter(reason="example")["row"].to_list() == [2, 3]
        assert rest.ignored.height == table.ignored.height + 2


def test_every_field_is_shown_or_explained_and_no_example_has_another() -> None:
    for name, rows in examples(START).items():
        assert len(rows) == 2
        needed = {f.name for f in RECORDS[name] if f.required}
        known = {f.name for f in RECORDS[name]}
        assert all(needed <= set(row) <= known for row in rows), name


def test_only_rows_with_the_mark_are_examples() -> None:
    rows = [["a", MARK], ["b", f"{MARK} really"], ["c", None]]
    frame = pl.DataFrame({"c0": [r[0] for r in rows], "c1": [r[1] for r in rows], "row": [2, 3, 4]})
    table = TextTable("", ("item", "note"), frame, pl.DataFrame(schema={"row": pl.Int64, "reason": str, "text": str}))
    left = without_examples(table)
    assert left.frame["c0"].to_list() == ["b", "c"]
    assert left.ignored.rows() == [(2, "example", f"a | {MARK}")]


def test_drop_downs_hold_choices_and_known_names(shop: Shop) -> None:
    action = RECORDS["inspections"].field("action")
    assert workbook.choices(action, shop) == (["accept", "rework", "scrap", "discount"], True)
    assert workbook.choices(RECORDS["hours"].field("rework"), shop) == (["yes", "no"], True)
    assert workbook.choices(RECORDS["purchases"].field("category"), shop) == (list(CATEGORIES), True)
    assert workbook.choices(RECORDS["hours"].field("person"), shop) == (["Me"], False)
    assert "black walnut" in workbook.choices(RECORDS["pieces"].field("species"), shop)[0]
    assert "sanding" in workbook.choices(RECORDS["hours"].field("operation"), shop)[0]
    assert workbook.choices(RECORDS["hours"].field("note"), shop) == ([], False)


def test_the_workbook_has_its_rules_formats_and_notes(shop: Shop) -> None:
    with zipfile.ZipFile(shop.folder / WORKBOOK) as book:
        parts = {name: book.read(name).decode() for name in book.namelist() if name.endswith(".xml")}
    sheet = parts[f"xl/worksheets/sheet{list(RECORDS).index('hours') + 1}.xml"]
    listed = [f for f in RECORDS["hours"] if workbook.choices(f, shop)[0]]
    assert sheet.count("<dataValidation ") == len(listed) == 4  # person, operation, attended, rework
    assert "yyyy\\-mm\\-dd" in parts["xl/styles.xml"] or "yyyy-mm-dd" in parts["xl/styles.xml"]
    assert sum(part.count("<comment ") for part in parts.values()) == sum(len(r.fields) for r in RECORDS.values())
    assert f'name="lists" sheetId="{len(RECORDS) + 1}" state="hidden"' in parts["xl/workbook.xml"]


def test_notes_name_need_unit_and_default(shop: Shop) -> None:
    told = workbook.head_note
    assert told(RECORDS["hours"].field("date"), shop) == "Needed. Day of the work. A date: 2026-05-31."
    assert "in USD" in told(RECORDS["sales"].field("price"), shop)
    assert "a bare number is minutes" in told(RECORDS["pours"].field("stir_minutes"), shop)
    assert "a bare number is hours" in told(RECORDS["hours"].field("hours"), shop)
    assert told(RECORDS["hours"].field("attended"), shop).endswith("Left empty: yes.")
    assert {field.kind for record in RECORDS.values() for field in record} == set(workbook.HOW_TO_WRITE)


def test_the_command_makes_a_shop_that_refreshes_and_says_what_is_next(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "my shop"
    assert main(["new", str(folder), "--start", "2026-02-01"]) == 0
    shown = capsys.readouterr().out
    assert [line[:4] for line in shown.splitlines()[1:]] == ["  1.", "  2.", "  3."]
    assert f"kerfledger refresh '{folder}'" in shown
    assert main(["refresh", str(folder)]) == 0
    assert main(["new", str(folder)]) == 2
    with database.open_newest(folder) as con:
        files = con.execute("select how, sum(rows), sum(ignored) from intake.file group by how order by how").fetchall()
        examples_left = con.execute("select count(*) from intake.ignored where reason = 'example'").fetchall()
        start = con.execute("select start from settings.shop").fetchall()
    assert examples_left == [(2 * len(RECORDS),)]
    assert [how for how, _, _ in files] == ["canonical", "ignored"]
    assert all(rows == ignored for _, rows, ignored in files)
    assert start == [(date(2026, 2, 1),)]
    capsys.readouterr()
    assert main(["check", str(folder)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Nothing found to mend, in what was looked at.",
        "Not looked at: cash. It is what the records add up to, and no bank balance confirms it.",
        "Not looked at: what stands in no file. A receipt, a sale or an hour that nobody wrote down is not missed.",
    ]
