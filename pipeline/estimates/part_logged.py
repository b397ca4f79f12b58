"""Which pieces lack a part of what is logged of them: some of an operation's hours, one of several pours or takings.

A row that nobody wrote down leaves two marks: fewer records of a thing than comparable pieces have, and less of it. How
many rows a shop loses shows in the pieces that have none of what nearly all like them have. Both are weighed together
by an EM over the whole shop: each record is lost alike, a piece's amount scatters about what is usual for its size, and
some pieces have no such thing at all.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import gammaln

from pipeline.estimates import Node
from pipeline.tables import in_polars

Floats = NDArray[np.float64]

COLUMNS = {
    "piece": "VARCHAR", "want": "VARCHAR", "name": "VARCHAR", "part": "VARCHAR", "chance_ppm": "BIGINT",
    "amount": "BIGINT", "had": "BIGINT", "likely": "BOOLEAN",
}  # fmt: skip
LEAST = 8
"""So many pieces must have a thing before a lack of some of it can be told from chance."""

LEAST_PIECES = 20
"""So many finished pieces must a shop have."""

MOST_RECORDS = 6
UNEVEN = 5.0
"""How evenly a thing's records share it: the parameter of a Dirichlet distribution, as of days of work."""

STEPS = 60
POSSIBLE = 0.03
"""From this chance on a lack counts against what is called logged."""

THING = ["circle", "want", "name", "part"]
GROUP = ["group", "want", "name", "part"]


@dataclass(frozen=True)
class _Logs:
    """Pieces and things as arrays: how many records, how much against the usual, and of which group each is."""

    records: NDArray[np.int64]
    against: Floats  # log of the amount by the usual one; of no meaning where nothing is logged
    group: NDArray[np.int64]
    groups: int
    most: int


def part_logged(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`work.part_logged`: each thing of a finished piece of which a part may be lacking."""
    pieces = tables["work.piece"].filter(pl.col("status") == "finished", ~pl.col("opening")).select("piece")
    if len(pieces) < LEAST_PIECES:
        return pl.DataFrame(schema=in_polars(COLUMNS))
    had = tables["work._had"].select("piece", *THING[1:], had="amount", had_records="records")
    things = (
        tables["work._usual"]
        .join(pieces, on="piece")
        .join(had, on=["piece", *THING[1:]], how="left")
        .filter(pl.col("had").is_null() | (pl.col("had") > 0))
        # a product of few pieces is judged beside others like it
        .with_columns(
            group=pl.when(pl.col("had").count().over(THING) >= LEAST).then(pl.col("circle")).otherwise(pl.lit(""))
        )
        .filter(pl.col("had").count().over(GROUP) >= LEAST)
        .sort("piece", *THING)
    )
    found = [
        _of_kind(things.filter(pl.col("want").is_in(wants))) for wants in (["work", "machine"], ["resin"], ["item"])
    ]
    return pl.concat([pl.DataFrame(schema=in_polars(COLUMNS)), *found]).sort("piece", "want", "name", "part")


def _of_kind(things: pl.DataFrame) -> pl.DataFrame:
    if things.is_empty():
        return pl.DataFrame(schema=in_polars(COLUMNS))
    logs = _arrays(things)
    chance, lacking = _lacks(logs)
    usual = things["amount"].to_numpy()
    none = things["had"].is_null().to_numpy()
    told = things.with_columns(chance=pl.Series(chance), lacks=pl.Series(np.rint(usual * lacking)).cast(pl.Int64))
    told = told.filter(pl.col("chance") >= POSSIBLE, pl.col("lacks") > 0)
    # the likeliest first, as much as is lacking by expectation: so that all of them together lean to no side
    by_chance = told.sort("chance", "piece", *THING, descending=[True, *[False] * 5])
    expected = float((chance * lacking * usual)[~none].sum())
    in_part = pl.when(pl.col("had").is_null()).then(0).otherwise(pl.col("lacks"))
    by_chance = by_chance.with_columns(likely=in_part.cum_sum() - in_part / 2 <= expected)
    by_chance = by_chance.with_columns(likely=pl.col("likely") | pl.col("had").is_null())
    return by_chance.select(
        "piece",
        "want",
        "name",
        "part",
        pl.col("had").fill_null(0),
        "likely",
        amount="lacks",
        chance_ppm=(1_000_000 * pl.col("chance")).round().cast(pl.Int64),
    ).select(list(COLUMNS))


def _arrays(things: pl.DataFrame) -> _Logs:
    group = things.select(pl.struct(GROUP).rank("dense").cast(pl.Int64) - 1).to_series().to_numpy()
    records = things["had_records"].fill_null(0).clip(0, MOST_RECORDS).to_numpy()
    against = np.log(things["had"].fill_null(1).to_numpy() / things["amount"].to_numpy())
    return _Logs(records, against, group, int(group.max()) + 1, int(records.max()))


def _lacks(logs: _Logs) -> tuple[Floats, Floats]:
    """The chance that a record of each is lost, and what is then lacking, as a multiple of the usual amount."""
    true = np.arange(1, logs.most + 1)
    kept = logs.records[:, None]
    possible = (true >= kept) & (kept > 0)
    ways = gammaln(true + 1) - gammaln(kept + 1) - gammaln(np.maximum(true - kept, 0) + 1)
    part = np.clip(kept / true, 1e-9, 1)
    spread = np.where(possible, (1 - part) / (np.maximum(part, 1e-9) * (true * UNEVEN + 1)), 0)
    some = (logs.records > 0)[:, None]

    lost, present = 0.05, np.full(logs.groups, 0.95)
    mixes = np.full((logs.groups, logs.most), 1 / logs.most)
    middle, steep, scatter = np.zeros(logs.groups), 0.3, np.full(logs.groups, 0.25)
    weight = np.zeros((len(logs.records), logs.most))
    for _ in range(STEPS):
        mean = middle[logs.group][:, None] + steep * np.log(true)
        wide = scatter[logs.group][:, None] ** 2 + spread
        fits = -0.5 * (logs.against[:, None] - mean - np.log(part)) ** 2 / wide - 0.5 * np.log(wide)
        rare = (true - kept) * np.log(lost) + kept * np.log1p(-lost)
        score = np.log(mixes[logs.group]) + ways + rare + np.where(some, fits, 0)
        score = np.where(possible | ~some, score, -np.inf)
        score = score - score.max(axis=1, keepdims=True)
        top = (np.log(mixes[logs.group]) + ways + rare).max(axis=1)
        weight = np.exp(score)
        alone = np.where(
            some[:, 0], 0, (1 - present[logs.group]) / np.maximum(present[logs.group] * np.exp(top), 1e-300)
        )
        weight = weight / (weight.sum(axis=1) + alone)[:, None]
        lost = float(((weight * (true - kept)).sum() + 0.5) / ((weight * true).sum() + 20))
        mixes = _sums(weight, logs) + 0.5
        there = mixes.sum(axis=1)
        pieces = np.bincount(logs.group, minlength=logs.groups)
        present = np.clip((_sums(weight, logs).sum(axis=1) + 4) / (pieces + 4.2), 0, 1 - 1e-6)
        mixes = mixes / there[:, None]
        sure = np.where(some, weight / wide, 0)
        off = logs.against[:, None] - np.log(part)
        middle = _sums(sure * (off - steep * np.log(true)), logs).sum(axis=1) / _sums(sure, logs).sum(axis=1)
        slope = (
            np.log(true)
            - (_sums(sure * np.log(true), logs).sum(axis=1) / _sums(sure, logs).sum(axis=1))[logs.group][:, None]
        )
        steep = float(
            np.clip((sure * slope * (off - middle[logs.group][:, None])).sum() / ((sure * slope**2).sum() + 20), 0, 1)
        )
        left = np.where(some, weight, 0) * (off - middle[logs.group][:, None] - steep * np.log(true)) ** 2
        left = left * scatter[logs.group][:, None] ** 2 / wide
        of = _sums(np.where(some, weight, 0), logs).sum(axis=1)
        scatter = np.sqrt((_sums(left, logs).sum(axis=1) + 3 * 0.2**2) / (of + 3))
        scatter = np.maximum(scatter, 0.02)
    mean = middle[logs.group][:, None] + steep * np.log(true)
    narrow = 1 / scatter[logs.group][:, None] ** 2
    seen = np.where(spread > 0, 1 / np.maximum(spread, 1e-9), 0)
    whole = np.exp((mean * narrow + (logs.against[:, None] - np.log(part)) * seen) / (narrow + seen))
    missing = np.where(possible & (true > kept), np.maximum(whole - np.exp(logs.against)[:, None], 0), 0)
    # what nobody logged at all is lacking, and comes to what such pieces have of it when all is logged
    missing = np.where(some, missing, np.exp(mean))
    lacks = np.where(some, weight * (true > kept), mixes[logs.group])
    chance = lacks.sum(axis=1)
    return chance, np.where(chance > 0, (lacks * missing).sum(axis=1) / np.maximum(chance, 1e-12), 0)


def _sums(values: Floats, logs: _Logs) -> Floats:
    """Values by piece and number of records, added up over each group's pieces."""
    out = np.zeros((logs.groups, values.shape[1]))
    np.add.at(out, logs.group, values)
    return out


NODES = (
    Node(
        "work.part_logged",
        ("work.piece", "work._usual", "work._had"),
        COLUMNS,
        part_logged,
        "One row per piece and thing of which a part may be lacking, with the chance and how much that would be.",
        key=("piece", "want", "name", "part"),
        checks=("amount > 0",),
    ),
)
