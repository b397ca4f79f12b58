"""What keeps coming back to the bench: how often, by group, as counted and with the other factors held equal."""

import numpy as np
import polars as pl

from pipeline.enough import FEW
from pipeline.estimates import Node
from pipeline.estimates._firth import unshrunk
from pipeline.estimates._hierarchy import AdjustedRates, excess
from pipeline.estimates._intervals import mantel_haenszel, wilson
from pipeline.estimates._laplace import Floats, totals
from pipeline.estimates._luck import luck
from pipeline.estimates._pieces_by_factor import (
    BOTH,
    JUDGED,
    MAIN,
    MEASURES,
    OTHERS,
    OUTCOME,
    PRACTICES,
    STOPPABLE,
    Group,
    groups,
    stack,
)

# thresholds of the words: common practice, no source
TOLD_APART_SHARE = 0.20
LIKELY, VERY_LIKELY = 0.90, 0.95
LUCK = 0.08
"""A group is named as worse only where the highest of its factor stands so by luck alone in fewer shops than that."""

WORSE = ("very likely worse", "likely worse")

FACTORS = (*MAIN, BOTH, *OTHERS, *PRACTICES)

ADJUSTED = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "measure": "VARCHAR",
    "pieces": "BIGINT",
    "events": "BIGINT",
    "rate": "DOUBLE",
    "low": "DOUBLE",
    "high": "DOUBLE",
    "adjusted": "DOUBLE",
    "adjusted_low": "DOUBLE",
    "adjusted_high": "DOUBLE",
    "unshrunk": "DOUBLE",
    "chance_worse": "DOUBLE",
    "told_apart_share": "DOUBLE",
    "luck_share": "DOUBLE",
    "verdict": "VARCHAR",
}

MORE = {"more": "DOUBLE", "more_sd": "DOUBLE", "more_chance": "DOUBLE"}
"""Of groups that could be stopped: how much higher the rework of their own pieces is than if the rest stood in for
them, its standard deviation, and the chance that it is higher at all."""

CENTS = {"factor": "VARCHAR", "level": "VARCHAR", "measure": "VARCHAR", "cents": "BIGINT"}

RATE = ADJUSTED | {"cents": "BIGINT", "cents_per_piece": "DOUBLE"}

ODDS = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "measure": "VARCHAR",
    "odds_ratio": "DOUBLE",
    "low": "DOUBLE",
    "high": "DOUBLE",
    "strata_alike": "DOUBLE",
}


def adjusted(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality._adjusted`: a row a factor, level and measure, without what it cost."""
    each = (_with_more(group) for group in groups(tables["quality._judged"], FACTORS, MEASURES))
    return stack(each, ADJUSTED | MORE)


def _with_more(group: Group) -> pl.DataFrame:
    """The rates, and for rework what `quality.saving` needs of the same fits."""
    rates = group.rates()
    found = judged_rates(group, rates)
    if (
        group.measure.name != "rework"
        or group.factor not in STOPPABLE
        or len(rates.levels) < 2
        or not rates.events.sum()
    ):
        return found
    more = excess(group.shop, rates)
    mean, sd = more.moments()
    chance = 1 - more.chance_below(np.zeros(len(mean)))
    columns = {"level": rates.levels.astype(str), "more": mean, "more_sd": sd, "more_chance": chance}
    return found.join(pl.DataFrame(columns), on="level", maintain_order="left")


def judged_rates(group: Group, rates: AdjustedRates) -> pl.DataFrame:
    """A group's rows of `quality._adjusted`, by level."""
    low, high = wilson(rates.events, rates.pieces)
    # a pair of wood and finish is compared as made
    alike = group.shop.alone() if group.factor == BOTH else group.shop
    by_luck = luck(alike.fewer(group.tries))
    found = pl.DataFrame(
        {
            "level": rates.levels.astype(str),
            "pieces": rates.pieces.astype(np.int64),
            "events": rates.events.astype(np.int64),
            "rate": rates.events / rates.pieces,
            "low": low,
            "high": high,
            "adjusted": rates.rate,
            "adjusted_low": rates.low,
            "adjusted_high": rates.high,
            "unshrunk": np.full(len(low), np.nan) if group.factor == BOTH else unshrunk(group.shop),
            "chance_worse": rates.chance_worse,
            "told_apart_share": _told_apart(group),
        }
    )
    return found.with_columns(
        pl.lit(group.factor).alias("factor"),
        pl.lit(group.measure.name).alias("measure"),
        pl.col("unshrunk", "chance_worse", "told_apart_share").fill_nan(None),
        pl.lit(by_luck, pl.Float64).fill_nan(None).alias("luck_share"),
    ).with_columns(_verdict().alias("verdict"))


def rate(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality.rate`: the adjusted rates with what each group's rework, scrap or defects cost."""
    by = ["factor", "level", "measure"]
    cents = stack((_cents(group) for group in groups(tables["quality._outcome"], FACTORS, MEASURES)), CENTS)
    each = (pl.col("cents") / pl.col("pieces")).alias("cents_per_piece")
    return tables["quality._adjusted"].join(cents, on=by, maintain_order="left").with_columns(each).select(RATE.keys())


def _cents(group: Group) -> pl.DataFrame:
    names = (pl.lit(group.factor).alias("factor"), pl.lit(group.measure.name).alias("measure"))
    return group.cents().with_columns(names)


def _told_apart(group: Group) -> Floats:
    """The share of each level's pieces whose other main factors are also those of another level's pieces.

    NaN where the question makes no sense: a single level, or a combination of both main factors. A species has one
    pore structure, so that is compared within the finish alone.
    """
    shop = group.shop
    if group.factor == BOTH or shop.sizes[0] < 2:
        return np.full(shop.sizes[0], np.nan)
    names = ("finish",) if group.factor == "pore_structure" else tuple(m for m in MAIN if m in group.adjust_for)
    within = shop.codes[:, [1 + group.adjust_for.index(name) for name in names]]
    _, mix = np.unique(within, axis=0, return_inverse=True)
    seen = np.unique(np.stack([mix.ravel(), shop.codes[:, 0]], axis=1), axis=0)
    shared = np.bincount(seen[:, 0])[mix.ravel()] > 1
    own = shop.codes[:, 0]
    return totals(own, shop.pieces * shared, shop.sizes[0]) / totals(own, shop.pieces, shop.sizes[0])


def _verdict() -> pl.Expr:
    return (
        pl.when(pl.col("pieces") < FEW)
        .then(pl.lit("too few"))
        .when(pl.col("told_apart_share") < TOLD_APART_SHARE)
        .then(pl.lit("not told apart"))
        .when(pl.col("luck_share") > LUCK)
        .then(pl.lit("not shown"))
        .when(pl.col("chance_worse") >= VERY_LIKELY)
        .then(pl.lit(WORSE[0]))
        .when(pl.col("chance_worse") >= LIKELY)
        .then(pl.lit(WORSE[1]))
        .otherwise(pl.lit("not shown"))
    )


def odds(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`quality.odds`: each species (finish) against all others within each finish (species), without any shrinking."""
    return stack((_odds(group) for group in groups(tables["quality._judged"], MAIN, MEASURES)), ODDS)


def _odds(group: Group) -> pl.DataFrame:
    own, other = group.shop.codes[:, :2].T
    table = np.zeros((2, *group.shop.sizes[:2]))  # events and the rest, by level and stratum
    np.add.at(table[0], (own, other), group.shop.events)
    np.add.at(table[1], (own, other), group.shop.pieces - group.shop.events)
    rest = table.sum(axis=1, keepdims=True) - table
    against = np.stack([table, rest]).transpose(2, 3, 0, 1)  # level, stratum, this one or the rest, event or not
    ratios = [mantel_haenszel(strata) for strata in against]
    return pl.DataFrame(
        {
            "level": group.shop.levels[0].astype(str),
            "odds_ratio": [r.odds_ratio for r in ratios],
            "low": [r.low for r in ratios],
            "high": [r.high for r in ratios],
            "strata_alike": [r.tarone_p_value for r in ratios],
        }
    ).select(
        pl.lit(group.factor).alias("factor"),
        pl.lit(group.measure.name).alias("measure"),
        "level",
        pl.when(pl.col("odds_ratio").is_finite()).then("odds_ratio"),
        pl.col("low", "high", "strata_alike").fill_nan(None),
    )


NODES = (
    Node(
        "quality._adjusted",
        JUDGED,
        ADJUSTED | MORE,
        adjusted,
        "One row per factor, level and measure: how often, as counted and with the other factors held equal.",
        ("factor", "level", "measure"),
        ("low <= rate and rate <= high", "adjusted_low <= adjusted and adjusted <= adjusted_high", "events <= pieces"),
    ),
    Node(
        "quality.rate",
        ("quality._adjusted", *OUTCOME),
        RATE,
        rate,
        "One row per factor, level and measure: how often, with the other factors held equal, and what it cost.",
        ("factor", "level", "measure"),
    ),
    Node(
        "quality.odds",
        JUDGED,
        ODDS,
        odds,
        "One row per species or finish and measure: its odds against all others' within the same finish or species.",
        ("factor", "level", "measure"),
    ),
)
