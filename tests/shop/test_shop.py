"""`shop.toml` → `Shop`: defaults, dates, and errors that say what, where and what to do."""

from datetime import date
from pathlib import Path

import pytest

from pipeline import settings
from pipeline.errors import UserError
from pipeline.shop import Shop, load

LEAST = 'name = "Two Benches"\nstart = 2026-01-01\n'


def shop(tmp_path: Path, text: str) -> Shop:
    (tmp_path / "shop.toml").write_text(LEAST + text, encoding="utf-8")
    return load(tmp_path)


def test_a_shop_of_two_lines_has_all_defaults(tmp_path: Path) -> None:
    found = shop(tmp_path, "")
    assert found["currency"] == "USD" and found["late_receipt_days"] == 7
    assert [row["normal_scrap_ppm"] for row in found.tables["rule"]] == [50_000]
    assert {row["name"] for row in found.tables["operation"]} >= {"sanding", "market", "office"}
    for table in settings.SETTINGS.values():
        for row in found.tables[table.name]:
            assert {"row_id", "position", *row} == set(table.columns())


def test_a_raise_begins_on_its_day(tmp_path: Path) -> None:
    rates = "rates = [{ from = 2026-01-01, rate = 28.5 }, { from = 2026-07-01, rate = 30 }]"
    rows = shop(tmp_path, f'[[people]]\nname = "Ada"\n{rates}\n').tables["person_rate"]
    assert [(row["from_date"], row["rate_cents"]) for row in rows] == [
        (date(2026, 1, 1), 2850),
        (date(2026, 7, 1), 3000),
    ]


def test_a_rate_may_have_parts_of_a_cent(tmp_path: Path) -> None:
    text = '[[people]]\nname = "Ada"\nrate = 18.375\n[[machines]]\nname = "saw"\nrate = 3.87512349\n'
    tables = shop(tmp_path, text).tables
    assert tables["person_rate"][0]["rate_cents"] == 1837.5
    assert tables["machine"][0]["rate_cents"] == 387.512


def test_a_rule_carries_on_until_it_is_changed(tmp_path: Path) -> None:
    text = """
normal_scrap = 0.02
stir_minutes = 4
[[rules]]
from = 2026-06-01
normal_scrap = 0.03
[[rules]]
from = 2026-03-01
tax_reclaimable = true
"""
    rows = shop(tmp_path, text).tables["rule"]
    assert [(r["from_date"], r["normal_scrap_ppm"], r["tax_reclaimable"], r["stir_minutes"]) for r in rows] == [
        (date(2026, 1, 1), 20_000, False, 4.0),
        (date(2026, 3, 1), 20_000, True, 4.0),
        (date(2026, 6, 1), 30_000, True, 4.0),
    ]


def test_rules_of_one_day_are_one(tmp_path: Path) -> None:
    """Else it would be luck which of them a record of that day goes by."""
    text = "cold_c = 17\n" + "".join(
        f"[[rules]]\nfrom = {day}\n{said}\n"
        for day, said in (
            ("2026-06-01", "cold_c = 18"),
            ("2026-06-01", "damp_pct = 80"),
            ("2026-01-01", "damp_pct = 70"),
        )
    )
    rows = shop(tmp_path, text).tables["rule"]
    assert [(row["from_date"], row["cold_c"], row["damp_pct"]) for row in rows] == [
        (date(2026, 1, 1), 17.0, 70.0),
        (date(2026, 6, 1), 18.0, 80.0),
    ]


def test_a_usual_kind_of_work_is_the_maker_s_own_however_it_is_written(tmp_path: Path) -> None:
    rows = shop(tmp_path, '[[operations]]\nname = "Sanding"\ndriver = "equal"\n').tables["operation"]
    assert [(row["name"], row["driver"]) for row in rows if row["name"].lower() == "sanding"] == [("Sanding", "equal")]


def test_money_without_minor_units(tmp_path: Path) -> None:
    rows = shop(tmp_path, 'currency = "JPY"\nopening_cash = 5000\n[[people]]\nname = "Aki"\nrate = 2500\n').tables
    assert rows["shop"][0]["opening_cash_cents"] == 5000
    assert rows["person_rate"][0]["rate_cents"] == 2500


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("colour = 1\n", "not known: colour"),
        ('[[people]]\nname = "Ada"\nwage = 3\n', "not known: wage"),
        ('[people]\nname = "Ada"\n', "must be a list"),
        ("[[people]]\nrate = 3\n", "lacks `name`"),
        ('units = "feet"\n', "can't be 'feet'"),
        ("normal_scrap = 1.5\n", "can't be"),
        ("opening_cash = -1\n", "can't be"),
        ('time_zone = "Amerika/Chicago"\n', "can't be 'Amerika/Chicago'"),
        ("time_zone = 5\n", "can't be 5"),
        ("late_receipt_days = 1.5\n", "can't be"),
        ("[[rules]]\nnormal_scrap = 0.1\n", "`from` is no date"),
        ('[[rules]]\nfrom = "June"\n', "`from` is no date"),
        ("x = [\n", "can't be read"),
        ('[[people]]\nname = "Ada"\n[[people]]\nname = "ada"\n', "`Ada` and `ada`"),
        ('[[items]]\nname = "Clear  Resin"\n[[items]]\nname = "clear resin"\n', "don't tell apart"),
    ],
)
def test_a_wrong_setting_is_named_with_its_place_and_mend(tmp_path: Path, text: str, what: str) -> None:
    with pytest.raises(UserError) as caught:
        shop(tmp_path, text)
    assert what in caught.value.what
    assert "shop.toml" in caught.value.where
    assert caught.value.mend


def test_no_folder_and_no_shop(tmp_path: Path) -> None:
    for folder in (tmp_path / "nowhere", tmp_path):
        with pytest.raises(UserError, match="kerfledger new"):
            load(folder)


POOL = '[[pools]]\nname = "rent"\noperations = {}\n'


def test_a_pool_names_the_shop_work_that_it_pays(tmp_path: Path) -> None:
    upkeep = '[[operations]]\nname = "upkeep"\nkind = "shop"\n'
    rows = shop(tmp_path, POOL.format('["cleaning", "upkeep"]') + upkeep).tables["pool"]
    assert [row["operations"] for row in rows] == ["cleaning; upkeep"]
    assert shop(tmp_path, POOL.format("[]")).tables["pool"][0]["operations"] is None


@pytest.mark.parametrize(
    ("pools", "told"),
    [
        (POOL.format('["sanding"]'), "no shop work"),
        (POOL.format('["cleaning"]') + POOL.format('["cleaning"]').replace("rent", "power"), "Two pools"),
        (POOL.format('"cleaning"'), "can't be 'cleaning'"),
    ],
)
def test_shop_work_is_paid_once(tmp_path: Path, pools: str, told: str) -> None:
    with pytest.raises(UserError, match=told):
        shop(tmp_path, pools)


@pytest.mark.parametrize(
    ("said", "basis"),
    [
        ("amount = 9\n", "normal"),
        ("rate = 4\n", "budget"),
        ("amounts = [{ rate = 4 }, { from = 2026-06-01, rate = 5 }]\n", "budget"),
        ('basis = "normal"\nrate = 4\n', "normal"),
    ],
)
def test_a_rate_that_is_given_is_the_pools_rate(tmp_path: Path, said: str, basis: str) -> None:
    assert {row["basis"] for row in shop(tmp_path, POOL.format("[]") + said).tables["pool"]} == {basis}


@pytest.mark.parametrize(
    "half", ['basis = "budget"\n', "amounts = [{ rate = 4 }, { from = 2026-06-01, amount = 9 }]\n"]
)
def test_a_budgeted_rate_must_be_given(tmp_path: Path, half: str) -> None:
    with pytest.raises(UserError, match="has no `rate` from 2026-0"):
        shop(tmp_path, POOL.format("[]") + half)


@pytest.mark.parametrize(
    ("twice", "told"),
    [
        (POOL.format("[]") * 2, "are named `rent`"),
        ('[[machines]]\nname = "rent"\ncost = 100\n' + POOL.format("[]"), "a machine `rent`"),
        ('[[machines]]\nname = "Rent"\ncost = 100\n' + POOL.format("[]"), "a machine `Rent`"),
        ('[[events]]\nname = "RENT"\n' + POOL.format("[]"), "a pool `rent`"),
        ('[[pools]]\nname = "Spoilage"\n', "the cost of scrap"),
        ('[[pools]]\nname = "band saw"\n[[pools]]\nname = "bandsaw"\n', "a pool `band saw`"),
        (
            '[[machines]]\nname = "saw"\ncost = 1\n[[machines]]\nname = "saw"\nfrom = 2026-06-01\ncost = 2\n',
            "in `cost`",
        ),
        ('[[machines]]\nname = "saw"\n[[machines]]\nname = "saw"\nfrom = 2026-06-01\nmonths = 9\n', "in `months`"),
        (
            '[[pools]]\nname = "p"\namount = 1\n[[pools]]\nname = "p"\nfrom = 2026-06-01\nsource = "receipts"\n',
            "source",
        ),
    ],
)
def test_a_name_stands_for_one_thing(tmp_path: Path, twice: str, told: str) -> None:
    with pytest.raises(UserError, match=told):
        shop(tmp_path, twice)


def test_a_pool_that_stands_again_is_still_the_same_pool(tmp_path: Path) -> None:
    again = POOL.format("[]") + '[[pools]]\nname = "rent"\nfrom = 2026-06-01\namount = 120\n'
    first, later = shop(tmp_path, again).tables["pool"]
    assert {"source", "driver", "operations"} <= {name for name in first if first[name] == later[name]}


def test_a_name_may_stand_again_from_another_day(tmp_path: Path) -> None:
    again = '[[people]]\nname = "Ada"\nrate = 30\n[[people]]\nname = "Ada"\nfrom = 2026-06-01\nrate = 35\n'
    assert [row["rate_cents"] for row in shop(tmp_path, again).tables["person_rate"]] == [3000, 3500]
