"""A quote as it is answered: what is asked, the cost in parts, prices, the market. Sources stand beside figures."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest
from made_desk import TODAY, channel, fill, fill_all, shop_folder

from pipeline.database import create_given
from pipeline.database.run import run_models
from pipeline.errors import UserError
from pipeline.estimates.quote_price import Costs, Habit, Terms
from pipeline.estimates.quotes import Described
from pipeline.quoting import request
from pipeline.quoting.context import Channel, Context, context_of
from pipeline.quoting.market import similar
from pipeline.quoting.quote import _booth, choices, quote
from pipeline.quoting.request import Request
from pipeline.reports.quote import text, waited
from pipeline.shop import load

TRAY = Request("tray", "walnut", "oil", "400 mm", "300", "3 cm")
DIRECT = channel("direct")
WEB = channel("web", share_ppm=100_000, fixed_cents=50, shipping_charged_cents=400, shipping_paid_cents=900)

Open = Callable[..., Context]


@pytest.fixture(scope="module")
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as con:
        create_given(con)
        run_models(con, lambda _: None)
        fill_all(con, [DIRECT, WEB, channel("web", date(2027, 1, 1), share_ppm=500_000)])
        event = {"event": "FAIR-1", "booth_cents": 9_000}
        fill(con, "money.event", pl.DataFrame([event]))
        yield con


@pytest.fixture
def opened(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> Open:
    def make(more: str = "") -> Context:
        return context_of(load(shop_folder(tmp_path, more)), con, TODAY)

    return make


def on(found: dict[str, Any], name: str) -> dict[str, Any]:
    return next(price for price in found["prices"] if price["channel"] == name)


def test_sizes_are_read_with_their_units(opened: Open) -> None:
    found = quote(opened(), TRAY)
    sizes = found["sizes"]
    assert (sizes["length_um"], sizes["width_um"], sizes["thickness_um"]) == (400_000, 300_000, 30_000)
    assert sizes["volume_mm3"] == 3_600_000
    assert sizes["area_mm2"] == 2 * (400 * 300 + 400 * 30 + 300 * 30)
    # the bare one says what it was taken for
    assert (found["asked"]["length"], found["asked"]["width"]) == ("400 mm", "300 mm")


def test_a_bare_size_is_in_inches_in_a_shop_of_us_units(opened: Open) -> None:
    found = quote(opened('units = "us"'), replace(TRAY, length="16", width="12 in", thickness="8/4"))
    # NIST SP 811 appendix B.8: an inch is 25.4 mm; 8/4 is the trade's word for two inches
    assert (found["sizes"]["length_um"], found["sizes"]["thickness_um"]) == (406_400, 50_800)
    assert found["asked"]["length"] == "16 in"


def test_a_disc_has_the_area_and_volume_that_the_books_give_it(opened: Open, con: duckdb.DuckDBPyConnection) -> None:
    sizes = quote(opened(), Request("tray", diameter="300 mm", thickness="20 mm"))["sizes"]
    area, volume = con.execute(
        "select area_mm2(null, null, 20000, 300000), volume_mm3(null, null, 20000, 300000)"
    ).fetchall()[0]
    assert (sizes["area_mm2"], sizes["volume_mm3"]) == (pytest.approx(area, abs=2), pytest.approx(volume, abs=2))


def test_no_size_takes_the_usual_one_and_says_so(opened: Open) -> None:
    found = quote(opened(), Request("tray"))
    assert found["sizes"]["area_mm2"] > 0
    assert found["notes"] == ["No size is given, so the middle tray stands in."]


def test_a_size_without_thickness_is_as_thick_as_such_pieces_are(opened: Open) -> None:
    whole, flat = quote(opened(), TRAY), quote(opened(), replace(TRAY, thickness=""))
    assert flat["notes"] == ["No thickness is given, so that of the middle tray stands in."]
    # a piece of unknown volume would take several times the material
    assert 0.5 < flat["cost"]["parts"]["material"] / whole["cost"]["parts"]["material"] < 2


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (replace(TRAY, length="long"), "--length"),
        (replace(TRAY, length="3 kg"), "--length"),
        (replace(TRAY, width="-3 mm"), "--width"),
        (replace(TRAY, hardware="lots"), "--hardware"),
        (replace(TRAY, hardware="-5"), "--hardware"),
        (replace(TRAY, quantity=0), "--quantity"),
        (replace(TRAY, carving_minutes=float("nan")), "--carving-minutes"),
        (replace(TRAY, margin=1.0), "markup of 67 %"),
        (replace(TRAY, resin_grams=5, resin="bar top"), "casting resin"),
        (replace(TRAY, channel="moon"), "direct, web"),
        (replace(TRAY, product=" "), "--product"),
    ],
)
def test_what_cannot_be_right_says_where_and_what_to_do(opened: Open, asked: Request, words: str) -> None:
    with pytest.raises(UserError) as wrong:
        quote(opened(), asked)
    assert words in str(wrong.value)
    assert "mend:" in str(wrong.value)


def test_a_word_never_used_is_noted_with_the_nearest_one(opened: Open) -> None:
    found = quote(opened(), replace(TRAY, product="trays"))
    assert found["notes"] == ["“trays” was never made here, so the spread is wider. Did you mean tray?"]
    assert found["cost"]["never_made"] == ["product"]
    found = quote(opened(), replace(TRAY, finish="resin"))
    assert found["notes"][0].endswith("Did you mean resin flood or resin inlay?")


def test_a_word_that_several_woods_made_here_share_says_which_one_it_was_taken_for(tiny_shop: Path) -> None:
    history = pl.DataFrame({"species": ["black walnut", "claro walnut", "black walnut", "white oak", None]})
    shop = load(tiny_shop)
    word, said = request._word("species", "walnut", shop, history)
    assert word == "black walnut"
    assert said == "“walnut” is taken as black walnut; made here too: claro walnut. Name the one that you mean."
    for sure in ("Black Walnut", "claro walnut", "white oak"):
        assert request._word("species", sure, shop, history) == (sure.lower(), "")


def test_something_never_made_is_priced_by_its_size_and_without_one_says_what_it_needs(opened: Open) -> None:
    unknown = Request("cutting board")
    with pytest.raises(UserError, match="never made here and no size is given") as wrong:
        quote(opened(), unknown)
    assert "Give its length, width and thickness" in str(wrong.value)
    with pytest.raises(UserError, match=r"Did you mean tray\?"):
        quote(opened(), Request("trays"))
    found = quote(opened(), replace(unknown, length="40 cm", width="30 cm", thickness="20 mm"))
    assert found["cost"]["never_made"] == ["product"]


def test_one_price_is_asked_on_all_channels_and_is_worth_it_where_it_covers_the_cost(opened: Open) -> None:
    found = quote(opened(), replace(TRAY, channel="direct"))
    own = {price["channel"]: price for price in found["prices"]}
    same = {row["channel"]: row for row in found["one_price"]}
    assert set(same) == set(own)
    assert {row["same_price_cents"] for row in same.values()} == {own["direct"]["asked_cents"]}
    assert same["direct"]["same_proceeds_cents"] == own["direct"]["proceeds_cents"]
    assert same["direct"]["same_profit_cents"] == own["direct"]["profit_cents"]
    assert same["direct"]["same_loss_chance"] == own["direct"]["loss_chance"]
    for row in same.values():
        assert row["worth_it"] == (row["same_profit_cents"] >= 0)
    # a channel that takes more leaves less of the same price
    by_fee = sorted(own, key=lambda channel: own[channel]["fee_share"])
    left = [same[channel]["same_proceeds_cents"] for channel in by_fee]
    assert left == sorted(left, reverse=True)


def test_the_parts_of_the_cost_add_up(opened: Open) -> None:
    cost = quote(opened(), TRAY)["cost"]
    assert sum(cost["parts"].values()) == cost["parts_cents"]
    assert sum(cost["material_by_layer"].values()) == cost["parts"]["material"]
    assert sum(cost["hours_by_operation"].values()) == pytest.approx(cost["hours"])
    # the history is a quarter each of four operations, and half wood, half finish
    quarters = [hours / cost["hours"] for hours in cost["hours_by_operation"].values()]
    assert quarters == pytest.approx([0.25] * 4, abs=1e-3)
    wood, finish = (cost["material_by_layer"][layer] for layer in ("wood", "finish"))
    assert abs(wood - finish) <= 1
    levels = [cost["at"][level] for level in ("10", "50", "80", "90")]
    assert levels == sorted(levels)
    assert sum(cost["spread_from"].values()) == pytest.approx(1)


def test_extras_cost_what_they_cost(opened: Open) -> None:
    desk = opened()
    bare = quote(desk, TRAY)["cost"]
    more = quote(desk, replace(TRAY, carving_minutes=30, resin_grams=100, hardware="4.50"))["cost"]
    assert more["hours_by_operation"]["carving"] - bare["hours_by_operation"]["carving"] == pytest.approx(0.5)
    # 100 g in the piece are 125 g mixed, as a fifth stays in the cup; 30.00 a kilogram
    assert more["material_by_layer"]["resin"] == pytest.approx(375, abs=1)
    assert more["material_by_layer"]["hardware"] == pytest.approx(450, abs=1)
    assert more["parts"]["material"] - bare["parts"]["material"] == pytest.approx(825, abs=1)


def test_margin_and_markup_of_a_court_case(opened: Open) -> None:
    # Smith v. Commissioner, T.C. Memo. 1998-143 (United States Tax Court): 15 % gross profit is 18 % markup on cost,
    # 40 % is 67 %
    desk = opened()
    for margin, markup in ((0.15, "18 %"), (0.40, "67 %")):
        price = on(quote(desk, replace(TRAY, margin=margin)), "direct")
        assert price["margin_share"] == pytest.approx(margin, abs=1e-4)
        assert f"{100 * price['markup_share']:.0f} %" == markup
    lines = list(text(quote(desk, replace(TRAY, margin=0.40))))
    (line,) = (line for line in lines if line.startswith("  direct"))
    assert line.split()[2:6] == ["40", "%", "67", "%"]


def test_a_price_leaves_its_margin_after_fees_and_postage(opened: Open) -> None:
    found = quote(opened(), replace(TRAY, margin=0.25))
    price, cost = on(found, "web"), found["cost"]["at"]["50"]
    asked = price["asked_cents"]
    # by hand: 10 % and 0.50 of the price go to the channel, postage costs 5.00 more than it brings
    left = asked - asked * 0.10 - 50 - 900 + 400 - cost
    assert left / asked == pytest.approx(0.25, abs=1e-4)
    assert price["profit_cents"] == pytest.approx(left, abs=1)


def test_fees_announced_for_later_are_not_taken_yet(opened: Open) -> None:
    assert on(quote(opened(), TRAY), "web")["fee_share"] == pytest.approx(0.10)


def test_a_wanted_pay_is_what_an_hour_pays(opened: Open) -> None:
    found = quote(opened(), replace(TRAY, pay="32.50"))
    price = on(found, "direct")
    assert price["pay_cents_per_hour"] == pytest.approx(3_250, abs=1)
    assert price["asked_cents"] == pytest.approx(
        found["cost"]["other_cents"] + 3_250 * found["cost"]["own_hours"], abs=2
    )


def test_the_least_price_covers_what_leaves_the_till(opened: Open) -> None:
    found = quote(opened(), TRAY)
    # own hours are not paid out, so on a channel without fees it is the material
    assert on(found, "direct")["least_cents"] == found["cost"]["cash_cents"] == found["cost"]["parts"]["material"]
    assert on(found, "web")["least_cents"] > found["cost"]["cash_cents"]


def test_the_chance_of_a_loss_falls_with_the_margin(opened: Open) -> None:
    desk = opened()
    at = quote(desk, TRAY)["cost"]["at"]
    # a price that just leaves the middle cost loses half of the time, one that leaves what 80 % stay under a fifth
    for level, chance in (("50", 0.5), ("80", 0.2), ("90", 0.1)):
        found = quote(desk, replace(TRAY, margin=round(1 - at["50"] / at[level], 6)))
        assert on(found, "direct")["loss_chance"] == pytest.approx(chance, abs=0.01)


def test_no_price_where_fees_and_margin_take_all(opened: Open) -> None:
    found = quote(opened(), replace(TRAY, margin=0.95))
    assert on(found, "web")["asked_cents"] is None
    assert on(found, "direct")["asked_cents"] > 0
    assert any("Fees and margin take all" in line for line in text(found))


@pytest.mark.parametrize(
    ("fixed", "price", "variable", "units"),
    # OpenStax Principles of Accounting 2, sections 3.2 and 3.5: break-even of Hicks (225) and Manteo (1,700)
    [(18_000, 100, 20, 225), (85_000, 90, 40, 1_700)],
)
def test_how_many_pieces_pay_for_a_booth(fixed: int, price: int, variable: int, units: int) -> None:
    cost = Costs(100 * variable, 100 * variable, 100 * variable, 0.0, None)  # type: ignore[arg-type]
    # the booth's own part of the fees must not be counted twice
    fair = Channel(Terms("fair", 30_000), Habit(), booth_ppm=30_000, booth_cents=100 * fixed)
    found = _booth(cost, fair, 100 * price)
    assert (found["contribution_cents"], found["booth_units"]) == (100 * (price - variable), units)


def test_a_run_spreads_its_set_up(opened: Open) -> None:
    desk = opened()
    plain = {row["quantity"]: row for row in quote(desk, TRAY)["run"]}
    with_setup = {row["quantity"]: row for row in quote(desk, replace(TRAY, setup_minutes=120))["run"]}
    assert list(plain) == [1, 2, 5, 10]
    for n in plain:
        assert with_setup[n]["hours"] - plain[n]["hours"] == pytest.approx(2 / n)
        assert with_setup[n]["asked_cents"] > plain[n]["asked_cents"]
    three = quote(desk, replace(TRAY, quantity=3))
    assert 3 in [row["quantity"] for row in three["run"]]
    assert not three["made_in_runs"]
    assert any("no tray was ever made in a run here" in line for line in text(three))


def test_similar_pieces_are_the_nearest_sold_ones(opened: Open, con: duckdb.DuckDBPyConnection) -> None:
    found = quote(opened(), TRAY)
    assert {row["product"] for row in found["similar"]} == {"tray"}
    trays = con.sql("select price_cents from price.history where product = 'tray'").pl()["price_cents"]
    band = found["band"]
    assert trays.min() <= band["low_cents"] <= band["middle_cents"] <= band["high_cents"] <= trays.max()
    assert band["pieces"] == 12


def test_a_piece_like_one_sold_finds_that_one_first(opened: Open) -> None:
    history = opened().predictor.history
    sold = history.filter(pl.col("product") == "tray").row(3, named=True)
    wanted = Described("tray", sold["species"], sold["finish"], sold["area_mm2"])
    near = similar(history, wanted)
    assert near["piece"][0] == sold["piece"]
    assert near["apart"].is_sorted()
    # another wood is nearer than a piece three times as large
    assert near.filter(pl.col("species") != sold["species"])["apart"].min() < 0.5


def test_a_product_never_sold_is_compared_with_others(opened: Open) -> None:
    near = similar(opened().predictor.history, Described("cradle", "walnut", "oil", 60_000))
    assert near.height > 100


def test_a_wait_is_said_with_its_limits() -> None:
    row = {"factor": "product", "level": "tray", "pieces": 9, "sold_pieces": 6, "median_days": 31}
    row |= {"median_low_days": 18, "median_high_days": None, "ordered_pieces": 0}
    assert waited(row) == "tray: 6 of 9 sold, half within 31 days (18 to ?, 19 times in 20), unsold ones counted."
    assert "no middle wait" in waited(row | {"median_days": None})
    ordered = row | {"ordered_pieces": 2}
    assert waited(ordered).endswith("unsold ones counted; 2 more made to order waited for nobody.")
    none = "tray: none was on offer; 2 more made to order waited for nobody."
    assert waited(ordered | {"pieces": 0, "sold_pieces": 0, "median_days": None}) == none


def test_a_form_is_offered_what_the_shop_knows(opened: Open) -> None:
    offered = choices(opened())
    assert "tray" in offered["product"]
    assert (offered["channel"], offered["resin"]) == (["direct", "web"], ["casting resin"])


def test_too_little_history_is_said_plainly(con: duckdb.DuckDBPyConnection, tmp_path: Path, opened: Open) -> None:
    few = opened()
    few = replace(few, tables=few.tables | {"history": few.tables["history"][:9]})
    with pytest.raises(UserError, match="9 finished pieces"):
        quote(few, TRAY)
