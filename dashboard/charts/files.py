"""What became of the rows that came in."""

import altair as alt
import polars as pl

from dashboard.charts.theme import ROW, Look, dress, tall


def set_aside(rows: pl.DataFrame, title: str, colours: Look) -> alt.LayerChart:
    """Bars of rows set aside by reason; a click on one chooses it.

    `rows`: one a fault, with `kind`, the reason in a few words.
    """
    counted = rows.group_by("kind", maintain_order=True).len("rows").sort("rows", descending=True, maintain_order=True)
    base = alt.Chart(counted)
    y = alt.Y(
        "kind:N",
        sort=None,
        axis=alt.Axis(title=None, ticks=False, domain=False, labelLimit=235),
    )
    picked = alt.selection_point(name="picked", fields=["kind"], toggle=False)
    bars = base.mark_bar(height=ROW * 0.6, color=colours.main, cursor="pointer").encode(
        x=alt.X("rows:Q", axis=alt.Axis(title="rows set aside", tickMinStep=1, tickCount=5)),
        y=y,
        tooltip=[alt.Tooltip("kind:N", title="reason"), "rows:Q"],
    )
    bars = bars.add_params(picked)
    labels = base.mark_text(align="left", dx=5).encode(x="rows:Q", y=y, text="rows:Q")
    return dress(tall(bars + labels, counted.height), title, colours)
