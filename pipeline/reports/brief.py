"""A month in a handful of figures, for the terminal."""

from collections.abc import Iterator
from typing import Any

import duckdb

from pipeline.reports.words import TOO_FEW_HOURS, amount, count

# The last month that is whole: the month of the last record may still be going on. Where that has no record, it is all
# there is.
_LAST_MONTH = """
select result.*, settings.shop.name, settings.shop.currency
from money.month as result
cross join settings.shop
where result.month = coalesce(
    (select month from money.month where recorded and month = (select max(month) from money.month where whole)),
    (select max(month) from money.month where recorded)
)
"""


def last_month(con: duckdb.DuckDBPyConnection, digits: int) -> Iterator[str]:
    """The last month as lines of text; `digits` is the number of decimals of the shop's money."""
    result = con.execute(_LAST_MONTH)
    names = [column[0] for column in result.description]
    rows = result.fetchall()
    if not rows:
        yield "There is no month on record yet."
        return
    yield from _text(dict(zip(names, rows[0], strict=True)), digits)


def _text(month: dict[str, Any], digits: int) -> Iterator[str]:
    sold = count(month["pieces_sold"], "piece")
    yield f"{month['name']}, {month['month']:%B %Y}, in {month['currency']}"
    yield _line(f"Sold ({sold})", month["revenue_cents"] + month["refund_cents"], digits)
    yield _line("Cost of what was sold", -month["cost_of_sales_cents"], digits)
    yield _line("Selling", -month["selling_cents"], digits)
    rest = ("period_labour_cents", "not_absorbed_cents", "other_period_cents", "loss_cents", "write_down_cents")
    yield _line("Other cost of the month", -sum(month[name] for name in rest), digits)
    if month["other_income_cents"]:
        yield _line("Other income", month["other_income_cents"], digits)
    if month["earlier_cents"]:
        yield _line("Earlier months, closed by then", month["earlier_cents"], digits)
    yield _line("Result, with own pay as a cost", month["result_cents"], digits)
    yield _line("Result in the books", month["books_result_cents"], digits)
    hours = f"{month['owner_hours']:.0f} hours, {month['bench_hours']:.0f} at the bench"
    if month["pay_per_hour_cents"] is None:
        yield f"  What an hour paid ({hours}): {TOO_FEW_HOURS}"
    else:
        yield _line(f"What an hour paid ({hours})", month["pay_per_hour_cents"], digits)


def _line(words: str, cents: int | None, digits: int) -> str:
    return f"  {words:<48}{amount(cents, digits):>12}"
