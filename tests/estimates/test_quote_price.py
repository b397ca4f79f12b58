"""Prices, margins, habits. Published figures have their source beside them."""

import numpy as np
import pytest

from pipeline.estimates.quote_price import (
    Costs,
    Habit,
    Terms,
    habit_of,
    margin,
    markup,
    offer,
    pay_per_hour,
    price_for,
    price_for_pay,
    units_to_earn,
)
from pipeline.estimates.quote_spread import LEVELS, Middle, Spread

ONE = np.ones(1)


def spread_between(low: float, high: float) -> Spread:
    """A unit cost that is alike likely anywhere between two amounts."""
    middle = Middle(ONE, ONE, ONE, ONE, ONE)
    return Spread((low + (high - low) * LEVELS)[None, :], middle, ONE, 0.0, ONE)


def costs(cents: int = 10_000, other: int = 4_000, cash: int = 3_000, hours: float = 2.0) -> Costs:
    return Costs(cents, other, cash, hours, spread_between(8_000, 12_000))


def test_margin_and_markup_of_a_court_case() -> None:
    # Smith v. Commissioner, T.C. Memo. 1998-143 (United States Tax Court): cost 100, price 118 is a markup of 18 %
    # and a gross profit of 15 %; 15 % profit is 18 % markup, 40 % profit is 67 % markup
    assert round(100 * markup(118, 100)) == 18
    assert round(100 * margin(118, 100)) == 15
    assert round(100 * markup(100, 100 - 15)) == 18
    assert round(100 * markup(100, 100 - 40)) == 67


def test_gross_profit_share_of_a_tax_guide() -> None:
    # IRS Publication 334, chapter 7: net receipts 300,000, cost of goods sold 200,000, gross profit 33 1/3 %
    assert margin(300_000, 200_000) == pytest.approx(1 / 3)
    assert markup(300_000, 200_000) == pytest.approx(0.5)


def test_cost_plus_price() -> None:
    # OpenStax Principles of Accounting 2, section 9.4: variable cost 8 plus 20 % is 9.60, full cost 9 plus 20 % 10.80
    for cost, price in ((800, 960), (900, 1_080)):
        assert markup(price, cost) == pytest.approx(0.20)
        # a margin is held to a millionth, and the price is never below it
        assert price_for(cost, Terms("own shop"), int(margin(price, cost) * 1_000_000)) == price


@pytest.mark.parametrize(
    ("fixed", "price", "variable", "profit", "units"),
    [
        # OpenStax Principles of Accounting 2, sections 3.2 and 3.5: Hicks (birdbath) and Manteo
        (18_000, 100, 20, 0, 225),
        (18_000, 100, 20, 16_000, 425),
        (18_000, 100, 20, 40_000, 725),
        (85_000, 90, 40, 0, 1_700),
        (85_000, 90, 40, 10_000, 1_900),
    ],
)
def test_break_even(fixed: int, price: int, variable: int, profit: int, units: int) -> None:
    assert units_to_earn(100 * fixed, 100 * price, 100 * variable, 100 * profit) == units


def test_a_piece_that_loses_money_never_breaks_even() -> None:
    assert units_to_earn(5_000, 2_000, 2_000) is None


def test_price_covers_fees_shipping_and_margin() -> None:
    # by hand: fees 6.5 % + 3 % × 1.08 = 9.74 % of the price, margin 30 %;
    # beside: 25 + 30 fixed, 1,200 paid for shipping, 900 charged, 3 % of which (27) goes to the payment
    # (10,000 + 55 + 1,200 − 900 + 27) ÷ (1 − 0.0974 − 0.3) = 17,228.67
    terms = Terms("web", 65_000, 25, 30_000, 30, tax_ppm=80_000, shipping_charged_cents=900, shipping_paid_cents=1_200)
    price = price_for(10_000, terms, 300_000)
    assert price == 17_229
    # what is left after everything is the margin, and one cent less would not do
    assert terms.proceeds(price) - 10_000 >= 0.3 * price - 1
    assert terms.proceeds(price - 1) - 10_000 < 0.3 * (price - 1)


def test_share_of_price_can_be_taken_on_tax_and_shipping_too() -> None:
    bare = Terms("web", 100_000, tax_ppm=200_000, shipping_charged_cents=1_000)
    assert bare.proceeds(10_000) == 10_000 - 1_000 + 1_000
    full = Terms(
        "web", 100_000, tax_ppm=200_000, shipping_charged_cents=1_000, share_on_tax=True, share_on_shipping=True
    )
    assert full.proceeds(10_000) == 10_000 - 1_200 + 1_000 - 100


def test_no_such_price_when_fees_and_margin_take_all() -> None:
    assert price_for(1_000, Terms("fair", 300_000), 700_000) is None
    assert price_for(1_000, Terms("fair", 300_000), 699_999) == 1_000_000_000
    assert offer(costs(), Terms("fair", 300_000), Habit(), margin_ppm=700_000) is None


def test_price_for_an_hourly_pay_pays_it() -> None:
    terms = Terms("market", 100_000)
    price = price_for_pay(4_000, 2.5, 3_000, terms)
    assert price == 12_778  # (4,000 + 2.5 × 3,000) ÷ 0.9, up to a whole cent
    assert pay_per_hour(price, 4_000, 2.5, terms) == pytest.approx(3_000, abs=0.5)


@pytest.mark.parametrize(
    ("prices", "step", "ending", "asked"),
    [
        ([4_500, 6_000, 12_500, 3_500, 8_000, 9_500], 500, 0, 10_500),
        ([4_900, 5_900, 12_900, 3_900, 7_900], 1_000, 900, 10_900),
        ([4_995, 5_495, 12_995, 3_495, 7_495], 500, 495, 10_495),
        ([4_550, 6_200, 12_750, 3_500, 8_050], 50, 0, 10_150),
        ([4_523, 6_211, 12_757, 3_509, 8_083], 1, 0, 10_101),
        ([4_500, 6_000], 1, 0, 10_101),
    ],
)
def test_habit_of_past_prices(prices: list[int], step: int, ending: int, asked: int) -> None:
    habit = habit_of(prices)
    assert (habit.step_cents, habit.ending_cents) == (step, ending)
    assert habit.up(10_101) == asked


def test_a_price_of_the_habit_stays() -> None:
    assert Habit(500, 0).up(10_500) == 10_500
    assert Habit(500, 499).up(10_500) == 10_999


def test_an_offer_says_what_it_means() -> None:
    # cost alike likely between 80 and 120: at 110 left after fees a quarter of such pieces loses money
    made = offer(costs(), Terms("market"), Habit(1_000, 0), margin_ppm=90_000)
    assert made is not None
    assert (made.exact_cents, made.asked_cents, made.profit_cents) == (10_990, 11_000, 1_000)
    assert made.margin_share == pytest.approx(1_000 / 11_000)
    assert made.markup_share == pytest.approx(0.1)
    assert made.loss_chance == pytest.approx(0.25)
    assert made.least_cents == 3_000
    assert made.pay_cents_per_hour == pytest.approx((11_000 - 4_000) / 2)
