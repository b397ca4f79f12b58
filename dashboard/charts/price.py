"""The price of the next piece: what it will cost, how sure that is, and how long such pieces wait for a buyer."""

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress, exact, tall

COST = "likely to cost"
ASKED = "asked"


def quote(
    parts: pl.DataFrame, levels: dict[int, int], asked: int | None, title: str, unit: str, scale: float, colours: Look
) -> alt.LayerChart:
    """The parts of the expected cost one after the other, the span that the cost will likely lie in, and the price.

    `parts`: part, begin, end (minor units). `levels`: chance in percent (10, 50, 80, 90) → cost.
    """
    order = [*parts["part"].to_list(), COST, *([ASKED] if asked is not None else [])]
    y = alt.Y("part:N", sort=order, axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=150))
    x = alt.Axis(title=unit, tickCount=4, format=",.2~f")
    rows = parts.with_columns(shown=(pl.col("end") - pl.col("begin")) * scale)
    base = alt.Chart(rows).transform_calculate(b=f"datum.begin * {scale}", e=f"datum.end * {scale}")
    picked = alt.selection_point(name="picked", fields=["part"], toggle=False)
    bars = base.mark_bar(
        height=ROW * 0.6, color=colours.main, stroke=colours.text, strokeWidth=0.5, cursor="pointer"
    ).encode(
        x=alt.X("b:Q", axis=x),
        x2="e:Q",
        y=y,
        tooltip=[alt.Tooltip("part:N"), alt.Tooltip("shown:Q", title=unit, format=exact(scale))],
    )
    bars = bars.add_params(picked)
    # of little money the parts would not add up without their minor units
    form = exact(scale) if levels[50] * scale < 100 else ",.0f"
    figures = base.mark_text(align="left", dx=5).encode(x="e:Q", y=y, text=alt.Text("shown:Q", format=form))
    span = alt.Chart(
        pl.DataFrame({"part": [COST], **{f"p{level}": [cents * scale] for level, cents in levels.items()}})
    )
    tips = [
        alt.Tooltip("part:N"),
        *(
            alt.Tooltip(f"p{level}:Q", title=f"{level} % chance to cost no more than", format=exact(scale))
            for level in levels
        ),
    ]
    wide = span.mark_bar(height=ROW * 0.3, color=colours.faint, stroke=colours.text, strokeWidth=0.5).encode(
        x="p10:Q", x2="p90:Q", y=y, tooltip=tips
    )
    close = span.mark_bar(height=ROW * 0.6, color=colours.other, stroke=colours.text, strokeWidth=0.5).encode(
        x="p50:Q", x2="p80:Q", y=y, tooltip=tips
    )
    middle = span.mark_tick(thickness=4, size=ROW * 0.8, color=colours.text).encode(x="p50:Q", y=y, tooltip=tips)
    ends = span.mark_text(align="left", dx=5).encode(x="p90:Q", y=y, text=alt.Text("p50:Q", format=form))
    layers = bars + figures + wide + close + middle + ends
    if asked is not None:
        price = alt.Chart(pl.DataFrame({"part": [ASKED], "shown": [asked * scale]}))
        layers += price.mark_point(shape="diamond", size=150, filled=True, color=colours.text, opacity=1).encode(
            x="shown:Q", y=y, tooltip=[alt.Tooltip("part:N"), alt.Tooltip("shown:Q", title=unit, format=exact(scale))]
        )
        layers += price.mark_text(align="right", dx=-10).encode(
            x="shown:Q", y=y, text=alt.Text("shown:Q", format=exact(scale))
        )
    return dress(tall(layers, len(order)), title, colours)


def waiting(curve: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """The share of pieces still unsold by days since they were listed, with its band; a step is a sale.

    A click on a step opens its pieces.

    `curve`: wait_days, at_risk, sold_pieces, unsold_share, unsold_low_share, unsold_high_share.
    """
    base = alt.Chart(curve)
    x = alt.X("wait_days:Q", axis=alt.Axis(title="days since it was listed", tickCount=6))
    axis = alt.Axis(title="still unsold", format=".0%", tickCount=5)
    band = base.mark_area(color=colours.faint, opacity=0.35, interpolate="step-after").encode(
        x=x, y=alt.Y("unsold_low_share:Q", axis=axis, scale=alt.Scale(domain=[0, 1])), y2="unsold_high_share:Q"
    )
    line = base.mark_line(color=colours.main, strokeWidth=2, interpolate="step-after").encode(
        x=x,
        y="unsold_share:Q",
        tooltip=[
            alt.Tooltip("wait_days:Q", title="days"),
            alt.Tooltip("unsold_share:Q", title="still unsold", format=".0%"),
            alt.Tooltip("unsold_low_share:Q", title="19 times in 20 from", format=".0%"),
            alt.Tooltip("unsold_high_share:Q", title="19 times in 20 up to", format=".0%"),
            alt.Tooltip("at_risk:Q", title="pieces still waiting"),
        ],
    )
    picked = alt.selection_point(name="picked", fields=["wait_days"], toggle=False)
    sales = (
        base.transform_filter("datum.sold_pieces > 0")
        .mark_circle(size=55, color=colours.main, opacity=1, cursor="pointer")
        .encode(
            x=x,
            y="unsold_share:Q",
            tooltip=[alt.Tooltip("wait_days:Q", title="days"), alt.Tooltip("sold_pieces:Q", title="sold that day")],
        )
        .add_params(picked)
    )
    half = alt.Chart().mark_rule(color=colours.quiet, strokeDash=[4, 3], aria=False).encode(y=alt.datum(0.5))
    return dress((band + half + line + sales).properties(height=230), title, colours)
