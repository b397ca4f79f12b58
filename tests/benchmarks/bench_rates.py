"""How good the adjusted rates are on made-up shops whose truth is known. Run: bench_rates.py [shops, 500].

Each shop: 300 pieces of 8 species (78 down to 9 pieces) in 5 finishes, 20 % rework; a species takes its own finish 60 %
of the time and any one otherwise, so species and finish are confounded. The truth of a species is its rate with the
whole shop's finish mix. Scenarios:
  A  species effects of spread 0.5, finish effects of spread 0.7 (log odds)
  B  no species effect, one finish at +1.2: that of the largest species
  C  one species of 36 pieces at +1, finish effects of spread 0.7
  D  species effects of spread 1, finish effects of spread 0.7
and, to see whether the method was fitted to those: a lone bad species at +0.7 and +1.5, at 10 % rework, a third of
the pieces, 90 % preferred finish, two bad species, skewed (exponential) species effects. Then shops of every kind of
cause, those of tests/estimates/rate_shops.py: what is to be chosen is chosen by seeds below `REPORTED`, and the figures
are of seeds from there on.

Prints figures against their targets and asserts nothing.
"""

import os
import sys
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from time import perf_counter

# the matrices are small: threads of the linear algebra wait for each other longer than they work
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.append(str(Path(__file__).parents[1] / "estimates"))

import numpy as np
from made_outcomes import cells
from numpy.typing import NDArray
from rate_shops import BAD as BAD_WOOD
from rate_shops import KINDS, made
from scipy import stats
from scipy.special import expit

from pipeline.estimates._firth import unshrunk
from pipeline.estimates._hierarchy import adjust
from pipeline.estimates._intervals import wilson
from pipeline.estimates._laplace import Cells
from pipeline.estimates._pieces_by_factor import MEASURES, group_of, labelled
from pipeline.estimates.rates import judged_rates

Floats = NDArray[np.float64]
SIZES = (78, 60, 47, 36, 28, 23, 19, 9)
BAD = 3  # the species of 36 pieces
FINISHES = 5
REPORTED = 50_000


@dataclass(frozen=True)
class Scenario:
    name: str
    species: str = "none"  # "none", "normal", "skewed", "bad"
    spread: float = 0.0
    bad: float = 0.0
    finish_spread: float = 0.7
    bad_finish: float = 0.0
    preference: float = 0.6
    sizes: tuple[int, ...] = SIZES
    rework: float = 0.2
    bad_ones: tuple[int, ...] = (BAD,)


A = Scenario("A", species="normal", spread=0.5)
B = Scenario("B", finish_spread=0.0, bad_finish=1.2)
C = Scenario("C", species="bad", bad=1.0)
D = Scenario("D", species="normal", spread=1.0)
OTHERS = (
    replace(C, name="C, bad +0.7", bad=0.7),
    replace(C, name="C, bad +1.5", bad=1.5),
    replace(C, name="C, 10 % rework", rework=0.1),
    replace(C, name="C, two bad", bad_ones=(1, BAD)),
    replace(C, name="C, bad is good (-1)", bad=-1.0),
    replace(A, name="A, 100 pieces", sizes=tuple(max(2, s // 3) for s in SIZES)),
    replace(A, name="A, 90 % preferred", preference=0.9),
    replace(A, name="A, skewed effects", species="skewed"),
)


def draw(scenario: Scenario, random: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Events and pieces (species, finish), and each species' true adjusted rate."""
    species = len(scenario.sizes)
    preferred = random.integers(0, FINISHES, species)
    effect = np.zeros(species)
    if scenario.species == "normal":
        effect = random.normal(0, scenario.spread, species)
    elif scenario.species == "skewed":
        effect = scenario.spread * (random.exponential(1, species) - 1)
    elif scenario.species == "bad":
        effect[list(scenario.bad_ones)] = scenario.bad
    finish = random.normal(0, 1, FINISHES) * scenario.finish_spread
    finish[preferred[0]] += scenario.bad_finish
    chance = np.full((species, FINISHES), (1 - scenario.preference) / FINISHES)
    chance[np.arange(species), preferred] += scenario.preference
    pieces = np.array([random.multinomial(n, p) for n, p in zip(scenario.sizes, chance, strict=True)])
    log_odds = effect[:, None] + finish
    low, high = -10.0, 10.0
    for _ in range(60):
        middle = (low + high) / 2
        too_many = (pieces * expit(log_odds + middle)).sum() > scenario.rework * pieces.sum()
        low, high = (low, middle) if too_many else (middle, high)
    rate = expit(log_odds + middle)
    return random.binomial(pieces, rate).astype(float), pieces.astype(float), rate @ (pieces.sum(axis=0) / pieces.sum())


def as_cells(events: Floats, pieces: Floats) -> Cells:
    made = pieces > 0
    codes = np.argwhere(made)
    return Cells(events[made], pieces[made], codes, tuple(np.arange(n).astype(object) for n in pieces.shape))


@dataclass(frozen=True)
class Result:
    """Per shop and species: (shops, species)."""

    truth: Floats
    pieces: Floats
    raw: Floats
    raw_chance: Floats
    raw_covers: Floats
    rate: Floats
    low: Floats
    high: Floats
    chance: Floats
    unshrunk: Floats

    @property
    def covers(self) -> NDArray[np.bool_]:
        return (self.low <= self.truth) & (self.truth <= self.high)


def simulate(scenario: Scenario, shops: int, seed: int = 31415) -> Result:
    random = np.random.default_rng([seed, *scenario.name.encode()])
    rows = []
    for _ in range(shops):
        events, pieces, truth = draw(scenario, random)
        shop = as_cells(events, pieces)
        rates = adjust(shop)
        x, n = events.sum(axis=1), pieces.sum(axis=1)
        low, high = wilson(x, n, 0.90)
        by_count = (truth, n, x / n, _raw_chance(x, n), (low <= truth) & (truth <= high))
        rows.append((*by_count, rates.rate, rates.low, rates.high, rates.chance_worse, unshrunk(shop)))
    return Result(*(np.array(column) for column in zip(*rows, strict=True)))


def _raw_chance(x: Floats, n: Floats) -> Floats:
    """Chance that a species is worse than the rest by the counts alone: two betas, by their Normal approximation."""
    mean, rest = (x + 0.5) / (n + 1), (x.sum() - x + 0.5) / (n.sum() - n + 1)
    sd = np.sqrt(mean * (1 - mean) / (n + 2) + rest * (1 - rest) / (n.sum() - n + 2))
    return stats.norm.cdf((mean - rest) / sd)


def rmse(estimate: Floats, truth: Floats) -> float:
    return float(np.sqrt(np.nanmean((estimate - truth) ** 2)))


def line(name: str, r: Result, bad: tuple[int, ...] = ()) -> str:
    cut = 1 - rmse(r.rate, r.truth) / rmse(r.raw, r.truth)
    text = (
        f"{name:22} error raw {100 * rmse(r.raw, r.truth):5.2f}  unshrunk {100 * rmse(r.unshrunk, r.truth):5.2f}"
        f"  adjusted {100 * rmse(r.rate, r.truth):5.2f} points ({100 * cut:3.0f} % less)"
        f"  90 % interval covers {100 * r.covers.mean():5.1f} % (raw Wilson {100 * r.raw_covers.mean():5.1f} %)"
        f"  width {100 * (r.high - r.low).mean():4.1f}"
    )
    if bad:
        covers, flagged = r.covers[:, list(bad)].mean(), (r.chance[:, list(bad)] >= 0.95).mean()
        text += f"  lone one covered {100 * covers:5.1f} %, flagged {100 * flagged:4.1f} %"
    return text


def pooled(results: list[Result]) -> str:
    both = [np.concatenate([getattr(r, f) for r in results]) for f in ("raw", "rate", "truth", "covers")]
    raw, rate, truth, covers = both
    return (
        f"{'A to D together':22} adjusted error {100 * (1 - rmse(rate, truth) / rmse(raw, truth)):.1f} % below raw"
        f" (wanted: 40)  coverage {100 * covers.mean():.1f} % (wanted: 87 to 93)"
    )


def caught(b: Result, c: Result) -> None:
    """Share of bad species caught, raw against adjusted, at one false-alarm rate over species that are not bad."""
    print("\nA bad species of 36 pieces caught at the same false-alarm rate (all species of B, good ones of C):")
    good = np.arange(c.truth.shape[1]) != BAD
    for rate in (0.01, 0.02, 0.05, 0.10, 0.15):
        shares = []
        for name in ("raw_chance", "chance"):
            innocent = np.concatenate([getattr(b, name).ravel(), getattr(c, name)[:, good].ravel()])
            shares.append((getattr(c, name)[:, BAD] > np.quantile(innocent, 1 - rate)).mean())
        print(f"  false alarms {100 * rate:4.0f} %:  raw {100 * shares[0]:5.1f} %   adjusted {100 * shares[1]:5.1f} %")


def reliability(results: dict[str, Result]) -> None:
    print(
        "\nReliability of chance_worse: of the species said to be worse than the rest with such a chance, so many are"
    )
    edges = (0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 1.0001)
    for names in (("A",), ("D",), ("A", "D"), ("C",)):
        said = np.concatenate([results[n].chance.ravel() for n in names])
        rest = [results[n].truth > (results[n].truth * results[n].pieces).sum(1, keepdims=True) / 300 for n in names]
        true = np.concatenate([r.ravel() for r in rest])
        parts = []
        for low, high in pairwise(edges):
            inside = (said >= low) & (said < high)
            if inside.any():
                parts.append(f"{said[inside].mean():.2f}: {true[inside].mean():.2f} (n {inside.sum()})")
        print(f"  {' and '.join(names):8}", "  ".join(parts))


def causes(shops: int) -> None:
    """Shops of every kind of cause, one piece a row, as the refresh takes them."""
    print(
        f"\nBy cause, {shops} shops a kind. Wanted: covered 87 % in each and 88 to 95 % over all; an innocent wood very"
    )
    print(
        "likely worse in 5 % of shops (8 % where runs fail together); a lone bad one found in 25 %; alike: named in 10"
    )
    every = []
    for kind in KINDS:
        covers, large, blamed, found, names = [], [], 0, 0, 0
        for seed in range(REPORTED, REPORTED + shops):
            shop = made(kind, seed)
            group = group_of(labelled(shop.judged), "species", MEASURES[0])
            rates = judged_rates(group, group.rates())
            inside = (rates["adjusted_low"].to_numpy() <= shop.truth) & (
                shop.truth <= rates["adjusted_high"].to_numpy()
            )
            covers.append(inside.mean())
            large += inside[shop.pieces > 20].tolist()
            rest = (shop.truth @ shop.pieces - shop.truth * shop.pieces) / (shop.pieces.sum() - shop.pieces)
            flagged = (rates["verdict"] == "very likely worse").to_numpy()
            blamed += bool((flagged & (shop.truth <= rest + 1e-9)).any())
            found += bool(kind.bad and flagged[BAD_WOOD])
            names += bool(rates["verdict"].str.contains("likely").any())
        every.append(np.mean(covers))
        over_20 = f"{100 * np.mean(large):5.1f}" if large else "    –"
        print(
            f"{kind.name:38} covered {100 * every[-1]:5.1f} %  woods of over 20 pieces {over_20} %  innocent blamed in"
            f" {100 * blamed / shops:4.1f} %  some wood named in {100 * names / shops:4.1f} %"
            + (f"  the bad one found in {100 * found / shops:.1f} %" if kind.bad else ""),
            flush=True,
        )
    print(f"{'all kinds':38} covered {100 * np.mean(every):5.1f} %")


def speed() -> None:
    random = np.random.default_rng(1)
    n = 10_000
    species = random.integers(0, 12, n)
    finish = np.where(random.random(n) < 0.6, species % 8, random.integers(0, 8, n))
    events = random.random(n) < 0.15 + 0.1 * (species == 3)
    adjust(cells(events, species, finish))
    started = perf_counter()
    adjust(cells(events, species, finish))
    whole = perf_counter() - started
    started = perf_counter()
    adjust(cells(events[:300], species[:300], finish[:300]))
    part = perf_counter() - started
    print(
        f"\n10,000 pieces, 12 species, 8 finishes: {whole:.3f} s (wanted: under 2), {whole / part:.1f} times 300 pieces"
    )


def library(shops: int) -> None:
    """statsmodels' variational fit of the same model on the same shops, as a cross-check."""
    from statsmodels.genmod.bayes_mixed_glm import BinomialBayesMixedGLM  # type: ignore[import-untyped]

    random = np.random.default_rng(7)
    gaps = []
    for _ in range(shops):
        events, pieces, _ = draw(A, random)
        species, finish = (np.repeat(k.ravel(), pieces.ravel().astype(int)) for k in np.indices(pieces.shape))
        happened = np.concatenate(
            [np.r_[np.ones(int(e)), np.zeros(int(n - e))] for e, n in zip(events.ravel(), pieces.ravel(), strict=True)]
        )
        hot = np.concatenate([np.eye(len(SIZES))[species], np.eye(FINISHES)[finish]], axis=1)
        which = np.repeat([0, 1], [len(SIZES), FINISHES])
        fit = BinomialBayesMixedGLM(happened, np.ones((len(happened), 1)), hot, which, vcp_p=0.5, fe_p=2).fit_vb()
        effects = fit.vc_mean
        log_odds = fit.fe_mean[0] + effects[: len(SIZES), None] + effects[len(SIZES) :]
        theirs = expit(log_odds) @ (pieces.sum(axis=0) / pieces.sum())
        gaps.append(np.abs(theirs - adjust(as_cells(events, pieces)).rate))
    gap = 100 * np.array(gaps)
    print(
        f"\nstatsmodels fit_vb on {shops} shops of A: rates differ by {gap.mean():.1f} points on average, the worst"
        f" species of a shop by {gap.max(axis=1).mean():.1f}, at most {gap.max():.1f}"
    )


def main() -> None:
    shops = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    print(f"{shops} shops a scenario")
    results = {s.name: simulate(s, shops) for s in (A, B, C, D)}
    for name, result in results.items():
        print(line(name, result, (BAD,) if name == "C" else ()))
    print(pooled(list(results.values())))
    b, c = results["B"], results["C"]
    flags, raw_flags = 100 * (b.chance >= 0.95), 100 * (b.raw_chance >= 0.95)
    print(
        f"Lone bad species of C covered {100 * c.covers[:, BAD].mean():.1f} % (wanted: 80).  B: largest species"
        f" wrongly flagged in {flags[:, 0].mean():.1f} % of shops (wanted: 5 at most; raw"
        f" {raw_flags[:, 0].mean():.1f} %), of all species {flags.mean():.1f} % (raw {raw_flags.mean():.1f} %)"
    )
    caught(b, c)
    reliability(results)
    print("\nOther shops, fewer of them:")
    for scenario in OTHERS:
        print(
            line(scenario.name, simulate(scenario, shops // 3), scenario.bad_ones if scenario.species == "bad" else ())
        )
    causes(min(shops, 400))
    speed()
    library(20)


if __name__ == "__main__":
    main()
