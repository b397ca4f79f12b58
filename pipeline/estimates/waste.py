"""What was wasted where only some pours were weighed, and how much of the wood became work: sums with intervals.

Both are ratios: waste over what was mixed, finished over bought. The interval of a ratio of sums takes the scatter to
grow with the size of each (ratio estimator under a model of the variance: R. M. Royall, Biometrika 57, 1970; from
memory), and Student's t for the few that were weighed.
"""

import csv
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
import polars as pl
from scipy.special import expit, stdtrit

from pipeline.estimates import Node, cents
from pipeline.estimates._intervals import Floats
from pipeline.tables import in_polars


@dataclass(frozen=True)
class Ratio:
    """`share` = sum of parts over sum of sizes among the known ones, whose sizes and residuals are kept."""

    share: float
    sizes: Floats
    residuals: Floats

    def total(self, unknown: Floats) -> tuple[float, float]:
        """The part to expect of `unknown` further sizes, and its standard error (nan with fewer than two known).

        A part may scatter with the root of its size (many small losses) or with its size (a habit). A few weighings
        can't tell, so the variance is the mean of both, weighted by how likely each is under normal scatter; it is that
        of the new parts, and of what the share itself may be off.
        """
        freedom = len(self.sizes) - 1
        more = float(unknown.sum())
        if freedom < 1:
            return self.share * more if freedom == 0 else float("nan"), float("nan")
        scatter = [float(np.sum(self.residuals**2 / self.sizes**by)) / freedom for by in (1, 2)]
        if min(scatter) == 0:
            return self.share * more, 0.0
        weight = expit(0.5 * (self._likelihood(2, scatter[1]) - self._likelihood(1, scatter[0])))
        variance = 0.0
        for by, part in ((1, 1 - weight), (2, weight)):
            own = float(np.sum(self.sizes**by)) * (more / float(self.sizes.sum())) ** 2
            variance += part * scatter[by - 1] * (float(np.sum(unknown**by)) + own)
        return self.share * more, float(np.sqrt(variance))

    def _likelihood(self, by: int, scatter: float) -> float:
        """Twice the log likelihood, but for a constant, of a variance that grows with the size to the power `by`."""
        return -len(self.sizes) * float(np.log(scatter)) - by * float(np.sum(np.log(self.sizes)))


def ratio(part: Floats, size: Floats) -> Ratio:
    """The ratio of known parts to their sizes (> 0); with none it is nan."""
    share = float(part.sum() / size.sum()) if len(size) else float("nan")
    return Ratio(share, size, part - share * size)


def half_width(error: float, freedom: float, level: float = 0.95) -> float:
    """Half the width of an interval of Student's t; nan where nothing is known of the error."""
    return float(stdtrit(freedom, 0.5 + level / 2) * error) if freedom >= 1 and np.isfinite(error) else float("nan")


FIGURE = {"figure": "VARCHAR", "value": "DOUBLE", "unit": "VARCHAR", "source": "VARCHAR", "certainty": "VARCHAR"}


def figures(_: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`material.figure`: the table of reference figures for resin."""
    text = files("pipeline.reference").joinpath("resin.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    return pl.DataFrame(rows, schema=list(FIGURE)).with_columns(pl.col("value").cast(pl.Float64))


CAUSES = {
    "left in cup": "left_in_cup_mg",
    "spilled": "spilled_mg",
    "trimmed": "trimmed_mg",
    "unexplained": "unexplained_mg",
}
WASTE = {
    "resin": "VARCHAR",
    "purpose": "VARCHAR",
    "cause": "VARCHAR",
    "pours": "BIGINT",
    "weighed_pours": "BIGINT",
    "mixed_g": "DOUBLE",
    "weighed_mixed_g": "DOUBLE",
    "weighed_g": "DOUBLE",
    "waste_g": "DOUBLE",
    "waste_low_g": "DOUBLE",
    "waste_high_g": "DOUBLE",
    "waste_share": "DOUBLE",
}


@dataclass(frozen=True)
class _Part:
    """What some pours wasted, in grams: `known` was weighed, `total` is of all, `error` its standard error."""

    pours: int
    weighed_pours: int
    mixed: float
    weighed_mixed: float
    known: float
    total: float
    error: float
    freedom: float

    def row(self) -> dict[str, object]:
        half = 0.0 if self.error == 0 else half_width(self.error, self.freedom)
        return {
            "pours": self.pours,
            "weighed_pours": self.weighed_pours,
            "mixed_g": self.mixed,
            "weighed_mixed_g": self.weighed_mixed,
            "weighed_g": self.known,
            "waste_g": _finite(self.total),
            # no less than what was weighed, no more than that and all of the rest
            "waste_low_g": _finite(max(self.total - half, min(self.known, self.total))),
            "waste_high_g": _finite(min(self.total + half, self.known + self.mixed - self.weighed_mixed)),
            "waste_share": _finite(self.total / self.mixed),
        }


def waste(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`material.waste`: waste by resin, purpose and cause, of all pours, from those that were weighed.

    Pours of one resin and purpose are a stratum; purpose "all" adds the strata up. A stratum with fewer than two
    weighed pours takes the ratio of all strata, and where even that is unknown the interval is open (null).
    """
    pours = (
        tables["work.pour"]
        .filter(pl.col("mixed_mg") > 0, ~pl.col("mix_estimated").fill_null(False), pl.col("resin").is_not_null())
        .sort("pour")
    )
    pours = pours.with_columns(
        pl.col("purpose").fill_null("not known"),
        *(pl.col(name).fill_null(0) for name in CAUSES.values()),
        known=~pl.col("estimated").fill_null(False) & (pl.col("pieces") > 0),
    ).with_columns(all_waste=pl.sum_horizontal(*CAUSES.values()))
    rows: list[dict[str, object]] = []
    for resin in pours["resin"].unique().sort():
        every = pours.filter(pl.col("resin") == resin)
        strata = {p: every.filter(pl.col("purpose") == p) for p in every["purpose"].unique().sort()}
        for cause, column in {"all": "all_waste", **CAUSES}.items():
            parts = {purpose: _stratum(stratum, every, column) for purpose, stratum in strata.items()}
            parts["all"] = _sum(list(parts.values()))
            rows += [{"resin": resin, "purpose": p, "cause": cause, **part.row()} for p, part in parts.items()]
    return pl.DataFrame(rows, schema=in_polars(WASTE))


def _stratum(stratum: pl.DataFrame, every: pl.DataFrame, column: str) -> _Part:
    known = stratum.filter("known")
    model = known if known.height > 1 else every.filter("known")
    found = ratio(_grams(model, column), _grams(model, "mixed_mg"))
    rest = _grams(stratum.filter(~pl.col("known")), "mixed_mg")
    mixed, weighed = float(_grams(stratum, "mixed_mg").sum()), float(_grams(known, "mixed_mg").sum())
    named = float(_grams(known, column).sum())
    whole = known.height == stratum.height
    expected, error = (0.0, 0.0) if whole else found.total(rest)
    freedom = float("inf") if whole else len(found.sizes) - 1
    return _Part(stratum.height, known.height, mixed, weighed, named, named + expected, error, freedom)


def _sum(parts: list[_Part]) -> _Part:
    errors = np.array([part.error for part in parts])
    freedoms = np.array([part.freedom for part in parts])
    variance = float(np.sum(errors**2))
    # Welch and Satterthwaite: the freedom of a sum of errors, each with its own
    lost = float(np.sum(errors**4 / np.maximum(freedoms, 1)))
    return _Part(
        sum(part.pours for part in parts),
        sum(part.weighed_pours for part in parts),
        sum(part.mixed for part in parts),
        sum(part.weighed_mixed for part in parts),
        sum(part.known for part in parts),
        sum(part.total for part in parts),
        float(np.sqrt(variance)),
        variance**2 / lost if lost > 0 else float("inf"),
    )


def _grams(frame: pl.DataFrame, column: str) -> Floats:
    return frame[column].to_numpy().astype(float) / 1000


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


WOOD = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "lots": "BIGINT",
    "closed_lots": "BIGINT",
    "pieces": "BIGINT",
    **dict.fromkeys(
        (
            *("bought_dm3", "finished_dm3", "shaped_dm3", "in_work_dm3", "scrapped_dm3", "lost_dm3", "kerf_dm3"),
            *("offcut_dm3", "on_hand_dm3", "gone_dm3", "board_feet"),
            *("yield_share", "low_share", "high_share", "gone_yield_share", "gone_low_share", "gone_high_share"),
        ),
        "DOUBLE",
    ),
    "gone_cents": "BIGINT",
    "cents_per_finished_dm3": "BIGINT",
    "cents_per_finished_board_foot": "BIGINT",
}
FACTORS = {"species": "species", "supplier": "supplier", "form": "form", "size": "purchase_size"}
DM3_PER_BOARD_FOOT = 2.359737216


def wood_group(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`material.wood_group`: yield of the lots from which something was cut, by species, supplier, form and size."""
    lots = tables["material.wood_yield"].filter(pl.col("yield_share").is_not_null())
    by = [(factor, pl.col(name).fill_null("not known")) for factor, name in FACTORS.items()]
    groups = [
        lots.group_by(level.alias("level")).agg(pl.lit(factor).alias("factor"), *_wood_sums())
        for factor, level in [*by, ("all", pl.lit("all wood"))]
        if lots.height
    ]
    if not groups:
        return pl.DataFrame(schema=in_polars(WOOD))
    frame = pl.concat(groups).sort("factor", "level")
    share, error = pl.col("gone_yield_share"), (pl.col("_variance") / pl.col("gone_dm3")).sqrt()
    half = pl.Series("half", stdtrit(np.maximum(frame["_gone_lots"].to_numpy() - 1.0, 1), 0.975))
    sure = pl.col("_gone_lots") > 1
    per_dm3 = pl.col("gone_cents") / pl.col("finished_dm3")
    return frame.with_columns(
        gone_low_share=pl.when(sure).then((share - half * error).clip(lower_bound=0)),
        gone_high_share=pl.when(sure).then((share + half * error).clip(upper_bound=1)),
        cents_per_finished_dm3=pl.when(pl.col("finished_dm3") > 0).then(cents(per_dm3)),
        cents_per_finished_board_foot=pl.when(pl.col("finished_dm3") > 0).then(cents(per_dm3 * DM3_PER_BOARD_FOOT)),
    ).select(list(WOOD))


def _wood_sums() -> list[pl.Expr]:
    """The sums of a group, its yield, the quarters of its lots, and the scatter of their finished parts."""
    part, size = pl.col("finished_dm3"), pl.col("gone_dm3")
    share = part.sum() / size.sum()
    # a lot whose pieces are all in work says nothing yet of what becomes of wood
    told = size > 0
    summed = [name for name in WOOD if name.endswith("_dm3") and not name.startswith("cents")]
    return [
        pl.len().cast(pl.Int64).alias("lots"),
        pl.col("lot_closed").sum().cast(pl.Int64).alias("closed_lots"),
        pl.col("pieces").sum(),
        *(pl.col(name).sum() for name in (*summed, "board_feet", "gone_cents")),
        (part.sum() / pl.col("bought_dm3").sum()).alias("yield_share"),
        pl.col("yield_share").quantile(0.25, "linear").alias("low_share"),
        pl.col("yield_share").quantile(0.75, "linear").alias("high_share"),
        pl.when(size.sum() > 0).then(share).alias("gone_yield_share"),
        told.sum().cast(pl.Int64).alias("_gone_lots"),
        (((part - share * size) ** 2 / size).filter(told).sum() / (told.sum().cast(pl.Int64) - 1)).alias("_variance"),
    ]


NODES = (
    Node(
        "material.figure",
        (),
        FIGURE,
        figures,
        "One row per figure of the trade that stands in where a shop has none of its own, with its source.",
        ("figure",),
    ),
    Node(
        "material.waste",
        ("work.pour",),
        WASTE,
        waste,
        "One row per resin, purpose and cause: what all pours wasted, by those weighed, with a 95 % interval.",
        ("resin", "purpose", "cause"),
    ),
    Node(
        "material.wood_group",
        ("material.wood_yield",),
        WOOD,
        wood_group,
        "One row per group of wooden lots (by species, supplier, form, size, or all): how much became finished pieces.",
        ("factor", "level"),
    ),
)
