"""Where weighings disagree: the likeliest true figures under the balance that must hold, and the most suspect one.

Weighted least squares with linear constraints: of all figures that keep the balance, those for which the sum of
((figure - measurement) / standard error)^2 is least (the method of VDI 2048 and of data reconciliation in process
engineering). That least sum is compared with chi-square on as many degrees as there are measurements beyond need.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, ndtri

from pipeline.estimates import Node
from pipeline.estimates._intervals import Floats
from pipeline.estimates.waste import ratio
from pipeline.tables import in_polars

TINY = 1e-9
Z_95 = float(ndtri(0.975))


@dataclass(frozen=True)
class Reconciled:
    """Arrays by figure, in the measurements' unit: `adjusted` and its standard `error` (inf = can't be told).

    `adjustment` = adjusted - measured (nan where not measured); `standardised` = adjustment in its own standard errors
    (nan where no balance checks the figure). `chi_square` on `freedom` degrees; `chance` of one as large if every
    stated error is right (nan with no degree). `covariance` holds what can be told of the adjusted figures.
    """

    adjusted: Floats
    error: Floats
    adjustment: Floats
    standardised: Floats
    covariance: Floats
    chi_square: float
    freedom: int
    chance: float

    @property
    def most_suspect(self) -> NDArray[np.bool_]:
        """The figure with the largest standardised adjustment; all of them where the balance can't tell them apart."""
        size = np.abs(np.nan_to_num(self.standardised))
        return (size > 0) & (size >= size.max(initial=0) * (1 - 1e-6))


def reconcile(
    measured: ArrayLike, error: ArrayLike, balance: ArrayLike, constant: ArrayLike | None = None
) -> Reconciled:
    """The figures nearest to the n `measured` ones, by their standard `error`, with `balance` @ figures = `constant`.

    `balance` has shape (m, n), `constant` (m,) is zero unless given. An error of inf means not measured, of 0 known
    exactly. Raises `ValueError` for shapes that don't fit and for exact figures that can't keep the balance.
    """
    known_as, spread = np.asarray(measured, dtype=float), np.asarray(error, dtype=float)
    rows = np.asarray(balance, dtype=float).reshape(-1, len(known_as))
    right = np.zeros(len(rows)) if constant is None else np.asarray(constant, dtype=float)
    if spread.shape != known_as.shape or right.shape != (len(rows),) or not np.all(spread >= 0):
        raise ValueError("measured and error need one value a figure, constant one a balance; no error below zero")
    exact, weighed = spread == 0, (spread > 0) & np.isfinite(spread)
    rows = np.vstack([rows, np.eye(len(known_as))[exact]])
    right = np.concatenate([right, known_as[exact]])
    start, free = _solutions(rows, right)
    scaled = free[weighed] / spread[weighed, None]
    inverse, blind = _inverse(scaled)
    way = inverse @ ((known_as - start)[weighed] / spread[weighed])
    adjusted = start + free @ way
    half = free @ inverse
    covariance = half @ half.T
    after = np.sqrt(np.diag(covariance))
    after[np.linalg.norm(free @ blind, axis=1) > TINY] = np.inf
    measured_too = weighed | exact
    adjustment = np.where(measured_too, adjusted - np.where(measured_too, known_as, 0), np.nan)
    checked = np.where(weighed, spread, 0) ** 2 - np.where(np.isfinite(after), after, 0) ** 2
    tested = weighed & (checked > TINY * np.where(weighed, spread, 0) ** 2)
    standardised = np.full(len(known_as), np.nan)
    standardised[tested] = adjustment[tested] / np.sqrt(checked[tested])
    chi_square = float(np.sum((adjustment[weighed] / spread[weighed]) ** 2))
    freedom = int(weighed.sum()) - (scaled.shape[1] - blind.shape[1])
    chance = float(chdtrc(freedom, chi_square)) if freedom > 0 else float("nan")
    return Reconciled(adjusted, after, adjustment, standardised, covariance, chi_square, freedom, chance)


def _solutions(rows: Floats, right: Floats) -> tuple[Floats, Floats]:
    """One solution of rows @ x = right, and the directions (columns) along which all others lie."""
    left, sizes, directions = np.linalg.svd(rows)
    rank = int(np.sum(sizes > TINY * sizes.max(initial=1)))
    start = directions[:rank].T @ ((left.T @ right)[:rank] / sizes[:rank])
    if not np.allclose(rows @ start, right, atol=TINY * max(1.0, np.abs(right).max(initial=0))):
        raise ValueError("figures that are known exactly can't keep the balance")
    return start, directions[rank:].T


def _inverse(scaled: Floats) -> tuple[Floats, Floats]:
    """The pseudo-inverse, and the directions (columns) that no measurement sees."""
    left, sizes, directions = np.linalg.svd(scaled)
    rank = int(np.sum(sizes > TINY * sizes.max(initial=0)))
    return directions[:rank].T @ (left[:, :rank] / sizes[:rank]).T, directions[rank:].T


WEIGHED, OTHERS = "weighed pours", "other pours"
FIGURES = {
    "item": "VARCHAR",
    "from_on": "DATE",
    "to_on": "DATE",
    "figure": "VARCHAR",
    "measured_g": "DOUBLE",
    "measured_error_g": "DOUBLE",
    "adjusted_g": "DOUBLE",
    "adjusted_error_g": "DOUBLE",
    "low_g": "DOUBLE",
    "high_g": "DOUBLE",
    "adjustment_g": "DOUBLE",
    "standardised": "DOUBLE",
    "suspect": "BOOLEAN",
    "most_suspect": "BOOLEAN",
}
STRETCHES = {
    "item": "VARCHAR",
    "from_on": "DATE",
    "to_on": "DATE",
    "counted": "BOOLEAN",
    "chi_square": "DOUBLE",
    "freedom": "BIGINT",
    "chance": "DOUBLE",
    "agrees": "BOOLEAN",
    "suspects": "VARCHAR",
}
SUSPECT_AT = 2.0
"""An adjustment beyond so many of its standard errors is named."""


@dataclass(frozen=True)
class Measurement:
    """A figure of a stretch in grams, with its standard error (inf = not measured)."""

    figure: str
    grams: float
    error: float


@dataclass(frozen=True)
class Errors:
    """How far each kind of figure may be off: by a share that all of its kind have alike, and by grams a reading."""

    values: Mapping[str, float]

    def measured(self, figure: str, kind: str, grams: float | None, readings: float | None) -> Measurement:
        """A figure read `readings` times; one that was never read, and is nothing, is exactly that."""
        total, times = grams or 0.0, readings or 0.0
        error = np.hypot(
            self.values[f"{kind} error share"] * total, np.sqrt(times) * self.values[f"{kind} error grams"]
        )
        return Measurement(figure, total, float(error) if times else 0.0)


def stretches(tables: dict[str, pl.DataFrame]) -> Iterator[tuple[dict[str, Any], list[Measurement], Reconciled]]:
    """Each stretch in which something was measured, with its figures and what they come to."""
    errors = Errors(_usual(tables))
    pours = _pours(tables)
    frame = tables["material._stretch"].sort("item", "from_on")
    for row in frame.filter((pl.col("weighed_pours") > 0) | (pl.col("other_pours") > 0)).iter_rows(named=True):
        mine = pours.filter(pl.col("resin") == row["item"])
        unweighed = mine.filter(
            ~pl.col("weighed") & (pl.col("on_date") > row["from_on"]) & (pl.col("on_date") <= row["to_on"])
        )
        figures = [*_shelf(row, errors), *_weighed(row, errors), *_others(row, errors, mine, unweighed), *_totals()]
        names = [figure.figure for figure in figures]
        balance = np.array([[line.get(name, 0) for name in names] for line in _BALANCE], dtype=float)
        yield row, figures, reconcile([f.grams for f in figures], [f.error for f in figures], balance)


def _usual(tables: dict[str, pl.DataFrame]) -> dict[str, float]:
    """The figures of reference, with the shop's own in their stead."""
    values = dict(tables["material.figure"].select("figure", "value").iter_rows())
    for row in tables["settings.measure"].sort("from_date", "name").iter_rows(named=True):
        values |= {f"{row['name']} error {n}": row[n] for n in ("share", "grams") if row[n] is not None}
    return values


def _pours(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    pours = tables["work.pour"].join(tables["material.pour_need"].select("pour", "need_g"), on="pour", how="left")
    masses = ("resin", "mixed", "left_in_cup", "spilled", "trimmed", "good")
    return pours.filter(pl.col("mixed_mg") > 0, ~pl.col("mix_estimated").fill_null(False)).select(
        "pour",
        "resin",
        "on_date",
        "need_g",
        pl.col("purpose").fill_null("not known"),
        (~pl.col("estimated").fill_null(False) & (pl.col("pieces") > 0)).alias("weighed"),
        *((pl.col(f"{name}_mg").fill_null(0) / 1000).alias(f"{name}_g") for name in masses),
    )


def _shelf(row: dict[str, Any], errors: Errors) -> list[Measurement]:
    counted = errors.measured("on the shelf after", "counted", row["closing_g"], row["closing_readings"])
    named = row["counted"] and row["cause"] not in (None, "count")
    return [
        errors.measured("on the shelf before", "counted", row["opening_g"], row["opening_readings"]),
        errors.measured("bought", "bought", row["bought_g"], row["bought_readings"]),
        errors.measured("used without a pour", "other", row["other_g"], row["other_readings"]),
        counted if row["counted"] else Measurement(counted.figure, 0.0, np.inf),
        # what expired or was lost is known to be gone, but nobody weighed it
        Measurement("expired, lost or taken", 0.0, np.inf if named else 0.0),
    ]


def _weighed(row: dict[str, Any], errors: Errors) -> list[Measurement]:
    pours, resin = row["weighed_pours"], row["weighed_resin_g"]
    return [
        errors.measured(f"mixed, {WEIGHED}", "mixed", resin, pours),
        errors.measured(f"colourant, {WEIGHED}", "colourant", row["weighed_colourant_g"], row["weighed_coloured"]),
        errors.measured(f"deposited, {WEIGHED}", "deposited", row["deposited_g"], pours),
        errors.measured(f"trimmed, {WEIGHED}", "trimmed", row["trimmed_g"], pours if row["trimmed_g"] else 0),
        errors.measured(f"left in cup, {WEIGHED}", "left in cup", row["cup_g"], pours),
        errors.measured(f"spilled, {WEIGHED}", "spilled", row["spilled_g"], pours if row["spilled_g"] else 0),
        errors.measured(f"stuck to tools, {WEIGHED}", "stuck", errors.values["stuck share"] * resin, pours),
        Measurement(f"good, {WEIGHED}", 0.0, np.inf if pours else 0.0),
    ]


def _others(row: dict[str, Any], errors: Errors, pours: pl.DataFrame, unweighed: pl.DataFrame) -> Iterator[Measurement]:
    count, resin = row["other_pours"], row["other_resin_g"]
    yield errors.measured(f"mixed, {OTHERS}", "mixed", resin, count)
    yield errors.measured(f"colourant, {OTHERS}", "colourant", row["other_colourant_g"], row["other_coloured"])
    yield errors.measured(f"stuck to tools, {OTHERS}", "stuck", errors.values["stuck share"] * resin, count)
    known = pours.filter("weighed")
    for figure, part, size in (
        ("trimmed", "trimmed_g", "mixed_g"),
        ("left in cup", "left_in_cup_g", "mixed_g"),
        ("spilled", "spilled_g", "mixed_g"),
        ("good", "good_g", "need_g"),
    ):
        grams, error = expected(known, unweighed, part, size) if count else (0.0, 0.0)
        told = np.isfinite(grams) and np.isfinite(error)
        yield Measurement(f"{figure}, {OTHERS}", grams if told else 0.0, error if told else np.inf)


def expected(known: pl.DataFrame, unknown: pl.DataFrame, part: str, size: str) -> tuple[float, float]:
    """Grams of `part` in pours that were not weighed, by the ratio of weighed ones of their purpose, with its error.

    A purpose with fewer than two weighed pours takes the ratio of all. A pour of unknown size makes the sum unknown.
    """
    if unknown[size].null_count():
        return float("nan"), float("nan")
    total, variance = 0.0, 0.0
    sized = known.filter(pl.col(size) > 0)
    for (purpose,), pours in unknown.group_by("purpose", maintain_order=True):
        alike = sized.filter(pl.col("purpose") == purpose)
        model = alike if alike.height > 1 else sized
        grams, error = ratio(model[part].to_numpy(), model[size].to_numpy()).total(pours[size].to_numpy())
        total, variance = total + grams, variance + error**2
    return total, float(np.sqrt(variance))


def _totals() -> list[Measurement]:
    return [Measurement(figure, 0.0, np.inf) for figure in ("poured", "good", "wasted")]


def _mix(pours: str) -> dict[str, int]:
    """All that was mixed is somewhere."""
    went = ("good", "trimmed", "left in cup", "spilled", "stuck to tools")
    return {f"mixed, {pours}": 1, f"colourant, {pours}": 1} | {f"{name}, {pours}": -1 for name in went}


_BALANCE: tuple[dict[str, int], ...] = (
    {
        "on the shelf before": 1,
        "bought": 1,
        "used without a pour": -1,
        "on the shelf after": -1,
        "expired, lost or taken": -1,
        f"mixed, {WEIGHED}": -1,
        f"mixed, {OTHERS}": -1,
    },
    _mix(WEIGHED),
    _mix(OTHERS),
    {f"deposited, {WEIGHED}": 1, f"good, {WEIGHED}": -1, f"trimmed, {WEIGHED}": -1},
    {"poured": 1, f"mixed, {WEIGHED}": -1, f"mixed, {OTHERS}": -1},
    {"good": 1, f"good, {WEIGHED}": -1, f"good, {OTHERS}": -1},
    {
        "poured": 1,
        "good": -1,
        "wasted": -1,
        **{f"colourant, {pours}": 1 for pours in (WEIGHED, OTHERS)},
    },
)


def reconciled(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`material.reconciled`: every figure of a stretch as measured and as the balance wants it, in grams."""
    rows: list[dict[str, object]] = []
    for row, figures, result in stretches(tables):
        for number, figure in enumerate(figures):
            rows.append({name: row[name] for name in ("item", "from_on", "to_on")} | _figure(figure, result, number))
    return pl.DataFrame(rows, schema=in_polars(FIGURES))


def _figure(figure: Measurement, result: Reconciled, number: int) -> dict[str, object]:
    measured = np.isfinite(figure.error)
    # no minus before a nought
    adjusted, error = float(result.adjusted[number].round(6)) + 0.0, float(result.error[number].round(6))
    told, size = np.isfinite(error), float(result.standardised[number])
    return {
        "figure": figure.figure,
        "measured_g": figure.grams if measured else None,
        "measured_error_g": figure.error if measured else None,
        "adjusted_g": adjusted if told else None,
        "adjusted_error_g": error if told else None,
        # mass is never below zero
        "low_g": max(0.0, adjusted - Z_95 * error) if told else None,
        "high_g": max(0.0, adjusted + Z_95 * error) if told else None,
        "adjustment_g": float(result.adjustment[number]) if measured else None,
        "standardised": size if np.isfinite(size) else None,
        "suspect": bool(np.isfinite(size) and abs(size) > SUSPECT_AT),
        "most_suspect": bool(result.most_suspect[number]),
    }


def reconciled_stretch(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`material.reconciled_stretch`: whether a stretch's figures agree as well as their errors let one expect."""
    rows: list[dict[str, object]] = []
    for row, figures, result in stretches(tables):
        beyond = np.abs(np.nan_to_num(result.standardised)) > SUSPECT_AT
        order = np.argsort(-np.abs(np.nan_to_num(result.standardised)), kind="stable")
        tested = result.freedom > 0
        rows.append(
            {name: row[name] for name in ("item", "from_on", "to_on", "counted")}
            | {
                "chi_square": result.chi_square,
                "freedom": result.freedom,
                "chance": result.chance if tested else None,
                "agrees": result.chance >= 0.05 if tested else None,
                "suspects": "; ".join(figures[n].figure for n in order if beyond[n]) or None,
            }
        )
    return pl.DataFrame(rows, schema=in_polars(STRETCHES))


_INPUTS = ("material._stretch", "material.figure", "material.pour_need", "settings.measure", "work.pour")
NODES = (
    Node(
        "material.reconciled",
        _INPUTS,
        FIGURES,
        reconciled,
        "One row per resin, stretch between counts and figure: as measured, and as all figures together want it.",
        ("item", "from_on", "figure"),
    ),
    Node(
        "material.reconciled_stretch",
        _INPUTS,
        STRETCHES,
        reconciled_stretch,
        "One row per resin and stretch between counts: whether its figures agree within their stated errors.",
        ("item", "from_on"),
    ),
)
