"""What is worth doing this week: the few things on which most money hangs, of all that is known."""

from collections.abc import Callable
from datetime import date
from html import escape
from typing import Any

import polars as pl
import streamlit as st

from dashboard import links, widgets, words
from dashboard.sections import rework_details, rework_tries
from dashboard.widgets import Column, Lead, Page

QUESTION = "What is worth doing this week?"
FIRST = 5

WORTH = {
    "answer": "{} waits for the answer",
    "find": "{} of a year is a guess until then",
    "log": "{} of a year is a guess until then",
    "name": "{} of a year is in no piece until then",
    "price": "{} on what of it is unsold",
    "change": "{} lost in a year",
    "try": "{} more rework a year, if nothing else differs",
    "buy": "Orders worth {} or more wait for it",
    "use": "{} of it lies there",
    "reconcile": "{} apart",
    "close": "No money that is on record hangs on it",
}
"""The deed → what hangs on it, of an amount."""

Said = tuple[str, str, Lead]
"""What to do, in a few words; why, with its money; and where it is done."""


def show(page: Page) -> None:
    found = page.book.worth_doing()
    worth = found.filter(pl.col("at_stake_cents") > 0)
    if not page.book.months().filter(pl.col("recorded")).height:
        widgets.answer(QUESTION, "Nothing yet: no month has a record.")
        widgets.empty("No record has a date yet.", "Put sales, hours and receipts into the inbox, then refresh.")
        return
    widgets.answer(QUESTION, _sentence(worth, page))
    first = found.head(FIRST)
    st.html(f'<ol class="kl-week">{"".join(_line(page, row) for row in first.iter_rows(named=True))}</ol>')
    rest = found.slice(FIRST)
    if rest.height and (box := widgets.folded(f"{words.count(rest.height, 'more thing')} to do", "more")):
        with box:
            told = rest.with_columns(
                pl.Series("what", [". ".join(_said(page, row)[:2]) for row in rest.iter_rows(named=True)], pl.String)
            )
            columns = [
                Column("what", "What to do, and why", long=True),
                Column("at_stake_cents", "Hangs on it", page.money, number=True),
            ]
            widgets.table(page, told, columns, "more-to-do", 20, leads=lambda row: _said(page, row)[2])
    widgets.say(
        "Looked at are questions, receipts, hours, prices, products, rework, orders in hand, resin and cash. Ranked by "
        "the money of a year that hangs on each, times how sure it is that doing it moves so much; what a record would "
        "show counts half, since it is as likely more as less than what stands in for it, and so does what a few "
        "units lost.",
        quiet=True,
    )


def _sentence(worth: pl.DataFrame, page: Page) -> str:
    if not worth.height:
        return "Nothing with money on it is asked, missing, or priced below its cost."
    first = worth.row(0, named=True)
    return f"First: {_lower(_said(page, first)[0])}; {_lower(_worth(page, first))}."


def _line(page: Page, row: dict[str, Any]) -> str:
    what, why, (opens, value) = _said(page, row)
    there = links.address(opens, value, st.query_params.to_dict())
    return (
        f'<li><a href="{escape(there, quote=True)}" target="_self">{escape(what)}</a>'
        f'<p>{escape(why)}</p><p class="kl-quiet">{escape(_worth(page, row))}.</p></li>'
    )


def _worth(page: Page, row: dict[str, Any]) -> str:
    """What hangs on it, as its kind of money is called."""
    if not row["at_stake_cents"]:
        return WORTH["close"]
    return WORTH[row["deed"]].format(page.money.round(row["at_stake_cents"]))


def _lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def _said(page: Page, row: dict[str, Any]) -> Said:
    return _DEEDS[row["deed"]](page, row)


def _answer(page: Page, row: dict[str, Any]) -> Said:
    return (
        "Answer a question",
        f"{row['subject']} {words.count(row['times'], 'row')} {_waits(row)} for it.",
        ("files?more-questions", "true"),
    )


def _waits(row: dict[str, Any]) -> str:
    return "waits" if row["times"] == 1 else "wait"


def _find(page: Page, row: dict[str, Any]) -> Said:
    why = "More was used than was ever bought: what it cost is taken from the price of another time."
    return f"Find the receipt for {row['subject']}", why, widgets.behind("flow", row["about"])


def _log(page: Page, row: dict[str, Any]) -> Said:
    pieces = words.count(row["times"], "piece")
    why = f"{pieces} of the last twelve months have none on record, and cost what others took."
    return f"Log {row['subject']}", why, ("log?kind", "Work")


def _name(page: Page, row: dict[str, Any]) -> Said:
    name = "names" if row["times"] == 1 else "name"
    why = f"{words.count(row['times'], 'stretch', 'stretches')} of it {name} no piece: a cost of the month alone."
    return f"Name the pieces of {row['subject']}", why, widgets.behind("unplaced", row["subject"])


def _price(page: Page, row: dict[str, Any]) -> Said:
    short = row["at_stake_cents"] // max(row["times"], 1)
    listed = f"A {row['about']} listed at {page.money(row['price_cents'])}"
    why = f"{listed} leaves {page.money(short)} less than it costs today."
    if row["ask_cents"] and row["sold_pieces"]:
        why += f" {words.sold_as_high(row['sold_as_high_pieces'], row['sold_pieces'])}."
    ask = f" at {page.money(row['ask_cents'])}" if row["ask_cents"] else " anew"
    if row["seldom_sold"]:
        ask += ", or make no more like it"
    return f"Price {row['subject']}{ask}", why, ("pieces?piece", row["subject"])


def _change(page: Page, row: dict[str, Any]) -> Said:
    there = ("pricing?quote-product", row["subject"])
    if row["times"] < words.FEW:
        few = f"{words.count(row['times'], 'unit')} sold in a year, at {page.money(row['price_cents'])}"
        each = "" if row["times"] == 1 else " on average"
        why = f"{few}{each}: too few to say that it always does."
        return f"See why {row['subject']} left less than it cost", why, there
    sold = f"{words.count(row['times'], 'unit')} of a year, at {page.money(row['price_cents'])} on average,"
    return f"Change or stop {row['subject']}", f"{sold} left less than they cost.", there


def _try(page: Page, row: dict[str, Any]) -> Said:
    mine = (pl.col("factor") == row["about"]) & (pl.col("level") == row["subject"])
    saving = page.book.savings().filter(mine).row(0, named=True)
    practice = row["subject"] == "yes"
    to_try = rework_tries.TRIES.get(row["about"], "") if practice else ""
    what = f"{to_try[:1].upper()}{to_try[1:]}" or f"Look at the rework of {rework_details.group_name(saving)}"
    return what, rework_tries.line(page, saving), ("rework?by", rework_details.FACTORS[row["about"]])


def _buy(page: Page, row: dict[str, Any]) -> Said:
    more = f" and {words.count(row['times'] - 1, 'more thing')}" if row["times"] > 1 else ""
    why = f"Orders in hand need more than is there, which costs about {page.money.round(row['price_cents'])}."
    return f"Buy {row['subject']}{more}", why, ("stock?cover", "true")


def _use(page: Page, row: dict[str, Any]) -> Said:
    why = "It is past its date, or will be within two months. The product's data sheet says if it is still good."
    return f"Use up {row['subject']}", why, widgets.behind("flow", row["subject"])


def _reconcile(page: Page, row: dict[str, Any]) -> Said:
    why = "From that month on the books and the bank's balance differ by what stands below."
    return f"Look into the cash of {_month(row['subject'])}", why, ("month?month", row["subject"])


def _close(page: Page, row: dict[str, Any]) -> Said:
    why = (
        f"{words.count(row['times'], 'whole month')} can still change by a late record; a closed one keeps its figures."
    )
    return f"Close {_month(row['subject'])}, once all of it is in", why, ("month?month", row["subject"])


def _month(text: str) -> str:
    return words.month(date.fromisoformat(f"{text}-01"))


_DEEDS: dict[str, Callable[[Page, dict[str, Any]], Said]] = {
    "answer": _answer,
    "find": _find,
    "log": _log,
    "name": _name,
    "price": _price,
    "change": _change,
    "try": _try,
    "buy": _buy,
    "use": _use,
    "reconcile": _reconcile,
    "close": _close,
}
