"""A quote as lines of text: cost in parts, price by channel, what the market says, how good such quotes were."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pipeline.reports.words import amount, count, share

Data = dict[str, Any]

_LAYERS_SHOWN = 6
_NAMED = 4


def text(quote: Data, sheet: Path | None = None) -> Iterator[str]:
    """The quote (of `pipeline.quoting`) for whoever makes the piece: it names costs and is not for the client.

    `sheet` is where the client's page was written.
    """
    digits = quote["minor_digits"]
    yield title(quote["asked"]) + f", in {quote['currency']}, per unit, without sales tax"
    yield from (f"  Mind: {note}" for note in quote["notes"])
    yield from _cost(quote["cost"], digits)
    yield from _leant_on(quote, digits)
    yield from _prices(quote, digits)
    yield from _run(quote, digits)
    yield from _market(quote, digits)
    yield from _score(quote, digits)
    if "quote" in quote:
        yield f"Saved as {quote['file']}, with the client's page beside it."
        yield f"Name {quote['quote']} in the order's `quote`, and the quote will stand beside the true cost."
    if sheet:
        yield f"The client's page is in {sheet}."


def title(asked: Data) -> str:
    """`2 × tray · black walnut · resin inlay · 18 in × 12 in × 1 in`."""
    round_ = asked["diameter"] and f"⌀ {asked['diameter']}"
    sizes = [s for s in (round_, asked["length"], asked["width"], asked["thickness"]) if s]
    parts = (asked["product"], asked["species"], asked["finish"], " × ".join(sizes))
    many = f"{asked['quantity']} × " if asked["quantity"] > 1 else ""
    return many + " · ".join(part for part in parts if part)


def _cost(cost: Data, digits: int) -> Iterator[str]:
    at = {level: amount(cents, digits) for level, cents in cost["at"].items()}
    yield ""
    yield f"Cost: {at['50']} in the middle; 1 in 10 below {at['10']}, 4 in 5 below {at['80']}, 9 in 10 below {at['90']}"
    parts = cost["parts"]
    yield _line(f"work, {cost['hours']:.1f} hours", parts["labour"], digits)
    if cost["hours_by_operation"]:
        hours = (f"{name} {hours:.1f}" for name, hours in cost["hours_by_operation"].items() if hours >= 0.05)
        yield f"      {', '.join(hours)}"
    yield _line("machine", parts["machine"], digits)
    yield _line("rent and power", parts["overhead"], digits)
    yield _line("material", parts["material"], digits)
    layers = [f"{name} {amount(cents, digits)}" for name, cents in cost["material_by_layer"].items() if cents]
    if layers:
        yield f"      {', '.join(layers[:_LAYERS_SHOWN])}{' …' if len(layers) > _LAYERS_SHOWN else ''}"
    chance = f"rework, {share(cost['rework_chance'])} likely, then + {share(cost['rework_share'])}"
    yield _line(chance, parts["rework"], digits)
    yield _line("with the usual hours and material", cost["parts_cents"], digits)
    sources = ", ".join(f"{name} {share(part)}" for name, part in cost["spread_from"].items())
    yield f"  The spread comes from {sources}."
    if cost["practice_rate"]:
        rate, unit = share(cost["practice_rate"]), cost["unit_number"]
        yield f"  Practice shows: each doubling of the units made takes {rate} of the hours (this is unit {unit})."
    if times := cost.get("times_made"):
        made = f"{times:.1f} times the largest" if times > 1 else f"{share(times)} of the smallest"
        yield f"  Its size is {made} made so far: the spread is wider for it, and rests on less than it says."
    if cost["never_made"]:
        yield f"  Never made here: this {' and this '.join(cost['never_made'])}; the spread says so."


def _leant_on(quote: Data, digits: int) -> Iterator[str]:
    pieces = (f"{row['piece']} ({amount(row['cost_cents'], digits)} today)" for row in quote["leant_on"][:_NAMED])
    yield f"  Of {count(quote['cost']['history_pieces'], 'piece')} it leans most on {', '.join(pieces)}."


def wish(found: Data, digits: int) -> str:
    """What the price is for."""
    if found["pay_cents"] is not None:
        return f"for {amount(found['pay_cents'], digits)} an hour of your own"
    return f"for a margin of {share(found['margin'])} of the price"


def _prices(quote: Data, digits: int) -> Iterator[str]:
    yield ""
    yield f"Price, {wish(quote['wish'], digits)}, fees and postage covered"
    yield f"  {'channel':<14}{'price':>10}{'margin':>8}{'markup':>8}{'an hour':>10}{'loses':>7}{'at least':>10}"
    for price in quote["prices"]:
        if price["asked_cents"] is None:
            yield f"  {price['channel']:<14}{'none':>10}  {price['why']}"
            continue
        least, pay = amount(price["least_cents"], digits), amount(_whole(price["pay_cents_per_hour"]), digits)
        yield (
            f"  {price['channel']:<14}{amount(price['asked_cents'], digits):>10}{share(price['margin_share']):>8}"
            f"{share(price['markup_share']):>8}{pay:>10}{share(price['loss_chance']):>7}{least:>10}"
        )
    yield "  Margin is profit over price, markup is profit over cost with fees. `loses`: the chance that it costs more"
    yield "  than the price leaves. `at least`: the lowest price worth taking: it covers what leaves the till"
    yield "  and pays nothing for your own hours."
    for price in quote["prices"]:
        if price.get("booth_units"):
            fee = amount(price["booth_cents"], digits)
            yield f"  A booth of {fee} ({price['channel']}) is paid for by {count(price['booth_units'], 'such piece')}."


def _run(quote: Data, digits: int) -> Iterator[str]:
    yield ""
    yield f"In a run, each ({quote['channel']})"
    for row in quote["run"]:
        hours = f"{row['hours']:.1f} h"
        price, cost = amount(row["asked_cents"], digits), amount(row["cost_cents"], digits)
        yield f"  {row['quantity']:>4} made together: cost {cost:>10}, {hours:>7}, price {price:>10}"
    if not quote["made_in_runs"]:
        product = quote["asked"]["product"]
        yield f"  Mind: no {product} was ever made in a run here; what a run saves is taken from other products."


def _market(quote: Data, digits: int) -> Iterator[str]:
    yield ""
    band = quote["band"]
    if not band:
        yield "Nothing like it was sold yet."
        return
    low, high = amount(band["low_cents"], digits), amount(band["high_cents"], digits)
    middle = amount(band["middle_cents"], digits)
    yield f"Sold: the {band['pieces']} pieces most like it brought {middle} in the middle, half of them {low} to {high}"
    for row in quote["similar"]:
        what = " · ".join(part for part in (row["product"], row["species"], row["finish"]) if part)
        days = "made to order" if row["wait_days"] is None else f"after {count(row['wait_days'], 'day')}"
        where = row["channel"] or "sold"
        price = amount(row["price_cents"], digits)
        yield f"  {row['piece']:<10}{price:>10}  {what}, {where} {row['sold']}, {days}"
    for row in quote["waits"]:
        yield "  " + waited(row)


def waited(row: Data) -> str:
    """How long a group takes to sell, unsold pieces counted."""
    group = {"product": "{}", "price": "the {} of prices", "channel": "{}, if it were the only channel"}[row["factor"]]
    beside = f"; {row['ordered_pieces']} more made to order waited for nobody" if row["ordered_pieces"] else ""
    if not row["pieces"]:
        return f"{group.format(row['level'])}: none was on offer{beside}."
    of = f"{group.format(row['level'])}: {row['sold_pieces']} of {row['pieces']} sold"
    if row["median_days"] is None:
        return f"{of}; fewer than half ever did, so there is no middle wait{beside}."
    limits = [row["median_low_days"], row["median_high_days"]]
    low, high = ("?" if day is None else f"{day}" for day in limits)
    half = f"half within {count(row['median_days'], 'day')} ({low} to {high}, 19 times in 20)"
    return f"{of}, {half}, unsold ones counted{beside}."


def _score(quote: Data, digits: int) -> Iterator[str]:
    yield ""
    if not quote["score"]:
        yield "How good such quotes were can't be said yet: too few sold pieces."
        return
    yield "How good such quotes were: every sold piece predicted from what was known before it"
    for row in quote["score"]:
        name = row["level"] or "all products"
        inside, error = share(row["coverage_share"]), amount(row["error_cents"], digits)
        span = f"{100 * row['coverage_low_share']:.0f} to {share(row['coverage_high_share'])}, 19 times in 20"
        average, rule = amount(row["average_error_cents"], digits), amount(row["rule_error_cents"], digits)
        yield f"  {name}, {count(row['pieces'], 'piece')}: {inside} between 10 % and 90 % ({span}; 80 % should be);"
        yield f"    off by {error}, the product's average by {average}, hours at the rate and material twice by {rule}"


def _line(words: str, cents: int, digits: int) -> str:
    return f"  {words:<44}{amount(cents, digits):>12}"


def _whole(cents: float | None) -> int | None:
    return None if cents is None else round(cents)
