"""How long pieces take to sell, with unsold ones counted: Kaplan-Meier by product, price and channel.

A piece still unsold says "longer than so far"; leaving it out would make every shop look quick. Limits are on the
log-log scale at 95 %; the median is given only where the curve reaches one half. For a channel, a piece sold elsewhere
counts as not sold there by then: the curve says how long it would take if no other channel were quicker, taking the
channels to be independent.
"""

from datetime import date

import polars as pl

Z = 1.959964
CURVE_COLUMNS = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "wait_days": "BIGINT",
    "at_risk": "BIGINT",
    "sold_pieces": "BIGINT",
    "unsold_share": "DOUBLE",
    "unsold_low_share": "DOUBLE",
    "unsold_high_share": "DOUBLE",
}
TIME_COLUMNS = {
    "factor": "VARCHAR",
    "level": "VARCHAR",
    "pieces": "BIGINT",
    "sold_pieces": "BIGINT",
    "median_days": "BIGINT",
    "median_low_days": "BIGINT",
    "median_high_days": "BIGINT",
    "price_from_cents": "BIGINT",
    "price_to_cents": "BIGINT",
    "ordered_pieces": "BIGINT",
}
THIRDS = ("lower third", "middle third", "upper third")
GROUP = ("factor", "level")


def kaplan_meier(waits: pl.DataFrame) -> pl.DataFrame:
    """Curves (`CURVE_COLUMNS` and `se`) of groups, one row per group and day on which something sold.

    `waits` has factor, level, days (Int64) and is_sold (Boolean). Of a sale and an unsold piece on the same day the
    sale comes first. Greenwood's standard error; limits are null where the share is 0.
    """
    left, sold = pl.len().cast(pl.Int64), pl.col("is_sold").sum().cast(pl.Int64)
    by_day = waits.group_by(*GROUP, "days").agg(left=left, sold_pieces=sold).sort(*GROUP, "days")
    at_risk = pl.col("left").cum_sum(reverse=True).over(GROUP)
    risk = by_day.with_columns(at_risk=at_risk).filter(pl.col("sold_pieces") > 0)
    n, d = pl.col("at_risk"), pl.col("sold_pieces")
    curve = risk.with_columns(
        unsold_share=(1 - d / n).cum_prod().over(GROUP),
        # a day on which the last ones sell has no variance of its own
        _var=pl.when(n > d).then(d / (n * (n - d))).cum_sum().over(GROUP),
    )
    share = pl.col("unsold_share")
    inner = (share > 0) & (share < 1)
    reach = (Z * pl.col("_var").sqrt() / share.log().abs()).exp()
    return curve.with_columns(
        se=share * pl.col("_var").sqrt(),
        unsold_low_share=pl.when(inner).then(share.pow(reach)),
        unsold_high_share=pl.when(inner).then(share.pow(1 / reach)),
    ).select(pl.col("days").alias(c) if c == "wait_days" else pl.col(c) for c in (*CURVE_COLUMNS, "se"))


def medians(curve: pl.DataFrame) -> pl.DataFrame:
    """Per group the first day on which at most half is unsold, and the same of both limits; null where never."""

    def first(column: str, name: str) -> pl.Expr:
        return pl.col("wait_days").filter(pl.col(column) <= 0.5 + 1e-12).min().alias(name)

    return curve.group_by(GROUP).agg(
        first("unsold_share", "median_days"),
        first("unsold_low_share", "median_low_days"),
        first("unsold_high_share", "median_high_days"),
    )


def waits(history: pl.DataFrame, today: date) -> pl.DataFrame:
    """The waits of a price.history by factor and level: all, product, price (in thirds), channel.

    A piece waits from its listing, else from the day it was finished, to its sale or `today`; one that is `gone` waits
    no longer. One `made_to_order` waited for nobody. Its price is `price_cents`, else `list_price_cents` where that
    column exists.
    """
    last = pl.coalesce([c for c in ("sold", "gone") if c in history.columns]).fill_null(today)
    asked = pl.coalesce([c for c in ("price_cents", "list_price_cents") if c in history.columns])
    pieces = history.select(
        "product",
        "channel",
        price_cents=asked,
        is_sold=pl.col("sold").is_not_null(),
        days=(last - pl.coalesce("listed", "finished")).dt.total_days(),
        made_to_order=pl.col("made_to_order").fill_null(False) if "made_to_order" in history.columns else False,
    ).filter(pl.col("days").is_not_null())
    # sold before it was listed: handed over on the day, and written down later
    pieces = pieces.with_columns(pl.col("days").clip(0))
    rank = (pl.col("price_cents").rank("max") - 1) * 3 // pl.col("price_cents").count()
    third = rank.replace_strict({0: THIRDS[0], 1: THIRDS[1], 2: THIRDS[2]}, default=None, return_dtype=pl.String)
    channels = pieces.filter("is_sold").select(level="channel").drop_nulls().unique()
    elsewhere = pl.col("is_sold") & (pl.col("channel") == pl.col("level"))
    by_channel = (
        pieces.join(channels, how="cross")
        .filter(
            (pl.col("is_sold") & ~pl.col("made_to_order"))
            | (pl.col("channel").is_null() & ~pl.col("made_to_order"))
            | (pl.col("channel") == pl.col("level"))
        )
        .with_columns(is_sold=elsewhere.fill_null(False))
    )
    parts = (
        pieces.with_columns(factor=pl.lit("all"), level=pl.lit("")),
        pieces.with_columns(factor=pl.lit("product"), level=pl.col("product")),
        pieces.with_columns(factor=pl.lit("price"), level=third),
        by_channel.with_columns(factor=pl.lit("channel")),
    )
    columns = ("factor", "level", "days", "is_sold", "price_cents", "made_to_order")
    return pl.concat([part.select(columns) for part in parts]).drop_nulls("level")


def offered(waited: pl.DataFrame) -> pl.DataFrame:
    """The waits of pieces that were on offer."""
    return waited.filter(~pl.col("made_to_order"))


def sell_times(waited: pl.DataFrame) -> pl.DataFrame:
    """One row per group (`TIME_COLUMNS`): pieces on offer, how many sold, median days to sell with limits, prices, and
    how many were made to order."""
    on_offer = ~pl.col("made_to_order")
    groups = waited.group_by(GROUP).agg(
        pieces=on_offer.sum().cast(pl.Int64),
        sold_pieces=(pl.col("is_sold") & on_offer).sum().cast(pl.Int64),
        price_from_cents=pl.col("price_cents").filter(on_offer).min(),
        price_to_cents=pl.col("price_cents").filter(on_offer).max(),
        ordered_pieces=pl.col("made_to_order").sum().cast(pl.Int64),
    )
    curves = medians(kaplan_meier(offered(waited)))
    return groups.join(curves, on=GROUP, how="left").sort(GROUP).select(list(TIME_COLUMNS))
