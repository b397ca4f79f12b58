"""An invented shop with three times as many groups as the demo: of wood, products, finishes, resins and channels."""

import random
from datetime import date, timedelta
from pathlib import Path

from tests.refreshed import TINY_SHOP

WOODS = (
    "black walnut", "English walnut", "claro walnut", "butternut", "black cherry", "sugar maple", "red maple",
    "silver maple", "bigleaf maple", "boxelder", "white ash", "European ash", "northern red oak", "white oak",
    "bur oak", "English oak", "sessile oak", "American elm", "slippery elm", "wych elm", "American sycamore",
    "London plane", "hackberry", "honeylocust", "black locust", "pecan", "American beech", "yellow birch",
    "red alder", "olive",
)  # fmt: skip
PRODUCTS = tuple(
    f"{of} {thing}"
    for of in ("small", "large", "round", "long", "plain", "carved")
    for thing in ("tray", "bowl", "box")
)
FINISHES = tuple(
    f"{of} {way}" for of in ("clear", "amber", "blue", "green", "black") for way in ("coat", "inlay", "oil")
)
RESINS = tuple(f"{of} resin" for of in ("casting", "coating", "deep", "fast", "slow", "marine", "art", "bar", "inlay"))
CHANNELS = ("market", "online", "gallery", "commission", "shop", "fair", "club", "museum", "friends")
DEFECTS = ("bubble", "dust", "tear-out", "check", "fisheye", "pinhole", "spill", "scratch", "dent", "orange peel")
PIECES, BEGIN = 540, date(2025, 1, 6)


def written(folder: Path) -> Path:
    """The shop's folder with its files, all made of one seed."""
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP.replace("2026-01-01", "2025-01-01"), encoding="utf-8")
    for name, (header, *rows) in _tables(random.Random(20)).items():
        text = "\n".join([header, *(",".join(map(str, row)) for row in rows), ""])
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def _tables(luck: random.Random) -> dict[str, list]:
    """Each record with its header and rows."""
    pieces: list = ["piece,product,species,finish,length,width,thickness,lot,started,finished,listed,list_price"]
    hours: list = ["date,hours,person,operation,pieces,rework"]
    pours: list = ["date,pour,purpose,resin,part_a,part_b,unit,piece,left_in_cup,trimmed,stir_minutes"]
    looks: list = ["date,piece,defect,found_at,action"]
    sales: list = ["date,channel,piece,price"]
    bought: list = ["date,supplier,item,category,quantity,unit,amount,lot,species,length,width,thickness"]
    for n, wood in enumerate(WOODS):
        for m in range(2):
            lot = f"W-{n}-{m}"
            bought.append(
                (
                    BEGIN,
                    f"Mill {n % 9}",
                    f"{wood} board",
                    "wood",
                    1,
                    "each",
                    90 + n,
                    lot,
                    wood,
                    "3000 mm",
                    "300 mm",
                    "40 mm",
                )
            )
    bought += [(BEGIN, "Resins", name, "resin", 8, "kg", 160, "", "", "", "", "") for name in RESINS]
    for n in range(PIECES):
        tag, day = f"T-{n}", BEGIN + timedelta(days=n)
        wood, product, finish = WOODS[n % 30], PRODUCTS[n % 18], FINISHES[n % 15]
        done, price = day + timedelta(days=9), 40 + 3 * (n % 18) + luck.randrange(20)
        lot = f"W-{n % 30}-{n // 30 % 2}"
        pieces.append((tag, product, wood, finish, "300 mm", "200 mm", "15 mm", lot, day, done, done, price))
        hours.append((day, round(0.4 + luck.random(), 2), "Ada", "carving", tag, ""))
        stirred = luck.choice((1, 4))
        if n % 3 == 0:
            pours.append(
                (
                    day,
                    f"P-{n}",
                    "flood",
                    RESINS[n // 3 % 9],
                    45,
                    45,
                    "g",
                    tag,
                    luck.randrange(9),
                    luck.randrange(9),
                    stirred,
                )
            )
        # every third wood, and what was stirred too short, comes back more
        if luck.random() < 0.08 + 0.3 * (n % 3 == 0 and stirred == 1) + 0.2 * (n % 30 == 3):
            looks.append((done, tag, DEFECTS[int(10 * luck.random() ** 3)], "finishing", "rework"))
            hours.append((done, 0.5, "Ada", "sanding", tag, "yes"))
        if n % 5:
            sales.append((done + timedelta(days=luck.randrange(60)), CHANNELS[n % 9], tag, price))
    return {"pieces": pieces, "hours": hours, "pours": pours, "inspections": looks, "sales": sales, "purchases": bought}
