"""What columns say of each other, row by row: quantity times price is the total, net and tax are the gross, a balance
runs, work begins before it ends, numbers only count the rows.

`relations` gives weights of evidence beside those of headers and contents: (column, field) → weight, "" = no field.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import combinations, permutations

import polars as pl

from pipeline.cleaning import KINDS, dates, numbers
from pipeline.cleaning.parsed import About
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS, Record
from pipeline.shop import Shop

Weights = dict[tuple[str, str], float]

ROWS = 300
MOST_NUMERIC = 9
"""So many columns of numbers are compared with each other at most."""
HOLDS = 0.95
LEAST_ROWS = 5

LEAST_COUNTED = 10
"""In so many rows at least amounts don't rise by one each by chance."""

PROVEN, LIKELY, SOLE, IN_TURN = 3.0, 1.5, 1.5, 3.5
"""What holds in every row; what mostly does; the only column of its kind; that one always comes before the other."""

SOLE_DAY = 4.0
"""The only column of days is the day, whatever it is called: “Found”, of a flaw."""

LINE = {"purchases": "amount", "sales": "price"}
"""Record → the field of its money; of a receipt that is the whole line, of a sale the price of each."""
TAX = {"purchases": "tax", "sales": "sales_tax"}
IN_ORDER = {"pieces": ("started", "finished"), "orders": ("date", "due"), "hours": ("started_at", "ended_at")}

MEASURED = ("quantity", "count")
"""Kinds of field that say how many or how much."""

NUMERIC = r"^(?:\p{L}{1,3}\.?\s*)?[^\w\d]*[-−]?[^\w\d]*\d[\d.,'’\s]*[^\w\d]*\p{L}{0,4}\.?$"


def relations(table: TextTable, columns: Iterable[str], shop: Shop) -> dict[str, Weights]:
    """For each record, what the columns of a table say of each other."""
    frame = table.frame.select(pl.col(list(columns)).str.strip_chars().replace("", None)).head(ROWS)
    found: dict[str, Weights] = {name: defaultdict(float) for name in RECORDS}
    if frame.height < LEAST_ROWS:
        return found
    amounts = _numbers(frame)
    for name, first in _counting(amounts):
        for record, weights in found.items():
            weights[name, ""] += PROVEN if first in (0, 1) else 0.0  # from elsewhere on it may be the row's own number
            for field in RECORDS[record]:
                counts = field.kind in MEASURED and frame.height >= LEAST_COUNTED
                weights[name, field.name] -= 3 * PROVEN if counts else 0.0
    _add_products(found, amounts)
    _add_sums(found, amounts)
    _add_balances(found["payments"], amounts)
    _add_orders(found, frame, shop)
    return found


def _numbers(frame: pl.DataFrame) -> pl.DataFrame:
    """The columns of numbers, as such; null where a cell is empty."""
    found = []
    for column in frame:
        filled = column.drop_nulls()
        if not filled.len() or filled.str.contains(NUMERIC).mean() < HOLDS:  # type: ignore[operator]
            continue
        found.append(column)
    marks = {mark for column in found if (mark := numbers.certain(column.drop_nulls().unique())) in (".", ",")}
    whole = marks.pop() if len(marks) == 1 else "."
    return pl.DataFrame([as_numbers(column, whole) for column in found[: 2 * MOST_NUMERIC]])


def as_numbers(column: pl.Series, whole: str = ".") -> pl.Series:
    """The numbers of a column that holds them, by its own decimal mark, else by that of the `whole` table."""
    mark = numbers.certain(column.drop_nulls().unique())
    mark = mark if mark in (".", ",") else whole
    number = column.str.replace_all("−", "-").str.extract(r"(-?[^\w\d-]{0,3}\d(?:.*\d)?)")
    bare = number.str.replace_all(rf"[^\d\-{mark}]", "")
    return bare.str.replace(mark, ".", literal=True).cast(pl.Float64, strict=False)


def _counting(amounts: pl.DataFrame) -> Iterator[tuple[str, float]]:
    """Columns that number the rows, up or down, with the least number: no row is so much of anything."""
    for column in amounts:
        steps = column.diff().drop_nulls()
        if column.null_count() == 0 and ((steps == 1).all() or (steps == -1).all()):
            yield column.name, float(column.min())  # type: ignore[arg-type]


def _varied(amounts: pl.DataFrame) -> list[str]:
    """Columns of several numbers."""
    return [column.name for column in amounts if column.drop_nulls().n_unique() > 2][:MOST_NUMERIC]


def _holding(amounts: pl.DataFrame, tests: dict[tuple[str, ...], pl.Expr]) -> list[tuple[str, ...]]:
    """The tests that hold in nearly all rows in which they say something."""
    if not tests:
        return []
    names = list(tests)
    done = amounts.select(
        expr.filter(~pl.all_horizontal(pl.col(list(names[at])) == 0)).mean().alias(str(at))
        for at, expr in enumerate(tests.values())
    )
    told = amounts.select(expr.count().alias(str(at)) for at, expr in enumerate(tests.values()))
    return [
        name
        for at, name in enumerate(names)
        if (done[str(at)][0] or 0) >= HOLDS and told[str(at)][0] >= max(LEAST_ROWS, amounts.height // 3)
    ]


def _near(one: pl.Expr, two: pl.Expr, slack: float) -> pl.Expr:
    return (one.abs() - two.abs()).abs() <= slack + 1e-6 * two.abs()


def _add_products(found: dict[str, Weights], amounts: pl.DataFrame) -> None:
    names = _varied(amounts)
    tests: dict[tuple[str, ...], pl.Expr] = {
        (a, b, c): _near(pl.col(a) * pl.col(b), pl.col(c), 0.011 + 0.0051 * 1)
        for a, b in combinations(names, 2)
        for c in names
        if c not in (a, b)
    }
    for a, b, c in _holding(amounts, tests):
        for record, money in LINE.items():
            weights, total = found[record], record == "purchases"
            weights[c, money if total else ""] += PROVEN
            weights[c, "quantity"] -= PROVEN
            if not total:
                weights[c, money] -= PROVEN
            counting = [part for part in (a, b) if (amounts[part].drop_nulls() % 1 == 0).all()]
            if len(counting) == 1:  # five of 2.40: what is whole counts, what has cents is the price of one
                weights[counting[0], "quantity"] += PROVEN
            for part in (a, b):
                weights[part, "quantity"] += LIKELY / 2
                weights[part, "" if total else money] += LIKELY
                if total:
                    weights[part, money] -= PROVEN


def _add_sums(found: dict[str, Weights], amounts: pl.DataFrame) -> None:
    """Net and tax are the gross: the net is the field; where a receipt has no other total, the gross can be that."""
    names = _varied(amounts)
    tests: dict[tuple[str, ...], pl.Expr] = {
        (net, tax, gross): _near(pl.col(net) + pl.col(tax), pl.col(gross), 0.011)
        & (pl.col(tax).abs() < pl.col(net).abs())
        for net, tax, gross in permutations(names, 3)
    }
    for net, tax, gross in _holding(amounts, tests):
        for record, money in LINE.items():
            weights = found[record]
            weights[net, money] += PROVEN
            weights[tax, TAX[record]] += PROVEN
            weights[tax, money] -= PROVEN
            weights[gross, money] -= 2 * PROVEN
            weights[gross, ""] += PROVEN


def _add_balances(weights: Weights, amounts: pl.DataFrame) -> None:
    names = _varied(amounts)
    tests: dict[tuple[str, ...], pl.Expr] = {}
    for amount, balance in permutations(names, 2):
        step, back = pl.col(balance).diff(), pl.col(balance).diff(-1)
        tests[amount, balance] = _near(step, pl.col(amount), 0.011) | _near(back, pl.col(amount), 0.011)
    for amount, balance in _holding(amounts, tests):
        weights[balance, "balance"] += PROVEN
        weights[balance, "amount"] -= 2 * PROVEN
        weights[amount, "amount"] += PROVEN
        weights[amount, "balance"] -= 2 * PROVEN


def _add_orders(found: dict[str, Weights], frame: pl.DataFrame, shop: Shop) -> None:
    """What comes first began; the only column of days is the day."""
    for kind, value in (("date", pl.Date), ("time", pl.Time)):
        read = {name: _moments(frame[name], kind, shop) for name in frame.columns}
        moments = pl.DataFrame({name: column.cast(value) for name, column in read.items() if column is not None})
        if kind == "date" and moments.width == 1:
            for name, record in RECORDS.items():
                if _has_date(record):
                    found[name][moments.columns[0], "date"] += SOLE_DAY
        if kind == "date" and moments.width == 2:
            # of a day and another beside it, as the one of value at a bank, the first is that of the record
            for name, record in RECORDS.items():
                if [f.name for f in record if f.kind == "date"] == ["date"]:
                    found[name][moments.columns[0], "date"] += LIKELY
                    found[name][moments.columns[1], "date"] -= LIKELY
        for first, last in permutations(moments.columns, 2):
            pairs = moments.select(first, last).drop_nulls()
            if pairs.height < LEAST_ROWS or (pairs[first] <= pairs[last]).mean() < HOLDS:  # type: ignore[operator]
                continue
            if (pairs[first] < pairs[last]).mean() < 0.5:  # type: ignore[operator]
                continue
            for record_name, (begins, ends) in IN_ORDER.items():
                if RECORDS[record_name].field(begins).kind == kind:
                    found[record_name][first, begins] += IN_TURN
                    found[record_name][last, ends] += IN_TURN
                    found[record_name][first, ends] -= LIKELY
                    found[record_name][last, begins] -= LIKELY


def _has_date(record: Record) -> bool:
    return any(field.name == "date" for field in record)


def _moments(column: pl.Series, kind: str, shop: Shop) -> pl.Series | None:
    """A column as days or times of day; None where it is not."""
    texts = column.drop_nulls().unique()
    if not texts.len() or texts.str.contains(r"\d").mean() < HOLDS:  # type: ignore[operator]
        return None
    order = dates.order(texts) if kind == "date" else ""
    field = RECORDS["hours"].field("date" if kind == "date" else "started_at")
    done = KINDS[kind].read(texts, About(field, shop, order=order if order in ("day", "month") else "day"))
    if done["value"].null_count() > 0.1 * done.height:
        return None
    known = dict(zip(done["text"], done["value"], strict=True))
    return pl.Series(column.name, [known.get(text) if text else None for text in column])
