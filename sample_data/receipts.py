"""The bills that no piece draws on, and how lines share a receipt with its freight, tax and discount."""

import random
from collections.abc import Iterable
from datetime import date

from sample_data import workshop as w
from sample_data.story import Row, Story

_GEAR = ("router bit", "saw blade", "drill bit set", "dust filter", "blade sharpening", "sander pad")


def other_bills(rng: random.Random, story: Story) -> None:
    """Power, tools, insurance, machines, booths and advertising: the lines that no piece draws on."""
    first, last = date.fromordinal(story.start), date.fromordinal(story.end)
    for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month):
        year, number = divmod(month, 12)
        day = date(year, number + 1, 4).toordinal()
        season = 1.35 if number in (11, 0, 1) else 1.0
        lines: list[tuple[str, str, str, int, Row]] = [
            (
                "electricity",
                "overhead",
                "Ridge Valley Power",
                round(6200 * season * rng.uniform(0.9, 1.12)),
                {"pool": "electricity"},
            ),
            ("advertising", "selling", "Corner Print", rng.randint(1500, 4200), {}),
            ("web shop", "selling", "Corner Print", 1900, {}),
            ("postage labels", "selling", "Packhorse Paper", rng.randint(500, 1500), {}),
        ]
        for _ in range(rng.choice((2, 2, 2, 3))):
            lines.append((rng.choice(_GEAR), "tool", "Gritworks", rng.randint(900, 4200), {"pool": "tools"}))
        if rng.random() < 0.3:
            lines.append(("router bit", "tool", "Gritworks", rng.randint(1800, 5200), {"machine": "CNC router"}))
        if number == 10:
            lines.append(
                (
                    "insurance",
                    "overhead",
                    "Hedgerow Mutual",
                    54000 + 1500 * (year - first.year),
                    {"pool": "insurance", "covers": 12},
                )
            )
        for item, category, supplier, amount, more in lines:
            story.purchases.append(
                {
                    "date": min(day + rng.randint(0, 9), story.end),
                    "supplier": supplier,
                    "item": item,
                    "category": category,
                    "amount": amount,
                }
                | more
            )
    for name, (bought, cost, *_rest) in w.MACHINES.items():
        if story.start < bought.toordinal() <= story.end:
            row = {
                "date": bought.toordinal(),
                "supplier": "Anvil Machine Hall",
                "item": name,
                "category": "equipment",
                "machine": name,
            }
            story.purchases.append(row | {"amount": round(cost / (1 + w.TAX_SHARE)), "_alone": True})
    for number, (tag, day, fee) in enumerate(story.events):
        if number % 13 != 5:  # those without a receipt have their fee in shop.toml
            row = {
                "date": max(story.start, day - 9),
                "supplier": "Market Square Society",
                "item": "booth fee",
                "category": "selling",
                "amount": fee,
                "event": tag,
            }
            story.purchases.append(row)
    _sent_back(rng, story)


def _sent_back(rng: random.Random, story: Story) -> None:
    for number in range(1, 3):
        day = story.start + (story.end - story.start) * number // 3
        lot = f"L-9{number:03d}"
        wood = {
            "supplier": "Old Quarry Lumber",
            "item": "white oak boards",
            "category": "wood",
            "species": "white oak",
            "_alone": True,
        }
        story.purchases.append(
            wood
            | {
                "date": day,
                "lot": lot,
                "quantity": ("8", "bf"),
                "amount": 8160,
                "_base": round(8 * w.MM3_PER_BOARD_FOOT),
            }
        )
        back = {
            "date": day + 9,
            "returns": lot,
            "quantity": ("-8", "bf"),
            "amount": -8160,
            "note": "cracked, sent back",
        }
        story.purchases.append(wood | back | {"_base": -round(8 * w.MM3_PER_BOARD_FOOT)})


_TAX_FREE = {"Ridge Valley Power", "Hedgerow Mutual", "Market Square Society"}
_FREIGHT = {
    "Tarn Resin Supply": 1450,
    "Gritworks": 795,
    "Packhorse Paper": 990,
    "Larkhill Sawmill": 0,
    "Old Quarry Lumber": 2500,
}


def write_receipts(rng: random.Random, story: Story) -> None:
    """Lines of one supplier in one half of a month share a receipt, dated as its first; the landed cost of each."""
    groups: dict[tuple[int, str, int], list[Row]] = {}
    for number, row in enumerate(sorted(story.purchases, key=lambda r: r["date"])):
        when = date.fromordinal(row["date"])
        half = when.year * 24 + when.month * 2 + (when.day > 15)
        groups.setdefault((half, row["supplier"], number if "_alone" in row else 0), []).append(row)
    story.purchases = []
    batches = sorted(
        (chunk for lines in groups.values() for chunk in _chunks(lines)), key=lambda c: (c[0]["date"], c[0]["supplier"])
    )
    for number, lines in enumerate(batches, 1):
        _receipt(rng, f"B{number:05d}", lines)
        story.purchases += lines


def _chunks(lines: list[Row]) -> Iterable[list[Row]]:
    return (lines[i : i + 12] for i in range(0, len(lines), 12))


def _receipt(rng: random.Random, tag: str, lines: list[Row]) -> None:
    supplier, day = lines[0]["supplier"], min(row["date"] for row in lines)
    seen: set[tuple[str, int]] = set()
    for row in lines:
        # only a booth fee is the same on two lines: for two markets
        while (row["item"], row["amount"]) in seen and "event" not in row:
            row["amount"] += 1
        seen.add((row["item"], row["amount"]))
    goods = sum(row["amount"] for row in lines)
    freight = _FREIGHT.get(supplier, 0) if goods > 0 and "_alone" not in lines[0] and rng.random() < 0.75 else 0
    discount = round(goods * 0.05) if goods > 25000 and "_alone" not in lines[0] and rng.random() < 0.25 else 0
    tax = 0 if supplier in _TAX_FREE else round((goods - discount) * w.TAX_SHARE)
    extra = freight + tax - discount
    whole, so_far, given = sum(max(0, row["amount"]) for row in lines), 0, 0
    for row in lines:
        so_far += max(0, row["amount"])
        upto = (2 * extra * so_far + whole) // (2 * whole) if whole else extra
        row |= {
            "receipt": tag,
            "date": day,
            "tax": tax,
            "freight": freight,
            "discount": discount,
            "total": goods + extra,
        }
        row["_landed"] = row["amount"] + upto - given
        given = upto
