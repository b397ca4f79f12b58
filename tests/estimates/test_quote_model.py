"""The models of hours and material: do they find what was put in, and borrow strength where there is little?"""

import numpy as np
import polars as pl
import pytest
from made_shops import made_shop

from pipeline.estimates.quote_model import (
    GROUPS,
    MOST_SD,
    Coding,
    Fit,
    code,
    design,
    fit,
    log_size,
    rework_chance,
    usual_shape,
)
from pipeline.estimates.quote_spread import code_both, fit_both, work


def pieces(product: list[str], **columns: list) -> pl.DataFrame:
    n = len(product)
    usual = {"species": ["oak"] * n, "finish": ["oil"] * n, "quantity": [1] * n, "unit_number": [1] * n}
    return pl.DataFrame({"product": product} | usual | columns)


def fitted(frame: pl.DataFrame, y: np.ndarray, size: np.ndarray | None = None) -> tuple[Coding, Fit]:
    size = np.full(frame.height, np.nan) if size is None else size
    coding = code(frame, size)
    z = np.where(np.isnan(size), 0.0, size - coding.centre)
    return coding, fit(design(coding, frame, size), y, z, coding)


def test_left_out_errors_are_those_of_a_refit() -> None:
    # the closed form against the long way round, at the same spreads and noise
    rng = np.random.default_rng(5)
    frame = pieces(rng.choice(["box", "tray", "bowl"], 40).tolist())
    y = rng.normal(0, 0.3, 40)
    coding, found = fitted(frame, y)
    x = design(coding, frame, np.full(40, np.nan))
    errors, _ = found.left_out()
    precision = np.linalg.inv(found.cover)
    before = np.zeros(coding.width)
    before[1] = 0.5
    for i in (0, 7, 39):
        others = precision - found.pull[i] * np.outer(x[i], x[i])
        moment = precision @ (found.effects - before) - found.pull[i] * x[i] * (y[i] - x[i] @ before)
        told = x[i] @ (before + np.linalg.solve(others, moment))
        assert errors[i] == pytest.approx(y[i] - told, abs=1e-8)


def test_the_weights_are_what_the_prediction_moves_by() -> None:
    shop = made_shop(2, 60)
    past = work(shop)
    coded = code_both(past)
    models = fit_both(past, coded, 60)
    new = coded.x_hours[10]
    weights = models.hours.leant_on(new, coded.x_hours)
    before = np.zeros(coded.hours.width)
    before[1] = 0.5
    told = float(weights @ (np.log(past.hours) - coded.x_hours @ before) + new @ before)
    assert told == pytest.approx(float(new @ models.hours.effects), abs=1e-6)


def test_a_new_level_is_the_mean_with_the_groups_doubt() -> None:
    rng = np.random.default_rng(1)
    names = np.repeat(["a", "b", "c", "d"], 15)
    frame = pieces(names.tolist())
    effects = {"a": -0.6, "b": -0.2, "c": 0.2, "d": 0.6}
    y = 2 + np.array([effects[n] for n in names]) + rng.normal(0, 0.05, 60)
    coding, found = fitted(frame, y)
    new = pieces(["e", "a"])
    middle, sd = found.predict(design(coding, new, np.full(2, np.nan)), np.zeros(2))
    assert middle[0] == pytest.approx(2, abs=0.15)
    assert sd[0] > 0.4  # the products lie 0.5 apart (sd), and nobody knows where the new one lies
    assert middle[1] == pytest.approx(1.4, abs=0.05)
    assert sd[1] < 0.15


def test_a_level_of_one_piece_is_drawn_to_the_mean() -> None:
    # ash and yew both lie 0.5 above oak, ash by thirty pieces and yew by one
    rng = np.random.default_rng(3)
    species = ["oak"] * 30 + ["ash"] * 30 + ["yew"]
    y = 1 + rng.normal(0, 0.2, 61)
    y[30:60] += 1.5 - y[30:60].mean()
    y[60] = 1.5
    frame = pieces(["box"] * 61, species=species)
    coding, found = fitted(frame, y)
    middle, sd = found.predict(design(coding, frame[[0, 30, 60]], np.full(3, np.nan)), np.zeros(3))
    assert middle[0] < middle[2] < middle[1] - 0.05
    assert middle[1] == pytest.approx(1.5, abs=0.03)
    assert sd[2] > sd[1]


def test_noise_that_grows_with_size_is_found() -> None:
    rng = np.random.default_rng(4)
    size = rng.normal(11, 0.5, 400)
    y = 1 + 0.6 * (size - 11) + rng.normal(0, 1, 400) * 0.2 * np.exp(0.8 * (size - 11))
    _, found = fitted(pieces(["box"] * 400), y, size)
    assert found.scale == pytest.approx(0.8, abs=0.2)
    assert found.noise == pytest.approx(0.2, abs=0.03)
    _, even = fitted(pieces(["box"] * 400), 1 + rng.normal(0, 0.2, 400), size)
    assert abs(even.scale) < 0.2


def test_a_piece_logged_by_half_pulls_little() -> None:
    rng = np.random.default_rng(6)
    frame = pieces(["box"] * 20)
    y = rng.normal(1, 0.1, 20)
    _, clean = fitted(frame, y)
    torn = y.copy()
    torn[0] -= 3.0  # logged 5 % of its hours; a plain mean would move by 0.15
    _, found = fitted(frame, torn)
    moved = clean.effects[0] - found.effects[0]
    assert 0 <= moved < 0.075
    assert found.trust[0] < 0.5


def test_area_and_volume_stand_in_for_each_other() -> None:
    # the first row is a run of two
    frame = pl.DataFrame(
        {"area_mm2": [120_000, None, None], "volume_mm3": [None, 1_000_000, None], "quantity": [2, 1, None]}
    )
    area = log_size(frame, "area")
    volume = log_size(frame, "volume")
    assert area[:2] == pytest.approx([np.log(60_000), np.log(10_000)])
    assert volume[:2] == pytest.approx([1.5 * np.log(60_000), np.log(1_000_000)])
    assert np.isnan([area[2], volume[2]]).all()


def test_a_thickness_left_out_is_the_shops_usual_one() -> None:
    # boards of 20 mm: by the shape of a cube, one of 60,000 mm² without thickness would hold twelve times as much
    frame = pieces(["board"] * 3, area_mm2=[60_000, 90_000, 60_000], volume_mm3=[1_200_000, 2_200_000, None])
    shape = usual_shape(frame)
    assert np.exp(log_size(frame, "volume", shape)[2]) == pytest.approx(1_200_000, rel=0.01)
    assert usual_shape(frame.with_columns(volume_mm3=pl.lit(None, pl.Int64))) == 0


def test_rework_chance_follows_the_finish_and_is_never_none() -> None:
    frame = pieces(["box"] * 80, finish=["oil"] * 40 + ["flood"] * 40)
    size = np.full(80, np.nan)
    coding = code(frame, size)
    x = design(coding, frame, size)
    reworked = np.zeros(80)
    reworked[40:60] = 1
    new = design(coding, pieces(["box"] * 3, finish=["oil", "flood", "wax"]), size[:3])
    _, chance = rework_chance(x, reworked, coding, new)
    assert chance[0] < 0.2 < chance[2] < 0.4 < chance[1] < 0.5
    _, never = rework_chance(x, np.zeros(80), coding, new)
    assert ((never > 0) & (never < 0.05)).all()


def test_the_groups_stand_in_the_order_of_the_design() -> None:
    frame = pieces(["box", "tray"], unit_number=[3, 1])
    size = np.array([11.0, 12.0])
    coding = code(frame, size)
    row = design(coding, frame, size)[0]
    by_group = {name: row[coding.group == place].tolist() for place, name in enumerate(GROUPS)}
    assert by_group["product"] == [1, 0, 0]
    assert by_group["species"] == [1, 0]
    assert by_group["product practice"] == pytest.approx([np.log(3), 0, 0])
    assert by_group["product size"] == pytest.approx([-0.5, 0, 0])


def test_the_first_large_piece_says_nothing_of_the_noise() -> None:
    # 35 small pieces and one a hundred times as large, three noises off the line: the fit follows it wherever it goes
    rng = np.random.default_rng(1)
    size = np.append(rng.normal(0, 0.1, 35), np.log(100))
    y = 0.6 * size + rng.normal(0, 0.2, 36)
    y[-1] += 0.6
    _, found = fitted(pieces(["coaster"] * 35 + ["table"]), y, size)
    assert abs(found.scale) < 0.3
    assert found.noise_at(size).max() < 0.3


def test_noise_never_grows_beyond_what_can_be_told() -> None:
    rng = np.random.default_rng(4)
    size = rng.normal(0, 0.5, 400)
    coding, found = fitted(pieces(["box"] * 400), rng.normal(0, 1, 400) * 0.6 * np.exp(0.8 * size), size)
    _, sd = found.predict(np.zeros((1, coding.width)), np.array([50.0]))
    assert sd.max() == pytest.approx(MOST_SD)
