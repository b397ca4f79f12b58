"""The form that describes a piece: every answer stands in the address, so that a description can be sent on.

The kind of piece has names of its own there: what one prices isn't what the other pages are narrowed to.
"""

from collections.abc import Callable
from typing import Any

import streamlit as st

from dashboard import widgets
from dashboard.widgets import ANY, Page
from dashboard.wrong_address import look_up_number, look_up_switch

SIZES = {"length": "Length", "width": "Width", "thickness": "Thickness", "diameter": "Diameter (round pieces)"}

TYPED = "quantity typed"
"""Where it is kept that the number of pieces is the maker's own, which stays when another product is chosen."""


def show(page: Page, choices: dict[str, list[str]], usual: str) -> dict[str, Any]:
    """The description as `pipeline.pages.actions.quote` takes it."""
    unit = "inches" if page.book.shop()["units"] == "us" else "mm"
    # two beside each other on a phone: see our style sheet
    with st.container(horizontal=True, gap="medium", vertical_alignment="bottom", key="quote-kind"):
        product = widgets.choose("Product", "quote-product", choices["product"], usual)
        found: dict[str, Any] = {"product": product}
        for name in ("species", "finish", "channel"):
            found[name] = _said(widgets.choose_among(name.capitalize(), f"quote-{name}", choices[name]))
    help_text = f"With its unit, as 16 in or 40.5 cm; a bare number counts in {unit}. Nothing: the usual size."
    bare = f"bare: {unit}"
    with widgets.filters():
        for name, label in list(SIZES.items())[:3]:
            found[name] = _text(label, name, help_text, bare)
        found["quantity"] = _quantity(page, product)
    # no fold of `widgets`: what is asked for in it holds while it is closed, too
    label = "Round, extras, set-up, and what you want for it"
    look_up_switch(label, "extras")
    with st.expander(label, key="extras", on_change="rerun", bind="query-params"):
        found |= _extras(choices, help_text, bare)
    return found


def _extras(choices: dict[str, list[str]], help_text: str, bare: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    widgets.say("Extras are what it takes beyond such a piece as you usually make it.", quiet=True)
    with widgets.filters():
        found["diameter"] = _text(SIZES["diameter"], "diameter", help_text, bare)
        found["carving_minutes"] = float(_number("Extra carving, minutes", "carving", 0, 0, 6000))
        found["setup_minutes"] = float(_number("Set-up for the run, minutes", "setup", 0, 0, 6000))
    with widgets.filters():
        found["resin_grams"] = float(_number("Extra resin in it, grams", "grams", 0, 0, 100_000))
        found["resin"] = _said(widgets.choose_among("Which resin", "with", choices["resin"]))
        found["hardware"] = _text("Extra hardware, cost", "hardware", "What it costs for each piece, as 12.50.")
    with widgets.filters():
        margin = _number("Margin wanted, % of the price", "margin-wanted", 30, 0, 95)
        found["pay"] = _text("Or pay wanted, an hour", "pay", "An hourly pay instead of a margin, as 32.50.")
        found["margin"] = None if found["pay"].strip() else margin / 100
    return found


def _said(choice: str) -> str:
    return "" if choice == ANY else choice


def _text(label: str, key: str, help_text: str, hint: str | None = None) -> str:
    return st.text_input(label, key=key, help=help_text, placeholder=hint, bind="query-params") or ""


def _quantity(page: Page, product: str) -> int:
    """How many at once: as many as are usual for the product, unless a number was typed or stands in the address."""
    usual, known = page.book.usual_units(product), st.session_state
    if "quantity" in st.query_params:
        # a link followed before the server has heard of the number brings it in the address alone, without a callback
        known[TYPED] = True
    elif "quantity" in known and not known.get(TYPED) and known["quantity"] != usual:
        # set, not forgotten: the browser would keep the former product's number, and send it with the next choice
        known["quantity"] = usual
    return _number("How many", "quantity", usual, 1, 1000, lambda: known.update({TYPED: True}))


def _number(label: str, key: str, start: int, least: int, most: int, typed: Callable[[], None] | None = None) -> int:
    look_up_number(label, key, least, most)
    chosen = st.number_input(label, least, most, start, step=1, key=key, bind="query-params", on_change=typed)
    return start if chosen is None else int(chosen)
