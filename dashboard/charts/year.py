"""A year's months beside those of the year before."""

import altair as alt
import polars as pl

from dashboard.charts.theme import Look, dress

NOW, BEFORE = "this year", "year before"


def beside(
    frame: pl.DataFrame, years: tuple[str, str], title: str, unit: str, scale: float, form: str, colours: Look
) -> alt.LayerChart:
    """Bars by month: a year's filled, the year before's hollow beside them; a month that is not over is dashed.

    `frame`: name, month (its short name), number, value, before, whole; none where nothing can be said.
    """
    bars = pl.concat(
        [
            frame.select("name", "month", "number", "whole", value="value", year=pl.lit(years[0])),
            frame.select("name", "month", "number", pl.lit(True).alias("whole"), value="before", year=pl.lit(years[1])),
        ]
    )
    bars = bars.drop_nulls("value").with_columns(
        shown=pl.col("value") * scale, drawn=pl.when("whole").then(pl.lit("over")).otherwise(pl.lit("not over"))
    )
    there = bars["year"].unique()
    shown = [(year, colour) for year, colour in zip(years, (colours.main, colours.paper), strict=True) if year in there]
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    base = alt.Chart(bars).transform_calculate(
        label=f"(datum.value < 0 ? '\u2212' : '') + format(abs(datum.shown), '{form}')"
    )
    months = alt.Axis(title=None, labelAngle=0, labelOverlap="parity")
    marks = base.mark_bar(strokeWidth=1.5, cursor="pointer").encode(
        x=alt.X("month:O", sort=alt.EncodingSortField("number", op="min"), axis=months),
        xOffset=alt.XOffset("year:N", sort=[years[1], years[0]]),
        y=alt.Y("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=form.replace(".2f", ".0f"))),
        color=alt.Color(
            "year:N",
            scale=alt.Scale(domain=[year for year, _ in shown], range=[colour for _, colour in shown]),
            legend=alt.Legend(title=None, symbolStrokeColor=colours.main, symbolStrokeWidth=1.5),
        ),
        stroke=alt.value(colours.main),
        strokeDash=alt.condition("datum.whole", alt.value([1, 0]), alt.value([3, 3])),
        fillOpacity=alt.condition("datum.whole", alt.value(1), alt.value(0.25)),
        tooltip=[
            alt.Tooltip("month:N"), alt.Tooltip("year:N"), alt.Tooltip("label:N", title=unit),
            alt.Tooltip("drawn:N", title="the month is"),
        ],
    )  # fmt: skip
    zero = alt.Chart().mark_rule(color=colours.quiet, aria=False).encode(y=alt.datum(0))
    return dress((marks.add_params(picked) + zero).properties(height=250), title, colours)
