"""The course of the months."""

import altair as alt
import polars as pl

from dashboard.charts.theme import Look, dress, exact


def course(
    frame: pl.DataFrame, column: str, chosen: object, title: str, unit: str, scale: float, colours: Look
) -> alt.LayerChart:
    """Bars of one money column by month, the chosen one dark. `frame` holds month and the column."""
    shown = frame.select(
        "month",
        name=pl.col("month").dt.strftime("%Y-%m"),
        chosen=pl.col("month") == pl.lit(chosen),
        shown=pl.col(column) * scale,
    )
    base = alt.Chart(shown).transform_calculate(
        label="datum.shown === null ? 'too few hours' : (datum.shown < 0 ? '\u2212' : '') "
        f"+ format(abs(datum.shown), '{exact(scale)}')",
    )
    x = alt.X("yearmonth(month):O", axis=alt.Axis(title=None, format="%b %y", labelAngle=-90, labelOverlap="greedy"))
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    bars = base.mark_bar(stroke=colours.text, strokeWidth=0.5, cursor="pointer").encode(
        x=x,
        y=alt.Y("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
        color=alt.condition("datum.chosen", alt.value(colours.main), alt.value(colours.faint)),
        tooltip=[alt.Tooltip("name:N", title="month"), alt.Tooltip("label:N", title=unit)],
    )
    bars = bars.add_params(picked)
    zero = alt.Chart().mark_rule(color=colours.quiet, aria=False).encode(y=alt.datum(0))
    return dress((bars + zero).properties(height=230), title, colours)
