"""Judged pieces as the estimates take them: labelled by every factor, counted by measure, added up to cells.

Input is one row a judged piece: `quality._outcome`, or `quality._judged` where no cost is asked for. A null species,
finish, product, pore structure or supplier is the level 'unknown'; a coat and a practice count only where they are
known; a piece without an answer is no piece of a measure.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl

from pipeline.estimates._design_effect import tries
from pipeline.estimates._hierarchy import AdjustedRates, adjust, pool
from pipeline.estimates._laplace import Cells, Ints, totals
from pipeline.tables import in_polars

JUDGED = ("quality._judged",)
OUTCOME = ("quality._outcome",)
PRACTICES = ("off_ratio", "short_stir", "early_touch", "cold", "damp", "wet_wood", "unsealed")
MAIN = ("species", "finish")
BESIDE = ("product", "era")
"""What is held equal beside the main factors."""

SIDE = "side"
"""The factor whose levels are before and after a change."""

TOGETHER = ("lot", "run")
ERAS = 6
BOTH = "species × finish"
STOPPABLE = (*MAIN, "product", "supplier", *PRACTICES)
"""Factors whose groups can be stopped, or mended."""

OTHERS = ("product", "pore_structure", "coat", "supplier")


@dataclass(frozen=True)
class Measure:
    """Something that happens to a piece: its `name`, whether it did, and the column of what it cost."""

    name: str
    happened: pl.Expr
    cents: pl.Expr


MEASURES = (
    Measure("rework", pl.col("reworked"), pl.col("rework_cents")),
    Measure("scrap", pl.col("scrapped"), pl.col("scrap_cents")),
    Measure("defect", pl.col("defects") > 0, pl.col("defect_cents")),
)


@dataclass(frozen=True)
class Group:
    """A factor's pieces for one measure: those that have a level of it and an answer.

    `rows`: labelled pieces with `level` and `events` (0 or 1); `adjust_for`: what is held equal beside it. `shop`: the
    same added up to cells.
    """

    factor: str
    measure: Measure
    rows: pl.DataFrame
    adjust_for: tuple[str, ...]

    @cached_property
    def shop(self) -> Cells:
        return self._placed[0]

    @cached_property
    def _placed(self) -> tuple[Cells, Ints]:
        """The cells, and which of them each piece is in."""
        by = ("level", *self.adjust_for)
        codes = self.rows.select(pl.col(by).rank("dense").cast(pl.Int64) - 1).to_numpy()
        levels = self.rows.select(pl.col(by).unique().sort().implode()).row(0)
        distinct, where = np.unique(codes, axis=0, return_inverse=True)
        place, size = where.ravel(), len(distinct)
        events = self.rows["events"].cast(pl.Float64).to_numpy()
        labels = tuple(np.array(names, dtype=object) for names in levels)
        return Cells(totals(place, events, size), totals(place, np.ones(len(place)), size), distinct, labels), place

    @cached_property
    def tries(self) -> float:
        """How many pieces say as much as one that fails or passes on its own: those of a lot, a run, or a wood in one
        finish may fail together.
        """
        shop, place = self._placed
        own = shop.codes[place, 0]
        kinds = self.rows.select(pl.col(TOGETHER).rank("dense").cast(pl.Int64).fill_null(0) - 1).to_numpy()
        clusters = [np.where(kind < 0, -1, kind + own * (kind.max() + 1)) for kind in kinds.T]
        mixed = None
        if self.factor in MAIN:
            other = shop.codes[place, 1]
            # a wood in one finish alone can't differ between finishes
            several = np.bincount(np.unique(shop.codes[:, :2], axis=0)[:, 0]) > 1
            mixed = np.where(several[own], other + own * (other.max() + 1), -1)
        return tries(shop, place, self.rows["events"].cast(pl.Float64).to_numpy(), clusters, mixed)

    def rates(self) -> AdjustedRates:
        return pool(self.shop) if self.factor == BOTH else adjust(self.shop, self.tries)

    def cents(self) -> pl.DataFrame:
        """What it cost by level, in order of level: `level`, `cents`."""
        cents = self.measure.cents.fill_null(0).alias("cents")
        return self.rows.select("level", cents).group_by("level").agg(pl.col("cents").sum()).sort("level")


def labelled(outcome: pl.DataFrame) -> pl.DataFrame:
    """The outcome with a text label for every factor: 'unknown' for null, but null for an unknown coat or practice.

    Without the young: what may still come back would look as if it had passed.
    """
    outcome = outcome.filter(~pl.col("young").fill_null(False))
    known = [pl.col(c).cast(pl.String).fill_null("unknown") for c in (*MAIN, *OTHERS) if c != "coat"]
    # only a piece that had a pour can have a coat
    known.append(pl.col("coat").cast(pl.String))
    practices = [pl.when(c).then(pl.lit("yes")).when(~pl.col(c)).then(pl.lit("no")).alias(c) for c in PRACTICES]
    both = pl.concat_str(MAIN, separator=" × ").alias(BOTH)
    # sixths of the history, by pieces: who learns, and what is found late, is no cause
    place = pl.col("month").rank("max") - 1
    era = (place * ERAS // pl.col("month").count()).cast(pl.String).fill_null("unknown").alias("era")
    return outcome.with_columns(*known, *practices, era).with_columns(both)


def group_of(pieces: pl.DataFrame, factor: str, measure: Measure) -> Group:
    """`pieces`: labelled, of which those count that have a level of `factor` and an answer."""
    answered = (pl.col(factor).alias("level"), measure.happened.cast(pl.Int64).alias("events"))
    rows = pieces.with_columns(answered).drop_nulls(["level", "events"])
    return Group(factor, measure, rows, _held_equal(factor))


def _held_equal(factor: str) -> tuple[str, ...]:
    # a pair is what its wood and its finish are; before and after a change are times themselves
    beside = {BOTH: (), SIDE: BESIDE[:1]}.get(factor, BESIDE)
    return tuple(name for name in (*MAIN, *beside) if name != factor)


def groups(outcome: pl.DataFrame, factors: tuple[str, ...], measures: tuple[Measure, ...]) -> Iterator[Group]:
    pieces = labelled(outcome)
    for factor in factors:
        for measure in measures:
            group = group_of(pieces, factor, measure)
            if len(group.rows):
                yield group


def stack(frames: Iterable[pl.DataFrame | None], columns: dict[str, str]) -> pl.DataFrame:
    """The frames one below the other, with just `columns` (name to DuckDB type); what a frame lacks is null."""
    types = in_polars(columns)
    whole = [
        f.with_columns(pl.lit(None).alias(c) for c in columns if c not in f.columns) for f in frames if f is not None
    ]
    return pl.concat(
        [pl.DataFrame(schema=types), *(f.select(pl.col(c).cast(t) for c, t in types.items()) for f in whole)]
    )
