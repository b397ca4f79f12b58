"""What an hour costs on a day."""

from datetime import date

import polars as pl
import pytest
from made_shops import made_shop

from pipeline.estimates.quote_rates import Bench, Rates, pay_on, rates_today
from pipeline.estimates.quote_spread import usable

RAISE = pl.DataFrame(
    {
        "name": ["ada", "ada", "ben"],
        "from_date": [date(2024, 1, 1), date(2024, 6, 1), date(2024, 3, 1)],
        "rate_cents": [2_000, 3_000, 4_000],
        "paid": [False, False, True],
    }
)


def test_pay_in_force() -> None:
    days = pl.Series([date(2023, 12, 1), date(2024, 2, 29), date(2024, 6, 1), date(2025, 1, 1)])
    # before a first rate that rate holds: (2,000 + 4,000) ÷ 2, then (3,000 + 4,000) ÷ 2
    assert pay_on(days, RAISE).tolist() == [3_000, 3_000, 3_500, 3_500]
    assert pay_on(days, RAISE.clear()).tolist() == [1, 1, 1, 1]


def today(shop: pl.DataFrame, settings: pl.DataFrame) -> Rates:
    return rates_today(Bench.of(shop, settings), settings, date(2025, 1, 1))[0]


def test_a_raise_lifts_what_past_hours_would_cost_now() -> None:
    shop = usable(made_shop(0, 50))  # 2,500 an hour, two days a piece, so all before 10 April
    rates = today(shop, RAISE)
    assert rates.labour == pytest.approx(2_500 * 3_500 / 3_000, rel=1e-3)
    assert rates.paid_share == pytest.approx(4_000 / 7_000)
    assert today(shop, RAISE.clear()).labour == pytest.approx(2_500, rel=1e-3)


def test_what_is_paid_out_shows_in_the_latest_pieces() -> None:
    shop = usable(made_shop(0, 50)).with_columns(own_labour_cents=(pl.col("labour_cents") * 0.25).cast(pl.Int64))
    assert today(shop, RAISE).paid_share == pytest.approx(0.75, abs=1e-3)


def test_a_piece_keeps_its_own_people_when_it_is_priced_anew() -> None:
    # the second piece was made by a dearer hand: 40 instead of 25 an hour
    shop = usable(made_shop(0, 30)).with_columns(
        labour_cents=(
            pl.col("bench_seconds") / 3600 * pl.when(pl.int_range(pl.len()) == 1).then(4_000).otherwise(2_500)
        )
    )
    bench = Bench.of(shop, RAISE.clear())
    hour = bench.hours_at(bench.known(30, 2.0), 2.0)  # pay has doubled since
    assert hour.own[:3] == pytest.approx([5_000, 8_000, 5_000])
    assert hour.expected[0] == hour.expected[1] == pytest.approx(5_000, rel=0.05)
    assert len(hour.first(4).own) == 4


def test_machine_cost_goes_by_product_and_a_new_product_gets_the_shops() -> None:
    shop = usable(made_shop(0, 200))
    routed = pl.col("product") == "tray"
    hours = pl.col("bench_seconds") / 3600
    shop = shop.with_columns(machine_cents=pl.when(routed).then(hours * 500).otherwise(0).cast(pl.Int64))
    rates = Bench.of(shop, RAISE.clear()).known(200, 1.0)
    of = dict(zip(rates.products, rates.machine_of, strict=True))
    assert of["tray"] > 2 * rates.machine > 4 * of["bowl"]
    new = pl.DataFrame({"product": ["tray", "cradle", None]})
    assert rates.machine_hour(new).tolist() == [of["tray"], rates.machine, rates.machine]
    assert rates.hour(new)[1] == pytest.approx(rates.labour + rates.machine)
