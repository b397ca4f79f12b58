"""What keeps coming back to the bench, how sure is that, and what does it cost?"""

from typing import Any

import polars as pl

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.rework import forest
from dashboard.sections import rework_course, rework_details, rework_tries
from dashboard.sections.rework_details import BOTH, FACTORS
from dashboard.tables import where_enough
from dashboard.widgets import Column, Narrowed, Page

QUESTION = "What keeps coming back to the bench?"
MOST = {"rework": "comes back most", "scrap": "is scrapped most", "defect": "shows a defect most"}
MORE = {"rework": "come back more", "scrap": "be scrapped more", "defect": "show a defect more"}
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
            "Finished pieces, and looks at them that say what was found, begin it.",
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
        "The rates, what goes with more rework, and the course of the months are the whole shop's.",
    )
    first = _first(chosen, only.chosen.get(factor, widgets.ANY))
    widgets.answer(QUESTION, _sentence(chosen, first, by, kind, only), head)
    _figures(page, first, by, only)
    widgets.advice(rework_tries.tries(page))
    if chosen.height:
        if (chosen["pieces"] >= words.FEW).any():  # of fewer a picture would look firm
            _forest(page, chosen, first, page.book.shop_rate(kind), factor, by, kind)
        _groups(page, chosen, factor, by, kind)
        _behind(page, factor, chosen, only)
    rework_details.more_rework(page)
    rework_details.defects(page, only)
    rework_course.months(page, only)
    rework_course.pairs(page, rates.filter(pl.col("factor") == BOTH, pl.col("measure") == kind), kind, only)
    rework_course.changes(page)
    widgets.caution(
        "sanding rework makes dust of wood and of resin that may not have cured: extractor and mask, "
        "gloves for a tacky "
        "spot, and no torch near solvent or dust. Whether a resin can be sanded or recoated yet, its data sheet says."
    )


def _first(chosen: pl.DataFrame, own: str) -> dict[str, Any] | None:
    """The group that the page is narrowed to; else, of those that are likely worse than the shop, the one with the
    highest share as the picture sorts them: others held equal."""
    rows = chosen.filter(pl.col("level") == own)
    if not rows.height:
        rows = chosen.filter(pl.col("verdict").is_in(WORSE)).sort("adjusted", "level", descending=[True, False])
    return rows.row(0, named=True) if rows.height else None


def _sentence(chosen: pl.DataFrame, first: dict[str, Any] | None, by: str, kind: str, only: Narrowed) -> str:
    """One result, with its counts: how sure it is stands below the picture."""
    if first and first["level"] in only.chosen.values():
        return f"{first['level']}: {first['events']} of {words.count(first['pieces'], 'piece')} {MEASURES[kind]}."
    if first:
        counts = f"{first['events']} of {words.count(first['pieces'], 'piece')}"
        of = "" if first["level"] in ("yes", "no") else f", by {by}"
        said = f"{_group(first, by)} {MOST[kind]}{of}: {counts}."
    elif chosen.height and (chosen["verdict"] == "too few").all():
        said = f"by {by}, too few pieces are on record to say what comes back."
    else:
        said = f"by {by}, nothing is shown to {MORE[kind]} than the rest."
    if only.chosen:
        return f"In the whole shop, {said}"
    first_letter = 1 if said[0] == "“" else 0  # a practice stands in quotation marks
    return f"{said[:first_letter]}{said[first_letter].upper()}{said[first_letter + 1 :]}"


def _group(row: dict[str, Any], by: str) -> str:
    """A group in a sentence: a species by its name, a coat as `coat 2`, a practice as `“cold room”`."""
    level = str(row["level"])
    practice = {"yes": f"“{by}”", "no": f"not “{by}”"}
    return practice.get(level, f"{by} {level}" if level.isdigit() else level)


def _figures(page: Page, first: dict[str, Any] | None, by: str, only: Narrowed) -> None:
    entries: list[tuple[str, ...]] = []
    if total := page.book.rework_total():
        money, span = page.money.round, words.count(total["months"], "month")
        entries = [
            (
                "Came back for rework",
                _share(total),
                _counted(total),
                "rate",
            ),
            (
                "Hours on rework, a month",
                _monthly(f"{words.hours(total['rework_hours_per_month'])} h", total),
                f"{words.hours(total['rework_hours'])} h in {span}",
                "rework_hours_per_month",
            ),
            (
                "Rework costs, a month",
                _monthly(money(total["rework_per_month_cents"]), total),
                f"over {span}"
                if total["months"] < words.FEW_MONTHS
                else f"and scrap {money(total['scrap_per_month_cents'])}, over {span}",
                "rework_per_month_cents",
            ),
        ]
    if first:
        entries.append((_group(first, by), _share(first), _counted(first), "rate", "?rates"))
    if row := page.book.dearest_defect(only.tags_chosen(page)):
        of = f"{only.words}: " if only.chosen else ""
        entries.append(
            (
                "Dearest defect",
                row["defect"],
                f"{of}{page.money.round(row['cents'])} on {words.count(row['pieces'], 'piece')}",
                "defect",
                "?defects",
            )
        )
    widgets.figures(entries, page)


def _monthly(figure: str, total: dict[str, Any]) -> str:
    return words.firm(figure, total["months"], "too few months", words.FEW_MONTHS)


def _share(row: dict[str, Any]) -> str:
    return words.firm(words.share(row["rate"]), row["pieces"], "too few")


def _counted(row: dict[str, Any]) -> str:
    """What a share rests on, and where it likely lies; of few pieces the counts alone."""
    counts = f"{row['events']} of {words.count(row['pieces'], 'piece')}"
    if row["pieces"] < words.FEW:
        return counts
    return f"{counts}; {words.half_up(100 * row['low'])} to {words.share(row['high'])}, 19 times in 20"


def _how_sure(chosen: pl.DataFrame, first: dict[str, Any] | None, by: str) -> str:
    """How sure it is that the first group is worse, and what that leaves open; else how far luck alone goes."""
    if first:
        said = f"{_group(first, by)}: {VERDICTS[first['verdict']]}"
        if first["verdict"] in WORSE:
            sure = words.at_most_sure(first["chance_worse"])
            said = f"{_group(first, by)}: {sure} sure that it is worse, if nothing but wood, finish, product and time "
            said += "differs"
        span = f"{words.half_up(100 * first['adjusted_low'])} to {words.share(first['adjusted_high'])}"
        said += f"; with these held equal {words.share(first['adjusted'])} ({span}, 9 times in 10)"
        return f"{said[:1].upper()}{said[1:]}."
    if (chosen["pieces"] < words.FEW).all():
        return "Of none are there pieces enough to say how often it comes back."
    row = chosen.filter(pl.col("pieces") >= words.FEW).sort("rate", descending=True).row(0, named=True)
    counted = words.rate(row["events"], row["pieces"], row["rate"], row["low"], row["high"])
    return f"Highest as counted is {_group(row, by)}, {counted}{_luck(chosen)}."


def _luck(chosen: pl.DataFrame) -> str:
    """How often the highest of so many stands as high where all are alike; nothing where nobody asked."""
    luck = chosen["luck_share"].max()
    if luck is None:
        return ""
    shops = max(round(10 * float(luck)), 1)  # type: ignore[arg-type]
    return f"; of {chosen.height} that are all alike, one stands out as far by luck alone in {shops} shops of 10"


def _forest(
    page: Page,
    chosen: pl.DataFrame,
    first: dict[str, Any] | None,
    mean: float | None,
    factor: str,
    by: str,
    kind: str,
) -> None:
    worse = chosen.filter(pl.col("verdict").is_in(WORSE)).sort("adjusted", "level", descending=[True, False])
    title = f"Share that {MEASURES[kind]}, by {by}: "
    # no mark is named that may be the highest by luck
    title += f"highest {_group(worse.row(0, named=True), by)}" if worse.height else "none is shown to be worse"
    if chosen["pieces"].sum() < words.FEW:
        mean = None  # of so few the whole shop's share tells no more than theirs
    if mean is not None:
        title += f"; the dashed line is the whole shop, {words.share(mean)}"
    own = pl.col("level") == (first["level"] if first else "")
    shown = chosen.sort(own, "adjusted", descending=True, maintain_order=True).head(widgets.MOST_MARKS)
    if shown.height < chosen.height:
        title += f" (the {shown.height} highest of {chosen.height})"
    alt = f"{title}. " + "; ".join(
        f"{r['level']}: {words.rate(r['events'], r['pieces'], r['rate'], r['low'], r['high'])}"
        for r in shown.iter_rows(named=True)
    )
    chart = sent_chart(forest, shown, mean, title, page.look)
    widgets.picture(chart, alt, f"forest-{factor}-{kind}", "level", chooses="group")
    widgets.say(
        f"{_how_sure(chosen, first, by)} Beside each name: as counted; dot and band: others held equal, 9 times in 10.",
        quiet=True,
    )


def _groups(page: Page, chosen: pl.DataFrame, factor: str, by: str, kind: str) -> None:
    finding = page.book.finding_time()
    young = finding["young_pieces"] if finding else 0
    label = f"All by {by}, and how it is judged"
    if young:
        label += f"; {words.count(young, 'piece')} may still come back"
    box = widgets.folded(label, "rates")
    if not box:
        return
    columns = [
        Column("level", by.capitalize()),
        Column("pieces", "Pieces", number=True),
        Column("events", "Came back", number=True),
        Column("rate", "As counted", words.share.otherwise("too few"), number=True),
        Column("low", "19 in 20, from", words.share, number=True),
        Column("high", "to", words.share, number=True),
        Column("adjusted", "Others equal", words.share, number=True),
        Column("adjusted_low", "9 in 10, from", words.share, number=True),
        Column("adjusted_high", "to", words.share, number=True),
        Column("chance_worse", "Chance it is worse", words.at_most_sure, number=True),
        Column("cents_per_piece", "Cost a piece", page.money, number=True),
        Column("verdict", "What one can say", lambda verdict: VERDICTS.get(verdict, str(verdict))),
    ]
    with box:
        told = where_enough(chosen, "pieces", ("rate", "low", "high"))
        widgets.table(page, told, columns, f"rates-{factor}-{kind}", shown=12, leads=rework_details.judged_of)
        widgets.say(
            "Where the true rate likely lies: 19 times in 20 for a rate as counted, 9 in 10 "
            "with the others held equal. “Others held equal” is what the rate would be if the group’s pieces had the "
            "same woods, finishes, products and times as the whole shop’s, drawn towards the shop’s rate where pieces "
            "are few. Pieces of one lot or run that fail together count as fewer. A group that isn’t shown to be worse "
            "isn’t shown to be fine either.",
            quiet=True,
        )
        _young(page)
        if last := page.book.rework_months()["month"].max():
            day = widgets.last_day(last)  # type: ignore[arg-type]
            settings_in_force.show(page, day, "flags", "scrap", "circle", "mending")


def _behind(page: Page, factor: str, chosen: pl.DataFrame, only: Narrowed) -> None:
    """The pieces of a group and what inspections found on them: a click on its mark, or its name."""
    if box := widgets.folded("The pieces of a group, and what inspections found on them", "group-pieces", "group"):
        with box:
            # what the page is narrowed to is what somebody wants to see opened
            first = only.chosen.get(factor)
            group = widgets.choose(
                "The pieces behind it (or click its mark)", "group", chosen["level"].to_list(), first
            )
            rework_details.pieces(page, only.of_pieces(page, page.book.judged(factor, group)), f"{factor}-{group}")


def _young(page: Page) -> None:
    """How many pieces are too young to be judged."""
    found = page.book.finding_time()
    if not found or not found["young_pieces"]:
        return
    pieces, days = words.count(found["young_pieces"], "piece"), words.count(found["finding_days"], "day")
    widgets.say(
        f"{pieces} finished in the last {days} of the records may still come back, since three in four findings come "
        "within so long: counted in no rate, and marked below.",
        quiet=True,
    )
