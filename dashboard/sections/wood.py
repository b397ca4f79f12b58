"""The wood: how much of each lot became finished work, and what a finished board foot cost."""

from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.materials import wood_costs, yields
from dashboard.widgets import Column, Narrowed, Page

FACTORS = {"species": "species", "supplier": "supplier", "form": "form", "size of the purchase": "size"}


def show(page: Page, wood: pl.DataFrame, shown: str, only: Narrowed) -> None:
    """Yield, or money for finished wood, by group; then lot by lot."""
    widgets.part("The wood")
    by = widgets.choose("By", "wood", list(FACTORS))
    groups = wood.filter(pl.col("factor") == FACTORS[by])
    if not groups.height:
        widgets.say("No lot of wood says this.", quiet=True)
        return
    if shown == "money":
        _costs(page, groups, by)
    else:
        _yields(page, groups, by)
    _groups(page, groups, by)
    widgets.say(
        "Yield is how much of the wood is in finished pieces: their volume over that of the lots from which something "
        "was cut. The rest is kerf, dust, offcut, or still there. Of lots that are used up, the last share is what "
        "became of all that is gone.",
        quiet=True,
    )
    lots = widgets.rows_chosen(page.book.wood_lots(), species=only.species)
    if box := widgets.folded(f"Lot by lot: {words.count(lots.height, 'wooden lot')}", "lots"):
        with box:
            _lots(page, lots)


def _yields(page: Page, groups: pl.DataFrame, by: str) -> None:
    worst, best = groups.row(0, named=True), groups.row(-1, named=True)
    low, high = (f"{words.share(one['yield_share'])} ({one['level']})" for one in (worst, best))
    title = f"Yield by {by}: {low}" if groups.height == 1 else f"Yield by {by}: from {low} to {high}"
    alt = f"{title}. The table below holds the same."
    widgets.picture(sent_chart(yields, groups, title, page.look), alt, f"yields-{by}", "level", opens=_marks(groups))
    widgets.say("A dot is the yield of all lots of a group together; half of its lots lie within the bar.", quiet=True)


def _costs(page: Page, groups: pl.DataFrame, by: str) -> None:
    per = page.units.per_wood
    known = groups.filter(pl.col("cents_per_finished_dm3").is_not_null()).sort(
        "cents_per_finished_dm3", descending=True
    )
    if not known.height:
        return
    top = known.row(0, named=True)
    cost = page.money.round(top["cents_per_finished_dm3"] * per.factor)
    title = f"What wood costs once it is finished work, by {by}: dearest {top['level']}, {cost} a {per.name}"
    unit = f"{page.money.currency} a finished {per.name}"
    chart = sent_chart(wood_costs, known, title, unit, page.scale * per.factor, page.look)
    alt = f"{title}. The table below holds the same."
    widgets.picture(chart, alt, f"wood-costs-{by}", "level", opens=_marks(known))


def _group(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("wood", row["factor"], row["level"])


def _marks(groups: pl.DataFrame) -> dict[str, widgets.Lead]:
    return {row["level"]: _group(row) for row in groups.iter_rows(named=True)}


def _groups(page: Page, groups: pl.DataFrame, by: str) -> None:
    unit, per = page.units.wood, page.units.per_wood
    columns = [
        Column("level", by.capitalize()),
        Column("lots", "Cut lots", number=True),
        Column("pieces", "Pieces", number=True),
        Column("yield_share", "Yield", words.share, number=True),
        Column("low_share", "Half of the lots from", words.share, number=True),
        Column("high_share", "to", words.share, number=True),
        Column("bought_dm3", "Bought", unit, number=True),
        Column("finished_dm3", "Finished", unit, number=True),
        Column("kerf_dm3", "Kerf", unit, number=True),
        Column("offcut_dm3", "Offcut", unit, number=True),
        Column("scrapped_dm3", "Scrapped", unit, number=True),
        Column("on_hand_dm3", "Left", unit, number=True),
        Column("gone_yield_share", "Of what is gone", words.share, number=True),
        Column(
            "cents_per_finished_dm3",
            f"Cost a finished {per.name}",
            page.money.per(per.factor),
            number=True,
        ),
    ]
    widgets.table(page, groups, columns, f"yield-by-{by.replace(' ', '-')}", leads=_group)


def _lots(page: Page, lots: pl.DataFrame) -> None:
    unit, per = page.units.wood, page.units.per_wood
    columns = [
        Column("lot", "Lot"),
        Column("species", "Species"),
        Column("supplier", "Supplier"),
        Column("form", "Form"),
        Column("bought_on", "Bought", words.day),
        Column("pieces", "Pieces", number=True),
        Column("bought_dm3", "Volume", unit, number=True),
        Column("finished_dm3", "Finished", unit, number=True),
        Column("kerf_dm3", "Kerf", unit, number=True),
        Column("offcut_dm3", "Offcut", unit, number=True),
        Column("on_hand_dm3", "Left", unit, number=True),
        Column("yield_share", "Yield", words.share, number=True),
        Column("board_feet", "Board feet", words.decimal(1), number=True),
        Column("landed_cents", "Cost", page.money, number=True),
        Column(
            "cents_per_finished_dm3",
            f"Cost a finished {per.name}",
            page.money.per(per.factor),
            number=True,
        ),
    ]
    widgets.table(page, lots, columns, "wood-lots", 15, leads=lambda row: widgets.behind("lot", row["lot_id"]))
