"""The rolling backtest: nothing of the future, scores by hand, and an honest coverage on a few generated shops."""

from datetime import date, timedelta

import polars as pl
import pytest
from far_shops import KINDS, wide_shop
from made_shops import made_shop

from pipeline.estimates.quote_backtest import PIECE_COLUMNS, SCORE_COLUMNS, backtest, score

NO_RATES = pl.DataFrame(
    schema={"name": pl.String, "from_date": pl.Date, "rate_cents": pl.Int64, "paid": pl.Boolean, "role": pl.String}
)


def test_nothing_of_the_future_is_known() -> None:
    shop = made_shop(3, 80)
    found = backtest(shop, NO_RATES)
    later = pl.col("finished") > shop["finished"][49]
    changed = shop.with_columns(
        pl.when(later).then(pl.col(c) * 3).otherwise(pl.col(c)).alias(c)
        for c in ("bench_seconds", "labour_cents", "material_cents_today", "material_cents")
    )
    again = backtest(changed, NO_RATES)
    told = [c for c in PIECE_COLUMNS if c != "unit_cost_cents"]
    first = ~later
    assert found.filter(first).select(told).equals(again.filter(first).select(told))
    assert not found.filter(later).select(told).equals(again.filter(later).select(told))


def test_a_piece_is_predicted_from_earlier_days_only_and_only_if_sold() -> None:
    shop = made_shop(3, 40).with_columns(
        # the last ten are all finished on one day, and two of them are unsold
        finished=pl.when(pl.int_range(pl.len()) >= 30).then(date(2024, 6, 1)).otherwise(pl.col("finished")),
        sold=pl.when(pl.int_range(pl.len()) >= 38).then(None).otherwise(pl.col("sold")),
    )
    found = backtest(shop, NO_RATES)
    assert found["known_pieces"].min() == 15
    assert found["known_pieces"].max() == 30
    assert found["piece"].to_list() == [f"P-{i:03d}" for i in range(16, 39)]


def test_too_short_a_history_gives_an_empty_table() -> None:
    found = backtest(made_shop(0, 15), NO_RATES)
    assert found.is_empty()
    assert found.columns == list(PIECE_COLUMNS)
    assert score(found).columns == list(SCORE_COLUMNS)


def test_the_plain_rules_by_hand() -> None:
    # all alike but the last: 2 h at 25, material 10; the rule says 2 × 25 + 2 × 10
    shop = made_shop(0, 16).with_columns(
        product=pl.lit("box"),
        bench_seconds=pl.lit(7_200),
        labour_cents=pl.lit(5_000),
        material_cents=pl.lit(1_000),
        material_cents_today=pl.lit(1_000),
        rework_seconds=pl.lit(0),
        rework_cents=pl.lit(0),
        reworked=pl.lit(False),
    )
    row = backtest(shop, NO_RATES).row(0, named=True)
    assert (row["unit_cost_cents"], row["average_cents"], row["rule_cents"]) == (6_000, 6_000, 7_000)
    assert row["average_low_cents"] == row["average_high_cents"] == 6_000


def test_score_by_hand() -> None:
    base = dict.fromkeys(PIECE_COLUMNS, 0) | {"finished": None, "sold": None, "large": False}
    rows = [
        # inside; above by 10
        base
        | {
            "piece": "A",
            "product": "box",
            "unit_cost_cents": 100,
            "predicted_10_cents": 80,
            "predicted_50_cents": 90,
            "predicted_90_cents": 120,
        },
        base
        | {
            "piece": "B",
            "product": "tray",
            "unit_cost_cents": 130,
            "predicted_10_cents": 80,
            "predicted_50_cents": 90,
            "predicted_90_cents": 120,
            "large": True,
        },
    ]
    found = score(pl.DataFrame(rows, schema_overrides={"finished": pl.Date, "sold": pl.Date}))
    by = {(r["factor"], r["level"]): r for r in found.iter_rows(named=True)}
    assert set(by) == {("all", ""), ("size", "largest third"), ("product", "box"), ("product", "tray")}
    # (0.1 × 20 + 0.5 × 10 + 0.1 × 20) ÷ 3 = 3 and (0.1 × 50 + 0.5 × 40 + 0.9 × 10) ÷ 3 = 11.3
    assert by["product", "box"]["pinball_cents"] == 3
    assert by["product", "tray"]["pinball_cents"] == 11
    whole = by["all", ""]
    assert (whole["pieces"], whole["coverage_share"], whole["above_share"], whole["error_cents"]) == (2, 0.5, 0.5, 25)


def test_limits_of_coverage_are_wilsons() -> None:
    # Fagerland, Lydersen & Laake, Statistical Analysis of Contingency Tables (2017), chapter 2: 13 of 16
    base = dict.fromkeys(PIECE_COLUMNS, 0) | {"product": "box", "finished": None, "sold": None, "large": False}
    rows = [
        base | {"piece": f"P{i}", "unit_cost_cents": 5 if i < 13 else 20, "predicted_90_cents": 10} for i in range(16)
    ]
    row = score(pl.DataFrame(rows, schema_overrides={"finished": pl.Date, "sold": pl.Date})).row(0, named=True)
    assert row["coverage_low_share"] == pytest.approx(0.5699, abs=5e-5)
    assert row["coverage_high_share"] == pytest.approx(0.9341, abs=5e-5)


def test_coverage_and_loss_on_a_few_shops() -> None:
    # 8 shops × 105 pieces: the sd of pooled coverage is 1.4 points by sampling alone; the benchmark has the figures
    found = pl.concat([backtest(made_shop(seed, 120), NO_RATES) for seed in range(8)])
    row = score(found).filter(pl.col("factor") == "all").row(0, named=True)
    assert 0.76 < row["coverage_share"] < 0.86
    assert row["pinball_cents"] < 0.65 * row["average_pinball_cents"]
    assert row["pinball_cents"] < 0.65 * row["rule_pinball_cents"]
    assert row["error_cents"] < 0.65 * row["average_error_cents"]


@pytest.mark.parametrize("name", ["60 to 6,000 cm²", "size goes with product, harder"])
def test_the_backtest_judges_shops_whose_sizes_span_a_hundredfold(name: str) -> None:
    # 5 shops × 105 pieces: the sd of pooled coverage is 1.7 points by sampling alone; the benchmark has the figures
    shops = [wide_shop(seed, KINDS[name], 120) for seed in range(5)]
    assert max(shop["area_mm2"].max() / shop["area_mm2"].min() for shop in shops) > 60
    row = score(pl.concat([backtest(shop, NO_RATES) for shop in shops])).row(0, named=True)
    assert 0.74 < row["coverage_share"] < 0.88
    assert row["pinball_cents"] < 0.7 * row["average_pinball_cents"]


def test_a_raise_told_by_the_settings_is_followed_at_once() -> None:
    rise = 60
    day = date(2024, 1, 1) + timedelta(days=2 * rise)
    rates = pl.DataFrame(
        {"name": ["ada"] * 2, "from_date": [date(2024, 1, 1), day], "rate_cents": [2_500, 5_000], "paid": [False] * 2}
    )
    doubled = made_shop(5, 70, rise_at=rise, rise=2.0)
    after = pl.col("finished") >= day
    told = backtest(doubled, rates).filter(after)
    untold = backtest(doubled, NO_RATES).filter(after)
    over = (pl.col("unit_cost_cents") / pl.col("predicted_50_cents")).log().mean()
    assert abs(told.select(over).item()) < 0.2
    assert untold.select(over).item() > 0.3
