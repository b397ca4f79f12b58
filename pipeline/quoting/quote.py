"""The answer to a request: what the piece will cost, its price by channel, and what the market says.

`quote(context, asked)` answers in milliseconds, as plain data with money in minor units. `saved(quote)` is what a saved
quote holds.
"""

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

import polars as pl

from pipeline.errors import UserError
from pipeline.estimates.quote_price import Costs, offer, units_to_earn
from pipeline.estimates.quotes import Cost, drawn_split
from pipeline.quoting import market
from pipeline.quoting.context import Channel, Context
from pipeline.quoting.request import Request, money, ppm, read_request

USUAL_MARGIN = 0.3
"""Wanted where nothing is said (common practice, no source)."""
RUNS = (1, 2, 5, 10)
Data = dict[str, Any]


def quote(context: Context, asked: Request) -> Data:
    """The whole answer. Raises `UserError` for what can't be read, or for too little history."""
    history = context.predictor.history
    asked, described, sizes, notes = read_request(asked, context.shop, history)
    resin_cents, resin = context.resin_cents(asked.resin_grams, asked.resin)
    hardware_cents = money(asked.hardware, context.shop, "hardware")
    described = replace(described, extra_material_cents=resin_cents + hardware_cents)
    wish = _wish(asked, context)
    channel = _channel(asked, context)
    costs = context.predictor.run(described, tuple(sorted({*RUNS, described.quantity})))
    cost = costs[described.quantity]
    near = market.similar(history, described)
    offers = context.offers(asked.product)
    chosen = next((o for o in offers if o.terms.channel == channel), offers[0])
    prices = [_price(cost.costs(), each, wish) for each in offers]
    price = prices[offers.index(chosen)]
    extras = {"resin": resin_cents, "hardware": hardware_cents}
    return {
        "on_date": context.today.isoformat(),
        "shop": context.shop["name"],
        "currency": context.shop["currency"],
        "minor_digits": context.shop.minor_digits,
        "asked": asdict(asked) | {"resin": resin},
        "sizes": asdict(sizes) | {"area_mm2": described.area_mm2, "volume_mm3": described.volume_mm3},
        "notes": notes,
        "wish": wish,
        "channel": chosen.terms.channel,
        "cost": _cost(context, cost, extras),
        "leant_on": _plain(cost.leant_on),
        "prices": prices,
        "one_price": _one_price(cost.costs(), offers, price["asked_cents"]),
        "run": _run(costs, chosen, wish),
        "made_in_runs": _made_in_runs(history, asked.product),
        "similar": _plain(near.head(market.SHOWN).drop("apart")),
        "band": market.band(near),
        "waits": market.waits(context.tables["sell_time"], asked.product, chosen.terms.channel, price["asked_cents"]),
        "score": _score(context, asked.product),
        "holds_days": context.shop["quote_days"],
        "deposit_ppm": context.shop["deposit_ppm"],
        "terms": context.shop["quote_terms"],
    }


def choices(context: Context) -> dict[str, list[str]]:
    """The words that a form can offer."""
    history = context.tables["history"]
    made = {f: sorted(history[f].drop_nulls().unique().to_list()) for f in ("product", "species", "finish")}
    return made | {"channel": context.channels(), "resin": context.tables["resin"]["resin"].to_list()}


def saved(found: Data, channel: str = "") -> Data:
    """What a saved quote holds: the columns of intake.quote, and the answer that it was made from."""
    wanted = channel or found["channel"]
    price = next((p for p in found["prices"] if p["channel"] == wanted and p["asked_cents"]), None)
    if price is None:
        raise UserError(f"The quote has no price for {wanted!r}.", "channel", "Choose a channel that has one.")
    cost, parts = found["cost"], found["cost"]["parts"]
    named = {n: found["asked"][n] or None for n in ("product", "species", "finish")}
    quoted = {f"quoted_{n}_cents": parts[n] for n in ("labour", "machine", "overhead", "material", "rework")}
    levels = {f"predicted_{level}_cents": cents for level, cents in cost["at"].items()}
    return {
        "on_date": found["on_date"],
        **named,
        "quantity": found["asked"]["quantity"],
        "channel": price["channel"],
        "quoted_price_cents": price["asked_cents"],
        **levels,
        **quoted,
        "quoted_hours": round(cost["hours"], 4),
        "answer": found | {"channel": price["channel"]},
    }


def _wish(asked: Request, context: Context) -> Data:
    """What is wanted: an hourly pay if one is named, else a margin."""
    if asked.pay.strip():
        return {"pay_cents": money(asked.pay, context.shop, "pay"), "margin": None}
    return {"pay_cents": None, "margin": USUAL_MARGIN if asked.margin is None else asked.margin}


def _channel(asked: Request, context: Context) -> str:
    if not asked.channel:
        return context.usual_channel(asked.product)
    known = {c.casefold(): c for c in context.channels()}
    if asked.channel.casefold() not in known:
        names = ", ".join(known.values()) or "none"
        raise UserError(f"There is no channel {asked.channel!r}.", "--channel", f"Known ones: {names}.")
    return known[asked.channel.casefold()]


def _price(costs: Costs, channel: Channel, wish: Data) -> Data:
    terms, habit = channel.terms, channel.habit
    of = {
        "channel": terms.channel,
        "fee_share": float(terms.fee_share),
        "fixed_fee_cents": terms.fixed_cents + terms.payment_fixed_cents,
        "booth_share": channel.booth_ppm / 1e6,
        "shipping_charged_cents": terms.shipping_charged_cents,
        "shipping_paid_cents": terms.shipping_paid_cents,
        "tax_share": terms.tax_ppm / 1e6,
        "tax_by": channel.tax_by,
        "habit": {"step_cents": habit.step_cents, "ending_cents": habit.ending_cents, "share": habit.share},
    }
    made = offer(costs, terms, habit, ppm(wish["margin"] or 0), wish["pay_cents"])
    if made is None:
        return of | {"asked_cents": None, "why": "Fees and margin take all of any price."}
    answered = {k: v for k, v in asdict(made).items() if k != "channel"}
    if not costs.own_hours:
        answered["pay_cents_per_hour"] = None
    # what the buyer pays, by the tax that this channel's sales bore
    answered["with_tax_cents"] = made.asked_cents + round(made.asked_cents * terms.tax_ppm / 1e6)
    return of | answered | _booth(costs, channel, made.asked_cents)


def _one_price(costs: Costs, offers: Sequence[Channel], asked_cents: int | None) -> list[Data]:
    """What the price of the chosen channel would leave on each, asked everywhere; `worth_it` if it covers the cost."""
    if asked_cents is None:
        return []
    rows = []
    for channel in offers:
        left = channel.terms.proceeds(asked_cents)
        pay = (left - costs.other_cents) / costs.own_hours if costs.own_hours else None
        rows.append(
            {
                "channel": channel.terms.channel,
                "same_price_cents": asked_cents,
                "same_proceeds_cents": left,
                "same_profit_cents": left - costs.cost_cents,
                "same_pay_cents_per_hour": pay,
                "same_loss_chance": costs.spread.chance_above(left, costs.row),
                "worth_it": left >= costs.cost_cents,
            }
        )
    return rows


def _booth(costs: Costs, channel: Channel, price: int) -> Data:
    """How many such pieces pay for a booth: its fee over what each sale leaves for it (contribution)."""
    if not channel.booth_cents:
        return {}
    # the booth's part must not be taken off what is left to pay for the booth
    bare = replace(channel.terms, share_ppm=channel.terms.share_ppm - channel.booth_ppm)
    variable = price - bare.proceeds(price) + costs.cash_cents
    units = units_to_earn(channel.booth_cents, price, variable)
    return {"booth_cents": channel.booth_cents, "contribution_cents": price - variable, "booth_units": units}


def _made_in_runs(history: pl.DataFrame, product: str) -> bool:
    return not history.filter((pl.col("product") == product) & (pl.col("quantity") > 1)).is_empty()


def _cost(context: Context, cost: Cost, extras: dict[str, int]) -> Data:
    found = cost.costs()
    by_operation = dict(cost.hours_by_operation)
    for name, seconds in (
        ("carving", cost.described.extra_seconds),
        ("set-up", cost.described.setup_seconds / cost.described.quantity),
    ):
        if seconds and by_operation:
            by_operation[name] = by_operation.get(name, 0.0) + seconds / 3600
    return {
        "at": {str(level): cents for level, cents in cost.at.items()},
        "parts": cost.parts,
        "parts_cents": cost.parts_cents,
        "hours": cost.hours,
        "hours_by_operation": by_operation,
        "material_by_layer": _layers(context, cost, extras),
        "rework_chance": cost.rework_chance,
        "rework_share": cost.rework_share,
        "spread_from": cost.sources,
        "cash_cents": found.cash_cents,
        "other_cents": found.other_cents,
        "own_hours": found.own_hours,
        "hour_cents": {"labour": round(cost.rates.labour), "overhead": round(cost.rates.overhead)},
        "practice_rate": cost.practice_rate if cost.practice_shown else None,
        "unit_number": cost.unit,
        "history_pieces": cost.history_pieces,
        "times_made": cost.times_made,
        "never_made": [name for name in cost.new if getattr(cost.described, name)],
    }


def _layers(context: Context, cost: Cost, extras: dict[str, int]) -> dict[str, int]:
    """The material by layer, split as in the product's pieces; extras on top."""
    bare = cost.parts["material"] - sum(extras.values())
    rows = drawn_split(context.tables["split"], "material", cost.described.product, bare)
    if not rows:
        return {}
    found = {layer: cents + extras.get(layer, 0) for layer, cents in rows.items()}
    found |= {layer: cents for layer, cents in extras.items() if cents and layer not in found}
    largest_first = dict(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))
    return _whole(largest_first, cost.parts["material"])


def _whole(parts: dict[str, float], total: int) -> dict[str, int]:
    """Whole cents that add up: running sums rounded, as everywhere in the books."""
    done, running, out = 0, 0.0, {}
    for name, cents in parts.items():
        running += cents
        upto = total if name == list(parts)[-1] else round(running)
        out[name], done = upto - done, upto
    return out


def _run(costs: dict[int, Cost], channel: Channel, wish: Data) -> list[Data]:
    """Cost and price of a unit in runs of several lengths, on the chosen channel."""
    rows = []
    for n, cost in costs.items():
        price = _price(cost.costs(), channel, wish)
        rows.append(
            {
                "quantity": n,
                "cost_cents": cost.at[50],
                "cost_10_cents": cost.at[10],
                "cost_90_cents": cost.at[90],
                "hours": cost.hours,
                "asked_cents": price["asked_cents"],
                "least_cents": price.get("least_cents"),
                "loss_chance": price.get("loss_chance"),
            }
        )
    return rows


def _score(context: Context, product: str) -> list[Data]:
    wanted = ((pl.col("factor") == "product") & (pl.col("level") == product)) | (pl.col("factor") == "all")
    return _plain(context.tables["score"].filter(wanted).sort("factor", descending=True))


def _plain(frame: pl.DataFrame) -> list[Data]:
    """Rows as JSON has them: a day as 2026-05-31."""
    import polars.selectors as cs

    return frame.with_columns(cs.date().dt.to_string()).to_dicts()
