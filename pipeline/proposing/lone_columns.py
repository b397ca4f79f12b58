"""What the columns of a table say by which of them there are: the only tags, the only money, sizes side by side, a tax
at a usual rate of the amounts beside it.

`add` gives weights of evidence to those of `row_relations.py`.
"""

from collections.abc import Sequence

import polars as pl

from pipeline.cleaning.column_formats import unit_in_header
from pipeline.cleaning.dates import WEEKDAY
from pipeline.cleaning.recurring import TAG
from pipeline.cleaning.times_of_work import BARE, SPAN
from pipeline.cleaning.units import Units
from pipeline.mapping.private_columns import share_true
from pipeline.proposing import contents, header_names, helper_columns
from pipeline.proposing.columns import Column
from pipeline.proposing.row_relations import LEAST_ROWS, LIKELY, PROVEN, SOLE, Weights
from pipeline.readers.periods import period_of
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS

TAGS = {
    "purchases": "receipt", "pieces": "piece", "hours": "pieces", "pours": "pour", "usage": "pieces",
    "inspections": "piece", "orders": "order_no", "sales": "piece", "moves": "pieces",
}  # fmt: skip
"""Record → the field that its only column of tags is."""
MONEY = {"pieces": "list_price", "orders": "price", "sales": "price", "payments": "amount", "purchases": "amount"}
SIZES = ("length", "width", "thickness")
SIZED = ("pieces", "purchases")
UNIQUE, REPEATED = 1.0, -2.0
"""What it weighs for a tag that its row puts on record that no other row has it; that others do."""

IN_WORDS, HALF = 8.0, 0.5
"""What words in a column that is called by the piece weigh for the product, where the tags stand beside it."""
COUNTED = ("purchases", "usage", "counts")
"""Records of quantities whose unit may stand beside them."""
_DAY_OF_MONTH = rf"{WEEKDAY}(?:0?[1-9]|[12]\d|3[01])(?:st|nd|rd|th|\.)?$"
_CLOCK = r"^\d{1,2}:\d\d$"
_LASTING = rf"{BARE}|{SPAN}|{_CLOCK}|^\d*[.,]?\d+\s*(?:h|hrs?|min|m)$"
_CENTS = r"[.,]\d\d\b|[$€£]"
MARKED = 6.0
"""What it weighs for the money of a row that its column is called by the mark of a currency alone."""
TAXED = ("purchases", "sales")
MOST = 0.95
_OF_MANY, _SMALL = 0.3, 12
"""Tags of so many different ones at least; numbers up to there count rather than cost."""


def add(found: dict[str, Weights], table: TextTable, columns: Sequence[Column]) -> None:
    """Add what the columns say to the weights (column, field) of each record."""
    amounts = helper_columns.amounts_of(table, columns)
    _add_hours(found["hours"], table, columns)
    _add_marked(found, columns)
    _add_line_totals(found["purchases"], table, amounts, columns)
    if table.frame.height < LEAST_ROWS:
        return
    _add_tags(found, table, columns)
    _add_sizes(found, columns)
    _add_times(found["hours"], columns)
    _add_money(found, amounts, columns)
    _add_quantities(found, amounts, columns)
    headers = {column.name: column.header for column in columns}
    for net, tax in helper_columns.taxed_pairs(amounts):
        found["purchases"][net, "amount"] += PROVEN
        found["purchases"][tax, "tax"] += PROVEN
        found["purchases"][tax, "amount"] -= PROVEN
        if header_names.weight(headers[tax], "sales", "sales_tax", "money") > 0:
            found["sales"][net, "price"] += PROVEN
            found["sales"][tax, "sales_tax"] += PROVEN


def days_below(table: TextTable, columns: Sequence[Column]) -> Column | None:
    """The one column of numbers of days, where headings or titles name the months that these are of."""
    said = map(period_of, (*table.titles, *(text for _, text in table.sections)))
    if not any(period.month for period in said):
        return None
    found = [c for c in columns if c.texts.len() and c.texts.str.contains(_DAY_OF_MONTH).all()]
    return found[0] if len(found) == 1 else None


def _add_tags(found: dict[str, Weights], table: TextTable, columns: Sequence[Column]) -> None:
    least = max(LEAST_ROWS, int(_OF_MANY * table.frame.height))
    tagged = [c.name for c in columns if c.texts.len() >= least and c.texts.str.contains(TAG).mean() > 0.9]  # type: ignore[operator]
    for record, name in TAGS.items():
        if len(tagged) == 1:
            found[record][tagged[0], name] += SOLE
        makes = RECORDS[record].field(name).makes or RECORDS[record].key
        for column in tagged if makes else ():
            cells = table.frame[column].drop_nulls()
            found[record][column, name] += UNIQUE if cells.n_unique() == cells.len() else REPEATED
    if tagged:  # beside the tags of pieces a “Piece” in words is what kind it is
        for c in columns:
            called = header_names.weight(c.header, "pieces", "piece", "tag") >= header_names.SPELLED
            if called and c.name not in tagged and share_true(c.texts.str.contains(r"\d")) < HALF:
                found["pieces"][c.name, "product"] += IN_WORDS
    for column in tagged:  # the piece of a count is what it was saved from, in a row or two
        found["counts"][column, "piece"] -= PROVEN


def _add_times(weights: Weights, columns: Sequence[Column]) -> None:
    """The only column of hours and minutes is how long work took: where it began says nothing without its end."""
    clocks = [c.name for c in columns if c.texts.len() > 1 and c.texts.str.contains(_CLOCK).all()]
    if len(clocks) == 1:
        weights[clocks[0], "hours"] += PROVEN
        weights[clocks[0], "started_at"] -= PROVEN
        weights[clocks[0], "ended_at"] -= PROVEN


def _add_marked(found: dict[str, Weights], columns: Sequence[Column]) -> None:
    """The one column that is called but by the mark of a currency is the money of its row; whether it holds the tax is
    asked where its header doesn't say so."""
    marked = [c for c in columns if c.texts.len() and helper_columns.is_money_mark(c.header)]
    for column in marked if len(marked) == 1 else ():
        for record, name in MONEY.items():
            if record not in TAXED or helper_columns.says_gross(column.header):
                found[record][column.name, name] += MARKED
                found[record][column.name, ""] -= LIKELY


def _add_hours(weights: Weights, table: TextTable, columns: Sequence[Column]) -> None:
    """Beside a column of units of time, and in rows that are work by their own word, the only column of numbers is how
    long it took."""
    unit = helper_columns.unit_of_time(columns)
    said = bool(unit) or (table.part is not None and table.part.record == "hours")
    timed = [c for c in columns if c.texts.len() and share_true(c.texts.str.contains(_LASTING)) > MOST]
    if unit:
        weights[unit.name, ""] += PROVEN
    if said and len(timed) == 1:
        weights[timed[0].name, "hours"] += 3 * PROVEN
        weights[timed[0].name, ""] -= PROVEN


def _add_sizes(found: dict[str, Weights], columns: Sequence[Column]) -> None:
    """Columns of sizes, as their headers' units say, stand as one says them: length, width, thickness."""
    sized = [c.name for c in columns if unit_in_header(c.header, "length")]
    if len(sized) not in (2, 3):
        return
    for record in SIZED:
        for column, name in zip(sized, SIZES, strict=False):
            for each in (f.name for f in RECORDS[record]):
                found[record][column, each] += LIKELY if each == name else 0.0 if each in SIZES else -PROVEN
            found[record][column, ""] -= LIKELY


def _add_line_totals(weights: Weights, table: TextTable, amounts: pl.DataFrame, columns: Sequence[Column]) -> None:
    """A total that every row has, where no column is the amount, is the row's, unless rows of one receipt (else of
    one day and supplier) all repeat it."""

    def called(name: str, kind: str) -> list[str]:
        return [
            c.name for c in columns if header_names.weight(c.header, "purchases", name, kind) >= header_names.SPELLED
        ]

    totals = [name for name in called("total", "money") if name in amounts.columns]
    if len(totals) != 1 or called("amount", "money") or helper_columns.price_of_one(table, columns):
        return
    rows = amounts.select(total=totals[0]).with_columns(table.frame.select(pl.exclude("row", totals[0])))
    together = called("receipt", "tag") or [*called("date", "date"), *called("supplier", "word")]
    shared = rows.group_by(together).agg(rows=pl.len(), totals=pl.col("total").n_unique()).filter(pl.col("rows") > 1)
    if rows["total"].null_count() or (together and shared.height and (shared["totals"] == 1).all()):
        return
    weights[totals[0], "amount"] += 2 * PROVEN
    weights[totals[0], "total"] -= 2 * PROVEN


def _add_money(found: dict[str, Weights], amounts: pl.DataFrame, columns: Sequence[Column]) -> None:
    measured = {c.name for c in columns if any(unit_in_header(c.header, kind) for kind in ("length", "quantity"))}
    costing = [
        column.name
        for column in amounts
        if column.name not in measured
        and column.drop_nulls().n_unique() >= LEAST_ROWS
        and (column.abs().max() or 0) > _SMALL  # type: ignore[operator]
        and not (column.diff().drop_nulls() == 1).all()
    ]
    if len(costing) == 1:
        for record, name in MONEY.items():
            found[record][costing[0], name] += SOLE


def _add_quantities(found: dict[str, Weights], amounts: pl.DataFrame, columns: Sequence[Column]) -> None:
    """Beside a column of units the only numbers without cents are the quantity; two columns whose headers say a unit
    of weight or volume are the parts of a mix."""
    units = Units()
    measured = [c.name for c in columns if unit_in_header(c.header, "quantity") and c.name in amounts.columns]
    if len(measured) > 1:
        for column, name in zip(measured, ("part_a", "part_b"), strict=False):
            found["pours"][column, name] += LIKELY
    beside = any(c.texts.len() > 1 and contents.units_share(c.texts, units) == 1 for c in columns)
    bare = [
        c.name
        for c in columns
        if c.name in amounts.columns and not c.texts.str.contains(_CENTS).any() and amounts[c.name].max() is not None
    ]
    counting = [name for name in bare if (amounts[name].diff().drop_nulls() == 1).all()]
    if beside and len(set(bare) - set(counting)) == 1:
        (column,) = set(bare) - set(counting)
        for record in COUNTED:
            found[record][column, "quantity"] += PROVEN
