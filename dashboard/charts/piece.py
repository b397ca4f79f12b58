"""What a piece is made of, in money."""

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress


def anatomy(frame: pl.DataFrame, title: str, unit: str, scale: float, colours: Look) -> alt.LayerChart:
    """Bars by layer with the parts that came from waste or rework hatched off, and a tick at what is usual.

    `frame`: layer, operation, cents, rework_cents, usual_cents: one row a line of the cost.
    """
    base = alt.Chart(frame).transform_calculate(
        shown=f"datum.cents * {scale}",
        usual=f"datum.usual_cents * {scale}",
        kind="datum.rework_cents > 0 ? 'with rework in it' : 'first time'",
        line="datum.operation ? datum.layer + ', ' + datum.operation : datum.layer",
    )
    y = alt.Y(
        "layer:N",
        sort=alt.EncodingSortField("cents", op="sum", order="descending"),
        axis=alt.Axis(title=None, ticks=False, domain=False),
    )
    picked = alt.selection_point(name="picked", fields=["layer"], toggle=False)
    bars = (
        base.mark_bar(height=ROW * 0.6, cursor="pointer", stroke=colours.paper, strokeWidth=1)
        .encode(
            x=alt.X("sum(shown):Q", axis=alt.Axis(title=unit, tickCount=4, format=",.0f")),
            y=y,
            color=alt.Color(
                "kind:N",
                scale=alt.Scale(domain=["first time", "with rework in it"], range=[colours.main, colours.other]),
                legend=alt.Legend(title=None),
            ),
            detail="operation:N",
            order=alt.Order("cents:Q", sort="descending"),
            opacity=alt.condition(picked, alt.value(1), alt.value(0.45)),
            tooltip=[
                alt.Tooltip("line:N", title="line"),
                alt.Tooltip("sum(shown):Q", title=unit, format=",.2f"),
                alt.Tooltip("sum(usual):Q", title="usual for the product", format=",.2f"),
            ],
        )
        .add_params(picked)
    )
    usual = base.mark_tick(thickness=3, size=ROW * 0.85, color=colours.text).encode(
        x="sum(usual):Q", y=y, tooltip=[alt.Tooltip("sum(usual):Q", title="usual for the product", format=",.2f")]
    )
    return dress((bars + usual).properties(height=alt.Step(ROW)), title, colours)


def spread(frame: pl.DataFrame, title: str, unit: str, scale: float, chosen: str, colours: Look) -> alt.LayerChart:
    """Every piece of the selection as a dot by product and unit cost. `frame`: piece, product, unit_cents."""
    base = alt.Chart(frame.with_columns((pl.col("piece") == chosen).alias("chosen"))).transform_calculate(
        shown=f"datum.unit_cents * {scale}"
    )
    picked = alt.selection_point(name="picked", fields=["piece"], toggle=False)
    y = alt.Y("product:N", axis=alt.Axis(title=None, ticks=False, domain=False))
    dots = (
        base.mark_circle(size=90, cursor="pointer", stroke=colours.text, strokeWidth=0.5)
        .encode(
            x=alt.X("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.0f")),
            y=y,
            color=alt.condition("datum.chosen", alt.value(colours.other), alt.value(colours.main)),
            opacity=alt.condition("datum.chosen", alt.value(1), alt.value(0.35)),
            size=alt.condition("datum.chosen", alt.value(220), alt.value(80)),
            tooltip=[
                "piece:N",
                "product:N",
                "species:N",
                "finish:N",
                alt.Tooltip("shown:Q", title=unit, format=",.2f"),
            ],
        )
        .add_params(picked)
    )
    return dress(dots.properties(height=alt.Step(ROW + 4)), title, colours)
