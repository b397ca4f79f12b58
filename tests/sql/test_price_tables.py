"""The re-price list, what if, the market, channels, and quotes beside true cost."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.quoting.quote import USUAL_MARGIN

ROOT = Path(__file__).parents[2]
Rows = list[dict[str, Any]]
Model = Callable[..., Rows]

DAY = date(2026, 5, 1)


def piece(tag: str, product: str = "tray", **more: Any) -> dict[str, Any]:
    return {"piece": tag, "product": product, "quantity": 1} | more


def today(tag: str, cents: int, product: str = "tray", **more: Any) -> dict[str, Any]:
    return {"piece": tag, "product": product, "quantity": 1, "today_cents": cents} | more


def fees(name: str, share: int = 0, fixed: int = 0, day: date = date(2026, 1, 1)) -> dict[str, Any]:
    return {"name": name} | {k: v for k, v in charged(name, share, fixed, day).items() if k != "channel"}


def charged(channel: str, share: int = 0, fixed: int = 0, day: date = date(2026, 1, 1)) -> dict[str, Any]:
    none = {"payment_share_ppm": 0, "payment_fixed_cents": 0, "tax_by": "us"}
    return {"channel": channel, "from_date": day, "share_ppm": share, "fixed_cents": fixed, "row_id": 1} | none


def test_the_re_price_list_takes_fees_off_first(model: Model) -> None:
    rows = model(
        "price.relist",
        price__history=[
            piece("P-1", list_price_cents=10_000),
            piece("P-2", list_price_cents=10_000),
            piece("P-3", sold=DAY, channel="web"),
            piece("P-4"),
        ],
        price__piece_today=[today("P-1", 9_500), today("P-2", 8_950), today("P-3", 5_000)],
        price__channel=[charged("web", 100_000, 50), charged("web", day=date(2025, 1, 1))],
    )
    # 100.00 less 10 % and 0.50 is 89.50: P-2 just earns its cost
    assert [(r["piece"], r["left_cents"], r["short_cents"], r["estimated"]) for r in rows] == [
        ("P-1", 8_950, 550, False)
    ]


def test_the_suggested_price_covers_cost_and_fees_leaves_a_margin_and_ends_as_the_list_price_does(model: Model) -> None:
    rows = model(
        "price.relist",
        price__history=[
            piece("P-1", list_price_cents=10_000),
            piece("P-2", list_price_cents=3_950),
            piece("P-3", list_price_cents=10_000, product="bowl"),
            piece("S-1", sold=DAY, channel="web"),
            piece("S-2", sold=DAY, channel="moon", product="bowl"),
        ],
        price__piece_today=[today("P-1", 9_500), today("P-2", 3_700), today("P-3", 5_000, "bowl")],
        price__channel=[charged("web", 100_000, 50), charged("moon", 750_000), charged("web", day=date(2025, 1, 1))],
    )
    found = {r["piece"]: (r["covering_price_cents"], r["suggested_price_cents"]) for r in rows}
    # (95.00 + 0.50) over 0.9, and over 0.6: 106.12 and 159.17; 100.00 is of whole units, 5.00 being a twentieth
    assert found["P-1"] == (10_700, 16_000)
    # (37.00 + 0.50) over 0.9 is 41.67, over 0.6 is 62.50; a list price of 39.50 is of 0.50
    assert found["P-2"] == (4_200, 6_250)
    # three quarters go to the channel: with a margin of 30 % on top no price is high enough
    assert found["P-3"] == (20_000, None)


def test_beside_a_new_price_stands_how_many_of_the_product_brought_as_much(model: Model) -> None:
    rows = model(
        "price.relist",
        price__history=[
            piece("P-1", list_price_cents=10_000),
            piece("P-2", list_price_cents=10_000, product="bowl"),
            piece("P-3", list_price_cents=10_000, product="stool"),
            *(piece(f"S-{cents}", sold=DAY, price_cents=cents) for cents in (14_499, 14_500, 20_000)),
            piece("S-4", sold=DAY, price_cents=40_000, product="bowl"),
            piece("S-5", price_cents=None),
        ],
        price__piece_today=[today("P-1", 10_100), today("P-2", 60_000, "bowl"), today("P-3", 60_000, "stool")],
        price__channel=[charged("web", 100_000, 50)],
    )
    found = {r["piece"]: (r["suggested_price_cents"], r["sold_as_high_pieces"], r["sold_pieces"]) for r in rows}
    # without fees (no sale has a channel): 101.00 over 0.7 is 144.29
    assert found == {"P-1": (14_500, 2, 3), "P-2": (85_800, 0, 1), "P-3": (85_800, 0, 0)}


def test_the_margin_of_a_suggested_price_is_that_of_a_quote() -> None:
    assert f"{round(USUAL_MARGIN * 1_000_000)} as cost_ppm" in (ROOT / "sql/price/relist.sql").read_text(
        encoding="utf-8"
    )


def test_a_piece_without_own_cost_is_held_against_its_product(model: Model) -> None:
    (row,) = model(
        "price.relist",
        price__history=[piece("P-1", list_price_cents=4_000)],
        price__piece_today=[today("P-8", 5_000), today("P-9", 9_000), today("P-7", 3_000)],
    )
    assert (row["today_cents"], row["short_cents"], row["estimated"], row["channel"]) == (5_000, 1_000, True, None)


def test_only_units_still_on_offer_are_to_be_priced(model: Model) -> None:
    history = [piece("R-1", quantity=4, list_price_cents=100), piece("R-2", quantity=4, list_price_cents=100)]
    rows = model(
        "price.relist",
        price__history=history,
        price__piece_today=[today("R-1", 500), today("R-2", 500)],
        # the last unit of R-2 came back, and was scrapped
        work__exit=[
            {"piece": "R-1", "number": 1, "units_out": 3},
            *({"piece": "R-2", "number": number, "units_out": out} for number, out in ((1, 4), (2, 3), (3, 4))),
        ],
    )
    assert [row["piece"] for row in rows] == ["R-1"]


def test_a_sale_that_came_back_was_none(model: Model) -> None:
    made = (("T-1", 1), ("T-2", 1), ("R-3", 3), ("R-4", 1))
    sales = [
        *((1, "T-1", 1, 10_000), (2, "T-1", -1, 10_000), (3, "T-1", 1, 9_000)),
        *((4, "T-2", 1, 8_000), (5, "T-2", -1, 8_000)),
        *((6, "R-3", 1, 5_000), (7, "R-3", 1, 4_000), (8, "R-3", -1, 4_000)),  # one of two stays sold
    ]
    sold = model(
        "money.sold",
        money___sale=[{"row_id": row, "units": units, "taken_cents": units * cents} for row, _, units, cents in sales],
        money___sale_part=[
            {"row_id": row, "piece": tag, "units": units, "channel": f"fair {row}", "on_date": date(2026, 6, row)}
            for row, tag, units, _ in sales
        ],
    )
    assert [row["row_id"] for row in sorted(sold, key=lambda row: row["row_id"]) if row["came_back"]] == [1, 2, 4, 5]
    rows = model(
        "price.history",
        work__piece=[
            {"piece": tag, "units": units, "finished_on": DAY, "status": "finished", "opening": False}
            for tag, units in made
        ],
        cost__piece=[{"piece": tag} for tag, _ in made],
        money__sold=sold,
    )
    found = {r["piece"]: (r["price_cents"], r["channel"], r["sold"]) for r in rows}
    assert found == {
        "T-1": (9_000, "fair 3", date(2026, 6, 3)),
        "T-2": (None, None, None),
        "R-3": (4_500, "fair 6", date(2026, 6, 6)),
        "R-4": (None, None, None),
    }


def test_a_piece_that_came_back_and_was_scrapped_is_on_offer_no_more(model: Model) -> None:
    left = {"units": 1, "kind": "sale", "units_out": 1}
    exits = [
        left | {"piece": "T-1", "number": 1, "on_date": date(2026, 6, 1)},
        left | {"piece": "T-1", "number": 2, "on_date": date(2026, 6, 9), "kind": "return", "units_out": 0},
        left | {"piece": "T-1", "number": 3, "on_date": date(2026, 6, 9), "kind": "scrapped"},
        left | {"piece": "T-2", "number": 1, "on_date": date(2026, 6, 1)},
        left | {"piece": "T-2", "number": 2, "on_date": date(2026, 6, 9), "kind": "return", "units_out": 0},
    ]
    made = [
        {"piece": tag, "units": 1, "finished_on": DAY, "status": "finished", "opening": False} for tag in ("T-1", "T-2")
    ]
    days = ((date.min, 100), (date(2026, 6, 5), 90), (date(2026, 7, 1), 50))
    asked = [{"piece": p["piece"], "from_date": day, "list_price_cents": cents} for p in made for day, cents in days]
    cost = [{"piece": p["piece"]} for p in made]
    rows = model("price.history", work__piece=made, cost__piece=cost, work__exit=exits, work__list_price=asked)
    # what was asked when the last unit left, and of what is there what is asked now
    found = {row["piece"]: (row["gone"], row["list_price_cents"]) for row in rows}
    assert found == {"T-1": (date(2026, 6, 9), 90), "T-2": (None, 50)}
    (market,) = model("price.market", price__history=[row | {"product": "tray"} for row in rows])
    assert (market["sold_pieces"], market["unsold_pieces"]) == (0, 1)


def test_an_unsold_piece_waits_on_while_nothing_is_sold(model: Model) -> None:
    """One of three was sold after 30 days, when the others had waited for six; by June that is a third, not all."""
    waiting = {"product": "tray", "finished": date(2026, 1, 25)}
    sold = {"product": "tray", "finished": date(2026, 1, 1), "sold": date(2026, 1, 31)}
    history = [sold | {"piece": "T-1"}, waiting | {"piece": "T-2"}, waiting | {"piece": "T-3"}]
    work = [{"on_date": date(2026, 6, 1), "hours": 2.0}]
    (time,) = [r for r in model("price.sell_time", price__history=history, work__day=work) if r["factor"] == "product"]
    assert (time["pieces"], time["sold_pieces"], time["median_days"]) == (3, 1, None)
    (curve,) = [
        r for r in model("price.sell_curve", price__history=history, work__day=work) if r["factor"] == "product"
    ]
    assert (curve["wait_days"], curve["at_risk"], curve["unsold_share"]) == (30, 3, pytest.approx(2 / 3))


def test_what_if_pay_or_resin_gets_dearer(model: Model) -> None:
    parts = {"today_labour_cents": 6_000, "today_resin_cents": 1_000}
    rows = model(
        "price.what_if",
        price__piece_today=[today("P-1", 10_000, **parts), today("P-2", 10_000, **parts)],
        price__history=[piece("P-1", price_cents=15_000, sold=DAY)],
    )
    found = {r["change"]: (r["added_cents"], r["usual_price_cents"], r["new_price_cents"]) for r in rows}
    # a tenth of 60.00 is 6 % of the cost, and so of the price if the margin is to stay
    assert found == {"pay + 10 %": (600, 15_000, 15_900), "resin + 10 %": (100, 15_000, 15_150)}
    for row in rows:
        before = (row["usual_price_cents"] - row["today_cents"]) / row["usual_price_cents"]
        after = 1 - (row["today_cents"] + row["added_cents"]) / row["new_price_cents"]
        assert after == pytest.approx(before)


def test_runs_weigh_by_their_units(model: Model) -> None:
    (pay, _) = model(
        "price.what_if",
        price__piece_today=[
            today("R-1", 1_000, quantity=3, today_labour_cents=1_000, today_resin_cents=0),
            today("R-2", 2_000, quantity=1, today_labour_cents=2_000, today_resin_cents=0),
        ],
    )
    assert (pay["today_cents"], pay["added_cents"], pay["new_price_cents"]) == (1_250, 125, None)


def test_market_by_product_and_channel(model: Model) -> None:
    history = [
        piece(f"P-{k}", price_cents=price, sold=DAY, channel=channel)
        for k, (price, channel) in enumerate([(100, "web"), (200, "web"), (300, "fair"), (400, "fair")])
    ]
    rows = model(
        "price.market",
        # one that its buyer sent back to be scrapped is on offer no more
        price__history=[*history, piece("P-8", gone=DAY), piece("P-9")],
        work__sale_piece=[{"piece": "P-0", "row_id": 1}, {"piece": "P-1", "row_id": 2}],
        records__sales=[
            {"row_id": 1, "channel": "web", "quantity": 2, "shipping_charged_cents": 900, "shipping_paid_cents": 1_000},
            {"row_id": 2, "channel": "web", "quantity": 1, "shipping_charged_cents": 450, "shipping_paid_cents": 500},
        ],
    )
    found = {row["channel"]: row for row in rows}
    assert set(found) == {"", "web", "fair"}
    both = found[""]
    assert (both["sold_pieces"], both["unsold_pieces"]) == (4, 1)
    assert (both["low_price_cents"], both["usual_price_cents"], both["high_price_cents"]) == (100, 200, 300)
    assert (found["web"]["usual_price_cents"], found["fair"]["usual_price_cents"]) == (100, 300)
    # postage is of one unit
    assert (found["web"]["shipping_charged_cents"], found["web"]["shipping_paid_cents"]) == (450, 500)
    assert found["fair"]["shipping_paid_cents"] is None


def sale(row_id: int, channel: str, price: int, day: date = DAY, **more: Any) -> dict[str, Any]:
    return {"row_id": row_id, "channel": channel, "price_cents": price, "on_date": day, "quantity": 1} | more


def test_a_channel_knows_its_tax_and_what_booths_cost(model: Model) -> None:
    booth = {"layer": "selling", "operation": "booth fee", "from_place": "pool", "to_place": "sold"}
    (row,) = model(
        "price.channel",
        settings__channel=[fees("fair", 20_000)],
        records__sales=[
            sale(1, "fair", 10_000, sales_tax_cents=600),
            sale(2, "fair", 10_000),
            # more than a year before the last sale
            sale(3, "fair", 90_000, date(2025, 4, 30), sales_tax_cents=90_000),
        ],
        cost__movement=[booth | {"row_id": 1, "cents": 500}, booth | {"row_id": 2, "cents": 500}],
    )
    assert (row["sales"], row["tax_ppm"], row["booth_share_ppm"], row["share_ppm"]) == (2, 30_000, 50_000, 20_000)


def test_a_channel_without_settings_has_the_fees_of_its_sales(model: Model) -> None:
    (row,) = model(
        "price.channel",
        records__sales=[
            sale(1, "web", 10_000, channel_fee_cents=650, payment_fee_cents=330, shipping_charged_cents=1_000)
        ],
    )
    # the payment fee is of all that the buyer pays: 330 of 110.00
    assert (row["share_ppm"], row["payment_share_ppm"], row["from_date"], row["row_id"]) == (65_000, 30_000, DAY, None)


def test_every_day_of_new_fees_is_a_row(model: Model) -> None:
    channel = [fees("web", 65_000), fees("web", 80_000, day=DAY)]
    rows = model("price.channel", settings__channel=channel)
    assert sorted((row["from_date"], row["share_ppm"]) for row in rows) == [(date(2026, 1, 1), 65_000), (DAY, 80_000)]


QUOTE = {
    "quote": "Q-001",
    "file": "quotes/Q-001.json",
    "product": "tray",
    "quantity": 2,
    "predicted_10_cents": 9_000,
    "predicted_90_cents": 12_000,
    "quoted_price_cents": 15_000,
}


def made(tag: str, order: str | None, **more: Any) -> dict[str, Any]:
    done = {"status": "finished", "finished": DAY, "made_cents": 10_000, "labour_cents": 6_000, "machine_cents": 500}
    rest = {"overhead_cents": 1_000, "spoilage_cents": 100, "rework_cents": 300, "hours": 2.5}
    return {"piece": tag, "order_no": order, "quantity": 1} | done | rest | more


def test_a_quote_stands_beside_what_its_pieces_cost(model: Model) -> None:
    (row,) = model(
        "price.quoted",
        intake__quote=[QUOTE],
        records__orders=[{"order_no": "O-1", "quote": "Q-001"}],
        cost__piece=[made("P-1", "O-1"), made("P-2", "O-1", made_cents=14_000), made("P-3", "O-2")],
        price__history=[piece("P-1", price_cents=15_000), piece("P-2", price_cents=14_000)],
    )
    assert (row["order_no"], row["pieces"], row["units"], row["finished"]) == ("O-1", 2, 2, DAY)
    assert (row["unit_cents"], row["price_cents"], row["unit_hours"]) == (12_000, 14_500, 2.5)
    parts = [row[f"unit_{part}_cents"] for part in ("labour", "machine", "overhead", "material", "spoilage")]
    assert parts == [6_000, 500, 1_000, 4_400, 100]
    assert sum(parts) == row["unit_cents"]
    assert row["inside"]


def test_a_piece_may_name_the_quote_in_place_of_an_order(model: Model) -> None:
    (row,) = model("price.quoted", intake__quote=[QUOTE], cost__piece=[made("P-1", "Q-001", made_cents=12_001)])
    assert (row["pieces"], row["unit_cents"], row["inside"]) == (1, 12_001, False)


def test_a_quote_waits_until_all_its_pieces_are_done(model: Model) -> None:
    unfinished = made("P-2", "Q-001", status="in progress", finished=None)
    (row,) = model("price.quoted", intake__quote=[QUOTE], cost__piece=[made("P-1", "Q-001"), unfinished])
    assert (row["pieces"], row["finished"], row["unit_cents"], row["inside"]) == (2, None, None, None)
    (row,) = model("price.quoted", intake__quote=[QUOTE])
    assert (row["pieces"], row["units"], row["unit_cents"]) == (0, 0, None)


def test_split_is_the_mean_of_the_pieces_shares(model: Model) -> None:
    hours = [
        {"row_id": k, "operation": o, "kind": "bench", "attended": True} for k, o in enumerate(["sawing", "sanding"])
    ]
    hours += [{"row_id": 2, "operation": "packing", "kind": "selling", "attended": True}]
    hours += [{"row_id": 3, "operation": "routing", "kind": "bench", "attended": False}]

    def share(row_id: int, tag: str, seconds: int, **more: bool) -> dict[str, Any]:
        return {"row_id": row_id, "piece": tag, "seconds": seconds, "rework": False, "after_sale": False} | more

    rows = model(
        "price.split",
        price__history=[piece("P-1"), piece("P-2")],
        work__hours=hours,
        work__hours_piece=[
            share(0, "P-1", 100),
            share(1, "P-1", 300),
            share(0, "P-2", 600),
            # none of these: rework, packing, a machine left to itself
            share(1, "P-2", 900, rework=True),
            share(2, "P-2", 900),
            share(3, "P-2", 900),
        ],
        work__hours_missing=[{"piece": "P-2", "operation": "sanding", "seconds": 600}],
        price__material=[{"piece": "P-1", "layer": "wood", "material_cents_today": 40}],
    )
    found = {(row["split_of"], row["step"]): (row["pieces"], row["mean_share"]) for row in rows}
    assert found == {
        ("bench", "sawing"): (2, (0.25 + 0.5) / 2),
        ("bench", "sanding"): (2, (0.75 + 0.5) / 2),
        ("material", "wood"): (1, 1.0),
    }
