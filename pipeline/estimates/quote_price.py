"""From a cost to a price: channel fees, margin and markup, the shop's habit of rounding, and what is the least to take.

Money is whole minor units (cents), shares are parts in a million (ppm), all arithmetic is exact. A price is without
sales tax. *Margin* is profit ÷ price, *markup* is profit ÷ cost: 15 % margin is 18 % markup.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np

from pipeline.estimates.quote_spread import Spread

PPM = 1_000_000


@dataclass(frozen=True)
class Terms:
    """How a channel sells: its fees (settings.channel), the tax added for the buyer, and shipping.

    `share_ppm` is of the price, also of the tax on it if `share_on_tax`, and of shipping if `share_on_shipping`;
    `payment_share_ppm` is of all that the buyer pays.
    """

    channel: str
    share_ppm: int = 0
    fixed_cents: int = 0
    payment_share_ppm: int = 0
    payment_fixed_cents: int = 0
    tax_ppm: int = 0
    share_on_tax: bool = False
    share_on_shipping: bool = False
    shipping_charged_cents: int = 0
    shipping_paid_cents: int = 0

    @property
    def fee_share(self) -> Fraction:
        """What the channel takes of one cent of price: each share × its base, 1 or 1 + the tax rate."""
        with_tax = Fraction(PPM + self.tax_ppm, PPM)
        of_price = Fraction(self.share_ppm, PPM) * (with_tax if self.share_on_tax else 1)
        return of_price + Fraction(self.payment_share_ppm, PPM) * with_tax

    @property
    def beside(self) -> Fraction:
        """What a sale costs whatever its price: fixed fees + shipping paid − shipping charged + fees on the latter."""
        on_shipping = Fraction(self.payment_share_ppm + (self.share_ppm if self.share_on_shipping else 0), PPM)
        return (
            self.fixed_cents
            + self.payment_fixed_cents
            + self.shipping_paid_cents
            - self.shipping_charged_cents * (1 - on_shipping)
        )

    def proceeds(self, price_cents: int) -> int:
        """What is left of a price after fees and shipping, rounded down to a whole cent."""
        return int((price_cents * (1 - self.fee_share) - self.beside) // 1)


def price_for(cost_cents: int, terms: Terms, margin_ppm: int = 0) -> int | None:
    """The least whole price that leaves the margin after fees; None where fees and margin take all of any price."""
    left = 1 - terms.fee_share - Fraction(margin_ppm, PPM)
    if left <= 0:
        return None
    return max(0, ceil((cost_cents + terms.beside) / left))


def price_for_pay(other_cents: int, hours: float, pay_cents: int, terms: Terms) -> int | None:
    """The price at which an hour pays `pay_cents`. `other_cents` = the cost without own labour, `hours` = own hours."""
    return price_for(other_cents + ceil(Fraction(hours) * pay_cents), terms)


def pay_per_hour(price_cents: int, other_cents: int, hours: float, terms: Terms) -> float:
    """What an own hour pays at a price: (proceeds − cost without own labour) ÷ hours."""
    return (terms.proceeds(price_cents) - other_cents) / hours


def margin(price: float, cost: float) -> float:
    """Profit ÷ price."""
    return (price - cost) / price


def markup(price: float, cost: float) -> float:
    """Profit ÷ cost."""
    return (price - cost) / cost


def units_to_earn(fixed_cents: int, price_cents: int, variable_cents: int, profit_cents: int = 0) -> int | None:
    """How many must sell to pay what is fixed (a booth, a month) and earn a profit; None if each one loses money.

    With no profit wanted this is the break-even point.
    """
    contribution = price_cents - variable_cents
    return ceil(Fraction(fixed_cents + profit_cents, contribution)) if contribution > 0 else None


@dataclass(frozen=True)
class Habit:
    """How the shop's prices end: `ending_cents` after a multiple of `step_cents`; `share` of them do."""

    step_cents: int = 1
    ending_cents: int = 0
    share: float = 0.0

    def up(self, price_cents: int) -> int:
        """The next price of that habit, never below the one given."""
        return price_cents + (self.ending_cents - price_cents) % self.step_cents


HABIT_SHARE = 0.8
STEPS = (10_000, 5_000, 2_500, 2_000, 1_000, 500, 200, 100, 50, 25, 20, 10, 5)


def habit_of(prices_cents: Sequence[int]) -> Habit:
    """The coarsest habit that four in five of at least five prices keep: whole steps, or just under them.

    A step above a quarter of the usual price would be chance, not habit.
    """
    prices = np.asarray([p for p in prices_cents if p is not None and p > 0], dtype=np.int64)
    if len(prices) < 5:
        return Habit()
    for step in STEPS:
        if step > np.median(prices) / 4:
            continue
        # whole steps first; then just under them by 1, 5 or 10 cents, or by one whole unit
        for under in (0, 1, 5, 10, 100):
            ending = (-under) % step
            share = float(np.mean(prices % step == ending))
            if share >= HABIT_SHARE:
                return Habit(step, ending, share)
    return Habit()


@dataclass(frozen=True)
class Offer:
    """A price on a channel and what it means. None = fees and margin leave no such price."""

    channel: str
    exact_cents: int
    asked_cents: int
    proceeds_cents: int
    profit_cents: int
    margin_share: float
    markup_share: float
    pay_cents_per_hour: float
    loss_chance: float
    least_cents: int


@dataclass(frozen=True)
class Costs:
    """A unit's middle cost in the parts that a price needs, with its spread (`row` of it)."""

    cost_cents: int
    other_cents: int  # without own labour
    cash_cents: int  # what leaves the till for it
    own_hours: float
    spread: Spread
    row: int = 0


def offer(costs: Costs, terms: Terms, habit: Habit, margin_ppm: int = 0, pay_cents: int | None = None) -> Offer | None:
    """The price for a wanted margin, or, if `pay_cents` is given, for a wanted hourly pay; rounded up to the habit.

    Margin and markup are those of the asked price over the middle cost with fees and shipping; the chance of a loss is
    that the cost exceeds what is left of it; the least price covers what leaves the till.
    """
    if pay_cents is None:
        exact = price_for(costs.cost_cents, terms, margin_ppm)
    else:
        exact = price_for_pay(costs.other_cents, costs.own_hours, pay_cents, terms)
    least = price_for(costs.cash_cents, terms)
    if exact is None or least is None:
        return None
    asked = habit.up(max(exact, 1))
    proceeds = terms.proceeds(asked)
    profit = proceeds - costs.cost_cents
    return Offer(
        terms.channel,
        exact,
        asked,
        proceeds,
        profit,
        margin(asked, asked - profit),
        markup(asked, asked - profit) if asked > profit else float("inf"),
        pay_per_hour(asked, costs.other_cents, costs.own_hours, terms) if costs.own_hours > 0 else 0.0,
        costs.spread.chance_above(proceeds, costs.row),
        least,
    )
