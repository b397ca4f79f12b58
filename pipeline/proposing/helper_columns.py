"""Columns that are no field but help to fill some, told from what stands in them: money in and out, a direction, a
gross price beside the net one; and needed fields that other cells tell, such as the category by the item."""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import permutations

import numpy as np
import polars as pl

from pipeline.cleaning.column_formats import texts_of
from pipeline.cleaning.helper_columns import MOST_TAX, ways
from pipeline.cleaning.item_categories import categories
from pipeline.cleaning.several_facts import sizes
from pipeline.cleaning.times_of_work import is_unit
from pipeline.cleaning.unicode_marks import in_usual_marks
from pipeline.proposing import header_names
from pipeline.proposing.columns import Column
from pipeline.proposing.row_relations import NUMERIC, as_numbers
from pipeline.readers.reader_output import TextTable
from pipeline.reference import header_key, synonyms, words_for
from pipeline.shop import Shop

HOLDS = 0.97
LEAST_ROWS = 4
MOST_COMPARED = 9
MOST_RATES = 3
"""So many rates of tax a file has at most."""
SIZES_SHARE = 0.8
KNOWN = 0.5
"""Of so many items the category must be known for its column not to be missed."""

_CENT = 0.011
_MARK = re.compile(r"[$€£¥]|(?:in )?(?:eur|usd|gbp|aud|cad|nzd|chf|euros?|dollars?)")
_INCLUSIVE = re.compile(rf"\b(?:{'|'.join(words_for('phrases', 'tax included'))})\b")


def find(table: TextTable, columns: Sequence[Column], shop: Shop) -> dict[str, Column]:
    """Role → column, for a table of payments."""
    amounts, way = amounts_of(table, columns), ways(shop)
    for column in columns:
        others = [name for name in amounts.columns if name != column.name]
        # all texts of the column are words for in and out, both ways of them
        if others and column.texts.len() >= 2 and {way(text) for text in column.texts} == {"in", "out"}:
            return {"direction": column}
    by_name = {column.name: column for column in columns}
    for out, come in _pairs(amounts):
        said = [way(by_name[name].header) for name in (out, come)]
        if said in (["out", "in"], ["out", ""], ["", "in"]) or (not any(said) and _balanced(amounts, out, come)):
            return {"money_out": by_name[out], "money_in": by_name[come]}
    return {}


def has_both_signs(texts: pl.Series) -> bool:
    """Whether some amounts of a column have a minus, and some have none, as on a bank's statement."""
    minus = texts.str.contains(r"^\W*[-−(]|[-−]\s*$")
    return bool(minus.any()) and not bool(minus.all())


def gross(table: TextTable, columns: Sequence[Column], net: str) -> Column | None:
    """The column that is the price with its tax beside the column `net`, where its own header says so, every row proves
    it, and no column is the tax."""
    amounts = amounts_of(table, columns)
    if net not in amounts.columns:
        return None
    for column in columns:
        if column.name == net or column.name not in amounts.columns or not says_gross(column.header):
            continue
        pair = amounts.select(net=net, gross=column.name).drop_nulls().filter(pl.col("net") > 0)
        taxes = [name for name in amounts.columns if name not in (net, column.name)]
        if (
            pair.height >= LEAST_ROWS
            and _taxed_alike(pair)
            and not any(_is_tax(amounts, net, column.name, t) for t in taxes)
        ):
            return column
    return None


def taxed_pairs(found: pl.DataFrame) -> list[tuple[str, str]]:
    """The columns of which one is a tax on the other, at rates that laws write."""
    pairs = permutations(found.columns[:MOST_COMPARED], 2)
    return [(net, tax) for net, tax in pairs if _holds_share(_on_top(found, net, tax), usual=True)]


def gross_alone(table: TextTable, columns: Sequence[Column]) -> tuple[Column, Column] | None:
    """The price with its tax, where its own header says so, and the tax in it, where no column is the price without."""
    amounts = amounts_of(table, columns)
    by_name = {column.name: column for column in columns}
    for whole, tax in permutations(amounts.columns, 2):
        others = [name for name in amounts.columns if name not in (whole, tax)]
        if (
            says_gross(by_name[whole].header)
            and not says_gross(by_name[tax].header)
            and _holds_share(_with_net(amounts, whole, tax))
            and not any(_is_tax(amounts, net, whole, tax) for net in others)
        ):
            return by_name[whole], by_name[tax]
    return None


def holds_tax(table: TextTable, columns: Sequence[Column], price: Column, tax: Column) -> bool:
    """Whether a price holds the tax that stands beside it: its header says so and every row allows it, or the rows
    prove it, since the tax is at a usual rate of what is left and of the price itself at none."""
    amounts = amounts_of(table, columns)
    if not {price.name, tax.name} <= set(amounts.columns):
        return False
    inside = _with_net(amounts, price.name, tax.name)
    if says_gross(price.header):
        return _holds_share(inside)
    if not _holds_share(inside, usual=True):
        return False
    on_top = inside.select(net="gross", gross=pl.col("gross") + pl.col("tax"))
    return not _taxed_alike(on_top, usual=True)


def _holds_share(pair: pl.DataFrame, *, usual: bool = False) -> bool:
    """Whether a few rates of tax explain many rows."""
    return pair.height >= LEAST_ROWS and _taxed_alike(pair, usual=usual, most=min(MOST_RATES, pair.height // 2))


def _on_top(amounts: pl.DataFrame, net: str, tax: str) -> pl.DataFrame:
    pair = amounts.select(net=net, tax=tax).drop_nulls().filter(pl.col("net") > 0)
    return pair.with_columns(gross=pl.col("net") + pl.col("tax"))


def _with_net(amounts: pl.DataFrame, whole: str, tax: str) -> pl.DataFrame:
    pair = amounts.select(gross=whole, tax=tax).drop_nulls().filter(pl.col("gross") > 0)
    return pair.with_columns(net=pl.col("gross") - pl.col("tax")).filter(pl.col("net") > 0)


def price_of_one(table: TextTable, columns: Sequence[Column]) -> Column | None:
    """The one column of money that says it is the price of one."""
    amounts = amounts_of(table, columns)
    said = {header_key(word) for word in words_for("phrases", "price of one")}
    found = [
        c for c in columns if c.name in amounts.columns and said.intersection(header_names.words_of(c.header, "money"))
    ]
    return found[0] if len(found) == 1 else None


def price_of_row(table: TextTable, columns: Sequence[Column]) -> Column | None:
    """The one column of money that says it is the total of the row, where none says that it is a price."""
    amounts = amounts_of(table, columns)
    known = synonyms("sales")["price"]
    money = [(c, header_names.words_of(c.header, "money")) for c in columns if c.name in amounts.columns]
    found = [column for column, texts in money if any(map(_says_row, texts))]
    prices = [column for column, texts in money if column not in found and known.intersection(texts)]
    return found[0] if len(found) == 1 and not prices else None


def _says_row(text: str) -> bool:
    said = {header_key(word) for word in words_for("phrases", "price of the row")}
    return text in said or (text.rpartition(" ")[0] in said and len(text.rpartition(" ")[2]) <= 3)


def unit_of_time(columns: Sequence[Column]) -> Column | None:
    """The one column in which nothing but units of time stand."""
    found = [c for c in columns if c.texts.len() and all(map(is_unit, c.texts))]
    return found[0] if len(found) == 1 else None


def holds_sizes(column: Column) -> bool:
    """Whether nearly all texts of a column are length, width and thickness in one: nothing else looks so."""
    several = [sizes(text) is not None for text in column.texts]
    return bool(several) and sum(several) >= SIZES_SHARE * len(several)


def told_by_item(texts: Iterable[str], shop: Shop) -> bool:
    """Whether the items themselves say what category most of them are of."""
    listed = list(texts)
    category = categories(shop)
    return bool(listed) and sum(bool(category(text)) for text in listed) >= KNOWN * len(listed)


def amounts_of(table: TextTable, columns: Sequence[Column]) -> pl.DataFrame:
    """The columns that hold numbers alone, as such."""
    found = []
    for column in columns:
        cells = in_usual_marks(texts_of(table, column.name))
        filled = cells.drop_nulls()
        if filled.len() and filled.str.contains(NUMERIC).all():
            found.append(as_numbers(cells))
    return pl.DataFrame(found)


def _pairs(amounts: pl.DataFrame) -> Iterator[tuple[str, str]]:
    """Two columns of which each row has its money in one and none in the other, both ways round."""
    if amounts.height < 2:
        return
    filled = amounts.select(pl.all().fill_null(0) != 0).to_numpy().astype(np.float64)
    # for all pairs at once: a damaged file can have hundreds of columns
    both, each = filled.T @ filled, filled.sum(axis=0)
    single = each[:, None] + each[None, :] - 2 * both
    fitting = (single >= HOLDS * amounts.height) & (both == 0) & (each[:, None] > 0) & (each[None, :] > 0)
    for one, two in np.argwhere(fitting):
        yield amounts.columns[one], amounts.columns[two]


def _balanced(amounts: pl.DataFrame, out: str, come: str) -> bool:
    """Whether a running balance proves which of two columns came in."""
    if amounts.height < LEAST_ROWS:
        return False
    amount = amounts[come].fill_null(0) - amounts[out].fill_null(0).abs()
    for name in amounts.columns:
        if name in (out, come) or amounts[name].null_count():
            continue
        for steps, moved in ((amounts[name].diff()[1:], amount[1:]), (-amounts[name].diff()[1:], amount[:-1])):
            if ((steps - moved).abs() < 0.006).mean() >= HOLDS:  # type: ignore[operator]
                return True
    return False


def says_gross(header: str) -> bool:
    """Whether a header says that the tax is in its amounts."""
    return bool(_INCLUSIVE.search(header_key(header)))


def is_money_mark(header: str) -> bool:
    """Whether a header is but the mark of a currency: "$", "€ inc"."""
    bare = _INCLUSIVE.sub(" ", header.casefold())
    return bool(_MARK.fullmatch(bare.strip()))


def settlement(table: TextTable, columns: Sequence[Column]) -> tuple[Column, Column, Column] | None:
    """What was taken, the fee kept of it, and what is left, row by row, as a card reader or a gallery settles."""
    amounts = amounts_of(table, columns)
    fees = [c for c in columns if c.name in amounts.columns and _says_fee(c.header)]
    by_name = {column.name: column for column in columns}
    for fee in fees:
        others = [name for name in amounts.columns if name != fee.name][:MOST_COMPARED]
        for whole, left in permutations(others, 2):
            rows = amounts.select(whole=pl.col(whole).abs(), fee=pl.col(fee.name).abs(), left=pl.col(left).abs())
            rows = rows.drop_nulls().filter(pl.col("fee") > 0)
            fits = ((rows["whole"] - rows["fee"] - rows["left"]).abs() < _CENT).sum()
            if rows.height >= LEAST_ROWS and fits >= HOLDS * rows.height:
                return by_name[whole], fee, by_name[left]
    return None


def _says_fee(header: str) -> bool:
    fee = max(header_names.weight(header, "sales", name, "money") for name in ("channel_fee", "payment_fee"))
    return fee > 0


def _taxed_alike(pair: pl.DataFrame, *, usual: bool = False, most: int = MOST_RATES) -> bool:
    """Whether all rows (`net`, `gross`) add tax at a few rates: each row's rate is that of the largest amounts, to the
    cent; `usual` = each a rate that laws write: of one decimal, or of eighths as in North America."""
    found = pair.sort("net", descending=True).with_columns(tax=pl.col("gross") - pl.col("net"))
    if not found["tax"].is_between(-0.006, MOST_TAX * found["net"] + 0.01).all():
        return False
    rates: list[float] = []
    for net, tax in found.select("net", "tax").rows():
        if any(abs(net * rate - tax) < 0.011 for rate in rates):
            continue
        near = [round(tax / net * parts) / parts for parts in ((1000, 800) if usual else (1000,))]
        rates.append(min(near, key=lambda rate: abs(net * rate - tax)))
        if len(rates) > most or abs(net * rates[-1] - tax) >= 0.011:
            return False
    return any(rate > 0 for rate in rates)


def _is_tax(amounts: pl.DataFrame, net: str, whole: str, tax: str) -> bool:
    fits = ((amounts[whole] - amounts[net] - amounts[tax]).abs() < 0.011).drop_nulls()
    return fits.len() >= LEAST_ROWS and int(fits.sum()) >= HOLDS * fits.len()
