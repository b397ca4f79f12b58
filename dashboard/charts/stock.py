"""What is tied up on the shelf and in pieces."""

import altair as alt
import polars as pl

from dashboard.charts.theme import Look, dress, exact

STAGES = {
    "materials": "materials on the shelf", "in progress": "half-made pieces", "finished": "finished, unsold",
    "consigned": "given out for sale",
}  # fmt: skip


def tied_up(months: pl.DataFrame, chosen: object, title: str, unit: str, scale: float, colours: Look) -> alt.LayerChart:
    """Stacked bars of what each stage held at the end of a month; a click on one chooses the month.

    `months`: month, stage, stage_number, closing_cents.
    """
    shown = months.select(
        "month",
        pl.col("stage").replace(STAGES),
        "stage_number",
        name=pl.col("month").dt.strftime("%Y-%m"),
        chosen=pl.col("month") == pl.lit(chosen),
        shown=pl.col("closing_cents") * scale,
    )
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    stages = list(STAGES.values())
    bars = (
        alt.Chart(shown)
        .mark_bar(stroke=colours.paper, strokeWidth=0.75, cursor="pointer")
        .encode(
            x=alt.X(
                "yearmonth(month):O", axis=alt.Axis(title=None, format="%b %y", labelAngle=-90, labelOverlap="greedy")
            ),
            y=alt.Y("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
            color=alt.Color(
                "stage:N",
                sort=stages,
                scale=alt.Scale(domain=stages, range=list(colours.series)),
                # side by side the names are cut off on a phone
                legend=alt.Legend(title=None, columns=1),
            ),
            order=alt.Order("stage_number:Q"),
            opacity=alt.condition("datum.chosen", alt.value(1), alt.value(0.55)),
            tooltip=[
                alt.Tooltip("name:N", title="end of"),
                alt.Tooltip("stage:N"),
                alt.Tooltip("shown:Q", title=unit, format=exact(scale)),
            ],
        )
        .add_params(picked)
    )
    return dress(bars.properties(height=380), title, colours)
