"""What made and what lost money: products and pieces with what they brought, cost and left, for a span of time."""

from datetime import date
from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.widgets import Column, Narrowed, Page

FOLD, SPAN = "earned", "earned-span"

SPANS = {"the month": "month", "the year": "year", "all so far": "all"}

FIRST = {
    "what lost most": ("margin_cents", False),
    "what left most": ("margin_cents", True),
    "most left for an hour": ("margin_per_hour_cents", True),
    "least left for an hour": ("margin_per_hour_cents", False),
    "most hours": ("hours", True),
    "what brought most": ("net_revenue_cents", True),
    "what cost most": ("cost_of_sales_cents", True),
}
"""What can stand first: the column that orders, and whether its largest does."""

NAMED = 3
"""Losing products that a sentence names."""


def loss(page: Page, row: dict[str, Any]) -> tuple[int, str]:
    """What the products that lost money in a month lost, in cents and in one sentence; nothing where none did."""
    losing = _losing(page.book.earned_by_product("month", row["month"]))
    if not losing.height:
        return 0, ""
    lost, money, when = page.book.lost_cents(row["month"]), page.money.round, words.month(row["month"])
    if losing.height == 1:
        of = losing.row(0, named=True)
        said = f"{_named(of['product'])} lost {money(lost)} in {when}, {of['units']:,} sold{_covers(of)}"
        return lost, f"{said}. Ask more, or make it for less."
    each = [f"{of['product']} {money(-of['margin_cents'])}" for of in losing.head(NAMED).iter_rows(named=True)]
    more = f" and {losing.height - NAMED} more" if losing.height > NAMED else ""
    said = f"{losing.height} products lost {money(lost)} in {when}: {', '.join(each)}{more}"
    return lost, f"{said}. Ask more, or make them for less."


def _losing(products: pl.DataFrame) -> pl.DataFrame:
    """Those of which units were sold for less than they cost; a cost that only came later is no loss of a sale."""
    return products.filter(pl.col("margin_cents") < 0, pl.col("units") > 0)


def _named(product: str) -> str:
    return f"{product[:1].upper()}{product[1:]}"


def _covers(of: dict[str, Any]) -> str:
    share = of["covered_share"]
    if share is None or share < 0:
        return ""
    return f": its price covers {words.chance(share)} of what it cost to make and to sell"


def show(page: Page, row: dict[str, Any], only: Narrowed) -> None:
    """The fold, whose label says what lost most in the month."""
    if box := widgets.folded(_label(page, row), FOLD):
        with box:
            with widgets.filters():
                span = SPANS[widgets.switch("Sold in", SPAN, list(SPANS))]
                by = widgets.switch("Listed", "earned-by", ["products", "pieces"])
                first = widgets.choose("First comes", "earned-first", list(FIRST))
            if row["closed"]:
                widgets.say("The month is closed; here it stands as its records make it today.", quiet=True)
            month = row["month"].replace(month=1) if span == "year" else row["month"]
            if by == "products":
                _products(page, span, month, first, only)
            else:
                _pieces(page, span, month, first, only)


def _label(page: Page, row: dict[str, Any]) -> str:
    products = page.book.earned_by_product("month", row["month"])
    said = "What made and what lost money"
    if not products["product"].count():
        return f"{said}: nothing was sold"
    losing = _losing(products)
    if not losing.height:
        return f"{said}: no product lost any"
    of = losing.row(0, named=True)
    most = "" if losing.height == 1 else " most"
    return f"{said}: {of['product']} lost{most}, {page.money.round(-of['margin_cents'])}"


def said_span(span: str, month: date) -> str:
    """The span in words: `October 2026`, `2026`, `all months so far`."""
    return {"month": words.month(month), "year": f"{month:%Y}"}.get(span, "all months so far")


def _products(page: Page, span: str, month: date, first: str, only: Narrowed) -> None:
    found = page.book.earned_by_product(span, month)
    mine = widgets.rows_chosen(found, product=only.product)
    if set(only.chosen) - {"product"}:
        widgets.say("Products stand here with all that was sold of them; of pieces only those that fit.", quiet=True)
    left, *figures = _figures(page)
    columns = [Column("product", "Product", _product), left, *figures]
    _listed(page, mine, columns, f"earned-products-{span}", first, span, month, not only.chosen)


def _pieces(page: Page, span: str, month: date, first: str, only: Narrowed) -> None:
    found = only.of_pieces(page, page.book.earned(span, month))
    left, *figures = _figures(page)
    columns = [
        Column("piece", "Piece"),
        left,
        Column("product", "Product", _product),
        *figures,
        Column("reason", "Likeliest reason of a loss"),
        Column("reason_cents", "which explains", page.money, number=True),
    ]
    _listed(page, found, columns, f"earned-pieces-{span}", first, span, month, not only.chosen)


def _product(product: str | None) -> str:
    return product or "selling of no one piece"


def _figures(page: Page) -> list[Column]:
    """What was left first: a phone shows little more."""
    return [
        Column("margin_cents", "Left", page.money, number=True),
        Column("units", "Units", number=True),
        Column("net_revenue_cents", "Brought", page.money, number=True),
        Column("selling_cents", "Selling", page.money, number=True),
        Column("cost_of_sales_cents", "Cost", page.money, number=True),
        Column("hours", "Hours", words.decimal(1), number=True),
        Column("margin_per_hour_cents", "Left for an hour", page.money.exact.otherwise("too few hours"), number=True),
        Column("covered_share", "Cost covered", words.share, number=True),
    ]


def _listed(
    page: Page, found: pl.DataFrame, columns: list[Column], name: str, first: str, span: str, month: date, whole: bool
) -> None:
    """`whole`: none of what was sold is left out, so that the sum of all stands above it."""
    column, largest = FIRST[first]
    rows = found.sort(column, descending=largest, nulls_last=True, maintain_order=True)
    if rows.height and whole:
        left = page.money(rows["all_left_cents"][0])
        widgets.say(
            f"Sold in {said_span(span, month)}: together they left {left} after their cost, your own pay in it, and "
            "selling. A cost that came after the sale counts when it came.",
            quiet=True,
        )
    widgets.table(page, rows, columns, name, leads=lambda row: _lead(row, span, month))


def _lead(row: dict[str, Any], span: str, month: date) -> widgets.Lead | None:
    """A piece leads to itself, a product to its sales of the span, selling of no sale to its records of the month."""
    if row.get("piece"):
        return "pieces?piece", row["piece"]
    if row["product"]:
        last = {"month": widgets.last_day(month), "year": month.replace(month=12, day=31)}
        return widgets.behind("sold", "product", row["product"], *([month, last[span]] if span in last else []))
    return widgets.behind("line", month, "selling", "", "selling") if span == "month" else None
