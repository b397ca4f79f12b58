"""The client's sheet of a quote: one printed page with price and terms, and nothing of what it costs to make."""

from datetime import date, timedelta
from html import escape
from typing import Any

from pipeline.errors import UserError
from pipeline.reports.words import amount

Data = dict[str, Any]

TAG = "{quote}"
"""Stands where the quote's tag comes once it is saved."""

_STYLE = """
@page { size: auto; margin: 18mm; }
* { box-sizing: border-box; }
body { font: 11pt/1.4 Georgia, 'Times New Roman', serif; color: #222; }
body { max-width: 170mm; margin: 10mm auto; padding: 0 4mm; }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 2px solid #222; }
h1 { font-size: 20pt; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 13pt; margin: 6mm 0 1mm; }
table { width: 100%; border-collapse: collapse; }
th, td { text-align: left; padding: 1.2mm 0; border-bottom: 1px solid #bbb; }
th, td { vertical-align: top; overflow-wrap: anywhere; }
th { font-weight: normal; width: 45mm; color: #444; }
td.money { text-align: right; white-space: nowrap; }
.total td, .total th { font-weight: bold; color: #222; border-bottom: 2px solid #222; }
ul { margin: 0; padding-left: 5mm; }
.sign { display: flex; gap: 10mm; margin-top: 12mm; }
.sign div { flex: 1; border-top: 1px solid #222; padding-top: 1mm; font-size: 10pt; }
@media print { body { margin: 0; padding: 0; max-width: none; } main { break-inside: avoid; } }
"""

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
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Quote {escape(tag)}</title>
<style>{_STYLE}</style>
</head>
<body>
<header><h1>{escape(quote["shop"])}</h1><div>Quote {escape(tag)}<br>{day.isoformat()}</div></header>
<main>
<h2>The piece</h2>
<table>{_rows(_piece(quote["asked"]))}</table>
<h2>Price</h2>
<table>{_price(quote, price)}</table>
<h2>Terms</h2>
<ul>{"".join(f"<li>{escape(term)}</li>" for term in _terms(quote, until))}</ul>
<div class="sign"><div>For the shop, date</div><div>Agreed, date</div></div>
</main>
</body>
</html>
"""


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


def _rows(rows: list[tuple[str, str]]) -> str:
    return "".join(f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in rows)


def _price(quote: Data, price: Data) -> str:
    digits, units = quote["minor_digits"], quote["asked"]["quantity"]
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
    rows = "".join(_money(name, cents, digits) for name, cents in lines)
    total = _money(f"In all, {quote['currency']}", goods + shipping + tax, digits, "total")
    return rows + total


def _money(name: str, cents: int, digits: int, kind: str = "") -> str:
    of = f' class="{kind}"' if kind else ""
    return f'<tr{of}><th>{escape(name)}</th><td class="money">{amount(cents, digits)}</td></tr>'


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
