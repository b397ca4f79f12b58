"""A month on two sheets: one page of HTML with its pictures inside, to print, to keep, to send."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from itertools import islice
from pathlib import Path
from typing import Any

import duckdb

from pipeline.enough import firm
from pipeline.errors import UserError
from pipeline.reports import month_charts, month_comparison
from pipeline.reports.finding import rows_of
from pipeline.reports.page import page
from pipeline.reports.words import PRACTICES, TOO_FEW_HOURS, amount, count, share
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

MONTH_BEFORE, YEAR_BEFORE = "the month before", "the same month last year"

Row = dict[str, Any]


def write(con: duckdb.DuckDBPyConnection, folder: Path, month: date, digits: int = 2) -> Path:
    """Write `folder/month-<yyyy-mm>.html`. Raises `UserError` for a month without a record."""
    text = html(con, month, digits)
    return whole.write(whole.make_folder(folder) / f"month-{month:%Y-%m}.html", text)


def html(con: duckdb.DuckDBPyConnection, month: date, digits: int = 2) -> str:
    """The page."""
    asked = {name: rows_of(con, query, month=month, shown=SHOWN) for name, query in _queries().items()}
    if not asked["result"]:
        first, last = con.execute("select min(month), max(month) from money.month").fetchall()[0]
        known = f"Name one from {first:%Y-%m} to {last:%Y-%m}." if first else "Put records into the inbox first."
        raise UserError(f"{month:%B %Y} is not on record.", mend=known)
    shop, result = asked["shop"][0], asked["result"][0]
    money = _Money(shop["currency"], digits)
    return page(
        "month.html",
        title=f"{shop['name']}, {month:%B %Y}",
        shop=shop["name"],
        **_answer(result, money),
        sentences=list(_differences(asked, money)),
        pictures=[*_pictures(asked, result, money)],
        lines=_lines(asked["lines"], money),
        advice=[*_advice(asked, money)],
        events=_events(asked["events"], money),
        made=_made(asked["made"], money),
        sold=_sold(asked["sold"], month, money),
        resin=_resin(asked["resin"], money, shop["units"]),
        wood=_wood(asked["wood_used"][0], money, shop["units"]),
        yields=_yields(asked["wood"]),
        rework=[*_rework(asked, result, money)],
        mind=f"{NO_ADVICE} {CAUTION}",
    )


@dataclass(frozen=True)
class Table:
    """A table whose first `words` columns are words, and all others figures; with `sums` its results stand out."""

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    words: int = 1
    sums: bool = False


@dataclass(frozen=True)
class Listed:
    """A part of the page: its heading, its table if it has rows, and what stands below."""

    title: str
    table: Table | None
    note: str = ""


@dataclass(frozen=True)
class Drawing:
    """A picture: its title, what it tells whoever can't see it, and the SVG that we drew."""

    title: str
    told: str
    svg: str


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


def _answer(result: Row, money: _Money) -> dict[str, Any]:
    verb = "made" if result["result_cents"] >= 0 else "lost"
    said = f"{result['month']:%B %Y} {verb} {money.currency} {money.round(abs(result['result_cents']))} after own pay"
    if result["pay_per_hour_cents"] is not None:
        said += f"; an hour of the owners' work paid {money(result['pay_per_hour_cents'])}"
    elif result["owner_hours"]:
        said += f"; {TOO_FEW_HOURS}"
    state = "closed" if result["closed"] else "so far" if not result["whole"] else "not yet closed"
    figures = [
        ("Sold", money.round(result["revenue_cents"]), f"{count(result['pieces_sold'], 'piece')}, without tax"),
        ("Result with own pay", money.round(result["result_cents"]), "own pay counted as a cost"),
        ("Result in the books", money.round(result["books_result_cents"]), "before the owners' pay"),
        ("An hour paid", money(result["pay_per_hour_cents"]), f"{result['owner_hours']:,.0f} owners' hours"),
        ("Cash at the end", money.round(result["cash_end_cents"]), f"tax owed {money.round(result['tax_owed_cents'])}"),
    ]
    return {"said": said, "state": f"All money in {money.currency}; {state}", "figures": figures}


def _differences(asked: dict[str, list[Row]], money: _Money) -> Iterator[str]:
    """Against the month before in two sentences, against the same one last year in one."""
    months = {row["month"]: row for row in asked["compared"]}
    for against, most in ((MONTH_BEFORE, 2), (YEAR_BEFORE, 1)):
        parts = [row for row in asked["bridge"] if row["against"] == against]
        if parts:
            now, past = asked["result"][0], months[parts[0]["other_month"]]
            yield from islice(month_comparison.sentences(parts, now, past, money.currency, money.digits), most)


def _pictures(asked: dict[str, list[Row]], result: Row, money: _Money) -> Iterator[Drawing]:
    steps = [row for row in asked["bridge"] if row["against"] == MONTH_BEFORE]
    if steps:
        other = f"{steps[0]['other_month']:%B %Y}"
        parts = [(row["part_name"], money.plain(row["cents"]) or 0.0, False) for row in steps if row["cents"]]
        ends = (money.plain(steps[0]["other_result_cents"]) or 0.0, money.plain(result["result_cents"]) or 0.0)
        drawn = month_charts.bridge(
            [(other, ends[0], True), *parts, (f"{result['month']:%B %Y}", ends[1], True)], money.currency
        )
        title = f"What made the difference to {other}"
        told = ", ".join(f"{row['part_name'].lower()} {money.round(row['cents'])}" for row in steps if row["cents"])
        yield Drawing(title, f"{title}: {told}", drawn)
    months = [(row["month"], money.plain(row["pay_per_hour_cents"]), row["chosen"]) for row in asked["course"]]
    paid = result["pay_per_hour_cents"]
    title = TOO_FEW_HOURS.capitalize() if paid is None else f"An hour of the owners' work paid {money(paid)}"
    told = ", ".join(f"{row['month']:%b %y} {money(row['pay_per_hour_cents'])}" for row in asked["course"])
    drawn = month_charts.course(months, f"{money.currency} an hour")
    yield Drawing(title, f"{title}, by month: {told}", drawn)


def _lines(lines: list[Row], money: _Money) -> Table:
    rows = [(row["line"], money(row["cents"])) for row in lines]
    return Table(("From what was sold to the result", money.currency), rows, sums=True)


def _advice(asked: dict[str, list[Row]], money: _Money) -> Iterator[str]:
    result = asked["result"][0]
    if asked["unnamed"][0]["cents"] > 0:
        yield (
            f"{money.currency} {money.round(asked['unnamed'][0]['cents'])} of bench hours name no piece: they become "
            "part of a piece's cost when the row names it."
        )
    if result["not_absorbed_cents"] > 0:
        yield f"{money.currency} {money.round(result['not_absorbed_cents'])} of rent and machines stood idle."
    if result["gross_margin_cents"] < 0:
        yield "What was sold brought less than it cost: look at the prices of the pieces overleaf."
    yield from (_saving(row, money) for row in asked["savings"])
    yield from (f"{count(row['rows'], 'time')}: {row['meaning']}" for row in asked["findings"])


def _saving(row: Row, money: _Money) -> str:
    kind = str(PRACTICES.get(row["factor"], row["factor"]) if row["level"] == "yes" else row["level"])
    span = f"{100 * row['rate_low']:.0f} to {share(row['rate_high'])}, 19 times in 20"
    back = f"{row['events']} of {row['pieces']} pieces ({span}) came back"
    most = f"{money.round(row['low'])} to {money.round(row['high'])}, 9 times in 10"
    more = f"{money.currency} {money.round(row['cents_per_month'])} a month ({most})"
    left = f"{money.currency} {money.round(row['margin_per_month_cents'])} a month after all cost"
    earned = f"; what was sold of it left {left}" if row["units"] else ""
    return f"{kind.capitalize()}: {back}; its rework beyond that of comparable pieces came to {more}{earned}."


# --- the second sheet -------------------------------------------------------------------------------------------------


def _events(rows: list[Row], money: _Money) -> Listed:
    title = "Markets and fairs"
    if not rows:
        return Listed(title, None, "None on record: an event stands on its sales, its booth fee and its hours.")
    heads = ("Event", "Day", "Sold", "Taken", "Booth", "Result", "Hours", "An hour paid")
    cells = [
        (
            row["event"], row["on_date"].isoformat(), str(row["units"]), money(row["taken_cents"]),
            money(row["booth_cents"]), money(row["result_cents"]), f"{row['hours']:,.1f}",
            money(row["pay_per_hour_cents"]),
        )
        for row in rows
    ]  # fmt: skip
    return Listed(title, Table(heads, cells, words=2))


def _made(rows: list[Row], money: _Money) -> Listed:
    title = f"{count(rows[0]['all_rows'] if rows else 0, 'piece')} or runs finished"
    if not rows:
        return Listed(title, None, "No piece has a day of this month in finished.")
    heads = ("Piece", "Product", "Wood and finish", "Units", "Hours", "Rework", "Cost", "Each", "Estimated")
    cells = [
        (
            row["piece"], row["product"] or "", ", ".join(filter(None, (row["species"], row["finish"]))),
            str(row["quantity"]), f"{row['hours'] or 0:,.1f}", money(row["rework_cents"]), money(row["made_cents"]),
            money(row["unit_cents"]), share(row["estimated_share"]),
        )
        for row in rows
    ]  # fmt: skip
    return Listed(title, Table(heads, cells, words=3), _rest(rows, "made_cents", "cost", money))


def _sold(rows: list[Row], month: date, money: _Money) -> Listed:
    first = rows[0] if rows else {"went_rows": 0, "back_rows": 0}
    back = f", {first['back_rows']} that came back" if first["back_rows"] else ""
    title = f"{count(first['went_rows'], 'piece')} or runs sold in {month:%B %Y}{back}"
    if not rows:
        return Listed(title, None, "Nothing was sold this month.")
    heads = ("Piece", "Product", "Brought", "Cost", "Selling", "Left")
    cells = [
        (
            row["piece"] or ("not known" if row["product"] else "of no one piece"), row["product"] or "",
            money(row["brought_cents"]), money(row["cost_cents"]), money(row["selling_cents"]),
            money(row["left_cents"]),
        )
        for row in rows
    ]  # fmt: skip
    note = f"{_rest(rows, 'left_cents', 'left', money).removesuffix('.')}, after cost, own pay in it, and selling."
    if first["later_rows"]:
        before = f"{count(first['later_rows'], 'piece')} sold before, of which something came only now"
        note += f" In it are {before}: {money(first['later_cents'])}."
    return Listed(title, Table(heads, cells, words=2), note)


def _rest(rows: list[Row], column: str, what: str, money: _Money) -> str:
    more = rows[0]["all_rows"] - len(rows)
    if not more:
        return f"Together they {what} {money(rows[0]['all_cents'])}."
    rest = rows[0]["all_cents"] - sum(row[column] or 0 for row in rows)
    return f"{more} more {what} {money(rest)}; all together {money(rows[0]['all_cents'])}."


def _resin(rows: list[Row], money: _Money, units: str) -> Listed:
    if not rows:
        return Listed("Resin", None, "No pour of this month has its grams.")
    # by definition the international pound is 453.59237 g, and holds 16 ounces
    unit, size, digits = ("oz", 453.59237 / 16, 1) if units == "us" else ("g", 1.0, 0)
    heads = ("Resin", f"Poured, {unit}", f"Good, {unit}", "Good", f"Waste, {money.currency}")
    cells = [
        (
            row["item"], f"{row['poured_g'] / size:,.{digits}f}", f"{row['good_g'] / size:,.{digits}f}",
            firm(share(row["good_share"]), row["pours"], "too few"), money(row["waste_cents"]),
        )
        for row in rows
    ]  # fmt: skip
    return Listed("Resin", Table(heads, cells))


def _wood(used: Row, money: _Money, units: str) -> str:
    # 144 cubic inches of 25.4 mm: by definition 2.359737216 dm³
    volume = f"{used['used_mm3'] / 2359737.216:,.1f} bf" if units == "us" else f"{used['used_mm3'] / 1e6:,.1f} dm³"
    return f"{volume} went into pieces this month, at {money.named(used['cents'])}."


def _yields(rows: list[Row]) -> Table | None:
    cells = [(row["level"], str(row["pieces"]), f"{share(row['gone_yield_share'])} ({_range(row)})") for row in rows]
    return (
        Table(("All time", "Pieces", "Of what is gone in finished pieces (19 times in 20)"), cells) if cells else None
    )


def _range(row: Row) -> str:
    if row["gone_low_share"] is None or row["gone_high_share"] is None:
        return "too few to say"
    return f"{100 * row['gone_low_share']:.0f} to {share(row['gone_high_share'])}"


def _rework(asked: dict[str, list[Row]], result: Row, money: _Money) -> Iterator[str]:
    cost = f"Mending took {result['rework_hours']:,.1f} hours and {money.named(asked['rework_cost'][0]['cents'])}."
    if asked["quality"]:
        row = asked["quality"][0]
        where = "outside" if row["outside"] else "within"
        limits = f"{100 * (row['lower'] or 0):.0f} to {share(row['upper'])}"
        # where few fail, the pieces since the last one count as well
        since = "of those since the last that did not, " if row["method"] == "g" else ""
        cost += f" {row['first_pass']} of {count(row['pieces'], 'judged piece')} passed first time"
        cost += firm(
            f"; {since}the share that did not, {share(row['rate'])}, is {where} the limits of a usual month ({limits}, "
            f"usually {share(row['centre'])}).",
            row["pieces"],
            ": too few to say more.",
        )
        if row["young_pieces"]:
            cost += f" {count(row['young_pieces'], 'piece')} of them may still come back."
    else:
        cost += " No inspection judges a piece of this month."
    yield cost
    if asked["defects"]:
        found = ", ".join(
            f"{row['defect']} {row['times']} × ({row['action'] or 'undecided'})" for row in asked["defects"]
        )
        yield f"Found most often: {found}."
