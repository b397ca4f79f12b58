"""Made-up shops of different trades, and the same shops with some of their rows lost, to see what is made of the rest.

What a piece truly costs is what the books say with every row there; a second, independent calculation agrees with those
(tests/oracle). A lost row is one that nobody wrote down: hours, a pour or its weights, what was taken off the shelf,
the lot of a piece. Times scatter by a quarter, a stretch of work is often split over two or three days, and what is
optional (a handle, a carving) stays optional.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from shops import MadeShop, Rows, linked, run

START = date(2025, 1, 1)


@dataclass(frozen=True)
class Work:
    """An operation: hours for a piece of the product's middle size, how they grow with surface, in how many rows."""

    operation: str
    hours: float
    grows: float = 0.7
    share: float = 1.0
    rows: tuple[int, ...] = (1, 1, 2)
    machine: str = ""
    finish: float = 0.0  # how much more in the second finish
    alone: bool = False


@dataclass(frozen=True)
class Product:
    name: str
    pieces: int
    size: tuple[int, int, int]
    work: tuple[Work, ...]
    fittings: tuple[tuple[str, float], ...] = ()
    pours: tuple[tuple[str, float], ...] = ()  # purpose, grams for a piece of the middle size
    run: int = 1
    spread: float = 0.25  # of lengths


@dataclass(frozen=True)
class Trade:
    name: str
    products: tuple[Product, ...]
    people: int = 1
    scatter: float = 0.22


@dataclass(frozen=True)
class Loss:
    """The share of rows, or of cells, that nobody wrote down."""

    hours: float = 0.12
    pours: float = 0.08
    weights: float = 0.12
    usage: float = 0.10
    lots: float = 0.10


FINISHES = ("oil", "lacquer")
SPECIES = ("walnut", "cherry", "white oak", "hard maple")

SAND = Work("sanding", 1.2, 1.0, rows=(1, 2, 2, 3), finish=0.3)
FINISH = Work("finishing", 0.8, 1.0, finish=0.8, rows=(1, 2, 3))
SAW = Work("sawing", 0.5)
ROUTER = Work("carving", 1.5, 0.8, machine="router", alone=True, share=0.95)

RESIN = Trade("resin and boards", (
    Product("serving board", 70, (420, 230, 24), (SAW, SAND, FINISH, ROUTER, Work("pouring", 0.6)),
            (("rubber foot", 4),), (("inlay", 120),)),
    Product("river table", 24, (1100, 550, 38), (SAW, Work("surfacing", 2.0), Work("pouring", 3.0, rows=(2, 3)),
            Work("sanding", 5.0, 1.0, rows=(2, 3, 4), finish=0.3), FINISH),
            (("hairpin leg", 4),), (("seal", 250), ("casting", 5200)), spread=0.15),
    Product("coaster set", 45, (100, 100, 10), (SAW, Work("sanding", 0.25, 1.0), Work("finishing", 0.15, finish=0.8),
            Work("pouring", 0.2)), (), (("flood", 14),), run=4, spread=0.05),
))  # fmt: skip
BOXES = Trade("boxes and clocks", (
    Product("keepsake box", 80, (240, 160, 90), (SAW, Work("assembly", 1.4, 0.2, (1.0), (1, 2)), SAND, FINISH),
            (("brass hinge", 2), ("magnet", 2))),
    Product("wall clock", 50, (300, 300, 22), (SAW, SAND, FINISH, Work("assembly", 0.5, 0.0), ROUTER),
            (("clock movement", 1),)),
    Product("picture frame", 60, (350, 250, 20), (SAW, Work("assembly", 0.7, 0.1), SAND, FINISH,
            Work("carving", 0.9, 0.5, share=0.35)), (("hanger", 1), ("glass", 1))),
), people=2)  # fmt: skip
TURNING = Trade("turning", (
    Product("bowl", 60, (240, 240, 80), (Work("turning", 2.0, 0.9, machine="lathe", rows=(1, 2, 3)), SAND, FINISH)),
    Product("pen", 50, (140, 18, 18), (Work("turning", 0.5, 0.0, machine="lathe"), Work("finishing", 0.3, 0.0),
            Work("assembly", 0.2, 0.0)), (("pen kit", 1),), spread=0.04),
    Product("vase", 25, (120, 120, 260), (Work("turning", 2.6, 0.8, machine="lathe", rows=(1, 2)), SAND, FINISH)),
))  # fmt: skip
ONE_OFFS = Trade("many kinds of few pieces", tuple(
    Product(f"kind {n}", 1 + n % 7, (200 + 40 * (n % 9), 150 + 25 * (n % 6), 20 + 4 * (n % 4)),
            (SAW, SAND, FINISH, *((Work("assembly", 1.0, 0.3),) if n % 2 else ()), *((ROUTER,) if n % 3 == 0 else ())),
            (("brass hinge", 2),) if n % 4 == 1 else (), (("inlay", 90),) if n % 5 == 0 else ())
    for n in range(36)
), scatter=0.3)  # fmt: skip
WILD = Trade("times that scatter", (
    Product("tray", 60, (400, 300, 25), (SAW, SAND, FINISH, Work("assembly", 1.0, 0.3)), (("handle", 2),)),
    Product("stool", 40, (350, 350, 400), (SAW, Work("assembly", 3.0, 0.2, rows=(2, 3)), SAND, FINISH,
            Work("carving", 2.0, 0.3, share=0.3))),
), people=2, scatter=0.45)  # fmt: skip
TRADES = (RESIN, BOXES, TURNING, ONE_OFFS, WILD)


@dataclass
class _Bench:
    """The rows of a shop as they come about."""

    random: np.random.Generator
    trade: Trade
    rows: dict[str, Rows] = field(default_factory=dict)

    def add(self, record: str, **cells: object) -> None:
        row = {k: str(v) for k, v in cells.items() if v is not None and v != ""}
        self.rows.setdefault(record, []).append(row)


def whole_shop(trade: Trade, seed: int) -> MadeShop:
    """A shop of that trade with every row there."""
    bench = _Bench(np.random.default_rng(seed), trade)
    kinds = [product for product in trade.products for _ in range(product.pieces)]
    bench.random.shuffle(kinds)  # type: ignore[arg-type]
    for number, product in enumerate(kinds):
        _piece(bench, number, product, START + timedelta(days=int(number * 640 / len(kinds))))
    _shelf(bench)
    return MadeShop(_settings(trade), bench.rows)


def _settings(trade: Trade) -> str:
    lines = ['name = "Made Up"', 'currency = "EUR"', f"start = {START}"]
    lines += ["[[people]]", 'name = "Ada"', "rate = 28"]
    if trade.people > 1:
        lines += ["[[people]]", 'name = "Ben"', 'role = "employee"', "paid = true", "rate = 21"]
    lines += ["[[operations]]", 'name = "turning"']
    for machine in ("router", "lathe"):
        lines += ["[[machines]]", f'name = "{machine}"', "rate = 9"]
    lines += ["[[pools]]", 'name = "rent"', 'source = "amount"', 'driver = "bench hours"', "amount = 600"]
    return "\n".join(lines) + "\n"


def _piece(bench: _Bench, number: int, product: Product, started: date) -> None:
    r = bench.random
    tag, finish, species = f"T-{number:03d}", FINISHES[r.integers(2)], SPECIES[r.integers(4)]
    length, width, thick = (max(5, round(side * np.exp(r.normal(0, product.spread)))) for side in product.size)
    surface = (length * width + length * thick + width * thick) / (
        product.size[0] * product.size[1] + (product.size[0] + product.size[1]) * product.size[2]
    )
    finished = started + timedelta(days=int(r.integers(8, 30)))
    bench.add(
        "pieces", piece=tag, product=product.name, species=species, finish=finish, quantity=product.run,
        length=f"{length} mm", width=f"{width} mm", thickness=f"{thick} mm", lot=f"W-{species[:2]}-{number // 40}",
        blank_length=f"{length + 40} mm", blank_width=f"{width + 20} mm", blank_thickness=f"{thick + 8} mm",
        started=started, finished=finished,
    )  # fmt: skip
    days = (finished - started).days
    for work in product.work:
        if r.random() < work.share:
            _work(bench, tag, work, surface * product.run, finish, started, days)
    for item, each in product.fittings:
        bench.add("usage", date=finished, item=item, quantity=f"{each * product.run} each", pieces=tag)
    for at, (purpose, grams) in enumerate(product.pours):
        mixed = grams * surface * product.run * np.exp(r.normal(0, bench.trade.scatter / 2))
        bench.add(
            "pours", pour=f"P-{number:03d}-{at}", date=started + timedelta(days=days // 2), purpose=purpose,
            resin="clear cast", part_a=f"{mixed * 0.5:.1f}", part_b=f"{mixed * 0.5:.1f}", unit="g",
            left_in_cup=f"{mixed * 0.04:.1f}", piece=tag,
        )  # fmt: skip
    if r.random() < 0.12:
        bench.add(
            "hours", date=finished, hours=f"{r.uniform(0.3, 1.5):.2f}", person="Ada", pieces=tag, rework="yes",
            operation=str(r.choice(["sanding", "finishing"])),
        )  # fmt: skip


def _work(bench: _Bench, tag: str, work: Work, surface: float, finish: str, started: date, days: int) -> None:
    r = bench.random
    hours = work.hours * surface**work.grows * np.exp(r.normal(0, bench.trade.scatter))
    hours *= 1 + work.finish * (finish == FINISHES[1])
    parts = r.dirichlet(np.full(int(r.choice(work.rows)), 6.0))
    person = "Ben" if bench.trade.people > 1 and r.random() < 0.3 else "Ada"
    for part in parts:
        bench.add(
            "hours", date=started + timedelta(days=int(r.integers(0, days + 1))),
            hours=f"{max(hours * part, 0.05):.2f}", person=person,
            operation=work.operation, pieces=tag, machine=work.machine, attended="no" if work.alone else "yes",
        )  # fmt: skip


def _shelf(bench: _Bench) -> None:
    """Receipts for all that was used, at prices that rise, bought once a quarter."""
    used: dict[str, tuple[str, str, float]] = {}
    for row in bench.rows.get("usage", []):
        number, unit = row["quantity"].split()
        category, unit, before = used.get(row["item"], ("hardware", unit, 0.0))
        used[row["item"]] = (category, unit, before + float(number))
    mixed = sum(float(row["part_a"]) + float(row["part_b"]) for row in bench.rows.get("pours", []))
    if mixed:
        used["clear cast"] = ("resin", "g", mixed)
    price = {"clear cast": 0.028, "glass": 4.0, "clock movement": 7.5, "pen kit": 5.5, "hairpin leg": 12.0}
    for quarter in range(8):
        day, dearer = START + timedelta(days=90 * quarter), 1 + 0.04 * quarter
        for item, (category, unit, total) in used.items():
            bought = np.ceil(total / 6.5 * (2 if quarter == 0 else 0.8))
            cost = bought * price.get(item, 1.6) * dearer
            bench.add(
                "purchases", date=day, receipt=f"R-{quarter}", supplier="Supply House", item=item, category=category,
                quantity=bought, unit=unit, amount=f"{cost:.2f}",
            )  # fmt: skip
    _wood(bench)


def _wood(bench: _Bench) -> None:
    taken: dict[str, float] = {}
    first: dict[str, str] = {}
    for row in bench.rows["pieces"]:
        sides = [float(row[f"blank_{side}"].split()[0]) for side in ("length", "width", "thickness")]
        taken[row["lot"]] = taken.get(row["lot"], 0) + float(np.prod(sides)) * int(row["quantity"])
        first[row["lot"]] = min(first.get(row["lot"], row["started"]), row["started"])
    species = {name[:2]: name for name in SPECIES}
    for lot, volume in taken.items():
        kind = species[lot.split("-")[1]]
        length = volume * 1.15 / (400 * 50)
        bench.add(
            "purchases", date=first[lot], receipt=f"R-{lot}", supplier="Sawmill", item=f"{kind} slab", category="wood",
            amount=f"{volume * 1.15 / 2.36e6 * 9:.2f}", lot=lot, species=kind, length=f"{length:.0f} mm",
            width="400 mm", thickness="50 mm",
        )  # fmt: skip


def with_losses(shop: MadeShop, loss: Loss, seed: int) -> MadeShop:
    """The same shop as its maker wrote it down: some rows and cells are not there."""
    random = np.random.default_rng(seed)
    rows = {name: [dict(row) for row in some] for name, some in shop.rows.items()}
    for name, share in (("hours", loss.hours), ("pours", loss.pours), ("usage", loss.usage)):
        rows[name] = [row for row in rows.get(name, []) if random.random() >= share]
    for row in rows["pours"]:
        if random.random() < loss.weights:
            for cell in ("part_a", "part_b", "left_in_cup"):
                row.pop(cell)
    for row in rows["pieces"]:
        if random.random() < loss.lots:
            row.pop("lot")
    return MadeShop(shop.toml, {name: some for name, some in rows.items() if some})


def costs(shop: MadeShop, folder: Path) -> dict[str, dict[str, float]]:
    """What each piece cost, and how much of that is logged, by the pipeline."""
    con = run(linked(shop, folder))
    found = con.execute("select piece, product, made_cents, logged_share from cost.piece")
    names = [column[0] for column in found.description]
    return {row[0]: dict(zip(names, row, strict=True)) for row in found.fetchall()}


@dataclass(frozen=True)
class Score:
    """How far costs of an incomplete shop are off, and how true their labels are."""

    pieces: int
    within: float  # share of pieces whose error is at most their unlogged share and two points, of those that tell it
    median: float  # of the absolute error
    bias: float  # all cents found over all true ones, less one
    labelled_whole: int  # pieces of which all is said to be logged
    whole_but_off: int  # of those, off by more than two points
    worst: float  # the largest error beyond the label
    unlogged: float  # mean share that is not logged
    untold: int  # pieces that say they hold something without a cost, and tell no share


def score(true: dict[str, dict[str, float]], found: dict[str, dict[str, float]]) -> Score:
    tags = sorted(true)
    truth = np.array([true[tag]["made_cents"] for tag in tags], float)
    made = np.array([found[tag]["made_cents"] for tag in tags], float)
    shares = np.array([found[tag]["logged_share"] for tag in tags], float)
    off, told = np.abs(made / truth - 1), ~np.isnan(shares)
    unlogged = 1 - shares[told]
    beyond = off[told] - unlogged
    whole = unlogged < 0.0005
    return Score(
        len(tags), float(np.mean(beyond <= 0.02)), float(np.median(off)), float(made.sum() / truth.sum() - 1),
        int(whole.sum()), int((whole & (off[told] > 0.02)).sum()), float(beyond.max()), float(unlogged.mean()),
        int((~told).sum()),
    )  # fmt: skip
