"""Generated shops whose rework has a known cause, one piece a row, to see what the adjusted rates make of them.

A shop: 300 pieces of 8 woods (78 down to 9), 5 finishes and 4 products over 24 months, 20 % rework. A wood takes its
own finish and its own product 60 % of the time. Pieces are made in runs of 2 to 7 alike, of one lot of 6 to 10 pieces.
"""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl
from made_outcomes import SCHEMA
from numpy.typing import NDArray
from scipy.special import expit

Floats = NDArray[np.float64]
SIZES = (78, 60, 47, 36, 28, 23, 19, 9)
BAD = 3
FINISHES, PRODUCTS, MONTHS = 5, 4, 24


@dataclass(frozen=True)
class Kind:
    """What makes pieces come back, in log odds: spreads of effects, and what is peculiar to the kind."""

    name: str
    sizes: tuple[int, ...] = SIZES
    rework: float = 0.2
    wood: float = 0.0
    bad: float = 0.0
    own_finish: bool = False
    finish: float = 0.7
    product: float = 0.0
    crossed: float = 0.0  # wood with finish
    lot: float = 0.0
    run: float = 0.0
    learns: float = 0.0  # how much the log odds fall over the history
    eras: bool = False
    late: float = 0.0  # months until a defect is found


ALIKE = Kind("woods alike")
LONE = Kind("one bad wood", bad=1.0)
KINDS = (
    ALIKE,
    LONE,
    replace(LONE, name="one bad wood, in a finish of its own", own_finish=True),
    Kind("woods differ", wood=0.5),
    Kind("interaction", wood=0.4, crossed=0.7),
    Kind("slabs that differ", wood=0.4, lot=0.8),
    Kind("runs that fail together", run=1.5),
    Kind("product is the cause", product=1.0),
    Kind("learns, woods in eras", learns=2.0, eras=True),
    Kind("defects found late", late=4.0, eras=True, wood=0.3),
    Kind("many rare woods", sizes=(60, 40, 30, 20, *(8,) * 8, *(4,) * 10), wood=0.4),
    Kind("two kinds of wood", sizes=(190, 110), wood=0.5),
    Kind("few pieces", sizes=(16, 12, 10, 8, 6, 4, 4), wood=0.4),
    Kind("rare rework", rework=0.04, wood=0.5),
)


@dataclass(frozen=True)
class Shop:
    """The judged pieces, each wood's true rate over the shop's own mix of all else, and the number of its pieces."""

    judged: pl.DataFrame
    truth: Floats
    pieces: Floats


def made(kind: Kind, seed: int) -> Shop:
    rng = np.random.default_rng([seed, *kind.name.encode()])
    woods, n = len(kind.sizes), sum(kind.sizes)
    runs = [(wood, size) for wood, total in enumerate(kind.sizes) for size in _parts(rng, total, 2, 7)]
    wood = np.repeat([w for w, _ in runs], [s for _, s in runs])
    run = np.repeat(np.arange(len(runs)), [s for _, s in runs])
    lot = np.concatenate(
        [np.repeat(100 * w + np.arange(len(p)), p) for w, t in enumerate(kind.sizes) for p in [_parts(rng, t, 6, 10)]]
    )
    finish = _preferred(rng, wood, run, woods, FINISHES)
    if kind.own_finish:
        finish = np.where(wood == BAD, FINISHES, finish)
    product = _preferred(rng, wood, run, woods, PRODUCTS)
    centre = rng.uniform(0, 1, woods)
    when = (
        np.clip(centre[wood] + rng.normal(0, 0.15, len(runs))[run], 0, 0.999)
        if kind.eras
        else rng.random(len(runs))[run]
    )
    effect = rng.normal(0, kind.wood, woods)
    effect[min(BAD, woods - 1)] += kind.bad
    crossed = rng.normal(0, kind.crossed, (woods, FINISHES + 1))
    rest = (
        (rng.normal(0, kind.finish, FINISHES + 1))[finish]
        + rng.normal(0, kind.product, PRODUCTS)[product]
        - kind.learns * when
    )
    together = rng.normal(0, kind.lot, 10_000)[lot] + rng.normal(0, kind.run, len(runs))[run]
    found = 1 - np.exp(-(1 - when) * MONTHS / kind.late) if kind.late else np.ones(n)
    base = _level(effect[wood] + crossed[wood, finish] + rest, kind.rework)
    chance = expit(base + effect[wood] + crossed[wood, finish] + rest + together) * found
    # what lots and runs add is averaged over: the log odds of a mean are nearer to nought
    flat = 1 / np.sqrt(1 + 0.346 * (kind.lot**2 + kind.run**2))
    truth = np.array(
        [(expit((base + effect[w] + crossed[w, finish] + rest) * flat) * found).mean() for w in range(woods)]
    )
    reworked = rng.random(n) < chance
    months = (when * MONTHS).astype(int)
    judged = pl.DataFrame(
        {
            "piece": [f"P-{k}" for k in range(n)],
            "species": [f"wood {w:02}" for w in wood],
            "finish": [f"finish {f}" for f in finish],
            "product": [f"product {p}" for p in product],
            "month": [date(2024 + m // 12, m % 12 + 1, 1) for m in months.tolist()],
            "lot": [f"L{k}" for k in lot],
            "run": [f"R{k}" for k in run],
            "reworked": reworked,
        },
        schema_overrides={"month": pl.Date},
    )
    missing = {name: kind for name, kind in SCHEMA.items() if name not in judged.columns}
    judged = judged.with_columns(pl.lit(None, kind).alias(name) for name, kind in missing.items())
    return Shop(judged, truth, np.array(kind.sizes, dtype=float))


def _parts(rng: np.random.Generator, total: int, least: int, most: int) -> list[int]:
    parts = []
    while total > 0:
        parts.append(min(int(rng.integers(least, most + 1)), total))
        total -= parts[-1]
    return parts


def _preferred(rng: np.random.Generator, wood: np.ndarray, run: np.ndarray, woods: int, levels: int) -> np.ndarray:
    runs = int(run.max()) + 1
    own = rng.integers(0, levels, woods)[wood]
    return np.where(rng.random(runs)[run] < 0.6, own, rng.integers(0, levels, runs)[run])


def _level(log_odds: Floats, rate: float) -> float:
    low, high = -10.0, 10.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if expit(log_odds + middle).mean() > rate else (middle, high)
    return middle
