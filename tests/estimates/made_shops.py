"""Generated shops with a known truth, for tests and the benchmark.

The recipe: 8 products; hours = product × learning curve (82 to 98 %) × exp(0.7 × log size, sd 0.35) × lognormal noise,
larger for big pieces; 20 % reworked with extra hours; material by 6 species. What it leaves open (sizes of the noises,
how products' hours and species' prices spread) was set so that two yardsticks come out as in an earlier comparison of
interval methods on the same recipe: product average ± t covers about 86 % and is about 100 % of its centre wide; a
plain log-linear t interval covers about 81 %, is about 57 % wide and loses 0.55 of the average's pinball loss.
"""

from datetime import date, timedelta

import numpy as np
import polars as pl

PRODUCTS = ("tray", "board", "bowl", "clock", "lamp", "box", "shelf", "table")
SPECIES = ("walnut", "oak", "ash", "cherry", "maple", "olive")
FINISHES = ("oil", "wax", "resin inlay", "resin flood", "lacquer")


def made_shop(
    seed: int,
    pieces: int = 200,
    rate: int = 2500,
    rise_at: int | None = None,
    rise: float = 1.15,
    harder: bool = False,
    sizes: np.ndarray | None = None,
    products: np.ndarray | None = None,
    level_from: float = np.inf,
) -> pl.DataFrame:
    """A `price.history` of one shop. From piece number `rise_at` on an hour is paid `rise` times `rate` cents.

    `sizes` (log, 0 is 600 cm²) and `products` (by number) stand in place of the recipe's; noise grows with size up to
    the log size `level_from`.

    `harder` leaves the recipe: sizes differ by product, species and finish act on hours, the size slope differs by
    product, the noise has heavier tails, a bench hour carries overhead.
    """
    rng = np.random.default_rng(seed)
    product = rng.choice(len(PRODUCTS), pieces, p=rng.dirichlet(np.full(len(PRODUCTS), 3.0)))
    if products is not None:
        product = products
    species = rng.choice(len(SPECIES), pieces, p=rng.dirichlet(np.full(len(SPECIES), 3.0)))
    finish = rng.choice(len(FINISHES), pieces)
    z = rng.normal(0, 0.35, pieces)
    if sizes is not None:
        z = np.asarray(sizes, dtype=float)
    unit = np.array([np.count_nonzero(product[:i] == product[i]) + 1 for i in range(pieces)])
    practice = np.log2(rng.uniform(0.82, 0.98, len(PRODUCTS)))[product]
    log_hours = rng.normal(np.log(5), 0.45, len(PRODUCTS))[product] + practice * np.log(unit)
    noise = rng.normal(0, 1, pieces)
    slope = 0.7
    if harder:
        noise = rng.standard_t(4, pieces) / np.sqrt(2)
        slope = rng.normal(0.7, 0.15, len(PRODUCTS))[product]
        log_hours += rng.normal(0, 0.12, len(SPECIES))[species] + rng.normal(0, 0.15, len(FINISHES))[finish]
    hours = np.exp(log_hours + slope * z + noise * 0.18 * np.exp(0.9 * np.clip(z, -level_from, level_from)))
    reworked = rng.random(pieces) < 0.2
    again = np.where(reworked, hours * rng.uniform(0.1, 0.6, pieces), 0.0)
    price = rng.lognormal(np.log(18), 0.45, len(SPECIES))[species] * 100
    per_product = rng.lognormal(0, 0.35, len(PRODUCTS))[product]
    material = np.rint(price * per_product * np.exp((1.5 if harder else 1.0) * z) * np.exp(rng.normal(0, 0.2, pieces)))
    size = z + (rng.normal(0, 0.5, len(PRODUCTS))[product] if harder else 0.0)
    paid = np.where(np.arange(pieces) >= (pieces if rise_at is None else rise_at), rate * rise, rate)
    seconds = np.rint((hours + again) * 3600)
    overhead = np.rint(seconds / 3600 * 600) if harder else np.zeros(pieces)
    labour = np.rint(seconds / 3600 * paid)
    day = np.arange(pieces) * 2
    sold = day + rng.exponential(45, pieces).astype(int) + 1
    finished = [date(2024, 1, 1) + timedelta(days=int(d)) for d in day]
    made = labour + material + overhead
    return pl.DataFrame(
        {
            "piece": [f"P-{i + 1:03d}" for i in range(pieces)],
            "product": [PRODUCTS[p] for p in product],
            "species": [SPECIES[s] for s in species],
            "finish": [FINISHES[f] for f in finish],
            "quantity": np.ones(pieces, dtype=np.int64),
            "area_mm2": np.rint(60_000 * np.exp(size)).astype(np.int64),
            "volume_mm3": np.rint(1_200_000 * np.exp(1.5 * size)).astype(np.int64),
            "finished": finished,
            "listed": finished,
            "sold": [date(2024, 1, 1) + timedelta(days=int(d)) for d in sold],
            "price_cents": (np.rint(made * 1.6 / 500) * 500).astype(np.int64),
            "channel": rng.choice(["market", "web", "commission"], pieces).tolist(),
            "bench_seconds": seconds.astype(np.int64),
            "labour_cents": labour.astype(np.int64),
            "material_cents": material.astype(np.int64),
            "material_cents_today": material.astype(np.int64),
            "machine_cents": np.zeros(pieces, dtype=np.int64),
            "overhead_cents": overhead.astype(np.int64),
            "rework_seconds": np.rint(again * 3600).astype(np.int64),
            "rework_cents": np.rint(again * (paid + (600 if harder else 0))).astype(np.int64),
            "reworked": reworked,
            "made_cents": made.astype(np.int64),
            "unit_number": unit,
        }
    )
