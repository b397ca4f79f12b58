"""A shop, and tables of text made by hand."""

from collections.abc import Callable, Sequence
from pathlib import Path

import polars as pl
import pytest
from hypothesis import settings

from pipeline import shop as shops
from pipeline.cleaning.parsed import About
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.records import RECORDS
from pipeline.shop import Shop

# how long an example takes says nothing about whether it is right, and the unit library loads slowly
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

TOML = """
start = 2026-01-01
currency = "USD"
units = "us"

[[people]]
name = "Ada"

[[machines]]
name = "Router One"

[[items]]
name = "Clear Resin"
category = "resin"

[[items]]
name = "Clock Movement"
category = "hardware"

[words.species]
"soft maple" = "red maple"

[words.unit]
tub = "5 kg"
"""


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    folder = tmp_path_factory.mktemp("shop")
    (folder / "shop.toml").write_text(TOML, encoding="utf-8")
    return shops.load(folder)


@pytest.fixture(scope="session")
def plain_shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A metric shop in euros that names nothing."""
    folder: Path = tmp_path_factory.mktemp("plain")
    (folder / "shop.toml").write_text('start = 2026-01-01\ncurrency = "EUR"\n', encoding="utf-8")
    return shops.load(folder)


@pytest.fixture(scope="session")
def about(shop: Shop) -> Callable[..., About]:
    """`about("hours.date", order="day")`: what is known of a column."""

    def make(field: str, **known: str) -> About:
        record, _, name = field.partition(".")
        return About(RECORDS[record].field(name), shop, **known)

    return make


@pytest.fixture(scope="session")
def table() -> Callable[..., TextTable]:
    def make(names: Sequence[str], *rows: Sequence[str | None], sheet: str = "") -> TextTable:
        return TextTable(sheet, tuple(names), frame_of(rows, range(2, 2 + len(rows)), len(names)), ignored_of([]))

    return make


@pytest.fixture(scope="session")
def one() -> Callable[..., object]:
    """`one(money.amounts, "12.50", about)`: the value of one text, or its fault's code."""

    def read(reader: Callable[[pl.Series, About], pl.DataFrame], text: str, known: About) -> object:
        row = reader(pl.Series("text", [text], dtype=pl.String), known).row(0, named=True)
        return row["code"] or row["value"]

    return read
