"""Where the resin and the wood went."""

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress

CAUSES = {
    "cup_g": "left in cups",
    "trimmed_g": "trimmed off",
    "spilled_g": "spilled",
    "pour_unexplained_g": "not explained",
}


def waste_by_month(frame: pl.DataFrame, title: str, unit: str, scale: float, colours: Look) -> alt.Chart:
    """Stacked bars of waste by cause. `frame`: month and the columns of `CAUSES`."""
    long = frame.unpivot(list(CAUSES), index="month", variable_name="cause", value_name="grams").with_columns(
        pl.col("cause").replace(CAUSES)
    )
    chart = (
        alt.Chart(long)
        .transform_calculate(shown=f"datum.grams * {scale}")
        .mark_bar(stroke=colours.paper, strokeWidth=0.75)
        .encode(
            x=alt.X(
                "yearmonth(month):O", axis=alt.Axis(title=None, format="%b %y", labelAngle=-90, labelOverlap="greedy")
            ),
            y=alt.Y("sum(shown):Q", axis=alt.Axis(title=unit, tickCount=4)),
            color=alt.Color(
                "cause:N",
                sort=list(CAUSES.values()),
                scale=alt.Scale(domain=list(CAUSES.values()), range=list(colours.series)),
                legend=alt.Legend(title=None),
            ),
            tooltip=[
                alt.Tooltip("yearmonth(month):O", title="month", format="%B %Y"),
                "cause:N",
                alt.Tooltip("sum(shown):Q", title=unit, format=",.2f"),
            ],
        )
    )
    return dress(chart.properties(height=260), title, colours)


def yields(groups: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """A dot a group with the span in which half of its lots lie.

    `groups`: level, lots, pieces, yield_share, low_share, high_share.
    """
    base = alt.Chart(groups).transform_calculate(
        name="datum.level + '  (' + datum.lots + (datum.lots == 1 ? ' lot)' : ' lots)')",
    )
    y = alt.Y(
        "name:N",
        sort=alt.EncodingSortField("yield_share", order="ascending"),
        axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=190),
    )
    tips = [
        alt.Tooltip("level:N", title="group"),
        alt.Tooltip("yield_share:Q", title="yield", format=".0%"),
        alt.Tooltip("low_share:Q", title="half of the lots from", format=".0%"),
        alt.Tooltip("high_share:Q", title="to", format=".0%"),
        "lots:Q",
        "pieces:Q",
    ]
    span = base.mark_bar(height=7, color=colours.faint, stroke=colours.quiet, strokeWidth=0.5).encode(
        x=alt.X("low_share:Q", axis=alt.Axis(title="yield", format=".0%", tickCount=5)),
        x2="high_share:Q",
        y=y,
        tooltip=tips,
    )
    dots = base.mark_circle(size=130, color=colours.main, opacity=1).encode(x="yield_share:Q", y=y, tooltip=tips)
    figures = base.mark_text(dy=-11, fontSize=11).encode(
        x="yield_share:Q", y=y, text=alt.Text("yield_share:Q", format=".0%")
    )
    return dress((span + dots + figures).properties(height=alt.Step(ROW + 4)), title, colours)
