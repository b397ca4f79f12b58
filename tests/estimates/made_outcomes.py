"""Judged pieces for the tests of the rates: rows of `quality._outcome`, and cells of labels."""

from datetime import date

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from pipeline.estimates._laplace import Cells, totals

PRACTICES = ("off_ratio", "short_stir", "early_touch", "cold", "damp", "wet_wood", "unsealed")
SCHEMA = {
    "piece": pl.String,
    "product": pl.String,
    "species": pl.String,
    "finish": pl.String,
    "pore_structure": pl.String,
    "coat": pl.Int64,
    "month": pl.Date,
    "supplier": pl.String,
    "lot": pl.String,
    "run": pl.String,
    **dict.fromkeys(PRACTICES, pl.Boolean),
    "reworked": pl.Boolean,
    "scrapped": pl.Boolean,
    "defects": pl.Int64,
    "rework_cents": pl.Int64,
    "scrap_cents": pl.Int64,
    "defect_cents": pl.Int64,
    "young": pl.Boolean,
}


def outcome(*rows: dict[str, object]) -> pl.DataFrame:
    """The table with these rows; what a row doesn't say is null."""
    return pl.DataFrame([{"piece": f"T-{i}"} | row for i, row in enumerate(rows)], schema=SCHEMA)


def shop(pieces: int = 400, cold_effect: float = 0.3, seed: int = 4) -> pl.DataFrame:
    """A made-up shop over two years. Elm only looks bad: it gets the flood coat. A cold room is bad in earnest."""
    random = np.random.default_rng(seed)
    species = random.choice(["elm", "oak", "ash", "walnut"], pieces)
    flood = random.random(pieces) < np.where(species == "elm", 0.9, 0.15)
    cold = random.random(pieces) < 0.25
    reworked = random.random(pieces) < 0.08 + 0.3 * flood + cold_effect * cold
    month = random.integers(0, 24, pieces)
    return outcome(
        *(
            {
                "product": "board",
                "species": s,
                "finish": "flood coat" if f else "oil",
                "month": date(2024 + m // 12, m % 12 + 1, 1),
                "cold": c,
                "reworked": r,
                "scrapped": False,
                "defects": int(r),
                "rework_cents": 1000 * r,
                "scrap_cents": 0,
            }
            for s, f, m, c, r in zip(
                species.tolist(), flood.tolist(), month.tolist(), cold.tolist(), reworked.tolist(), strict=True
            )
        )
    )


def cells(events: ArrayLike, *factors: ArrayLike, pieces: ArrayLike | None = None) -> Cells:
    """Add rows up to cells. A row is a piece, or `pieces` of them, with its `events` and a label of each factor."""
    happened = np.asarray(events, dtype=float)
    made = np.ones(len(happened)) if pieces is None else np.asarray(pieces, dtype=float)
    coded = [np.unique(np.asarray(f, dtype=str), return_inverse=True) for f in factors]
    labels = tuple(level.astype(object) for level, _ in coded)
    codes = (
        np.stack([code.ravel() for _, code in coded], axis=1)
        if len(happened)
        else np.zeros((0, len(factors)), dtype=np.int64)
    )
    distinct, where = np.unique(codes, axis=0, return_inverse=True)
    return Cells(
        totals(where, happened, len(distinct)), totals(where, made, len(distinct)), distinct.astype(np.int64), labels
    )
