"""What a quote needs of the published database, read once; a context then answers any number of descriptions."""

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path

import duckdb
import polars as pl

from pipeline.database.open_database import opened
from pipeline.errors import UserError
from pipeline.estimates.quote_price import Habit, Terms, habit_of
from pipeline.estimates.quotes import Predictor
from pipeline.shop import Shop, load

# A pour says what share of a mix ends up in a piece: what is left in cups and trimmed off must be mixed too.
_RESIN = """
with yields as (
    select resin, count(*) as pours, sum(good_g) / nullif(sum(mixed_g), 0) as good_share
    from material.pour where mixed_g > 0 and not mix_estimated and good_g is not null group by resin
)
select
    today.flow as resin, today.unit, today.cents, today.quantity, coalesce(yields.pours, 0) as pours, yields.good_share
from price.today left join yields on yields.resin = today.flow
where today.category = 'resin' order by pours desc, resin
"""

_BOOTH = "select quantile_disc(booth_cents, 0.5) as cents from money.event where booth_cents > 0"

_TABLES = {
    "history": "from price.history",
    "person_rate": "from settings.person_rate",
    "split": "from price.split order by product, split_of, step",
    "channel": "from price.channel order by channel, from_date",
    "market": "from price.market order by product, channel",
    "sell_time": "from price.sell_time",
    "score": "from price.backtest",
    "resin": _RESIN,
    "booth": _BOOTH,
    "market_channels": "select distinct channel from records.sales where event is not null and channel is not null",
}

LATEST_PRICES = 60
"""Prices that show the shop's present habit of rounding."""


@dataclass(frozen=True)
class Channel:
    """A channel's terms today (with the booths' part in its share), its habit of rounding, and what isn't in them."""

    terms: Terms
    habit: Habit
    tax_by: str = "us"
    booth_ppm: int = 0
    booth_cents: int = 0


@dataclass(frozen=True)
class Context:
    """The shop, the day, and the tables by their short names."""

    shop: Shop
    today: date
    tables: dict[str, pl.DataFrame] = field(repr=False)

    @cached_property
    def predictor(self) -> Predictor:
        """Fitted when first asked for. Raises `UserError` where there is too little history."""
        return Predictor(self.tables["history"], self.tables["person_rate"], self.today, self.tables["split"])

    def channels(self) -> list[str]:
        return self._in_force()["channel"].to_list()

    def usual_channel(self, product: str) -> str:
        """Where the product mostly sells, else the shop; "" where nothing was ever sold."""
        sold = self.tables["history"].filter(pl.col("channel").is_not_null())
        own = sold.filter(pl.col("product") == product)
        counts = (own if own.height else sold)["channel"].value_counts()
        by_count = counts.sort("count", "channel", descending=[True, False])["channel"]
        known = [c for c in by_count if c in self.channels()]
        return known[0] if known else next(iter(self.channels()), "")

    def offers(self, product: str) -> list["Channel"]:
        """Each channel as it stands today for the product; where none is known, one without fees."""
        posted = {r["channel"]: r for r in self.tables["market"].filter(pl.col("product") == product).to_dicts()}
        found = []
        for row in self._in_force().to_dicts():
            own = posted.get(row["channel"], {})
            charged, paid = (
                row[c] if own.get(c) is None else own[c] for c in ("shipping_charged_cents", "shipping_paid_cents")
            )
            terms = Terms(
                row["channel"],
                row["share_ppm"] + row["booth_share_ppm"],
                row["fixed_cents"],
                row["payment_share_ppm"],
                row["payment_fixed_cents"],
                row["tax_ppm"],
                shipping_charged_cents=charged,
                shipping_paid_cents=paid,
            )
            name = row["channel"]
            found.append(Channel(terms, self.habit(name), row["tax_by"], row["booth_share_ppm"], self.booth(name)))
        return found or [Channel(Terms("direct"), self.habit(""))]

    def habit(self, channel: str) -> Habit:
        """How prices end there, else in the shop."""
        sold = self.tables["history"].filter(pl.col("price_cents") > 0).sort("sold", "piece")
        own = habit_of(sold.filter(pl.col("channel") == channel)["price_cents"].tail(LATEST_PRICES).to_list())
        return own if own.step_cents > 1 else habit_of(sold["price_cents"].tail(LATEST_PRICES).to_list())

    def booth(self, channel: str) -> int:
        """What a booth there usually costs; 0 where the channel has none."""
        row = self.tables["booth"].row(0, named=True)
        markets = self.tables["market_channels"]["channel"].to_list()
        return int(row["cents"] or 0) if channel in markets else 0

    def resin_cents(self, grams: float, item: str) -> tuple[int, str]:
        """Today's cost of so many grams *in the piece*, with what stays in cups by the shop's pours; and its item."""
        if not grams:
            return 0, ""
        known = self.tables["resin"]
        chosen = known.filter(pl.col("resin") == item) if item else known.head(1)
        if chosen.is_empty():
            names = ", ".join(known["resin"]) or "none"
            raise UserError(f"No resin {item or 'at all'} was ever bought.", "--resin", f"Known ones: {names}.")
        row = chosen.row(0, named=True)
        if row["unit"] != "mg":
            mend = f'Set base_unit = "mg" and its density for {row["resin"]} in shop.toml.'
            raise UserError(f"{row['resin']} is not kept by weight.", "shop.toml, [[items]]", mend)
        mixed_mg = grams * 1000 / min(max(row["good_share"] or 1.0, 0.05), 1.0)
        return round(mixed_mg * row["cents"] / row["quantity"]), row["resin"]

    def _in_force(self) -> pl.DataFrame:
        rows = self.tables["channel"]
        begun = rows.filter(pl.col("from_date") <= self.today)
        return (begun if begun.height else rows).group_by("channel", maintain_order=True).last()


def open_context(folder: Path, today: date | None = None) -> Context:
    """The context of the newest published database. Raises `UserError` if there is none, or an older tool made it."""
    shop = load(folder)
    with opened(folder) as con:
        return context_of(shop, con, today or shop.now().date())


def context_of(shop: Shop, con: duckdb.DuckDBPyConnection, today: date) -> Context:
    """The context of an open database."""
    return Context(shop, today, {name: con.sql(query).pl() for name, query in _TABLES.items()})
