"""Small random shops, drawn by Hypothesis, as canonical CSV rows; and two ways to run them through the real pipeline.

`made_shops(*features)` is a strategy of `MadeShop`. A feature is a habit of the maker (a kind of record or of gap); a
shop has those asked for that the draw leaves in. `run` takes typed frames through the models in memory; `write` makes a
shop folder for a whole refresh.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any, TypeVar

import duckdb
from hypothesis import seed
from hypothesis import strategies as st

from pipeline import database
from pipeline.database.digests import begin
from pipeline.database.plan import Plan, read_plan
from pipeline.database.run import plan_lightly, run_models
from pipeline.linking import Linked, link
from pipeline.refresh.read_files import FilesRead, read_files
from pipeline.refresh.refresh import tables
from pipeline.shop import load
from tests.refreshed import without_records
from tests.whole import DRAWN

START = date(2026, 1, 1)
DAYS = 150
SPECIES = ("walnut", "cherry", "white oak")
PRODUCTS = ("tray", "bowl", "board")
FINISHES = ("oil", "wax")
OPERATIONS = ("sawing", "sanding", "finishing", "carving", "assembly")

Rows = list[dict[str, str]]


@dataclass
class MadeShop:
    """A shop as text: its settings, and its records under canonical field names."""

    toml: str
    rows: dict[str, Rows] = field(default_factory=dict)
    features: frozenset[str] = frozenset()

    def __hash__(self) -> int:
        return hash(repr(self))

    def __repr__(self) -> str:
        lines = [f"features: {sorted(self.features)}", self.toml]
        for name, rows in self.rows.items():
            lines += [f"-- {name}", _text(rows)]
        return "\n".join(lines)


def _text(rows: Rows) -> str:
    names = list(dict.fromkeys(k for r in rows for k in r))
    out = io.StringIO()
    writer = csv.DictWriter(out, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def write(shop: MadeShop, folder: Path, pieces_of: Callable[[str, Rows], dict[str, Rows]] | None = None) -> Path:
    """The shop folder. `pieces_of` may split a record's rows over several files, by name."""
    (folder / "inbox").mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text(shop.toml, encoding="utf-8")
    for record, rows in shop.rows.items():
        files = pieces_of(record, rows) if pieces_of else {record: rows}
        for name, some in files.items():
            if some:
                (folder / "inbox" / f"{name}.csv").write_text(_text(some), encoding="utf-8")
    return folder


def linked(shop: MadeShop, folder: Path) -> Linked:
    """The shop's typed records, by the real reading, cleaning and linking."""
    write(shop, folder)
    return linked_folder(folder)


def linked_folder(folder: Path) -> Linked:
    """What a shop folder holds. Nothing in it may be set aside or go unread: that would make a test about less."""
    loaded = load(folder)
    pile = read_files(loaded, lambda _: None)
    assert {f["how"] for f in pile.files} <= {"canonical"}, pile.files
    found = link(pile.cleaned, loaded)
    assert found.rejected.is_empty(), found.rejected
    unknown = set(found.unknown_word["vocabulary"]) - {"product", "item"}
    assert not unknown, found.unknown_word
    return found


def rows_of(found: Linked) -> tuple[dict[str, list[dict[str, Any]]], dict[str, list[dict[str, Any]]]]:
    """Records and settings as plain rows, as the oracle takes them."""
    records = {n: f.to_dicts() for n, f in found.records.items()}
    return records, {n: f.to_dicts() for n, f in found.settings.items()}


def run(found: Linked, whole: bool = False) -> duckdb.DuckDBPyConnection:
    """The models of work and cost over the linked records, in memory; `whole`: all models."""
    con = duckdb.connect()
    con.execute("set threads = 1")
    plan_lightly(con)  # as a refresh of so few rows does
    con.execute("attach ':memory:' as draft")
    con.execute("use draft")
    begun = begin(con, without_records())
    assert begun
    database.load(con, tables(found, FilesRead()), begun)
    plan = read_plan()
    if not whole:
        books = {table: model for table, model in plan.models.items() if model.schema in ("work", "cost")}
        plan = Plan(books, (), plan.macros, {})
    run_models(con, lambda _: None, plan, digests=begun)
    return con


# drawing


def made_shops(*features: str, always: bool = False) -> st.SearchStrategy[MadeShop]:
    """Shops with some (`always`: all) of these features."""
    return st.builds(
        lambda seed, left_out: draw_shop(Random(seed), frozenset(features) - (frozenset() if always else left_out)),
        st.integers(0, 2**32 - 1),
        st.sets(st.sampled_from(sorted(features)), max_size=3).map(frozenset) if features else st.just(frozenset()),
    )


Test = TypeVar("Test", bound=Callable[..., None])


def the_same_shops(test: Test) -> Test:
    """All tests marked so try the same shops, so that what they share is made once; drawn ones are each its own."""
    return test if DRAWN else seed(1)(test)


class _Draw:
    def __init__(self, random: Random, features: frozenset[str]) -> None:
        self.random, self.features = random, features
        self.rows: dict[str, Rows] = {}
        self.lots: dict[str, list[tuple[str, date]]] = {}
        self.pieces: list[dict[str, Any]] = []
        self.spoilt: dict[str, int] = {}
        # what the maker never writes down
        some = ((), ("finishing",), ("sanding",), ("finishing", "no sizes"), ("no sizes",), (*OPERATIONS, "no sizes"))
        self.habits = random.choice((*some, OPERATIONS)) if "lazy" in features else ()

    def has(self, feature: str, odds: float = 1.0) -> bool:
        return feature in self.features and self.random.random() < odds

    def day(self, first: int = 0, last: int = DAYS) -> date:
        return START + timedelta(days=self.random.randint(min(first, last), max(first, last)))

    def money(self, low: int, high: int) -> str:
        return f"{self.random.randint(low, high) / 100:.2f}"

    def add(self, record: str, **cells: object) -> None:
        row = {k.rstrip("_"): str(v) for k, v in cells.items() if v is not None and v != ""}
        self.rows.setdefault(record, []).append(row)


def draw_shop(random: Random, features: frozenset[str]) -> MadeShop:
    d = _Draw(random, features)
    toml = _settings(d)
    _wood(d)
    _shelf(d)
    _pieces(d)
    if "salvage" in features:
        _salvage(d)
    _hours(d)
    if "shop work" in features:
        _shop_work(d)
    if "pours" in features:
        _pours(d)
    if "usage" in features:
        _usage(d)
    if "consumables" in features:
        _consumables(d)
    if "counts" in features:
        _counts(d)
    _bills(d)
    if "inspected" in features:
        _inspections(d)
    if "sales" in features:
        _sales(d)
    if "closings" in features:
        _closings(d)
    return MadeShop(toml, d.rows, features)


def _settings(d: _Draw) -> str:
    r = d.random
    lines = ['name = "Two Benches"', 'currency = "EUR"', f"start = {START}"]
    lines.append(f'cost_flow = "{"average" if d.has("average") else "fifo"}"')
    lines.append(f"tax_reclaimable = {str(d.has('tax', 0.4)).lower()}")
    lines.append(f"late_receipt_days = {r.choice((0, 7, 7, 20))}")
    lines.append(f"normal_scrap = {r.choice(('0.0', '0.05', '0.5'))}")
    lines.append(f'scrap_circle = "{r.choice(("shop", "product", "order"))}"')
    if d.has("normal rework"):
        lines.append(f"normal_rework = {r.choice(('0.0', '0.02', '0.2'))}")
    lines += ["[[people]]", 'name = "Ada"', 'role = "owner"']
    lines += ["rates = ["]
    lines.append(f"  {{ from = {START}, rate = {d.money(1500, 4000)} }},")
    if d.has("raise"):
        lines.append(f"  {{ from = {d.day(20, 90)}, rate = {d.money(1500, 4000)} }},")
    lines.append("]")
    lines += ["[[people]]", 'name = "Ben"', 'role = "employee"', "paid = true", f"rate = {d.money(1200, 2500)}5"]
    if "machine" in d.features:
        lines += ["[[machines]]", 'name = "router"', f"bought = {d.day(0, 40)}", f"cost = {d.money(50000, 300000)}"]
        lines += [f"salvage = {d.money(0, 20000)}", f"months = {r.choice((3, 24, 60))}"]
        if r.random() < 0.4:
            # rates may have parts of a cent
            dated = [f"{{ from = {START}, rate = {d.money(100, 900)}4 }}"]
            if d.has("new rates"):
                dated += [f"{{ from = {day}, rate = {d.money(100, 900)} }}" for day in sorted({d.day(1), d.day(1)})]
            lines.append(f"rates = [{', '.join(dated)}]")
    if "pools" in d.features:
        lines += ["[[pools]]", 'name = "rent"', 'source = "amount"']
        lines += [f'driver = "{r.choice(("bench hours", "labour cost"))}"', f"amount = {d.money(5000, 40000)}"]
        lines += ["[[pools]]", 'name = "power"', 'source = "receipts"']
        lines += [f'driver = "{r.choice(("bench hours", "machine hours"))}"']
        lines += [
            "[[pools]]",
            'name = "cleaning"',
            'source = "receipts"',
            'basis = "budget"',
        ]
        dated = [f"{{ from = {START}, rate = {d.money(50, 300)}75 }}"]
        if d.has("new rates"):
            dated += [f"{{ from = {day}, rate = {d.money(50, 300)} }}" for day in sorted({d.day(1), d.day(1)})]
        lines.append(f"amounts = [{', '.join(dated)}]")
        named = r.choice(((), ("rent", "cleaning"), ("power", "cleaning", "office"), ("cleaning", "upkeep")))
        if "shop work" in d.features and named:
            at = lines.index(f'name = "{named[0]}"')
            lines.insert(at + 1, f"operations = {list(named[1:])}".replace("'", '"'))
        if r.random() < 0.5:
            lines += ["[[pools]]", 'name = "tools"', 'source = "receipts"']
    if "shop work" in d.features:
        lines += ["[[operations]]", 'name = "upkeep"', 'kind = "shop"']
    for channel in ("fair", "gallery"):
        lines += ["[[channels]]", f'name = "{channel}"']
        if "fees" in d.features:
            lines += [f"share = {r.choice(('0.0', '0.065', '0.4'))}", f"fixed = {d.money(0, 50)}"]
            lines += [f"payment_share = {r.choice(('0.0', '0.025'))}", f"payment_fixed = {d.money(0, 30)}"]
    if "booth" in d.features:
        lines += ["[[events]]", 'name = "SPRING"', f"day = {d.day(50, 120)}", f"fee = {d.money(1000, 9000)}"]
    for name, category, unit in ITEMS:
        lines += ["[[items]]", f'name = "{name}"', f'category = "{category}"']
        if unit:
            lines.append(f'base_unit = "{unit}"')
    return "\n".join(lines) + "\n"


ITEMS = (
    ("slab", "wood", ""), ("clear cast", "resin", "mg"), ("blue mica", "colourant", "mg"),
    ("grit disc", "abrasive", "each"),
    ("oil", "finish", "ul"), ("brass hinge", "hardware", "each"), ("nitrile gloves", "consumable", "each"),
    ("gift box", "packaging", "each"), ("brass latch", "hardware", "each"),
)  # fmt: skip
UNITS = {"clear cast": "g", "blue mica": "g", "oil": "ml"}


def _receipt(d: _Draw, number: int, lines: list[dict[str, object]], day: date) -> None:
    r = d.random
    receipt = f"R-{number:03d}"
    for at, line in enumerate(lines):
        extra: dict[str, object] = {}
        if at == r.randrange(len(lines)):
            extra = {
                "freight": d.money(1, 3000) if d.has("freight", 0.5) else None,
                "tax": d.money(1, 2000) if d.has("tax", 0.7) else None,
                "discount": d.money(1, 500) if d.has("discount", 0.4) else None,
            }
        d.add("purchases", date=day, receipt=receipt, supplier="Sawmill", **line, **extra)


def _wood(d: _Draw) -> None:
    r = d.random
    for n in range(r.randint(2, 4)):
        day, lines = d.day(0, 60), []
        if d.has("bought before", 0.6):
            day = START - timedelta(days=r.randint(1, 60))
        for k in range(r.randint(1, 2)):
            tag, species = f"W-{n}{k}", r.choice(SPECIES)
            d.lots.setdefault(species, []).append((tag, day))
            size = {"length": r.randint(400, 900), "width": r.randint(150, 400), "thickness": r.randint(25, 60)}
            lines.append(
                {"item": "slab", "category": "wood", "amount": d.money(1000, 20000), "lot": tag, "species": species}
                | {k: f"{v} mm" for k, v in size.items()}
            )
        if day < START and r.random() < 0.7:
            counted = {"item": "slab", "category": "wood", "unit": "mm3", "worth": d.money(100, 9000)}
            counted |= {"species": species, "lot": r.choice((tag, tag, f"V-{n}", None))}
            d.add("counts", date=START, quantity=r.randint(100000, 9000000), **counted)
        _receipt(d, 100 + n, lines, day)


def _shelf(d: _Draw) -> None:
    r = d.random
    wanted = ["brass hinge"] if "usage" in d.features else []
    wanted += ["brass latch"] if "fittings" in d.features else []
    wanted += ["clear cast"] if "pours" in d.features else []
    wanted += ["blue mica"] if "colour" in d.features else []
    wanted += ["grit disc", "oil", "nitrile gloves", "gift box"] if "consumables" in d.features else []
    category = {name: kind for name, kind, _ in ITEMS}
    number = 200
    for item in wanted:
        if d.has("opening", 0.6):
            unit = "kit" if item in UNITS and d.has("odd kits", 0.3) else UNITS.get(item, "each")
            d.add("counts", date=START, item=item, quantity=r.randint(1, 60), unit=unit, worth=d.money(100, 4000))
        last = 110 if "late" in d.features else 40
        for day in sorted({d.day(0, last) for _ in range(r.randint(1, 3))}):
            amount = r.randint(300, 3000) if item in UNITS else r.randint(2, 40)
            amount = max(1, amount // 10) if d.has("short", 0.6) else amount
            line = {"item": item, "category": category[item], "quantity": amount, "unit": UNITS.get(item, "each")}
            if item in UNITS and d.has("odd kits", 0.5):
                line |= {"quantity": r.randint(1, 4), "unit": r.choice(("kit", "each"))}
            returned = d.has("sent back", 0.4) and amount >= 4
            lines: list[dict[str, object]] = [
                {**line, "amount": d.money(200, 9000), "lot": f"L-{number}" if returned or r.random() < 0.4 else None}
            ]
            if d.has("same day", 0.3):
                lines.append({**line, "amount": d.money(200, 9000)})
            _receipt(d, number, lines, day)
            if returned:
                back = {"quantity": -(amount // 4), "unit": line["unit"], "amount": f"-{d.money(50, 200)}"}
                back["returns"] = lines[0]["lot"]
                later = day + timedelta(days=r.randint(0, 9))
                d.add("purchases", date=later, receipt=f"B-{number}", item=item, category=category[item], **back)
            if d.has("sent back", 0.3):
                # more than the last purchase may hold, and no lot named
                back = {
                    "quantity": -d.random.randint(1, 2 * amount),
                    "unit": line["unit"],
                    "amount": f"-{d.money(1, 200)}",
                }
                later = day + timedelta(days=r.randint(0, 30))
                d.add("purchases", date=later, receipt=f"C-{number}", item=item, category=category[item], **back)
            number += 1
        if d.has("bought before", 0.8):
            line = {"item": item, "category": category[item], "unit": UNITS.get(item, "each")}
            lines = [
                line | {"quantity": r.randint(2, 400), "amount": d.money(200, 9000)} for _ in range(r.randint(1, 2))
            ]
            _receipt(d, number, lines, START - timedelta(days=r.randint(1, 60)))
            number += 1
            if r.random() < 0.4:
                back = line | {"quantity": -1, "amount": f"-{d.money(1, 200)}"}
                d.add("purchases", date=START - timedelta(days=1), receipt=f"D-{number}", **back)


def _pieces(d: _Draw) -> None:
    r = d.random
    for n in range(r.randint(3, 8)):
        species = r.choice(sorted(d.lots))
        lot, bought = r.choice(d.lots[species])
        started = max(d.day(0, 90), bought)
        finished = started + timedelta(days=r.randint(0, 40)) if r.random() < 0.8 else None
        row: dict[str, Any] = {
            "piece": f"T-{n:03d}", "product": r.choice(PRODUCTS), "species": species, "finish": r.choice(FINISHES),
            "quantity": r.choice((2, 3, 7)) if d.has("runs", 0.4) else 1, "started": started, "finished": finished,
            "lot": None if d.has("lots missing", 0.4) else lot,
        }  # fmt: skip
        if not d.has("unsized", 0.3) and "no sizes" not in d.habits:
            row |= {k: f"{r.randint(50, 300)} mm" for k in ("length", "width")} | {
                "thickness": f"{r.randint(8, 30)} mm"
            }
        if not d.has("unsized", 0.3) and "no sizes" not in d.habits:
            row |= {f"blank_{k}": f"{r.randint(60, 350)} mm" for k in ("length", "width")}
            row |= {"blank_thickness": f"{r.randint(10, 40)} mm"}
        if d.has("blank values", 0.9):
            row["blank_value"] = d.money(500, 9000)
        if d.has("orders", 0.5):
            row["order_no"] = r.choice(("O-1", "O-2"))
        if r.random() < 0.5:
            row["list_price"] = d.money(2000, 20000)
        if finished and d.has("ends", 0.5):
            row["status"] = r.choice(("scrapped", "test", "gift", "kept", "lost"))
            row["ended"] = finished + timedelta(days=r.randint(0, 30))
            if row["status"] in ("scrapped", "test") and r.random() < 0.7:
                row["ended"], row["finished"] = finished, None
        else:
            row["status"] = "finished" if finished else "in progress"
        if d.has("opening", 0.2):
            row["opening_cost"] = d.money(100, 5000)
        d.add("pieces", **row)
        d.pieces.append(row)
        _asked_anew(d, row)
    for order in {str(p["order_no"]) for p in d.pieces if p.get("order_no")}:
        d.add("orders", order_no=order, date=START, channel="gallery", price=d.money(5000, 9000))


def _asked_anew(d: _Draw, row: dict[str, Any]) -> None:
    """Other prices from later days on, at times two of one day; drawn apart, so that all else stays as it was."""
    own = Random(f"{row['piece']} {row.get('list_price')}")
    for _ in range(own.choice((0, 0, 0, 1, 2)) if row.get("status") == "finished" else 0):
        cents = own.choice((2500, 6000, 9900, 15000))
        day = START + timedelta(days=own.choice((10, 30, 30, 60, 90)))
        d.add("moves", date=day, pieces=row["piece"], place="shop", list_price=f"{cents / 100:.2f}")


def _salvage(d: _Draw) -> None:
    """What was saved from scrapped pieces; at times from one that is still there."""
    for n, row in enumerate(d.pieces):
        ended = row.get("ended")
        # units of a run may be scrapped, and saved from, though the run goes on
        run = "inspected" in d.features and row["quantity"] > 1
        if (not ended and d.random.random() < (0.3 if run else 0.9)) or d.random.random() < 0.3:
            continue
        day = (ended or (run and row.get("finished")) or row["started"]) + timedelta(
            days=d.random.choice((0, 0, 3, 40))
        )
        head: dict[str, object] = {"date": day, "piece": row["piece"], "worth": d.money(1, 4000)}
        if d.random.random() < 0.6:
            head |= {"item": "slab", "category": "wood", "species": row["species"], "lot": f"S-{n}", "unit": "mm3"}
            d.add("counts", quantity=d.random.randint(20000, 900000), **head)
        else:
            head |= {"item": "brass hinge", "category": "hardware", "unit": "each"}
            d.add("counts", quantity=d.random.randint(1, 4), **head)


def _while_made(d: _Draw, row: dict[str, Any]) -> date:
    last = row.get("finished") or row.get("ended") or row["started"] + timedelta(days=20)
    return row["started"] + timedelta(days=d.random.randint(0, max(0, (last - row["started"]).days)))


def _hours(d: _Draw) -> None:
    r = d.random
    for row in d.pieces:
        for operation in OPERATIONS:
            if operation in d.habits:
                continue
            if r.random() < (0.4 if "estimates" in d.features else 0.25):
                continue
            pieces = row["piece"]
            if d.has("shared hours", 0.3):
                pieces = ";".join(sorted({row["piece"], r.choice(d.pieces)["piece"], r.choice(d.pieces)["piece"]}))
            machine = "router" if d.has("machine", 0.4) else None
            d.add(
                "hours", date=_while_made(d, row), hours=f"{r.randint(5, 400)} min", operation=operation, pieces=pieces,
                person=r.choice(("Ada", "Ada", "Ben", None)), machine=machine,
                attended="no" if machine and d.has("unattended", 0.5) else "yes",
                rework="yes" if d.has("rework", 0.1) else None,
            )  # fmt: skip
        if d.has("rework", 0.15) and row.get("finished"):
            late = row["finished"] + timedelta(days=r.randint(1, 40))
            d.add(
                "hours", date=late, hours="45 min", operation="sanding", pieces=row["piece"], person="Ada", rework="yes"
            )
    if "pieceless" in d.features:
        for _ in range(r.randint(1, 4)):
            operation = r.choice((*OPERATIONS, "cleaning", "office", "market"))
            d.add("hours", date=d.day(0, 130), hours=f"{r.randint(10, 300)} min", operation=operation, person="Ada")


def _shop_work(d: _Draw) -> None:
    for _ in range(d.random.randint(1, 6)):
        operation = d.random.choice(("cleaning", "cleaning", "upkeep", "office", "market"))
        minutes = d.random.randint(10, 300)
        person = d.random.choice(("Ada", "Ben", None))
        d.add("hours", date=d.day(0, 130), hours=f"{minutes} min", operation=operation, person=person)


def _pours(d: _Draw) -> None:
    r = d.random
    for n in range(r.randint(1, 4)):
        some = r.sample(d.pieces, r.randint(1, min(3, len(d.pieces)))) if r.random() < 0.9 else []
        mix = r.randint(20, 400)
        wide: dict[str, object] = {"pour": f"P-{n}", "date": _while_made(d, some[0]) if some else d.day(5, 100)}
        wide |= {"purpose": r.choice(("seal", "inlay", "casting", "flood", "repour")), "resin": "clear cast"}
        if not d.has("unweighed", 0.3):
            wide |= {"part_a": f"{mix} g", "part_b": f"{mix // 2} g"}
        if d.has("colour", 0.6):
            wide |= {"colourant": "blue mica", "colourant_quantity": f"{r.randint(1, 9)} g"}
        whole = mix + mix // 2
        share = whole // (len(some) + 1)
        weighed = r.random() < 0.6
        if r.random() < 0.5:
            wide["left_in_cup"] = f"{r.randint(0, share)} g"
        for row in some or [None]:
            cells: dict[str, object] = {}
            if row is not None:
                cells["piece"] = row["piece"]
                if weighed and share > 1:
                    given = r.randint(1, share)
                    cells |= {"deposited": f"{given} g"}
                    cells |= {"trimmed": f"{r.randint(0, given)} g"} if r.random() < 0.5 else {}
            d.add("pours", **wide, **cells)


def _usage(d: _Draw) -> None:
    r = d.random
    tags = [p.get("lot") for p in d.rows["purchases"] if p.get("item") == "brass hinge" and p.get("lot")]
    dates = {p["lot"]: date.fromisoformat(p["date"]) for p in d.rows["purchases"] if p.get("lot")}
    for _ in range(r.randint(1, 7)):
        row = r.choice(d.pieces)
        day = _while_made(d, row)
        lot = r.choice(tags) if tags and r.random() < 0.3 else None
        if lot and dates[lot] > day:
            lot = None
        pieces = ";".join({row["piece"], r.choice(d.pieces)["piece"]}) if r.random() < 0.3 else row["piece"]
        pieces = "" if r.random() < 0.1 else pieces
        d.add("usage", date=day, item="brass hinge", quantity=r.randint(1, 6), unit="each", lot=lot, pieces=pieces)
    # in place of the hinge, or beside it; at times it is said that there is none
    for row in d.pieces if "fittings" in d.features else ():
        if r.random() < 0.6:
            quantity = r.choice((0, 1, 1, 2))
            d.add("usage", date=_while_made(d, row), item="brass latch", quantity=quantity, pieces=row["piece"])


def _consumables(d: _Draw) -> None:
    r = d.random
    for item in ("grit disc", "oil", "nitrile gloves"):
        for _ in range(r.choice((0, 0, 1, 3))):
            row = r.choice(d.pieces)
            d.add(
                "usage", date=_while_made(d, row), item=item, quantity=r.randint(1, 5), unit=UNITS.get(item, "each"),
                pieces=row["piece"] if r.random() < 0.8 else None,
            )  # fmt: skip


def _counts(d: _Draw) -> None:
    r = d.random
    for item in sorted({p["item"] for p in d.rows["purchases"]} - {"slab"}):
        times = r.choice((2, 3, 6)) if "recounted" in d.features else r.choice((0, 1, 2))
        for day in sorted({d.day(20, 130) for _ in range(times)}):
            unit, most = UNITS.get(item, "each"), 600 if item in UNITS else 12
            cause = r.choice(("count", "count", "expired", "lost", "own use"))
            quantity = r.randint(0, most)
            if item in UNITS and d.has("odd kits", 0.5):
                quantity, unit = r.choice((0, 0, 1, 2, 5)), r.choice(("kit", "each"))
            d.add("counts", date=day, item=item, quantity=quantity, unit=unit, cause=cause)


def _bills(d: _Draw) -> None:
    r = d.random
    if "pools" in d.features:
        for n in range(r.randint(0, 4)):
            item = r.choice(("bill", "bill", "power", "rent for May", "Cleaning, power"))
            line: dict[str, object] = {"item": item, "category": "overhead", "amount": d.money(500, 20000)}
            line["pool"] = r.choice(("rent", "power", "power", "cleaning", None))
            line["covers"] = r.choice((None, None, 3)) if line["pool"] == "power" else None
            _receipt(d, 400 + n, [line], d.day(0, 120))
        for n in range(r.randint(0, 2)):
            line = {"item": "router bit", "category": "tool", "amount": d.money(500, 6000)}
            line["machine"] = "router" if d.has("machine", 0.6) else None
            _receipt(d, 450 + n, [line], d.day(0, 120))
    if "booth" in d.features and r.random() < 0.7:
        line = {
            "item": "booth",
            "category": "selling",
            "amount": d.money(1000, 9000),
            "event": r.choice(("SPRING", "SUMMER", None)),
        }
        _receipt(d, 500, [line], d.day(30, 130))


def _inspections(d: _Draw) -> None:
    """Units of a run that were found fit for scrap only, when it was done or some days later."""
    for row in d.pieces:
        done = row.get("finished")
        if done and row["quantity"] > 1 and d.random.random() < 0.5:
            units = d.spoilt[row["piece"]] = d.random.randint(1, row["quantity"] - 1)
            day = done + timedelta(days=d.random.choice((0, 0, 4, 40)))
            head = {"date": min(day, row.get("ended") or day), "piece": row["piece"]}
            d.add("inspections", defect="crack", action="scrap", quantity=units, **head)


def _sales(d: _Draw) -> None:
    r = d.random
    for row in d.pieces:
        left, day = int(row["quantity"]) - d.spoilt.get(row["piece"], 0), row.get("finished")
        if not day or row["status"] in ("scrapped", "test"):
            continue
        last = row.get("ended")
        while left and r.random() < 0.7:
            day = day + timedelta(days=r.randint(0, 20))
            if last and day >= last:
                break
            units = r.randint(1, left)
            left -= units
            untagged = d.has("untagged sales", 0.3)
            sale: dict[str, object] = {"channel": r.choice(("fair", "gallery")), "price": d.money(2000, 20000)}
            sale |= {"product": row["product"]} if untagged else {"piece": row["piece"]}
            if "fees" in d.features:
                sale |= {
                    "channel_fee": r.choice((None, d.money(10, 900))),
                    "payment_fee": r.choice((None, d.money(10, 90))),
                }
                sale |= {
                    "shipping_paid": r.choice((None, d.money(100, 900))),
                    "discount": r.choice((None, d.money(1, 300))),
                }
                sale |= {"shipping_charged": r.choice((None, d.money(100, 900)))}
            if d.has("booth", 0.5):
                sale["event"] = r.choice(("SPRING", "SUMMER"))
            d.add("sales", date=day, quantity=units, **sale)
            if d.has("returns", 0.3) and not untagged:
                day = day + timedelta(days=r.randint(0, 9))
                where = r.choice(("stock", "stock", "scrap", "kept", None))
                left += units if where in ("stock", None) else 0
                d.add(
                    "sales",
                    date=day,
                    quantity=-units,
                    returned_to=where,
                    channel=sale["channel"],
                    piece=row["piece"],
                    price=sale["price"],
                )
    if "lot sales" in d.features:
        sellable = [x for some in d.lots.values() for x in some]
        used = {p.get("lot") for p in d.pieces}
        for lot, bought in [x for x in sellable if x[0] not in used][:1]:
            d.add(
                "sales",
                date=bought + timedelta(days=3),
                lot=lot,
                quantity=1,
                channel="gallery",
                price=d.money(1000, 9000),
            )


def _closings(d: _Draw) -> None:
    for species, some in d.lots.items():
        for lot, _ in some:
            if d.random.random() < 0.5:
                d.add("counts", date=d.day(100, 150), item="slab", lot=lot, species=species, quantity=0, unit="mm3")
