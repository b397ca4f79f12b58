"""A quote as it is answered, and the nodes of the graph."""

from dataclasses import replace
from datetime import date

import polars as pl
import pytest
from made_shops import made_shop

from pipeline.errors import UserError
from pipeline.estimates.quote_price import Terms, habit_of, offer
from pipeline.estimates.quotes import NODES, Described, Predictor

TODAY = date(2026, 1, 1)
RATES = pl.DataFrame({"name": ["ada"], "from_date": [date(2024, 1, 1)], "rate_cents": [2_500], "paid": [False]})
TRAY = Described("tray", "walnut", "oil", 60_000, 1_200_000)
TYPES = {"VARCHAR": pl.String, "DATE": pl.Date, "BIGINT": pl.Int64, "BOOLEAN": pl.Boolean, "DOUBLE": pl.Float64}


@pytest.fixture(scope="module")
def shop() -> pl.DataFrame:
    return made_shop(3, 200)


@pytest.fixture(scope="module")
def predictor(shop: pl.DataFrame) -> Predictor:
    return Predictor(shop, RATES, TODAY)


def test_a_cost_has_parts_levels_and_pieces_it_leans_on(predictor: Predictor) -> None:
    cost = predictor.cost(TRAY)
    levels = list(cost.at.values())
    assert list(cost.at) == [10, 50, 80, 90]
    assert levels == sorted(levels)
    assert cost.parts_cents == pytest.approx(cost.at[50], rel=0.1)
    assert cost.parts["labour"] == pytest.approx(cost.hours * 2_500, rel=0.01)
    assert sum(cost.sources.values()) == pytest.approx(1)
    # it leans on trays first, and on a walnut one most
    assert set(cost.leant_on["product"]) == {"tray"}
    assert cost.leant_on["species"][0] == "walnut"
    assert cost.new == ()


def test_fifteen_pieces_are_enough_and_fourteen_are_not(shop: pl.DataFrame) -> None:
    assert Predictor(shop[:15], RATES, TODAY).cost(TRAY).at[50] > 0
    with pytest.raises(UserError, match="14 finished pieces"):
        Predictor(shop[:14], RATES, TODAY)


def test_a_combination_never_made_is_answered_with_more_doubt(predictor: Predictor) -> None:
    known = predictor.cost(TRAY)
    strange = predictor.cost(Described("cradle", "yew", "tar", 60_000, 1_200_000))
    assert strange.new == ("product", "species", "finish")
    assert strange.at[90] / strange.at[10] > 1.5 * known.at[90] / known.at[10]


def test_a_bigger_piece_costs_more(predictor: Predictor) -> None:
    big = predictor.cost(Described("tray", "walnut", "oil", 120_000, 3_400_000))
    # the shops are made with hours as area to the power 0.7
    assert big.hours / predictor.cost(TRAY).hours == pytest.approx(2**0.7, rel=0.15)


def test_a_size_far_from_those_made_is_said_and_widens(shop: pl.DataFrame, predictor: Predictor) -> None:
    largest, smallest = int(shop["area_mm2"].max()), int(shop["area_mm2"].min())  # type: ignore[arg-type]

    def of(times: float, size: int) -> Described:
        return Described("tray", "walnut", "oil", round(size * times), None)

    assert predictor.cost(of(1.2, largest)).times_made is None
    assert predictor.cost(of(0.85, smallest)).times_made is None
    assert predictor.cost(of(1.3, largest)).times_made == pytest.approx(1.3, rel=0.01)
    assert predictor.cost(of(0.5, smallest)).times_made == pytest.approx(0.5, rel=0.01)
    # a volume far from those made says it too
    assert predictor.cost(replace(TRAY, volume_mm3=40_000_000)).times_made > 5  # type: ignore[operator]
    widths = [c.at[90] / c.at[10] for c in (predictor.cost(of(times, largest)) for times in (1, 2, 4, 8))]
    assert widths == sorted(widths)
    assert widths[-1] > 1.5 * widths[0]


def test_extras_and_setup_are_added_and_shared(predictor: Predictor) -> None:
    bare = predictor.cost(TRAY)
    carved = predictor.cost(
        Described("tray", "walnut", "oil", 60_000, 1_200_000, extra_seconds=3_600, extra_material_cents=800)
    )
    assert carved.hours == pytest.approx(bare.hours + 1)
    assert carved.at[50] - bare.at[50] == pytest.approx(2_500 + 800, abs=5)
    runs = predictor.run(Described("tray", "walnut", "oil", 60_000, 1_200_000, setup_seconds=7_200), (1, 4))
    plain = predictor.run(TRAY, (1, 4))
    assert runs[1].hours - plain[1].hours == pytest.approx(2)
    assert runs[4].hours - plain[4].hours == pytest.approx(0.5)


def test_practice_is_found_where_there_is_some(shop: pl.DataFrame, predictor: Predictor) -> None:
    cost = predictor.cost(TRAY)
    assert cost.practice_shown
    assert 0.8 < cost.practice_rate < 1
    assert cost.hours_at(2 * cost.unit) == pytest.approx(cost.hours * cost.practice_rate)
    first = predictor.cost(Described("tray", "walnut", "oil", 60_000, 1_200_000, units_made=0))
    assert first.hours > cost.hours
    assert cost.unit == shop.filter(pl.col("product") == "tray").height + 1


def test_hours_by_operation_are_those_of_the_product_drawn_to_the_shops(shop: pl.DataFrame) -> None:
    # trays are carved half of the time, all else a tenth of it
    counts = shop.group_by("product").len("pieces").with_columns(pl.col("pieces").cast(pl.Int64))
    half = pl.when(pl.col("product") == "tray").then(0.5).otherwise(0.1)
    steps = [counts.with_columns(step=pl.lit("carving"), mean_share=half)]
    steps += [counts.with_columns(step=pl.lit("sanding"), mean_share=1 - half)]
    split = pl.concat(steps).with_columns(split_of=pl.lit("bench"))
    cost = Predictor(shop, RATES, TODAY, split).cost(TRAY)
    assert sum(cost.hours_by_operation.values()) == pytest.approx(cost.hours)
    trays = counts.filter(pl.col("product") == "tray")["pieces"].item()
    every = (0.5 * trays + 0.1 * (200 - trays)) / 200
    assert cost.hours_by_operation["carving"] / cost.hours == pytest.approx((0.5 * trays + 3 * every) / (trays + 3))
    # a product never made has the shop's own split
    new = Predictor(shop, RATES, TODAY, split).cost(Described("cradle", "walnut", "oil", 60_000))
    assert new.hours_by_operation["carving"] / new.hours == pytest.approx(every)
    assert Predictor(shop, RATES, TODAY).cost(TRAY).hours_by_operation == {}


def test_a_quote_becomes_a_price(shop: pl.DataFrame, predictor: Predictor) -> None:
    costs = predictor.cost(TRAY).costs()
    made = offer(costs, Terms("web", 65_000, 25), habit_of(shop["price_cents"].to_list()), margin_ppm=300_000)
    assert made is not None
    assert made.asked_cents % 500 == 0
    assert made.margin_share >= 0.3
    assert made.loss_chance < 0.5
    # own pay is no cash: the least price covers the material only
    assert costs.cash_cents < made.least_cents < made.exact_cents
    assert costs.other_cents < costs.cost_cents


def test_paid_labour_is_cash(shop: pl.DataFrame) -> None:
    employed = Predictor(shop, RATES.with_columns(paid=True), TODAY).cost(TRAY)
    costs = employed.costs()
    assert costs.own_hours == 0
    assert costs.cash_cents == employed.parts["labour"] + employed.parts["material"]


NO_WORK = pl.DataFrame(schema={"on_date": pl.Date})


def test_nodes_give_the_columns_they_name(shop: pl.DataFrame) -> None:
    unsold = pl.int_range(pl.len()) % 7 == 0
    history = shop[:60].with_columns(
        pl.when(unsold).then(None).otherwise(pl.col(c)).alias(c) for c in ("sold", "price_cents", "channel")
    )
    tables = {"price.history": history, "settings.person_rate": RATES, "work.day": NO_WORK}
    for node in NODES:
        tables[node.table] = node.run({name: tables[name] for name in node.inputs})
        assert dict(tables[node.table].schema) == {c: TYPES[t] for c, t in node.columns.items()}, node.table
        assert not tables[node.table].select(node.key).is_duplicated().any(), node.table
        assert tables[node.table].height > 0


def test_nodes_of_an_empty_shop(shop: pl.DataFrame) -> None:
    tables = {"price.history": shop.clear(), "settings.person_rate": RATES.clear(), "work.day": NO_WORK}
    for node in NODES:
        tables[node.table] = node.run({name: tables[name] for name in node.inputs})
        assert dict(tables[node.table].schema) == {c: TYPES[t] for c, t in node.columns.items()}, node.table
        assert tables[node.table].is_empty()
