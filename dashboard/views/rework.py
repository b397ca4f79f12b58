"""What keeps coming back to the bench, how sure is that, and what does it cost?"""

from typing import Any

import polars as pl

from dashboard import data, settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.rework import control, forest, grid
from dashboard.sections import rework_details, shop_changes
from dashboard.sections.rework_details import FACTORS
from dashboard.widgets import Column, Narrowed, Page

QUESTION = "What keeps coming back to the bench?"
BOTH = "species × finish"

MOST = {"rework": "comes back most", "scrap": "is scrapped most", "defect": "shows a defect most"}
MEASURES = {"rework": "came back for rework", "scrap": "were scrapped", "defect": "showed a defect"}

VERDICTS = {
    "too few": "too few pieces to say",
    "not told apart": "can't be told apart from what it is mostly made with",
    "very likely worse": "very likely worse than the shop",
    "likely worse": "likely worse than the shop",
    "not shown": "not shown to be worse",
}
WORSE = ("very likely worse", "likely worse")


def show(page: Page) -> None:
    rates = page.book.rates()
    if not rates.height:
        widgets.answer(QUESTION, "No piece has been judged yet.")
        widgets.empty(
            "No finished piece is on record.",
            "`pieces` that are finished, and `inspections` that say what was found, begin it.",
        )
        return
    head = widgets.head()
    with widgets.filters():
        known = rates["factor"].unique().to_list()
        names = [name for factor, name in FACTORS.items() if factor in known and factor != BOTH]
        by = widgets.choose("By", "by", names)
        measure = widgets.choose("Counted is what", "counted", list(MEASURES.values()))
        only = widgets.narrow(page)
    factor = next(f for f, name in FACTORS.items() if name == by)
    kind = next(m for m, name in MEASURES.items() if name == measure)
    chosen = rates.filter(pl.col("factor") == factor, pl.col("measure") == kind)
    widgets.narrowed(
        only,
        "the pieces, what inspections found on them, and the defects",
        "The rates, what mending would save, and the course of the months are the whole shop's.",
    )
    own = chosen.filter(pl.col("level") == only.chosen.get(factor, widgets.ANY))
    widgets.answer(QUESTION, _sentence(page, chosen, own, by, kind, only), head)
    if chosen.height:
        _forest(page, chosen, _mean(rates, kind), factor, by, kind)
        _behind(page, factor, chosen, only)
    rework_details.more_rework(page)
    rework_details.defects(page, only)
    _months(page, only)
    _grid(page, rates, kind, only)
    _changes(page)
    widgets.caution(
        "sanding rework makes dust of wood and of resin that may not have cured: extractor and mask, "
        "gloves for a tacky "
        "spot, and no torch near solvent or dust. Whether a resin can be sanded or recoated yet, its data sheet says."
    )


def _sentence(page: Page, chosen: pl.DataFrame, own: pl.DataFrame, by: str, kind: str, only: Narrowed) -> str:
    said = []
    if own.height:
        said.append(_narrowed_to(own.row(0, named=True), kind))
    elif chosen.height:
        said.append(("in the whole shop, " if only.chosen else "") + _highest(chosen, by, kind))
    if row := page.book.dearest_defect(only.tags_chosen(page)):
        of = f" of {only.words}" if only.chosen else ""
        said.append(
            f"the dearest defect{of} is {row['defect']}: {page.money.round(row['cents'])} on "
            f"{words.count(row['pieces'], 'piece')}"
        )
    sentence = "; ".join(said) or "nothing has come back"
    return f"{sentence[:1].upper()}{sentence[1:]}."


def _narrowed_to(row: dict[str, Any], kind: str) -> str:
    """The rate of the group that the page is narrowed to."""
    counted = words.rate(row["events"], row["pieces"], row["rate"], row["low"], row["high"])
    return f"{row['level']}: {counted}, {MEASURES[kind]}, and {_equal(row)}; {VERDICTS[row['verdict']]}"


def _equal(row: dict[str, Any]) -> str:
    """The rate with the others held equal, with its span: as the counted one it never stands alone."""
    span = f"{words.half_up(100 * row['adjusted_low'])} to {words.share(row['adjusted_high'])}"
    return f"with the others held equal {words.share(row['adjusted'])} ({span}, 9 times in 10)"


def _group(row: dict[str, Any], by: str) -> str:
    """A group in a sentence: a species by its name, a coat as `coat 2`, a practice as `“cold room”`."""
    level = str(row["level"])
    practice = {"yes": f"“{by}”", "no": f"not “{by}”"}
    return practice.get(level, f"{by} {level}" if level.isdigit() else level)


def _highest(chosen: pl.DataFrame, by: str, kind: str) -> str:
    """The group that comes back most."""
    worse = chosen.filter(pl.col("verdict").is_in(WORSE))
    if worse.height:
        row = worse.sort("chance_worse", descending=True).row(0, named=True)
        return (
            f"{_group(row, by)} {MOST[kind]}, by {by}: "
            f"{words.rate(row['events'], row['pieces'], row['rate'], row['low'], row['high'])}, "
            f"and {_equal(row)}; "
            f"{words.at_most_sure(row['chance_worse'])} sure that it is worse than the shop, if nothing but wood, "
            "finish, product and time differs"
        )
    row = chosen.sort("rate", descending=True).row(0, named=True)
    return (
        f"nothing, by {by}, is shown to be worse than the shop; highest as counted is {_group(row, by)}, "
        f"{words.rate(row['events'], row['pieces'], row['rate'], row['low'], row['high'])}{_luck(chosen, by)}"
    )


def _luck(chosen: pl.DataFrame, by: str) -> str:
    """How often the highest of so many stands as high where all are alike; nothing where nobody asked."""
    luck = chosen["luck_share"].max()
    if luck is None:
        return ""
    shops = max(round(10 * float(luck)), 1)  # type: ignore[arg-type]
    return f"; of {chosen.height} that are all alike, one stands out as far by luck alone in {shops} shops of 10"


def _mean(rates: pl.DataFrame, kind: str) -> float | None:
    """The whole shop's rate: every piece is of one product."""
    shop = rates.filter(pl.col("factor") == "product", pl.col("measure") == kind)
    return float(shop["events"].sum()) / float(shop["pieces"].sum()) if shop.height else None


def _forest(page: Page, chosen: pl.DataFrame, mean: float | None, factor: str, by: str, kind: str) -> None:
    worse = chosen.filter(pl.col("verdict").is_in(WORSE)).sort("chance_worse", descending=True)
    title = f"Share that {MEASURES[kind]}, by {by}: "
    # no mark is named that may be the highest by luck
    title += f"highest {_group(worse.row(0, named=True), by)}" if worse.height else "none is shown to be worse"
    if mean is not None:
        title += f"; the dashed line is the whole shop, {words.share(mean)}"
    alt = f"{title}. " + "; ".join(
        f"{r['level']}: {words.rate(r['events'], r['pieces'], r['rate'], r['low'], r['high'])}"
        for r in chosen.iter_rows(named=True)
    )
    chart = sent_chart(forest, chosen, mean, title, page.look)
    widgets.picture(chart, alt, f"forest-{factor}-{kind}", "level", chooses="group")
    widgets.say(
        "The line through a mark shows where the true rate likely lies: 19 times in 20 for a rate as counted, 9 in 10 "
        "with the others held equal. “Others held equal” is what the rate would be if the group’s pieces had the same "
        "woods, finishes, products and times as the whole shop’s, drawn towards the shop’s rate where pieces are few. "
        "Pieces of one lot or run that fail together count as fewer. A group that isn’t shown to be worse isn’t shown "
        "to be fine either.",
        quiet=True,
    )
    _young(page)
    if last := page.book.rework_months()["month"].max():
        settings_in_force.show(page, widgets.last_day(last), "flags", "scrap", "circle", "mending")  # type: ignore[arg-type]
    widgets.advice(_advice(page))
    columns = [
        Column("level", by.capitalize()),
        Column("pieces", "Pieces", number=True),
        Column("events", "Came back", number=True),
        Column("rate", "As counted", words.share, number=True),
        Column("low", "19 in 20, from", words.share, number=True),
        Column("high", "to", words.share, number=True),
        Column("adjusted", "Others equal", words.share, number=True),
        Column("adjusted_low", "9 in 10, from", words.share, number=True),
        Column("adjusted_high", "to", words.share, number=True),
        Column("chance_worse", "Chance it is worse", words.at_most_sure, number=True),
        Column("cents_per_piece", "Cost a piece", page.money, number=True),
        Column("verdict", "What one can say", lambda verdict: VERDICTS.get(verdict, str(verdict))),
    ]
    widgets.table(page, chosen, columns, f"rates-{factor}-{kind}", shown=12, leads=rework_details.judged_of)


def _behind(page: Page, factor: str, chosen: pl.DataFrame, only: Narrowed) -> None:
    """The pieces of a group and what inspections found on them: a click on its mark, or its name."""
    # what the page is narrowed to is what somebody wants to see opened
    first = only.chosen.get(factor)
    group = widgets.choose("The pieces behind it (or click its mark)", "group", chosen["level"].to_list(), first)
    rework_details.pieces(page, only.of_pieces(page, page.book.judged(factor, group)), f"{factor}-{group}")


def _advice(page: Page) -> list[str]:
    clear = page.book.savings().filter("clear").head(3)
    return [
        f"{_try(row)}: rework beyond that of comparable pieces came to {rework_details.beyond(page, row)}."
        for row in clear.iter_rows(named=True)
    ]


def _try(row: dict[str, Any]) -> str:
    """What to try, as a try: a comparison names no cause."""
    name = rework_details.group_name(row)
    if row["level"] == "yes":  # a practice, which one can leave for a while
        return f"Try some pieces without “{name}”"
    return f"Look first at {name}"


def _false_alarms(months: int) -> str:
    """How many charts of so many months show a month beyond its limits by luck alone, at most."""
    return f"{max(round(100 * (1 - (1 - 2 * 0.00135) ** months)), 1)} in 100"


def _widened(months: pl.DataFrame) -> str:
    """Why the limits lie further apart than chance would put them; nothing where they don't."""
    times = float(months["widened"].max() or 1)  # type: ignore[arg-type]
    if times < 1.05:
        return ""
    return f" Months differ here by more than luck, so the limits lie {times:.1f} times as far from the usual share."


def _young(page: Page) -> None:
    """How many pieces are too young to be judged."""
    found = page.book.finding_time()
    if not found or not found["young_pieces"]:
        return
    pieces, days = words.count(found["young_pieces"], "piece"), words.count(found["finding_days"], "day")
    widgets.say(
        f"{pieces} finished in the last {days} of the records may still come back, since three in four findings come "
        "within so long: counted in no rate, and marked as young below.",
        quiet=True,
    )


def _months(page: Page, only: Narrowed) -> None:
    months = page.book.rework_months()
    if not months.height:
        return
    widgets.part("Month by month")
    outside = months.filter("outside")
    beyond = (
        f"{words.count(outside.height, 'month')} beyond the limits" if outside.height else "no month beyond the limits"
    )
    title = f"{words.share(months['centre'][0])} of all pieces did not pass first time; {beyond}"
    chart = sent_chart(control, months, title, page.look)
    widgets.picture(chart, f"{title}. The table below holds the same.", "control", "name", chooses="month")
    widgets.say(
        "The band shows where a month lies while nothing changes: by luck alone, hardly one in 300 lies beyond its "
        f"limits, so of charts of {words.count(months.height, 'month')} up to {_false_alarms(months.height)} show one "
        f"beyond them.{_widened(months)} The dashed line is the usual share.",
        quiet=True,
    )
    rework_details.month(page, only)
    columns = [
        Column("month", "Month", lambda day: f"{day:%Y-%m}"),
        Column("pieces", "Pieces", number=True),
        Column("first_pass", "Passed first time", number=True),
        Column("rate", "Did not", words.share, number=True),
        Column("lower", "Limits from", words.share, number=True),
        Column("upper", "to", words.share, number=True),
        Column("outside", "Beyond them"),
        Column("young_pieces", "May still come back", number=True),
    ]
    if box := widgets.folded("Passed first time, month by month", "first-pass"):
        with box:
            widgets.table(
                page,
                months.reverse(),
                columns,
                "first-pass",
                shown=20,
                leads=lambda row: widgets.behind("between", row["month"], widgets.last_day(row["month"])),
            )


def _grid(page: Page, rates: pl.DataFrame, kind: str, only: Narrowed) -> None:
    both = rates.filter(pl.col("factor") == BOTH, pl.col("measure") == kind)
    if not both.height:
        return
    widgets.part("Species and finish together")
    cells = both.with_columns(
        pl.col("level").str.split(" × ").list.to_struct(fields=["species", "finish"]).struct.unnest()
    )
    thin = both.filter(pl.col("pieces") < words.FEW).height
    title = (
        f"{words.count(both.height, 'pair')} of species and finish; {thin} of them with fewer than "
        f"{words.FEW} pieces, drawn small"
    )
    chart = sent_chart(grid, cells, title, page.look)
    widgets.picture(chart, f"{title}. The table below holds the same.", f"grid-{kind}", "level", chooses="pair")
    pair = widgets.choose("The pieces of a pair (or click its square)", "pair", [widgets.ANY, *both["level"].to_list()])
    if pair != widgets.ANY:
        rework_details.pieces(page, only.of_pieces(page, page.book.judged(BOTH, pair)), pair.replace(" × ", "-"))
    if box := widgets.folded("The pairs as a table", "pairs"):
        with box:
            columns = [
                Column("level", "Species and finish"),
                Column("pieces", "Pieces", number=True),
                Column("events", "Came back", number=True),
                Column("rate", "As counted", words.share, number=True),
                Column("low", "19 in 20, from", words.share, number=True),
                Column("high", "to", words.share, number=True),
            ]
            table = both.sort("pieces", descending=True)
            widgets.table(page, table, columns, f"pairs-{kind}", shown=15, leads=rework_details.judged_of)


def _changes(page: Page) -> None:
    widgets.part("Before and after a change")
    changes = page.book.changes()
    if not changes.height:
        widgets.say("Mark the day of a change, and the pieces before and after it are compared here.", quiet=True)
    else:
        _compared(page, changes)
    shop_changes.show(data.shop_folder(), page)


FALLING = 0.8
"""From this chance on it is said that rework fell already before a change (common practice, no source)."""


def _compared(page: Page, changes: pl.DataFrame) -> None:
    for row in changes.filter(pl.col("measure") == "rework").iter_rows(named=True):
        widgets.say(_before_and_after(row))
    widgets.say(
        "A shop that learns has less rework after any day. Beside its own trend counts only what lies beyond a rise or "
        "fall that goes through both sides: a change that did nothing seldom stands out so, and many that did much "
        "can't be told from the trend.",
        quiet=True,
    )
    columns = [
        Column("change", "Change"),
        Column("day", "From", words.day),
        Column("measure", "Counted"),
        Column("events_before", "Events before", number=True),
        Column("pieces_before", "of pieces", number=True),
        Column("events_after", "after", number=True),
        Column("pieces_after", "of pieces", number=True),
        Column("difference", "Difference, mix held equal", words.signed_share, number=True),
        Column("low", "9 in 10, from", words.signed_share, number=True),
        Column("high", "to", words.signed_share, number=True),
        Column("chance_lower", "Chance it is lower", words.at_most_sure, number=True),
        Column("trend_difference", "Beside the shop's trend", words.signed_share, number=True),
        Column("trend_low", "9 in 10, from", words.signed_share, number=True),
        Column("trend_high", "to", words.signed_share, number=True),
        Column("chance_lower_beside_trend", "Chance it is lower than that", words.at_most_sure, number=True),
    ]
    widgets.table(page, changes, columns, "changes", leads=_sides)


def _before_and_after(row: dict[str, Any]) -> str:
    """Both comparisons in a sentence: neither says what the change did."""
    span = f"{words.signed_share(row['low'])} to {words.signed_share(row['high'])}"
    beside = f"{words.signed_share(row['trend_low'])} to {words.signed_share(row['trend_high'])}"
    said = (
        f"{row['change']} ({words.day(row['day'])}): {row['events_before']} of {row['pieces_before']} pieces came back "
        f"before, {row['events_after']} of {row['pieces_after']} after; with the same mix that differs by "
        f"{words.signed_share(row['difference'])} (9 times in 10 {span}), beside the shop's own trend by "
        f"{words.signed_share(row['trend_difference'])} (9 times in 10 {beside})."
    )
    falling = " Rework seems to have been falling already before." if row["chance_falling"] >= FALLING else ""
    return f"{said}{falling}"


def _sides(row: dict[str, Any]) -> widgets.Lead:
    """The pieces of the twelve months before a change and the twelve after it."""
    month = row["day"].replace(day=1)
    before, after = month.replace(year=month.year - 1), month.replace(year=month.year + 1)
    return widgets.behind("between", before, after)
