"""What stock costs today: the last receipt, or the price list in force, and pieces' material at it."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.database import open_newest
from tests.refreshed import refreshed

Rows = list[dict[str, Any]]
Model = Callable[..., Rows]

MARCH, MAY, JUNE = date(2026, 3, 1), date(2026, 5, 1), date(2026, 6, 1)


def lots(*rows: tuple[str, str, date, int, int]) -> dict[str, Rows]:
    """Lots as (item, unit, bought on, cents, quantity), in order of their ids; wood by `wood/…`."""
    cost = [
        {"lot_id": k, "category": "resin", "bought_on": day, "landed_cents": cents, "bought": quantity, "unit": unit}
        for k, (_, unit, day, cents, quantity) in enumerate(rows, 100)
    ]
    return {"cost__lot": cost, "work__lot": [{"lot_id": k, "flow": row[0]} for k, row in enumerate(rows, 100)]}


def listed(name: str, unit: str, price: int, day: date, quantity: float = 1.0, row_id: int = 7) -> dict[str, Any]:
    return {
        "name": name,
        "unit": unit,
        "price_cents": price,
        "quantity": quantity,
        "from_date": day,
        "row_id": row_id,
    }


def test_the_last_receipt_counts(model: Model) -> None:
    given = lots(("oil", "ul", MARCH, 900, 500_000), ("oil", "ul", MAY, 1_100, 500_000), ("oil", "ul", MARCH, 1, 1))
    (row,) = model("price.today", **given)
    assert (row["cents"], row["quantity"], row["from_date"], row["row_id"]) == (1_100, 500_000, MAY, 101)


def test_a_lot_that_cost_nothing_prices_nothing(model: Model) -> None:
    given = lots(("oil", "ul", MARCH, 900, 500_000), ("oil", "ul", MAY, 0, 500_000))
    (row,) = model("price.today", **given)
    assert row["cents"] == 900


def test_a_price_list_holds_until_a_later_receipt(model: Model) -> None:
    given = lots(("oil", "ul", MAY, 1_100, 500_000))
    (row,) = model("price.today", **given, settings__price_list=[listed("oil", "l", 3_000, JUNE)])
    assert (row["cents"], row["quantity"], row["unit"], row["row_id"]) == (3_000, 1_000_000, "ul", 7)
    # on the same day the list wins: it was looked up for that
    (row,) = model("price.today", **given, settings__price_list=[listed("oil", "l", 3_000, MAY)])
    assert row["cents"] == 3_000
    (row,) = model("price.today", **given, settings__price_list=[listed("oil", "l", 3_000, MARCH)])
    assert row["cents"] == 1_100


def test_the_latest_price_of_the_list_counts(model: Model) -> None:
    prices = [listed("oil", "l", 3_000, MARCH), listed("oil", "l", 3_300, MAY, row_id=8)]
    (row,) = model("price.today", **lots(("oil", "ul", MARCH, 900, 500_000)), settings__price_list=prices)
    assert (row["cents"], row["row_id"]) == (3_300, 8)


@pytest.mark.parametrize(
    ("unit", "quantity", "base", "amount"),
    [
        # NIST SP 811 (2008), appendix B.8: 1 lb = 453.592 37 g, 1 oz = 28.349 523 125 g, 1 US gal = 3.785 411 784 l,
        # 1 US fl oz = 29.573 529 562 5 ml, 1 ft = 0.3048 m; a board foot is 144 cubic inches of 16.387 064 ml
        ("lb", 1.0, "mg", 453_592),
        ("oz", 16.0, "mg", 453_592),
        ("gal", 1.0, "ul", 3_785_412),
        ("fl oz", 128.0, "ul", 3_785_412),
        ("ft", 10.0, "um", 3_048_000),
        ("bf", 1.0, "mm3", 2_359_737),
        ("kg", 2.5, "mg", 2_500_000),
        ("each", 50.0, "each", 50_000),
    ],
)
def test_units_of_a_price_list(model: Model, unit: str, quantity: float, base: str, amount: int) -> None:
    given = lots(("thing", base, MARCH, 100, 10))
    (row,) = model("price.today", **given, settings__price_list=[listed("thing", unit, 5, JUNE, quantity)])
    assert (row["quantity"], row["unit"]) == (amount, base)


def test_resin_listed_by_volume_or_kit_is_turned_into_weight(model: Model) -> None:
    item = {"item": "resin", "category": "resin", "unit": "mg", "density_ug_per_ul": 1_100, "kit_ul": 2_000_000}
    given = lots(("resin", "mg", MARCH, 100, 10)) | {"work__item": [item]}
    (row,) = model("price.today", **given, settings__price_list=[listed("resin", "l", 2_500, JUNE)])
    assert (row["quantity"], row["unit"]) == (1_100_000, "mg")
    (row,) = model("price.today", **given, settings__price_list=[listed("resin", "kit", 5_000, JUNE)])
    assert row["quantity"] == 2_200_000


def test_wood_is_listed_by_species(model: Model) -> None:
    given = lots(("wood/walnut", "mm3", MARCH, 9_000, 2_359_737))
    (row,) = model("price.today", **given, settings__price_list=[listed("walnut", "bf", 1_400, JUNE)])
    assert (row["flow"], row["cents"], row["quantity"]) == ("wood/walnut", 1_400, 2_359_737)


def test_a_unit_that_fits_nothing_leaves_the_receipt(model: Model) -> None:
    given = lots(("disc", "each", MARCH, 900, 50_000))
    prices = [listed("disc", "kg", 3_000, JUNE)]
    (row,) = model("price.today", **given, settings__price_list=prices)
    assert row["cents"] == 900


def test_a_price_that_nothing_uses_is_told(tiny_shop: Path) -> None:
    listed = '[[price_list]]\nname = "{}"\nunit = "{}"\n[[price_list.prices]]\nfrom = 2026-06-01\nprice = 30\n'
    settings = (tiny_shop / "shop.toml").read_text(encoding="utf-8")
    settings += listed.format("tung oil", "l") + listed.format("sanding disc", "kg")
    (tiny_shop / "shop.toml").write_text(settings, encoding="utf-8")
    bought = "date,item,category,quantity,unit,amount\n2026-03-01,tung oil,finish,500,ml,9.00\n"
    bought += "2026-03-01,sanding disc,abrasive,50,each,9.00\n"
    (tiny_shop / "inbox" / "purchases.csv").write_text(bought, encoding="utf-8")
    refreshed(tiny_shop)
    with open_newest(tiny_shop) as con:
        found = con.execute("select rows, example from checks.result where name = 'price_list_unused'").fetchall()
        prices = dict(con.execute("select flow, cents from price.today").fetchall())
    assert prices == {"tung oil": 3_000, "sanding disc": 900}
    assert found[0][0] == 1
    assert '"name":"sanding disc"' in found[0][1]


def test_material_of_a_piece_at_both_prices(model: Model) -> None:
    def drawn(layer: str, cents: int, quantity: int | None, paid: int = 100) -> dict[str, Any]:
        places = {"from_place": "stock", "to_place": "piece", "piece": "P-1"}
        return places | {"layer": layer, "cents": cents, "quantity": quantity, "paid_row_id": paid, "item": "oil"}

    rows = model(
        "price.material",
        cost__movement=[
            drawn("finish", 200, 100_000),
            drawn("finish", 100, 50_000),
            drawn("hardware", 70, None),
            drawn("wood", 999, 1_000, paid=101) | {"to_place": "waste"},
        ],
        work__lot=[{"lot_id": 100, "flow": "oil"}],
        price__today=[{"flow": "oil", "cents": 3_000, "quantity": 1_000_000}],
    )
    found = {row["layer"]: (row["material_cents"], row["material_cents_today"]) for row in rows}
    # 150 ml of 30.00 a litre; what has no quantity stays at what it cost
    assert found == {"finish": (300, 450), "hardware": (70, 70)}
