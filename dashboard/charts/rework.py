"""What comes back to the bench: how often, how sure, what it costs."""

import altair as alt
import polars as pl

from dashboard import words
from dashboard.charts.theme import ROW, Look, dress, tall


def forest(rates: pl.DataFrame, mean: float | None, title: str, colours: Look) -> alt.LayerChart:
    """A dot a group, its rate with the other things held equal, and the band in which that lies 9 times in 10.

    What was counted stands beside each name; the shop's `mean` is a line across.

    `rates`: level, pieces, events, rate, low, high, adjusted, adjusted_low, adjusted_high, chance_worse.
    """
    sure = ["can't be told" if chance is None else words.at_most_sure(chance) for chance in rates["chance_worse"]]
    names = [f"{level}: {events} of {pieces}" for level, events, pieces in rates["level", "events", "pieces"].rows()]
    rows = rates.with_columns(pl.Series("sure", sure, pl.String), pl.Series("name", names, pl.String)).sort(
        "adjusted", descending=True, maintain_order=True
    )
    base = alt.Chart(rows)
    picked = alt.selection_point(name="picked", fields=["level"], toggle=False)
    y = alt.Y(
        "name:N",
        sort=rows["name"].to_list(),
        axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=190),
    )
    tips = [
        alt.Tooltip("level:N", title="group"),
        alt.Tooltip("adjusted:Q", title="others held equal", format=".0%"),
        alt.Tooltip("adjusted_low:Q", title="9 times in 10 from", format=".0%"),
        alt.Tooltip("adjusted_high:Q", title="9 times in 10 up to", format=".0%"),
        alt.Tooltip("events:Q", title="came back"),
        alt.Tooltip("pieces:Q", title="pieces"),
        alt.Tooltip("rate:Q", title="as counted", format=".0%"),
        alt.Tooltip("low:Q", title="19 times in 20 from", format=".0%"),
        alt.Tooltip("high:Q", title="19 times in 20 up to", format=".0%"),
        alt.Tooltip("sure:N", title="chance that it is worse than the shop"),
    ]
    shares = alt.Axis(title="others held equal", format=".0%", tickCount=5)
    bands = base.mark_bar(height=ROW * 0.3, color=colours.faint, stroke=colours.quiet, strokeWidth=0.5).encode(
        x=alt.X("adjusted_low:Q", axis=shares, scale=alt.Scale(zero=True)), x2="adjusted_high:Q", y=y, tooltip=tips
    )
    dots = (
        base.mark_point(size=110, filled=True, color=colours.main, cursor="pointer")
        .encode(x="adjusted:Q", y=y, tooltip=tips, opacity=alt.condition(picked, alt.value(1), alt.value(0.35)))
        .add_params(picked)
    )
    layers = bands + dots
    if mean is not None:
        shop = alt.Chart(pl.DataFrame({"mean": [mean]}))
        layers = (
            shop.mark_rule(color=colours.quiet, strokeDash=[5, 3]).encode(
                x="mean:Q", tooltip=[alt.Tooltip("mean:Q", title="the whole shop", format=".0%")]
            )
            + layers
        )
    return dress(tall(layers, rows.height), title, colours)


def savings(rows: pl.DataFrame, title: str, unit: str, scale: float, colours: Look) -> alt.LayerChart:
    """What mending a practice or doing without a group would save in a month, with its interval.

    `rows`: name, cents_per_month, low, high.
    """
    rows = rows.with_columns(
        shown=pl.col("cents_per_month") * scale, from_=pl.col("low") * scale, to_=pl.col("high") * scale
    )
    base = alt.Chart(rows)
    y = alt.Y(
        "name:N", sort=rows["name"].to_list(), axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=210)
    )
    tips = [
        alt.Tooltip("name:N", title="what"),
        alt.Tooltip("shown:Q", title=unit, format=",.2f"),
        alt.Tooltip("from_:Q", title="9 times in 10 from", format=",.2f"),
        alt.Tooltip("to_:Q", title="9 times in 10 up to", format=",.2f"),
    ]
    lines = base.mark_rule(strokeWidth=2.5, color=colours.main).encode(
        x=alt.X("from_:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")), x2="to_:Q", y=y, tooltip=tips
    )
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    dots = base.mark_point(size=85, filled=True, opacity=1, color=colours.main, cursor="pointer").encode(
        x="shown:Q", y=y, tooltip=tips
    )
    dots = dots.add_params(picked)
    zero = alt.Chart().mark_rule(color=colours.quiet, aria=False).encode(x=alt.datum(0))
    return dress(tall(zero + lines + dots, rows.height), title, colours)


def pareto(defects: pl.DataFrame, title: str, unit: str, scale: float, colours: Look) -> alt.Chart:
    """Bars of cost by defect, split by what was decided. `defects`: defect, action, found, pieces, cents."""
    actions = ["rework", "scrap", "discount", "accept", "none"]
    picked = alt.selection_point(name="picked", fields=["defect"], toggle=False)
    chart = (
        alt.Chart(defects.with_columns(shown=pl.col("cents") * scale))
        .mark_bar(height=ROW * 0.6, stroke=colours.paper, strokeWidth=1, cursor="pointer")
        .encode(
            x=alt.X("sum(shown):Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
            y=alt.Y(
                "defect:N",
                sort=alt.EncodingSortField("cents", op="sum", order="descending"),
                axis=alt.Axis(title=None, ticks=False, domain=False),
            ),
            color=alt.Color(
                "action:N",
                sort=actions,
                scale=alt.Scale(
                    domain=actions, range=[colours.main, colours.other, colours.faint, colours.quiet, colours.grid]
                ),
                legend=alt.Legend(title=None, values=[a for a in actions if a in defects["action"].to_list()]),
            ),
            tooltip=[
                "defect:N",
                alt.Tooltip("action:N", title="decided"),
                alt.Tooltip("found:Q", title="times found"),
                "pieces:Q",
                alt.Tooltip("shown:Q", title=unit, format=",.2f"),
            ],
        )
        .add_params(picked)
    )
    return dress(tall(chart, defects["defect"].n_unique()), title, colours)


def control(months: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """The share of a month's pieces that did not pass first time, with its limits; points outside are marked.

    `months`: month, pieces, rate, centre, lower, upper, outside.
    """
    base = alt.Chart(months.with_columns(name=pl.col("month").dt.strftime("%Y-%m")))
    picked = alt.selection_point(name="picked", fields=["name"], toggle=False)
    x = alt.X("yearmonth(month):T", axis=alt.Axis(title=None, format="%b %y", labelAngle=-90, tickCount=12))
    axis = alt.Axis(title="did not pass first time", format=".0%", tickCount=5)
    band = base.mark_area(color=colours.faint, opacity=0.35, interpolate="step").encode(
        x=x, y=alt.Y("lower:Q", axis=axis), y2="upper:Q"
    )
    middle = base.mark_line(color=colours.quiet, strokeDash=[5, 3]).encode(x=x, y="centre:Q")
    line = base.mark_line(color=colours.main, strokeWidth=1.5).encode(x=x, y="rate:Q")
    points = base.mark_point(filled=True, opacity=1, cursor="pointer").encode(
        x=x,
        y="rate:Q",
        size=alt.condition("datum.outside", alt.value(170), alt.value(50)),
        shape=alt.condition("datum.outside", alt.value("diamond"), alt.value("circle")),
        color=alt.condition("datum.outside", alt.value(colours.other), alt.value(colours.main)),
        tooltip=[
            alt.Tooltip("name:N", title="month"),
            alt.Tooltip("rate:Q", title="did not pass", format=".0%"),
            "pieces:Q",
            alt.Tooltip("young_pieces:Q", title="may still come back"),
            alt.Tooltip("lower:Q", title="limits from", format=".0%"),
            alt.Tooltip("upper:Q", title="limits up to", format=".0%"),
        ],
    )
    points = points.add_params(picked)
    return dress((band + middle + line + points).properties(height=260), title, colours)


def grid(rates: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """Species by finish: a square as large as its pieces are many, the darker the more came back.

    `rates`: level, species, finish, pieces, events, rate, low, high. Thin cells are small, so
    that nobody reads much into them.
    """
    base = alt.Chart(rates)
    x = alt.X("finish:N", axis=alt.Axis(title=None, orient="top", labelAngle=-40, ticks=False, domain=False))
    y = alt.Y("species:N", axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=130))
    picked = alt.selection_point(name="picked", fields=["level"], toggle=False)
    squares = base.mark_square(opacity=1, stroke=colours.text, strokeWidth=0.75, cursor="pointer").encode(
        x=x,
        y=y,
        size=alt.Size("pieces:Q", scale=alt.Scale(range=[20, 900], zero=True), legend=None),
        color=alt.Color(
            "rate:Q",
            scale=alt.Scale(range=[colours.paper, colours.series[0]], domain=[0, 1], interpolate="lab"),
            legend=alt.Legend(
                title="came back",
                format=".0%",
                values=[0, 0.25, 0.5, 0.75, 1],
                type="symbol",
                symbolType="square",
                columns=3,
            ),
        ),
        tooltip=[
            "species:N",
            "finish:N",
            alt.Tooltip("events:Q", title="came back"),
            "pieces:Q",
            alt.Tooltip("rate:Q", title="rate", format=".0%"),
            alt.Tooltip("low:Q", title="19 times in 20 from", format=".0%"),
            alt.Tooltip("high:Q", title="19 times in 20 up to", format=".0%"),
        ],
    )
    return dress(tall(squares.add_params(picked), rates["species"].n_unique(), 38), title, colours)
