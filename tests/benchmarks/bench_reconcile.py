"""How good reconciled figures are where the truth is known. Run: bench_reconcile.py [runs, 4000].

A made-up stretch of resin (bought, on the shelf, mixed, deposited, trimmed, left in cup, spilled, stuck) is
weighed with noise of the stated errors, and reconciled. Prints, for each figure, how often its 95 % interval holds the
truth (wanted: 93 to 97 %) and its error beside that of the raw weighing (wanted: below); then how often figures that
are right are called in doubt, and how often a gross error is seen and the right figure named, by its size. Last, how
often the interval of waste in pours that were not weighed holds the truth. Asserts nothing.
"""

import sys
from time import perf_counter

import numpy as np

from pipeline.estimates.reconcile import reconcile
from pipeline.estimates.waste import half_width, ratio

FIGURES = (
    *("on the shelf before", "bought", "mixed", "on the shelf after", "deposited", "trimmed", "left in cup", "spilled"),
    *("stuck to tools", "good"),
)
TRUTH = np.array([2700.0, 17000, 16700, 3000, 13900, 1280, 1850, 650, 300, 12620])
SPREAD = np.array([83.0, 170, 169, 92, 144, 132, 44, 132, 167, np.inf])
BALANCE = np.array(
    [
        [1.0, 1, -1, -1, 0, 0, 0, 0, 0, 0],
        [0, 0, 1, 0, -1, 0, -1, -1, -1, 0],
        [0, 0, 0, 0, 1, -1, 0, 0, 0, -1],
    ]
)


def main(runs: int) -> None:
    rng = np.random.default_rng(1)
    known = np.isfinite(SPREAD)
    noise = rng.normal(size=(runs, len(TRUTH))) * np.where(known, SPREAD, 0)
    start = perf_counter()
    results = [reconcile(TRUTH + row, SPREAD, BALANCE) for row in noise]
    each = (perf_counter() - start) / runs
    gap = np.array([r.adjusted for r in results]) - TRUTH
    covered = np.mean(np.abs(gap) < 1.959964 * np.array([r.error for r in results]), axis=0)
    print(f"{runs} runs, {each * 1e6:.0f} microseconds each\n")
    print(f"{'figure':<20}{'covered':>9}{'error, g':>10}{'raw, g':>9}{'ratio':>8}")
    for n, name in enumerate(FIGURES):
        after, raw = np.sqrt(np.mean(gap[:, n] ** 2)), np.sqrt(np.mean(noise[:, n] ** 2))
        beside = f"{raw:>9.1f}{after / raw:>8.3f}" if known[n] else f"{'-':>9}{'-':>8}"
        print(f"{name:<20}{covered[n]:>9.1%}{after:>10.1f}{beside}")
    alarms = np.mean([r.chance < 0.05 for r in results])
    print(f"\nall right, called in doubt: {alarms:.1%} (wanted 5 %)\n")
    print(f"{'gross error in':<20}{'errors':>8}{'in doubt':>10}{'named first':>13}")
    for n in (3, 4, 7):
        for size in (3, 5, 8):
            some = [reconcile(TRUTH + row + _bump(n, size), SPREAD, BALANCE) for row in noise[: runs // 8]]
            doubt = np.mean([r.chance < 0.05 for r in some])
            named = np.mean([r.most_suspect[n] for r in some])
            print(f"{FIGURES[n]:<20}{size:>8}{doubt:>10.1%}{named:>13.1%}")
    _waste(rng, runs)


def _bump(figure: int, size: int) -> np.ndarray:
    bump = np.zeros(len(TRUTH))
    bump[figure] = size * SPREAD[figure]
    return bump


def _waste(rng: np.random.Generator, runs: int) -> None:
    print(f"\n{'pours weighed':<20}{'not weighed':>12}{'covered':>9}   of the waste in those that were not, scatter")
    for scatter in ("by size", "by share"):
        for weighed, others in ((5, 15), (12, 8), (60, 20)):
            held = 0
            for _ in range(runs):
                mixed = rng.lognormal(5, 0.7, weighed + others)
                spread = 0.5 * np.sqrt(mixed) if scatter == "by size" else 0.04 * mixed
                waste = 0.16 * mixed + rng.normal(size=len(mixed)) * spread
                grams, error = ratio(waste[:weighed], mixed[:weighed]).total(mixed[weighed:])
                held += abs(grams - waste[weighed:].sum()) <= half_width(error, weighed - 1)
            print(f"{weighed:<20}{others:>12}{held / runs:>9.1%}   {scatter}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000)
