"""Small shops of rows that a maker may well write and that no book expects: all that is read must be published.

`python tests/fuzz/awkward.py 200` tries that many seeds and prints the fewest rows that stop a refresh.
"""

import random
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.refreshed import begun

Files = dict[str, list[str]]
"""Record → its header and rows."""

DAYS = (
    *("2025-12-20", "2026-01-01", "2026-01-31", "2026-02-01", "2026-02-14", "2026-02-14", "2026-02-28", "2026-03-01"),
    *("2026-03-15", "2026-04-02", "2026-05-31", "2026-06-01", "2024-02-29"),
)
RARE_DAYS = ("0001-01-01", "1900-01-01", "9999-12-31", "2100-01-01", "2026-02-30", "")
PIECES = ("T-1", "T-2", "t-1", "T-3", "T-4", "T-5", "BOARD-9", "BOX", "T-404", "", "")
SEVERAL = (*PIECES, "T-1..T-3", "T-1; T-2; T-1")
LOTS = ("L-1", "L-2", "l-1", "W-1", "L-404", "", "", "")
ORDERS = ("O-1", "O-2", "O-404", "", "")
EVENTS = ("FAIR", "FAIR-2", "", "", "")
ITEMS = (
    *(
        "clear casting resin kit",
        "coating resin",
        "walnut slab",
        "walnut",
        "gloves",
        "oil",
        "mica",
        "hinge",
        "disc 120",
    ),
    *("box", "booth", "rent", "router", "postage", "saw blade"),
)
CATEGORIES = (
    *("wood", "resin", "colourant", "abrasive", "finish", "hardware", "consumable", "packaging", "tool", "overhead"),
    *("selling", "equipment"),
)
USUAL = (
    *("resin", "resin", "wood", "wood", "consumable", "finish", "colourant", "hardware", "abrasive"),
    *("packaging", "selling", "overhead", "equipment", "selling", "tool"),
)
UNITS = ("", "", "g", "kg", "ml", "l", "each", "kit", "bf", "mm", "m2", "gal", "oz", "box")
AMOUNTS = ("0", "119.00", "1", "0.01", "12.00", "40.00", "7.50", "250.00", "33.33")
ODD_AMOUNTS = ("-5.00", "(12.00)", "9999999999.99", "-0", "0.005", "")
QUANTITIES = ("1", "2", "3", "0.5", "300", "1000", "12 bf", "2 kit", "1 kit", "500 g", "2 l", "4 each", "20 kg")
ODD_QUANTITIES = ("0", "-1", "-2 kit", "1/3 each", "1000000 kg", "0.0001", "0.0001 g", "", "0 each", "90000 m3")
COUNTS = ("1", "1", "2", "3", "5", "")
ODD_COUNTS = ("0", "-1", "-3", "1000000")
SIZES = ("", "", "10 in", "300 mm", "20 mm", "8/4")
ODD_SIZES = ("1 mm", "0.001 mm", "20 m", "90 km")
HOURS = ("1:00", "0:01", "24", "12.5", "90 min", "2 h")
PEOPLE = ("Ada", "ada", "ADA", "Ben", "Nobody", "")
OPERATIONS = ("sanding", "sawing", "pouring", "carving", "finishing", "cleaning", "office", "market", "yodelling")
PRODUCTS = ("tray", "board", "Tray", "lamp")
SPECIES = ("walnut", "maple", "Walnut", "plastic", "")
CHANNELS = ("market", "Market", "online", "shop door", "friends")
CAUSES = ("count", "split", "expired", "lost", "own use")
YES_NO = ("yes", "no", "")

_Rows = Callable[[random.Random], dict[str, str]]


def _one(rng: random.Random, words: tuple[str, ...]) -> str:
    return rng.choice(words)


def _day(rng: random.Random) -> str:
    return rng.choice(RARE_DAYS) if rng.random() < 0.02 else rng.choice(DAYS)


def _now_and_then(rng: random.Random, usual: tuple[str, ...], odd: tuple[str, ...]) -> str:
    return rng.choice(odd if rng.random() < 0.08 else usual)


def _money(rng: random.Random) -> str:
    return _now_and_then(rng, AMOUNTS, ODD_AMOUNTS)


def _much(rng: random.Random) -> str:
    return _now_and_then(rng, QUANTITIES, ODD_QUANTITIES)


def _many(rng: random.Random) -> str:
    return _now_and_then(rng, COUNTS, ODD_COUNTS)


def _size(rng: random.Random) -> str:
    return _now_and_then(rng, SIZES, ODD_SIZES)


def _kept(rng: random.Random, share: float, cell: str) -> str:
    return cell if rng.random() < share else ""


def _thing(rng: random.Random) -> dict[str, str]:
    """An item with its category, now and then one that others have under another."""
    at = rng.randrange(len(ITEMS))
    category = USUAL[at] if rng.random() < 0.95 else rng.choice(CATEGORIES)
    return {"item": ITEMS[at], "category": category}


def _unit(rng: random.Random) -> str:
    return rng.choice(("each", "kg", "g", "ml", "kit")) if rng.random() < 0.7 else rng.choice(UNITS)


def _purchase(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "receipt": _kept(rng, 0.3, f"R-{rng.randint(1, 3)}"), "supplier": _kept(rng, 0.3, "mill"),
        **_thing(rng), "quantity": _much(rng),
        "unit": _unit(rng), "amount": _money(rng), "tax": _kept(rng, 0.2, _money(rng)),
        "freight": _kept(rng, 0.2, _money(rng)), "discount": _kept(rng, 0.2, _money(rng)),
        "lot": _one(rng, LOTS), "species": _one(rng, SPECIES), "length": _size(rng), "width": _size(rng),
        "thickness": _size(rng), "count": _kept(rng, 0.2, _many(rng)),
        "machine": _kept(rng, 0.1, "router"), "event": _one(rng, EVENTS), "pool": _kept(rng, 0.1, "rent"),
        "covers": _kept(rng, 0.1, _many(rng)), "returns": _kept(rng, 0.15, _one(rng, LOTS)),
    }  # fmt: skip


def _piece(rng: random.Random) -> dict[str, str]:
    status = ("", "", "in progress", "finished", "scrapped", "test", "gift", "kept", "lost")
    return {
        "piece": f"T-{rng.randint(1, 40)}" if rng.random() < 0.7 else rng.choice(("BOARD-9", "BOX", "t-1", "T-2")),
        "product": _one(rng, PRODUCTS), "species": _one(rng, SPECIES), "finish": _kept(rng, 0.3, "oil"),
        "quantity": _many(rng), "length": _size(rng), "width": _size(rng),
        "thickness": _size(rng), "lot": _one(rng, LOTS), "blank_length": _size(rng),
        "blank_width": _size(rng), "blank_thickness": _size(rng), "started": _kept(rng, 0.5, _day(rng)),
        "finished": _kept(rng, 0.6, _day(rng)), "status": _one(rng, status), "ended": _kept(rng, 0.3, _day(rng)),
        "order_no": _one(rng, ORDERS), "listed": _kept(rng, 0.2, _day(rng)),
        "list_price": _kept(rng, 0.4, _money(rng)), "opening_cost": _kept(rng, 0.2, _money(rng)),
    }  # fmt: skip


def _hour(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "hours": _one(rng, HOURS), "person": _one(rng, PEOPLE), "operation": _one(rng, OPERATIONS),
        "pieces": _one(rng, SEVERAL), "machine": _kept(rng, 0.2, "router"), "attended": _one(rng, YES_NO),
        "rework": _one(rng, YES_NO), "event": _one(rng, EVENTS),
    }  # fmt: skip


def _pour(rng: random.Random) -> dict[str, str]:
    return {
        "pour": f"P-{rng.randint(1, 4)}", "date": _day(rng),
        "purpose": rng.choice(("", "seal", "inlay", "casting", "flood", "repour")),
        "resin": _one(rng, ITEMS[:2]), "lot": _one(rng, LOTS), "part_a": _much(rng),
        "part_b": _much(rng), "unit": _unit(rng), "piece": _one(rng, PIECES),
        "deposited": _kept(rng, 0.3, _much(rng)), "left_in_cup": _kept(rng, 0.3, _much(rng)),
        "spilled": _kept(rng, 0.1, _much(rng)), "trimmed": _kept(rng, 0.2, _much(rng)),
        "colourant": _kept(rng, 0.2, "mica"), "colourant_quantity": _kept(rng, 0.2, _much(rng)),
    }  # fmt: skip


def _use(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "item": _one(rng, ITEMS), "quantity": _much(rng), "unit": _unit(rng),
        "lot": _one(rng, LOTS), "pieces": _one(rng, SEVERAL),
    }  # fmt: skip


def _look(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "piece": _one(rng, PIECES), "defect": rng.choice(("", "none", "bubbles", "crack")),
        "action": rng.choice(("", "accept", "rework", "scrap", "discount")), "quantity": _many(rng),
    }  # fmt: skip


def _order(rng: random.Random) -> dict[str, str]:
    return {
        "order_no": f"O-{rng.randint(1, 9)}", "date": _day(rng), "channel": _one(rng, CHANNELS),
        "product": _one(rng, PRODUCTS), "price": _money(rng), "cancelled": _kept(rng, 0.3, _day(rng)),
    }  # fmt: skip


def _sale(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "order_no": _one(rng, ORDERS), "channel": _one(rng, CHANNELS), "event": _one(rng, EVENTS),
        "piece": _one(rng, PIECES), "product": _one(rng, PRODUCTS), "lot": _kept(rng, 0.1, _one(rng, LOTS)),
        "quantity": _many(rng), "price": _money(rng), "discount": _kept(rng, 0.2, _money(rng)),
        "shipping_charged": _kept(rng, 0.2, _money(rng)), "sales_tax": _kept(rng, 0.2, _money(rng)),
        "channel_fee": _kept(rng, 0.2, _money(rng)), "payment_fee": _kept(rng, 0.2, _money(rng)),
        "shipping_paid": _kept(rng, 0.2, _money(rng)),
        "returned_to": _kept(rng, 0.2, rng.choice(("stock", "scrap", "kept"))),
    }  # fmt: skip


def _payment(rng: random.Random) -> dict[str, str]:
    kinds = ("deposit", "balance", "payout", "refund", "supplier", "pay", "drawing", "tax", "voucher sold", "claim")
    return {
        "date": _day(rng), "kind": rng.choice(kinds), "amount": _money(rng), "order_no": _one(rng, ORDERS),
        "receipt": _kept(rng, 0.2, "R-1"), "event": _one(rng, EVENTS),
    }  # fmt: skip


def _move(rng: random.Random) -> dict[str, str]:
    return {"date": _day(rng), "pieces": _one(rng, SEVERAL), "place": rng.choice(("shop", "gallery", "FAIR"))}


def _count(rng: random.Random) -> dict[str, str]:
    return {
        "date": _day(rng), "item": _one(rng, ITEMS), "category": _kept(rng, 0.6, _one(rng, CATEGORIES)),
        "lot": _one(rng, LOTS), "species": _kept(rng, 0.3, _one(rng, SPECIES)), "quantity": _much(rng),
        "unit": _unit(rng), "worth": _kept(rng, 0.3, _money(rng)),
        "piece": _kept(rng, 0.2, _one(rng, PIECES)), "cause": _kept(rng, 0.5, _one(rng, CAUSES)),
    }  # fmt: skip


_RECORDS: dict[str, _Rows] = {
    "purchases": _purchase, "pieces": _piece, "hours": _hour, "pours": _pour, "usage": _use, "inspections": _look,
    "orders": _order, "sales": _sale, "payments": _payment, "moves": _move, "counts": _count,
}  # fmt: skip

SETTINGS = """
currency = "EUR"
start = 2026-01-01
cost_flow = "{flow}"
tax_regime = "{tax}"
[[people]]
name = "Ada"
rate = {rate}
[[people]]
name = "Ben"
rate = 20
role = "employee"
paid = true
[[machines]]
name = "router"
cost = {cost}
salvage = {salvage}
months = {months}
[[pools]]
name = "{pool}"
source = "{source}"
amount = {amount}
[[channels]]
name = "market"
[[channels]]
name = "online"
share = 0.1
fixed = 0.3
{items}
"""
RESIN = """[[items]]
name = "coating resin"
category = "resin"
base_unit = "mg"
density = 1.1
kit = 1500
"""


def settings_of(seed: int) -> str:
    rng = random.Random(-seed)
    return SETTINGS.format(
        flow=rng.choice(("fifo", "average")),
        tax=rng.choice(("none", "vat", "sales tax", "flat rate")),
        rate=rng.choice((0, 30, 0.01, 99999)),
        cost=rng.choice((0, 2000, 1)),
        salvage=rng.choice((0, 100, 5000)),
        months=rng.choice((1, 24, 60)),
        pool=rng.choice(("rent", "tools", "Ada")),
        source=rng.choice(("amount", "receipts")),
        amount=rng.choice((0, 0.01, 250, 999999)),
        items=rng.choice(("", RESIN)),
    )


def text(rows: list[dict[str, str]]) -> list[str]:
    """The lines of a CSV."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().splitlines()


def shop(seed: int, most: int = 24) -> Files:
    """A shop's files from a seed: of some records none, of others a few rows."""
    rng = random.Random(seed)
    files: Files = {}
    for name, row in _RECORDS.items():
        number = rng.choice((0, 1, most // 4, most // 2, most))
        if number:
            files[name] = text([row(rng) for _ in range(number)])
    return files


def publish(folder: Path, files: Files, settings: str) -> str:
    """Refresh a shop of these files. Gives what stopped it; "" where it was published and every row has its account."""
    inbox = folder / "inbox"
    inbox.mkdir(parents=True, exist_ok=True)
    for old in inbox.iterdir():
        old.unlink()
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    for name, lines in files.items():
        (inbox / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    try:
        summary = refresh(load(begun(folder)))
    except Exception as error:  # whatever it is, it stopped the books
        return f"{type(error).__name__}: {str(error)[:600]}"
    return "; ".join(f"{check['name']}: {check['example']}" for check in summary.errors)


def fewest(folder: Path, files: Files, settings: str, kind: str) -> Files:
    """As few of the rows as still stop it in the same way."""
    shrunk = True
    while shrunk:
        shrunk = False
        for name in list(files):
            without = {other: lines for other, lines in files.items() if other != name}
            if publish(folder, without, settings)[:30] == kind:
                files, shrunk = without, True
                continue
            for at in range(len(files[name]) - 1, 0, -1):
                fewer = files | {name: files[name][:at] + files[name][at + 1 :]}
                if len(fewer[name]) > 1 and publish(folder, fewer, settings)[:30] == kind:
                    files, shrunk = fewer, True
    return files


def main(seeds: range) -> None:
    with tempfile.TemporaryDirectory() as home:
        for seed in seeds:
            files, settings = shop(seed), settings_of(seed)
            told = publish(Path(home), files, settings)
            if told:
                print(f"seed {seed}: {told}", flush=True)


if __name__ == "__main__":
    main(range(int(sys.argv[1]), int(sys.argv[2])))
