"""The wood: how much of each lot became finished work, and what a finished board foot cost."""

from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.materials import wood_costs, yields
from dashboard.tables import where_enough
from dashboard.widgets import Column, Narrowed, Page

FACTORS = {"species": "species", "supplier": "supplier", "form": "form", "size of the purchase": "size"}


def show(page: Page, wood: pl.DataFrame, shown: str, only: Narrowed, question: str, head: Any) -> None:
    """Yield, or money for finished wood, by group; then lot by lot."""
    if only.species != widgets.ANY:
        widgets.narrowed(only, "the wood lot by lot", "The yields of the wood are the whole shop's.")
    every = wood.filter(pl.col("factor") == "all").row(0, named=True)
    widgets.answer(question, _sentence(every), head)
    _figures(page, every)
    widgets.advice(_advice(page, every))
    by = widgets.choose("By", "wood", list(FACTORS))
    groups = wood.filter(pl.col("factor") == FACTORS[by])
    if not groups.height:
        widgets.say("No lot of wood says this.", quiet=True)
        return
    if shown == "money":
        _costs(page, groups, by)
    else:
        _yields(page, groups, by)
    if box := widgets.folded(f"All by {by}, with what became of the rest", "wood-groups"):
        with box:
            _groups(page, groups, by)
    lots = widgets.rows_chosen(page.book.wood_lots(), species=only.species)
    if box := widgets.folded(f"Lot by lot: {words.count(lots.height, 'wooden lot')}", "lots"):
        with box:
            _lots(page, lots)


def _sentence(every: dict[str, Any]) -> str:
    if every["gone_yield_share"] is None:
        return "No wood is used up yet: what becomes of it can't be said."
    if every["pieces"] < words.FEW:
        return f"So far, {words.count(every['pieces'], 'piece')} of cut wood: too few to say how much becomes work."
    return f"So far, {words.share(every['gone_yield_share'])} of the wood that is gone became finished work."


def _figures(page: Page, every: dict[str, Any]) -> None:
    wood, per = page.units.wood, page.units.per_wood
    spread = f"of {wood(every['gone_dm3'])} gone"
    if every["gone_low_share"] is not None:
        low = words.half_up(100 * every["gone_low_share"])
        spread += f"; {low} to {words.share(every['gone_high_share'])}, 19 times in 20"
    widgets.figures(
        [
            (
                "Became finished work",
                words.firm(words.share.otherwise("none gone")(every["gone_yield_share"]), every["pieces"], "too few"),
                spread,
                "gone_yield_share",
                "?wood-groups",
            ),
            (
                "Uncut or offcut, still there",
                wood(every["on_hand_dm3"]),
                f"of {wood(every['bought_dm3'])} in {words.count(every['lots'], 'cut lot')}",
                "on_hand_dm3",
                "?lots",
            ),
            ("Finished", wood(every["finished_dm3"]), words.count(every["pieces"], "piece"), "finished_dm3"),
            (
                "Offcut",
                wood(every["offcut_dm3"]),
                f"and kerf {wood(every['kerf_dm3'])}",
                "offcut_dm3",
            ),
            (
                f"A finished {per.name} costs",
                _firm_cost(page, every),
                f"all {page.money.round(every['gone_cents'])} of what is gone, uncut wood apart",
                "cents_per_finished_dm3",
            ),
        ],
        page,
    )


def _firm_cost(page: Page, group: dict[str, Any]) -> str:
    """What finished wood cost, or that too few pieces tell it."""
    per = page.units.per_wood
    return words.firm(page.money.per(per.factor)(group["cents_per_finished_dm3"]), group["pieces"], "too few")


def _enough(groups: pl.DataFrame) -> pl.DataFrame:
    """Groups or lots, those of few pieces without their shares and costs: these can't be said yet."""
    return where_enough(groups, "pieces", [name for name in SHARES if name in groups.columns])


SHARES = (
    "gone_yield_share", "gone_low_share", "gone_high_share", "yield_share", "low_share", "high_share",
    "cents_per_finished_dm3",
)  # fmt: skip
"""Figures of wood that take several pieces to be told."""


TIPS = {
    "offcut_dm3": ("offcut", "keep it by size for small pieces, or buy nearer to the size that you cut"),
    "shaped_dm3": ("shavings and dust", "buy nearer to the thickness, and saw before you plane"),
    "scrapped_dm3": ("scrapped blanks", "see on the Rework page what they were scrapped for"),
    "lost_dm3": ("wood lost without a record", "log what offcuts and test pieces were used for"),
    "kerf_dm3": ("kerf", "cut blanks side by side, with a thinner blade where it is safe"),
}
"""Where wood goes and what one can do about it (common practice, no source)."""


def _advice(page: Page, every: dict[str, Any]) -> list[str]:
    worst = max(TIPS, key=lambda name: every[name] or 0)
    if not every[worst] or every["pieces"] < words.FEW:
        return []
    name, tip = TIPS[worst]
    return [f"Most that didn't become work is {name}, {page.units.wood(every[worst])}: {tip}."]


def _most(groups: pl.DataFrame) -> tuple[pl.DataFrame, str]:
    """The groups with most wood, and how the title says that they aren't all."""
    if groups.height <= widgets.MOST_MARKS:
        return groups, ""
    most = groups.sort("bought_dm3", descending=True, maintain_order=True).head(widgets.MOST_MARKS)
    return most, f" (the {widgets.MOST_MARKS} with most wood of {groups.height})"


def _yields(page: Page, groups: pl.DataFrame, by: str) -> None:
    known = _enough(groups).filter(pl.col("gone_yield_share").is_not_null()).sort("gone_yield_share", "level")
    if not known.height:
        widgets.say(f"Of no {by} are there pieces enough to say its yield.", quiet=True)
        return
    shown, of = _most(known)
    shown = shown.sort("gone_yield_share", "level")
    worst, best = shown.row(0, named=True), shown.row(-1, named=True)
    low, high = (f"{words.share(one['gone_yield_share'])} ({one['level']})" for one in (worst, best))
    title = f"Yield by {by}: {low}" if shown.height == 1 else f"Yield by {by}: from {low} to {high}"
    alt = f"{title}{of}. The table below holds the same."
    chart = sent_chart(yields, shown, f"{title}{of}", page.look)
    widgets.picture(chart, alt, f"yields-{by}", "level", opens=_marks(shown))
    widgets.say(
        "Yield is finished volume over what is gone, so what is still uncut counts nowhere. The bar is where it lies "
        "19 times in 20; of one lot alone there is none.",
        quiet=True,
    )


def _costs(page: Page, groups: pl.DataFrame, by: str) -> None:
    per = page.units.per_wood
    known = _enough(groups).filter(pl.col("cents_per_finished_dm3").is_not_null())
    if not known.height:
        return
    shown, of = _most(known)
    shown = shown.sort("cents_per_finished_dm3", descending=True)
    top = shown.row(0, named=True)
    cost = page.money.round(top["cents_per_finished_dm3"] * per.factor)
    title = f"What wood costs once it is finished work, by {by}: dearest {top['level']}, {cost} a {per.name}{of}"
    unit = f"{page.money.currency} a finished {per.name}"
    chart = sent_chart(wood_costs, shown, title, unit, page.scale * per.factor, page.look)
    alt = f"{title}. The table below holds the same."
    widgets.picture(chart, alt, f"wood-costs-{by}", "level", opens=_marks(shown))


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
        Column("gone_yield_share", "Of what is gone", words.share.otherwise("too few"), number=True),
        Column("gone_low_share", "19 in 20, from", words.share, number=True),
        Column("gone_high_share", "to", words.share, number=True),
        Column("yield_share", "Of all bought", words.share, number=True),
        Column("low_share", "Half of the lots from", words.share, number=True),
        Column("high_share", "to", words.share, number=True),
        Column("bought_dm3", "Bought", unit, number=True),
        Column("finished_dm3", "Finished", unit, number=True),
        Column("shaped_dm3", "Shavings and dust", unit, number=True),
        Column("kerf_dm3", "Kerf", unit, number=True),
        Column("offcut_dm3", "Offcut", unit, number=True),
        Column("scrapped_dm3", "Scrapped", unit, number=True),
        Column("lost_dm3", "Lost", unit, number=True),
        Column("in_work_dm3", "In work", unit, number=True),
        Column("on_hand_dm3", "Still there", unit, number=True),
        Column(
            "cents_per_finished_dm3",
            f"Cost a finished {per.name}",
            page.money.per(per.factor),
            number=True,
        ),
    ]
    widgets.table(page, _enough(groups), columns, f"yield-by-{by.replace(' ', '-')}", leads=_group)


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
        Column("on_hand_dm3", "Still there", unit, number=True),
        Column("gone_yield_share", "Of what is gone", words.share, number=True),
        Column("board_feet", "Board feet", words.decimal(1), number=True),
        Column("landed_cents", "Cost", page.money, number=True),
        Column(
            "cents_per_finished_dm3",
            f"Cost a finished {per.name}",
            page.money.per(per.factor),
            number=True,
        ),
    ]
    # of one that is not used up nobody knows yet what will be offcut
    open_ = ~pl.col("lot_closed")
    lots = lots.with_columns(pl.when(open_).then(None).otherwise("offcut_dm3").alias("offcut_dm3"))
    widgets.table(page, lots, columns, "wood-lots", 15, leads=lambda row: widgets.behind("lot", row["lot_id"]))
