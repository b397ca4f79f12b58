"""Pieces that fail together, luck across groups, and what the rates make of shops whose cause is known."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from made_outcomes import cells, outcome, shop
from rate_shops import ALIKE, BAD, KINDS, LONE, Kind, made

from pipeline.estimates._design_effect import tries
from pipeline.estimates._laplace import Cells
from pipeline.estimates._luck import luck
from pipeline.estimates._pieces_by_factor import BOTH, MEASURES, Group, group_of, labelled
from pipeline.estimates.rates import adjusted

RUNS = next(kind for kind in KINDS if kind.run)
ERAS = next(kind for kind in KINDS if kind.learns)
NOTHING = Kind("nothing is the cause", finish=0.0)
PRODUCT = next(kind for kind in KINDS if kind.product)


def by_species(kind: Kind, seed: int) -> Group:
    return group_of(labelled(made(kind, seed).judged), "species", MEASURES[0])


def one_group(events: np.ndarray) -> Cells:
    return cells(events, np.repeat("oak", len(events)))


def test_pieces_that_all_fail_or_pass_with_their_run_are_one_try_a_run() -> None:
    # 40 runs of 5, a third of them bad throughout: by Kish the design effect is 1 + (5 - 1) x 1 = 5
    run = np.repeat(np.arange(40), 5)
    events = np.repeat(np.arange(40) % 3 == 0, 5).astype(float)
    assert tries(one_group(events), np.zeros(200, np.int64), events, [run]) == pytest.approx(5, abs=0.3)
    # each run with one failure of five: less alike than by chance, which is no reason to count more
    evenly = np.tile([1.0, 0, 0, 0, 0], 40)
    assert tries(one_group(evenly), np.zeros(200, np.int64), evenly, [run]) == 1


def test_the_design_effect_of_independent_pieces_is_near_one() -> None:
    alone = np.array([by_species(ALIKE, seed).tries for seed in range(12)])
    together = np.array([by_species(RUNS, seed).tries for seed in range(12)])
    assert np.median(alone) < 1.15
    assert np.median(together) > 1.4


def test_a_correlation_that_chance_scatters_as_far_costs_no_tries() -> None:
    # 40 runs of 5 that fail independently: one in six is further above none than one standard error
    run, place, rng = np.repeat(np.arange(40), 5), np.zeros(200, np.int64), np.random.default_rng(8)
    drawn = [(rng.random(200) < 0.2).astype(float) for _ in range(60)]
    whole = np.array([tries(one_group(events), place, events, [run]) for events in drawn])
    mixed = np.array([tries(one_group(events), place, events, [], run) for events in drawn])
    assert np.mean(whole == 1) >= 0.7
    assert np.mean(mixed == 1) == pytest.approx(0.5, abs=0.2)
    assert (whole <= mixed).all()


def test_pieces_of_no_cluster_and_shops_without_failures_are_single_tries() -> None:
    events = np.array([1.0, 0, 0, 1])
    none = np.full(4, -1)
    assert tries(one_group(events), np.zeros(4, np.int64), events, [none]) == 1
    assert tries(one_group(np.zeros(4)), np.zeros(4, np.int64), np.zeros(4), [np.zeros(4, np.int64)]) == 1


def test_the_highest_of_many_alike_groups_stands_out_by_luck() -> None:
    # in shops without any difference, luck is uniform: a tenth of them below a tenth
    rng = np.random.default_rng(5)
    group = np.repeat(np.arange(12), 20)
    found = np.array([luck(cells((rng.random(240) < 0.2).astype(float), group)) for _ in range(200)])
    assert np.mean(found <= 0.10) == pytest.approx(0.10, abs=0.06)
    assert np.mean(found <= 0.50) == pytest.approx(0.50, abs=0.12)


def test_what_stands_out_in_earnest_is_no_luck() -> None:
    events = np.concatenate([np.tile([1.0, 1, 1, 0], 5), np.tile([1.0, 0, 0, 0, 0], 40)])
    group = np.concatenate([np.zeros(20), np.repeat(np.arange(1, 11), 20)])
    assert luck(cells(events, group)) < 0.01
    assert np.isnan(luck(cells(events, np.zeros(220))))


def test_the_rates_hold_what_is_true_whatever_the_cause() -> None:
    # 10 shops a kind: the sd of the share over all is about one point; the benchmark has 400 and each kind
    inside = []
    for kind in KINDS:
        for seed in range(10):
            rates, truth = by_species(kind, seed).rates(), made(kind, seed).truth
            inside.append(np.mean((rates.low <= truth) & (truth <= rates.high)))
    assert 0.88 <= np.mean(inside) <= 0.97


def named(kind: Kind, seed: int) -> pl.DataFrame:
    keep = ("piece", "species", "finish", "product", "month", "lot", "run", "reworked")
    judged = made(kind, seed).judged.with_columns(pl.lit(None).alias(c) for c in ("scrapped", "defects"))
    found = adjusted({"quality._judged": judged.with_columns(pl.col(keep))})
    return found.filter(pl.col("factor") == "species", pl.col("verdict").str.contains("likely"))


@pytest.mark.parametrize("kind", [ALIKE, RUNS, ERAS, PRODUCT], ids=lambda kind: kind.name)
def test_no_wood_is_blamed_for_what_is_none_of_its_doing(kind: Kind) -> None:
    blamed = sum(named(kind, seed).height > 0 for seed in range(20))
    assert blamed <= 5  # by luck alone 2 of 20 on average, 5 or fewer in 99 of 100 such tests


def test_a_lone_bad_wood_is_found_now_and_then() -> None:
    found = [named(LONE, seed)["level"].to_list() for seed in range(20)]
    assert sum(f"wood {BAD:02}" in levels for levels in found) >= 4


def test_time_and_product_are_held_equal_whatever_is_compared() -> None:
    pieces = labelled(shop(60))
    equal = {name: group_of(pieces, name, MEASURES[0]).adjust_for for name in ("species", "finish", "product", "cold")}
    assert equal["species"] == ("finish", "product", "era")
    assert equal["finish"] == ("species", "product", "era")
    assert equal["product"] == ("species", "finish", "era")
    assert equal["cold"] == ("species", "finish", "product", "era")
    assert group_of(pieces, BOTH, MEASURES[0]).adjust_for == ("species", "finish")
    assert pieces["era"].n_unique() == 6


def test_a_practice_of_the_early_years_is_not_blamed_for_what_the_maker_learnt() -> None:
    """Rework falls from 30 to 7 %, in the cold as in the warm; the room was cold in three of four early pieces."""
    named = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        month = np.arange(300) * 24 // 300
        cold = rng.random(300) < np.where(month < 12, 0.75, 0.25)
        reworked = rng.random(300) < np.interp(month, (0, 23), (0.30, 0.07))
        rows = zip(month.tolist(), cold.tolist(), reworked.tolist(), strict=True)
        pieces = [{"month": date(2024 + m // 12, m % 12 + 1, 1), "cold": c, "reworked": r} for m, c, r in rows]
        found = adjusted({"quality._judged": outcome(*pieces)}).filter(pl.col("factor") == "cold")
        named += found["verdict"].str.contains("likely").any()
    assert named <= 4  # with the times not held equal 11


def test_a_pair_of_wood_and_finish_is_not_named_for_being_one_of_many() -> None:
    named = 0
    for seed in range(12):
        judged = made(NOTHING, seed).judged.with_columns(pl.lit(None).alias(c) for c in ("scrapped", "defects"))
        found = adjusted({"quality._judged": judged}).filter(pl.col("factor") == BOTH)
        named += found["verdict"].str.contains("likely").any()
    assert named <= 3  # where nobody asks how often that is luck, 7
