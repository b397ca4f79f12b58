"""Waste of pours that were not weighed, and yields of groups: ratios, their intervals and how often those cover."""

import numpy as np
import polars as pl
import pytest

from pipeline.estimates.waste import NODES, figures, half_width, ratio

WASTE = next(node for node in NODES if node.table == "material.waste")


def pour(number: int, mixed: int, waste: int, *, weighed: bool = True, purpose: str = "flood") -> dict[str, object]:
    return {
        "pour": f"R-{number:04d}",
        "resin": "clear",
        "purpose": purpose,
        "mixed_mg": mixed * 1000,
        "pieces": 1,
        "left_in_cup_mg": waste * 1000 if weighed else None,
        "spilled_mg": None,
        "trimmed_mg": 0,
        "unexplained_mg": 0,
        "estimated": not weighed,
        "mix_estimated": False,
    }


def run(pours: list[dict[str, object]]) -> dict[tuple[str, str], dict]:
    rows = WASTE.run({"work.pour": pl.DataFrame(pours, infer_schema_length=None)})
    return {(row["purpose"], row["cause"]): row for row in rows.iter_rows(named=True)}


def test_a_ratio_predicts_by_size_with_the_error_of_both_parts() -> None:
    found = ratio(np.array([10.0, 30, 20]), np.array([100.0, 200, 300]))
    grams, error = found.total(np.array([400.0]))
    assert (found.share, grams) == (pytest.approx(0.1), pytest.approx(40))
    # residuals 0, 10, -10. By size: (100 / 200 + 100 / 300) / 2 a gram, for 400 g and for what the share may be off
    by_size = (100 / 200 + 100 / 300) / 2 * (400 + 600 * (400 / 600) ** 2)
    by_share = (1 / 400 + 1 / 900) / 2 * (400**2 + 140_000 * (400 / 600) ** 2)
    # odds of share over size: the scatters' ratio to the power 3 / 2, by the product of the sizes to the power -1 / 2
    odds = ((100 / 200 + 100 / 300) / (1 / 400 + 1 / 900)) ** 1.5 / np.sqrt(100 * 200 * 300)
    assert error == pytest.approx(np.sqrt((by_size + odds * by_share) / (1 + odds)))


def test_half_widths_are_those_of_student() -> None:
    # t at 97.5 % with 4 and 10 degrees, 2.776 and 2.228: any table, such as NIST/SEMATECH e-Handbook 1.3.6.7.2
    assert (half_width(1, 4), half_width(1, 10)) == (pytest.approx(2.776, abs=5e-4), pytest.approx(2.228, abs=5e-4))
    assert half_width(1, float("inf")) == pytest.approx(1.959964)


def test_all_weighed_is_known_and_one_weighed_is_open() -> None:
    known = run([pour(1, 100, 20), pour(2, 300, 50)])["all", "left in cup"]
    assert (known["waste_g"], known["waste_low_g"], known["waste_high_g"]) == (70, 70, 70)
    lone = run([pour(1, 100, 20), pour(2, 300, 0, weighed=False)])["all", "left in cup"]
    assert lone["waste_g"] == pytest.approx(80)
    assert (lone["waste_low_g"], lone["waste_high_g"]) == (None, None)


def test_a_purpose_that_was_never_weighed_borrows_the_ratio_of_all() -> None:
    rows = run([pour(1, 100, 20), pour(2, 300, 60), pour(3, 50, 0, weighed=False, purpose="seal")])
    assert rows["seal", "all"]["waste_g"] == pytest.approx(10)
    assert rows["seal", "all"]["weighed_pours"] == 0
    assert rows["all", "all"]["waste_g"] == pytest.approx(90)


@pytest.mark.parametrize("habit", [False, True])
def test_intervals_of_unweighed_waste_cover(habit: bool) -> None:
    """400 made-up shops, 12 weighed pours and 8 that were not, whether waste scatters by root of size or by share."""
    rng, covered, shops = np.random.default_rng(5), 0, 400
    for _ in range(shops):
        mixed = rng.lognormal(5.5, 0.6, 20).round()
        scatter = 0.03 * mixed if habit else 0.5 * np.sqrt(mixed)
        waste = np.clip(0.16 * mixed + rng.normal(size=20) * scatter, 0, mixed).round()
        rows = run([pour(n, int(m), int(w), weighed=n < 12) for n, (m, w) in enumerate(zip(mixed, waste, strict=True))])
        row = rows["all", "all"]
        covered += row["waste_low_g"] <= waste.sum() <= row["waste_high_g"]
    # four binomial standard errors about 0.95
    assert covered / shops == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / shops))


def test_every_reference_figure_has_its_source() -> None:
    table = figures({})
    assert table["figure"].is_unique().all()
    assert table["source"].str.len_chars().min() > 10
    assert table["certainty"].str.contains("read from source text|from memory|common practice, no source").all()
    assert table["value"].null_count() == 0
