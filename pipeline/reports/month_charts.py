"""The pictures of the month report, drawn to SVG without a browser and without the network."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

FONT = "Seravek, Ubuntu, Calibri, DejaVu Sans, sans-serif"
INK, QUIET, GRID, MAIN, OTHER, FAINT = "#2b2622", "#665c50", "#e4dccd", "#17505c", "#b8741a", "#cdbf9f"
"""For white paper; the bars differ in lightness too, so that they print in grey."""

MINUS = "\u2212"


def bridge(steps: Sequence[tuple[str, float, bool]], unit: str) -> str:
    """Bars from one month's result to another's, each beginning where the last one ended: (step, amount, is total)."""
    import altair as alt

    rows = [{"place": place, "step": s, "amount": a, "total": t} for place, (s, a, t) in enumerate(steps)]
    moved = (
        alt.Chart(alt.Data(values=rows))
        .transform_calculate(part="datum.total && datum.place > 0 ? 0 : datum.amount")
        .transform_window(ends="sum(part)", sort=[alt.SortField("place")])
        .transform_calculate(
            begin="datum.total ? 0 : datum.ends - datum.part",
            end="datum.total ? datum.amount : datum.ends",
        )
        .transform_calculate(
            kind="datum.total ? 'result' : datum.amount < 0 ? 'less' : 'more'",
            label=f"(datum.amount < 0 ? '{MINUS}' : datum.total ? '' : '+') + format(abs(datum.amount), ',.0f')",
            right="max(datum.begin, datum.end)",
        )
    )
    y = alt.Y("step:N", sort=[s for s, _, _ in steps], axis=alt.Axis(title=None, ticks=False, domain=False))
    scale = alt.Scale(domain=["more", "less", "result"], range=[MAIN, OTHER, INK])
    bars = moved.mark_bar(height=11, stroke=INK, strokeWidth=0.5).encode(
        x=alt.X("begin:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
        x2="end:Q",
        y=y,
        color=alt.Color("kind:N", legend=None, scale=scale),
    )
    labels = moved.mark_text(align="left", dx=4).encode(x="right:Q", y=y, text="label:N")
    return _svg((bars + labels).properties(width=300, height=alt.Step(17)))


def course(months: Sequence[tuple[date, float | None, bool]], unit: str) -> str:
    """Bars of a figure by month, the chosen one dark: (month, amount, is chosen)."""
    import altair as alt

    names = [f"{month:%b %y}" for month, _, _ in months]
    rows = [{"name": f"{month:%b %y}", "amount": amount, "chosen": chosen} for month, amount, chosen in months]
    base = alt.Chart(alt.Data(values=rows))
    bars = base.mark_bar(stroke=INK, strokeWidth=0.5).encode(
        x=alt.X("name:N", sort=names, axis=alt.Axis(title=None, labelAngle=-90)),
        y=alt.Y("amount:Q", axis=alt.Axis(title=unit, tickCount=4, format=",.2~f")),
        color=alt.condition("datum.chosen", alt.value(MAIN), alt.value(FAINT)),
    )
    return _svg(bars.properties(width=330, height=190))


def _svg(chart: Any) -> str:
    """The chart as an SVG element that names no other file and no address."""
    import vl_convert

    axis: dict[str, Any] = {
        "labelColor": INK,
        "titleColor": QUIET,
        "titleFontWeight": "normal",
        "gridColor": GRID,
        "domainColor": GRID,
    }
    axis |= {"tickColor": GRID, "labelLimit": 150}
    dressed = chart.configure(font=FONT, background="#ffffff").configure_view(strokeWidth=0).configure_axis(**axis)
    drawn = vl_convert.vegalite_to_svg(dressed.configure_text(color=INK).to_dict(), allowed_base_urls=[])
    # the names of its namespaces are not needed inside a page, and look like addresses
    return re.sub(r' xmlns(:xlink)?="[^"]*"', "", drawn)
