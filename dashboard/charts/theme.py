"""The look of every chart: one palette of our own, for paper and for night.

The marks differ in lightness before they differ in hue, so that they can be told apart in greyscale and by the
colour-blind; none carries a meaning that isn't also said by place, sign or label.
"""

from dataclasses import dataclass
from math import log10
from typing import Any

import altair as alt

FONT = "Seravek, 'Gill Sans Nova', Ubuntu, Calibri, 'DejaVu Sans', sans-serif"

ROW = 30
"""Pixels of one bar with its gap: thumbs and labels need so much."""


@dataclass(frozen=True)
class Look:
    """The colours of a chart by what they do. `series` goes from the most to the least ink."""

    paper: str
    text: str
    quiet: str
    grid: str
    main: str
    other: str
    faint: str
    series: tuple[str, str, str, str]


DAY = Look(
    paper="#fbf8f2",
    text="#2b2622",
    quiet="#665c50",
    grid="#e4dccd",
    main="#17505c",
    other="#b8741a",
    faint="#cdbf9f",
    series=("#12343c", "#8c4a2f", "#3f8a93", "#d0a24c"),
)
NIGHT = Look(
    paper="#1e1b18",
    text="#ede6da",
    quiet="#b5aa9a",
    grid="#3b352e",
    main="#a3d8df",
    other="#d99a3e",
    faint="#6d6253",
    series=("#f0e3c8", "#e0a458", "#4f9aa5", "#a85a3c"),
)


def look(night: bool) -> Look:
    return NIGHT if night else DAY


def exact(scale: float) -> str:
    """How a picture writes an amount to its minor unit, of a currency of which a minor unit is so much: one without
    any has no decimals."""
    return f",.{max(0, round(-log10(scale)))}f"


def tall(chart: alt.TopLevelMixin, rows: float, row: float = ROW) -> Any:
    """The chart with so many rows, each so high, of which only the width is fitted to the page.

    A step would do the counting, but beside any wish to fit Vega warns of it in every browser.
    """
    return chart.properties(height=max(rows, 1) * row, autosize=alt.AutoSizeParams(type="fit-x", contains="padding"))


def dress(chart: alt.TopLevelMixin, title: str, colours: Look) -> Any:
    """The chart with its title (which holds the figure) and the shared look."""
    axis = {
        "labelColor": colours.text,
        "titleColor": colours.quiet,
        "titleFontWeight": "normal",
        "gridColor": colours.grid,
        "domainColor": colours.grid,
        "tickColor": colours.grid,
        "labelFontSize": 13,
        "titleFontSize": 13,
        "labelLimit": 170,
        "labelPadding": 6,
    }
    return (
        chart.properties(
            title=alt.TitleParams(title, anchor="start", frame="group", color=colours.text, fontSize=15, offset=12),
            background=colours.paper,
        )
        .configure(font=FONT, padding={"left": 2, "right": 14, "top": 4, "bottom": 4})
        .configure_view(strokeWidth=0)
        .configure_axis(**axis)
        # on a phone two figures side by side would read as one
        .configure_axisQuantitative(labelOverlap="greedy", labelSeparation=12)
        .configure_legend(
            orient="top",
            labelColor=colours.text,
            titleColor=colours.quiet,
            labelFontSize=13,
            titleFontSize=13,
            titleFontWeight="normal",
            symbolSize=120,
            columns=2,
            labelLimit=200,
        )
        .configure_text(color=colours.text, fontSize=13)
    )
