"""The demo's `shop.toml`: every section is used, and every rate, fee and pool that changed says from when."""

import json
from collections.abc import Iterable
from datetime import date

from sample_data.workshop import BILLS, CHANNELS, ITEMS, MACHINES, NAME, PEOPLE, RESINS, START, WOODS

_WORDS = {
    "species": {"elm": "American elm", "cedar": "eastern redcedar", "beech": "American beech"},
    "finish": {
        "oil & wax": "oil and wax",
        "oil/wax": "oil and wax",
        "hardwax oil": "hard wax oil",
        "hard-wax oil": "hard wax oil",
        "inlay": "resin inlay",
        "flood": "flood coat",
        "flood-coat": "flood coat",
        "river": "cast river",
    },
    "operation": {
        "cutting": "sawing",
        "planing": "surfacing",
        "cnc": "carving",
        "resin": "pouring",
        "oiling": "finishing",
        "sand": "sanding",
    },
    "product": {
        "clock": "wall clock",
        "coasters": "coaster run",
        "sign": "house sign",
        "table": "side table",
        "rack": "wall rack",
    },
    "channel": {"stall": "market", "web": "online", "order": "commission", "consignment": "gallery"},
    "person": {"m": "Mara", "t": "Tobin"},
    "item": {"table top resin": "coating resin", "casting resin": "deep pour resin", "hw oil": "hard wax oil"},
    "unit": {"pcs": "each"},
    "defect": {"soft spot": "soft spot / tacky area"},
}


def shop_toml(events: Iterable[tuple[str, date, int]], timer: date) -> str:
    """The text of `shop.toml`. `events`: tag, day, fee in cents where no receipt has it; `timer`: a change's day."""
    parts = [
        "# The invented demo shop. Every rate, fee and pool counts from its `from` day; without one, from `start`.",
        *_lines(
            name=NAME,
            currency="USD",
            units="us",
            time_zone="America/Chicago",
            start=START,
            opening_cash="6200.00",
            opening_tax_owed="184.20",
            opening_deposits="0.00",
            cost_flow="fifo",
            late_receipt_days=7,
            tax_reclaimable=False,
            normal_scrap="0.05",
            scrap_circle="shop",
            tax_regime="sales tax",
            mix_tolerance="0.05",
            stir_minutes="3.0",
            cure_hours="24.0",
            cold_c="16.0",
            damp_pct="75.0",
            wet_wood_pct="12.0",
        ),
    ]
    for name, person in PEOPLE.items():
        parts += ["", "[[people]]", *_lines(name=name, role=person.role, paid=person.paid)]
        for begin, rate in person.rates:
            parts += ["[[people.rates]]", *_from(begin), *_lines(rate=_money(rate))]
    for name, (bought, cost, salvage, months) in MACHINES.items():
        parts += [
            "",
            "[[machines]]",
            *_lines(name=name, bought=bought, cost=_money(cost), salvage=_money(salvage), months=months),
        ]
    parts += ["", "[[pools]]", *_lines(name="rent", source="amount")]
    for begin, amount in ((None, 42000), (date(2025, 1, 1), 44500)):
        parts += ["[[pools.amounts]]", *_from(begin), *_lines(amount=_money(amount))]
    for name in ("electricity", "tools", "insurance"):
        parts += [
            "",
            "[[pools]]",
            *_lines(name=name, source="receipts", driver="machine hours" if name == "tools" else "bench hours"),
        ]
    for name, channel in CHANNELS.items():
        parts += ["", "[[channels]]", *_lines(name=name, tax_by=channel.tax_by)]
        for begin, share, fixed, payment_share, payment_fixed in channel.fees:
            fees = _lines(
                share=str(share),
                fixed=_money(fixed),
                payment_share=str(payment_share),
                payment_fixed=_money(payment_fixed),
            )
            parts += ["[[channels.fees]]", *_from(begin), *fees]
    parts += ["", "[[operations]]", *_lines(name="gluing", kind="bench", driver="volume")]
    for name, item in ITEMS.items():
        base = {} if item.category == "resin" else {"base_unit": item.base}
        resin = RESINS.get(name)
        sheet = (
            {} if resin is None else {k: str(v) for k, v in vars(resin).items() if k not in ("kit_ml", "shelf_months")}
        )
        kit = {} if resin is None else {"kit": str(resin.kit_ml), "shelf_months": resin.shelf_months}
        parts += ["", "[[items]]", *_lines(name=name, category=item.category, **base, **sheet, **kit)]
    for name, category in _other_items():
        parts += ["", "[[items]]", *_lines(name=name, category=category)]
    for tag, day, fee in events:
        parts += ["", "[[events]]", *_lines(name=tag, day=day, **({"fee": _money(fee)} if fee else {}))]
    # the last day's price list, what the shop's own kitchen scale and eye are good for, and a flood of the usual depth
    parts += ["", "[[price_list]]", *_lines(name="clock movement", unit="each"), "[[price_list.prices]]"]
    parts += [*_from(date(2026, 10, 31)), *_lines(price=_money(790))]
    parts += ["", "[[purposes]]", *_lines(name="flood", thickness_mm="1.6")]
    parts += ["", "[[measures]]", *_lines(name="counted", share="0.02")]
    parts += ["", "[[rules]]", *_from(date(2025, 7, 1)), *_lines(cold_c="18.0")]
    parts += ["", "[[changes]]", *_lines(name="timer for stirring", day=timer)]
    parts += ["", "[[goal]]", *_lines(year=2026, pay=_money(1800))]
    for vocabulary, words in _WORDS.items():
        parts += [
            "",
            f"[words.{vocabulary}]",
            *(f"{json.dumps(alias)} = {json.dumps(word)}" for alias, word in words.items()),
        ]
    return "\n".join(parts) + "\n"


def _other_items() -> Iterable[tuple[str, str]]:
    """Bills, machines, and wood in each of its forms."""
    yield from BILLS.items()
    yield from ((name, "equipment") for name in MACHINES)
    for species in WOODS:
        for form in ("slab", "round", "boards"):
            yield f"{species} {form}", "wood"


_PLAIN = {
    "name",
    "currency",
    "units",
    "time_zone",
    "cost_flow",
    "scrap_circle",
    "tax_regime",
    "role",
    "source",
    "driver",
    "tax_by",
    "kind",
    "unit",
    "category",
    "base_unit",
}


def _lines(**values: object) -> list[str]:
    """Settings as TOML; a figure comes as text, so that it is written as it stands."""
    return [f"{key} = {_value(key, value)}" for key, value in values.items()]


def _value(key: str, value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str) and key in _PLAIN:
        return json.dumps(value, ensure_ascii=False)
    return str(value)


def _from(begin: date | None) -> list[str]:
    return [] if begin is None else [f"from = {begin}"]


def _money(cents: int) -> str:
    return f"{cents // 100}.{cents % 100:02d}"
