"""Write down what is true of the story, for tests to compare with. The pipeline never reads it."""

import csv
import json
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

from sample_data import workshop as w
from sample_data.bench import blank_mm3, finished_mm3, rework_logit
from sample_data.costs import cost_of_uses, cost_of_wood
from sample_data.pile import Written
from sample_data.shelf import Lot
from sample_data.story import Row, Story, split

_LAYERS = {
    "resin": "resin",
    "colourant": "colourant",
    "abrasive": "abrasive",
    "finish": "finish",
    "consumable": "consumable",
    "hardware": "hardware",
}


def write(story: Story, lots: list[Lot], losses: dict[str, int], written: Written, folder: Path) -> None:
    """Write the truth into `folder`: a CSV for each list, JSON for the model, the totals and the files."""
    folder.mkdir(parents=True, exist_ok=True)
    costs = _costs(story, lots)
    under_warranty = {row["piece"] for row in story.inspections if "_warranty" in row}
    gaps = {piece["piece"] for piece in story.pieces if not piece["_book"]}
    open_lots = {lot.tag for lot in lots if gaps & {piece for piece, _ in lot.cuts}}
    not_weighed = Counter(row["piece"] for row in story.pours if not row["_weighed"])
    for piece in story.pieces:
        piece["_warranty"] = piece["piece"] in under_warranty
        piece["_lots_whole"] = not open_lots & {tag for tag, _ in piece["_lots"]}
        piece["_not_weighed"] = not_weighed[piece["piece"]]
    _csv(folder / "pieces.csv", [_piece(piece, costs[piece["piece"]]) for piece in story.pieces])
    _csv(folder / "hours.csv", _hours(story))
    _csv(folder / "lots.csv", [_lot(lot) for lot in lots])
    _csv(folder / "pours.csv", _pours(story))
    _csv(folder / "items.csv", _items(story, losses))
    _csv(folder / "sales.csv", [_sale(row) for row in story.sales])
    _csv(folder / "months.csv", _months(story))
    _json(folder / "model.json", model(story))
    _json(folder / "totals.json", totals(story, lots))
    _json(folder / "files.json", [{"file": file, "sheet": sheet, **facts} for (file, sheet), facts in written.items()])


def _costs(story: Story, lots: list[Lot]) -> dict[str, Counter[str]]:
    """Cents of materials and labour by piece and layer, and flags of what the files leave out."""
    costs: dict[str, Counter[str]] = defaultdict(Counter)
    wood, offcut = cost_of_wood(lots, {p["piece"]: p["started"] for p in story.pieces if "started" in p})
    for layer, by_piece in (("wood", wood), ("offcut", offcut)):
        for piece, cents in by_piece.items():
            costs[piece][layer] += cents
    for item, uses in cost_of_uses(story).items():
        kind = _LAYERS.get(w.ITEMS[item].category, "")
        for use, cents in uses:
            if not use.piece or not kind:
                continue
            good = (2 * cents * use.good + use.quantity) // (2 * use.quantity) if kind == "resin" else cents
            costs[use.piece][kind] += good
            costs[use.piece]["resin waste"] += cents - good
            costs[use.piece]["not logged"] += kind == "hardware" and not use.logged
    _labour(story, costs)
    return costs


def _labour(story: Story, costs: dict[str, Counter[str]]) -> None:
    for row in story.hours:
        shares = row["_shares"] if row["operation"] not in ("packing", "market") else []
        rate = w.in_force(w.PEOPLE[row["person"]].rates, row["date"])
        cents = (2 * row["hours"] * rate + 3600) // 7200 if row["attended"] else 0
        for (piece, seconds), share in zip(shares, split(cents, [s for _, s in shares]) if shares else [], strict=True):
            cost = costs[piece]
            if "_warranty" in row:
                cost["warranty labour"] += share
                continue
            cost["labour"] += share
            cost["rework labour"] += share * row["rework"]
            cost["seconds"] += seconds * row["attended"]
            cost["machine seconds"] += seconds * ("machine" in row)
            cost["rows lost"] += row["_lost"] or not row["_named"]
            cost["rows shared"] += len(shares) > 1


def _piece(piece: Row, cost: Counter[str]) -> Row:
    return {
        "piece": piece["piece"],
        "product": piece["product"],
        "species": piece["species"],
        "finish": piece["finish"],
        "quantity": piece["quantity"],
        "status": piece["status"],
        "started": _day(piece.get("started")),
        "finished": _day(piece.get("finished")),
        "lots": "; ".join(tag for tag, _ in piece["_lots"]),
        "area_mm2": piece["_area_mm2"],
        "finished_mm3": round(finished_mm3(piece)),
        "blank_mm3": blank_mm3(piece),
        "seconds": cost["seconds"],
        "machine_seconds": cost["machine seconds"],
        **{
            f"{layer.replace(' ', '_')}_cents": cost[layer]
            for layer in ("wood", "offcut", "resin", "resin waste", *list(_LAYERS.values())[1:], "labour")
        },
        "rework_labour_cents": cost["rework labour"],
        "warranty_labour_cents": cost["warranty labour"],
        "rework": piece["_rework"],
        "warranty": int(piece["_warranty"]),
        "rework_logit": round(rework_logit(piece), 4),
        "short_stir": int(piece["_short"]),
        "handled_early": int(piece["_early"]),
        "opening_cost_cents": piece.get("opening_cost", 0),
        "in_book_whole": int(piece["_book"]),
        "lots_whole": int(piece["_lots_whole"]),
        "pours_not_weighed": piece["_not_weighed"],
        "hours_rows_lost": cost["rows lost"],
        "hours_rows_shared": cost["rows shared"],
        "hardware_not_logged": cost["not logged"],
    }


def _hours(story: Story) -> Iterable[Row]:
    sums: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for row in story.hours:
        for piece, seconds in row["_shares"]:
            if not row["attended"] or "_warranty" in row:
                continue
            of = sums[piece, row["operation"]]
            of["seconds"] += seconds
            of["rework_seconds"] += seconds * row["rework"]
            of["not_logged_seconds"] += seconds * (row["_lost"] or not row["_named"])
    for (piece, operation), of in sorted(sums.items()):
        yield {"piece": piece, "operation": operation} | {
            k: of[k] for k in ("seconds", "rework_seconds", "not_logged_seconds")
        }


def _lot(lot: Lot) -> Row:
    opening = "_opening" in lot.row
    return {
        "lot": lot.tag,
        "species": lot.species,
        "supplier": lot.row["supplier"],
        "item": lot.row["item"],
        "mm3": lot.mm3,
        "cents": lot.row["amount"] if opening else lot.row["_landed"],
        "pieces": len({piece for piece, _ in lot.cuts}),
        "cut_mm3": sum(volume for _, volume in lot.cuts),
        "finished_mm3": round(lot.finished_mm3),
        "closed": _day(lot.closed or None),
        "split": int(lot.split),
        "opening": int(opening),
    }


def _pours(story: Story) -> list[Row]:
    pours: dict[str, Row] = {}
    for row in story.pours:
        pour = pours.setdefault(
            row["pour"],
            {
                "pour": row["pour"],
                "date": _day(row["date"]),
                "purpose": row["purpose"],
                "resin": row["resin"],
                "weighed": int(row["_weighed"]),
            }
            | dict.fromkeys(("mixed_mg", "deposited_g", "trimmed_g", "left_in_cup_g", "spilled_g", "pieces"), 0),
        )
        for name, part in (
            ("mixed_mg", "_mixed_mg"),
            ("deposited_g", "_deposited_g"),
            ("trimmed_g", "_trimmed_g"),
            ("left_in_cup_g", "_cup_g"),
            ("spilled_g", "_spilled_g"),
        ):
            pour[name] += row[part]
        pour["pieces"] += 1
    return list(pours.values())


def _items(story: Story, losses: dict[str, int]) -> list[Row]:
    bought: Counter[str] = Counter()
    cents: Counter[str] = Counter()
    opening: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for row in story.purchases:
        if row["item"] in w.ITEMS:
            bought[row["item"]] += row["_base"]
            cents[row["item"]] += row["_landed"]
    for row in story.counts:
        if "worth" in row and row["item"] in w.ITEMS:
            opening[row["item"]] += row["_base"]
    for use in story.uses:
        used[use.item] += use.quantity
    return [
        {
            "item": i,
            "unit": w.ITEMS[i].base,
            "opening": opening[i],
            "bought": bought[i],
            "landed_cents": cents[i],
            "used": used[i],
            "lost": losses[i],
        }
        | {"on_hand": opening[i] + bought[i] - used[i] - losses[i]}
        for i in w.ITEMS
    ]


def _sale(row: Row) -> Row:
    keys = ("piece", "product", "channel", "quantity", "price")
    return (
        {"sale": row["_ref"], "date": _day(row["date"])}
        | {key: row[key] for key in keys}
        | {"tagged": int(row["_tagged"])}
    )


def _months(story: Story) -> list[Row]:
    months: dict[str, Counter[str]] = defaultdict(Counter)
    for row in story.sales:
        month = months[_day(row["date"])[:7]]
        month["revenue_cents"] += row["quantity"] * row["price"] - row.get("discount", 0)
        month["units"] += row["quantity"]
    for row in story.hours:
        months[_day(row["date"])[:7]]["seconds" if row["attended"] else "unattended_seconds"] += row["hours"]
    for row in story.purchases:
        months[_day(row["date"])[:7]]["purchases_cents"] += row["_landed"]
    names = ("revenue_cents", "units", "seconds", "unattended_seconds", "purchases_cents")
    return [{"month": month} | {name: months[month][name] for name in names} for month in sorted(months)]


def model(story: Story) -> dict[str, Any]:
    """The parameters that the story was drawn from."""
    return {
        "hours": {
            "rule": "hours = base × (area / usual area)^size × practice × (units / 6)^run × finish × person × chance",
            "base": {name: product.hours for name, product in w.PRODUCTS.items()},
            "size_exponent": w.SIZE_EXPONENT,
            "practice_exponent": w.LEARNING_EXPONENT,
            "practice": "max(1, min(n, 100) / 10) ^ practice_exponent for the n-th piece of its product",
            "run_exponent": w.RUN_EXPONENT,
            "finish": w.FINISH_HOURS,
            "person": {name: person.slower for name, person in w.PEOPLE.items()},
            "log_spread": w.HOURS_SPREAD,
        },
        "wood_usable_share": {name: wood.usable for name, wood in w.WOODS.items()},
        "resin_loss_share_of_mix": w.RESIN_LOSS,
        "resin_trimmed_share_of_deposit": w.TRIM_SHARE,
        "rework_logit": {
            "base": w.REWORK_BASE,
            "species": {name: wood.effect for name, wood in w.WOODS.items()},
            "finish": w.FINISHES,
            "short_stir": w.SHORT_STIR_EFFECT,
            "handled_early": w.EARLY_EFFECT,
        },
        "planted": {
            "only_looks_bad": "American elm",
            "truly_bad": "boxelder",
            "bad_practice": "stirred too short",
            "bad_finish": "flood coat",
            "change": {"day": _day(story.timer), "short_stir_chance": list(w.SHORT_STIR_CHANCE)},
        },
    }


def totals(story: Story, lots: list[Lot]) -> dict[str, Any]:
    """Sums over the whole story, in cents, seconds, milligrams and cubic millimetres."""
    by_category: Counter[str] = Counter()
    for row in story.purchases:
        by_category[row["category"]] += row["_landed"]
    pours = _pours(story)
    mixed = max(1, sum(p["mixed_mg"] for p in pours))
    resin = {
        f"{cause}_share": round(1000 * sum(p[f"{cause}_g"] for p in pours) / mixed, 4)
        for cause in ("deposited", "trimmed", "left_in_cup", "spilled")
    }
    return {
        "first_day": _day(story.start),
        "last_day": _day(story.end),
        "purchases": {
            "lines": len(story.purchases),
            "amount_cents": sum(row["amount"] for row in story.purchases),
            "landed_cents": sum(row["_landed"] for row in story.purchases),
            "landed_cents_by_category": dict(sorted(by_category.items())),
        },
        "hours": {
            "rows": len(story.hours),
            "rows_written": sum(not row["_lost"] for row in story.hours),
            "seconds": sum(row["hours"] for row in story.hours),
            "seconds_written": sum(row["hours"] for row in story.hours if not row["_lost"]),
        },
        "resin": {"pours": len(pours), "mixed_mg": mixed, **resin},
        "sales": {
            "rows": len(story.sales),
            "units": sum(row["quantity"] for row in story.sales),
            "revenue_cents": sum(row["quantity"] * row["price"] - row.get("discount", 0) for row in story.sales),
            "sales_tax_ours_cents": sum(
                row.get("sales_tax", 0) for row in story.sales if row["channel"] in ("market", "commission")
            ),
        },
        "wood_yield": _wood_yield(lots),
        "rework": {name: _rates(story, name) for name in ("species", "finish", "_short")},
    }


def _wood_yield(lots: list[Lot]) -> dict[str, float]:
    closed = [lot for lot in lots if lot.closed and not lot.split]
    bought: Counter[str] = Counter()
    finished: dict[str, float] = defaultdict(float)
    for lot in closed:
        bought[lot.species] += lot.mm3
        finished[lot.species] += lot.finished_mm3
    return {species: round(finished[species] / bought[species], 4) for species in sorted(bought)}


def _rates(story: Story, name: str) -> dict[str, list[float]]:
    """By level: pieces that were looked at, how many came back, and the mean of their true chances."""
    groups: dict[str, list[Row]] = defaultdict(list)
    for piece in story.pieces:
        if piece["status"] not in ("in progress", "test") and "_opening" not in piece:
            groups[str(piece[name]).lower() if name == "_short" else piece[name]].append(piece)
    return {
        level: [len(rows), sum(p["_rework"] for p in rows), round(sum(p["_chance"] for p in rows) / len(rows), 4)]
        for level, rows in sorted(groups.items())
    }


def _day(day: int | None) -> str:
    return "" if day is None else date.fromordinal(day).isoformat()


def _csv(path: Path, rows: Iterable[Row]) -> None:
    rows = list(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, list(rows[0]) if rows else [], lineterminator="\n")
        out.writeheader()
        out.writerows(rows)


def _json(path: Path, data: object) -> None:
    path.write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
