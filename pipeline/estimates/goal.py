"""How likely a year's goal still is: the sum of the months to come, predicted from the shop's own months.

A month is taken to be what is usual, with its season (the same month of other years), its year, a trend, and chance.
How much of each a shop has is not known: a grid of them is weighed by how well it fits (restricted likelihood), and
each point gives a Student's t for the sum of the months to come (Bayesian linear model, flat in the usual month and in
the log of the scale: Box and Tiao, "Bayesian Inference in Statistical Analysis", 1973; from memory). Pay for an hour is
reached where what is left for the owners, less the goal for each of their hours, comes to nothing or more: a sum of
months again. Of the month that runs, what is known stands, and only its days to come are predicted.

A year is said to be missed only where each of its months has records. What a month without any brought isn't known.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from itertools import product
from typing import Any

import numpy as np
import polars as pl
from scipy.special import stdtr

from pipeline.estimates import Node
from pipeline.estimates._intervals import Floats
from pipeline.tables import in_polars

FEWEST = 6
"""Of fewer whole months with records nothing is said of those to come."""

MOST = 36
"""Older months say little of a shop as it is now."""

SEASONS, YEARS, TRENDS = (0.0, 0.3, 1.0, 4.0), (0.0, 0.3), (0.0, 0.03**2, 0.08**2)
"""How far seasons and years differ, and how a shop grows by the month: variances, in that of a month by itself."""

SETTLED = 7
"""The month in which the records begin is known where they begin by this day of it."""

LOW, HIGH = 0.1, 0.9
"""The ends told: one year in ten lies below the first, one in ten above the second."""

KINDS = {"result": "result_cents", "pay": "pay_cents", "pieces": "pieces"}
"""The kind of goal → its setting."""


@dataclass(frozen=True)
class _Way:
    """One point of the grid: how the months known weigh, and how far the sum of those to come scatters."""

    inverse: Floats
    with_sum: Floats
    ones: float
    log_size: float
    own: float


class Ahead:
    """The sum of the months to come, given the months known; the values of these come with each question.

    `parts`: how much of each month to come is meant, all of it unless told.
    """

    def __init__(self, known: list[date], coming: list[date], parts: list[float] | None = None) -> None:
        part = np.array([1.0] * len(coming) if parts is None else parts)
        self._months = float(part.sum())
        every = [*known, *coming]
        same_season = np.equal.outer([day.month for day in every], [day.month for day in every]).astype(float)
        same_year = np.equal.outer([day.year for day in every], [day.year for day in every]).astype(float)
        number = np.array([12 * day.year + day.month for day in every], dtype=float)
        number -= number[0]
        trending = np.outer(number, number)
        n = len(known)
        self._ways = []
        for season, year, trend in product(SEASONS, YEARS, TRENDS):
            shared = season * same_season + year * same_year + trend * trending
            spread = np.eye(n) + shared[:n, :n]
            inverse = np.linalg.inv(spread)
            with_sum = shared[:n, n:] @ part
            ones = float(inverse.sum())
            size = float(np.linalg.slogdet(spread)[1]) + float(np.log(ones))
            # chance falls on each day anew: of half a month it is half as much
            own = float(part @ shared[n:, n:] @ part) + self._months - float(with_sum @ inverse @ with_sum)
            own += (self._months - float((inverse @ with_sum).sum())) ** 2 / ones
            self._ways.append(_Way(inverse, with_sum, ones, size, own))

    def chance(self, values: Floats, least: float) -> float:
        """How likely the months to come add up to `least` or more."""
        return self.given(values)(least)

    def given(self, values: Floats) -> Callable[[float], float]:
        """The same, for any `least`."""
        freedom = len(values) - 1
        weights, middles, scales = [], [], []
        for way in self._ways:
            usual = float((way.inverse @ values).sum()) / way.ones
            off = values - usual
            weighed = way.inverse @ off
            left = max(float(off @ weighed), 1e-9 * float(values @ values) + 1e-12)
            middles.append(self._months * usual + float(way.with_sum @ weighed))
            weights.append(-0.5 * way.log_size - 0.5 * freedom * np.log(left))
            scales.append(np.sqrt(left / freedom * way.own))
        each, middle, scale = np.exp(np.array(weights) - max(weights)), np.array(middles), np.array(scales)
        each /= each.sum()
        # shares of one may add up to a hair more
        return lambda least: min(float(each @ stdtr(freedom, (middle - least) / scale)), 1.0)


def reached_at(chance: Callable[[float], float], wanted: float, start: float, step: float) -> float:
    """Where a chance that falls with its goal is as `wanted`."""
    low = high = start
    for _ in range(60):
        if chance(low) >= wanted:
            break
        low, step = low - step, step * 2
    for _ in range(60):
        if chance(high) <= wanted:
            break
        high, step = high + step, step * 2
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if chance(middle) > wanted else (low, middle)
    return (low + high) / 2


COLUMNS = {
    "year": "BIGINT",
    "goal_kind": "VARCHAR",
    "target": "DOUBLE",
    "months": "BIGINT",
    "months_unrecorded": "BIGINT",
    "months_left": "BIGINT",
    "known_months": "BIGINT",
    "so_far": "DOUBLE",
    "likely_low": "DOUBLE",
    "likely_high": "DOUBLE",
    "goal_chance": "DOUBLE",
    "reached": "BOOLEAN",
    "row_id": "BIGINT",
}


def goal(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """`money.goal`: each goal with what is there of it so far, and how likely it still is."""
    months = _months(tables)
    rows = [
        _row(months, each, kind, float(each[setting]))
        for each in tables["settings.goal"].sort("year").iter_rows(named=True)
        for kind, setting in KINDS.items()
        if each[setting] is not None
    ]
    return pl.DataFrame(rows, schema=in_polars(COLUMNS))


def _months(tables: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """The months in order, each with whether what it usually brings can be told from it (`known`), and, of the one that
    runs, how much of it is still to come (`part`) and what its days to come bear of the rent (`ahead_cents`)."""
    starts = tables["settings.shop"]["start"]
    late = [day.replace(day=1) for day in starts if day.day > SETTLED]
    running = tables["money.running_month"].select("month", "ahead_cents", part=1 - pl.col("known_share"))
    return (
        tables["money.month"]
        .join(running, "month", "left")
        .sort("month")
        .with_columns(known=pl.col("whole") & pl.col("recorded") & ~pl.col("month").is_in(late))
    )


def _row(months: pl.DataFrame, setting: dict[str, Any], kind: str, target: float) -> dict[str, Any]:
    year = int(setting["year"])
    known = months.filter("known").tail(MOST)
    whole = months.filter(pl.col("whole"), pl.col("month").dt.year() == year)
    on_record = whole["recorded"].sum()
    coming = _coming(months, year)
    told = {
        "year": year, "goal_kind": kind, "target": target, "months": on_record,
        "months_unrecorded": 12 - len(coming) - on_record, "months_left": len(coming), "known_months": known.height,
        "so_far": _so_far(whole, kind), "likely_low": None, "likely_high": None, "goal_chance": None, "reached": None,
        "row_id": setting["row_id"],
    }  # fmt: skip
    # what is handed over stays so, in a month that is not over too, and whatever has no record
    if kind == "pieces" and _sold(months, year) >= target:
        return told | {"reached": True}
    if not coming:
        judged = told["so_far"] is not None and not told["months_unrecorded"]
        return told | {"reached": told["so_far"] >= target if judged else None}
    if known.height < FEWEST or (kind == "pay" and known["owner_hours"].sum() <= 0):
        return told
    running = months.filter(pl.col("month").is_in(coming), pl.col("part").is_not_null())
    parts = dict(running.select("month", "part").rows())
    ahead = Ahead(known["month"].to_list(), coming, [parts.get(month, 1.0) for month in coming])

    def values(wanted: float) -> Floats:
        return known.select(_of_goal(kind, wanted)).to_series().to_numpy().astype(float)

    def there(wanted: float) -> float:
        each = _of_goal(kind, wanted)
        return _sum(whole, each) + _sum(running, each if kind == "pieces" else each + pl.col("ahead_cents"))

    usual, so_far = ahead.given(values(0.0)), there(0.0)

    def likely(wanted: float) -> float:
        if kind == "pay":  # is reached where what it is short of comes to nothing
            return ahead.chance(values(wanted), -there(wanted))
        # of whole pieces half of one less is as good
        return usual(wanted - 0.5 - so_far if kind == "pieces" else wanted - so_far)

    start, step = (told["so_far"] or 0.0), max(abs(target), abs(float(np.mean(values(0.0)))), 1.0)
    low, high = (reached_at(likely, part, start, step) for part in (HIGH, LOW))
    least = _sold(months, year) if kind == "pieces" else -np.inf
    return told | {"likely_low": max(low, least), "likely_high": max(high, least), "goal_chance": likely(target)}


def _coming(months: pl.DataFrame, year: int) -> list[date]:
    """The months of the year that are not over: those not begun, and the one that runs."""
    over: list[date] = months.filter(pl.col("whole"))["month"].to_list()
    first: list[date] = months["month"].to_list()[:1]
    days = [date(year, number, 1) for number in range(1, 13)]
    return [day for day in days if (day > over[-1] if over else day >= first[0] if first else True)]


def _of_goal(kind: str, goal: float) -> pl.Expr:
    """What a month adds to the sum that decides about a goal."""
    if kind == "pay":
        return pl.col("owners_result_cents") - goal * pl.col("owner_hours")
    return pl.col("result_cents" if kind == "result" else "pieces_sold")


def _sum(months: pl.DataFrame, each: pl.Expr) -> float:
    return float(months.select(each).to_series().sum())


def _so_far(mine: pl.DataFrame, kind: str) -> float | None:
    """The sum of the year's months that are over, or what an hour of them paid; none where no month is on record."""
    if not mine["recorded"].any():
        return None
    if kind != "pay":
        return _sum(mine, _of_goal(kind, 0.0))
    hours = float(mine["owner_hours"].sum())
    return float(mine["owners_result_cents"].sum()) / hours if hours > 0 else None


def _sold(months: pl.DataFrame, year: int) -> float:
    return float(months.filter(pl.col("month").dt.year() == year)["pieces_sold"].sum())


NODES = (
    Node(
        "money.goal",
        ("settings.goal", "settings.shop", "money.month", "money.running_month"),
        COLUMNS,
        goal,
        "One row per year and kind of goal: what is there of it so far, and how likely it still is.",
        ("year", "goal_kind"),
        ("goal_chance is null or goal_chance between 0 and 1", "reached is null or goal_chance is null"),
    ),
)
