"""The palette: readable on its paper, in greyscale, and to the colour-blind."""

from itertools import combinations, pairwise

import altair as alt
import numpy as np
import pytest

from dashboard.charts.theme import DAY, NIGHT, Look, dress, exact, look
from dashboard.words import Money

LOOKS = [pytest.param(DAY, id="day"), pytest.param(NIGHT, id="night")]

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency" (IEEE TVCG
# 2009), severity 1.0, for linear RGB; the coefficients are from memory.
DEFICIENCIES = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def linear(colour: str) -> np.ndarray:
    parts = np.array([int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def luminance(rgb: np.ndarray) -> float:
    return float(rgb @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(linear(one)), luminance(linear(other))))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b*, D65."""
    matrix = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    x, y, z = (np.array(matrix) @ np.clip(rgb, 0, 1)) / [0.9505, 1.0, 1.089]
    f = [v ** (1 / 3) if v > 216 / 24389 else (24389 / 27 * v + 16) / 116 for v in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_contrast_is_that_of_the_standard() -> None:
    # WCAG 2.2: black on white is 21 to 1
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("colours", LOOKS)
def test_text_is_readable_on_its_paper(colours: Look) -> None:
    # WCAG 2.2, 1.4.3 level AA
    assert contrast(colours.text, colours.paper) >= 4.5
    assert contrast(colours.quiet, colours.paper) >= 4.5


@pytest.mark.parametrize("colours", LOOKS)
def test_marks_stand_out_from_their_paper(colours: Look) -> None:
    # WCAG 2.2, 1.4.11; `faint` is always drawn with an outline of the text's colour or beside a mark that stands out
    for colour in (colours.main, colours.other):
        assert contrast(colour, colours.paper) >= 3


@pytest.mark.parametrize("colours", LOOKS)
def test_what_must_be_told_apart_differs_in_lightness(colours: Look) -> None:
    for one, other in ((colours.main, colours.other), *pairwise(colours.series)):
        assert abs(lab(linear(one))[0] - lab(linear(other))[0]) >= 9


@pytest.mark.parametrize("colours", LOOKS)
@pytest.mark.parametrize("kind", DEFICIENCIES)
def test_the_colour_blind_can_tell_the_marks_apart(colours: Look, kind: str) -> None:
    seen = {c: lab(np.array(DEFICIENCIES[kind]) @ linear(c)) for c in (colours.main, colours.other, *colours.series)}
    for group in ((colours.main, colours.other), colours.series):
        for one, other in combinations(group, 2):
            # 2.3 is just noticeable; marks apart from each other need far more (common practice, no source)
            assert np.linalg.norm(seen[one] - seen[other]) >= 12


def test_the_look_follows_the_hour() -> None:
    assert look(night=False) is DAY
    assert look(night=True) is NIGHT


def test_a_dressed_chart_carries_its_title_and_paper() -> None:
    made = dress(alt.Chart().mark_point(), "12 pieces", DAY).to_dict()
    assert made["title"]["text"] == "12 pieces"
    assert made["background"] == DAY.paper


def test_an_amount_in_a_picture_has_the_decimals_of_its_currency() -> None:
    """Minor units by ISO 4217: none of the yen, a hundredth of the euro, a thousandth of the Bahraini dinar."""
    forms = {currency: exact(Money(currency).exact.factor) for currency in ("JPY", "EUR", "BHD")}
    assert forms == {"JPY": ",.0f", "EUR": ",.2f", "BHD": ",.3f"}
