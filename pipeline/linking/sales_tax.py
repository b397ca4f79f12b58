"""The tax in sales: parted from prices that hold it, and reckoned by the shop's dated rates where no file states it.

What a file states stands. A rate fills only what is empty: inside the price where a channel's or a file's prices hold
the tax, on top of it else. Tax on what the buyer paid for shipping is part of the row's tax. What came back gives back
the tax that was taken for it: at the rate of the day of its sale. Whole cents throughout: what the buyer paid stays
what it was.
"""

import polars as pl

from pipeline.settings import PPM
from pipeline.shop import Shop

_MOST = 10**12
"""Beyond so many cents nothing is reckoned: whole numbers have an end."""


def apply(sales: pl.DataFrame, pieces: pl.DataFrame, lots: pl.DataFrame, shop: Shop) -> pl.DataFrame:
    """The sales with their tax. `tax_inside` marks rows of a file whose prices hold it; `lots` has lot and category."""
    rates, channels = shop.tables["tax_rate"], shop.tables["channel"]
    holding = [row["name"] for row in channels if row["prices_hold_tax"]]
    if sales.is_empty() or not (rates or holding):
        return sales
    found = _with_rates(_with_kinds(sales, pieces, lots), shop)
    ours = ~pl.col("channel").is_in([row["name"] for row in channels if row["tax_by"] == "channel"]).fill_null(False)
    by_channel = pl.col("channel").is_in(holding).fill_null(False)
    stated = pl.col("sales_tax_cents").is_not_null()
    units = pl.col("quantity").fill_null(1)
    goods = units * pl.col("price_cents") - pl.col("discount_cents").fill_null(0)
    found = found.with_columns(
        goods=goods,
        gross=goods + pl.col("shipping_charged_cents").fill_null(0),
        # a file that states its tax had it taken off when it was read
        holds=pl.when(stated).then(by_channel & ~pl.col("tax_inside")).otherwise(by_channel | pl.col("tax_inside")),
    )
    rate = pl.col("rate_ppm").fill_null(0)
    inside, on_top = _cut(pl.col("gross"), rate, rate + PPM), _cut(pl.col("gross"), rate, PPM)
    usual = pl.when("holds").then(inside).when(ours).then(on_top)
    taxed = pl.when(stated).then("sales_tax_cents").when(pl.col("rate_ppm").is_not_null()).then(usual)
    possible = (pl.col("gross") != 0) & (pl.col("gross").abs() < _MOST)
    found = found.with_columns(tax=pl.when(stated | possible).then(taxed))
    parted = pl.col("holds") & possible & (pl.col("tax").abs() <= pl.col("gross").abs())
    return _parted(found, parted.fill_null(False), units).select(sales.columns)


def _with_kinds(sales: pl.DataFrame, pieces: pl.DataFrame, lots: pl.DataFrame) -> pl.DataFrame:
    """`category` is what a rate may be for: the product, or the kind of material sold as such."""
    products = pieces.select("piece", of_piece="product").unique("piece", keep="first", maintain_order=True)
    kinds = lots.drop_nulls("lot").unique("lot", keep="first", maintain_order=True).select("lot", of_lot="category")
    joined = sales.join(products, on="piece", how="left", maintain_order="left")
    joined = joined.join(kinds, on="lot", how="left", maintain_order="left")
    return joined.with_columns(category=pl.coalesce("of_lot", "product", "of_piece").fill_null(""))


def _with_rates(sales: pl.DataFrame, shop: Shop) -> pl.DataFrame:
    """`rate_ppm`: the rate in force on the day for the regime and the row's category, else for all the rest."""
    rules = pl.DataFrame(
        [(row["from_date"], row["tax_regime"]) for row in shop.tables["rule"]],
        schema={"from_date": pl.Date, "regime": pl.String},
        orient="row",
    ).sort("from_date")
    rates = pl.DataFrame(
        [(row["from_date"], row["regime"], row["category"] or "", row["rate_ppm"]) for row in shop.tables["tax_rate"]],
        schema={"from_date": pl.Date, "regime": pl.String, "category": pl.String, "ppm": pl.Int64},
        orient="row",
    ).sort("from_date")
    found = _with_day_of_sale(sales.with_row_index("_at")).sort("_sold_on")
    found = found.join_asof(rules, left_on="_sold_on", right_on="from_date", check_sortedness=False)
    own = found.join_asof(
        rates,
        left_on="_sold_on",
        right_on="from_date",
        by=["regime", "category"],
        check_sortedness=False,
        suffix="_own",
    )
    rest = rates.filter(category="").select("from_date", "regime", rest="ppm")
    both = own.join_asof(
        rest, left_on="_sold_on", right_on="from_date", by="regime", check_sortedness=False, suffix="_rest"
    )
    return both.sort("_at").with_columns(rate_ppm=pl.coalesce("ppm", "rest"))


def _with_day_of_sale(sales: pl.DataFrame) -> pl.DataFrame:
    """`_sold_on`: the row's own day; of what came back that of the last sale of the same thing by then in its channel,
    at the same price before any other."""
    thing = ("channel", "piece", "lot", "product")
    back = pl.col("quantity") < 0
    sold = sales.filter(~back.fill_null(False)).select(*thing, day="on_date", price="price_cents")
    returned = sales.filter(back).select("_at", "on_date", "price_cents", *thing)
    known = returned.join(sold, on=thing, how="inner", nulls_equal=True).filter(pl.col("day") <= pl.col("on_date"))
    alike = (pl.col("price") == pl.col("price_cents")).fill_null(False)
    latest = known.group_by("_at").agg(pl.col("day").sort_by(alike, "day").last())
    joined = sales.join(latest, on="_at", how="left", maintain_order="left")
    return joined.with_columns(_sold_on=pl.coalesce("day", "on_date")).drop("day")


def _parted(sales: pl.DataFrame, parted: pl.Expr, units: pl.Expr) -> pl.DataFrame:
    """The tax off the price and off the shipping, each its part of it; a cent that no price takes is the discount's."""
    shipping = pl.col("shipping_charged_cents").fill_null(0)
    sales = sales.with_columns(parted=parted, of_shipping=_cut(pl.col("tax"), shipping, pl.col("gross")))
    net_goods = pl.col("goods") - (pl.col("tax") - pl.col("of_shipping"))
    sales = sales.with_columns(
        net_goods=net_goods,
        net_price=_cut(pl.col("price_cents"), net_goods, pl.when(pl.col("goods") == 0).then(1).otherwise("goods")),
    )
    left = units * pl.col("net_price") - pl.col("net_goods")
    discount = pl.when((left == 0) & pl.col("discount_cents").is_null()).then(None).otherwise(left)
    turned = {
        "price_cents": pl.col("net_price"),
        "discount_cents": discount,
        "shipping_charged_cents": pl.col("shipping_charged_cents") - pl.col("of_shipping"),
    }
    return sales.with_columns(
        *(pl.when("parted").then(value).otherwise(name).cast(pl.Int64).alias(name) for name, value in turned.items()),
        pl.col("tax").cast(pl.Int64).alias("sales_tax_cents"),
    )


def _cut(n: pl.Expr, k: pl.Expr, w: pl.Expr | int) -> pl.Expr:
    """n · k / w in whole numbers, rounded half up, the same for either sign; `w` is not below nothing where n is."""
    wide = n.cast(pl.Int128) * k.cast(pl.Int128)
    by = (w if isinstance(w, pl.Expr) else pl.lit(w)).cast(pl.Int128)
    by_size = pl.when(by == 0).then(1).otherwise(by.abs())
    sign = wide.sign() * by.sign()
    return (sign * ((2 * wide.abs() + by_size) // (2 * by_size))).cast(pl.Int64)
