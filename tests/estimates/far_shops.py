"""Generated shops for sizes: those that span a lot, new pieces far beyond what was made, and sizes left out.

Noise in the recipe grows as a power of the size. Carried on without end that is a scatter of 1 to 50 at eight times the
largest, so each kind is also made with noise that levels off at 2.7 times the middle size, or is even from there on.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from made_shops import PRODUCTS, made_shop

from pipeline.estimates.quote_rates import Bench
from pipeline.estimates.quote_spread import Spread, code_both, fit_both, spread, usable, work

NO_RATES = pl.DataFrame(
    schema={"name": pl.String, "from_date": pl.Date, "rate_cents": pl.Int64, "paid": pl.Boolean, "role": pl.String}
)
KNOWN, NEW = 160, 12


@dataclass(frozen=True)
class Kind:
    """How sizes lie (sd of their logs; or tied to the product, from 72 to 4,800 cm²), and up to where noise grows."""

    harder: bool = False
    spread: float = 0.35
    tied: bool = False
    level_from: float = np.inf


KINDS = {
    "recipe": Kind(),
    "recipe, noise levels off": Kind(level_from=1.0),
    "harder": Kind(harder=True),
    "harder, noise levels off": Kind(harder=True, level_from=1.0),
    "60 to 6,000 cm²": Kind(spread=1.2, level_from=0.0),
    "60 to 6,000 cm², harder": Kind(harder=True, spread=1.2, level_from=0.0),
    "size goes with product": Kind(tied=True, level_from=0.0),
    "size goes with product, harder": Kind(harder=True, tied=True, level_from=0.0),
    "size goes with product, noise grows": Kind(harder=True, tied=True, level_from=1.0),
}


def sizes(kind: Kind, rng: np.random.Generator, pieces: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Products, log sizes, and by how much each is off its product's usual one."""
    product = rng.choice(len(PRODUCTS), pieces)
    own = rng.normal(0, kind.spread, pieces)
    return product, own + (np.linspace(np.log(0.12), np.log(8), len(PRODUCTS))[product] if kind.tied else 0.0), own


def wide_shop(seed: int, kind: Kind, pieces: int = 200) -> pl.DataFrame:
    """A shop whose sizes lie as the kind says."""
    product, size, _ = sizes(kind, np.random.default_rng([seed, 9]), pieces)
    return made_shop(seed, pieces, harder=kind.harder, sizes=size, products=product, level_from=kind.level_from)


def beyond(seed: int, kind: Kind, times: tuple[float, ...]) -> tuple[np.ndarray, Spread]:
    """True costs of `NEW` pieces at each of `times` the largest size of `KNOWN` pieces, and how they were predicted."""
    rng = np.random.default_rng([seed, 7])
    product, size, _ = sizes(kind, rng, KNOWN)
    new = np.full(NEW, len(PRODUCTS) - 1) if kind.tied else rng.choice(len(PRODUCTS), NEW)
    far = [np.full(NEW, size.max() + np.log(k)) for k in times]
    shop = made_shop(
        seed,
        KNOWN + NEW * len(times),
        harder=kind.harder,
        sizes=np.concatenate([size, *far]),
        products=np.concatenate([product, np.tile(new, len(times))]),
        level_from=kind.level_from,
    )
    return predicted(shop[:KNOWN], shop[KNOWN:])


def unsized(seed: int, kind: Kind, share: float = 0.35) -> tuple[np.ndarray, Spread, np.ndarray]:
    """As `beyond`, of 40 pieces like the known ones, of which a share lacks its size; and how large for its product."""
    rng = np.random.default_rng([seed, 8])
    product, size, own = sizes(kind, rng, KNOWN + 40)
    shop = made_shop(
        seed, KNOWN + 40, harder=kind.harder, sizes=size, products=product, level_from=min(kind.level_from, 1.0)
    )
    gone = pl.Series((rng.random(KNOWN + 40) < share) & (np.arange(KNOWN + 40) < KNOWN))
    shop = shop.with_columns(pl.when(~gone).then(pl.col(c)).alias(c) for c in ("area_mm2", "volume_mm3"))
    return *predicted(shop[:KNOWN], shop[KNOWN:]), own[KNOWN:]


def predicted(known: pl.DataFrame, new: pl.DataFrame) -> tuple[np.ndarray, Spread]:
    known = usable(known)
    bench = Bench.of(known, NO_RATES)
    rates = bench.known(known.height, 1.0)
    past = work(known)
    models = fit_both(past, code_both(past), known.height)
    found = spread(models, bench.hours_at(rates, 1.0), rates.hour(new), new)
    made = (new["labour_cents"] + new["material_cents_today"] + new["overhead_cents"]).to_numpy().astype(float)
    return made, found
