"""Every setting with every wrong type of TOML: one sentence with place, line and mend, never a traceback."""

from pathlib import Path

import pytest

from pipeline import database, mapping
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from pipeline.reports.check import findings
from pipeline.settings import SETTINGS, Setting
from pipeline.shop import load

LEAST = "start = 2026-01-01\n"
WRONG = {
    "text": '"many"', "number": "12", "negative": "-1", "huge": "1e308", "whole": "1000000000000000000000000000000",
    "nan": "nan", "inf": "inf", "yes": "true", "day": "2026-05-31", "moment": "2026-05-31T10:00:00", "time": "10:00:00",
    "list": "[1]", "lists": "[[1]]", "table": "{a = 1}", "tables": "[{a = 1}]", "empty": "[]", "texts": '["a"]',
}  # fmt: skip
FITS = {
    "text": {"text"}, "choice": set(), "zone": set(), "names": {"empty", "texts"}, "date": {"day"}, "yes_no": {"yes"},
    "share": set(),
    **{key: {"number"} for key in ("count", "money", "rate", "number", "density", "millilitres", "grams")},
}  # fmt: skip


def entry(table: str, setting: Setting, value: str) -> str:
    known = SETTINGS[table]
    if not known.section:
        return (LEAST if setting.name != "start" else "") + f"{setting.name} = {value}\n"
    lines = [LEAST, f"[[{known.section}]]"]
    for other in (*known.settings, *known.dated_settings):
        if other.required and other.name != setting.name:
            text = {"date": "2026-05-31", "count": "2026"}.get(other.kind) or f'"{(other.choices or ("x",))[0]}"'
            lines.append(f"{other.name} = {'1' if other.kind == 'money' else text}")
    return "\n".join([*lines, f"{setting.name} = {value}", ""])


ALL = [
    (name, setting)
    for name, table in SETTINGS.items()
    for setting in (*table.settings, *table.dated_settings)
]  # fmt: skip


@pytest.mark.parametrize(("table", "setting"), ALL, ids=lambda each: getattr(each, "name", each))
def test_each_setting_with_each_wrong_type(tmp_path: Path, table: str, setting: Setting) -> None:
    for kind, value in WRONG.items():
        text = entry(table, setting, value)
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        free = setting.kind == "choice" and not setting.choices and kind == "text"
        if free or kind in FITS[setting.kind]:
            try:
                load(tmp_path)
            except UserError as error:  # of the right type, but no shop work, say, or beyond the share of one
                assert error.mend
            continue
        with pytest.raises(UserError) as raised:
            load(tmp_path)
        line = next(n for n, each in enumerate(text.splitlines(), 1) if each.startswith(f"{setting.name} ="))
        assert f"`{setting.name}`" in raised.value.what, kind
        assert raised.value.where.endswith(f"line {line}"), (kind, raised.value.where)
        assert raised.value.mend


@pytest.mark.parametrize("section", sorted({t.section for t in SETTINGS.values() if t.section} | {"words"}))
@pytest.mark.parametrize("value", [v for k, v in WRONG.items() if k != "empty"])
def test_each_section_with_each_wrong_type(tmp_path: Path, section: str, value: str) -> None:
    (tmp_path / "shop.toml").write_text(f"{LEAST}{section} = {value}\n", encoding="utf-8")
    with pytest.raises(UserError) as raised:
        load(tmp_path)
    assert raised.value.mend and "line 2" in raised.value.where


@pytest.mark.parametrize("text", [
    *(f'[[people]]\nname = "A"\nrates = {value}\n' for value in ("5", "[1]", '"x"', "true", "[[1]]", "{a = 1}")),
    *(f'[[pools]]\nname = "A"\namounts = {value}\n' for value in ("5", "[1]", '"x"', "{a = 1}")),
    '[[people]]\nname = "A"\nfrom = 2026-05-31T10:00:00\n', '[[people]]\nname = "A"\nfrom = "2026-05-31"\n',
    "[words]\nspecies = 1\n", "[words.species]\noak = 1\n", "[words.species]\noak = []\n",
    '[words]\nspecies = ["oak"]\n',
])  # fmt: skip
def test_lists_inside_and_words(tmp_path: Path, text: str) -> None:
    (tmp_path / "shop.toml").write_text(LEAST + text, encoding="utf-8")
    with pytest.raises(UserError) as raised:
        load(tmp_path)
    assert raised.value.mend and "line " in raised.value.where


@pytest.mark.parametrize("setting", mapping._KEYS)
@pytest.mark.parametrize("value", WRONG.values())
def test_each_setting_of_a_mapping_with_each_wrong_type(tmp_path: Path, setting: str, value: str) -> None:
    others = {"files": '"*.csv"', "record": '"hours"'}
    lines = [
        f"{name} = {text}"
        for name, text in ({setting: value} | {k: v for k, v in others.items() if k != setting}).items()
    ]
    (tmp_path / "a.toml").write_text("\n".join(lines), encoding="utf-8")
    try:
        mapping.read(tmp_path / "a.toml")
    except UserError as error:
        assert (error.mend and "line" in error.where) or "which files" in error.what
        return
    if setting in ("left_out", "headings"):  # a list of headers, whichever they are
        assert value in ("[]", '["a"]')
        return
    assert setting in ("files", "sheets", "tax_included", "repeats_total", "supersedes") and value in (
        '"many"',
        "true",
        "[]",
    )


def test_a_pattern_with_backslashes_is_understood() -> None:
    assert mapping.Mapping("m", files="bank\\2026\\*.csv").fits("bank/2026/may.csv", "")


def test_a_pattern_that_fits_no_file_is_named(tiny_shop: Path) -> None:
    (tiny_shop / "mappings").mkdir()
    for name, files in (("till", "til/*.csv"), ("hours", "hours.csv")):
        text = (
            f'files = "{files}"\nrecord = "hours"\n[columns]\ndate = "date"\noperation = "operation"\nhours = "hours"\n'
        )
        (tiny_shop / "mappings" / f"{name}.toml").write_text(text, encoding="utf-8")
    (tiny_shop / "inbox" / "hours.csv").write_text("date,hours,operation\n2026-05-04,1:00,sanding\n", encoding="utf-8")
    assert refresh(load(tiny_shop)).errors == []
    with database.open_newest(tiny_shop) as con:
        found = [f.where for f in findings(con) if f.kind == "mapping unused"]
    assert found == ["mappings/till.toml: files = til/*.csv"]
