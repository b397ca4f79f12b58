"""The cost of the next piece, answered: in parts, with its spread, and with the pieces it leans on.

`Predictor` is the one way in: made once from `price.history` (fitting takes milliseconds), it answers any number of
descriptions. Below are the nodes of the graph that judge it and that say how long pieces take to sell.
"""

from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import polars as pl

from pipeline.errors import UserError
from pipeline.estimates import Node
from pipeline.estimates.practice import rate, unit_time
from pipeline.estimates.quote_backtest import PIECE_COLUMNS, SCORE_COLUMNS, backtest, score
from pipeline.estimates.quote_model import Array, design, log_size
from pipeline.estimates.quote_price import Costs
from pipeline.estimates.quote_rates import Bench, Rates, rates_today
from pipeline.estimates.quote_spread import LEAST, Models, Spread, code_both, fit_both, spread, usable, work
from pipeline.estimates.sell_time import CURVE_COLUMNS, TIME_COLUMNS, kaplan_meier, offered, sell_times, waits

SHOWN = (10, 50, 80, 90)
NAMED = 6
"""How many of the pieces leant on are named."""
FAR = (0.8, 1.25)
"""Below this share of the smallest size made so far, or beyond so many times the largest, a quote says so."""
BELIEF_PIECES = 3
"""Pieces of the shop's usual split of hours that a product's own split is drawn to."""


@dataclass(frozen=True)
class Described:
    """A piece as a client asks for it; sizes are of one unit.

    `extra_seconds` of bench time and `extra_material_cents` are what it takes beyond such a piece as usually made
    (more carving, inlay, hardware). `setup_seconds` is bench time that the whole run takes once. `units_made` = None
    takes the number from the history.
    """

    product: str
    species: str = ""
    finish: str = ""
    area_mm2: int | None = None
    volume_mm3: int | None = None
    quantity: int = 1
    units_made: int | None = None
    extra_seconds: int = 0
    extra_material_cents: int = 0
    setup_seconds: int = 0


@dataclass(frozen=True)
class Cost:
    """What one unit will cost at today's prices, in whole cents.

    `at` gives the cost that so many per cent of such pieces stay under. The parts are labour, machine, overhead and
    material of a piece with the usual hours and material, extras and its share of the set-up included, and the rework
    to be expected of it; they add up to `parts_cents`. The middle, `at[50]`, lies below that where rework is likely,
    which most pieces go without, and above it where the spread is wide: what goes wrong adds more than what goes well
    saves. `sources` says how much of the spread is hours, material and rework; `times_made` how far its size lies
    beyond those made.
    """

    described: Described
    unit: int
    at: dict[int, int]
    parts: dict[str, int]
    hours: float
    rework_chance: float
    rework_share: float
    sources: dict[str, float]
    leant_on: pl.DataFrame = field(repr=False)
    hours_by_operation: dict[str, float]
    practice_rate: float
    practice_shown: bool
    history_pieces: int
    new: tuple[str, ...]
    times_made: float | None
    spread: Spread = field(repr=False)
    rates: Rates = field(repr=False)

    @property
    def parts_cents(self) -> int:
        return sum(self.parts.values())

    def hours_at(self, unit: int) -> float:
        """What unit number `unit` of the product would take, by the practice found (this one is number `self.unit`)."""
        return unit_time(self.hours, self.unit, unit, self.practice_rate)

    def costs(self) -> Costs:
        """The figures that a price is made from: the middle cost, without own labour, and what leaves the till."""
        paid = self.rates.paid_share
        middle = self.at[50]
        own = min(round(self.hours * self.rates.labour * (1 - paid)), middle)
        cash = min(self.parts["material"] + round(self.parts["labour"] * paid), middle)
        return Costs(middle, middle - own, cash, self.hours * (1 - paid), self.spread)


class Predictor:
    """The models fitted on price.history, at the rates of `today` by settings.person_rate.

    `split` (price.split) is optional and splits the hours by operation.
    """

    def __init__(
        self, history: pl.DataFrame, person_rate: pl.DataFrame, today: date, split: pl.DataFrame | None = None
    ) -> None:
        history = usable(history)
        if history.height < LEAST:
            raise UserError(
                f"The history holds {history.height} finished pieces with hours and material; a quote needs {LEAST}.",
                "price.history",
                "Log a few more pieces with their hours and material, or price this one by hand.",
            )
        self.history, self.split = history, split
        bench = Bench.of(history, person_rate)
        self.rates, pay = rates_today(bench, person_rate, today)
        self.past_hour = bench.hours_at(self.rates, pay)
        past = work(history)
        self.models: Models = fit_both(past, code_both(past), history.height)

    def cost(self, wanted: Described) -> Cost:
        """The cost of one unit of what is described."""
        return self._costs([wanted])[0]

    def run(self, wanted: Described, quantities: tuple[int, ...] = (1, 2, 5, 10)) -> dict[int, Cost]:
        """The cost of a unit in runs of different length: set-up is spread, practice and run length act on hours."""
        return dict(zip(quantities, self._costs([replace(wanted, quantity=n) for n in quantities]), strict=True))

    def _costs(self, wanted: list[Described]) -> list[Cost]:
        """All at once: what is the same for every piece, such as the calibration, is worked out once."""
        pieces = pl.concat([self._row(each) for each in wanted])
        found = spread(self.models, self.past_hour, self.rates.hour(pieces), pieces)
        return [self._cost(each, pieces[k : k + 1], found.one(k)) for k, each in enumerate(wanted)]

    def _cost(self, wanted: Described, piece: pl.DataFrame, bare: Spread) -> Cost:
        extra_hours = (wanted.extra_seconds + wanted.setup_seconds / max(wanted.quantity, 1)) / 3600
        hour = float(self.rates.hour(piece)[0])
        beside = extra_hours * hour + wanted.extra_material_cents
        found = replace(bare, cents=bare.cents + beside)
        hours = float(bare.middle.hours[0]) + extra_hours
        material = float(bare.middle.cents[0]) + wanted.extra_material_cents
        chance, share = float(bare.rework_chance[0]), bare.rework_share
        machine = float(self.rates.machine_hour(piece)[0])
        clean = {
            "labour": hours * self.rates.labour,
            "machine": hours * machine,
            "overhead": hours * self.rates.overhead,
            "material": material,
        }
        parts = clean | {"rework": chance * share * (hours * hour + material)}
        weights = self._weights(piece, found)
        practice, shown = self._practice(wanted.product)
        return Cost(
            wanted,
            int(piece["unit_number"][0]),
            {level: round(float(found.at(level / 100)[0])) for level in SHOWN},
            {name: round(cents) for name, cents in parts.items()},
            hours,
            chance,
            share,
            found.sources(),
            self._leant_on(weights),
            self._by_operation(wanted.product, float(bare.middle.hours[0])),
            practice,
            shown,
            self.history.height,
            tuple(
                f
                for f in ("product", "species", "finish")
                if getattr(wanted, f) not in self.models.design.hours.levels[f]
            ),
            self._times_made(piece),
            found,
            self.rates,
        )

    def _times_made(self, piece: pl.DataFrame) -> float | None:
        """How many times the largest size made so far it is, or of the smallest; None where it lies near to them."""
        past = self.models.work
        for made, of, given in ((past.area, "area", "area_mm2"), (past.volume, "volume", "volume_mm3")):
            wanted = log_size(piece, of, past.shape)[0]
            known = made[~np.isnan(made)]
            if not len(known) or piece[given].null_count():
                continue
            above, below = float(np.exp(wanted - known.max())), float(np.exp(wanted - known.min()))
            if above > FAR[1] or below < FAR[0]:
                return above if above > FAR[1] else below
        return None

    def _row(self, wanted: Described) -> pl.DataFrame:
        made = wanted.units_made
        if made is None:
            last = pl.col("unit_number") + pl.col("quantity").fill_null(1) - 1
            made = self.history.filter(pl.col("product") == wanted.product).select(last.max()).item() or 0
        row = {
            "product": wanted.product,
            "species": wanted.species,
            "finish": wanted.finish,
            "quantity": wanted.quantity,
            "unit_number": made + 1,
            # as in the history, of the whole run
            "area_mm2": wanted.area_mm2 and wanted.area_mm2 * wanted.quantity,
            "volume_mm3": wanted.volume_mm3 and wanted.volume_mm3 * wanted.quantity,
        }
        return pl.DataFrame([row], schema_overrides={"area_mm2": pl.Int64, "volume_mm3": pl.Int64})

    def _weights(self, piece: pl.DataFrame, found: Spread) -> Array:
        """How much each past piece moves the predicted cost: by its hours and its material, each by its part of it."""
        models, coded = self.models, self.models.design
        shape = models.work.shape
        x_hours = design(coded.hours, piece, log_size(piece, "area", shape))[0]
        x_cents = design(coded.cents, piece, log_size(piece, "volume", shape))[0]
        bench = float(found.middle.hours[0]) * float(self.rates.hour(piece)[0])
        part = bench / (bench + float(found.middle.cents[0]))
        return part * models.hours.leant_on(x_hours, coded.x_hours) + (1 - part) * models.cents.leant_on(
            x_cents, coded.x_cents
        )

    def _leant_on(self, weights: Array) -> pl.DataFrame:
        today = self.models.work.cost(self.past_hour.own)
        shown = self.history.select("piece", "product", "species", "finish", "finished").with_columns(
            cost_cents=pl.Series(np.rint(today).astype(np.int64)),
            weight_share=pl.Series(weights / np.abs(weights).sum()),
        )
        return shown.sort("weight_share", "finished", descending=True).head(NAMED)

    def _by_operation(self, product: str, hours: float) -> dict[str, float]:
        """The hours split as in the product's past pieces, drawn to the shop's split by `BELIEF_PIECES` pieces."""
        return {} if self.split is None else drawn_split(self.split, "bench", product, hours)

    def _practice(self, product: str) -> tuple[float, bool]:
        """The product's learning rate (0.9 = each doubling takes 90 % of the hours), and whether the data show one."""
        model, coding = self.models.hours, self.models.design.hours
        names = coding.levels["product"]
        place = names.index(product) if product in names else len(names)
        pick = np.zeros(coding.width)
        pick[2] = 1.0  # the shop's own practice, see PLAIN
        pick[np.flatnonzero(coding.group == coding.group[-1] - 1)[place]] = 1.0
        slope = float(pick @ model.effects)
        return rate(slope), slope < -1.96 * float(np.sqrt(pick @ model.cover @ pick))


def drawn_split(split: pl.DataFrame, split_of: str, product: str, amount: float) -> dict[str, float]:
    """An amount of hours or material by step, largest first, from price.split.

    The product's own split, drawn to the shop's by `BELIEF_PIECES` pieces; empty where nothing is known.
    """
    rows = split.filter(pl.col("split_of") == split_of)
    count: dict[str, int] = dict(rows.select("product", "pieces").unique().iter_rows())
    every, own = sum(count.values()), count.get(product, 0)
    held = pl.col("mean_share") * pl.col("pieces")
    alike = held.filter(pl.col("product") == product).sum()
    drawn = (alike + BELIEF_PIECES * held.sum() / max(every, 1)) / (own + BELIEF_PIECES)
    shares = rows.sort("step", "product").group_by("step", maintain_order=True).agg(amount=amount * drawn)
    return dict(shares.sort("amount", "step", descending=[True, False]).iter_rows())


def _backtest(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return backtest(inputs["price.history"], inputs["settings.person_rate"])


def _score(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return score(inputs["price.predicted"])


def _waits(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    history = inputs["price.history"]
    named = [history[column] for column in ("finished", "listed", "sold")]
    # the last day on record stands for today, so that a refresh does not depend on the clock
    days = pl.concat([*named, inputs["work.day"]["on_date"]]).drop_nulls()
    return waits(history, days.max() if len(days) else date.min)  # type: ignore[arg-type]


def _curve(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return kaplan_meier(offered(_waits(inputs))).select(list(CURVE_COLUMNS))


def _times(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return sell_times(_waits(inputs))


NODES = (
    Node(
        "price.predicted",
        ("price.history", "settings.person_rate"),
        PIECE_COLUMNS,
        _backtest,
        "One row per sold piece: what one unit of it cost, and what was predicted from what was known before it.",
        ("piece",),
        ("predicted_10_cents <= predicted_50_cents", "predicted_50_cents <= predicted_90_cents"),
    ),
    Node(
        "price.backtest",
        ("price.predicted",),
        SCORE_COLUMNS,
        _score,
        "One row per factor (all, size, product) and level: how the predictor did against two plain rules.",
        ("factor", "level"),
        ("coverage_share between 0 and 1",),
    ),
    Node(
        "price.sell_curve",
        ("price.history", "work.day"),
        CURVE_COLUMNS,
        _curve,
        "One row per group and day on which something sold: the share still unsold (Kaplan-Meier, log-log limits).",
        ("factor", "level", "wait_days"),
        ("unsold_share between 0 and 1",),
    ),
    Node(
        "price.sell_time",
        ("price.history", "work.day"),
        TIME_COLUMNS,
        _times,
        "One row per group: pieces, how many sold, and the median days to sell with unsold ones counted.",
        ("factor", "level"),
        ("sold_pieces <= pieces",),
    ),
)
