"""What must the next piece cost, by channel, so that it pays?"""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.price import quote as quote_chart
from dashboard.sections import market, quote_form
from dashboard.widgets import Column, Page
from pipeline.pages import actions

QUESTION = "What must the next piece cost?"

PARTS = {
    "labour": "work", "machine": "machines", "overhead": "rent and power", "material": "material",
    "rework": "risk of rework",
}  # fmt: skip

SOURCES = {
    "hours": "log the hours of each piece, and the spread shrinks",
    "material": "tag slabs and weigh pours, and the spread shrinks",
    "rework": "the Rework page shows what tends to come back",
}


def show(page: Page) -> None:
    try:
        choices = page.book.kept("quote choices", lambda: actions.quote_choices(data.shop_folder()))
    except actions.UserError as error:
        widgets.answer(QUESTION, "This shop's books can't be priced from yet.")
        widgets.empty(error.what, error.mend)
        return
    if not choices["product"]:
        widgets.answer(QUESTION, "There is no piece to learn from yet.")
        widgets.empty(
            "A price rests on your own history.", "From some 15 finished pieces with their hours it can be told."
        )
        return
    head = widgets.head()
    asked = quote_form.show(page, choices, _usual(page, choices["product"]))
    try:
        found = page.book.kept(f"quote {asked}", lambda: actions.quote(data.shop_folder(), asked))
    except actions.UserError as error:
        priced = False
        widgets.answer(QUESTION, "This can't be priced yet.", head)
        widgets.empty(error.what, error.mend)
    else:
        priced = True
        _quote(page, found, head)
        market.comparables(page, found)
    only = widgets.narrow(page)
    widgets.narrowed(only, "the list prices and the saved quotes below", "What is priced above is chosen there.")
    market.relist(page, only)
    if priced:
        market.what_if(page, asked["product"])
    market.score(page, asked["product"])
    market.quoted(page, only)
    widgets.caution(
        "a price is yours to set, and these are predictions from few pieces. Which tax a sale bears, and whether a "
        "finish may touch food, your local rules and the finish's data sheet decide; ask a licensed accountant where "
        "it matters."
    )


def _usual(page: Page, products: list[str]) -> str:
    sold = page.book.market().filter(pl.col("channel") == "").sort("sold_pieces", descending=True)["product"].to_list()
    return next((product for product in sold if product in products), products[0])


def _quote(page: Page, found: dict[str, Any], head: Any) -> None:
    price = next(p for p in found["prices"] if p["channel"] == found["channel"])
    widgets.answer(QUESTION, _sentence(page, found, price), head)
    _figures(page, found, price)
    widgets.advice(_advice(page, found, price))
    _picture(page, found, price)
    _save(page, found)
    _channels(page, found)
    _run(page, found)
    _behind(page, found)


def _kind(asked: dict[str, Any], usual_units: int) -> str:
    """What is priced: how many of what, of which wood and with which finish, and its size."""
    of = f" in {asked['species']}" if asked["species"] else ""
    finish = f" with {asked['finish']}" if asked["finish"] else ""
    # each with the unit that it was read in, so that a bare number that was meant otherwise is seen
    sizes = " × ".join(asked[name] for name in quote_form.SIZES if asked[name])
    return f"{_product(asked, usual_units)}{of}{finish}{f', {sizes}' if sizes else ''}"


def _product(asked: dict[str, Any], usual_units: int) -> str:
    if asked["quantity"] == 1:
        return f"{'one of ' if usual_units > 1 else ''}{words.article(asked['product'])}"
    return f"{words.article(asked['product'])}{'' if usual_units > 1 else ' in a run'} of {asked['quantity']}"


def _sentence(page: Page, found: dict[str, Any], price: dict[str, Any]) -> str:
    """The price to ask; of a run each and in all to the cent, so that the one times their number is the other."""
    asked, number, cents = found["asked"], found["asked"]["quantity"], price["asked_cents"]
    product = _product(asked, page.book.usual_units(asked["product"]))
    if cents is None:
        return f"No price is high enough for {product}: fees ({price['channel']}) and your wish take all."
    each = f"{page.money(cents)} each, {page.money(number * cents)} in all," if number > 1 else page.money(cents)
    return f"Ask {each} for {product} ({price['channel']})."


def _times(chance: float) -> str:
    # the predictions can't tell rarer things apart
    return "hardly ever loses money" if chance < 0.015 else f"loses money with a chance of {words.share(chance)}"


def _figures(page: Page, found: dict[str, Any], price: dict[str, Any]) -> None:
    at, money, cost, asked = found["cost"]["at"], page.money.round, found["cost"], found["asked"]
    each, of_each = (" each", "each; ") if asked["quantity"] > 1 else ("", "")
    kind = _kind(asked, page.book.usual_units(asked["product"]))
    chance = price.get("loss_chance")
    widgets.figures(
        [
            (
                f"Ask ({price['channel']})",
                page.money.exact.otherwise("no price")(price["asked_cents"]),
                f"{of_each}{kind}" + ("" if chance is None else f"; {_times(chance)}"),
                "quoted_price_cents",
                "?by-channel",
            ),
            (
                "Likely cost",
                money(at["50"]),
                f"{money(at['10'])} to {money(at['90'])}{each}, four times in five; {money(at['80'])} is safe",
                "predicted_50_cents",
            ),
            _pay(page, found, price, of_each),
            (
                "Hours in it",
                f"{cost['hours']:,.1f} h",
                f"{of_each}chance of rework {words.share(cost['rework_chance'])}",
                "quoted_hours",
            ),
            (
                "Lowest worth accepting",
                page.money.exact.otherwise("no price")(price.get("least_cents")),
                f"{of_each}covers the cash, pays you nothing",
                "least_cents",
            ),
        ],
        page,
        "kl-hero",
    )


def _pay(page: Page, found: dict[str, Any], price: dict[str, Any], of_each: str) -> tuple[str, ...]:
    """What the price leaves: for an own hour where that was wished for, else of the price and on cost."""
    pay = price.get("pay_cents_per_hour")
    margin, markup = words.share(price.get("margin_share")), words.share(price.get("markup_share"))
    both = f"{margin} · {markup}".replace(" %", "\u00a0%")
    if pay is not None and found["wish"]["pay_cents"] is not None:
        return "Your hour pays", page.money(pay), f"margin {margin} · markup {markup}", "pay_cents_per_hour"
    figure = "no price" if price["asked_cents"] is None else both
    return "Margin · markup", figure, "of the price · on cost and fees", "margin_share"


def _picture(page: Page, found: dict[str, Any], price: dict[str, Any]) -> None:
    cost, product = found["cost"], found["asked"]["product"]
    opens = {PARTS[name]: widgets.behind("made", product, name) for name in cost["parts"]}
    parts = pl.DataFrame({"part": [PARTS[name] for name in cost["parts"]], "cents": list(cost["parts"].values())})
    room = widgets.head()
    shown, small = widgets.small_ones(parts, "part", "cents", "quote-parts")
    rows = shown.select("part", begin=pl.col("cents").cum_sum() - pl.col("cents"), end=pl.col("cents").cum_sum())
    levels = {int(level): cents for level, cents in cost["at"].items()}
    asked = price["asked_cents"]
    most = max(cost["parts"], key=lambda name: cost["parts"][name])
    title = f"The largest part of what one costs is {PARTS[most]}: {page.money(cost['parts'][most])}"
    said = ", ".join(f"{part} {page.money(cents)}" for part, cents in parts.iter_rows())
    span = ", ".join(f"{level} % chance of at most {page.money(cents)}" for level, cents in levels.items())
    unit = f"{page.money.currency} each"
    chart = sent_chart(quote_chart, rows, levels, asked, title, unit, page.scale, page.look)
    with room:
        widgets.picture(chart, f"{title}: {said}. {span}.", "quote-parts", "part", opens=opens | small)
        widgets.say(
            "“Likely to cost”: thin, four in five such pieces; thick, up to what four in five cost at most; the tick, "
            "the middle one.",
            quiet=True,
        )


def parts_and_middle(page: Page, parts: int, middle: int) -> str:
    """Why the parts of a cost don't come to the middle one of all that such a piece may cost."""
    said = f"The parts are of a piece with the usual hours and material: {page.money(parts)} together"
    if parts == middle:
        return f"{said}, as much as the middle one."
    why = "what goes wrong adds more than what goes well saves"
    if parts > middle:
        said, why = f"{said}, a share of the usual rework in it", "most such pieces never come back"
    return f"{said}. The middle one costs {page.money(middle)}, since {why}."


def _advice(page: Page, found: dict[str, Any], price: dict[str, Any]) -> list[str]:
    said, cost, band = list(found["notes"]), found["cost"], found["band"]
    if lossy := [row["channel"] for row in found["one_price"] if not row["worth_it"]]:
        said.append(
            f"At {page.money(price['asked_cents'])} everywhere, {' and '.join(lossy)} would leave less than it costs."
        )
    if times := cost.get("times_made"):
        made = f"{times:.1f} times the largest" if times > 1 else f"{words.share(times)} of the smallest"
        said.append(f"Its size is {made} made so far: the spread is wider for it, and rests on less than it says.")
    if cost["never_made"]:
        said.append(f"Never made so far: {', '.join(cost['never_made'])}. The spread is wider for it.")
    if band and price["asked_cents"] is not None:
        few, asked = band["pieces"] < words.FEW, price["asked_cents"]
        low, high = (band["middle_cents" if few else end] for end in ("low_cents", "high_cents"))
        where = "lies above" if asked > high else "lies below" if asked < low else "is" if few else "lies within"
        said.append(f"{_brought(page, band)}: the price asked {where} that.")
    source = max(cost["spread_from"], key=lambda name: cost["spread_from"][name])
    said.append(
        f"{words.share(cost['spread_from'][source])} of the spread comes from {PARTS.get(source, source)}: "
        f"{SOURCES[source]}."
    )
    if price.get("booth_units"):
        said.append(f"{words.count(price['booth_units'], 'such piece')} pay for the booth there.")
    return said


def _brought(page: Page, band: dict[str, Any]) -> str:
    """What the sold pieces most like it brought: of few no more than the middle one."""
    money, like = page.money.round, words.count(band["pieces"], "sold piece")
    if band["pieces"] < words.FEW:
        return f"The middle one of the {like} most like it brought {money(band['middle_cents'])}"
    span = f"{money(band['low_cents'])} to {money(band['high_cents'])}"
    return f"Of the {like} most like it the middle half brought {span}, the middle one {money(band['middle_cents'])}"


def _save(page: Page, found: dict[str, Any]) -> None:
    with st.container(horizontal=True, gap="small", key="save-quote"):
        if st.button("Save this quote", key="save"):
            try:
                saved = actions.save_quote(data.shop_folder(), found)
                st.session_state["saved quote"] = saved | {"asked": found["asked"]}
            except actions.UserError as error:
                widgets.empty(error.what, error.mend)
        st.download_button(
            "The client's page",
            lambda: actions.quote_sheet(found).encode(),
            "quote.html",
            "text/html",
            key="sheet",
            help="One page to print, with the price and the terms: it tells nothing of what the piece costs you.",
            on_click="ignore",
        )
    last = st.session_state.get("saved quote")
    if last and last["asked"] == found["asked"]:
        widgets.say(f"Saved as {last['quote']}, with the client's page beside it: {last['file']}.")


def _channels(page: Page, found: dict[str, Any]) -> None:
    """A price for each channel, and beside it what one price for all would leave on each."""
    money, one = page.money, found["one_price"]
    label = "The price by channel, and one price for all"
    if one:
        lossy = [row["channel"] for row in one if not row["worth_it"]]
        worth = f"not worth it: {', '.join(lossy)}" if lossy else "all are worth it"
        label += f": at {money(one[0]['same_price_cents'])} {worth}"
    box = widgets.folded(label, "by-channel")
    if not box:
        return
    nested = pl.DataFrame(
        [{k: v for k, v in price.items() if k != "habit"} for price in found["prices"]], infer_schema_length=None
    )
    if one:
        nested = nested.join(
            pl.DataFrame(one, infer_schema_length=None), on="channel", how="left", maintain_order="left"
        )
    columns = [
        Column("channel", "Channel"),
        Column("asked_cents", "Ask", money, number=True, means="quoted_price_cents"),
        Column("proceeds_cents", "Left after fees", money, number=True),
        Column("profit_cents", "Profit", money, number=True),
        Column("margin_share", "Margin, of the price", words.share, number=True),
        Column("markup_share", "Markup, on cost and fees", words.share, number=True),
        Column("pay_cents_per_hour", "Your hour pays", money, number=True),
        Column("loss_chance", "Loses money", words.chance, number=True),
        Column("least_cents", "Lowest worth accepting, your hours unpaid", money, number=True),
        Column("fee_share", "Fees", words.share, number=True),
        Column("tax_share", "Tax", words.share, number=True),
        Column("shipping_paid_cents", "Shipping", money, number=True),
        Column("booth_units", "Pieces to pay the booth", words.decimal(0).otherwise("no booth"), number=True),
    ]
    same = [
        Column("channel", "Channel"),
        Column("same_price_cents", "Ask everywhere", money, number=True),
        Column("same_proceeds_cents", "Left after fees", money, number=True),
        Column("same_profit_cents", "Profit", money, number=True),
        Column("same_pay_cents_per_hour", "Your hour pays", money, number=True),
        Column("same_loss_chance", "Loses money", words.chance, number=True),
        Column("worth_it", "Worth it"),
    ]
    with box:
        widgets.say("A price of its own for each channel, for the same wish:")
        widgets.table(page, nested, columns, "price-by-channel", leads=_sold)
        if one:
            widgets.say(f"The price of {found['channel']} asked on each:")
            widgets.table(page, nested, same, "one-price", leads=_sold)
        settings_in_force.show(page, actions.log_now(data.shop_folder()).date(), "fees")


def _sold(row: dict[str, Any]) -> widgets.Lead:
    return widgets.behind("sold", "channel", row["channel"])


def _run(page: Page, found: dict[str, Any]) -> None:
    money, product = page.money, found["asked"]["product"]
    run = pl.DataFrame(found["run"], infer_schema_length=None)
    last = run.row(-1, named=True)
    label = f"In a run of {last['quantity']} one costs {money(last['cost_cents'])}"
    if last["asked_cents"] is not None:
        label += f" and could be asked at {money(last['asked_cents'])}"
    if box := widgets.folded(label, "run"):
        with box:
            columns = [
                Column("quantity", "Units", number=True),
                Column("cost_cents", "Cost each", money, number=True, means="predicted_50_cents"),
                Column("cost_10_cents", "four in five, from", money, number=True, means="predicted_10_cents"),
                Column("cost_90_cents", "to", money, number=True, means="predicted_90_cents"),
                Column("hours", "Hours each", words.decimal(1), number=True, means="quoted_hours"),
                Column("asked_cents", "Ask", money, number=True, means="quoted_price_cents"),
                Column("least_cents", "Lowest worth accepting, your hours unpaid", money, number=True),
                Column("loss_chance", "Loses money", words.chance, number=True),
            ]
            widgets.table(page, run, columns, "price-by-run", leads=lambda _: widgets.behind("made", product, "all"))


def _behind(page: Page, found: dict[str, Any]) -> None:
    cost = found["cost"]
    hours = pl.DataFrame(list(cost["hours_by_operation"].items()), schema=["operation", "hours"], orient="row")
    layers = pl.DataFrame(list(cost["material_by_layer"].items()), schema=["layer", "cents"], orient="row")
    leant = pl.DataFrame(found["leant_on"])
    label = f"What it rests on, part by part, and the rules: {words.count(cost['history_pieces'], 'piece')} of history"
    if box := widgets.folded(label, "rests-on"):
        with box:
            columns = [
                Column("piece", "Piece", opens="pieces?piece"),
                Column("product", "Product"),
                Column("species", "Species"),
                Column("finish", "Finish"),
                Column("finished", "Finished"),
                Column("cost_cents", "Cost today", page.money, number=True),
                Column("weight_share", "Weight", words.Unit("%", 100, 1), number=True),
            ]
            widgets.table(page, leant, columns, "leant-on")
            product = found["asked"]["product"]
            parts = pl.DataFrame({"name": list(cost["parts"]), "cents": list(cost["parts"].values())})
            part = [
                Column("name", "Part", lambda name: PARTS[name]),
                Column("cents", "Expected", page.money, number=True),
            ]
            widgets.say(parts_and_middle(page, cost["parts_cents"], cost["at"]["50"]), quiet=True)
            widgets.table(
                page, parts, part, "quoted-parts", leads=lambda row: widgets.behind("made", product, row["name"])
            )
            hour = [Column("operation", "Operation"), Column("hours", "Hours", words.decimal(2), number=True)]
            widgets.table(
                page, hours, hour, "quoted-hours", 20, leads=lambda r: widgets.behind("made", product, r["operation"])
            )
            layer = [Column("layer", "Material"), Column("cents", "Cost", page.money, number=True)]
            widgets.table(
                page,
                layers,
                layer,
                "quoted-material",
                20,
                leads=lambda row: widgets.behind("made", product, row["layer"]),
            )
            settings_in_force.show(page, actions.log_now(data.shop_folder()).date(), "pay", "quotes", "tax")
