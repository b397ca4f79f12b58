"""The learning curve, against the vignette of the R package learningCurve (Boehmke & Freels, citing Wright 1936)."""

import numpy as np
import polars as pl
import pytest

from pipeline.estimates.practice import rate, run_unit, slope, unit_time
from pipeline.estimates.quote_model import code, design, fit


def test_slopes_and_rates() -> None:
    assert [slope(r) for r in (0.80, 0.85, 0.90)] == pytest.approx([-0.3219281, -0.2344653, -0.1520031], abs=5e-8)
    assert [rate(b) for b in (-0.19, -0.22, -0.25)] == pytest.approx([0.8766057, 0.8585654, 0.8408964], abs=5e-8)


@pytest.mark.parametrize(
    ("time", "at", "unit", "share", "hours"),
    [
        (100, 1, 125, 0.85, 32.23647),
        (100, 1, 80, 0.83, 30.79056),
        (120, 20, 150, 0.92, 94.17084),
        (90, 10, 175, 0.87, 50.64078),
    ],
)
def test_unit_times(time: float, at: int, unit: int, share: float, hours: float) -> None:
    assert unit_time(time, at, unit, share) == pytest.approx(hours, abs=5e-6)


@pytest.mark.parametrize(("units", "total", "within"), [(125, 5202.988, 5e-4), (1_000_000, 5119614, 0.5)])
def test_total_of_a_run_by_the_midpoint_approximation(units: int, total: float, within: float) -> None:
    middle = run_unit(1, units, slope(0.85))
    assert units * unit_time(100, 1, float(middle), 0.85) == pytest.approx(total, abs=within)


def test_the_unit_that_stands_for_a_run() -> None:
    # 75 %, units 201 to 500, 125 h at unit 201: unit 334.6103, 101.1683 h, 30,350.48 h for the block
    middle = float(run_unit(201, 300, slope(0.75)))
    assert middle == pytest.approx(334.6103, abs=5e-5)
    assert unit_time(125, 201, middle, 0.75) == pytest.approx(101.1683, abs=5e-5)
    assert run_unit([7, 7], [1, 3])[0] == 7


def test_a_run_is_stood_for_well_at_any_usual_rate() -> None:
    # exact total of units 1 to 125 at 85 %: 5,201.085 h; the middling slope is good to half a per cent
    assert 125 * unit_time(100, 1, float(run_unit(1, 125)), 0.85) == pytest.approx(5201.085, rel=0.005)


def test_the_model_finds_a_learning_curve() -> None:
    # 100 h at unit 1 and 85 %, without noise: what the weak beliefs of the model pull off is small
    units = np.arange(1, 126)
    frame = pl.DataFrame(
        {"product": ["box"] * 125, "species": ["oak"] * 125, "finish": ["oil"] * 125, "quantity": [1] * 125}
    ).with_columns(unit_number=pl.Series(units))
    size = np.full(125, np.nan)
    coding = code(frame, size)
    found = fit(design(coding, frame, size), np.log(100.0 * units ** slope(0.85)), np.zeros(125), coding)
    new = frame[:1].with_columns(unit_number=pl.Series([250]))
    middle, _ = found.predict(design(coding, new, size[:1]), np.zeros(1))
    assert np.exp(middle[0]) == pytest.approx(unit_time(100, 1, 250, 0.85), rel=0.01)
