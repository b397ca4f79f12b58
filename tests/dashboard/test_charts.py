"""Charts as pure functions: what stands in the frame is drawn, and nothing else."""

import json
import re
from datetime import date
from typing import Any

import altair as alt
import polars as pl
import pytest
import vl_convert
from streamlit.testing.v1 import AppTest

from dashboard.charts import cached, files, log, materials, month, piece, price, rework, stock, waterfall, year
from dashboard.charts.drawn_rows import rows_of
from dashboard.charts.theme import DAY, ROW
from dashboard.tables import csv


def drawn(chart: Any) -> str:
    """The picture as SVG: Vega itself has taken the chart, and its texts can be read. A click on a mark is told."""
    spec = chart.to_dict()
    assert "picked" in {param["name"] for param in spec.get("params", [])}, "no selection of that name"
    assert rows_of(spec).height, "no rows to take along"
    return vl_convert.vegalite_to_svg(spec)


BARS = alt.Chart(pl.DataFrame({"kind": ["a", "b"], "rows": [1, 2]})).mark_bar().encode(x="rows:Q", y="kind:N")


def shown_bars() -> None:
    from dashboard import widgets
    from tests.dashboard.test_charts import BARS

    for key, chart in (("one", BARS), ("two", BARS + BARS.mark_text())):
        widgets.picture(chart, "Rows by kind.", key, "kind", chooses="kind")


def test_a_picture_whose_chart_brings_no_selection_is_clickable_all_the_same() -> None:
    assert not AppTest.from_function(shown_bars, default_timeout=60).run().exception
    for chart in (BARS, BARS + BARS.mark_text()):
        spec = cached.clickable(chart.to_dict(), "kind")
        assert spec == cached.clickable(spec, "kind")
        signals = json.dumps(vl_convert.vegalite_to_vega(spec))
        assert '"picked_tuple"' in signals
        assert '"kind"' in signals


def test_steps_end_at_what_is_left() -> None:
    frame = pl.DataFrame(
        {"step": ["Sold", "Wood", "Result"], "amount": [100000, -70050, 29950], "total": [False, False, True]}
    )
    svg = drawn(waterfall.steps(frame, "Of 1,000 sold, 300 is left", "USD", DAY, digits=2, scale=0.01))
    for text in ("Sold", "Wood", "Result", "1,000.00", "\u2212700.50", "299.50", "USD"):
        assert text in svg


RATE = {
    "finish": "oil", "pieces": 10, "events": 3, "rate": 0.3, "low": 0.1, "high": 0.5,
    "adjusted": 0.3, "adjusted_low": 0.1, "adjusted_high": 0.5, "chance_worse": 0.5,
}  # fmt: skip
RATES = pl.DataFrame([RATE | {"level": wood, "species": wood} for wood in ("ash", "elm", "oak")])
DENT = {"defect": "dent", "action": "accept", "found": 1, "pieces": 1, "cents": 5}
DEFECTS = pl.DataFrame([DENT, DENT | {"action": "rework"}, DENT | {"defect": "dust"}])
TRAY = {"piece": "a", "product": "tray", "species": "ash", "finish": "oil", "unit_cents": 5}
PIECES = pl.DataFrame([TRAY, TRAY | {"piece": "b"}, TRAY | {"piece": "c", "product": "box"}])


@pytest.mark.parametrize(
    ("chart", "step"),
    [
        (rework.forest(RATES, 0.3, "t", DAY), ROW),
        (rework.grid(RATES, "t", DAY), 38),
        (rework.pareto(DEFECTS, "t", "USD", 1, DAY), ROW),
        (piece.spread(PIECES, "t", "USD", 1, "a", DAY), ROW + 4),
    ],
    ids=["forest", "grid", "pareto", "spread"],
)
def test_rows_are_as_high_as_if_vega_counted_them(chart: alt.LayerChart, step: float) -> None:
    spec = chart.to_dict()
    del spec["autosize"]
    assert drawn_places(spec) == pytest.approx(drawn_places(spec | {"height": {"step": step}}))


def drawn_places(spec: dict[str, Any]) -> list[float]:
    """How far down the names of the rows stand, and the whole picture's height."""
    svg = vl_convert.vegalite_to_svg(spec | {"width": 400})
    axis = re.search(r"Y-axis.*?role-axis-label.*?</g>", svg, re.S)
    assert axis
    high = re.search(r'<svg[^>]* height="([\d.]+)"', svg)
    assert high
    return [*(float(place) for place in re.findall(r"translate\([^,]*,([\d.]+)\)", axis[0])), float(high[1])]


def test_what_stays_on_the_way_has_not_the_colour_of_a_loss() -> None:
    frame = pl.DataFrame(
        {
            "step": ["bought", "spilled", "on the shelf", "in pieces"],
            "amount": [10, -1, -4, 5],
            "total": [False, False, False, True],
            "stays": [False, False, True, False],
        }
    )
    colours = bar_colours(drawn(waterfall.steps(frame, "t", "g", DAY)))
    assert len(set(colours)) == 4
    assert colours[2] == DAY.faint


def bar_colours(svg: str) -> list[str]:
    return re.findall(r'aria-roledescription="bar"[^>]*?fill="([^"]+)"', svg)


def test_a_step_begins_where_the_last_one_ended() -> None:
    frame = pl.DataFrame(
        {"step": ["a", "b", "c", "left"], "amount": [10, -4, -2, 4], "total": [False, False, False, True]}
    )
    assert running(frame) == [("a", 0, 10), ("b", 10, 6), ("c", 6, 4), ("left", 0, 4)]


def running(frame: pl.DataFrame) -> list[tuple[str, float, float]]:
    """Begin and end of each bar, as Vega works them out: it says them in the bar's label for screen readers."""
    labels = re.findall(
        r'aria-label="([^"]*)" role="graphics-symbol" aria-roledescription="bar"',
        drawn(waterfall.steps(frame, "t", "g", DAY)),
    )
    bars = [dict(field.split(": ", 1) for field in label.split("; ")) for label in labels]
    return [(bar["step"], number(bar["begin"] if "begin" in bar else bar["g"]), number(bar["end"])) for bar in bars]


def number(text: str) -> float:
    return float(text.replace(",", "").replace("\u2212", "-"))


def taken(chart: Any) -> list[str]:
    """A picture's rows as its CSV holds them."""
    return csv(rows_of(chart.to_dict())).decode().splitlines()


def test_the_rows_of_a_picture_are_named_and_in_major_units() -> None:
    frame = pl.DataFrame({"step": ["Sold", "=Wood"], "amount": [100000, -70050], "total": [False, False]})
    # in whole numbers on the page, to the cent in the file; a formula is text there
    assert taken(waterfall.steps(frame, "t", "USD", DAY, scale=0.01)) == [
        "step,USD", "Sold,1000.0", "'=Wood,-700.5",
    ]  # fmt: skip
    months = MONTHS.with_columns(result_cents=pl.Series([None, 2019], dtype=pl.Int64))
    assert taken(month.course(months, "result_cents", None, "t", "USD an hour", 0.01, DAY)) == [
        "month,USD an hour", "2026-04,", "2026-05,20.19",
    ]  # fmt: skip


def test_the_rows_of_a_picture_tell_shares_in_percent_and_both_ends_of_a_span() -> None:
    first, *rest = taken(rework.forest(RATES, None, "t", DAY))
    assert "9 times in 10 from (%),9 times in 10 up to (%),came back,pieces" in first
    assert rest[-1].startswith("ash,12.0,6.0,20.0,4,40,10.0,")


def test_the_rows_of_a_quotes_picture_are_its_parts_the_likely_cost_and_what_is_asked() -> None:
    parts = pl.DataFrame({"part": ["work", "material"], "begin": [0, 13000], "end": [13000, 17500]})
    levels = {10: 15000, 50: 17000, 80: 19000, 90: 21000}
    chance = ",".join(f"{level} % chance to cost no more than" for level in levels)
    assert taken(price.quote(parts, levels, 30000, "t", "USD", 0.01, DAY)) == [
        f"part,USD,{chance}", "work,130.0,,,,", "material,45.0,,,,", "likely to cost,,150.0,170.0,190.0,210.0",
        "asked,300.0,,,,",
    ]  # fmt: skip


MONTHS = pl.DataFrame({"month": [date(2026, 4, 1), date(2026, 5, 1)], "result_cents": [-1000, 2000]})


def test_the_course_marks_the_chosen_month() -> None:
    svg = drawn(month.course(MONTHS, "result_cents", date(2026, 5, 1), "May made 20", "USD", 0.01, DAY))
    assert svg.count(DAY.main) == 1
    assert svg.count(DAY.faint) >= 1
    assert "May 26" in svg


def test_a_piece_is_cut_into_operations_and_rework() -> None:
    layers = pl.DataFrame({"layer": ["labour", "wood"], "cents": [5000, 700], "usual_cents": [4000, 900]})
    lines = pl.DataFrame(
        {
            "layer": ["labour", "labour", "wood"],
            "operation": ["sanding", "sawing", ""],
            "cents": [3000, 2000, 700],
            "rework_cents": [1000, 0, 0],
            "usual_cents": [2000, 2000, 900],
        }
    )
    svg = drawn(piece.anatomy(layers, lines, "57 in T-1", "USD", 0.01, DAY))
    # sanding first time and rework, sawing, wood
    assert svg.count('aria-roledescription="bar"') == 4
    assert svg.count('aria-roledescription="tick"') == 2
    # a figure at the end of a bar would stand at the tick, and be read as the usual
    assert re.search(r">work\s+50\.00<", svg)
    assert re.search(r">wood\s+7\.00<", svg)
    assert ">usual<" in svg


def test_what_is_not_usual_and_what_cannot_be_told_has_no_tick() -> None:
    line = {"operation": "", "rework_cents": 0}
    lines = pl.DataFrame([line | {"layer": "wood", "cents": 700, "usual_cents": 0}])
    for usual in (0, None):
        layers = pl.DataFrame({"layer": ["wood"], "cents": [700], "usual_cents": pl.Series([usual], dtype=pl.Int64)})
        svg = drawn(piece.anatomy(layers, lines, "7 in T-1", "USD", 0.01, DAY))
        assert 'aria-roledescription="tick"' not in svg
        assert ">usual<" not in svg


def test_the_chosen_piece_is_drawn_above_the_others() -> None:
    frame = pl.DataFrame(
        {"piece": ["T-2", "T-1", "T-3"], "product": "tray", "species": "ash", "finish": "oil", "unit_cents": 300}
    )
    fills = re.findall(
        r'fill="([^"]*)"[^>]*aria-roledescription="circle"|aria-roledescription="circle"[^>]*fill="([^"]*)"',
        drawn(piece.spread(frame, "3 pieces", "USD each", 0.01, "T-2", DAY)),
    )
    assert [a or b for a, b in fills] == [DAY.main, DAY.main, DAY.other]


def test_the_spread_has_a_dot_a_piece() -> None:
    frame = pl.DataFrame(
        {
            "piece": ["T-1", "T-2"],
            "product": ["tray", "tray"],
            "species": ["ash"] * 2,
            "finish": ["oil"] * 2,
            "unit_cents": [100, 300],
        }
    )
    svg = drawn(piece.spread(frame, "2 pieces", "USD each", 0.01, "T-2", DAY))
    assert svg.count('aria-roledescription="circle"') == 2
    assert svg.count(f'fill="{DAY.other}"') == 1


def test_waste_is_stacked_by_cause() -> None:
    frame = pl.DataFrame(
        {
            "month": [date(2026, 5, 1)],
            "cup_g": [100.0],
            "trimmed_g": [50.0],
            "spilled_g": [20.0],
            "pour_unexplained_g": [5.0],
        }
    )
    columns = {f"{cause}_g": name for cause, name in materials.CAUSES.items()}
    svg = drawn(materials.waste_by_month(frame, columns, "175 g wasted", "g", 1, DAY))
    assert svg.count('aria-roledescription="bar"') == 4
    for cause in materials.CAUSES.values():
        assert cause in svg


def test_a_yield_stands_with_its_lots() -> None:
    groups = pl.DataFrame(
        {
            "level": ["ash", "elm"],
            "lots": [1, 12],
            "pieces": [3, 40],
            "gone_yield_share": [0.4, 0.3],
            "gone_low_share": [None, 0.2],
            "gone_high_share": [None, 0.5],
        }
    )
    svg = drawn(materials.yields(groups, "from 30 to 40 %", DAY))
    assert "elm (12 lots)" in svg.replace("  ", " ")
    assert "ash (1 lot)" in svg.replace("  ", " ")
    assert ">30%<" in svg
    # of one lot alone there is a dot and no bar
    assert svg.count('aria-roledescription="circle"') == 2
    assert svg.count('aria-roledescription="bar"') == 1


RATES = pl.DataFrame(
    {
        "level": ["elm", "ash"], "pieces": [12, 40], "events": [5, 4], "rate": [5 / 12, 0.1], "low": [0.19, 0.04],
        "high": [0.68, 0.23], "adjusted": [0.3, 0.12], "adjusted_low": [0.15, 0.06], "adjusted_high": [0.5, 0.2],
        "chance_worse": [0.9, 0.1],
    }
)  # fmt: skip


def test_the_forest_draws_a_dot_and_a_band_a_group_beside_what_was_counted() -> None:
    svg = drawn(rework.forest(RATES, None, "highest elm", DAY))
    assert svg.index("elm: 5 of 12") < svg.index("ash: 4 of 40")
    assert svg.count('aria-roledescription="bar"') == 2
    assert svg.count('aria-roledescription="point"') == 2
    for text in ("others held equal: 30%", "9 times in 10 from: 15%", "to: 50%", "as counted: 42%", "from: 19%"):
        assert text in svg


def test_the_shops_mean_is_a_line_across_the_forest() -> None:
    with_mean = drawn(rework.forest(RATES, 0.2, "highest elm", DAY))
    assert with_mean.count('aria-roledescription="rule mark"') == 1
    assert "the whole shop: 20%" in with_mean


def test_what_it_would_save_stands_with_its_interval() -> None:
    rows = pl.DataFrame(
        {"name": ["cold room", "without elm"], "cents_per_month": [3500, 100], "low": [2000, -500], "high": [5000, 700]}
    )
    svg = drawn(rework.savings(rows, "cold room saves most", "USD a month", 0.01, DAY))
    assert svg.count('aria-roledescription="point"') == 2
    assert "from: 20.00" in svg
    assert "to: 50.00" in svg


def test_a_quote_shows_its_parts_its_span_and_what_is_asked() -> None:
    made = pl.DataFrame({"part": ["work", "material"], "begin": [0, 13000], "end": [13000, 17500]})
    levels = {10: 15000, 50: 17000, 80: 19000, 90: 21000}
    svg = drawn(price.quote(made, levels, 30000, "17", "USD", 0.01, DAY))
    for text in (">130<", ">45<", ">170<", ">300.00<", "likely to cost", "asked"):
        assert text in svg
    assert "10 % chance to cost no more than: 150.00" in svg
    assert "asked" not in drawn(price.quote(made, levels, None, "17", "USD", 0.01, DAY))


def test_the_wait_for_a_buyer_steps_down_at_each_sale() -> None:
    curve = pl.DataFrame(
        {
            "wait_days": [0, 10, 40],
            "at_risk": [4, 3, 1],
            "sold_pieces": [0, 1, 1],
            "unsold_share": [1.0, 0.67, 0.0],
            "unsold_low_share": [1.0, 0.2, 0.0],
            "unsold_high_share": [1.0, 0.9, 0.6],
        }
    )
    chart = price.waiting(curve, "half within 40 days", DAY).to_dict()
    assert [layer["mark"].get("interpolate") for layer in chart["layer"]] == ["step-after", None, "step-after", None]
    assert "days since it was listed" in drawn(price.waiting(curve, "half within 40 days", DAY))


def test_what_is_tied_up_is_stacked_by_stage() -> None:
    frame = pl.DataFrame(
        {
            "month": [date(2026, 5, 1)] * 4,
            "stage": list(stock.STAGES),
            "stage_number": [1, 2, 3, 4],
            "closing_cents": [100, 200, 300, 400],
        }
    )
    svg = drawn(stock.tied_up(frame, date(2026, 5, 1), "10 tied up", "USD", 0.01, DAY))
    assert svg.count('aria-roledescription="bar"') == 4
    for name in stock.STAGES.values():
        assert name in svg


def test_over_mixing_stands_with_its_pours() -> None:
    groups = pl.DataFrame({"purpose": ["flood", "seal"], "pours": [12, 1], "over_g": [900.0, -50.0]})
    svg = drawn(materials.over_mixed(groups, "over_g", "850 g too much", "g", 1, DAY)).replace("  ", " ")
    assert "flood (12 pours)" in svg
    assert "seal (1 pour)" in svg
    assert ">900.0<" in svg


def test_finished_wood_costs_what_it_costs() -> None:
    groups = pl.DataFrame(
        {"level": ["elm", "ash"], "lots": [3, 1], "yield_share": [0.3, 0.5], "cents_per_finished_dm3": [1200, 700]}
    )
    svg = drawn(materials.wood_costs(groups, "elm is dearest", "USD a finished dm³", 0.01, DAY)).replace("  ", " ")
    assert svg.index("elm (3 lots)") < svg.index("ash (1 lot)")
    assert ">12.0<" in svg


def test_the_pareto_puts_the_dearest_defect_first() -> None:
    frame = pl.DataFrame(
        {
            "defect": ["check", "bubble", "bubble"],
            "action": ["rework", "rework", "scrap"],
            "found": [1, 2, 1],
            "pieces": [1, 2, 1],
            "cents": [900, 500, 600],
        }
    )
    svg = drawn(rework.pareto(frame, "bubble", "USD", 0.01, DAY))
    assert svg.index(">bubble<") < svg.index(">check<")


@pytest.mark.parametrize("outside", [True, False])
def test_a_month_beyond_its_limits_is_marked(outside: bool) -> None:
    frame = pl.DataFrame(
        {
            "month": [date(2026, 4, 1), date(2026, 5, 1)],
            "pieces": [9, 9],
            "rate": [0.1, 0.9],
            "centre": [0.2, 0.2],
            "lower": [0.0, 0.0],
            "upper": [0.6, 0.6],
            "outside": [False, outside],
            "young_pieces": [0, 1],
        }
    )
    svg = drawn(rework.control(frame, "a month", DAY))
    assert (DAY.other in svg) == outside


def test_thin_cells_are_small() -> None:
    frame = pl.DataFrame(
        {
            "level": ["elm × oil", "elm × flood coat"],
            "species": ["elm", "elm"],
            "finish": ["oil", "flood coat"],
            "pieces": [1, 40],
            "events": [1, 10],
            "rate": [1.0, 0.25],
            "low": [0.2, 0.1],
            "high": [1.0, 0.4],
        }
    )
    chart = rework.grid(frame, "2 pairs", DAY).to_dict()
    assert chart["encoding"]["size"]["field"] == "pieces"
    assert "elm" in drawn(rework.grid(frame, "2 pairs", DAY))


def test_rows_set_aside_are_counted_by_reason() -> None:
    svg = drawn(files.set_aside(pl.DataFrame({"kind": ["Not a date", "Not a date", "No unit"]}), "Not a date", DAY))
    assert ">2<" in svg
    assert svg.index(">Not a date<") < svg.index(">No unit<")


def test_each_day_of_the_log_has_a_bar_also_an_empty_one() -> None:
    frame = pl.DataFrame({"day": [date(2026, 5, 4), date(2026, 5, 5)], "hours": [6.5, 0.0]})
    svg = drawn(log.days(frame, "1 day of 2 with hours", DAY))
    assert "Mon 4" in svg and "Tue 5" in svg and "hours logged" in svg


def test_a_year_is_drawn_beside_the_one_before_and_a_month_that_runs_is_dashed() -> None:
    frame = pl.DataFrame(
        {
            "name": ["2026-01", "2026-02"], "month": ["Jan", "Feb"], "number": [1, 2], "whole": [True, False],
            "value": [10000.0, None], "before": [-5000.0, 7000.0],
        }
    )  # fmt: skip
    chart = year.beside(frame, ("2026", "2025"), "Result by month: 100", "USD", 0.01, ",.0f", DAY)
    svg = drawn(chart)
    for text in ("Jan", "Feb", "2026", "2025", "100", "\u221250"):
        assert text in svg
    # three bars: of what can't be said there is none, and the two years differ by their fill and not by colour alone
    assert svg.count('aria-roledescription="bar"') == 3
    assert f'fill="{DAY.paper}"' in svg
    # of a year that none is known of nothing is told, in its key neither
    alone = frame.with_columns(pl.lit(None, pl.Float64).alias("before"))
    assert "2025" not in drawn(year.beside(alone, ("2026", "2025"), "Result", "USD", 0.01, ",.0f", DAY))
