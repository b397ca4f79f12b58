"""What a view is given: the published database, and how this shop writes money and quantities."""

from dataclasses import dataclass, replace

import streamlit as st

from dashboard import words
from dashboard.charts import theme
from dashboard.data import Book
from dashboard.words import Money, Units


@dataclass(frozen=True)
class Page:
    """The published database, the shop's money, and the units that are shown."""

    book: Book
    money: Money
    units: Units

    @property
    def look(self) -> theme.Look:
        return theme.look(st.context.theme.type == "dark")

    @property
    def scale(self) -> float:
        """From minor units to the currency, for axes."""
        return float(10**-self.money.digits)

    def within(self, units: str) -> "Page":
        """The same page in other units: metric or us."""
        return replace(self, units=words.units(units))


def page_of(book: Book) -> Page:
    shop = book.shop()
    return Page(book, Money(shop["currency"]), words.units(shop["units"]))
