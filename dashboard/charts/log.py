"""How whole the log is."""

import altair as alt
import polars as pl

from dashboard.charts.theme import Look, dress


def days(hours: pl.DataFrame, title: str, colours: Look) -> alt.Chart:
    """Bars of the hours logged by day. `hours`: one row a day, with day and hours (0 on an empty one)."""
    base = alt.Chart(hours.with_columns(name=pl.col("day").dt.to_string("%Y-%m-%d")))
    x = alt.X("yearmonthdate(day):O", axis=alt.Axis(title=None, format="%a %-d", labelAngle=-90, labelOverlap="greedy"))
    y = alt.Y("hours:Q", axis=alt.Axis(title="hours logged", tickCount=4))
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    bars = base.mark_bar(color=colours.main, cursor="pointer").encode(
        x=x,
        y=y,
        detail="name:N",
        tooltip=[
            alt.Tooltip("name:N", title="day"),
            alt.Tooltip("hours:Q", title="hours", format=".2f"),
        ],
    )
    return dress(bars.add_params(picked).properties(height=220), title, colours)
