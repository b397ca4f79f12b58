"""Tables of each record, as one maker or another keeps them."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

from tests.piles.scenario import ITEMS, Scenario
from tests.piles.tables import Money, Table, dates, money, named, note, quantities, tags, words
from tests.piles.words import Writer, cells


def _rows(writer: Writer, least: int = 12, most: int = 40) -> int:
    return writer.rng.randint(least, most)


def _amounts(writer: Writer, items: list[str]) -> list[tuple[Decimal, str]]:
    rng, found = writer.rng, []
    for item in items:
        unit = ITEMS[item][1]
        number = Decimal(rng.randint(1, 40)) if unit == "each" else Decimal(rng.randint(2, 60)) / 4
        found.append((number, unit))
    return found


def purchases(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("purchases", writer), writer.rng
    count = _rows(writer)
    items = [rng.choice(list(ITEMS)) for _ in range(count)]
    amounts = _amounts(writer, items)
    each = [rng.randint(150, 4000) for _ in range(count)]
    net: list[object] = [int(price * number) for price, (number, _) in zip(each, amounts, strict=True)]
    tax: list[object] = [round(int(str(cents)) * scenario.rate / 100) for cents in net]
    dates(table, "date", list(scenario.days(count)))
    tags(table, "receipt", [f"R{1000 + number}" for number in range(count)])
    shops: list[object] = [rng.choice(scenario.suppliers) for _ in range(count)]
    table.add("supplier", shops, named("supplier", shops))
    words(table, "item", "item", list(items), must=True)
    if rng.random() < 0.2:
        table.habits.add("category known from the item alone")
        table.columns[-1].truth = [
            told | {"category": ITEMS[item][0]} for told, item in zip(table.columns[-1].truth, items, strict=True)
        ]
    else:
        words(table, "category", "category", [ITEMS[item][0] for item in items], must=True)
    quantities(table, "quantity", amounts, short="quantity")
    if rng.random() < 0.4 and table.nowhere("nowhere.unit_price", [Money(price) for price in each]):
        table.habits.add("unit price beside the line's total")
    money(table, "amount", net, must=True)
    if rng.random() < 0.5:
        money(table, "tax", tax)
        gross: list[object] = [Money(int(str(a)) + int(str(b))) for a, b in zip(net, tax, strict=True)]
        if rng.random() < 0.6 and table.nowhere("nowhere.gross", gross):
            table.habits.add("net and gross beside each other")
            # each row is a receipt of its own here, so that its gross may be taken for the receipt's total too
            table.columns[-1].truth = [{"?total_cents": g.cents} for g in gross if isinstance(g, Money)]
        if rng.random() < 0.3:
            table.nowhere("nowhere.tax_rate", [scenario.rate] * count)
    elif rng.random() < 0.3:
        money(table, "freight", [rng.choice((None, 490, 690, 1250)) for _ in range(count)])
    return table


def pieces(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("pieces", writer), writer.rng
    _lower(table)
    count = rng.randint(12, len(scenario.pieces))
    tags(table, "piece", list(scenario.pieces[:count]), must=True)
    words(table, "product", "product", list(scenario.products[:count]), must=True)
    if rng.random() < 0.7:
        words(table, "species", "species", [rng.choice(list(cells()["species"])) for _ in range(count)])
    begun = scenario.days(count)
    dates(table, "started", list(begun), must=False, stored="started")
    ended: list[object] = [day + timedelta(days=rng.randint(2, 30)) if rng.random() < 0.8 else None for day in begun]
    dates(table, "finished", ended, must=False, stored="finished")
    if rng.random() < 0.6:
        words(table, "status", "status", ["finished" if day else "in progress" for day in ended])
    _sizes(table, count)
    if rng.random() < 0.6:
        money(table, "list_price", [rng.randint(20, 400) * 100 for _ in range(count)])
    return table


def _sizes(table: Table, count: int) -> None:
    rng = table.writer.rng
    sizes = [[rng.randint(20, 60), rng.randint(8, 19), rng.randint(1, 6)] for _ in range(count)]
    truth = [
        {f"{name}_um": number * 10**4 for name, number in zip(("length", "width", "thickness"), size, strict=True)}
        for size in sizes
    ]
    way = rng.random()
    if way < 0.3:
        for at, name in enumerate(("length", "width", "thickness")):
            told = [{f"{name}_um": size[at] * 10**4} for size in sizes]
            table.add(name, [size[at] for size in sizes], list(told), short=name, more=" (cm)")
    elif way < 0.5:
        shown: list[object] = [" x ".join(map(str, size)) + " cm" for size in sizes]
        if table.add("length", shown, list(truth), concept="pieces.size"):
            table.habits.add("sizes in one cell")


def hours(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("hours", writer), writer.rng
    _lower(table)
    count = _rows(writer, 15, 50)
    dates(table, "date", list(scenario.days(count)))
    if len(scenario.people) > 1 or rng.random() < 0.5:
        people: list[object] = [rng.choice(scenario.people) for _ in range(count)]
        table.add("person", people, named("person", people))
    done = [rng.choice(list(cells()["operation"])) for _ in range(count)]
    minutes = [rng.randint(1, 40) * 5 for _ in range(count)]
    worked: list[object] = [rng.choice(scenario.pieces) for _ in range(count)]
    seconds = [{"seconds": m * 60} for m in minutes]
    if rng.random() < 0.15:
        table.habits.add("several facts in a cell")
        told = {meaning: writer.word("operation", meaning) for meaning in set(done)}
        cell: list[object] = [f"{told[d]} {tag}" for d, tag in zip(done, worked, strict=True)]
        table.must("operation", cell, [{"operation": d, "pieces": [t]} for d, t in zip(done, worked, strict=True)])
    else:
        words(table, "operation", "operation", list(done), must=True)
        tags(table, "pieces", worked, several=True)
    way = rng.random()
    if way < 0.25:
        start = [rng.randint(84, 180) * 5 for _ in range(count)]
        begun: list[object] = [_clock(s) for s in start]
        ended: list[object] = [_clock(s + m) for s, m in zip(start, minutes, strict=True)]
        table.must("started_at", begun, [{"started_at": str(t) + ":00"} for t in begun])
        told_end = [{"ended_at": str(t) + ":00"} | s for t, s in zip(ended, seconds, strict=True)]
        table.must("ended_at", ended, told_end)
    elif way < 0.5:
        table.must("hours", list(minutes), list(seconds), concept="hours.minutes")
    elif way < 0.75:
        table.must("hours", [f"{m // 60}:{m % 60:02}" for m in minutes], list(seconds))
    else:
        quarter = [max(1, m // 15) for m in minutes]
        table.must("hours", [Decimal(q) / 4 for q in quarter], [{"seconds": q * 900} for q in quarter])
    return table


def _clock(minutes: int) -> str:
    return f"{minutes // 60 % 24:02}:{minutes % 60:02}"


def usage(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("usage", writer), writer.rng
    _lower(table)
    count = _rows(writer)
    items = [rng.choice(list(ITEMS)) for _ in range(count)]
    dates(table, "date", list(scenario.days(count)))
    words(table, "item", "item", list(items), must=True)
    quantities(table, "quantity", _amounts(writer, items), short="quantity")
    table.add(
        "pieces",
        found := [rng.choice(scenario.pieces) for _ in range(count)],
        named("pieces", [[tag] for tag in found]),
        concept="hours.pieces",
    )
    return table


def orders(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("orders", writer), writer.rng
    count = min(_rows(writer), len(scenario.orders))
    tags(table, "order_no", list(scenario.orders[:count]), must=True)
    placed = scenario.days(count)
    dates(table, "date", list(placed))
    if rng.random() < 0.7:
        due: list[object] = [day + timedelta(days=rng.randint(20, 90)) for day in placed]
        dates(table, "due", due, must=False, stored="due")
    words(table, "product", "product", [rng.choice(list(cells()["product"])) for _ in range(count)])
    money(table, "price", [rng.randint(30, 900) * 100 for _ in range(count)])
    return table


def sales(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("sales", writer), writer.rng
    _lower(table)
    count = min(_rows(writer), len(scenario.pieces))
    dates(table, "date", list(scenario.days(count)))
    words(table, "channel", "channel", [rng.choice(list(cells()["channel"])) for _ in range(count)], must=True)
    sold: list[object] = list(rng.sample(scenario.pieces, count))
    tags(table, "piece", sold)
    number = [rng.choice((1, 1, 1, 2, 3)) for _ in range(count)]
    several = rng.random() < 0.4 and table.add(
        "quantity", list(number), named("quantity", list(number)), short="quantity"
    )
    price: list[object] = [rng.randint(15, 400) * 100 for _ in range(count)]
    tax: list[object] = [
        round(int(str(p)) * (n if several else 1) * scenario.rate / 100) for p, n in zip(price, number, strict=True)
    ]
    if rng.random() < 0.25 and not several:
        gross: list[object] = [Money(int(str(p)) + int(str(t))) for p, t in zip(price, tax, strict=True)]
        money(table, "sales_tax", tax, must=True, concept="sales.tax")
        table.must("price", gross, named("price_cents", price), concept="nowhere.gross")
        table.habits.add("tax in the price")
        return table
    money(table, "price", price, must=True)
    if several and rng.random() < 0.5:
        whole: list[object] = [Money(int(str(p)) * n) for p, n in zip(price, number, strict=True)]
        if table.nowhere("purchases.amount", whole):
            table.habits.add("line's total beside the price of each")
    elif rng.random() < 0.3:
        money(table, "sales_tax", tax, concept="sales.tax")
    _fees(table, price)
    return table


def _fees(table: Table, price: list[object]) -> None:
    rng = table.writer.rng
    if rng.random() < 0.3:
        money(table, "shipping_charged", [rng.choice((None, 490, 650)) for _ in price])
    if rng.random() < 0.4:
        fee: list[object] = [round(int(str(p)) * 0.12) for p in price]
        if money(table, "channel_fee", fee) and rng.random() < 0.5:
            table.habits.add("fees with a minus")
            table.columns[-1].cells = [Money(-int(str(cents))) for cents in fee]


def payments(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("payments", writer), writer.rng
    count = _rows(writer)
    kinds = [rng.choice(("deposit", "balance", "supplier", "supplier", "payout", "drawing")) for _ in range(count)]
    kinds[:2] = ["supplier", "deposit"]
    cents = [rng.randint(20, 900) * 100 + rng.randint(0, 99) for _ in range(count)]
    signed = [-c if kind in ("supplier", "drawing") else c for c, kind in zip(cents, kinds, strict=True)]
    dates(table, "date", list(scenario.days(count)))
    words(table, "kind", "kind", list(kinds), must=True)
    if rng.random() < 0.4:
        found = [rng.choice(scenario.orders) if kind in ("deposit", "balance") else None for kind in kinds]
        tags(table, "order_no", list(found))
    way = rng.random()
    truth = named("amount_cents", list(cents))
    if way < 0.2:
        table.habits.add("debit and credit in two columns")
        out: list[object] = [Money(-s) if s < 0 else None for s in signed]
        come: list[object] = [Money(s) if s >= 0 else None for s in signed]
        table.must(
            "amount", out, [t if s < 0 else {} for t, s in zip(truth, signed, strict=True)], concept="payments.debit"
        )
        table.must(
            "amount", come, [t if s >= 0 else {} for t, s in zip(truth, signed, strict=True)], concept="payments.credit"
        )
    elif way < 0.4:
        table.habits.add("a direction beside the amount")
        inward, outward = writer.word("direction.in"), writer.word("direction.out")
        table.must("amount", [Money(c) for c in cents], truth)
        table.must(
            "", [outward if s < 0 else inward for s in signed], [{} for _ in signed], concept="payments.direction"
        )
    else:
        shown = signed if way < 0.8 else cents
        table.must("amount", [Money(c) for c in shown], truth)
    if 0.4 <= way < 0.8 and rng.random() < 0.6:
        running: list[object] = []
        for s in signed:
            running.append((int(str(running[-1])) if running else 500_000) + s)
        money(table, "balance", running)
    return table


def counts(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("counts", writer), writer.rng
    items = list(ITEMS)
    day: list[object] = [scenario.days(1)[0]] * len(items)
    dates(table, "date", day)
    words(table, "item", "item", list(items), must=True)
    if rng.random() < 0.5:
        table.add(
            "category",
            [writer.word("category", ITEMS[item][0]) for item in items],
            named("category", [ITEMS[item][0] for item in items]),
            concept="purchases.category",
        )
    quantities(table, "quantity", _amounts(writer, items))
    if rng.random() < 0.4:
        money(table, "worth", [rng.randint(5, 300) * 100 for _ in items])
    return table


def inspections(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("inspections", writer), writer.rng
    _lower(table)
    count = _rows(writer)
    dates(table, "date", list(scenario.days(count)))
    table.must(
        "piece",
        found := [rng.choice(scenario.pieces) for _ in range(count)],
        named("piece", list(found)),
        concept="sales.piece",
    )
    defects = [rng.choice(list(cells()["defect"])) for _ in range(count)]
    words(table, "defect", "defect", list(defects), must=True)
    if rng.random() < 0.7:
        words(
            table, "action", "action", ["accept" if d == "none" else rng.choice(("rework", "scrap")) for d in defects]
        )
    return table


def pours(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("pours", writer), writer.rng
    _lower(table)
    count = _rows(writer, 12, 25)
    start = rng.randint(1, 60)
    tags(table, "pour", [f"G{start + at:03}" for at in range(count)], must=True)
    dates(table, "date", list(scenario.days(count)))
    tags(table, "piece", [rng.choice(scenario.pieces) for _ in range(count)])
    resin = [rng.randint(10, 90) * 10 for _ in range(count)]
    parts = {"part_a": resin, "part_b": [grams // 2 for grams in resin]}
    if rng.random() < 0.5:
        parts["left_in_cup"] = [rng.randint(1, 30) for _ in range(count)]
    for name, grams in parts.items():
        told = [{name: g * 1000, f"{name}_unit": "mg"} for g in grams]
        table.must(name, list(grams), list(told), more=" (g)")
    return table


def moves(scenario: Scenario, writer: Writer) -> Table:
    table, rng = Table("moves", writer), writer.rng
    _lower(table)
    count = _rows(writer, 12, 20)
    dates(table, "date", list(scenario.days(count)))
    tags(
        table,
        "pieces",
        list(
            rng.sample(scenario.pieces, min(count, len(scenario.pieces)))
            + [scenario.pieces[0]] * max(0, count - len(scenario.pieces))
        ),
        must=True,
        several=True,
    )
    place: list[object] = [rng.choice(scenario.suppliers[:3]) for _ in range(count)]
    table.must("place", place, named("place", place))
    return table


def _lower(table: Table) -> None:
    if table.writer.rng.random() < 0.2:
        table.habits.add("tags in lower case")


KINDS: dict[str, tuple[int, Callable[[Scenario, Writer], Table]]] = {
    "purchases": (4, purchases),
    "hours": (4, hours),
    "sales": (4, sales),
    "payments": (3, payments),
    "pieces": (2, pieces),
    "usage": (2, usage),
    "orders": (2, orders),
    "counts": (1, counts),
    "inspections": (1, inspections),
    "pours": (1, pours),
    "moves": (1, moves),
}
"""Record → how often a pile has a table of it beside others, and what makes one."""


def table_of(record: str, scenario: Scenario, writer: Writer) -> Table:
    """A table of a record, with its note; without the columns that belong nowhere."""
    made = KINDS[record][1](scenario, writer)
    note(made, scenario)
    return made
