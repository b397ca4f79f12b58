"""A goal set from the page stands in `shop.toml`; all else in it stays, and what is no goal changes nothing."""

from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.asking.goal import set_goal
from pipeline.errors import UserError
from pipeline.shop import load
from tests.refreshed import TINY_SHOP


def goals(shop: Path) -> list[tuple[object, ...]]:
    names = ("year", "result_cents", "pay_cents", "pieces")
    return [tuple(row[name] for name in names) for row in load(shop).tables["goal"]]


def test_a_goal_is_put_changed_and_taken_away(tiny_shop: Path) -> None:
    set_goal(tiny_shop, 2026, {"result": "12,000.00", "pay": " 25.50 ", "pieces": ""})
    assert goals(tiny_shop) == [(2026, 1_200_000, 2550.0, None)]
    set_goal(tiny_shop, 2027, {"pieces": "1 200"})
    set_goal(tiny_shop, 2026, {"result": "€9.000,50", "pieces": "80"})
    assert goals(tiny_shop) == [(2026, 900_050, None, 80), (2027, None, None, 1200)]
    set_goal(tiny_shop, 2026, {"result": "€ 12 000,-", "pieces": "1.200"})
    assert goals(tiny_shop)[0] == (2026, 1_200_000, None, 1200)
    set_goal(tiny_shop, 2026, {"pieces": "1,200"})
    assert goals(tiny_shop)[0] == (2026, None, None, 1200)
    set_goal(tiny_shop, 2026, {"result": " "})
    set_goal(tiny_shop, 2027, {})
    assert goals(tiny_shop) == []
    assert (tiny_shop / "shop.toml").read_text(encoding="utf-8").rstrip() == TINY_SHOP.rstrip()


@pytest.mark.parametrize("text", ["many", "-5", "12 or so", "1e400", "=1+1", "nan"])
@pytest.mark.parametrize("name", ["result", "pay", "pieces"])
def test_what_is_no_number_is_refused_and_nothing_changes(tiny_shop: Path, name: str, text: str) -> None:
    before = (tiny_shop / "shop.toml").read_bytes()
    with pytest.raises(UserError):
        set_goal(tiny_shop, 2026, {name: text})
    assert (tiny_shop / "shop.toml").read_bytes() == before


@pytest.mark.parametrize("text", ["12.000", "12,000", "€9.000"])
def test_an_amount_that_can_be_read_two_ways_is_asked_about(tiny_shop: Path, text: str) -> None:
    # twelve thousand, or twelve with three decimals: which, no single cell shows
    for name in ("result", "pay"):
        with pytest.raises(UserError, match="two ways") as refused:
            set_goal(tiny_shop, 2026, {name: text})
        assert text[-6:].strip("€").replace(".", "").replace(",", "") in refused.value.mend
    assert goals(tiny_shop) == []


def test_a_goal_in_another_money_is_none(tiny_shop: Path) -> None:
    with pytest.raises(UserError, match="not in EUR"):
        set_goal(tiny_shop, 2026, {"result": "$12000"})


def test_half_a_piece_and_a_year_that_is_none_are_refused(tiny_shop: Path) -> None:
    for year, told in ((2026, {"pieces": "2.5"}), (12, {"pieces": "2"})):
        with pytest.raises(UserError):
            set_goal(tiny_shop, year, told)


def test_what_stood_there_stays_with_its_comments(tiny_shop: Path) -> None:
    file = tiny_shop / "shop.toml"
    file.write_text(f"{TINY_SHOP}\n# mine\n[goal]\nyear = 2025 # the first\npay = 20\n", encoding="utf-8")
    assert goals(tiny_shop) == [(2025, None, 2000.0, None)]
    set_goal(tiny_shop, 2026, {"pay": "22"})
    assert goals(tiny_shop) == [(2025, None, 2000.0, None), (2026, None, 2200.0, None)]
    assert "# the first" in file.read_text(encoding="utf-8")
    file.write_text(f"goal = [{{year = 2025, pay = {Decimal(20)}}}]\n{TINY_SHOP}", encoding="utf-8")
    with pytest.raises(UserError, match="one line"):
        set_goal(tiny_shop, 2026, {"pay": "22"})


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("year = 2026", "doesn't say of what"),
        ("result = 100", "lacks `year`"),
        ("year = 12\nresult = 100", "`year` can't be 12"),
        ("year = 2026\npay = 1\n[[goal]]\nyear = 2026\npieces = 3", "Two goals are for 2026"),
        ("year = 2026\nhours = 1", "not known: hours"),
    ],
)
def test_a_goal_that_can_not_be_is_refused(tiny_shop: Path, entry: str, says: str) -> None:
    (tiny_shop / "shop.toml").write_text(f"{TINY_SHOP}\n[[goal]]\n{entry}\n", encoding="utf-8")
    with pytest.raises(UserError, match=says):
        load(tiny_shop)
