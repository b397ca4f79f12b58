"""How good a quote is: coverage, pinball loss and error on 100 generated shops, and how quick it is.

    nice python tests/benchmarks/bench_quotes.py [shops]

Prints each target beside what was reached. Shops are those of `tests/estimates/made_shops.py`. Takes two to three
minutes for 100 shops.
"""

import os
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# the matrices are small: on a busy machine, threads of the linear algebra wait for each other longer than they work
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "estimates")]

import numpy as np  # noqa: E402
import polars as pl  # noqa: E402
from far_shops import KINDS, NEW, beyond, unsized, wide_shop  # noqa: E402
from made_shops import FINISHES, PRODUCTS, SPECIES, made_shop  # noqa: E402
from scipy.stats import t as student  # noqa: E402

from pipeline.estimates.quote_backtest import backtest, score  # noqa: E402
from pipeline.estimates.quotes import Described, Predictor  # noqa: E402

NO_RATES = pl.DataFrame(
    schema={"name": pl.String, "from_date": pl.Date, "rate_cents": pl.Int64, "paid": pl.Boolean, "role": pl.String}
)
PIECES, KNOWN, RISE = 200, 160, 100
REPORTED = 1_000
"""How far a spread widens was chosen on shops of seeds below; its figures are of seeds from here on."""
# of an earlier comparison of ours, for which the recipe was made
EXPECTED = {"average ± t": "86.5 / 6.1 / 101 % / 1.000", "log-linear ± t": "81.3 / 8.6 / 57 % / 0.550"}


def main(shops: int) -> None:
    pl.Config.set_tbl_rows(30)
    begun = time.perf_counter()
    yardsticks(min(shops, 100))
    print(f"\n== Rolling backtest: {shops} shops of {PIECES} pieces by the recipe")
    targets(rolled(shops, lambda seed: (made_shop(seed, PIECES), NO_RATES)))
    print(f"\n== The same, pay raised by 15 % after piece {RISE}; only the pieces after it count")
    rise(shops)
    print(f"\n== Harder shops ({shops}): products differ in size, species and finish cost hours, heavy tails, overhead")
    targets(rolled(shops, lambda seed: (made_shop(seed, PIECES, harder=True), NO_RATES)))
    print(f"\n== Young shops ({shops}): 45 pieces, so 30 predicted from 15 to 44 known ones")
    targets(rolled(shops, lambda seed: (made_shop(seed, 45), NO_RATES)))
    for name, kind in KINDS.items():
        if kind.spread > 1 or kind.tied:
            print(f"\n== Rolling backtest, {name} ({shops} shops)")
            targets(rolled(shops, lambda seed, kind=kind: (wide_shop(seed, kind, PIECES), NO_RATES)))
    far(shops)
    without_sizes(shops)
    speed()
    print(f"\nall in {time.perf_counter() - begun:.0f} s")


def yardsticks(shops: int) -> None:
    """The recipe's own two yardsticks, to see that these shops are like those it was made for."""
    print(f"== Recipe check: {shops} shops, first {KNOWN} pieces known, next {PIECES - KNOWN} predicted")
    print("   coverage of the 80 % interval / above it / median width ÷ centre / pinball ÷ average rule's")
    rows = {name: [] for name in ("average ± t", "log-linear ± t")}
    for seed in range(shops):
        shop = made_shop(seed, PIECES)
        cost = (shop["labour_cents"] + shop["material_cents_today"]).to_numpy().astype(float)
        for name, rule in (("average ± t", by_average), ("log-linear ± t", by_log_linear)):
            low, middle, high = rule(shop, cost)
            true = cost[KNOWN:]
            loss = np.mean([pinball(true, low, 0.1), pinball(true, middle, 0.5), pinball(true, high, 0.9)])
            inside = np.mean((true >= low) & (true <= high))
            rows[name].append((inside, np.mean(true > high), np.median((high - low) / middle), loss))
    base = np.array(rows["average ± t"])[:, 3]
    for name, found in rows.items():
        inside, above, width, _ = np.mean(found, axis=0)
        share = np.mean(np.array(found)[:, 3] / base)
        line = f"   {name:15} {100 * inside:.1f} / {100 * above:.1f} / {100 * width:.0f} % / {share:.3f}"
        print(f"{line}   expected {EXPECTED[name]}")


def by_average(shop: pl.DataFrame, cost: np.ndarray) -> np.ndarray:
    product = shop["product"].to_numpy()
    rows = []
    for name in product[KNOWN:]:
        own = cost[:KNOWN][product[:KNOWN] == name]
        own = own if len(own) > 1 else cost[:KNOWN]
        reach = student.ppf(0.9, len(own) - 1) * own.std(ddof=1) * np.sqrt(1 + 1 / len(own))
        rows.append((own.mean() - reach, own.mean(), own.mean() + reach))
    return np.array(rows).T


def by_log_linear(shop: pl.DataFrame, cost: np.ndarray) -> np.ndarray:
    levels = [(shop["product"] == p) for p in PRODUCTS] + [(shop["species"] == s) for s in SPECIES]
    x = np.column_stack([np.ones(PIECES), np.log(shop["area_mm2"]), np.log(shop["unit_number"]), *levels]).astype(float)
    x[:, 1] -= x[:, 1].mean()
    known, y = x[:KNOWN], np.log(cost[:KNOWN])
    inverse = np.linalg.inv(known.T @ known + np.diag([0, 0, 0] + [1] * len(levels)))
    effects = inverse @ known.T @ y
    freedom = KNOWN - np.trace(inverse @ known.T @ known)
    sd = np.sqrt(np.sum((y - known @ effects) ** 2) / freedom)
    new = x[KNOWN:]
    reach = student.ppf(0.9, freedom) * sd * np.sqrt(1 + np.einsum("ij,jk,ik->i", new, inverse, new))
    return np.exp(np.array([new @ effects - reach, new @ effects, new @ effects + reach]))


def pinball(true: np.ndarray, told: np.ndarray, level: float) -> float:
    return float(np.mean(np.maximum(level * (true - told), (level - 1) * (true - told))))


def rolled(shops: int, make: Callable[[int], tuple[pl.DataFrame, pl.DataFrame]]) -> pl.DataFrame:
    """The scores of all shops, one row per shop, factor and level."""
    return pl.concat([score(backtest(*make(seed))).with_columns(shop=seed) for seed in range(shops)])


def targets(scores: pl.DataFrame) -> None:
    weight = pl.col("pieces")
    pooled = (pl.col("coverage_share") * weight).sum() / weight.sum()
    above = (pl.col("above_share") * weight).sum() / weight.sum()
    for factor, name in (("all", "all pieces"), ("size", "largest third")):
        part = scores.filter(pl.col("factor") == factor)
        covered, over = part.select(pooled.alias("covered"), above.alias("above")).row(0)
        spread = part.select(
            pl.col("coverage_share").quantile(0.1).alias("a"), pl.col("coverage_share").quantile(0.9).alias("b")
        ).row(0)
        print(
            f"   coverage, {name:14} {100 * covered:5.1f} %  (target 77 to 83) {_met(0.77 <= covered <= 0.83)}"
            f"   above {100 * over:.1f} %; 8 of 10 shops between {100 * spread[0]:.0f} and {100 * spread[1]:.0f} %"
        )
    shops = scores.filter(pl.col("factor") == "all")
    products = scores.filter(pl.col("factor") == "product").select(pooled.alias("covered")).item()
    print(f"   coverage, over the products of all shops {100 * products:.1f} %")
    for kind, label, target in (("pinball", "pinball loss", 0.45), ("error", "median error", 0.35)):
        for rule in ("average", "rule"):
            ratio = (shops[f"{kind}_cents"] / shops[f"{rule}_{kind}_cents"]).to_numpy()
            # the worst fifth: the shops where the predictor does worst beside this rule
            worst = np.sort(ratio)[-max(len(ratio) // 5, 1) :]
            name = "product average" if rule == "average" else "hours × rate + 2 × material"
            line = f"   {label} below {name:28} {100 * (1 - ratio.mean()):5.1f} %"
            if rule == "average":
                line += f"  (target {100 * target:.0f}) {_met(1 - ratio.mean() >= target)}"
            below, last = 100 * (1 - worst.mean()), 100 * (1 - worst.max())
            print(f"{line}   worst fifth {below:.1f} % {_met(worst.mean() < 1)}, worst shop {last:.1f} %")


def _met(reached: bool) -> str:
    return "met" if reached else "MISSED"


def rise(shops: int) -> None:
    day = date(2024, 1, 1) + timedelta(days=2 * RISE)
    rates = pl.DataFrame(
        {"name": ["maker"] * 2, "from_date": [date(2024, 1, 1), day], "rate_cents": [2500, 2875], "paid": [False] * 2}
    )
    for name, settings in (("told by shop.toml", rates), ("not told (what it would be)", NO_RATES)):
        parts = [backtest(made_shop(seed, PIECES, rise_at=RISE), settings) for seed in range(shops)]
        after = pl.concat(parts).filter(pl.col("finished") >= day)
        for label, part in (("all pieces", after), ("largest third", after.filter("large"))):
            inside = part.select(
                pl.col("unit_cost_cents").is_between("predicted_10_cents", "predicted_90_cents").mean()
            ).item()
            above = part.select((pl.col("unit_cost_cents") > pl.col("predicted_90_cents")).mean()).item()
            line = f"   pay {name:28} {label:14} coverage {100 * inside:.1f} %, above {100 * above:.1f} %"
            print(line if settings is NO_RATES else f"{line}  (target 77 to 83) {_met(0.77 <= inside <= 0.83)}")


def far(shops: int) -> None:
    times = (1, 2, 4, 8)
    print(f"\n== Pieces at {times} times the largest of 160 known ones ({shops} shops a kind); target 77 to 83 %")
    every = []
    for name, kind in KINDS.items():
        covered, width = [], []
        for seed in range(REPORTED, REPORTED + shops):
            cost, found = beyond(seed, kind, times)
            low, high = found.at(0.1), found.at(0.9)
            covered.append(((cost >= low) & (cost <= high)).reshape(len(times), NEW).mean(axis=1))
            width.append(np.median((high / low).reshape(len(times), NEW), axis=1))
        every.append(100 * np.mean(covered, axis=0))
        shown = "  ".join(
            f"{c:5.1f} % (1 to {w:.1f})" for c, w in zip(every[-1], np.median(width, axis=0), strict=True)
        )
        print(f"   {name:36} {shown}")
    means = "  ".join(f"{c:5.1f} % {_met(77 <= c <= 83)}" for c in np.mean(every, axis=0))
    print(f"   {'over all kinds':36} {means}")


def without_sizes(shops: int) -> None:
    print(f"\n== 35 % of the sizes missing ({shops} shops a kind): error of the middle, in the mean of its log")
    for name, kind in KINDS.items():
        if kind.spread > 1:
            continue
        rows = []
        for share in (0.35, 0.0):
            found = [unsized(seed, kind, share) for seed in range(REPORTED, REPORTED + shops)]
            error = np.concatenate([np.log(spread.at(0.5) / cost) for cost, spread, _ in found])
            inside = np.mean(np.concatenate([(c >= s.at(0.1)) & (c <= s.at(0.9)) for c, s, _ in found]))
            large = np.concatenate([own for _, _, own in found]) > kind.spread
            rows.append((100 * error.mean(), 100 * error[large].mean(), 100 * inside))
        (every, large, inside), (plain, plain_large, _) = rows
        met = _met(abs(every) <= 3 and abs(large) <= 5)
        print(
            f"   {name:36} all {every:5.1f} %, large for their product {large:5.1f} %  (targets 3 and 5) {met}"
            f"   coverage {inside:.1f} %   with all sizes known {plain:.1f} and {plain_large:.1f} %"
        )


def speed() -> None:
    print("\n== Speed (ms; best of three; ratio to the smallest history)")
    Predictor(made_shop(0, 100), NO_RATES, date(2026, 1, 1))
    first = None
    for pieces in (400, 2_000, 10_000):
        shop = made_shop(1, 2_000)
        shop = pl.concat([shop] * (pieces // 2_000)) if pieces > 2_000 else shop[:pieces]
        # more kinds than the recipe has, as an old shop would
        kind = pl.Series(np.random.default_rng(0).integers(0, 5, shop.height).astype(str))
        shop = shop.with_columns(product=pl.col("product") + kind, finished=pl.col("finished").sort())
        wanted = Described("tray1", SPECIES[0], FINISHES[0], 60_000, 1_200_000)
        whole = best(lambda shop=shop, wanted=wanted: Predictor(shop, NO_RATES, date(2030, 1, 1)).cost(wanted))
        ready = Predictor(shop, NO_RATES, date(2030, 1, 1))
        again = best(lambda ready=ready, wanted=wanted: ready.cost(wanted))
        rolling = best(lambda shop=shop: backtest(shop, NO_RATES))
        first = first or whole
        line = f"   {pieces:6} pieces, 40 products: quote with fit {whole:6.1f} ({whole / first:.1f}×)"
        target = f"  (target 300) {_met(whole < 300)}" if pieces == 10_000 else ""
        print(f"{line}, next quote {again:5.1f}, whole backtest {rolling:6.0f}{target}")


def best(run: Callable[[], object]) -> float:
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        run()
        times.append(1000 * (time.perf_counter() - begun))
    return min(times)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
