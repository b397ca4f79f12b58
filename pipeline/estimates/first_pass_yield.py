"""First-pass yield over time: each month's share of pieces that did not pass, within or beyond its control limits."""

import numpy as np
import polars as pl

from pipeline.estimates import Node
from pipeline.estimates._intervals import Floats, g_chart, more_than_chance, p_chart
from pipeline.estimates._pieces_by_factor import JUDGED, stack

MONTH = {
    "month": "DATE",
    "pieces": "BIGINT",
    "first_pass": "BIGINT",
    "rework": "BIGINT",
    "rate": "DOUBLE",
    "centre": "DOUBLE",
    "lower": "DOUBLE",
    "upper": "DOUBLE",
    "outside": "BOOLEAN",
    "method": "VARCHAR",
    "widened": "DOUBLE",
    "young_pieces": "BIGINT",
}


def month(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality.month`: the share of a month's pieces that did not pass first time, with its control limits.

    Where less than one such piece is expected of a month, the months since the last one are taken together: method "g"
    asks how many pieces were made until it happened, and its limits are turned into rates. Where months differ more
    than chance, the limits of shares are `widened` so many times. A month of `young_pieces` is never too good.
    """
    counted = (
        tables["quality._judged"]
        .filter(pl.col("month").is_not_null())
        .with_columns(failed=pl.col("reworked").fill_null(False) | pl.col("scrapped").fill_null(False))
        .group_by("month")
        .agg(
            pl.len().cast(pl.Int64).alias("pieces"),
            (~pl.col("failed")).sum().cast(pl.Int64).alias("first_pass"),
            pl.col("reworked").fill_null(False).sum().cast(pl.Int64).alias("rework"),
            pl.col("young").fill_null(False).sum().cast(pl.Int64).alias("young_pieces"),
        )
        .sort("month")
    )
    if not len(counted):
        return stack((), MONTH)
    pieces = counted["pieces"].to_numpy().astype(float)
    failed = pieces - counted["first_pass"].to_numpy()
    young = counted["young_pieces"].to_numpy() > 0
    # months whose pieces may still come back say nothing of what is usual
    old = ~young if not young.all() else young
    centre = float(failed[old].sum() / pieces[old].sum())
    widened = more_than_chance(failed[old], pieces[old], centre)
    chart = p_chart(failed, pieces, centre).wider(pieces, failed, widened)
    run = _run(pieces, failed)
    rare = g_chart(failed, run, chart.centre)
    few = (pieces * chart.centre < 1) & (0 < chart.centre < 1)
    wanted = np.maximum(failed, 1)
    # a long run is a low rate; a run can't be shorter than its events, so a limit there is none
    rare_upper = np.where(rare.lower > wanted, wanted / np.maximum(rare.lower, 1), 1.0)
    rate = np.where(few, failed / run, failed / pieces)
    return stack(
        (
            counted.with_columns(
                rate=rate,
                centre=np.full(len(pieces), chart.centre),
                lower=np.where(few, wanted / rare.upper, chart.lower),
                upper=np.where(few, rare_upper, chart.upper),
                outside=np.where(few, rare.outside, chart.outside) & ~(young & (rate < chart.centre)),
                method=pl.Series(np.where(few, "g", "p")),
                widened=np.where(few, 1.0, widened),
            ),
        ),
        MONTH,
    )


def _run(pieces: Floats, failed: Floats) -> Floats:
    """Pieces made since the month of the last failure before, with those of this month."""
    made = np.concatenate([[0], np.cumsum(pieces)])
    reset = np.where(failed > 0, np.arange(1, len(pieces) + 1), 0)
    before = np.concatenate([[0], np.maximum.accumulate(reset)[:-1]])
    return made[1:] - made[before]


NODES = (
    Node(
        "quality.month",
        JUDGED,
        MONTH,
        month,
        "One row per month: the share of its pieces that did not pass first time, with control limits.",
        ("month",),
        ("first_pass <= pieces",),
    ),
)
