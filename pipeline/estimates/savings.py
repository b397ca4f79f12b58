"""What goes with more rework: its money beyond that of comparable pieces; and rates before and after a change."""

from datetime import date

import numpy as np
import polars as pl

from pipeline.estimates import Node
from pipeline.estimates._hierarchy import excess
from pipeline.estimates._laplace import totals
from pipeline.estimates._pieces_by_factor import (
    JUDGED,
    MEASURES,
    OUTCOME,
    PRACTICES,
    SIDE,
    STOPPABLE,
    Group,
    Measure,
    group_of,
    groups,
    labelled,
    stack,
)
from pipeline.estimates._trend import Step, step
from pipeline.estimates.rates import LUCK, MORE, WORSE

Z_90 = 1.6448536
"""Of a Normal, 90 % lie within so many standard deviations."""

USUAL_REWORKS = 5
"""A group's cost of a rework is drawn towards the shop's as if it had so many more of the shop's (common practice)."""

CHANGE_MONTHS = 12
"""Months looked at on either side of a change: long enough for a rate, short enough to be the same shop."""


SAVING = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "months": "BIGINT",
    "cents_per_month": "DOUBLE",
    "low": "DOUBLE",
    "high": "DOUBLE",
    "chance_positive": "DOUBLE",
    "clear": "BOOLEAN",
}

CHANGE = {
    "change": "VARCHAR",
    "day": "DATE",
    "measure": "VARCHAR",
    "pieces_before": "BIGINT",
    "events_before": "BIGINT",
    "pieces_after": "BIGINT",
    "events_after": "BIGINT",
    "difference": "DOUBLE",
    "low": "DOUBLE",
    "high": "DOUBLE",
    "chance_lower": "DOUBLE",
    "trend_difference": "DOUBLE",
    "trend_low": "DOUBLE",
    "trend_high": "DOUBLE",
    "chance_lower_beside_trend": "DOUBLE",
    "chance_falling": "DOUBLE",
}


def saving(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality.saving`: a group's rework money a month beyond that of comparable pieces, the dearest first.

    In place of a group stand the shop's others, piece for piece with the same species or finish; in place of a practice
    what is where the fault is absent. `clear`: it is clear of zero, and no luck among all the factors looked at.
    """
    dated = tables["quality._outcome"].filter(pl.col("month").is_not_null() & ~pl.col("young").fill_null(False))
    if not len(dated):
        return stack((), SAVING)
    number = dated["month"].dt.year().cast(pl.Int64) * 12 + dated["month"].dt.month()
    months = int(np.ptp(number.to_numpy())) + 1
    variation, fitted = _variation(dated), tables["quality._adjusted"].filter(pl.col("more").is_not_null())
    looked_at = pl.col("factor").n_unique()
    no_luck = (pl.col("luck_share") * looked_at <= LUCK) & pl.col("verdict").is_in(WORSE)
    fitted = fitted.with_columns(no_luck.fill_null(False).alias("no_luck"))
    each = (_saving(group, fitted, months, variation) for group in groups(dated, STOPPABLE, MEASURES[:1]))
    return stack(each, SAVING).sort("cents_per_month", "factor", "level", descending=[True, False, False])


def _saving(group: Group, fitted: pl.DataFrame, months: int, variation: float) -> pl.DataFrame | None:
    """What the group's rework beyond the rest's costs a month: how much more often (`quality._adjusted`), times what
    one costs, times the pieces made."""
    more = fitted.filter(pl.col("factor") == group.factor, pl.col("measure") == group.measure.name)
    own, size = group.shop.codes[:, 0], group.shop.sizes[0]
    counted = {
        name: totals(own, of, size) for name, of in (("pieces", group.shop.pieces), ("events", group.shop.events))
    }
    made = pl.DataFrame({"level": group.shop.levels[0].astype(str)} | counted).join(group.cents(), on="level")
    rows = made.join(more.select("level", "no_luck", *MORE), on="level").sort("level")
    if rows.height < 2:
        return None
    pieces, events, cents, often, often_sd = (
        rows[name].cast(pl.Float64).to_numpy() for name in ("pieces", "events", "cents", "more", "more_sd")
    )
    each = (cents + USUAL_REWORKS * cents.sum() / max(events.sum(), 1)) / (events + USUAL_REWORKS)
    each_sd = each * variation / np.sqrt(events + USUAL_REWORKS)
    monthly = pieces / months
    mean = often * each * monthly
    sd = monthly * np.sqrt((often * each_sd) ** 2 + (often_sd * each) ** 2 + (often_sd * each_sd) ** 2)
    frame = pl.DataFrame(
        {
            "level": rows["level"],
            "months": np.full(len(mean), months),
            "cents_per_month": mean,
            "low": mean - Z_90 * sd,
            "high": mean + Z_90 * sd,
            "chance_positive": rows["more_chance"],
            "clear": rows["no_luck"],
        }
    ).with_columns(pl.lit(group.factor).alias("factor"), pl.col("clear") & (pl.col("low") > 0))
    if group.factor in PRACTICES:
        return frame.filter(pl.col("level") == "yes")
    return frame.filter(pl.col("level") != "unknown")


def _variation(outcome: pl.DataFrame) -> float:
    """How much single reworks differ in cost: their standard deviation over their mean; 1 where too few tell."""
    # sorted, since a sum of floats hangs on the order, and a table has none
    cents = outcome.filter("reworked")["rework_cents"].drop_nulls().sort().to_numpy()
    return float(cents.std(ddof=1) / cents.mean()) if len(cents) > 2 and cents.sum() > 0 else 1.0


def change(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality.change`: for each dated change and measure, how much the rate differs after it, with the mix held equal;
    plainly, and beside the trend that the shop was on.

    Only whole months are known of a piece: the month of the change counts as after if the change fell on its first
    day, and is left out otherwise.
    """
    pieces = labelled(tables["quality._judged"])
    changes = (
        tables["settings.change"].filter(pl.col("day").is_not_null()).select("name", "day").unique().sort("day", "name")
    )
    each = (_change(pieces, name, day, measure) for name, day in changes.iter_rows() for measure in MEASURES)
    return stack(each, CHANGE)


def _change(pieces: pl.DataFrame, name: str, day: date, measure: Measure) -> pl.DataFrame | None:
    start = pl.lit(day).dt.truncate("1mo")
    months = (
        (pl.col("month").dt.year() - start.dt.year()) * 12
        + pl.col("month").dt.month().cast(pl.Int64)
        - start.dt.month()
    )
    first_after = pl.when(start == pl.lit(day)).then(0).otherwise(1)
    side = (
        pl.when(months.is_between(-CHANGE_MONTHS, -1))
        .then(pl.lit("before"))
        .when((months >= first_after) & (months < first_after + CHANGE_MONTHS))
        .then(pl.lit("after"))
    )
    group = group_of(pieces.with_columns(side.alias(SIDE), months.alias("months")), SIDE, measure)
    if group.shop.sizes[0] < 2:
        return None
    rates = group.rates()
    after, before = 0, 1  # in the order of the alphabet
    more, beside = excess(group.shop, rates), _beside_trend(group)
    return pl.DataFrame(
        {
            "change": [name],
            "day": [day],
            "measure": [measure.name],
            "pieces_before": [int(rates.pieces[before])],
            "events_before": [int(rates.events[before])],
            "pieces_after": [int(rates.pieces[after])],
            "events_after": [int(rates.events[after])],
            "difference": [(more.weight * more.mean).sum(axis=0)[after]],
            "low": [more.quantile(0.05)[after]],
            "high": [more.quantile(0.95)[after]],
            "chance_lower": [more.chance_below(np.zeros(2))[after]],
            "trend_difference": [beside.difference],
            "trend_low": [beside.low],
            "trend_high": [beside.high],
            "chance_lower_beside_trend": [beside.chance_lower],
            "chance_falling": [beside.falling],
        }
    )


def _beside_trend(group: Group) -> Step:
    # in one order, since a sum of floats hangs on it
    rows = group.rows.sort("months", "level", *group.adjust_for, "events")
    years = (rows["months"].cast(pl.Float64) / 12).to_numpy()
    equal = rows.select(pl.col(group.adjust_for).rank("dense").cast(pl.Int64) - 1).to_numpy()
    after = (rows["level"] == "after").cast(pl.Float64).to_numpy()
    events = rows["events"].cast(pl.Float64).to_numpy()
    return step(events, years, after, equal, tuple(equal.max(axis=0) + 1), group.tries)


NODES = (
    Node(
        "quality.saving",
        ("quality._adjusted", *OUTCOME),
        SAVING,
        saving,
        "One row per group or practice: its rework money in a month beyond that of comparable pieces.",
        ("factor", "level"),
        ("low <= high", "not clear or low > 0"),
    ),
    Node(
        "quality.change",
        (*JUDGED, "settings.change"),
        CHANGE,
        change,
        "One row per dated change and measure: the rate after it less the rate before, with the mix held equal, and "
        "how much of that lies beyond the shop's own trend.",
        ("change", "day", "measure"),
        ("low <= high", "trend_low <= trend_high"),
    ),
)
