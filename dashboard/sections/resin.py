"""The resin in detail: waste by month, what pours should have taken, the worst pours, lots, and what agrees."""

import re
from dataclasses import dataclass
from typing import Any

import polars as pl

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.materials import CAUSES, over_mixed, waste_by_month
from dashboard.widgets import ANY, Column, Narrowed, Page

ALL_RESINS = "all resins"


@dataclass(frozen=True)
class Measure:
    """What a picture counts in: grams or money; `suffix` is how the columns of that measure end."""

    suffix: str
    name: str
    factor: float
    digits: int
    page: Page

    def __call__(self, amount: float | None) -> str:
        return self.page.money.round(amount) if self.suffix == "_cents" else self.page.units.grams(amount)


def measure(page: Page, shown: str) -> Measure:
    """The measure for `quantity` or `money`."""
    if shown == "money":
        return Measure("_cents", page.money.currency, page.scale, 0, page)
    heavy = page.units.heavy
    return Measure("_g", heavy.name, heavy.factor, heavy.digits, page)


def show(page: Page, resin: dict[str, Any], when: str, by: Measure, only: Narrowed) -> None:
    """All of it, for the resin and span chosen."""
    _waste(page, resin, when, by)
    _needs(page, resin, by)
    _pours(page, resin, only)
    _hints(page, resin)
    _lots(page, resin, by)
    _agrees(page, resin)


def _waste(page: Page, resin: dict[str, Any], when: str, by: Measure) -> None:
    months = page.book.resin_spans().filter(
        pl.col("span") == "month", pl.col("item") == resin["item"], pl.col("month") <= resin["month"]
    )
    wasted = resin["wasted_g" if by.suffix == "_g" else "not_in_pieces_cents"]
    said = f"{by(wasted)} in {when}" if wasted or resin["poured_g"] else f"nothing was poured in {when}"
    title = f"What was wasted, month by month: {said}"
    if box := widgets.folded(title, "balance"):
        with box:
            _balance(page, months, title, by)
    _weighed(page, resin)


def _balance(page: Page, months: pl.DataFrame, title: str, by: Measure) -> None:
    columns = {f"{cause}{by.suffix}": name for cause, name in CAUSES.items()}
    chart = sent_chart(waste_by_month, months.tail(12), columns, title, by.name, by.factor, page.look)
    alt = f"{title}. Stacked bars by cause; the table below holds the same. A click on a bar chooses its month."
    widgets.picture(chart, alt, "waste-months", "name", chooses="month")
    weight = page.units.weight
    write = page.money if by.suffix == "_cents" else None
    columns_shown = [
        Column("month", "Month", lambda day: f"{day:%Y-%m}"),
        *(
            Column(f"{name}{by.suffix}", heading, write or words.Unit("", weight.factor, weight.digits), number=True)
            for name, heading in _BALANCE.items()
        ),
    ]
    if not write:
        widgets.say(f"In {weight.name}.", quiet=True)
    widgets.table(
        page,
        months.reverse(),
        columns_shown,
        "resin-balance",
        leads=lambda row: widgets.behind(
            "resin", row["item"], "all", row["month"], widgets.last_day(row["month"]), f"{row['month']:%B %Y}"
        ),
    )


def _weighed(page: Page, resin: dict[str, Any]) -> None:
    waste = page.book.waste().filter(pl.col("cause") == "all", pl.col("purpose") != "all")
    waste = waste if resin["item"] == ALL_RESINS else waste.filter(pl.col("resin") == resin["item"])
    if not waste.height:
        return
    if box := widgets.folded("Waste by what was poured, with its span where not every pour was weighed", "weighed"):
        with box:
            heavy = page.units.heavy
            columns = [
                Column("resin", "Resin"),
                Column("purpose", "For"),
                Column("pours", "Pours", number=True),
                Column("weighed_pours", "weighed", number=True),
                Column("waste_g", "Waste", heavy, number=True),
                Column("waste_low_g", "19 in 20, from", heavy, number=True),
                Column("waste_high_g", "to", heavy, number=True),
                Column("waste_share", "Of what was mixed", words.share, number=True),
            ]
            widgets.table(page, waste, columns, "waste-by-purpose", shown=20, leads=_alike)


_BALANCE = {
    "opening": "Before", "bought": "Bought", "poured": "Poured", "good": "In pieces", "trimmed": "Trimmed",
    "cup": "In cups", "spilled": "Spilled", "pour_unexplained": "Not explained", "shortage": "Short",
    "on_hand": "On the shelf",
}  # fmt: skip


def _alike(row: dict[str, Any]) -> widgets.Lead:
    """The pours of the resin, purpose and size of a row."""
    return widgets.behind("pours", row.get("resin", "all"), row["purpose"], row.get("need_size", "all"))


def _size(size: str, weight: words.Unit) -> str:
    """A class of pours by what they need, `50 to 250 g`, in the unit chosen."""
    if weight.name == "g":
        return size
    return re.sub(r"\d+", lambda grams: weight(float(grams[0])).split()[0], size).replace(" g", f" {weight.name}")


def _needs(page: Page, resin: dict[str, Any], by: Measure) -> None:
    groups = page.book.pour_groups()
    every = groups.filter(pl.col("purpose") == "all", pl.col("need_size") == "all")
    own = groups.filter(pl.col("purpose") != "all", pl.col("need_size") == "all", pl.col("pours") > 0)
    if not own.height or not every.height:
        return
    row = every.row(0, named=True)
    if row["pours"] < words.FEW:
        title = f"{words.count(row['pours'], 'pour')}: too few to say how much more was mixed than was needed"
    else:
        less = row["over_share"] < 0
        title = (
            f"So far {words.share(abs(row['over_share']))} {'less' if less else 'more'} was mixed than the size of the "
            f"pieces needs: {by(abs(row[f'over{by.suffix}']))} over {words.count(row['pours'], 'pour')}"
        )
    if box := widgets.folded(f"What a pour should have taken. {title}", "need-groups"):
        with box:
            _over_mixed(page, groups, own, title, by)


def _over_mixed(page: Page, groups: pl.DataFrame, own: pl.DataFrame, title: str, by: Measure) -> None:
    over = f"over{by.suffix}"
    opens = {row["purpose"]: _alike(row) for row in own.iter_rows(named=True)}
    room = widgets.head()
    shown, small = widgets.small_ones(own.select("purpose", "pours", over), "purpose", over, "over-mixed")
    chart = sent_chart(over_mixed, shown, over, title, by.name, by.factor, page.look)
    with room:
        alt = f"{title}. Bars by purpose; the table below holds the same."
        widgets.picture(chart, alt, "over-mixed", "purpose", opens=opens | small)
    columns = [
        Column("purpose", "For"),
        Column("need_size", "Needing", lambda size: _size(size, page.units.weight)),
        Column("pours", "Pours", number=True),
        Column("need_g", "Needed", page.units.heavy, number=True),
        Column("mixed_g", "Mixed", page.units.heavy, number=True),
        Column("over_g", "More than needed", page.units.heavy, number=True),
        Column("over_share", "which is", words.share, number=True),
        Column("over_cents", "Cost of it", page.money.round, number=True),
        Column("pours_over", "Pours beyond the allowance", number=True),
    ]
    known = groups.filter(pl.col("purpose") != "all")
    widgets.table(page, known, columns, "mixed-and-needed", shown=25, leads=_alike)


def _pours(page: Page, resin: dict[str, Any], only: Narrowed) -> None:
    needs = page.book.pour_needs().select("pour", "product", "need_g", "suggested_g", "over_cents")
    pours = page.book.pours().filter(
        pl.col("on_date").dt.truncate("1mo").is_between(resin["from_month"], resin["month"])
        & ((pl.col("resin") == resin["item"]) | (resin["item"] == ALL_RESINS))
    )
    pours = pours.join(needs, on="pour", how="left", maintain_order="left")
    if only.chosen:
        pours = pours.join(page.book.poured_pieces(), on="pour")
        pours = only.of_pieces(page, pours).unique("pour", keep="first", maintain_order=True).drop("piece")
    label = "The pours that wasted most: none in this span"
    if pours.height:
        first = pours.row(0, named=True)
        label = f"The pours that wasted most: {first['pour']}, {page.money(first['waste_cents'])}"
    if box := widgets.folded(label, "worst-pours", "pour"):
        with box:
            _worst(page, resin, pours)


def _worst(page: Page, resin: dict[str, Any], pours: pl.DataFrame) -> None:
    weight = page.units.weight
    columns = [
        Column("pour", "Pour", opens="?pour"),
        Column("on_date", "Day", words.day),
        Column("purpose", "For"),
        Column("product", "On a"),
        Column("need_g", "Needed", weight, number=True),
        Column("mixed_g", "Mixed", weight, number=True),
        Column("good_g", "In pieces", weight, number=True),
        Column("left_in_cup_g", "In cups", weight, number=True),
        Column("spilled_g", "Spilled", weight, number=True),
        Column("trimmed_g", "Trimmed", weight, number=True),
        Column("good_share", "Good", words.share, number=True),
        Column("waste_cents", "Wasted", page.money, number=True),
        Column("off_ratio", "Off its ratio"),
    ]
    widgets.table(page, pours, columns, "pours", shown=8)
    settings_in_force.show(page, widgets.last_day(resin["month"]), "flags")
    every = page.book.pours()
    tag = widgets.choose("Open a pour (its tag)", "pour", [ANY, *every["pour"].to_list()])
    if tag != ANY:
        row_id = every.filter(pl.col("pour") == tag)["row_id"][0]
        widgets.records(page, page.book.record_trace(row_id), f"pour {tag}")


def _hints(page: Page, resin: dict[str, Any]) -> None:
    hints = page.book.mix_hints()
    hints = hints if resin["item"] == ALL_RESINS else hints.filter(pl.col("resin") == resin["item"])
    if not hints.height:
        return
    top = hints.row(0, named=True)
    weight = page.units.weight
    metric = weight.name == "g"
    area, factor = ("dm²", 1.0) if metric else ("ft²", 9.290304)
    thick, thickness = ("mm", words.decimal(2)) if metric else ("in", words.Unit("", 1 / 25.4, 3))
    label = (
        f"How much to mix next time: {weight((top['mix_g_per_dm2'] or 0) * factor)} a {area} for {top['purpose']} "
        f"with {top['resin']}"
    )
    if box := widgets.folded(label, "mix-hint"):
        with box:
            widgets.say(
                "What the piece needs and what your own pours usually leave in cup and trimmings; the safe mix is "
                "enough nine times in ten. Parts are of the whole mix, and the data sheet decides on its ratio.",
                quiet=True,
            )
            columns = [
                Column("resin", "Resin"),
                Column("purpose", "For"),
                Column("pours", "Pours", number=True),
                Column("thickness_mm", f"Thickness, {thick}", thickness, number=True),
                Column("mix_g_per_dm2", f"Mix a {area}", weight.per(factor), number=True),
                Column("safe_mix_g_per_dm2", "to be safe", weight.per(factor), number=True),
                Column("loss_share", "Stays behind", words.share, number=True),
                Column("part_a_weight_share", "Part A by weight", words.share, number=True),
                Column("part_a_volume_share", "by volume", words.share, number=True),
            ]
            widgets.table(page, hints, columns, "mix-hint", leads=_alike)


def _lots(page: Page, resin: dict[str, Any], by: Measure) -> None:
    lots = page.book.resin_lots()
    lots = lots if resin["item"] == ALL_RESINS else lots.filter(pl.col("item") == resin["item"])
    if not lots.height:
        return
    if box := widgets.folded(f"Lot by lot: what became of {words.count(lots.height, 'lot')} of resin", "resin-lots"):
        with box:
            write = page.money if by.suffix == "_cents" else page.units.weight
            bought = "landed_cents" if by.suffix == "_cents" else "bought_g"
            columns = [
                Column("lot", "Lot"),
                Column("item", "Resin"),
                Column("supplier", "Supplier"),
                Column("bought_on", "Bought", words.day),
                Column("keeps_to", "Keeps to", words.day),
                Column("state", "State"),
                Column("pours", "Pours", number=True),
                Column(bought, "Bought", write, number=True),
                *(
                    Column(f"{name}{by.suffix}", heading, write, number=True)
                    for name, heading in _BALANCE.items()
                    if f"{name}{by.suffix}" in lots.columns and name not in ("bought", "poured")
                ),
                Column("good_share", "Good", words.share, number=True),
            ]
            widgets.table(page, lots, columns, "resin-lots", 15, leads=lambda row: widgets.behind("lot", row["lot_id"]))


def _stretch(row: dict[str, Any]) -> widgets.Lead:
    """All that moved of a resin between two counts."""
    days = (row["from_on"], row["to_on"])
    return widgets.behind("resin", row["item"], "all", *days, f"{days[0]} to {days[1]}")


def _agrees(page: Page, resin: dict[str, Any]) -> None:
    stretches = page.book.reconciled_stretches()
    figures = page.book.reconciled()
    if resin["item"] != ALL_RESINS:
        stretches, figures = (f.filter(pl.col("item") == resin["item"]) for f in (stretches, figures))
    if not stretches.height:
        return
    off = stretches.filter(~pl.col("agrees"))
    suspect = figures.filter("suspect").sort(pl.col("standardised").abs(), descending=True, nulls_last=True)
    label = "Bought, counted, mixed and weighed: all of it agrees within the errors of weighing"
    if off.height:
        label = f"Bought, counted, mixed and weighed do not agree in {words.count(off.height, 'stretch', 'stretches')}"
    if suspect.height:
        row = suspect.row(0, named=True)
        label += f"; most suspect is “{row['figure']}” of {row['item']} from {row['from_on']}"
    if box := widgets.folded(label, "agrees"):
        with box:
            widgets.say(
                "Between two counts what came in must be what went out. Where the figures disagree, each is moved as "
                "little as its own error allows until all agree; the one that has to move most is the most suspect.",
                quiet=True,
            )
            weight = page.units.weight
            columns = [
                Column("item", "Resin"),
                Column("from_on", "From", words.day),
                Column("to_on", "To", words.day),
                Column("agrees", "Agrees"),
                Column("chance", "Chance of so much by luck", words.chance, number=True),
                Column("suspects", "Suspect", lambda named: named or "none", long=True),
            ]
            widgets.table(page, stretches, columns, "stretches", leads=_stretch)
            columns = [
                Column("item", "Resin"),
                Column("from_on", "From", words.day),
                Column("figure", "Figure", long=True),
                Column("measured_g", "Measured", weight, number=True),
                Column("adjusted_g", "Agreeing", weight, number=True),
                Column("low_g", "19 in 20, from", weight, number=True),
                Column("high_g", "to", weight, number=True),
                Column("standardised", "Errors moved", words.signed, number=True),
                Column("suspect", "Suspect"),
            ]
            widgets.table(page, figures, columns, "reconciled", shown=12, leads=_stretch)
