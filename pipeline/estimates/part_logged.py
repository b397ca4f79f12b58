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


@dataclass(frozen=True)
class _Cases:
    """What could be true of each piece: a row a piece, a column a true number of records."""

    true: NDArray[np.int64]
    kept: NDArray[np.int64]
    some: NDArray[np.bool_]  # whether anything is logged
    possible: NDArray[np.bool_]
    ways: Floats  # log of the ways to keep so many of so many
    part: Floats  # the part of the amount that the records kept hold, if all are even
    spread: Floats  # how far that part scatters, since they are not


@dataclass(frozen=True)
class _Guess:
    """What the shop is like, as far as the EM has come; all but `lost` and `steep` by group."""

    lost: float  # the share of records that nobody wrote down
    present: Floats  # the share of pieces that have the thing
    mixes: Floats  # in how many records
    middle: Floats  # log of the amount by the usual one
    steep: float  # by how much it grows with the log of the number of records
    scatter: Floats


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
    cases, guess = _cases(logs), _first_guess(logs)
    weight = np.zeros((len(logs.records), logs.most))
    for _ in range(STEPS):
        weight, wide = _weights(logs, cases, guess)
        lost, present, mixes = _habits(logs, cases, weight)
        middle, steep, scatter = _amounts(logs, cases, guess, weight, wide)
        guess = _Guess(lost, present, mixes, middle, steep, scatter)
    lacks = np.where(cases.some, weight * (cases.true > cases.kept), guess.mixes[logs.group])
    chance = lacks.sum(axis=1)
    missing = _missing(logs, cases, guess)
    return chance, np.where(chance > 0, (lacks * missing).sum(axis=1) / np.maximum(chance, 1e-12), 0)


def _cases(logs: _Logs) -> _Cases:
    true = np.arange(1, logs.most + 1)
    kept = logs.records[:, None]
    part = np.clip(kept / true, 1e-9, 1)
    possible = (true >= kept) & (kept > 0)
    return _Cases(
        true=true,
        kept=kept,
        some=kept > 0,
        possible=possible,
        ways=gammaln(true + 1) - gammaln(kept + 1) - gammaln(np.maximum(true - kept, 0) + 1),
        part=part,
        spread=np.where(possible, (1 - part) / (np.maximum(part, 1e-9) * (true * UNEVEN + 1)), 0),
    )


def _first_guess(logs: _Logs) -> _Guess:
    return _Guess(
        lost=0.05,
        present=np.full(logs.groups, 0.95),
        mixes=np.full((logs.groups, logs.most), 1 / logs.most),
        middle=np.zeros(logs.groups),
        steep=0.3,
        scatter=np.full(logs.groups, 0.25),
    )


def _weights(logs: _Logs, cases: _Cases, guess: _Guess) -> tuple[Floats, Floats]:
    """How likely each true number is of each piece, by the guess; and how widely its amount then scatters."""
    wide = guess.scatter[logs.group][:, None] ** 2 + cases.spread
    off = logs.against[:, None] - _usual(logs, cases, guess) - np.log(cases.part)
    fits = -0.5 * off**2 / wide - 0.5 * np.log(wide)
    rare = (cases.true - cases.kept) * np.log(guess.lost) + cases.kept * np.log1p(-guess.lost)
    by_number = np.log(guess.mixes[logs.group]) + cases.ways + rare
    score = np.where(cases.possible | ~cases.some, by_number + np.where(cases.some, fits, 0), -np.inf)
    weight = np.exp(score - score.max(axis=1, keepdims=True))
    present, top = guess.present[logs.group], np.exp(by_number.max(axis=1))
    # a piece of which nothing is logged may have no such thing
    alone = np.where(cases.some[:, 0], 0, (1 - present) / np.maximum(present * top, 1e-300))
    return weight / (weight.sum(axis=1) + alone)[:, None], wide


def _habits(logs: _Logs, cases: _Cases, weight: Floats) -> tuple[float, Floats, Floats]:
    """How often a record is lost, how many pieces of a group have the thing, and in how many records."""
    lost = float(((weight * (cases.true - cases.kept)).sum() + 0.5) / ((weight * cases.true).sum() + 20))
    by_number = _sums(weight, logs)
    pieces = np.bincount(logs.group, minlength=logs.groups)
    present = np.clip((by_number.sum(axis=1) + 4) / (pieces + 4.2), 0, 1 - 1e-6)
    mixes = by_number + 0.5
    return lost, present, mixes / mixes.sum(axis=1)[:, None]


def _amounts(logs: _Logs, cases: _Cases, guess: _Guess, weight: Floats, wide: Floats) -> tuple[Floats, float, Floats]:
    """What a group's pieces have of the thing, how that grows with the number of records, and how far it scatters."""
    sure = np.where(cases.some, weight / wide, 0)
    number = np.log(cases.true)
    off = logs.against[:, None] - np.log(cases.part)
    in_all = _sums(sure, logs).sum(axis=1)
    middle = _sums(sure * (off - guess.steep * number), logs).sum(axis=1) / in_all
    beyond = off - middle[logs.group][:, None]
    slope = number - (_sums(sure * number, logs).sum(axis=1) / in_all)[logs.group][:, None]
    steep = float(np.clip((sure * slope * beyond).sum() / ((sure * slope**2).sum() + 20), 0, 1))
    weighed = np.where(cases.some, weight, 0)
    left = weighed * (beyond - steep * number) ** 2 * guess.scatter[logs.group][:, None] ** 2 / wide
    spread = (_sums(left, logs).sum(axis=1) + 3 * 0.2**2) / (_sums(weighed, logs).sum(axis=1) + 3)
    return middle, steep, np.maximum(np.sqrt(spread), 0.02)


def _usual(logs: _Logs, cases: _Cases, guess: _Guess) -> Floats:
    """The log of the amount that a piece has of a thing, by its true number of records, against the usual one."""
    return np.asarray(guess.middle[logs.group][:, None] + guess.steep * np.log(cases.true))


def _missing(logs: _Logs, cases: _Cases, guess: _Guess) -> Floats:
    """What is lacking of each piece, by its true number of records."""
    usual = _usual(logs, cases, guess)
    narrow = 1 / guess.scatter[logs.group][:, None] ** 2
    seen = np.where(cases.spread > 0, 1 / np.maximum(cases.spread, 1e-9), 0)
    logged = logs.against[:, None]
    whole = np.exp((usual * narrow + (logged - np.log(cases.part)) * seen) / (narrow + seen))
    more = np.where(cases.possible & (cases.true > cases.kept), np.maximum(whole - np.exp(logged), 0), 0)
    # what nobody logged at all is lacking, and comes to what such pieces have of it when all is logged
    return np.where(cases.some, more, np.exp(usual))


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
