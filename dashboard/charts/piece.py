"""What a piece is made of, in money."""

import altair as alt
import polars as pl

from dashboard import words
from dashboard.charts.theme import ROW, Look, dress, exact, tall

PARTS = {"first_cents": "first time", "rework_cents": "rework"}


USUAL = "usual"


def anatomy(
    layers: pl.DataFrame, lines: pl.DataFrame, title: str, unit: str, scale: float, colours: Look
) -> alt.LayerChart:
    """Bars by layer, each cut into its operations and into first time and rework, with a tick at what is usual.

    What a layer cost stands beside its name: at the end of a bar it would stand at the tick, and be read as the usual.
    `layers`: layer, cents, usual_cents. `lines`: layer, operation, cents, rework_cents, usual_cents.
    """
    figures = [
        f"{words.layer(layer)}  {format(cents * scale, exact(scale))}"
        for layer, cents in layers.select("layer", "cents").iter_rows()
    ]
    said = [words.layer(layer) for layer in layers["layer"]]
    layers = layers.with_columns(pl.Series("named", figures, pl.String), pl.Series("said", said, pl.String))
    known = layers.filter(pl.col("usual_cents") > 0)
    y = alt.Y("named:N", sort=figures, axis=alt.Axis(title=None, ticks=False, domain=False))
    picked = alt.selection_point(name="picked", fields=["layer"], toggle=False)
    bars = (
        alt.Chart(_parts(lines, layers, scale))
        .mark_bar(height=ROW * 0.6, cursor="pointer", stroke=colours.paper, strokeWidth=1)
        .encode(
            x=alt.X("shown:Q", stack="zero", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
            y=y,
            color=alt.Color(
                "kind:N",
                scale=alt.Scale(domain=list(PARTS.values()), range=[colours.main, colours.other]),
                legend=alt.Legend(title=None, columns=1),
            ),
            order=alt.Order("place:Q"),
            opacity=alt.condition(picked, alt.value(1), alt.value(0.45)),
            tooltip=[
                alt.Tooltip("line:N"),
                alt.Tooltip("kind:N", title="done"),
                alt.Tooltip("shown:Q", title=unit, format=exact(scale)),
                alt.Tooltip("usual:Q", title="usual for the line", format=exact(scale)),
            ],
        )
        .add_params(picked)
    )
    if not known.height:  # what is not usual, or can't be told, has no tick
        return dress(tall(alt.layer(bars), layers.height), title, colours)
    usual = (
        alt.Chart(known.with_columns(usual=pl.col("usual_cents") * scale))
        .transform_calculate(kind=f"'{USUAL}'")
        # the rim of paper tells it from the bar that it stands on
        .mark_tick(thickness=5, size=ROW * 0.9, opacity=1, stroke=colours.paper, strokeWidth=1)
        .encode(
            x="usual:Q",
            y=y,
            color=alt.Color(
                "kind:N",
                scale=alt.Scale(domain=[USUAL], range=[colours.text]),
                legend=alt.Legend(title=None, symbolType="M-0.2,-1H0.2V1H-0.2Z", symbolStrokeWidth=0, labelLimit=240),
            ),
            tooltip=[
                alt.Tooltip("said:N", title="layer"),
                alt.Tooltip("usual:Q", title="usual for the layer", format=exact(scale)),
            ],
        )
    )
    chart = tall((bars + usual).resolve_scale(color="independent"), layers.height)
    return dress(chart, title, colours)


def _parts(lines: pl.DataFrame, layers: pl.DataFrame, scale: float) -> pl.DataFrame:
    """One row a bar: each line cut into first time and rework, in the order of the lines."""
    operation = pl.col("operation").fill_null("")
    placed = lines.with_row_index("place").join(layers.select("layer", "named", "said"), on="layer")
    said = placed.with_columns(
        first_cents=pl.col("cents") - pl.col("rework_cents"),
        line=pl.when(operation == "").then("said").otherwise(pl.format("{}, {}", "said", operation)),
        usual=pl.col("usual_cents") * scale,
    )
    kept = ["place", "layer", "named", "line", "usual"]
    parted = said.unpivot(list(PARTS), index=kept, variable_name="part", value_name="part_cents")
    drawn = parted.filter(pl.col("part_cents") > 0).sort("place", maintain_order=True)
    return drawn.with_columns(kind=pl.col("part").replace(PARTS), shown=pl.col("part_cents") * scale)


def spread(frame: pl.DataFrame, title: str, unit: str, scale: float, chosen: str, colours: Look) -> alt.LayerChart:
    """Every piece of the selection as a dot by product and unit cost. `frame`: piece, product, unit_cents."""
    # what comes last is drawn above the others
    rows = frame.with_columns(chosen=pl.col("piece") == chosen, shown=pl.col("unit_cents") * scale)
    base = alt.Chart(rows.sort("chosen", maintain_order=True))
    y = alt.Y("product:N", axis=alt.Axis(title=None, ticks=False, domain=False))
    picked = alt.selection_point(name="picked", fields=["piece"], toggle=False)
    dots = base.mark_circle(size=90, cursor="pointer", stroke=colours.text, strokeWidth=0.5).encode(
        x=alt.X("shown:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
        y=y,
        color=alt.condition("datum.chosen", alt.value(colours.other), alt.value(colours.main)),
        opacity=alt.condition("datum.chosen", alt.value(1), alt.value(0.35)),
        size=alt.condition("datum.chosen", alt.value(220), alt.value(80)),
        tooltip=[
            "piece:N",
            "product:N",
            "species:N",
            "finish:N",
            alt.Tooltip("shown:Q", title=unit, format=exact(scale)),
        ],
    )
    return dress(tall(dots.add_params(picked), frame["product"].n_unique(), ROW + 4), title, colours)
