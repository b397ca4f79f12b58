"""What is tied up in materials and pieces, what to buy, and what has lain too long?"""

from datetime import date
from functools import partial
from typing import Any

import polars as pl

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.stock import STAGES, tied_up
from dashboard.widgets import Column, Narrowed, Page

QUESTION = "What do you have tied up?"
PIECE = "pieces?piece"
OVER_DATE = ("past its date", "within two months")
LONG_DAYS = 90
"""From so many days on it is said how long a piece has waited for a buyer (common practice, no source)."""


def show(page: Page) -> None:
    months = page.book.stock_months()
    if not months.filter(pl.col("closing_cents") != 0).height:
        widgets.answer(QUESTION, "Nothing is tied up yet.")
        widgets.empty(
            "No material and no piece is on record.",
            "Purchases, pieces and a count of what is there begin it.",
        )
        return
    head = widgets.head()
    with widgets.filters():
        month = widgets.choose_month(page) or months["month"].to_list()[-1]
        only = widgets.narrow(page)
        page = widgets.choose_units(page)
    widgets.narrowed(
        only,
        "the finished pieces" + (", and the wood that was never cut" if only.species != widgets.ANY else ""),
        "What is tied up, what lies on the shelf and what to buy are the whole shop's.",
    )
    now, held_then = months.filter(pl.col("month") == month), page.book.tied_up(month)
    stock, reorder = page.book.stock(), page.book.reorder()
    held = only.of_pieces(page, page.book.held(month).filter(pl.col("stage") != "in progress"))
    widgets.answer(QUESTION, _sentence(page, month, held_then), head)
    _figures(page, now, held_then)
    still = page.book.held(months["month"].to_list()[-1])["piece"]
    widgets.advice(_advice(page, stock, reorder, held.filter(pl.col("piece").is_in(still.implode()))))
    _picture(page, months, month, held_then)
    _buy(page, reorder)
    _lain(page, stock, only)
    _unsold(page, held, month)
    _shelf(page, stock)
    _forward(page, now, month)
    widgets.caution(
        "resin and finishes past their date may cure badly or not at all; what their data sheet says about keeping and "
        "getting rid of them decides, and your local rules. The figures are for steering, and no tax advice."
    )


def _sums(now: pl.DataFrame) -> dict[str, int]:
    return dict(now.select("stage", "closing_cents").iter_rows())


def _sentence(page: Page, month: date, tied: dict[str, int]) -> str:
    money = page.money.round
    parts = {
        "in finished pieces that wait for a buyer": tied["waiting_cents"],
        "half made": tied["half_made_cents"],
        "on the shelf": tied["materials_cents"],
    }
    where = max(parts, key=lambda part: parts[part])
    held = f"{money(tied['closing_cents'])} at the end of {words.month(month)}"
    return f"{held}, the largest part {where}: {money(parts[where])}."


def _figures(page: Page, now: pl.DataFrame, tied: dict[str, int]) -> None:
    rows = {row["stage"]: row for row in now.iter_rows(named=True)}
    entries = []
    for stage, name in STAGES.items():
        row = rows.get(stage)
        if not row:
            continue
        note = words.count(row["pieces"], "piece") if row["pieces"] else ""
        if row["own_labour_cents"]:
            note += f", {page.money.round(row['own_labour_cents'])} of it your own pay"
        entries.append((name.capitalize(), page.money.round(row["closing_cents"]), note.strip(", "), "closing_cents"))
    down = tied["written_down_cents"]
    entries.append(("Written down", page.money.round(down), "will bring less than they cost", "written_down_cents"))
    widgets.figures(entries, page)


def _picture(page: Page, months: pl.DataFrame, month: date, tied: dict[str, int]) -> None:
    whole = months["month"].unique().sort().to_list()
    last = [m for m in whole if m <= month][-18:]
    shown = months.filter(pl.col("month").is_in(last))
    title = f"Tied up at the end of each month: {page.money.round(tied['closing_cents'])} in {words.month(month)}"
    chart = sent_chart(tied_up, shown, month, title, page.money.currency, page.scale, page.look)
    alt = f"{title}. Stacked bars by stage: " + ", ".join(
        f"{STAGES.get(stage, stage)} {page.money.round(cents)}"
        for stage, cents in _sums(months.filter(pl.col("month") == month)).items()
    )
    widgets.picture(chart, alt, "tied-up", "name", chooses="month")
    settings_in_force.show(page, widgets.last_day(month), "flow", "late", "tax")


def _advice(page: Page, stock: pl.DataFrame, reorder: pl.DataFrame, held: pl.DataFrame) -> list[str]:
    said = []
    buy = reorder.filter("buy")
    if buy.height:
        names = ", ".join(map(_item, buy["flow"].head(4)))
        more = f" and {buy.height - 4} more" if buy.height > 4 else ""
        cost = page.money.round(sum(c or 0 for c in buy["buy_cents"].to_list()))
        said.append(f"Buy {names}{more}: some {cost}, for {_need(reorder)}.")
    old = stock.filter(pl.col("shelf_life").is_in(OVER_DATE)).head(3)
    said += [
        f"{row['item']} of {words.day(row['bought_on'])} is {row['shelf_life']}: "
        f"{words.amount(row['on_hand'], row['unit'], page.units)} to use first or to test."
        for row in old.iter_rows(named=True)
    ]
    uncut = stock.filter("never_cut")
    if uncut.height:
        said.append(
            f"{words.count(uncut.height, 'wooden lot')} never cut, {page.money.round(sum(uncut['on_hand_cents']))}: "
            "plan a piece for it, or sell it."
        )
    long = held.filter(pl.col("wait_days") >= LONG_DAYS)
    if long.height:
        row = long.sort("wait_days", descending=True).row(0, named=True)
        said.append(
            f"{row['piece']} ({row['product']}) has waited {row['wait_days']:,} days for a buyer: the Pricing page "
            "shows what such pieces bring."
        )
    return said


def _need(reorder: pl.DataFrame) -> str:
    """What is bought for: of a shop with too few months nobody knows what a usual one needs."""
    if reorder["usual_month"].count():
        return "the orders in hand and a usual month"
    return "the orders in hand. What a usual month needs can't be said yet: too few months"


def _amount(page: Page, name: str, heading: str) -> Column:
    """A column of quantities, each in its item's unit."""
    return Column(name, heading, partial(words.amount, units=page.units), number=True, of="unit")


def _buy(page: Page, reorder: pl.DataFrame) -> None:
    widgets.part("What to buy")
    needed = reorder.filter("buy")
    columns = [
        Column("flow", "Item", _item),
        Column("category", "Category"),
        _amount(page, "on_hand", "There"),
        _amount(page, "usual_month", "A usual month"),
        Column("months_cover", "Months it lasts", words.decimal(1), number=True),
        Column("orders", "Orders in hand", number=True),
        _amount(page, "orders_need", "They need"),
        _amount(page, "short", "To buy"),
        Column("buy_cents", "About", page.money, number=True),
        Column("supplier", "Last bought from"),
    ]
    if not needed.height:
        widgets.say(f"Nothing: what is there lasts for {_need(reorder)}.", quiet=True)
    else:
        widgets.table(page, needed, columns, "to-buy", shown=6, leads=_flow)
    if box := widgets.folded(f"How long everything lasts: {words.count(reorder.height, 'item')}", "cover"):
        with box:
            widgets.table(page, reorder, columns, "months-of-cover", shown=40, leads=_flow)


def _item(flow: str) -> str:
    """What takes turns on the shelf: an item, or all lots of a species, `wood/white oak`."""
    return f"{flow.removeprefix('wood/')} wood" if flow.startswith("wood/") else flow


def _flow(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("flow", row["flow"])


def _lot(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("lot", row["lot_id"])


def _of_lot(page: Page) -> list[Column]:
    return [
        Column("lot", "Lot"),
        Column("item", "Item"),
        Column("supplier", "Supplier"),
        Column("bought_on", "Bought", words.day),
        Column("age_days", "Days ago", number=True),
        _amount(page, "on_hand", "There"),
        Column("left_share", "of it still there", words.share, number=True),
    ]


def _lain(page: Page, stock: pl.DataFrame, only: Narrowed) -> None:
    uncut = widgets.rows_chosen(stock.filter("never_cut"), species=only.species)
    dated = stock.filter(pl.col("keeps_to").is_not_null())
    if uncut.height:
        label = f"Slabs and boards never cut: {words.count(uncut.height, 'lot')}"
        if box := widgets.folded(label, "never-cut"):
            with box:
                columns = [
                    *_of_lot(page),
                    Column("species", "Species"),
                    Column("on_hand_cents", "Cost", page.money, number=True),
                ]
                widgets.table(page, uncut, columns, "never-cut", shown=20, leads=_lot)
    if dated.height:
        old = dated.filter(pl.col("shelf_life").is_in(OVER_DATE)).height
        label = f"What keeps only so long: {words.count(dated.height, 'lot')}, {old or 'none'} near or past the date"
        if box := widgets.folded(label, "shelf-life"):
            with box:
                columns = [
                    *_of_lot(page),
                    Column("keeps_to", "Keeps to", words.day),
                    Column("days_left", "Days to go", number=True),
                    Column("shelf_life", "So it"),
                    Column("on_hand_cents", "Cost", page.money, number=True),
                ]
                widgets.table(page, dated.sort("keeps_to"), columns, "shelf-life", shown=20, leads=_lot)


def _unsold(page: Page, held: pl.DataFrame, month: date) -> None:
    label = f"Finished and not sold at the end of {words.month(month)}: {words.count(held.height, 'piece')}"
    if not held.height or not (box := widgets.folded(label, "unsold")):
        return
    columns = [
        Column("piece", "Piece", opens=PIECE),
        Column("product", "Product"),
        Column("species", "Species"),
        Column("finish", "Finish"),
        Column("stage", "Where", lambda stage: STAGES.get(stage, str(stage))),
        Column("units", "Units", number=True),
        Column("cost_cents", "Cost", page.money, number=True),
        Column("list_price_cents", "Asked for one", page.money, number=True),
        Column("wait_days", "Days it waits", number=True),
    ]
    with box:
        widgets.table(page, held, columns, f"unsold-{month:%Y-%m}", shown=10)


def _shelf(page: Page, stock: pl.DataFrame) -> None:
    total = page.money.round(sum(stock["on_hand_cents"].to_list()))
    if box := widgets.folded(f"On the shelf now, lot by lot: {words.count(stock.height, 'lot')}, {total}", "shelf"):
        with box:
            columns = [
                *_of_lot(page),
                Column("category", "Category"),
                Column("months_cover", "Months it lasts", words.decimal(1), number=True),
                Column("on_hand_cents", "Cost", page.money, number=True),
            ]
            widgets.table(page, stock, columns, "shelf", shown=25, leads=_lot)


_FORWARD = {
    "opening_cents": "Before", "bought_cents": "Bought", "imputed_cents": "Receipt missing", "labour_cents": "Work",
    "machine_cents": "Machines", "overhead_cents": "Rent and power", "returned_cents": "Came back",
    "moved_in_cents": "Moved in",
    "sold_cents": "Sold", "beyond_normal_cents": "Scrap", "wasted_cents": "Wasted", "shortage_cents": "Short",
    "own_use_and_gifts_cents": "Own use, gifts", "used_up_cents": "Used up", "moved_out_cents": "Moved out",
    "closing_cents": "At the end",
}  # fmt: skip


def _forward(page: Page, now: pl.DataFrame, month: date) -> None:
    if box := widgets.folded(f"How each stage went from the start to the end of {words.month(month)}", "roll-forward"):
        with box:
            columns = [
                Column("stage", "Stage", lambda stage: STAGES.get(stage, str(stage))),
                *(Column(name, heading, page.money, number=True) for name, heading in _FORWARD.items()),
            ]
            name = f"roll-forward-{month:%Y-%m}"
            widgets.table(page, now, columns, name, leads=lambda row: widgets.behind("held", month, row["stage"]))
