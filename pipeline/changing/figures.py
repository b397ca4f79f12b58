"""The figures that a maker goes by, of a published database, and which of them differ from those of another."""

from datetime import date
from pathlib import Path
from typing import Any

from pipeline.database.open_database import opened
from pipeline.errors import UserError
from pipeline.quoting.context import open_context
from pipeline.quoting.quote import quote
from pipeline.quoting.request import Request

PIECE, MONTH, PAY, PRICE, ROWS = "cost of a piece", "month's profit", "pay an hour", "price to ask", "rows"

QUERIES = {
    PIECE: "select piece, unit_cents from cost.piece where unit_cents is not null order by piece",
    MONTH: "select strftime(month, '%Y-%m'), result_cents from money.month order by month desc",
    PAY: "select strftime(month, '%Y-%m'), pay_per_hour_cents from money.month order by month desc",
    ROWS: """
        select 'in the figures', sum(loaded)::bigint from intake.file
        union all select 'set aside', sum(set_aside)::bigint from intake.file
        union all select 'questions', count(*) from intake.question
    """,
}

_SOLD = """
    select product from price.history where product is not null and sold is not null
    group by product order by count(*) desc, product limit 12
"""

Figures = dict[str, dict[str, int | None]]
"""Kind → what it is of → cents, or a number of rows."""


def figures(folder: Path, today: date) -> Figures:
    """All of them, of the newest database of a shop."""
    with opened(folder) as con:
        found: Figures = {kind: dict(con.execute(query).fetchall()) for kind, query in QUERIES.items()}
        products = [name for (name,) in con.execute(_SOLD).fetchall()]
    return found | {PRICE: _prices(folder, today, products)}


def differing(before: Figures, after: Figures) -> list[dict[str, Any]]:
    """The figures that are not the same: kind, what of, before, after. What is there only once is None beside it."""
    found = []
    for kind in (MONTH, PAY, PIECE, PRICE, ROWS):
        one, other = before[kind], after[kind]
        for name in dict.fromkeys([*one, *other]):
            if one.get(name) != other.get(name):
                found.append({"kind": kind, "of": name, "before": one.get(name), "after": other.get(name)})
    return found


def _prices(folder: Path, today: date, products: list[str]) -> dict[str, int | None]:
    """The price to ask of a product as it is usually made, where it mostly sells."""
    try:
        context = open_context(folder, today)
    except UserError:
        return {}
    found: dict[str, int | None] = {}
    for product in products:
        try:
            answer = quote(context, Request(product))
        except UserError:  # too little history of it
            continue
        channel = answer["channel"]
        price = next(price for price in answer["prices"] if price["channel"] == channel)
        found[f"{product}, {channel}" if channel else product] = price["asked_cents"]
    return found
