"""The client's sheet of a quote: one printed page with price and terms, and nothing of what it costs to make."""

from datetime import date, timedelta
from typing import Any

from pipeline.errors import UserError
from pipeline.reports.page import page
from pipeline.reports.words import amount

Data = dict[str, Any]

TAG = "{quote}"
"""Stands where the quote's tag comes once it is saved."""

_LONGEST = 500
"""Characters of the shop's own terms that still leave the sheet one page."""


def sheet(quote: Data, channel: str = "", tag: str = TAG) -> str:
    """The sheet of a quote (of `pipeline.quoting`) as one self-contained HTML page, for the price on `channel`.

    Raises `UserError` where it has no price there.
    """
    wanted = channel or quote["channel"]
    price = next((p for p in quote["prices"] if p["channel"] == wanted and p["asked_cents"]), None)
    if price is None:
        raise UserError(f"The quote has no price for {wanted!r}.", "channel", "Choose a channel that has one.")
    day = date.fromisoformat(quote["on_date"])
    until = day + timedelta(days=quote["holds_days"])
    return page(
        "quote_sheet.html",
        shop=quote["shop"],
        tag=tag,
        day=day.isoformat(),
        piece=_piece(quote["asked"]),
        price=[(name, amount(cents, quote["minor_digits"])) for name, cents in _price(quote, price)],
        terms=_terms(quote, until),
    )


def _piece(asked: Data) -> list[tuple[str, str]]:
    round_ = asked["diameter"] and f"{asked['diameter']} across"
    sizes = " × ".join(size for size in (round_, asked["length"], asked["width"], asked["thickness"]) if size)
    rows = (
        ("Piece", asked["product"]),
        ("Wood", asked["species"]),
        ("Finish", asked["finish"]),
        ("Size", sizes),
        ("How many", str(asked["quantity"])),
    )
    return [(name, value) for name, value in rows if value]


def _price(quote: Data, price: Data) -> list[tuple[str, int]]:
    """The lines of the price, the sum of them last."""
    units = quote["asked"]["quantity"]
    each, goods = price["asked_cents"], price["asked_cents"] * units
    # tax that the channel collects is no business of this sheet
    tax = round(goods * price["tax_share"]) if price["tax_by"] == "us" else 0
    shipping = price["shipping_charged_cents"] * units
    lines = [("Each", each)] if units > 1 else []
    lines.append((f"For {units}" if units > 1 else "Price", goods))
    if shipping:
        lines.append(("Shipping", shipping))
    if tax:
        lines.append(("Sales tax, about", tax))
    return [*lines, (f"In all, {quote['currency']}", goods + shipping + tax)]


def _terms(quote: Data, until: date) -> list[str]:
    terms = [f"This price holds until {until.isoformat()}."]
    if quote["deposit_ppm"]:
        terms.append(
            f"{quote['deposit_ppm'] / 10_000:g} % is due with the order, the rest when the piece is handed over."
        )
    if any(p["tax_share"] for p in quote["prices"]):
        terms.append("Sales tax is added as the law of the place asks on the day of the sale.")
    terms.append("Wood is grown: grain and colour of the piece will be its own.")
    finish = quote["asked"]["finish"].lower()
    if any(word in finish for word in ("resin", "river", "flood", "cast", "inlay", "epoxy")):
        terms.append(
            "Cured resin does not like heat or long sun. Whether it may touch food, its maker's data sheet says."
        )
    if quote["terms"]:
        terms.append(quote["terms"][:_LONGEST])
    return terms
