"""What an hour at the bench costs on a day: pay by the settings in force, machine and overhead by the latest pieces."""

from dataclasses import dataclass, field
from datetime import date

import numpy as np
import polars as pl

from pipeline.estimates.quote_model import Array

LATEST = 20
"""Pieces that show the present mix of people, and of machine and overhead in a bench hour."""
BELIEF_HOURS = 20.0
"""Bench hours at the shop's mean that a product's machine cost is drawn to."""


@dataclass(frozen=True)
class Rates:
    """Today's cost of an hour at the bench, in cents: pay, overhead, and machine (by product where it is known).

    `machine_of` goes with `products`. `paid_share` is the share of the pay that really leaves the till (employees).
    """

    labour: float
    overhead: float = 0.0
    machine: float = 0.0
    products: tuple[str, ...] = ()
    machine_of: tuple[float, ...] = ()
    paid_share: float = 0.0

    def hour(self, pieces: pl.DataFrame) -> Array:
        """Cents of a bench hour on each of these pieces (their `product`)."""
        return self.labour + self.overhead + self.machine_hour(pieces)

    def machine_hour(self, pieces: pl.DataFrame) -> Array:
        """The machine's part of it."""
        product = pieces["product"].fill_null("")
        return product.replace_strict(
            self.products, self.machine_of, default=self.machine, return_dtype=pl.Float64
        ).to_numpy()


def pay_on(days: pl.Series, person_rate: pl.DataFrame) -> Array:
    """Mean pay of an hour in force on each day, in cents, from settings.person_rate; 1 where no pay is set.

    Before a person's first rate that rate holds. People count alike: only the change of it is used.
    """
    if person_rate.is_empty():
        return np.ones(len(days))
    by_day = person_rate.sort("from_date").pivot(
        "name", index="from_date", values="rate_cents", aggregate_function="last"
    )
    pay = by_day.select(
        "from_date", pl.mean_horizontal(pl.exclude("from_date").forward_fill().backward_fill()).alias("pay")
    )
    at = np.maximum(np.searchsorted(pay["from_date"].to_numpy(), days.to_numpy(), side="right") - 1, 0)
    cents = pay["pay"].fill_null(0.0).to_numpy()[at]
    return np.where(cents > 0, cents, 1.0)


@dataclass(frozen=True)
class HourCents:
    """Cents of a bench hour on each piece: as one would expect them, and with the people and machines it really had."""

    expected: Array
    own: Array

    def first(self, n: int) -> "HourCents":
        return HourCents(self.expected[:n], self.own[:n])


@dataclass(frozen=True)
class Bench:
    """What the hours of a history cost, piece by piece, in order of `finished`, to read the rates known at any time."""

    hours: Array
    labour: Array
    machine: Array
    overhead: Array
    pay: Array  # pay in force on the piece's day
    own: Array | None  # the part of `labour` that isn't paid out, where the history has it
    product: np.ndarray = field(repr=False)
    names: tuple[str, ...] = field(repr=False)

    @classmethod
    def of(cls, history: pl.DataFrame, person_rate: pl.DataFrame) -> "Bench":
        labour, machine, overhead = (
            history[f"{layer}_cents"].cast(pl.Float64).fill_null(0.0).to_numpy()
            for layer in ("labour", "machine", "overhead")
        )
        hours = np.maximum(history["bench_seconds"].cast(pl.Float64).fill_null(0.0).to_numpy(), 1.0) / 3600
        names = tuple(sorted(history["product"].fill_null("").unique().to_list()))
        product = (
            history["product"].fill_null("").replace_strict(names, range(len(names)), return_dtype=pl.Int64).to_numpy()
        )
        own = history["own_labour_cents"].cast(pl.Float64).to_numpy() if "own_labour_cents" in history.columns else None
        return cls(hours, labour, machine, overhead, pay_on(history["finished"], person_rate), own, product, names)

    def known(self, n: int, pay: float, paid_share: float = 0.0) -> Rates:
        """The rates when the first n pieces were finished and the pay in force was `pay`."""
        latest = slice(max(0, n - LATEST), n)
        hours = float(self.hours[latest].sum())
        labour = float((self.labour[latest] * pay / self.pay[latest]).sum()) / hours
        machine = float(self.machine[latest].sum()) / hours
        overhead = float(self.overhead[latest].sum()) / hours
        return Rates(labour, overhead, machine, self.names, tuple(self._machine_of(n, machine).tolist()), paid_share)

    def hours_at(self, rates: Rates, pay: float) -> "HourCents":
        """Every piece at these rates, which must come from `known` with the same pay in force."""
        expected = rates.labour + rates.overhead + np.array(rates.machine_of)[self.product]
        own = (self.labour * pay / self.pay + self.machine) / self.hours + rates.overhead
        return HourCents(expected, own)

    def _machine_of(self, n: int, now: float) -> Array:
        mean = float(self.machine[:n].sum() / self.hours[:n].sum())
        if mean == 0:
            return np.full(len(self.names), now)
        hours = np.bincount(self.product[:n], self.hours[:n], len(self.names)) + BELIEF_HOURS
        cents = np.bincount(self.product[:n], self.machine[:n], len(self.names)) + BELIEF_HOURS * mean
        return now / mean * cents / hours


def rates_today(bench: Bench, person_rate: pl.DataFrame, today: date) -> tuple[Rates, float]:
    """The rates for a quote given today, with the pay then in force, from settings.person_rate.

    How much of the pay is paid out shows in the latest pieces; where the history doesn't say, people count alike.
    """
    pay = float(pay_on(pl.Series([today]), person_rate)[0])
    if bench.own is not None and (labour := float(bench.labour[-LATEST:].sum())) > 0:
        return bench.known(len(bench.hours), pay, 1 - float(bench.own[-LATEST:].sum()) / labour), pay
    in_force = person_rate.filter(pl.col("from_date") <= today).sort("from_date").group_by("name").last()
    total, out = float(in_force["rate_cents"].sum()), float(in_force.filter("paid")["rate_cents"].sum())
    paid = out / total if total else 0.0
    return bench.known(len(bench.hours), pay, paid), pay
