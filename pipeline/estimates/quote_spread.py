"""The cost of the next piece as a distribution: bench time and material at today's rates, and the chance of rework.

The cost of a unit is a mixture: made in one go, or (with the shop's shrunk chance of rework for that product, species
and finish) dearer by one of the shop's past rework shares. Its levels are then calibrated by leave-one-out conformal
prediction: every past piece is placed in the distribution that the *others* give it, at today's rates, and the level
that really held the wanted share of them is the one shown. Each error is taken relative to the spread expected at that
size, so big pieces are covered as well as small ones.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import ndtr, stdtr

from pipeline.estimates.quote_model import (
    Array,
    Coding,
    Fit,
    code,
    design,
    fit,
    log_size,
    rework_chance,
    units,
    usual_shape,
)
from pipeline.estimates.quote_rates import HourCents

LEVELS = np.round(np.arange(0.01, 1.0, 0.01), 2)
LEAST = 15
"""Pieces of history below which no quote is given."""
CONFORMAL_FROM = 30
"""Pieces of history from which levels are calibrated on past errors; below it Student's t stands alone."""
REWORK_ATOMS = 8
USUAL_REWORK = (0.15, 0.35)
"""Share that rework adds while fewer than three pieces were ever reworked (assumed, no source)."""
SOME = 1.0  # seconds or cents: the least that a piece takes, so that logs exist
GRID = np.linspace(-5.0, 5.0, 121)


@dataclass(frozen=True)
class Work:
    """A history in the units of the models: one unit's clean hours and material, and what rework added."""

    frame: pl.DataFrame = field(repr=False)
    hours: Array
    cents: Array
    rework_hours: Array
    rework_cents: Array
    reworked: Array
    area: Array
    volume: Array
    shape: float

    def cost(self, hour: Array) -> Array:
        """What each piece would have cost with these cents of a bench hour, rework included, in cents a unit."""
        n = len(hour)
        return (self.hours[:n] + self.rework_hours[:n]) * hour + self.cents[:n] + self.rework_cents[:n]

    def clean(self, hour: Array) -> Array:
        """As `cost`, without rework."""
        return self.hours[: len(hour)] * hour + self.cents[: len(hour)]


def usable(history: pl.DataFrame) -> pl.DataFrame:
    """The finished pieces with hours and material, by day: one that lacks either says nothing of what a piece takes."""
    logged = (pl.col("bench_seconds") > 0) & (pl.col("material_cents_today") > 0)
    return history.filter(pl.col("finished").is_not_null() & logged).sort("finished", "piece")


def work(history: pl.DataFrame) -> Work:
    """Take rework, and extras where the history names them, out of hours and material (columns of price.history).

    Rework's material is what `rework_cents` leaves after its share of the bench, at the piece's own rates; it and all
    material are taken at today's replacement prices.
    """
    h = {c: history[c].cast(pl.Float64).fill_null(0.0).to_numpy() for c in _AMOUNTS}
    each = units(history)
    seconds = np.maximum(h["bench_seconds"], SOME)
    rework_seconds = np.clip(h["rework_seconds"], 0.0, 0.9 * seconds)
    bench_cents = h["labour_cents"] + h["machine_cents"] + h["overhead_cents"]
    rework_material = np.clip(
        h["rework_cents"] - bench_cents * rework_seconds / seconds, 0.0, 0.9 * np.maximum(h["material_cents"], 0.0)
    )
    dearer = np.divide(
        h["material_cents_today"], h["material_cents"], out=np.ones_like(seconds), where=h["material_cents"] > 0
    )
    material = np.maximum(h["material_cents_today"], SOME)
    rework_material = np.minimum(rework_material * dearer, 0.9 * material)
    clean_seconds = np.maximum(seconds - rework_seconds - _extra(history, "extra_seconds"), 0.1 * seconds)
    clean_material = np.maximum(material - rework_material - _extra(history, "extra_material_cents"), 0.1 * material)
    shape = usual_shape(history)
    return Work(
        history,
        clean_seconds / 3600 / each,
        clean_material / each,
        rework_seconds / 3600 / each,
        rework_material / each,
        history["reworked"].fill_null(False).cast(pl.Float64).to_numpy(),
        log_size(history, "area", shape),
        log_size(history, "volume", shape),
        shape,
    )


_AMOUNTS = (
    "bench_seconds",
    "rework_seconds",
    "rework_cents",
    "labour_cents",
    "machine_cents",
    "overhead_cents",
    "material_cents",
    "material_cents_today",
)


def _extra(history: pl.DataFrame, column: str) -> Array:
    if column not in history.columns:
        return np.zeros(history.height)
    return history[column].cast(pl.Float64).fill_null(0.0).to_numpy()


@dataclass(frozen=True)
class Design:
    """A history coded once for both models, so that a backtest can fit its beginnings by slicing."""

    hours: Coding
    cents: Coding
    x_hours: Array = field(repr=False)
    x_cents: Array = field(repr=False)


def code_both(history: Work) -> Design:
    hours, cents = code(history.frame, history.area), code(history.frame, history.volume)
    return Design(
        hours, cents, design(hours, history.frame, history.area), design(cents, history.frame, history.volume)
    )


@dataclass(frozen=True)
class Models:
    """Both models fitted on the first n pieces of a history."""

    work: Work = field(repr=False)
    design: Design = field(repr=False)
    n: int
    hours: Fit
    cents: Fit
    together: float  # correlation of the two models' errors


def fit_both(history: Work, coded: Design, n: int) -> Models:
    """Fit on the first n pieces."""
    area, volume = _z(coded.hours, history.area[:n]), _z(coded.cents, history.volume[:n])
    hours = fit(coded.x_hours[:n], np.log(history.hours[:n]), area, coded.hours)
    cents = fit(coded.x_cents[:n], np.log(history.cents[:n]), volume, coded.cents, 1.0)
    a, b = (np.clip(error / sd, -3, 3) for error, sd in (hours.left_out(), cents.left_out()))
    together = float(a @ b / (np.sqrt((a @ a) * (b @ b)) + 10))
    return Models(history, coded, n, hours, cents, together)


def _z(coding: Coding, size: Array) -> Array:
    return np.where(np.isnan(size), 0.0, size - coding.centre)


@dataclass(frozen=True)
class Middle:
    """Log-normal middles of pieces' clean cost: medians of hours and material, and the variance by source."""

    hours: Array
    cents: Array
    log_cost: Array
    from_hours: Array
    from_cents: Array

    @property
    def sd(self) -> Array:
        return np.sqrt(self.from_hours + self.from_cents)


def _middle(hours: Array, hours_sd: Array, cents: Array, cents_sd: Array, together: float, hour: Array) -> Middle:
    """Delta method for log(rate × hours + material), with the second-order shift of its median."""
    bench, material = np.exp(hours) * hour, np.exp(cents)
    share = bench / (bench + material)
    mixed = share * (1 - share) * together * hours_sd * cents_sd
    apart = hours_sd**2 + cents_sd**2 - 2 * together * hours_sd * cents_sd
    log_cost = np.log(bench + material) + 0.5 * share * (1 - share) * apart
    floor = 1e-6
    from_hours = np.maximum((share * hours_sd) ** 2 + mixed, floor)
    from_cents = np.maximum(((1 - share) * cents_sd) ** 2 + mixed, floor)
    return Middle(np.exp(hours), material, log_cost, from_hours, from_cents)


@dataclass(frozen=True)
class Spread:
    """Calibrated cost of k pieces in cents a unit: `cents` is k × 99, at the levels 0.01 … 0.99."""

    cents: Array = field(repr=False)
    middle: Middle
    rework_chance: Array
    rework_share: float
    from_rework: Array

    def at(self, level: float) -> Array:
        """The cost that a share `level` of such pieces stays under."""
        return self.cents[:, round(level * 100) - 1]

    def one(self, row: int) -> "Spread":
        """That of one of the pieces alone."""
        at, m = slice(row, row + 1), self.middle
        middle = Middle(m.hours[at], m.cents[at], m.log_cost[at], m.from_hours[at], m.from_cents[at])
        return Spread(self.cents[at], middle, self.rework_chance[at], self.rework_share, self.from_rework[at])

    def chance_above(self, cents: float, row: int = 0) -> float:
        """Chance that the cost is above this, between 0.01 and 0.99: beyond it the past can't tell."""
        return float(1 - np.interp(cents, self.cents[row], LEVELS))

    def mean(self) -> Array:
        return self.cents.mean(axis=1)

    def sources(self, row: int = 0) -> dict[str, float]:
        """How much of the spread is hours, material and rework: shares of the variance of log cost."""
        parts = {
            "hours": self.middle.from_hours[row],
            "material": self.middle.from_cents[row],
            "rework": self.from_rework[row],
        }
        total = float(sum(parts.values()))
        return {name: float(part) / total for name, part in parts.items()}


@dataclass(frozen=True)
class Calibration:
    """What is the same for every piece quoted at some rates: the rework shares and where past pieces fell."""

    dearer: Array  # log of 1 + the share that rework adds, alike likely
    freedom: float  # of Student's t; infinite = normal, which calibration then bends to what the past shows
    places: Array = field(repr=False)  # sorted; empty = not enough history to calibrate


def calibrate(models: Models, hour: HourCents, chance: Array) -> Calibration:
    """Place each fitted piece in the distribution that the others give it.

    `hour` = today's cents of a bench hour on it, `chance` = its chance of rework.
    """
    n, history = models.n, models.work
    clean, cost = history.clean(hour.own), history.cost(hour.own)
    dearer = _rework_shares(cost / clean - 1, history.reworked[:n] > 0)
    if n < CONFORMAL_FROM:
        return Calibration(dearer, min(models.hours.freedom, models.cents.freedom), np.empty(0))
    hours_error, hours_sd = models.hours.left_out()
    cents_error, cents_sd = models.cents.left_out()
    middle = _middle(
        np.log(history.hours[:n]) - hours_error,
        hours_sd,
        np.log(history.cents[:n]) - cents_error,
        cents_sd,
        models.together,
        hour.expected,
    )
    places = _mixture((np.log(cost) - middle.log_cost) / middle.sd, middle.sd, chance, dearer, np.inf)
    return Calibration(dearer, np.inf, np.sort(places))


def _rework_shares(added: Array, reworked: NDArray[np.bool_]) -> Array:
    shares = np.sort(np.maximum(added[reworked], 0.0))
    if len(shares) < 3:
        return np.log1p(np.concatenate([shares, USUAL_REWORK]))
    if len(shares) > REWORK_ATOMS:
        shares = np.quantile(shares, (np.arange(REWORK_ATOMS) + 0.5) / REWORK_ATOMS)
    return np.log1p(shares)


def _mixture(t: Array, sd: Array, chance: Array, dearer: Array, freedom: float) -> Array:
    """Distribution function at standardised log costs t, for pieces of this sd and chance of rework (same shape)."""
    shifted = t[..., None] - dearer / sd[..., None]
    if np.isinf(freedom):
        return (1 - chance) * ndtr(t) + chance * ndtr(shifted).mean(axis=-1)
    return (1 - chance) * stdtr(freedom, t) + chance * stdtr(freedom, shifted).mean(axis=-1)


def conformal_levels(places: Array, levels: Array) -> Array:
    """The level to ask a distribution for, so that at least the wanted share of new pieces falls below (above) it.

    Of n sorted places the k-th is taken, k = ⌈(n + 1) × level⌉ above the middle and ⌊(n + 1) × level⌋ below it; beyond
    the outermost place there is nothing to go by, so that one is used. Split-conformal rank: Vovk; Angelopoulos & Bates
    2021, arXiv 2107.07511.
    """
    n = len(places)
    if n == 0:
        return levels
    rank = (n + 1) * levels
    above, below = np.ceil(rank - 1e-9), np.floor(rank + 1e-9)
    k = np.where(levels > 0.5, above, np.where(levels < 0.5, below, rank))
    return np.interp(np.clip(k, 1, n), np.arange(1, n + 1), places)


def spread(models: Models, past_hour: HourCents, hour: Array, pieces: pl.DataFrame) -> Spread:
    """Cost of pieces with product, species, finish, quantity, unit_number, area_mm2 and volume_mm3 at today's rates.

    `hour` = today's cents of a bench hour on them, `past_hour` = those on the fitted pieces.
    """
    shape = models.work.shape
    area, volume = log_size(pieces, "area", shape), log_size(pieces, "volume", shape)
    x_hours, x_cents = design(models.design.hours, pieces, area), design(models.design.cents, pieces, volume)
    return spread_coded(models, past_hour, hour, (x_hours, x_cents), area, volume)


def spread_coded(
    models: Models, past_hour: HourCents, hour: Array, x: tuple[Array, Array], area: Array, volume: Array
) -> Spread:
    """As `spread`, of pieces whose designs (for hours and for material) are at hand."""
    n, coded = models.n, models.design
    past, chance = rework_chance(coded.x_hours[:n], models.work.reworked[:n], coded.hours, x[0])
    known = calibrate(models, past_hour, past)
    hours = models.hours.predict(x[0], _z(coded.hours, area))
    cents = models.cents.predict(x[1], _z(coded.cents, volume))
    middle = _middle(*hours, *cents, models.together, hour)
    sd = middle.sd[:, None]
    # rework stretches the upper side only: a grid as wide as noise and the dearest rework together
    t = GRID + (np.maximum(GRID, 0) / GRID[-1]) ** 2 * known.dearer.max() / sd
    below = _mixture(t, sd + np.zeros_like(t), chance[:, None], known.dearer, known.freedom)
    asked = np.clip(conformal_levels(known.places, LEVELS), 0.001, 0.999)
    at = np.array([np.interp(asked, row, grid) for row, grid in zip(below, t, strict=True)]).reshape(
        len(sd), len(LEVELS)
    )
    from_rework = chance * float((known.dearer**2).mean()) - (chance * float(known.dearer.mean())) ** 2
    share = float(np.expm1(known.dearer).mean())
    return Spread(np.exp(middle.log_cost[:, None] + at * sd), middle, chance, share, np.maximum(from_rework, 0.0))
