"""What happened after the bench: prices, orders, sales, returns, payments, moves and market days."""

import random
from bisect import bisect_left
from collections import defaultdict
from datetime import date

from sample_data import workshop as w
from sample_data.bench import blank_mm3, true_hours
from sample_data.story import Row, Story, Use, log


def market_days(story: Story) -> list[tuple[str, int, int]]:
    """Tag, day and fee of each market: a Saturday a month, two in May, June, September, November and December."""
    days = []
    for day in range(story.start + 6, story.end + 1):
        when = date.fromordinal(day)
        wanted = {2} | ({4} if when.month in (5, 6, 9, 11, 12) else set())
        if when.weekday() == 5 and (when.day + 6) // 7 in wanted:
            days.append((f"MKT-{when:%Y-%m-%d}", day, 4500 if when.month < 9 else 6000))
    return days


def usual_materials(piece: Row) -> float:
    """Cents of material that the makers reckon with when they set a price."""
    wood = w.WOODS[piece["species"]]
    cents = blank_mm3(piece) / w.MM3_PER_BOARD_FOOT / wood.usable * wood.board_foot
    ml = {"resin inlay": 0.3, "flood coat": 3.2, "cast river": 0.12 * piece["thickness"] / 1000}.get(
        piece["finish"], 0.0
    )
    cents += ml * piece["_area_mm2"] * piece["quantity"] / 1000 * 1.5 * 4.5
    for item, count in w.PRODUCTS[piece["product"]].hardware.items():
        cents += count * piece["quantity"] * w.ITEMS[item].cents / w.ITEMS[item].pack * 1000
    return cents


def list_price(rng: random.Random, piece: Row) -> int:
    """Price asked for a unit, in whole dollars (a coaster: half dollars)."""
    hours = sum(true_hours(piece, operation) for operation in w.PRODUCTS[piece["product"]].hours)
    cents = (
        (hours * w.HOUR_PRICE + usual_materials(piece) * w.MATERIAL_FACTOR)
        * rng.lognormvariate(0.0, 0.11)
        / piece["quantity"]
    )
    step = 50 if piece["quantity"] > 1 else 100
    return max(step, round(cents / step) * step)


def sell(rng: random.Random, story: Story) -> None:
    """List, sell, return and pay for what was finished."""
    story.events = market_days(story)
    for piece in story.pieces:
        if piece["status"] == "finished":
            _sell(rng, story, piece)
        elif piece["status"] == "in progress" and piece["quantity"] == 1:
            _promise(rng, story, piece)
    _commission_tests(rng, story)
    _leave(rng, story)
    _days_at_market(rng, story)
    _money(rng, story)
    story.orders.sort(key=lambda row: (row["date"], row["order_no"]))
    story.payments.sort(key=lambda row: row["date"])


def _sell(rng: random.Random, story: Story, piece: Row) -> None:
    ready, price = piece["finished"], list_price(rng, piece)
    piece |= {"listed": ready + rng.randint(0, 3), "list_price": price, "_open": piece["quantity"]}
    way = rng.random()
    if piece["product"] != "coaster run" and way < 0.17 and "_opening" not in piece:
        if _commission(rng, story, piece, price):
            return
    elif piece["product"] in ("wall clock", "tray", "side table") and way < 0.27:
        _consign(rng, story, piece, price)
        return
    product, day = w.PRODUCTS[piece["product"]], ready
    if rng.random() < 0.05:
        return  # the shelf-warmer that every shop has
    while piece["_open"]:
        day += 1 + int(rng.expovariate(1 / product.days_to_sell))
        units = min(piece["_open"], rng.choice((1, 1, 2, 3, 4))) if piece["quantity"] > 1 else 1
        if not _sell_units(rng, story, piece, day, units, price):
            return


def _sell_units(rng: random.Random, story: Story, piece: Row, day: int, units: int, price: int) -> bool:
    online = rng.random() < 0.42
    event = None
    if not online:
        place = bisect_left(story.events, day, key=lambda e: e[1])
        if place == len(story.events):
            return False
        event, day, _ = story.events[place]
    if day > story.end:
        return False
    row: Row = {"date": day, "piece": piece["piece"], "product": piece["product"], "quantity": units, "price": price}
    if online:
        charged = 0 if units * price > 15000 else 895
        row |= {"channel": "online", "shipping_charged": charged, "shipping_paid": rng.randint(720, 1650)}
        row |= _online_fees(day, units * price, charged)
    else:
        if rng.random() < 0.18 and price > 2000:
            row["price"] = round(price * rng.choice((0.9, 0.95)) / 100) * 100
        row |= {"channel": "market", "event": event, "sales_tax": units * _tax(row["price"])}
        share, fixed = 0.026, 10
        row["payment_fee"] = round((units * row["price"] + row["sales_tax"]) * share) + fixed
        row["_tagged"] = rng.random() > 0.16
    _sold(rng, story, piece, row)
    if rng.random() < 0.022:
        _come_back(rng, story, piece, row)
    return True


def _online_fees(day: int, goods: int, charged: int) -> Row:
    begins = [begin is None or begin.toordinal() <= day for begin, *_ in w.CHANNELS["online"].fees]
    _, share, fixed, payment_share, payment_fixed = w.CHANNELS["online"].fees[
        max(i for i, yes in enumerate(begins) if yes)
    ]
    return {
        "sales_tax": round(goods * w.TAX_SHARE),
        "channel_fee": round(goods * share) + fixed,
        "payment_fee": round((goods + charged) * payment_share) + payment_fixed,
    }


def _tax(price: int) -> int:
    return round(price * w.TAX_SHARE)


def _sold(rng: random.Random, story: Story, piece: Row, row: Row) -> None:
    row["_ref"] = f"S{len(story.sales) + 10001}"
    row["_buyer"] = f"Buyer {rng.randint(1, 9999):04d}"
    row.setdefault("_tagged", True)
    story.sales.append(row)
    piece["_open"] -= row["quantity"]
    packaging = w.PRODUCTS[piece["product"]].packaging
    story.uses.append(Use(row["date"], packaging, 1000))
    story.uses.append(Use(row["date"], "tissue paper", 2000))
    if row["channel"] == "online":
        log(
            rng,
            story,
            row["date"],
            "Tobin" if rng.random() < 0.6 else "Mara",
            "packing",
            [(piece["piece"], 180 * rng.randint(3, 9))],
        )
    if rng.random() < w.WARRANTY_CHANCE and row["date"] + 60 < story.end:
        day = row["date"] + rng.randint(20, 59)
        story.inspections.append(
            {
                "date": day,
                "piece": piece["piece"],
                "defect": "check",
                "found_at": "inspection",
                "action": "rework",
                "_warranty": True,
            }
        )
        work = log(rng, story, day + 1, "Mara", "sanding", [(piece["piece"], 180 * rng.randint(10, 40))], rework=True)
        work["_warranty"] = True


def _come_back(rng: random.Random, story: Story, piece: Row, row: Row) -> None:
    day = row["date"] + rng.randint(18, 140)
    if day > story.end:
        return
    units = 1
    whole = row["quantity"] == 1
    back: Row = {k: row[k] for k in ("piece", "product", "channel", "price") if k in row}
    where = rng.choice(("stock", "stock", "scrap")) if whole else "stock"
    back |= {
        "date": day,
        "quantity": -units,
        "returned_to": where,
        "note": "came back",
        "_ref": row["_ref"],
    }
    back |= {"sales_tax": -_tax(row["price"]), "_buyer": row["_buyer"], "_tagged": True}
    story.sales.append(back)
    if where == "stock":
        piece["_open"] += units
    refund = row["price"] + (_tax(row["price"]) if row["channel"] == "market" else 0)
    story.payments.append({"date": day, "kind": "refund", "amount": refund, "note": back["_ref"]})


def _commission(rng: random.Random, story: Story, piece: Row, price: int) -> bool:
    """An order for the piece; False if it was called off and the piece must find another buyer."""
    placed = max(story.start, piece["started"] - rng.randint(4, 25))
    number = f"C-{len(story.orders) + 101}"
    due = piece["finished"] + rng.randint(-5, 20)
    order: Row = {
        "order_no": number,
        "date": placed,
        "channel": "commission",
        "product": piece["product"],
        "price": price,
        "due": max(due, placed + 7),
    }
    story.orders.append(order)
    piece["order_no"] = number
    deposit = round(price * 0.4 / 100) * 100
    story.payments.append({"date": placed, "kind": "deposit", "amount": deposit, "order_no": number})
    if len(story.orders) % 23 == 11:
        order |= {"cancelled": piece["finished"] + 1, "note": "called off, deposit kept as agreed"}
        order["cancelled"] = min(order["cancelled"], story.end)
        return False
    day = piece["finished"] + rng.randint(1, 9)
    if day > story.end:
        return True
    # every fifth client has bought before and gets a little off
    discount = round(price * 0.05 / 100) * 100 if rng.random() < 0.2 else 0
    tax = _tax(price - discount)
    _sold(
        rng,
        story,
        piece,
        {
            "date": day,
            "order_no": number,
            "channel": "commission",
            "piece": piece["piece"],
            "product": piece["product"],
            "quantity": 1,
            "price": price,
            "sales_tax": tax,
        }
        | ({"discount": discount} if discount else {}),
    )
    balance = price - discount + tax - deposit
    story.payments.append({"date": day, "kind": "balance", "amount": balance, "order_no": number})
    return True


def _promise(rng: random.Random, story: Story, piece: Row) -> None:
    """An order in hand on the last day: its deposit is owed until the piece is handed over."""
    placed, price = max(story.start, piece["started"] - rng.randint(4, 25)), list_price(rng, piece)
    number = f"C-{len(story.orders) + 101}"
    order = {"order_no": number, "date": placed, "channel": "commission", "product": piece["product"], "price": price}
    story.orders.append(order | {"due": story.end + rng.randint(10, 40)})
    piece["order_no"] = number
    deposit = {"date": placed, "kind": "deposit", "amount": round(price * 0.4 / 100) * 100, "order_no": number}
    story.payments.append(deposit)


def _consign(rng: random.Random, story: Story, piece: Row, price: int) -> None:
    out = piece["finished"] + rng.randint(2, 12)
    if out > story.end:
        return
    story.moves.append({"date": out, "pieces": [piece["piece"]], "place": "gallery"})
    day = out + 5 + int(rng.expovariate(1 / 80))
    price = round(price * 1.35 / 500) * 500
    piece["list_price"] = price
    if day <= story.end and rng.random() < 0.8:
        sale = {
            "date": day,
            "channel": "gallery",
            "piece": piece["piece"],
            "product": piece["product"],
            "quantity": 1,
            "price": price,
            "channel_fee": round(price * 0.4),
        }
        _sold(rng, story, piece, sale)
    elif day + 40 <= story.end:
        story.moves.append({"date": day + 40, "pieces": [piece["piece"]], "place": "shop"})


def _commission_tests(rng: random.Random, story: Story) -> None:
    """Every second test piece was made for an order of its product that was then in hand."""
    orders: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for order in sorted(story.orders, key=lambda o: (o["date"], o["order_no"])):
        if "cancelled" not in order:
            orders[order["product"]].append((order["date"], order["order_no"]))
    for number, piece in enumerate(p for p in story.pieces if p["status"] == "test"):
        hand = orders[piece["product"]]
        place = bisect_left(hand, (piece["started"], ""))
        if number % 2 == 0 and place < len(hand):
            piece["order_no"] = hand[place][1]


def _leave(rng: random.Random, story: Story) -> None:
    """A few finished pieces that nobody bought leave another way: given, kept or lost."""
    unsold = [
        p
        for p in story.pieces
        if p["status"] == "finished" and p["_open"] == p["quantity"] == 1 and p["finished"] < story.end - 60
    ]
    away = {row["piece"] for row in story.sales} | {piece for move in story.moves for piece in move["pieces"]}
    spare = [p for p in unsold if p["piece"] not in away and "order_no" not in p]
    for piece, status in zip(spare[:: max(1, len(spare) // 4)], ("gift", "kept", "lost"), strict=False):
        piece |= {"status": status, "ended": piece["finished"] + rng.randint(20, 55), "_open": 0}


def _days_at_market(rng: random.Random, story: Story) -> None:
    for tag, day, _ in story.events:
        for person in ("Mara", "Tobin")[: 1 + (rng.random() < 0.3)]:
            row = log(rng, story, day, person, "market", [])
            row |= {"hours": 180 * rng.randint(100, 150), "event": tag, "_lost": False, "pieces": []}
    for day in range(story.start, story.end + 1):
        if date.fromordinal(day).weekday() == 6:
            continue
        for operation, chance, least, most in (
            ("cleaning", 0.28, 4, 12),
            ("office", 0.22, 6, 24),
            ("buying", 0.06, 15, 45),
            ("posts", 0.10, 5, 15),
        ):
            if rng.random() < chance:
                row = log(rng, story, day, "Mara" if rng.random() < 0.7 else "Tobin", operation, [])
                row |= {"hours": 180 * rng.randint(least, most), "_lost": False}


def _money(rng: random.Random, story: Story) -> None:
    """Payouts, pay, drawings and the tax handed on, a month at a time."""
    online: dict[tuple[int, int], int] = defaultdict(int)
    gallery: dict[tuple[int, int], int] = defaultdict(int)
    tax: dict[tuple[int, int], int] = defaultdict(int)
    pay: dict[tuple[int, int], int] = defaultdict(int)
    for row in story.sales:
        month = _month(row["date"])
        goods = row["quantity"] * row["price"]
        if row["channel"] in ("market", "commission"):
            tax[month] += row.get("sales_tax", 0)
        if row["quantity"] > 0 and row["channel"] == "online":
            online[month] += goods + row["shipping_charged"] - row["channel_fee"] - row["payment_fee"]
        if row["quantity"] > 0 and row["channel"] == "gallery":
            gallery[month] += goods - row["channel_fee"]
    for row in story.hours:
        if row["person"] == "Tobin" and row["attended"] and row["date"] <= story.end:
            pay[_month(row["date"])] += (row["hours"] * w.in_force(w.PEOPLE["Tobin"].rates, row["date"]) + 1800) // 3600
    for sums, kind, note in (
        (online, "payout", "online"),
        (gallery, "payout", "gallery"),
        (tax, "tax", ""),
        (pay, "pay", "Tobin"),
    ):
        for (year, number), amount in sorted(sums.items()):
            day = date(year + number // 12, number % 12 + 1, 5 if kind == "payout" else 10).toordinal()
            if day <= story.end and amount > 0:
                story.payments.append({"date": day, "kind": kind, "amount": amount, "note": note})
    for year, number in sorted(pay):
        day = date(year, number, 25).toordinal()
        if day <= story.end:
            drawn = 10000 * rng.randint(6, 14)
            story.payments.append({"date": day, "kind": "drawing", "amount": drawn, "note": "Mara"})
    story.payments.append(
        {"date": story.start + 12, "kind": "capital", "amount": 800000, "note": "put in for the router"}
    )


def _month(day: int) -> tuple[int, int]:
    when = date.fromordinal(day)
    return when.year, when.month
