"""The rules in force beside the figures that they shape: what `shop.toml` says for a day, each a link to its entry."""

from collections.abc import Callable, Iterator
from datetime import date
from html import escape
from typing import Any

import polars as pl
import streamlit as st

from dashboard import words
from dashboard.links import address, behind
from dashboard.view_context import Page

PPM = 1_000_000
BASIS = {
    "normal": "by the twelve months before",
    "so far": "by the months so far",
    "budget": "as budgeted",
}
TAX = {
    "none": "no tax on sales",
    "sales tax": "sales tax, owed and never revenue",
    "vat": "VAT, owed and never revenue",
    "flat rate": "a flat rate of what buyers pay is owed as tax",
}

Said = tuple[str, int | None]
"""A rule in words, and the row id of its setting; none for words that only lead up to the next."""


def show(page: Page, day: date, *topics: str) -> None:
    """A line with the rules of these topics (see `TOPICS`) in force on a day; each opens its entry in the settings."""
    kept = st.query_params.to_dict()
    said = [rule for topic in topics for rule in TOPICS[topic](page, day)]
    if not said:
        return
    each = "".join(
        f"{' ' if n and said[n - 1][1] is None else ' · ' if n else ''}{_link(*s, kept)}" for n, s in enumerate(said)
    )
    st.html(f'<p class="kl-rules">In force on {words.day(day)}: {each}</p>')


def _link(text: str, row_id: int | None, kept: dict[str, str]) -> str:
    if row_id is None:
        return escape(text)
    there = escape(address(*behind("row", row_id), kept), quote=True)
    return f'<a href="{there}" target="_self">{escape(text)}</a>'


def _shop(text: Callable[[Page, dict[str, Any]], str]) -> Callable[[Page, date], Iterator[Said]]:
    def of_shop(page: Page, _: date) -> Iterator[Said]:
        shop = page.book.shop()
        yield text(page, shop), shop["row_id"]

    return of_shop


def _rule(text: Callable[[Page, dict[str, Any]], str]) -> Callable[[Page, date], Iterator[Said]]:
    def of_rules(page: Page, day: date) -> Iterator[Said]:
        yield from _in_force(page, "rule", day, text)

    return of_rules


def _in_force(page: Page, table: str, day: date, text: Callable[[Page, dict[str, Any]], str]) -> Iterator[Said]:
    """Of each name in a table of settings what holds on a day, and since when that is so, where not from the start."""
    told: dict[str, tuple[str, dict[str, Any]]] = {}
    for row in page.book.settings_until(table, day).iter_rows(named=True):
        name, now = row.get("name", ""), text(page, row)
        if name not in told or told[name][0] != now:  # an entry that changes something else changes nothing here
            told[name] = (now, row)
    start = page.book.shop()["start"]
    for now, row in told.values():
        yield f"{now} (since {words.day(row['from_date'])})" if row["from_date"] > start else now, row["row_id"]


def _percent(ppm: int) -> str:
    return f"{100 * ppm / PPM:g} %"


def _flow(_: Page, shop: dict[str, Any]) -> str:
    flow = "at the moving average" if shop["cost_flow"] == "average" else "first in, first out"
    return f"material {flow}, wood lot by lot"


def _scrap(_: Page, rule: dict[str, Any]) -> str:
    return f"scrap up to {_percent(rule['normal_scrap_ppm'])} of a month's good work is a cost of the good pieces"


def _mending(_: Page, rule: dict[str, Any]) -> str:
    if rule["normal_rework_ppm"] is None:
        return "all rework is a cost of the piece that it mends"
    return f"rework beyond {_percent(rule['normal_rework_ppm'])} of a month's good work is a loss of the month"


def _tax(_: Page, rule: dict[str, Any]) -> str:
    back = "comes back" if rule["tax_reclaimable"] else "is part of what things cost"
    flat = f" ({_percent(rule['flat_rate_ppm'])})" if rule["tax_regime"] == "flat rate" else ""
    return f"{TAX[rule['tax_regime']]}{flat}; tax on purchases {back}"


def _flags(_: Page, rule: dict[str, Any]) -> str:
    return (
        f"flagged is a mix more than {_percent(rule['mix_tolerance_ppm'])} off its ratio, stirred under "
        f"{rule['stir_minutes']:g} min, touched within {rule['cure_hours']:g} h, below {rule['cold_c']:g} °C, above "
        f"{rule['damp_pct']:g} % damp, on wood above {rule['wet_wood_pct']:g} % moist"
    )


def _pay(page: Page, day: date) -> Iterator[Said]:
    yield from _in_force(
        page, "person_rate", day, lambda page, row: f"{row['name']} {page.money.rate(row['rate_cents'])} an hour"
    )


def _pools(layer: str) -> Callable[[Page, date], Iterator[Said]]:
    def of_layer(page: Page, day: date) -> Iterator[Said]:
        drivers = dict(page.book.settings_until("pool", day).select("name", "driver").iter_rows())
        rates = page.book.pool_rates(day.replace(day=1)).filter(
            pl.col("layer") == layer, pl.col("row_id").is_not_null()
        )
        for basis in sorted(set(rates["basis"])):
            yield f"{words.layer(layer)} {BASIS[basis]}:", None
            for row in rates.filter(pl.col("basis") == basis).iter_rows(named=True):
                rate = _rate(page, row, drivers.get(row["pool"], "machine hours"))
                yield f"{row['pool']} {rate}", row["row_id"]

    return of_layer


def _rate(page: Page, row: dict[str, Any], driver: str) -> str:
    if not row["rate_driver"]:
        return "has no rate: all of it is a cost of its month"
    if driver == "labour cost":
        share = 100 * row["rate_cents"] / row["rate_driver"]
        return (
            f"{share:.4g} % of what work costs"
            if row["basis"] == "budget"
            else f"{words.share(share / 100)} of what work costs"
        )
    # the driver is kept in seconds
    cents = 3600 * row["rate_cents"] / row["rate_driver"]
    said = page.money.rate(cents) if row["basis"] == "budget" else page.money(cents)
    return f"{said} a {driver.removesuffix('s')}"


def _channel(page: Page, row: dict[str, Any]) -> str:
    kinds = (("share_ppm", "fixed_cents", "fee"), ("payment_share_ppm", "payment_fixed_cents", "for payment"))
    fees = []
    for share, fixed, what in kinds:
        parts = [_percent(row[share])] if row[share] else []
        parts += [page.money(row[fixed])] if row[fixed] else []
        fees += [f"{' + '.join(parts)} {what}"] if parts else []
    none = "no fee" if row["share_ppm"] is not None else "the fees that its sales show"
    tax = ", and sends in the sales tax itself" if row["tax_by"] == "channel" else ""
    return f"{row['name']} {' and '.join(fees) or none}{tax}"


def _fees(page: Page, day: date) -> Iterator[Said]:
    yield from _in_force(page, "channel", day, _channel)


TOPICS: dict[str, Callable[[Page, date], Iterator[Said]]] = {
    "flow": _shop(_flow),
    "late": _shop(lambda _, shop: f"a receipt up to {shop['late_receipt_days']} days late still covers a use"),
    "circle": _shop(lambda _, shop: f"usual scrap is carried by the good pieces of the {shop['scrap_circle']}"),
    "quotes": _shop(
        lambda _, shop: f"a quote holds {shop['quote_days']} days, {_percent(shop['deposit_ppm'])} down with the order"
    ),
    "scrap": _rule(_scrap),
    "mending": _rule(_mending),
    "tax": _rule(_tax),
    "flags": _rule(_flags),
    "pay": _pay,
    "overhead": _pools("overhead"),
    "machine": _pools("machine"),
    "fees": _fees,
}
"""What can be said: topic → the rules of it on a day."""

OF_LAYER = {
    "labour": ("pay",), "machine": ("machine",), "overhead": ("overhead",), "spoilage": ("scrap", "circle"),
    "selling": ("fees",),
}  # fmt: skip
"""The topics that shape a layer of cost; the others are materials."""


def of_layer(layer: str) -> tuple[str, ...]:
    return OF_LAYER.get(layer, ("flow", "tax", "late"))
