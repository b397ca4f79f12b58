"""The predictor judged by the shop's own past: every sold piece predicted from what was known before it.

Known before a piece = the pieces finished on earlier days, and the pay in force on its day. The models are refitted
some forty times over the history (whenever it has grown by a few per cent), so a piece is predicted from at most that
share less than was known. Cost is per unit: what the bench cost then, and material at today's replacement prices
(for the predictor and the two plain rules alike).
"""

from itertools import pairwise

import numpy as np
import polars as pl
from scipy.special import stdtrit

from pipeline.estimates import cents
from pipeline.estimates.quote_model import Array, units
from pipeline.estimates.quote_rates import Bench
from pipeline.estimates.quote_spread import LEAST, code_both, fit_both, spread_coded, usable, work
from pipeline.tables import in_polars

REFITS = 40
PIECE_COLUMNS = {
    "piece": "VARCHAR",
    "product": "VARCHAR",
    "finished": "DATE",
    "sold": "DATE",
    "known_pieces": "BIGINT",
    "large": "BOOLEAN",
    "unit_cost_cents": "BIGINT",
    "predicted_10_cents": "BIGINT",
    "predicted_50_cents": "BIGINT",
    "predicted_80_cents": "BIGINT",
    "predicted_90_cents": "BIGINT",
    "average_low_cents": "BIGINT",
    "average_cents": "BIGINT",
    "average_high_cents": "BIGINT",
    "rule_low_cents": "BIGINT",
    "rule_cents": "BIGINT",
    "rule_high_cents": "BIGINT",
}
SCORE_COLUMNS = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "pieces": "BIGINT",
    "coverage_share": "DOUBLE",
    "coverage_low_share": "DOUBLE",
    "coverage_high_share": "DOUBLE",
    "above_share": "DOUBLE",
    "pinball_cents": "BIGINT",
    "average_pinball_cents": "BIGINT",
    "rule_pinball_cents": "BIGINT",
    "error_cents": "BIGINT",
    "average_error_cents": "BIGINT",
    "rule_error_cents": "BIGINT",
}


def backtest(history: pl.DataFrame, person_rate: pl.DataFrame) -> pl.DataFrame:
    """One row per sold piece with its true cost and what was predicted (`PIECE_COLUMNS`), from price.history."""
    history = usable(history)
    days = history["finished"].to_numpy()
    before = np.searchsorted(days, days, side="left")
    begin = int(np.searchsorted(before, LEAST))
    if begin >= history.height:
        return pl.DataFrame(schema=in_polars(PIECE_COLUMNS))
    past, bench = work(history), Bench.of(history, person_rate)
    coded = code_both(past)
    each = units(history)
    material = history["material_cents_today"].cast(pl.Float64).fill_null(0.0).to_numpy() / each
    cost = (bench.labour + bench.machine + bench.overhead) / each + material
    rules = Rules(bench, bench.hours / each, material, cost)
    blocks = []
    for start, stop in _blocks(begin, history.height):
        n, here = int(before[start]), slice(start, stop)
        models = fit_both(past, coded, n)
        rates = bench.known(n, float(bench.pay[start]))
        hour = bench.hours_at(rates, float(bench.pay[start]))
        raised = rates.labour * (bench.pay[here] / bench.pay[start] - 1)
        found = spread_coded(
            models,
            hour.first(n),
            hour.expected[here] + raised,
            (coded.x_hours[here], coded.x_cents[here]),
            past.area[here],
            past.volume[here],
        )
        large = (
            past.area[here] >= np.nanquantile(past.area[:n], 2 / 3)
            if np.isfinite(past.area[:n]).any()
            else np.zeros(stop - start, bool)
        )
        ours = np.column_stack([found.at(level) for level in (0.1, 0.5, 0.8, 0.9)])
        plain = rules.at(n, here, rates.labour * bench.pay[here] / bench.pay[start])
        blocks.append(np.column_stack([np.full(stop - start, n), large, cost[here], ours, plain]))
    names = list(PIECE_COLUMNS)[4:]
    numbers = pl.DataFrame(np.vstack(blocks), schema=names, orient="row").with_columns(
        cents(pl.exclude("large")), pl.col("large") > 0
    )
    return (
        history[begin:]
        .select("piece", "product", "finished", "sold")
        .hstack(numbers)
        .filter(pl.col("sold").is_not_null())
    )


def _blocks(begin: int, end: int) -> list[tuple[int, int]]:
    growth = max((end / max(begin, 1)) ** (1 / REFITS), 1.0)
    edges = [begin]
    while edges[-1] < end:
        edges.append(min(max(edges[-1] + 1, int(edges[-1] * growth)), end))
    return list(pairwise(edges))


class Rules:
    """The two plain rules: the product's average cost, and its average hours × rate + average materials × 2.

    Both with ± Student's t of the product's costs; the whole shop's where the product has fewer than two pieces.
    """

    def __init__(self, bench: Bench, hours: Array, material: Array, cost: Array) -> None:
        self.product, self.width = bench.product, len(bench.names)
        self.hours, self.material, self.cost = hours, material, cost

    def at(self, n: int, here: slice, pay: Array) -> Array:
        """Low, middle and high of both rules (k × 6) for the pieces `here`, from the first n pieces and today's pay."""
        product = self.product[:n]
        count, cost, square, hours, material = (
            np.append(np.bincount(product, w[:n], self.width), w[:n].sum())
            for w in (np.ones_like(self.cost), self.cost, self.cost**2, self.hours, self.material)
        )
        at = np.where(count[self.product[here]] >= 2, self.product[here], self.width)
        k = count[at]
        mean = cost[at] / k
        sd = np.sqrt(np.maximum(square[at] / k - mean**2, 0) * k / (k - 1) * (1 + 1 / k))
        reach = stdtrit(k - 1, 0.9) * sd
        rule = hours[at] / k * pay + 2 * material[at] / k
        return np.column_stack([mean - reach, mean, mean + reach, rule - reach, rule, rule + reach])


def score(pieces: pl.DataFrame) -> pl.DataFrame:
    """The score (`SCORE_COLUMNS`) over all predicted pieces, by product, and of the largest third, from `backtest`.

    Coverage is of the 80 % interval, with its Wilson 95 % limits; pinball is the mean over 10, 50 and 90 %; error is
    the median absolute one.
    """
    scopes = (
        pieces.with_columns(factor=pl.lit("all"), level=pl.lit("")),
        pieces.filter("large").with_columns(factor=pl.lit("size"), level=pl.lit("largest third")),
        pieces.with_columns(factor=pl.lit("product"), level=pl.col("product").fill_null("")),
    )
    inside = pl.col("unit_cost_cents").is_between("predicted_10_cents", "predicted_90_cents")
    n, p, z2 = pl.len(), inside.mean(), 1.959964**2
    half = (z2 * (p * (1 - p) / n + z2 / (4 * n * n))).sqrt() / (1 + z2 / n)
    centre = (p + z2 / (2 * n)) / (1 + z2 / n)
    found = pl.concat(scopes).group_by("factor", "level", maintain_order=True)
    return found.agg(
        pieces=n.cast(pl.Int64),
        coverage_share=p,
        coverage_low_share=centre - half,
        coverage_high_share=centre + half,
        above_share=(pl.col("unit_cost_cents") > pl.col("predicted_90_cents")).mean(),
        pinball_cents=_pinball("predicted_10_cents", "predicted_50_cents", "predicted_90_cents"),
        average_pinball_cents=_pinball("average_low_cents", "average_cents", "average_high_cents"),
        rule_pinball_cents=_pinball("rule_low_cents", "rule_cents", "rule_high_cents"),
        error_cents=_error("predicted_50_cents"),
        average_error_cents=_error("average_cents"),
        rule_error_cents=_error("rule_cents"),
    ).select(list(SCORE_COLUMNS))


def _pinball(*columns: str) -> pl.Expr:
    losses = []
    for column, level in zip(columns, (0.1, 0.5, 0.9), strict=True):
        miss = pl.col("unit_cost_cents") - pl.col(column)
        losses.append(pl.max_horizontal(level * miss, (level - 1) * miss))
    return cents(pl.sum_horizontal(losses).mean() / 3)


def _error(column: str) -> pl.Expr:
    return cents((pl.col("unit_cost_cents") - pl.col(column)).abs().median())
