"""Where the resin and the wood went."""

from typing import Any

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress, tall

CAUSES = {
    "cup": "rest in cups",
    "trimmed": "trimmed off",
    "spilled": "spilled",
    "pour_unexplained": "not explained",
}


def waste_by_month(
    frame: pl.DataFrame, columns: dict[str, str], title: str, unit: str, scale: float, colours: Look
) -> alt.Chart:
    """Stacked bars of waste by cause. `frame`: month and `columns`: column → its cause in words."""
    long = frame.unpivot(list(columns), index="month", variable_name="cause", value_name="amount").with_columns(
        pl.col("cause").replace(columns),
        name=pl.col("month").dt.strftime("%Y-%m"),
        shown=pl.col("amount") * scale,
    )
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    chart = (
        alt.Chart(long)
        .mark_bar(stroke=colours.paper, strokeWidth=0.75, cursor="pointer")
        .encode(
            x=alt.X(
                "yearmonth(month):O", axis=alt.Axis(title=None, format="%b %y", labelAngle=-90, labelOverlap="greedy")
            ),
            y=alt.Y("shown:Q", axis=alt.Axis(title=unit, tickCount=4)),
            color=alt.Color(
                "cause:N",
                sort=list(CAUSES.values()),
                scale=alt.Scale(domain=list(CAUSES.values()), range=list(colours.series)),
                legend=alt.Legend(title=None),
            ),
            tooltip=[
                alt.Tooltip("name:N", title="month"),
                "cause:N",
                alt.Tooltip("shown:Q", title=unit, format=",.2f"),
            ],
        )
        .add_params(picked)
    )
    return dress(chart.properties(height=260), title, colours)


def yields(groups: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """A dot a group, how much of what is gone became finished work, on the bar in which that lies 19 times in 20.

    `groups`: level, lots, pieces, gone_yield_share, gone_low_share, gone_high_share; the bar only where it is known.
    """
    base = alt.Chart(groups).transform_calculate(
        name="datum.level + '  (' + datum.lots + (datum.lots == 1 ? ' lot)' : ' lots)')",
        right="max(datum.gone_yield_share, datum.gone_high_share || 0)",
    )
    y = alt.Y(
        "name:N",
        sort=alt.EncodingSortField("gone_yield_share", order="ascending"),
        axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=190),
    )
    tips = [
        alt.Tooltip("level:N", title="group"),
        alt.Tooltip("gone_yield_share:Q", title="yield of what is gone", format=".0%"),
        alt.Tooltip("gone_low_share:Q", title="19 times in 20 from", format=".0%"),
        alt.Tooltip("gone_high_share:Q", title="19 times in 20 up to", format=".0%"),
        "lots:Q",
        "pieces:Q",
    ]
    x = alt.Axis(title="finished, of what is gone", format=".0%", tickCount=5)
    span = (
        base.transform_filter("isValid(datum.gone_low_share)")
        .mark_bar(height=7, color=colours.faint, stroke=colours.quiet, strokeWidth=0.5)
        .encode(x=alt.X("gone_low_share:Q", axis=x), x2="gone_high_share:Q", y=y, tooltip=tips)
    )
    picked = alt.selection_point(name="picked", fields=["level"], toggle=False)
    dots = base.mark_circle(size=130, color=colours.main, opacity=1, cursor="pointer").encode(
        x=alt.X("gone_yield_share:Q", axis=x), y=y, tooltip=tips
    )
    dots = dots.add_params(picked)
    figures = base.mark_text(align="left", dx=8, fontSize=12).encode(
        x="right:Q", y=y, text=alt.Text("gone_yield_share:Q", format=".0%")
    )
    return dress(tall(span + dots + figures, groups.height, ROW), title, colours)


def _bars(base: alt.Chart, name: str, field: str, unit: str, tips: list[Any], colours: Look) -> alt.LayerChart:
    picked = alt.selection_point(name="picked", fields=[field], toggle=False)
    y = alt.Y(name, sort=None, axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=190))
    bars = base.mark_bar(
        height=ROW * 0.6, color=colours.main, stroke=colours.text, strokeWidth=0.5, cursor="pointer"
    ).encode(x=alt.X("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.1f")), y=y, tooltip=tips)
    bars = bars.add_params(picked)
    figures = base.mark_text(align="left", dx=5).encode(
        x=alt.X("right:Q"), y=y, text=alt.Text("shown:Q", format=",.1f")
    )
    return bars + figures


def over_mixed(groups: pl.DataFrame, column: str, title: str, unit: str, scale: float, colours: Look) -> alt.LayerChart:
    """Bars of what was mixed beyond what the pieces needed. `groups`: purpose, pours and the column."""
    rows = groups.sort(column, descending=True).with_columns(shown=pl.col(column) * scale)
    base = alt.Chart(rows).transform_calculate(
        right="max(0, datum.shown)",
        name="datum.purpose + '  (' + datum.pours + (datum.pours == 1 ? ' pour)' : ' pours)')",
    )
    tips = [
        alt.Tooltip("purpose:N", title="for"),
        alt.Tooltip("shown:Q", title=f"{unit} more than needed", format=",.2f"),
        "pours:Q",
    ]
    return dress(tall(_bars(base, "name:N", "purpose", unit, tips, colours), groups.height), title, colours)


def wood_costs(groups: pl.DataFrame, title: str, unit: str, scale: float, colours: Look) -> alt.LayerChart:
    """Bars of what finished wood cost. `groups`: level, lots, yield_share, cents_per_finished_dm3."""
    rows = groups.with_columns(shown=pl.col("cents_per_finished_dm3") * scale)
    base = alt.Chart(rows).transform_calculate(
        right="datum.shown",
        name="datum.level + '  (' + datum.lots + (datum.lots == 1 ? ' lot)' : ' lots)')",
    )
    tips = [
        alt.Tooltip("level:N", title="group"),
        alt.Tooltip("shown:Q", title=unit, format=",.2f"),
        alt.Tooltip("yield_share:Q", title="yield", format=".0%"),
        "lots:Q",
    ]
    return dress(tall(_bars(base, "name:N", "level", unit, tips, colours), groups.height), title, colours)
