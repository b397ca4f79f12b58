"""What the market paid, which prices are too low today, and how far the predictions can be trusted."""

from typing import Any

import polars as pl

from dashboard import widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.price import waiting
from dashboard.tables import where_enough
from dashboard.widgets import Column, Narrowed, Page

PIECE = "pieces?piece"
YEAR = 365
"""Days of waiting that the picture shows; the figures know of all."""


def comparables(page: Page, found: dict[str, Any]) -> None:
    """Pieces like it that were sold, and how long such pieces wait."""
    band = found["band"]
    label = "What the market paid for such pieces: none like it is sold yet"
    if band:
        middle = page.money.round(band["middle_cents"])
        label = f"What the market paid: {middle} the middle one of {band['pieces']} alike; how long they wait"
    if box := widgets.folded(label, "market"):
        with box:
            _sold_and_waited(page, found)


def _sold_and_waited(page: Page, found: dict[str, Any]) -> None:
    similar = pl.DataFrame(found["similar"])
    if similar.height:
        columns = [
            Column("piece", "Piece", opens=PIECE),
            Column("product", "Product"),
            Column("species", "Species"),
            Column("finish", "Finish"),
            Column("channel", "Channel"),
            Column("price_cents", "Price each", page.money, number=True),
            Column("sold", "Sold"),
            Column("wait_days", "Days waited", words.decimal(0).otherwise("to order"), number=True),
        ]
        widgets.table(page, similar, columns, "similar-pieces", shown=6)
        band = found["band"]
        if band and band["pieces"] > similar.height:
            widgets.say(
                f"The {similar.height} most like it of the {band['pieces']} whose middle half is the range above; some "
                "lie outside it.",
                quiet=True,
            )
    product = found["asked"]["product"]
    curve = page.book.sell_curve().filter(
        pl.col("factor") == "product", pl.col("level") == product, pl.col("wait_days") <= YEAR
    )
    waits = pl.DataFrame(found["waits"])
    if waits.height:
        waits = where_enough(waits, "sold_pieces", ("median_days", "median_low_days", "median_high_days"))
    if curve.height:
        times = page.book.sell_time().filter(pl.col("factor") == "product", pl.col("level") == product)
        median = times["median_days"][0] if times.height else None
        half = f"half are sold within {median} days" if median is not None else "fewer than half are sold so far"
        if times.height and times["sold_pieces"][0] < words.FEW:
            half = "too few are sold to say"
        title = f"How long {words.article(product)} waits: {half}; unsold ones are counted as still waiting"
        sold = curve.filter(pl.col("sold_pieces") > 0)["wait_days"].to_list()
        opens = {str(days): widgets.behind("waited", product, days) for days in sold}
        chart = sent_chart(waiting, curve, title, page.look)
        asks = "The pieces sold after so many days (or click a dot)"
        widgets.picture(chart, title, f"waiting-{product}", "wait_days", opens=opens, asks=asks)
        widgets.say(
            "Each dot is a day with a sale. The band shows where the true share likely lies, 19 times in 20; the "
            f"dashed line is one half.{_ordered(times)}",
            quiet=True,
        )
    if waits.height:
        columns = [
            Column("factor", "By"),
            Column("level", "Group"),
            Column("pieces", "Pieces", number=True),
            Column("sold_pieces", "Sold", number=True),
            Column("median_days", "Half within days", number=True),
            Column("median_low_days", "19 in 20, from", number=True),
            Column("median_high_days", "to", number=True),
            Column("ordered_pieces", "Made to order, not counted", number=True),
        ]
        widgets.table(
            page,
            waits,
            columns,
            "time-to-sell",
            leads=lambda row: (
                widgets.behind("sold", row["factor"], row["level"])
                if row["factor"] in ("product", "channel")
                else widgets.behind("made", product, "all")
            ),
        )


def _ordered(times: pl.DataFrame) -> str:
    """How many pieces of the group, which has one row or none, were made to order."""
    ordered = times["ordered_pieces"][0] if times.height else 0
    return f" {words.count(ordered, 'piece')} made to order waited for nobody and are not counted." if ordered else ""


def relist(page: Page, only: Narrowed) -> None:
    """Unsold pieces whose price leaves less than they would cost today."""
    listed = only.of_pieces(page, page.book.relist())
    if not listed.height:
        of = f" of {only.words}" if only.chosen else ""
        none = f"No listed price{of} leaves less than the piece would cost today."
        widgets.say(none if page.book.listed_prices() else "No price is listed yet.", quiet=True)
        return
    top = listed.row(0, named=True)
    suggested = top["suggested_price_cents"]
    label = f"{words.count(listed.height, 'list price')} below today's cost; furthest {top['piece']}, "
    label += f"{page.money(top['short_cents'])}" + (f": ask {page.money(suggested)}" if suggested is not None else "")
    if suggested is not None and top["sold_pieces"]:
        label += f" ({words.sold_as_high(top['sold_as_high_pieces'], top['sold_pieces']).lower()})"
    as_high = pl.format("{} of {}", "sold_as_high_pieces", "sold_pieces")
    listed = listed.with_columns(
        pl.when(pl.col("sold_pieces") > 0).then(as_high).otherwise(pl.lit("none sold yet")).alias("sold_as_high_pieces")
    )
    if box := widgets.folded(label, "relist"):
        with box:
            columns = [
                Column("piece", "Piece", opens=PIECE),
                Column("product", "Product"),
                Column("species", "Species"),
                Column("listed", "Listed", words.day),
                Column("channel", "Usual channel"),
                Column("list_price_cents", "List price", page.money, number=True),
                Column("left_cents", "Leaves", page.money, number=True),
                Column("today_cents", "Cost today", page.money, number=True),
                Column("short_cents", "Short", page.money, number=True),
                Column("covering_price_cents", "Covers it", page.money, number=True),
                Column("suggested_price_cents", "New price", page.money.exact.otherwise("none"), number=True),
                Column("sold_as_high_pieces", "Sold as high"),
                Column("estimated", "Estimated"),
            ]
            widgets.table(page, listed, columns, "re-price-list", shown=20)


def what_if(page: Page, product: str) -> None:
    """What a dearer hour or dearer resin would do to every price."""
    rows = page.book.what_if()
    here = rows.filter(pl.col("product") == product)
    if not rows.height:
        return
    each = " each" if page.book.usual_units(product) > 1 else ""
    said = [
        f"{row['change']} adds {page.money(row['added_cents'])}{each}"
        for row in here.sort("change").iter_rows(named=True)
        if row["added_cents"] is not None
    ]
    if box := widgets.folded(
        f"What if things get dearer? To {words.article(product)} {'; '.join(said) or 'it adds nothing'}", "if"
    ):
        with box:
            columns = [
                Column("change", "Change"),
                Column("product", "Product"),
                Column("today_cents", "Cost today", page.money, number=True),
                Column("added_cents", "More by", page.money, number=True),
                Column("added_share", "which is", words.Unit("%", 100, 1), number=True),
                Column("usual_price_cents", "Usual price", page.money, number=True),
                Column("new_price_cents", "Price to keep the margin", page.money, number=True),
            ]
            widgets.table(page, rows, columns, "what-if", shown=20, leads=lambda r: ("pieces?product", r["product"]))


def score(page: Page, product: str) -> None:
    """How well sold pieces were predicted from what was known before each."""
    rows = page.book.backtest()
    if not rows.height:
        return
    own = rows.filter(pl.col("factor") == "product", pl.col("level") == product)
    first = (own if own.height else rows).row(0, named=True)
    name = f"a {product}" if own.height else "a piece"
    held = f"{words.half_up(100 * first['coverage_low_share'])} to {words.share(first['coverage_high_share'])}"
    label = (
        f"How far to trust it: {words.share(first['coverage_share'])} of {words.count(first['pieces'], 'past case')} "
        f"of {name} fell within their four-in-five span ({held}, 19 times in 20)"
    )
    if box := widgets.folded(label, "score"):
        with box:
            widgets.say(
                "Each sold piece was predicted from what was known before it. Beside it two plain rules: the product's "
                "average so far, and hours × rate + twice the material.",
                quiet=True,
            )
            named = rows.with_columns(
                name=pl.when(pl.col("factor") == "all").then(pl.lit("all pieces")).otherwise(pl.col("level"))
            )
            columns = [
                Column("name", "Product"),
                Column("pieces", "Pieces", number=True),
                Column("coverage_share", "Within the span", words.share, number=True),
                Column("coverage_low_share", "19 in 20, from", words.share, number=True),
                Column("coverage_high_share", "to", words.share, number=True),
                Column("error_cents", "Half off by less than", page.money, number=True),
                Column("average_error_cents", "Average rule", page.money, number=True),
                Column("rule_error_cents", "Hours rule", page.money, number=True),
                Column("pinball_cents", "Whole span off by", page.money, number=True),
                Column("average_pinball_cents", "Average rule", page.money, number=True),
                Column("rule_pinball_cents", "Hours rule", page.money, number=True),
            ]
            widgets.table(page, named, columns, "score", shown=20, leads=_scored)


def _scored(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("predicted", row["factor"], row["level"])


def quoted(page: Page, only: Narrowed) -> None:
    """Saved quotes, each beside what the piece cost in the end."""
    saved = page.book.quoted()
    if not saved.height:
        widgets.say("No quote is saved yet: it stands beside the true cost once the piece is made.", quiet=True)
        return
    rows = widgets.rows_chosen(saved, **only.chosen)
    if not rows.height:
        widgets.say(f"None of the {words.count(saved.height, 'saved quote')} is for {only.words}.", quiet=True)
        return
    made = rows.filter(pl.col("unit_cents").is_not_null())
    inside = made.filter("inside").height
    label = f"{words.count(rows.height, 'saved quote')}, {made.height} made"
    label += f", {inside} of them within the span that was quoted" if made.height else ""
    if box := widgets.folded(label, "quoted"):
        with box:
            money = page.money
            columns = [
                Column("quote", "Quote"),
                Column("on_date", "Day", words.day),
                Column("product", "Product"),
                Column("quantity", "Units", number=True),
                Column("quoted_price_cents", "Price quoted", money, number=True),
                Column("predicted_10_cents", "Cost, four in five from", money, number=True),
                Column("predicted_50_cents", "likely", money, number=True),
                Column("predicted_90_cents", "to", money, number=True),
                Column("unit_cents", "True cost", money, number=True),
                Column("inside", "Within"),
                Column("quoted_hours", "Hours quoted", words.decimal(1), number=True),
                Column("unit_hours", "Hours", words.decimal(1), number=True),
                Column("price_cents", "Sold for", money, number=True),
                Column("file", "File", long=True),
            ]
            widgets.table(page, rows, columns, "quotes", leads=_first_made)


def _first_made(row: dict[str, Any]) -> widgets.Lead | None:
    """The piece that a quote became."""
    return ("pieces?piece", row["first_piece"]) if row["first_piece"] else ("pieces?product", row["product"])
