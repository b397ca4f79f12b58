"""How many hours and how much material a piece takes: two log-linear models with partial pooling.

Bench hours and material of one unit are modelled apart, so that either can be priced at today's rates:

    log y = a + size + practice + run length + product + species + finish
        + product's own practice, size slope, and level where its size is unknown

Practice is the logarithm of the unit's number within its product (Crawford's unit theory). Products, species, finishes
and the products' own slopes are pooled: each group's spread is estimated from the data (empirical Bayes, by EM), so a
level with few pieces stays near the shop's mean and one never made is the mean with the group's spread as its error.
The noise may grow with size; its slope is estimated too, and big pieces weigh less where they are noisier.

All arrays are numpy; n = pieces, p = columns of the design.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dpotri

from pipeline.estimates.practice import run_unit

Array = NDArray[np.float64]

FACTORS = ("product", "species", "finish")
PLAIN = ("intercept", "size", "practice", "run", "size unknown")
GROUPS = (*PLAIN, *FACTORS, "product unsized", "product practice", "product size")
UNSIZED = PLAIN.index("size unknown")
PRIOR_SD = {
    # weak beliefs about log effects, overruled by a few dozen pieces; common practice, no source
    "intercept": 100.0,
    "size": 0.3,
    "practice": 0.25,
    "run": 0.1,
    "size unknown": 0.5,
    "product": 0.6,
    "species": 0.15,
    "finish": 0.15,
    "product unsized": 0.4,
    "product practice": 0.1,
    "product size": 0.1,
}
LEARNT = (*FACTORS, "product unsized", "product practice", "product size")
BELIEF = 2.0  # levels' worth of belief in a group's prior spread
NOISE_SD, NOISE_BELIEF = 0.25, 2.0
SCALE_SD = 0.6  # belief about how fast noise grows: log of its sd for one log size
OUTLIER = 9.0  # a squared studentised residual beyond this counts as this much when the noise is scaled
OWN_SLOPE = 3  # pieces of a product from which its own practice and size slopes are estimated
ROUNDS, STEPS = 3, 6  # of the noise's growth and of outliers, and within each of the spreads
GROWTH_SD = 1.2  # the same belief over all the sizes made, where they span a lot: three times the noise, or a third
MOST_SCALE = 1.5  # noise grows with size by this power at most, and is never beyond MOST_SD
DOUBT = 0.03  # how far the size effect may differ beyond the sizes made: sd of its slope
MOST_SD = 2.0  # a quote with more than that says nothing: its 90 % level is 13 times its middle
TRUSTED = 2.0  # studentised residuals beyond this lose weight


@dataclass(frozen=True)
class Coding:
    """Which column of the design stands for which level; `centre` is subtracted from the log size."""

    levels: dict[str, list[str]]
    centre: float
    group: NDArray[np.int64] = field(repr=False)

    @property
    def width(self) -> int:
        return len(self.group)


def log_size(frame: pl.DataFrame, of: str, shape: float = 0.0) -> Array:
    """Log of a unit's area (`of` = "area", for hours) or volume ("volume", for material); NaN where neither is known.

    `area_mm2` and `volume_mm3` are those of the whole run, `quantity` units. One stands in for the other by the scaling
    of alike shapes: volume goes as area to the power 3/2, times exp(`shape`), which `usual_shape` finds.
    """
    area, volume = _log(frame, "area_mm2"), _log(frame, "volume_mm3")
    if of == "area":
        return np.where(np.isnan(area), (volume - shape) * 2 / 3, area)
    return np.where(np.isnan(volume), area * 3 / 2 + shape, volume)


def usual_shape(frame: pl.DataFrame) -> float:
    """How thick the shop's pieces usually are, as `log_size` takes it: a board holds less than a cube of its area."""
    shape = _log(frame, "volume_mm3") - _log(frame, "area_mm2") * 3 / 2
    known = shape[~np.isnan(shape)]
    return float(np.median(known)) if len(known) else 0.0


def code(frame: pl.DataFrame, size: Array) -> Coding:
    """The coding of a history: its levels, each factor with one more column for a level never seen."""
    levels = {f: sorted(frame[f].fill_null("").unique().to_list()) for f in FACTORS}
    widths = dict.fromkeys(PLAIN, 1) | {f: len(levels[f]) + 1 for f in FACTORS}
    widths |= dict.fromkeys(GROUPS[len(widths) :], widths["product"])
    group = np.repeat(np.arange(len(GROUPS)), [widths[g] for g in GROUPS])
    known = size[~np.isnan(size)]
    return Coding(levels, float(np.median(known)) if len(known) else 0.0, group)


def design(coding: Coding, frame: pl.DataFrame, size: Array) -> Array:
    """The design, n × p, of pieces with product, species, finish, quantity and unit_number (of their first unit)."""
    n = frame.height
    x = np.zeros((n, coding.width))
    quantity = units(frame)
    unit = frame["unit_number"].cast(pl.Float64).fill_null(1.0).clip(1.0).to_numpy()
    z = np.where(np.isnan(size), 0.0, size - coding.centre)
    practice = np.log(run_unit(unit, quantity))
    x[:, : len(PLAIN)] = np.column_stack([np.ones(n), z, practice, np.log(quantity), np.isnan(size)])
    at = len(PLAIN)
    rows = np.arange(n)
    for factor in FACTORS:
        names = coding.levels[factor]
        place = (
            frame[factor]
            .fill_null("")
            .replace_strict(names, list(range(len(names))), default=len(names), return_dtype=pl.Int64)
            .to_numpy()
        )
        x[rows, at + place] = 1.0
        if factor == "product":
            product = place
        at += len(names) + 1
    # one of unknown size stands for the usual size of its product, which is not that of the shop
    x[rows, at + product] = np.isnan(size)
    at += len(coding.levels["product"]) + 1
    x[rows, at + product] = practice
    at += len(coding.levels["product"]) + 1
    x[rows, at + product] = z
    return x


@dataclass(frozen=True)
class Fit:
    """A fitted model.

    `cover` is the covariance of the effects. `noise` is the sd of the log at middling size, exp(`scale`) its growth
    with one log of size, exp(`rough`) where the size is unknown, `scatter` each piece's own; `sizes` are the least and
    the largest. `trust` is below 1 for pieces far from what the others say; `pull` is each piece's precision.
    """

    effects: Array
    cover: Array = field(repr=False)
    noise: float
    scale: float
    rough: float
    scatter: Array = field(repr=False)
    sizes: tuple[float, float]
    freedom: float
    pull: Array = field(repr=False)
    leverage: Array = field(repr=False)
    residual: Array = field(repr=False)
    trust: Array = field(repr=False)

    def predict(self, x: Array, z: Array) -> tuple[Array, Array]:
        """Log of the median, and the sd of the log, of new pieces with design x (n × p) and centred log size z."""
        doubt = np.einsum("ij,ij->i", x @ self.cover, x)
        return x @ self.effects, np.minimum(
            np.sqrt(self.noise_at(z, x[:, UNSIZED]) ** 2 + doubt + (DOUBT * self.beyond(z)) ** 2), MOST_SD
        )

    def noise_at(self, z: Array, unsized: Array | float = 0.0) -> Array:
        """The sd of the log that single pieces of such sizes scatter by."""
        # it may go on growing beyond the sizes made, but does not shrink there
        far = np.clip(z, *self.sizes) + (z - np.clip(z, *self.sizes)) * (self.scale * z > 0)
        grown = self.scale * far + self.rough * unsized
        return self.noise * np.exp(np.minimum(grown, np.log(MOST_SD / self.noise)))

    def beyond(self, z: Array) -> Array:
        """How far a size lies outside of those made, in logs."""
        return np.abs(z - np.clip(z, *self.sizes))

    def left_out(self) -> tuple[Array, Array]:
        """Each fitted piece predicted by the others: its error (actual − predicted, log) and the sd of that error.

        Ridge leaves one out in closed form: the error is residual ÷ (1 − leverage).
        """
        rest = 1 - self.leverage
        return self.residual / rest, np.minimum(self.scatter / np.sqrt(rest), MOST_SD)

    def leant_on(self, x: Array, fitted: Array) -> Array:
        """How much each fitted piece weighs in the prediction at x (p): the prediction moves by weight × its log."""
        return (fitted @ (self.cover @ x)) * self.pull


def fit(x: Array, y: Array, z: Array, coding: Coding, expected_slope: float = 0.5) -> Fit:
    """Fit y (log, n) on x (n × p) with noise growing with z (n). `expected_slope` is the prior mean of the size effect.

    Always from the same beginning, so that a backtest judges the very fit that quotes.
    """
    belief2 = np.array([PRIOR_SD[g] ** 2 for g in GROUPS])
    spread2, noise2, scale = belief2.copy(), NOISE_SD**2, 0.0
    learnt = [GROUPS.index(g) for g in LEARNT]
    before = np.zeros(coding.width)
    before[1] = expected_slope
    apart = y - x @ before
    group = coding.group
    active = _active(x, coding)
    inner, inner_group = x[:, active], group[active]
    count = np.bincount(inner_group, minlength=len(GROUPS))
    unsized, rough = x[:, UNSIZED], 0.0
    trust, sizes = np.ones(len(y)), (float(z.min()), float(z.max()))
    scale_sd = min(SCALE_SD, GROWTH_SD / max(sizes[1] - sizes[0], 1e-9))
    for _ in range(ROUNDS):
        even = np.exp(-2 * (scale * z + rough * unsized))
        weights = even * trust
        gram = (inner * weights[:, None]).T @ inner
        moment = inner.T @ (weights * apart)
        total = float(weights @ apart**2)
        for _ in range(STEPS):
            held = noise2
            inside = _inverse(gram / noise2, 1 / spread2[inner_group])
            effects = inside @ moment / noise2
            used = float(np.sum(inside * gram)) / noise2
            misfit = max(total - 2 * float(effects @ moment) + float(effects @ gram @ effects), 0.0)
            noise2 = (misfit + NOISE_BELIEF * NOISE_SD**2) / (max(len(y) - used, 1.0) + NOISE_BELIEF)
            size2 = np.bincount(inner_group, effects**2 + np.diag(inside), minlength=len(GROUPS))
            spread2[learnt] = ((size2 + BELIEF * belief2) / (count + BELIEF))[learnt]
        leverage = np.clip(weights * np.einsum("ij,ij->i", inner @ inside, inner) / held, 0.0, 0.99)
        residual = apart - inner @ effects
        student2 = even * residual**2 / noise2 / (1 - leverage)
        # Huber's weights: a piece logged by half pulls as much as one two sd off, not more
        trust = np.minimum(1.0, TRUSTED / np.sqrt(np.maximum(student2, 1e-9)))
        # one step of the restricted likelihood for the slope of the log sd: a piece that the fit follows wherever it
        # goes (the first large one) says nothing of the noise
        says = 1 - leverage
        pulled = float(z @ (says * (np.minimum(student2, OUTLIER) - 1))) - scale / scale_sd**2
        scale += pulled / (2 * float((says * z) @ (says * z)) + 1 / scale_sd**2)
        scale = min(max(scale, -MOST_SCALE), MOST_SCALE)
        if unsized.any():
            pulled = float(unsized @ (says * (np.minimum(student2, OUTLIER) - 1))) - rough / SCALE_SD**2
            rough += pulled / (2 * float((says * unsized) @ says) + 1 / SCALE_SD**2)
            rough = min(max(rough, 0.0), MOST_SCALE)
    scatter = np.sqrt(noise2) * np.exp(np.minimum(scale * z + rough * unsized, np.log(MOST_SD / np.sqrt(noise2))))
    # what the data say nothing of keeps its prior: no effect, the group's spread as its doubt
    cover = np.diag(spread2[group])
    cover[np.ix_(active, active)] = inside
    before[active] += effects
    freedom = max(len(y) - used, 4.0)
    return Fit(
        before,
        cover,
        float(np.sqrt(noise2)),
        scale,
        rough,
        scatter,
        sizes,
        freedom,
        weights / held,
        leverage,
        residual,
        trust,
    )


def _inverse(gram: Array, more: Array) -> Array:
    """The inverse of gram + diag(more), which is positive definite."""
    whole = np.array(gram, order="F")
    whole.ravel("K")[:: len(whole) + 1] += more
    half, _ = dpotrf(whole, lower=1, overwrite_a=1)
    lower, _ = dpotri(half, lower=1, overwrite_c=1)
    inverse: Array = lower + lower.T
    inverse.ravel("K")[:: len(whole) + 1] /= 2
    return inverse


def _active(x: Array, coding: Coding) -> NDArray[np.int64]:
    """The columns to be estimated: levels with a piece, and products' own slopes from `OWN_SLOPE` pieces on."""
    product = coding.group == GROUPS.index("product")
    pieces = x[:, product].sum(axis=0)
    active = np.any(x != 0, axis=0)
    active[coding.group >= GROUPS.index("product practice")] &= np.tile(pieces >= OWN_SLOPE, 2)
    return np.flatnonzero(active)


def rework_chance(x: Array, reworked: Array, coding: Coding, new: Array, steps: int = 4) -> tuple[Array, Array]:
    """Chance that a piece needs rework: of the fitted pieces and of new ones (ridge logistic on the three factors)."""
    columns = np.flatnonzero(np.isin(coding.group, [0, *(GROUPS.index(f) for f in FACTORS)]))
    a, b = x[:, columns], new[:, columns]
    penalty = np.where(columns == 0, 0.0, 1 / 0.5**2)
    # half a piece of each kind keeps a shop without any rework off zero
    rate = (reworked.sum() + 0.5) / (len(reworked) + 1)
    effects = np.zeros(len(columns))
    effects[0] = base = np.log(rate / (1 - rate))
    pull = np.where(columns == 0, 1.0, penalty)
    middle = np.where(columns == 0, base, 0.0)
    for _ in range(steps):
        chance = 1 / (1 + np.exp(-a @ effects))
        slope = a.T @ (reworked - chance) - pull * (effects - middle)
        effects = effects + np.linalg.solve((a * (chance * (1 - chance))[:, None]).T @ a + np.diag(pull), slope)
    return 1 / (1 + np.exp(-a @ effects)), 1 / (1 + np.exp(-b @ effects))


def _log(frame: pl.DataFrame, column: str) -> Array:
    values = frame[column].cast(pl.Float64).fill_null(np.nan).to_numpy()
    return np.log(np.where(values > 0, values, np.nan) / units(frame))


def units(frame: pl.DataFrame) -> Array:
    """How many units each row holds, at least one."""
    return frame["quantity"].cast(pl.Float64).fill_null(1.0).clip(1.0).to_numpy()
