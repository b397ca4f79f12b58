"""Judged pieces as the estimates take them: labelled by every factor, counted by measure, added up to cells.

Input is one row a judged piece: `quality._outcome`, or `quality._judged` where no cost is asked for. A null species,
finish, product, pore structure or supplier is the level 'unknown'; a coat and a practice count only where they are
known; a piece without an answer is no piece of a measure.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import polars as pl

from pipeline.estimates._design_effect import tries
from pipeline.estimates._hierarchy import AdjustedRates, adjust, pool
from pipeline.estimates._laplace import Cells, cells
from pipeline.tables import in_polars

JUDGED = ("quality._judged",)
OUTCOME = ("quality._outcome",)
PRACTICES = ("off_ratio", "short_stir", "early_touch", "cold", "damp", "wet_wood", "unsealed")
MAIN = ("species", "finish")
BESIDE = ("product", "era")
"""What is held equal beside the other main factor, for a main one."""

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

    `rows`: labelled pieces with `level` and `events` (0 or 1). `frame`: the same added up by `level` and the columns of
    `adjust_for`, with pieces and events. `shop`: the same as cells.
    """

    factor: str
    measure: Measure
    rows: pl.DataFrame
    adjust_for: tuple[str, ...]

    @cached_property
    def tries(self) -> float:
        """How many pieces say as much as one that fails or passes on its own: those of a lot, a run, or a wood in one
        finish may fail together.
        """
        by = ("level", *self.adjust_for)
        # a wood in one finish alone can't differ between finishes
        several = pl.col(self.adjust_for[0]).n_unique().over("level") > 1
        crossed = (pl.when(several).then(pl.concat_str(MAIN, separator=" ")),) if self.factor in MAIN else ()
        kinds = [pl.concat_str("level", name, separator=" ") for name in TOGETHER] + list(crossed)
        codes = [(kind.rank("dense").cast(pl.Int64) - 1).fill_null(-1).alias(f"_{n}") for n, kind in enumerate(kinds)]
        cell = self.frame.select(by).with_row_index("_cell")
        pieces = self.rows.select(*by, "events", *codes).join(cell, on=by, maintain_order="left")
        clusters = [pieces[f"_{n}"].to_numpy() for n in range(len(kinds))]
        events = pieces["events"].to_numpy().astype(float)
        return tries(self.shop, pieces["_cell"].cast(pl.Int64).to_numpy(), events, clusters)

    @cached_property
    def frame(self) -> pl.DataFrame:
        by = ("level", *self.adjust_for)
        made = pl.len().cast(pl.Int64).alias("pieces")
        return self.rows.group_by(by).agg(made, pl.col("events").sum()).sort(by)

    @cached_property
    def shop(self) -> Cells:
        labels = [self.frame[name].to_numpy() for name in ("level", *self.adjust_for)]
        return cells(self.frame["events"].to_numpy(), *labels, pieces=self.frame["pieces"].to_numpy())

    def rates(self) -> AdjustedRates:
        return pool(self.shop) if self.factor == BOTH else adjust(self.shop, self.tries)

    def cents(self) -> pl.DataFrame:
        """What it cost by level, in order of level: `level`, `cents`."""
        cents = self.measure.cents.fill_null(0).alias("cents")
        return self.rows.select("level", cents).group_by("level").agg(pl.col("cents").sum()).sort("level")


def labelled(outcome: pl.DataFrame) -> pl.DataFrame:
    """The outcome with a text label for every factor: 'unknown' for null, but null for an unknown coat or practice."""
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
    adjust_for = (*(m for m in MAIN if m != factor), *(BESIDE if factor in MAIN else ()))
    return Group(factor, measure, rows, adjust_for)


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
