"""The pieces and inspections behind a mark of the Rework page, and what goes with more rework."""

from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.rework import pareto, savings
from dashboard.widgets import ANY, Column, Narrowed, Page
from pipeline.pages import actions

BOTH = "species × finish"

FACTORS = {
    "species": "species", "finish": "finish", "product": "product", "coat": "coat", "supplier": "supplier of the wood",
    "pore_structure": "pore structure", **actions.PRACTICES, BOTH: "species and finish",
}  # fmt: skip

SAVINGS_SHOWN = 8

LOOKS = (
    Column("on_date", "Day", words.day),
    Column("piece", "Piece", opens="pieces?piece"),
    Column("product", "Product"),
    Column("species", "Species"),
    Column("finish", "Finish"),
    Column("defect", "Defect"),
    Column("action", "Decided"),
    Column("found_at", "Found at"),
    Column("cause_said", "Cause", long=True),
    Column("place", "Where it stands", long=True),
)


def pieces(page: Page, judged: pl.DataFrame, name: str) -> None:
    """Judged pieces, those that came back first, and what inspections found on them."""
    columns = [
        Column("piece", "Piece", opens="pieces?piece"),
        Column("product", "Product"),
        Column("species", "Species"),
        Column("finish", "Finish"),
        Column("month", "Done", lambda day: words.DASH if day is None else f"{day:%Y-%m}"),
        Column("reworked", "Came back"),
        Column("scrapped", "Scrapped"),
        Column("young", "May still come back"),
        Column("rework_cents", "Rework", page.money, number=True),
        Column("scrap_cents", "Scrap", page.money, number=True),
    ]
    widgets.table(page, judged, columns, f"pieces-of-{name}", shown=6)
    found = page.book.inspections().filter(pl.col("piece").is_in(judged["piece"].implode()))
    if box := widgets.folded(f"What inspections found on them: {words.count(found.height, 'defect')}", f"looks-{name}"):
        with box:
            widgets.table(page, found, LOOKS, f"inspections-of-{name}", shown=20, leads=_look)


def month(page: Page, only: Narrowed) -> None:
    """The pieces of a month that is chosen, by a click on its point or in the address."""
    chosen = widgets.choose_any_month(page, "The pieces of a month (or click its point)", page.book.rework_months())
    if chosen:
        judged = page.book.judged("shop", "all").filter(pl.col("month") == chosen)
        pieces(page, only.of_pieces(page, judged), f"{chosen:%Y-%m}")


def group_name(row: dict[str, Any]) -> str:
    """The group that is compared with the rest, as itself."""
    return FACTORS.get(row["factor"], row["factor"]) if row["level"] == "yes" else str(row["level"])


def judged_of(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("judged", row["factor"], row["level"])


def _look(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("row", row["row_id"])


def beyond(page: Page, row: dict[str, Any]) -> str:
    """A group's rework beyond that of comparable pieces, with its interval."""
    money = page.money.round
    span = f"{money(row['low'])} to {money(row['high'])}, 9 in 10"
    return f"{money(row['cents_per_month'])} more rework a month than alike pieces ({span})"


def earned(page: Page, row: dict[str, Any]) -> str:
    """What a group's sold pieces left after their rework: for an hour where that is known, else in a month."""
    if not row["units"]:
        return "none of them is sold yet"
    if row["contribution_per_hour_cents"] is not None:
        return f"sold, they leave {page.money(row['contribution_per_hour_cents'])} an hour for pay and rent"
    return f"sold, they leave {page.money.round(row['margin_per_month_cents'])} a month after all cost"


def more_rework(page: Page) -> None:
    """The rework of groups and practices beyond that of comparable pieces, with its interval and what they earn."""
    rows = page.book.savings()
    if not rows.height:
        return
    clear, looked_at = rows.filter("clear"), rows["factor"].n_unique()
    shown = words.count(clear.height, "group or practice", "groups and practices")
    label = f"What goes with more rework, and earns: {shown if clear.height else 'nothing is shown'}"
    if box := widgets.folded(label, "more-rework"):
        with box:
            if clear.height:
                _beyond(page, _named(clear), looked_at)
            else:
                widgets.say(
                    "Of no group or practice is it shown that more rework goes with it: what is there may be luck.",
                    quiet=True,
                )
            _compared(page, _named(rows))


def _named(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.with_columns(
        pl.Series("name", [group_name(row) for row in rows.iter_rows(named=True)], pl.String),
        # what isn't clear of zero and of luck is no figure to go by
        pl.when("clear").then("cents_per_month").alias("shown_cents"),
    )


def _compared(page: Page, named: pl.DataFrame) -> None:
    columns = [
        Column("name", "What"),
        Column("shown_cents", "More rework a month", page.money.exact.otherwise("not shown"), number=True),
        Column("low", "9 in 10, from", page.money, number=True),
        Column("high", "to", page.money, number=True),
        Column("chance_positive", "Chance of more", words.at_most_sure, number=True),
        Column("units", "Units sold", number=True),
        Column("margin_per_month_cents", "They left a month", page.money, number=True),
        Column("contribution_per_hour_cents", "For an hour", page.money, number=True),
        Column("months", "Months of records", number=True),
    ]
    widgets.table(page, named, columns, "savings", shown=12, leads=judged_of)


def _beyond(page: Page, named: pl.DataFrame, looked_at: int) -> None:
    """Those of which it is shown that more rework goes with them than with pieces that are alike in all else, of so
    many things that were looked at."""
    top = named.row(0, named=True)
    title = f"Most goes with {group_name(top)}: {beyond(page, top)}; {earned(page, top)}"
    unit = f"{page.money.currency} a month"
    shown = named.head(SAVINGS_SHOWN).select("name", "cents_per_month", "low", "high")
    widgets.picture(
        sent_chart(savings, shown, title, unit, page.scale, page.look),
        f"{title}. The table below holds the same, and leads to the same pieces.",
        "savings",
        "name",
        opens={row["name"]: judged_of(row) for row in named.iter_rows(named=True)},
    )
    widgets.say(
        "The line through a dot shows where it likely lies, 9 times in 10. Only what is clear of zero, and of luck "
        f"among all {words.count(looked_at, 'thing')} that were looked at, is drawn. "
        "It would be saved only if the group is to blame, and nothing that goes along with it. What they leave for "
        "an hour is before own pay, rent and machines, what they leave a month after all that.",
        quiet=True,
    )


def defects(page: Page, only: Narrowed) -> None:
    """Which defects cost most, over the pieces that fit, and the inspections behind one."""
    top = page.book.dearest_defect(only.tags_chosen(page))
    of = f" ({only.words})" if only.chosen else ""
    if not top:
        widgets.say(f"No inspection has found a defect here{of}.", quiet=True)
        return
    title = (
        f"{top['defect'][:1].upper()}{top['defect'][1:]} costs most{of}: {page.money.round(top['cents'])} on "
        f"{words.count(top['pieces'], 'piece')}"
    )
    if box := widgets.folded(f"Which defects cost most. {title}", "defects", "defect"):
        with box:
            _defects(page, only, title)


def _defects(page: Page, only: Narrowed, title: str) -> None:
    found = page.book.defects(only.tags_chosen(page))
    room = widgets.head()
    shown, opens = widgets.small_ones(found, "defect", "cents", "pareto")
    opens |= {defect: ("?defect", defect) for defect in found["defect"]}
    chart = sent_chart(pareto, shown, title, page.money.currency, page.scale, page.look)
    with room:
        widgets.picture(chart, f"{title}. The table below holds the same.", "pareto", "defect", opens=opens)
    columns = [
        Column("defect", "Defect"),
        Column("action", "Decided"),
        Column("found", "Times found", number=True),
        Column("pieces", "Pieces", number=True),
        Column("cents", "Cost", page.money, number=True),
    ]
    widgets.table(page, found, columns, "defects", shown=8, leads=lambda row: ("?defect", row["defect"]))
    names = [ANY, *dict.fromkeys(found["defect"].to_list())]
    name = widgets.choose("The inspections behind a defect (or click its bar)", "defect", names)
    if name != ANY:
        looks = only.of_pieces(page, widgets.rows_chosen(page.book.inspections(), defect=name))
        widgets.table(page, looks, LOOKS, "inspections", shown=8, leads=_look)
    if box := widgets.folded("Which operation finds them, and what was written down as the cause", "found-at"):
        with box:
            columns = [
                Column("found_at", "Found at"),
                Column("cause_said", "Cause", long=True),
                Column("defect", "Defect"),
                Column("found", "Times found", number=True),
                Column("pieces", "Pieces", number=True),
                Column("cents", "Cost", page.money, number=True),
            ]
            widgets.table(
                page,
                page.book.found_at(only.tags_chosen(page)),
                columns,
                "found-at",
                shown=25,
                leads=lambda row: widgets.behind("found", row["defect"], row["found_at"], row["cause_said"]),
            )
