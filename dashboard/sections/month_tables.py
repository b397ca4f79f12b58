"""What stands behind a month beside its result: its cash, what to make more of, market days, write-downs."""

from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.widgets import Column, Narrowed, Page

PIECE = "pieces?piece"

# line of the way from the result to cash → what it is
CASH = {
    "books result": "result in the books",
    "closed months": "found later about closed months",
    "write-downs": "write-downs, which take no cash",
    "depreciation": "wear of machines, which takes no cash",
    "equipment bought": "machines bought",
    "materials": "material used beyond what was bought",
    "pieces": "cost of pieces sold beyond those made",
    "pools": "rent and other shared costs, borne sooner or later than they came",
    "no receipt": "material without a receipt",
    "own use": "kept for own use",
    "suppliers": "owed to suppliers",
    "wages": "owed for pay",
    "bills": "bills not yet paid",
    "customers": "paid by customers beyond what they took",
    "deposits": "deposits held",
    "vouchers": "vouchers not yet used",
    "tax": "sales tax held",
    "owner": "put in by the owner, less taken out",
    "loan": "loans",
    "cash": "change of cash",
}


def show(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    """The folds below a month's pictures, each with its figure in its label."""
    _make_more(page)
    _break_even(page, row)
    _events(page, row)
    _write_downs(page, row, only)
    _earlier(page, row)


def cash(page: Page, row: dict[str, Any]) -> None:
    """The cash of a month, and its way from the result."""
    label = f"The cash beside it: {page.money.round(row['cash_end_cents'])} at the end of the month"
    if box := widgets.folded(label, "cash"):
        with box:
            _cash(page, row)


def _cash(page: Page, row: dict[str, Any]) -> None:
    money = page.money.round
    widgets.figures(
        [
            (
                "Cash at the end",
                money(row["cash_end_cents"]),
                f"{money(row['cash_start_cents'])} at the start",
                "cash_end_cents",
            ),
            ("In", money(row["cash_in_cents"]), "", "cash_in_cents"),
            (
                "Out",
                money(row["cash_out_cents"]),
                f"{money(row['cash_assumed_cents'])} of in and out has no payment on record",
                "cash_out_cents",
            ),
            ("Deposits held", money(row["deposits_owed_cents"]), "owed until handover", "deposits_owed_cents"),
            ("Sales tax owed", money(row["tax_owed_cents"]), "never revenue", "tax_owed_cents"),
        ],
        page,
    )
    widgets.say("From the books result to the change of cash:")
    columns = [
        Column("line", "Beyond the result", lambda line: CASH.get(line, str(line))),
        Column("cents", "Cash", page.money, number=True),
    ]
    widgets.table(
        page,
        page.book.cash_way(row["month"]),
        columns,
        f"cash-{row['month']:%Y-%m}",
        shown=30,
        leads=lambda line: widgets.behind("cash", row["month"], line["line"]),
    )


def _make_more(page: Page) -> None:
    hourly = pl.col("contribution_per_hour_cents")
    products = page.book.best_use().filter(hourly.is_not_null(), pl.col("units") >= words.FEW)
    if not products.height:
        return
    best, worst = products.row(0, named=True), products.row(-1, named=True)
    most, least = (
        f"{row['level']}, {page.money(row['contribution_per_hour_cents'])} an hour for pay, rent and machines"
        for row in (best, worst)
    )
    label = f"What to make more of: {most}" + (f"; least {least}" if best["level"] != worst["level"] else "")
    if box := widgets.folded(label, "make-more"):
        with box:
            widgets.say(
                "Over the twelve months to the last one: what each product left for your pay, rent and machines, and "
                "what of that an hour at the bench brought. Where hours are what you lack, make more of what stands "
                "first, as long as it sells.",
                quiet=True,
            )
            columns = [
                Column("level", "Product"),
                Column("units", "Units", number=True),
                Column("net_revenue_cents", "Brought", page.money.round, number=True),
                Column("contribution_cents", "For pay, rent and machines", page.money.round, number=True),
                Column("hours", "Hours", words.decimal(0), number=True),
                Column("contribution_per_hour_cents", "of it an hour", page.money, number=True),
            ]
            widgets.table(
                page, products, columns, "contribution-by-product", leads=lambda row: ("pieces?product", row["level"])
            )


def _break_even(page: Page, row: dict[str, Any]) -> None:
    found = page.book.break_even(row["month"])
    if not found.height:
        return
    money = page.money.round
    if page.book.months()["recorded"].sum() < words.FEW_MONTHS:
        return  # what the usual kinds leave can't be said yet
    own = found.filter(pl.col("reckoning") == "own pay")
    first = own.row(0, named=True) if own.height else found.row(0, named=True)
    label = "If the usual kinds sell, no number of them covers the month's fixed cost"
    if first["break_even_cents"] is not None:
        sold = row["revenue_cents"] + row["refund_cents"]  # as the reckoning counts it
        label = f"To break even the month had to sell {money(first['break_even_cents'])}"
        label += f" ({words.count(first['break_even_units'], 'unit')}); it sold {money(sold)}"
    if box := widgets.folded(label, "break-even"):
        with box:
            widgets.say(
                "If the same kinds sell as in the twelve months before. With own pay, your hours at the bench count as "
                "a cost of each unit; in the books only what was paid out does.",
                quiet=True,
            )
            columns = [
                Column("month", "Month", lambda day: f"{day:%Y-%m}"),
                Column("reckoning", "Reckoned"),
                Column("fixed_month_cents", "Fixed a month", money, number=True),
                Column("contribution_per_unit_cents", "A unit leaves", page.money, number=True),
                Column("contribution_share", "Of its price", words.share, number=True),
                Column("break_even_units", "Units to sell", number=True),
                Column("break_even_cents", "To sell", money, number=True),
                Column("safety_cents", "Sold beyond it", money, number=True),
            ]
            name = f"break-even-{row['month']:%Y-%m}"
            widgets.table(
                page, found, columns, name, leads=lambda r: widgets.behind("line", r["month"], "", "", "all of it")
            )


def _events(page: Page, row: dict[str, Any]) -> None:
    events = page.book.events()
    here = events.filter(pl.col("on_date").dt.truncate("1mo") == row["month"])
    if not events.height:
        return
    paid = here["pay_per_hour_cents"].drop_nulls().to_list()
    label = f"{words.count(here.height, 'market day')} in this month"
    if paid:
        least, most = page.money(min(paid)), page.money(max(paid))
        label += f"; an hour of yours there paid {least}" + (f" to {most}" if most != least else "")
    if box := widgets.folded(label, "events"):
        with box:
            columns = [
                Column("event", "Event"),
                Column("on_date", "Day", words.day),
                Column("taken_cents", "Took", page.money, number=True),
                Column("units", "Units sold", number=True),
                Column("taken_along", "Taken along", words.decimal(0).otherwise("not logged"), number=True),
                Column("brought_back", "Brought back", words.decimal(0).otherwise("not logged"), number=True),
                Column("booth_cents", "Booth", page.money, number=True),
                Column("result_cents", "Left, with own pay", page.money, number=True),
                Column("owner_hours", "Your hours", words.decimal(1), number=True),
                Column("pay_per_hour_cents", "An hour paid", page.money.exact.otherwise("too few hours"), number=True),
            ]
            widgets.table(page, pl.concat([here, events.filter(~pl.col("event").is_in(here["event"].implode()))]),
                        columns, "events", shown=max(here.height, 6),
                        leads=lambda market: widgets.behind("event", market["event"]))  # fmt: skip


def _write_downs(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    downs = only.of_pieces(page, page.book.write_downs(row["month"]))
    if not downs.height:
        return
    # beside them stand those that are gone, or worth their cost again: what was written down of them came back
    number = downs.filter(pl.col("written_down_cents") > 0).height
    label = (
        f"{words.count(number, 'unsold piece')} will bring less than {'it' if number == 1 else 'they'} cost: "
        f"{page.money.round(sum(downs['written_down_cents'].to_list()))} written down by the end of the month"
    )
    if box := widgets.folded(label, "write-downs"):
        with box:
            columns = [
                Column("piece", "Piece", opens=PIECE),
                Column("product", "Product"),
                Column("stage", "Stage"),
                Column("units", "Units", number=True),
                Column("cost_cents", "Cost", page.money, number=True),
                Column("expected_cents", "One may bring", page.money, number=True),
                Column("price_basis", "Judged by"),
                Column("worth_cents", "Worth", page.money, number=True),
                Column("written_down_cents", "Written down", page.money, number=True),
                Column("change_cents", "This month", page.money, number=True),
            ]
            widgets.table(page, downs, columns, f"write-downs-{row['month']:%Y-%m}")


def _earlier(page: Page, row: dict[str, Any]) -> None:
    earlier = page.book.earlier(row["month"])
    if not earlier.height:
        return
    label = f"Found later about closed months: {page.money(row['earlier_cents'])}"
    if box := widgets.folded(label, "earlier"):
        with box:
            columns = [
                Column("closed_month", "Closed month", lambda day: f"{day:%Y-%m}"),
                Column("line", "Line"),
                Column("layer", "Layer", words.layer),
                Column("on_date", "Day", words.day),
                Column("piece", "Piece", opens=PIECE),
                Column("item", "Item"),
                Column("closed_cents", "When closed", page.money, number=True),
                Column("now_cents", "Now", page.money, number=True),
                Column("cents", "Difference", page.money, number=True),
            ]
            name = f"earlier-{row['month']:%Y-%m}"
            widgets.table(page, earlier, columns, name, leads=lambda late: widgets.behind("rows", *late["row_ids"]))
