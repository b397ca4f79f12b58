"""A way in steps: from what came in, step by step, to what is left."""

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress, tall


def steps(
    frame: pl.DataFrame, title: str, unit: str, colours: Look, digits: int = 0, scale: float = 1
) -> alt.LayerChart:
    """Bars of `frame` (columns: step, amount, total) one under the other, each beginning where the last one ended.

    A column `stays` may mark what goes off the way and is not lost: it has a colour of its own. `total` marks the steps
    that stand on their own, from zero; of these only the first of all is gone on from.
    `scale` turns a stored amount into `unit`.
    """
    order = frame["step"].to_list()
    if "stays" not in frame.columns:
        frame = frame.with_columns(stays=pl.lit(False))
    # running totals are where a bar is drawn, no figure: that of each bar is in the frame
    moved = (
        alt.Chart(
            frame.with_row_index("place").with_columns(pl.col("place").cast(pl.Int64), shown=pl.col("amount") * scale)
        )
        .transform_calculate(part="datum.total && datum.place > 0 ? 0 : datum.shown")
        .transform_window(ends="sum(part)", sort=[alt.SortField("place")])
        .transform_calculate(
            begin="datum.total ? 0 : datum.ends - datum.part",
            end="datum.total ? datum.shown : datum.ends",
        )
        .transform_calculate(
            kind="datum.total ? 'what it comes to' : datum.stays ? 'is still there' : "
            "datum.shown < 0 ? 'goes off' : 'comes in'",
            label=f"(datum.shown < 0 ? '\u2212' : '') + format(abs(datum.shown), ',.{digits}f')",
            right="max(datum.begin, datum.end)",
        )
    )
    y = alt.Y("step:N", sort=order, axis=alt.Axis(title=None, domain=False, ticks=False, labelLimit=150))
    picked = alt.selection_point(name="picked", fields=["step"], toggle=False)
    bars = (
        moved.mark_bar(height=ROW * 0.6, cursor="pointer", stroke=colours.text, strokeWidth=0.5)
        .encode(
            x=alt.X("begin:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
            x2="end:Q",
            y=y,
            color=alt.Color(
                "kind:N",
                legend=None,
                scale=alt.Scale(
                    domain=["comes in", "goes off", "is still there", "what it comes to"],
                    range=[colours.main, colours.other, colours.faint, colours.series[0]],
                ),
            ),
            opacity=alt.condition(picked, alt.value(1), alt.value(0.45)),
            tooltip=[alt.Tooltip("step:N", title="step"), alt.Tooltip("shown:Q", title=unit, format=f",.{digits}f")],
        )
        .add_params(picked)
    )
    placed = {"x": alt.X("right:Q"), "y": y, "text": "label:N"}
    labels = moved.mark_text(align="left", dx=5, color=colours.text).encode(**placed)
    # a rim of paper, so that no line is seen through a figure
    rim = moved.mark_text(align="left", dx=5, stroke=colours.paper, strokeWidth=5, aria=False).encode(**placed)
    zero = alt.Chart().mark_rule(color=colours.quiet, aria=False).encode(x=alt.datum(0))
    return dress(tall(zero + bars + rim + labels, frame.height), title, colours)
