"""The year-end workbook for an accountant: stock, cost of goods sold, purchases, assets, write-downs, tax and cash.

Everything is *in the books*: without own labour, which is no cost there. Each figure says how it was made.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

import duckdb
import xlsxwriter

from pipeline.errors import UserError
from pipeline.writing import whole

NO_ADVICE = (
    "This workbook is no tax advice and no set of accounts. It is what the shop's own records come to, for a licensed "
    "accountant to judge by the rules that apply where the shop is."
)

GOODS = {
    "opening": (
        "Opening stock",
        "Materials, pieces in progress, finished and consigned at cost on the first day; see the stock sheets.",
    ),
    "bought": (
        "Bought for stock",
        "Receipts of wood, resin and other stock with their share of freight, tax and discount, less goods sent back.",
    ),
    "imputed": (
        "Without a receipt",
        "Used beyond what was bought, at the last known price: receipts that are missing, and stock found.",
    ),
    "labour": (
        "Paid work in pieces",
        "Hours of paid people on pieces at their rate of the day. Own work is no cost here.",
    ),
    "shop": (
        "Machines, rent and power in pieces",
        "What machines lose in worth (depreciation), rent and other pools at the normal rate; what pieces did "
        "not take is in the result.",
    ),
    "used up": ("Packaging and material used for no piece", "A cost of its month beside cost of goods sold."),
    "own use": ("Kept by the maker", "At cost, no part of the result. Gifts stand in the line above."),
    "lost": ("Lost", "Scrap beyond normal, waste, shortages by count."),
    "closing": ("Closing stock", "As opening stock, on the last day. Before write-downs."),
    "sold": ("Cost of goods sold", "The sum of the lines above: what was in what was sold, less what came back."),
}
"""The lines of the sheet by their kind in the query: what each is called, and how it was made."""

RESULT = {
    "revenue": "Sales handed over, with shipping charged, without tax.",
    "refunds": "Given back for returns.",
    "other income": "Deposits kept of cancelled orders, claims paid, and what a flat rate of tax leaves.",
    "cost of sales": "See the sheet Cost of goods sold.",
    "selling": "Fees, postage, booths, packaging, advertising, gifts.",
    "other hours": "Paid hours of no piece: shop, market, office.",
    "not absorbed": "Rent, power and machines that no piece took; negative where pieces took more.",
    "other costs": "Material used for no piece, tests without an order.",
    "losses": "Scrap beyond normal, waste, shortages.",
    "write-downs": "Change in what unsold pieces are written down by; see the sheet Write-downs.",
    "closed months": "What the lines above would change in months that were closed, less what counts in this year of "
    "earlier ones.",
    "Result in the books": "The sum of the lines above, before any pay of the owners that is not paid out.",
}
"""The lines of the result: how each was made."""

_REGIME = "select coalesce(arg_max(tax_regime, from_date), 'none') from settings.rule where from_date < $after"


@dataclass(frozen=True)
class Sheet:
    """A sheet: a title, what it says and how it was made, headers, rows, and which columns are money or dates."""

    name: str
    says: str
    headers: Sequence[str]
    rows: list[tuple[Any, ...]]
    money: frozenset[int] = frozenset()
    total: bool = False
    bold: frozenset[str] = field(default_factory=frozenset)


def write(con: duckdb.DuckDBPyConnection, folder: Path, year: int, digits: int = 2) -> Path:
    """Write `folder/year-<year>.xlsx`. Raises `UserError` for a year without a record."""
    first, after = date(year, 1, 1), date(year + 1, 1, 1)
    known = con.execute("select min(month), max(month), bool_and(whole) from money.month").fetchall()[0]
    if known[0] is None or known[1] < first or known[0] >= after:
        raise UserError(f"{year} is not on record.", str(folder), "Name a year that `kerfledger refresh` found.")
    sheets, content = build(con, year), BytesIO()
    # no text becomes a formula or a link: the cells are the maker's own words
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
    with xlsxwriter.Workbook(content, options) as book:
        _lay_out(book, sheets, digits)
    return whole.write(whole.make_folder(folder) / f"year-{year}.xlsx", content.getvalue())


def build(con: duckdb.DuckDBPyConnection, year: int) -> list[Sheet]:
    """The sheets of the year, as rows of cents and texts."""
    values = {"first": date(year, 1, 1), "after": date(year + 1, 1, 1)}
    asked = {name: _rows(con, query, values) for name, query in _queries().items()}
    shop, currency = con.execute("select name, currency from settings.shop").fetchall()[0]
    regime = _rows(con, _REGIME, values)[0][0]
    whole = asked.pop("whole")[0][0]
    sheets = [
        Sheet(
            "Cost of goods sold",
            "Opening stock, what came in, what went otherwise, closing stock: the rest is cost of goods sold.",
            ("line", "amount", "how it was made"),
            _explained(GOODS, asked["goods"]),
            frozenset({1}),
            bold=frozenset({"Cost of goods sold"}),
        ),
        Sheet(
            "Result",
            "The year's result in the books, line by line, as the months show it.",
            ("line", "amount", "how it was made"),
            _explained({line: (line, how) for line, how in RESULT.items()}, asked["result"]),
            frozenset({1}),
            bold=frozenset({"Result in the books"}),
        ),
        Sheet(
            "Months",
            "The result in the books by month. A closed month stands as it was closed.",
            (
                "month", "revenue", "refunds", "other income", "books result", "write-downs", "earlier months",
                "cash at end", "closed",
            ),
            asked["months"],
            frozenset({1, 2, 3, 4, 5, 6, 7}),
        ),
        Sheet(
            "Stock of materials",
            "Cost of materials on the shelf, first in first out or average as the shop chose; beside it the last count "
            "on or before each day. Cost is the receipts with freight, tax that does not come back and discount.",
            (
                "item", "lot", "category", "opening cost", "opening count", "counted on", "closing cost",
                "book quantity", "unit", "closing count", "counted on",
            ),
            asked["materials"],
            frozenset({3, 6}),
            total=True,
        ),
        Sheet(
            "Stock of pieces",
            "Pieces in progress, finished and out on consignment at the start and end of the year, at cost without own "
            "work, and what they are written down by.",
            ("day", "piece", "product", "stage", "units", "cost", "written down", "value"),
            asked["pieces"],
            frozenset({5, 6, 7}),
        ),
        Sheet(
            "Purchases",
            "Receipts of the year by category, with their share of freight, tax that does not come back and discount.",
            ("category", "lines", "cost", "tax that comes back"),
            asked["purchases"],
            frozenset({2, 3}),
            total=True,
        ),
        Sheet(
            "Assets",
            "Machines and equipment, straight line: cost less salvage over the months of service, by whole months.",
            (
                "asset", "since", "cost", "salvage", "months", "book value at start", "bought", "depreciation",
                "book value at end",
            ),
            asked["assets"],
            frozenset({2, 3, 5, 6, 7, 8}),
        ),
        Sheet(
            "Write-downs",
            "Unsold pieces at the year's end that will bring less than they cost in the books: lower of cost and net "
            "realisable value, item by item.",
            (
                "piece", "product", "stage", "units", "cost", "expected price", "price from", "selling share", "worth",
                "written down",
            ),
            asked["write-downs"],
            frozenset({4, 5, 8, 9}),
        ),
        Sheet(
            "Tax",
            f"Tax on sales under the regime of shop.toml ({regime}). What a channel collects and pays is not ours.",
            (
                "month", "collected by us", "collected by channels", "tax on purchases that comes back", "paid",
                "owed at the end",
            ),
            asked["tax"],
            frozenset({1, 2, 3, 4, 5}),
        ),
        Sheet(
            "Cash",
            "From the result in the books to the change of cash. Where no payment tells, cash is taken to have moved "
            "on the record's own day.",
            ("line", "amount"),
            asked["cash"],
            frozenset({1}),
            bold=frozenset({"cash"}),
        ),
    ]  # fmt: skip
    return [_cover(shop, currency, year, whole, sheets), *sheets]


def _explained(lines: Mapping[str, tuple[str, str]], found: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Each line with its cents and how it was made, in their order; one that nothing is in has none."""
    cents = dict(found)
    return [(name, cents.get(kind, 0), how) for kind, (name, how) in lines.items()]


def _cover(shop: str, currency: str, year: int, whole: bool, sheets: Iterable[Sheet]) -> Sheet:
    rows: list[tuple[Any, ...]] = [
        (NO_ADVICE,),
        (f"All money is in {currency}; own work is no cost in these figures.",),
    ]
    if not whole:
        rows.append(("The year is not over, or began before the records do: these are the figures so far.",))
    rows += [(f"{sheet.name}: {sheet.says}",) for sheet in sheets]
    return Sheet("Read me", f"{shop}, {year}", ("what this is",), rows)


@cache
def _queries() -> dict[str, str]:
    text = files("pipeline").joinpath("reports", "yearend.sql").read_text(encoding="utf-8")
    parts = (part.partition("\n") for part in text.split("-- @query ")[1:])
    return {name.strip(): query for name, _, query in parts}


def _rows(con: duckdb.DuckDBPyConnection, query: str, values: dict[str, Any]) -> list[tuple[Any, ...]]:
    return con.execute(query, {name: value for name, value in values.items() if f"${name}" in query}).fetchall()


def _lay_out(book: "xlsxwriter.Workbook", sheets: Iterable[Sheet], digits: int) -> None:
    money = "#,##0" + ("." + "0" * digits if digits else "")
    styles = {
        "title": book.add_format({"bold": True, "font_size": 14}),
        "says": book.add_format({"italic": True, "text_wrap": True, "valign": "top"}),
        "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True}),
        "money": book.add_format({"num_format": money}),
        "total": book.add_format({"num_format": money, "bold": True, "top": 1}),
        "bold": book.add_format({"bold": True}),
        "date": book.add_format({"num_format": "yyyy-mm-dd"}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
        "share": book.add_format({"num_format": "0.0 %"}),
        "plain": book.add_format({}),
    }
    for sheet in sheets:
        _sheet(book.add_worksheet(sheet.name), sheet, styles, 10**digits)


def _sheet(page: Any, sheet: Sheet, styles: dict[str, Any], minor: int) -> None:
    cover = len(sheet.headers) == 1
    page.write_string(0, 0, sheet.says if cover else sheet.name, styles["title"])
    if not cover:
        page.merge_range(1, 0, 1, max(1, len(sheet.headers) - 1), sheet.says, styles["says"])
        page.set_row(1, 45)
    for column, header in enumerate(sheet.headers):
        page.write_string(3, column, header, styles["head"])
        page.set_column(
            column, column, 110 if cover else 24 if column == 0 else 60 if header == "how it was made" else 15
        )
    page.freeze_panes(4, 0)
    for number, row in enumerate(sheet.rows, 4):
        for column, value in enumerate(row):
            _cell(page, number, column, value, column in sheet.money, str(row[0]) in sheet.bold, styles, minor)
    if sheet.total:
        last = 4 + len(sheet.rows)
        page.write_string(last, 0, "Total", styles["bold"])
        for column in sorted(sheet.money):
            page.write_number(last, column, sum(row[column] or 0 for row in sheet.rows) / minor, styles["total"])


def _cell(
    page: Any, row: int, column: int, value: Any, money: bool, bold: bool, styles: dict[str, Any], minor: int
) -> None:
    if value is None:
        return
    if money:
        page.write_number(row, column, value / minor, styles["total" if bold else "money"])
    elif isinstance(value, bool):
        page.write_string(row, column, "yes" if value else "no")
    elif isinstance(value, date):
        page.write_datetime(row, column, value, styles["date"])
    elif isinstance(value, float):
        page.write_number(row, column, value, styles["share"])
    elif isinstance(value, int):
        page.write_number(row, column, value)
    else:
        page.write_string(row, column, str(value), styles["bold" if bold else "wrap"])
