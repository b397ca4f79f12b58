"""A month on two sheets: one page of HTML with its pictures inside, to print, to keep, to send."""

from collections.abc import Iterable, Sequence
from datetime import date
from functools import cache
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import UserError
from pipeline.reports import month_charts
from pipeline.reports.finding import rows_of
from pipeline.reports.words import TOO_FEW_HOURS, amount, count, share
from pipeline.writing import whole

SHOWN = 12
"""Rows of a list of pieces, so that two sheets hold them in any month; the rest stands below as a sum."""

NO_ADVICE = (
    "These are figures to steer by, made from the shop's own records: no tax advice and no set of accounts. What the "
    "tax office wants, a licensed accountant says."
)
CAUTION = (
    "Uncured resin, wood dust and torches can hurt, and nothing here says that a finish is fit for food: follow the "
    "product's data sheet, your local codes and licensed practice."
)

Row = dict[str, Any]


def write(con: duckdb.DuckDBPyConnection, folder: Path, month: date, digits: int = 2) -> Path:
    """Write `folder/month-<yyyy-mm>.html`. Raises `UserError` for a month without a record."""
    page = html(con, month, digits)
    return whole.write(whole.make_folder(folder) / f"month-{month:%Y-%m}.html", page)


def html(con: duckdb.DuckDBPyConnection, month: date, digits: int = 2) -> str:
    """The page."""
    asked = {name: rows_of(con, query, month=month, shown=SHOWN) for name, query in _queries().items()}
    if not asked["result"]:
        first, last = con.execute("select min(month), max(month) from money.month").fetchall()[0]
        known = f"Name one from {first:%Y-%m} to {last:%Y-%m}." if first else "Put records into the inbox first."
        raise UserError(f"{month:%B %Y} is not on record.", mend=known)
    shop, result = asked["shop"][0], asked["result"][0]
    money = _Money(shop["currency"], digits)
    title = f"{shop['name']}, {month:%B %Y}"
    first_sheet = [*_answer(shop, result, asked, money), *_pictures(asked, result, money), *_lines(asked, money)]
    second_sheet = [
        *_events(asked["events"], money),
        *_made(asked["made"], money),
        *_sold(asked["sold"], money),
        *_material(asked, money, shop["units"]),
        *_rework(asked, result, money),
        f'<p class="mind">{escape(NO_ADVICE)} {escape(CAUTION)}</p>',
    ]
    style = files("pipeline").joinpath("reports", "month.css").read_text(encoding="utf-8")
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{style}</style></head><body>\n'
        f"<main>{''.join(first_sheet)}</main>\n"
        f'<section class="sheet">{"".join(second_sheet)}</section>\n</body></html>\n'
    )


class _Money:
    """Amounts in the shop's currency: `round` without minor units, as in sentences."""

    def __init__(self, currency: str, digits: int) -> None:
        self.currency, self.digits = currency, digits

    def __call__(self, cents: int | None) -> str:
        return amount(cents, self.digits).replace("-", "\u2212")

    def round(self, cents: float | None) -> str:
        # a half upwards, as pictures round it; what is estimated is no whole number of cents
        scale = 10**self.digits
        whole = None if cents is None else int((2 * abs(cents) + scale) // (2 * scale)) * (-1 if cents < 0 else 1)
        return amount(whole, 0).replace("-", "\u2212")

    def named(self, cents: int | None) -> str:
        return f"{self.currency} {self(cents)}"

    def plain(self, cents: int | None) -> float | None:
        """For a picture's axis."""
        return None if cents is None else cents / 10**self.digits


@cache
def _queries() -> dict[str, str]:
    text = files("pipeline").joinpath("reports", "month.sql").read_text(encoding="utf-8")
    parts = (part.partition("\n") for part in text.split("-- @query ")[1:])
    return {name.strip(): query for name, _, query in parts}


# --- the first sheet --------------------------------------------------------------------------------------------------


def _answer(shop: Row, result: Row, asked: dict[str, list[Row]], money: _Money) -> Iterable[str]:
    verb = "made" if result["result_cents"] >= 0 else "lost"
    said = f"{result['month']:%B %Y} {verb} {money.currency} {money.round(abs(result['result_cents']))} after own pay"
    if result["pay_per_hour_cents"] is not None:
        said += f"; an hour of the owners' work paid {money(result['pay_per_hour_cents'])}"
    elif result["owner_hours"]:
        said += f"; {TOO_FEW_HOURS}"
    owed = f"tax owed {money.round(result['tax_owed_cents'])}"
    state = "closed" if result["closed"] else "so far" if not result["whole"] else "not yet closed"
    yield f'<p class="head"><span>{escape(shop["name"])}</span><span>All money in {money.currency}; {state}</span></p>'
    yield f"<h1>{escape(said)}.</h1>"
    yield from (f"<p>{escape(row['sentence'])}</p>" for row in asked["sentences"] if row["sentence"])
    yield _figures(
        [
            ("Sold", money.round(result["revenue_cents"]), f"{count(result['pieces_sold'], 'piece')}, without tax"),
            ("Result with own pay", money.round(result["result_cents"]), "own pay counted as a cost"),
            ("Result in the books", money.round(result["books_result_cents"]), "before the owners' pay"),
            ("An hour paid", money(result["pay_per_hour_cents"]), f"{result['owner_hours']:,.0f} owners' hours"),
            ("Cash at the end", money.round(result["cash_end_cents"]), owed),
        ]
    )  # fmt: skip


def _figures(entries: Sequence[tuple[str, str, str]]) -> str:
    cells = "".join(
        f'<div><dt>{escape(name)}</dt><dd>{escape(figure)}</dd><dd class="note">{escape(note)}</dd></div>'
        for name, figure, note in entries
    )
    return f'<dl class="figures">{cells}</dl>'


def _pictures(asked: dict[str, list[Row]], result: Row, money: _Money) -> Iterable[str]:
    yield '<div class="two">'
    steps = asked["bridge"]
    if steps:
        other = f"{steps[0]['other_month']:%B %Y}"
        parts = [(row["part_name"], money.plain(row["cents"]) or 0.0, False) for row in steps if row["cents"]]
        ends = (money.plain(steps[0]["other_result_cents"]) or 0.0, money.plain(result["result_cents"]) or 0.0)
        drawn = month_charts.bridge(
            [(other, ends[0], True), *parts, (f"{result['month']:%B %Y}", ends[1], True)], money.currency
        )
        title = f"What made the difference to {other}"
        told = ", ".join(f"{row['part_name'].lower()} {money.round(row['cents'])}" for row in steps if row["cents"])
        yield _figure(drawn, title, f"{title}: {told}")
    months = [(row["month"], money.plain(row["pay_per_hour_cents"]), row["chosen"]) for row in asked["course"]]
    paid = result["pay_per_hour_cents"]
    title = TOO_FEW_HOURS.capitalize() if paid is None else f"An hour of the owners' work paid {money(paid)}"
    told = ", ".join(f"{row['month']:%b %y} {money(row['pay_per_hour_cents'])}" for row in asked["course"])
    yield _figure(month_charts.course(months, f"{money.currency} an hour"), title, f"{title}, by month: {told}")
    yield "</div>"


def _figure(drawn: str, title: str, told: str) -> str:
    svg = drawn.replace("<svg", f'<svg role="img" aria-label="{escape(told, quote=True)}"', 1)
    return f"<figure><figcaption>{escape(title)}</figcaption>{svg}</figure>"


def _lines(asked: dict[str, list[Row]], money: _Money) -> Iterable[str]:
    rows = [(row["line"], money(row["cents"])) for row in asked["lines"]]
    table = _table(
        ("From what was sold to the result", money.currency), rows, sums=lambda row: row[0].startswith("Result")
    )
    left = f"<div><h2>The result, line by line</h2>{table}</div>"
    yield f'<div class="two">{left}<div>{_advice(asked, money)}</div></div>'


def _advice(asked: dict[str, list[Row]], money: _Money) -> str:
    result, lines = asked["result"][0], []
    if result["period_labour_cents"] > 0:
        lines.append(
            f"{money.currency} {money.round(result['period_labour_cents'])} of hours name no piece. Those at the bench "
            "become part of a piece's cost when the row names it."
        )
    if result["not_absorbed_cents"] > 0:
        lines.append(f"{money.currency} {money.round(result['not_absorbed_cents'])} of rent and machines stood idle.")
    if result["gross_margin_cents"] < 0:
        lines.append("What was sold brought less than it cost: look at the prices of the pieces overleaf.")
    lines += [_saving(row, money) for row in asked["savings"]]
    lines += [f"{count(row['rows'], 'time')}: {row['meaning']}" for row in asked["findings"]]
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<h2>What to do about it</h2><div class="do"><ul>{items}</ul></div>' if lines else ""


def _saving(row: Row, money: _Money) -> str:
    kind = row["factor"].replace("_", " ") if row["level"] == "yes" else row["level"]
    back = f"{row['events']} of {row['pieces']} pieces ({100 * row['rate_low']:.0f} to {share(row['rate_high'])})"
    most = f"9 times in 10 {money.round(row['low'])} to {money.round(row['high'])}"
    more = f"{money.currency} {money.round(row['cents_per_month'])} a month ({most})"
    return f"{kind.capitalize()}: {back} came back; its rework beyond that of comparable pieces came to some {more}."


# --- the second sheet -------------------------------------------------------------------------------------------------


def _events(rows: list[Row], money: _Money) -> Iterable[str]:
    yield "<h2>Markets and fairs</h2>"
    if not rows:
        yield '<p class="quiet">None on record: an event stands on its sales, its booth fee and its hours.</p>'
        return
    heads = ("Event", "Day", "Sold", "Taken", "Booth", "Result", "Hours", "An hour paid")
    cells = [
        (
            row["event"], row["on_date"].isoformat(), str(row["units"]), money(row["taken_cents"]),
            money(row["booth_cents"]), money(row["result_cents"]), f"{row['hours']:,.1f}",
            money(row["pay_per_hour_cents"]),
        )
        for row in rows
    ]  # fmt: skip
    yield _table(heads, cells, words=2)


def _made(rows: list[Row], money: _Money) -> Iterable[str]:
    yield f"<h2>{count(rows[0]['all_rows'] if rows else 0, 'piece')} or runs finished</h2>"
    if not rows:
        yield '<p class="quiet">No piece has a day of this month in finished.</p>'
        return
    heads = ("Piece", "Product", "Wood and finish", "Units", "Hours", "Rework", "Cost", "Each", "Estimated")
    cells = [
        (
            row["piece"], row["product"] or "", ", ".join(filter(None, (row["species"], row["finish"]))),
            str(row["quantity"]), f"{row['hours'] or 0:,.1f}", money(row["rework_cents"]), money(row["made_cents"]),
            money(row["unit_cents"]), share(row["estimated_share"]),
        )
        for row in rows
    ]  # fmt: skip
    yield _table(heads, cells, words=3)
    yield _rest(rows, "made_cents", "cost", money)


def _sold(rows: list[Row], money: _Money) -> Iterable[str]:
    went = rows[0]["went_rows"] if rows else 0
    back = f", {rows[0]['all_rows'] - went} that came back" if rows and rows[0]["all_rows"] > went else ""
    yield f"<h2>{count(went, 'piece')} or runs sold{back}</h2>"
    if not rows:
        yield '<p class="quiet">No sale of this month names, or was given, a piece.</p>'
        return
    heads = ("Piece", "Product", "Brought", "Cost", "Selling", "Left")
    cells = [
        (
            row["piece"], row["product"] or "", money(row["brought_cents"]), money(row["cost_cents"]),
            money(row["selling_cents"]), money(row["left_cents"]),
        )
        for row in rows
    ]  # fmt: skip
    yield _table(heads, cells, words=2)
    yield _rest(rows, "left_cents", "left", money)


def _rest(rows: list[Row], column: str, what: str, money: _Money) -> str:
    more = rows[0]["all_rows"] - len(rows)
    if not more:
        return f'<p class="quiet">Together they {what} {money(rows[0]["all_cents"])}.</p>'
    rest = rows[0]["all_cents"] - sum(row[column] or 0 for row in rows)
    return f'<p class="quiet">{more} more {what} {money(rest)}; all together {money(rows[0]["all_cents"])}.</p>'


def _material(asked: dict[str, list[Row]], money: _Money, units: str) -> Iterable[str]:
    yield '<div class="two"><div><h2>Resin</h2>'
    resin = asked["resin"]
    if resin:
        # by definition the international pound is 453.59237 g, and holds 16 ounces
        unit, size, digits = ("oz", 453.59237 / 16, 1) if units == "us" else ("g", 1.0, 0)
        heads = ("Resin", f"Poured, {unit}", f"Good, {unit}", "Good", f"Waste, {money.currency}")
        cells = [
            (
                row["item"], f"{row['poured_g'] / size:,.{digits}f}", f"{row['good_g'] / size:,.{digits}f}",
                share(row["good_share"]), money(row["waste_cents"]),
            )
            for row in resin
        ]  # fmt: skip
        yield _table(heads, cells)
    else:
        yield '<p class="quiet">No pour of this month has its grams.</p>'
    yield "</div><div><h2>Wood</h2>"
    used = asked["wood_used"][0]
    # 144 cubic inches of 25.4 mm: by definition 2.359737216 dm³
    volume = f"{used['used_mm3'] / 2359737.216:,.1f} bf" if units == "us" else f"{used['used_mm3'] / 1e6:,.1f} dm³"
    yield f"<p>{escape(volume)} went into pieces this month, at {escape(money.named(used['cents']))}.</p>"
    if asked["wood"]:
        yields = [
            (row["level"], str(row["pieces"]), f"{share(row['yield_share'])} ({_range(row)})") for row in asked["wood"]
        ]
        yield _table(("All time", "Pieces", "Of the lot in finished pieces"), yields)
    yield "</div></div>"


def _range(row: Row) -> str:
    if row["low_share"] is None or row["high_share"] is None:
        return "too few to say"
    return f"{100 * row['low_share']:.0f} to {share(row['high_share'])}"


def _rework(asked: dict[str, list[Row]], result: Row, money: _Money) -> Iterable[str]:
    yield "<h2>Rework</h2>"
    cost = f"Mending took {result['rework_hours']:,.1f} hours and {money.named(asked['rework_cost'][0]['cents'])}."
    if asked["quality"]:
        row = asked["quality"][0]
        where = "outside" if row["outside"] else "within"
        limits = f"{100 * (row['lower'] or 0):.0f} to {share(row['upper'])}"
        cost += (
            f" {row['first_pass']} of {count(row['pieces'], 'judged piece')} passed first time; a rework rate of "
            f"{share(row['rate'])} is {where} what chance alone gives ({limits}, mean {share(row['centre'])})."
        )
    else:
        cost += " No inspection judges a piece of this month."
    yield f"<p>{escape(cost)}</p>"
    if asked["defects"]:
        found = ", ".join(
            f"{row['defect']} {row['times']} × ({row['action'] or 'undecided'})" for row in asked["defects"]
        )
        yield f"<p>Found most often: {escape(found)}.</p>"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1, sums: Any = None) -> str:
    """A table whose first `words` columns are words, and all others figures."""
    side = ["" if place < words else ' class="num"' for place in range(len(heads))]
    head = "".join(f'<th scope="col"{s}>{escape(text)}</th>' for s, text in zip(side, heads, strict=True))
    body = "".join(
        f"<tr{' class=sum' if sums and sums(row) else ''}>"
        + "".join(f"<td{s}>{escape(cell)}</td>" for s, cell in zip(side, row, strict=True))
        + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
