"""What is known of a column, for tests that Hypothesis runs many times (it refuses fixtures that change)."""

from pathlib import Path

from pipeline.cleaning.parsed import About
from pipeline.records import RECORDS
from pipeline.shop import Shop

SHOP = Shop(Path(), {"shop": [{"currency": "EUR", "units": "metric", "sizes_in": ""}]})


def about_of(field: str, shop: Shop = SHOP, **known: str) -> About:
    """`about_of("hours.date", order="day")`."""
    record, _, name = field.partition(".")
    return About(RECORDS[record].field(name), shop, **known)
