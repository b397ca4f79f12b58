"""What the market says of a described piece: similar pieces with their prices, and how long such ones take to sell."""

from typing import Any

import numpy as np
import polars as pl

from pipeline.estimates.quotes import Described
from pipeline.estimates.sell_time import THIRDS

SHOWN = 6
BAND = 12
"""Nearest sold pieces whose middle half is the price band."""
APART = {"product": 3.0, "species": 0.4, "finish": 0.6}
"""How far apart two pieces are that differ in one of these, in logs of area; common practice, no source."""


def similar(history: pl.DataFrame, wanted: Described) -> pl.DataFrame:
    """Sold pieces, nearest first.

    Columns: piece, product, species, finish, area_mm2, price_cents, channel, sold, wait_days, apart. The area and the
    price are of one unit. Another product counts only where the shop never sold this one.
    """
    sold = history.filter(pl.col("sold").is_not_null() & (pl.col("price_cents") > 0))
    own = sold.filter(pl.col("product") == wanted.product)
    sold = own if own.height else sold
    unit_area = pl.col("area_mm2") / pl.col("quantity").fill_null(1).clip(1)
    apart = pl.sum_horizontal(
        pl.when(pl.col(c).fill_null("") == getattr(wanted, c)).then(0.0).otherwise(far)
        for c, far in APART.items()
        if getattr(wanted, c)
    )
    if wanted.area_mm2:
        apart = apart + (unit_area / wanted.area_mm2).log().abs().fill_null(1.0)
    offered = pl.coalesce("listed", "finished")
    # what was made to order waited for nobody
    waited = pl.when(~pl.col("made_to_order").fill_null(False)).then((pl.col("sold") - offered).dt.total_days().clip(0))
    return (
        sold.select(
            *("piece", "product", "species", "finish"),
            unit_area.round(0).cast(pl.Int64).alias("area_mm2"),
            *("price_cents", "channel", "sold"),
            waited.alias("wait_days"),
            apart.alias("apart"),
        )
        # of two as near the later one: prices move
        .sort("apart", "sold", "piece", descending=[False, True, False])
    )


def band(near: pl.DataFrame) -> dict[str, Any] | None:
    """The middle half of what the nearest sold pieces brought; None where nothing was sold."""
    prices = near["price_cents"].head(BAND).to_numpy()
    if not len(prices):
        return None
    low, middle, high = (int(v) for v in np.quantile(prices, (0.25, 0.5, 0.75), method="inverted_cdf"))
    return {"pieces": len(prices), "low_cents": low, "middle_cents": middle, "high_cents": high}


def waits(sell_time: pl.DataFrame, product: str, channel: str, price_cents: int | None) -> list[dict[str, Any]]:
    """How long such pieces take to sell, unsold ones counted: by product, price band and channel (price.sell_time)."""
    wanted = [("product", product), ("channel", channel)]
    if price_cents is not None:
        wanted.insert(1, ("price", _third(sell_time, price_cents)))
    rows = []
    for factor, level in wanted:
        rows += sell_time.filter((pl.col("factor") == factor) & (pl.col("level") == level)).to_dicts()
    return rows


def _third(sell_time: pl.DataFrame, price_cents: int) -> str:
    bands = sell_time.filter((pl.col("factor") == "price") & (pl.col("price_to_cents") >= price_cents))
    found = bands.sort("price_to_cents")["level"].to_list()
    return str(found[0]) if found else THIRDS[-1]
