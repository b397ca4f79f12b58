"""The oracle's materials: landed receipts, lots, and every use of a lot by blank, pour, usage, count or sale."""

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import Any

from books_back import SentBack
from books_flow import Count, Flow, Lot, Part, Use
from books_hours import Bench, Piece, Row, box
from books_sums import cut, lower_median, month_end, months, rounded, shares
from books_usual import drawn_to, windows
from books_value import share_by_value

USED_UP = ("abrasive", "finish", "consumable", "packaging")


def landed(purchases: list[Row], reclaimable: Callable[[date], bool]) -> dict[int, int]:
    """Row id of a purchase → what it cost with its shares of the receipt's freight, tax and discount."""
    receipts: dict[object, list[Row]] = defaultdict(list)
    for row in purchases:
        receipts[row["receipt"] or row["row_id"]].append(row)
    out = {row["row_id"]: row["amount_cents"] for row in purchases}
    for lines in receipts.values():
        lines.sort(key=lambda r: (r["on_date"], r["row_id"]))
        bearing = [r for r in lines if r["amount_cents"] > 0] or lines
        total = sum(r["freight_cents"] or 0 for r in lines)
        for name, sign in (("tax_cents", 1), ("discount_cents", -1)):
            stated = [r for r in lines if r[name] is not None]
            for row in stated:
                cents = 0 if name == "tax_cents" and reclaimable(row["on_date"]) else sign * row[name]
                if len(stated) > 1:  # each line's own
                    out[row["row_id"]] += cents
                else:
                    total += cents
        for row, part in zip(bearing, shares(total, [max(0, r["amount_cents"]) for r in bearing]), strict=True):
            out[row["row_id"]] += part
    return out


class Materials:
    """Builds the flows; `flows` holds them by name, settled and stepped through."""

    def __init__(
        self,
        records: dict[str, list[Row]],
        settings: dict[str, list[Row]],
        pieces: dict[str, Piece],
        bench: Bench,
        net: dict[int, int],
        horizon: date,
        gone: Callable[[str, date], bool],
        scrapped: Callable[[str, date], bool],
    ) -> None:
        self.gone, self.scrapped = gone, scrapped
        self.records, self.pieces, self.bench, self.net, self.horizon = records, pieces, bench, net, horizon
        self.shop = settings["shop"][0]
        self.items = {i["name"]: i for i in settings["item"]}
        self.category: dict[str, str] = {n: i["category"] for n, i in self.items.items() if i["category"]}
        for record in ("counts", "purchases"):
            for row in sorted(records[record], key=lambda r: r["row_id"]):
                if row["category"]:
                    self.category[row["item"]] = row["category"]
        self.unit = {n: i["base_unit"] for n, i in self.items.items() if i["base_unit"]}
        for row in sorted(records["purchases"], key=lambda r: (r["on_date"], r["row_id"])):
            if row["quantity_unit"] and row["quantity_unit"] != "kit":
                self.unit.setdefault(row["item"], row["quantity_unit"])
        self.flows: dict[str, Flow] = {}
        self.spread: dict[tuple[str, date], int] = {}
        self.closings: list[Row] = []
        self.wood_losses: list[Row] = []
        self._lots()
        self._blanks()
        self._pours()
        self._usage()
        self._lacking()
        self._lot_sales()
        self._wood_volumes()
        self._counts()
        self._spread()
        for flow in self.flows.values():
            (flow.average if self.shop["cost_flow"] == "average" and not self._is_wood(flow) else flow.fifo)()
            if self._is_wood(flow):
                share_by_value(flow, self.pieces)

    def _is_wood(self, flow: Flow) -> bool:
        return any(name.startswith("wood:") and flow is f for name, f in self.flows.items())

    def flow(self, name: str) -> Flow:
        return self.flows.setdefault(name, Flow([], [], late=self.shop["late_receipt_days"]))

    def measure(self, item: str, quantity: int | None, unit: str | None, part: str = "") -> int:
        """A quantity in the item's own unit."""
        known = self.items.get(item, {})
        if quantity is None:
            return 0
        to = self.unit.get(item) or ("mg" if unit == "kit" else unit)
        if unit == to:
            return quantity
        if unit in ("kit", "each"):
            return self._kits(known, quantity, to)
        density = known.get(f"density_{part}_ug_per_ul") or known.get("density_ug_per_ul")
        if density and (unit, to) == ("ul", "mg"):
            return rounded(Fraction(quantity * density, 1000))
        if density and (unit, to) == ("mg", "ul"):
            return rounded(Fraction(quantity * 1000, density))
        return 0

    @staticmethod
    def _kits(known: Row, quantity: int, to: str | None) -> int:
        """What so many kits (or sets, or pieces, of what is poured) hold, by the weight or the volume of one."""
        weight, volume, density = known.get("kit_weight_mg"), known.get("kit_ul"), known.get("density_ug_per_ul")
        each = {
            "mg": weight if weight is not None else density and volume and Fraction(volume * density, 1000),
            "ul": volume if volume is not None else density and weight and Fraction(weight * 1000, density),
        }.get(to or "")
        return rounded(each * Fraction(quantity, 1000)) if each else 0

    def _size_unknown(self, item: str, unit: str | None) -> bool:
        """Whether a kit of it, or one, can't be told in the unit that it is kept in."""
        known = self.items.get(item, {})
        return (
            (unit or "kit") in ("kit", "each")
            and self.unit.get(item) in ("mg", "ul")
            and not (known.get("kit_weight_mg") or known.get("kit_ul"))
        )

    # lots

    def _lots(self) -> None:
        stock = [
            r
            for r in self.records["purchases"]
            if r["category"] in ("wood", "resin", "colourant", "hardware", *USED_UP)
        ]
        self.counted_at_start = [r for r in stock if self._in_count(r)]
        stock = [r for r in stock if r not in self.counted_at_start]
        back = [r for r in stock if r["amount_cents"] < 0 or (r["quantity"] or 0) < 0]
        self.lot_of: dict[int, Lot] = {}
        for row in sorted((r for r in stock if r not in back), key=lambda r: (r["on_date"], r["row_id"])):
            wood = row["category"] == "wood"
            quantity = (
                (self._slab(row) or 0) if wood else self.measure(row["item"], row["quantity"], row["quantity_unit"])
            )
            if row["quantity"] is None and not wood:
                quantity = 1000
            name = f"wood:{row['species']}" if wood else row["item"]
            if not wood and self._size_unknown(row["item"], row["quantity_unit"]):
                name, quantity = f"kits of {name}", 1000 if row["quantity"] is None else row["quantity"]
            lot = Lot(row["row_id"], row["on_date"], quantity, self.net[row["row_id"]], row["lot"], row["item"])
            self.lot_of[row["row_id"]] = lot
            self.flow(name).lots.append(lot)
        for row in self.records["counts"]:
            if row["worth_cents"] is None:
                continue
            wood = self.category.get(row["item"]) == "wood"
            name = f"wood:{row['species']}" if wood else row["item"]
            quantity = self.measure(row["item"], row["quantity"], row["quantity_unit"])
            if not wood and row["quantity"] and self._size_unknown(row["item"], row["quantity_unit"]):
                name, quantity = f"kits of {name}", row["quantity"]
            lot = Lot(row["row_id"], row["on_date"], quantity, row["worth_cents"], row["lot"], row["item"], "opening")
            if row["piece"]:
                # what was saved from a piece is worth something once the piece is gone
                gone = self.scrapped(row["piece"], row["on_date"])
                lot.source, lot.cents = "saved", row["worth_cents"] if gone else 0
            self.lot_of[row["row_id"]] = lot
            self.flow(name).lots.append(lot)
        everything = [lot for flow in self.flows.values() for lot in flow.lots if lot.source != "saved"]
        self.back = SentBack(back, everything, self._gone, self.net)

    def _in_count(self, row: Row) -> bool:
        """Whether what is left of an old receipt was counted when the records began."""
        wood = row["category"] == "wood"
        alike = [
            count
            for count in self.records["counts"]
            if count["worth_cents"] is not None and not count["piece"] and count["item"] == row["item"]
            if not wood or count["species"] == row["species"]
        ]
        if row["on_date"] >= self.shop["start"] or not alike:
            return False
        if not wood or not row["lot"] or any(count["lot"] in (None, row["lot"]) for count in alike):
            return True
        # slabs were counted one by one: this one was gone, unless it turns up
        pieces = [(p.row["lot"], p.row["started"] or p.row["finished"]) for p in self.pieces.values()]
        pieces += [(r["lot"], r["on_date"]) for r in self.records["usage"]]
        seen = {lot for lot, day in pieces if day is None or day >= self.shop["start"]}
        seen |= {r["lot"] for r in self.records["sales"] if not r["piece"]}
        seen |= {r["lot"] for r in self.records["counts"] if r["worth_cents"] is None}
        return row["lot"] not in seen

    def _gone(self, row: Row) -> int:
        if row["category"] == "wood":
            return self._slab(row) or 0
        return abs(self.measure(row["item"], row["quantity"], row["quantity_unit"]))

    def _slab(self, row: Row) -> int | None:
        size = box(row["length_um"], row["width_um"], row["thickness_um"], row["diameter_um"])
        if row["quantity_unit"] == "mm3":
            return row["quantity"]
        return size[1] * (row["count"] or 1) if size else None

    def _wood_flow_of(self, tag: str | None) -> str | None:
        for name, flow in self.flows.items():
            if name.startswith("wood:") and any(lot.tag == tag for lot in flow.lots):
                return name
        return None

    # uses

    def _blanks(self) -> None:
        replaced = {
            tag
            for row in self.records["usage"]
            if self.category.get(row["item"]) == "wood"
            for tag in row["pieces"] or []
        }
        for piece in self.pieces.values():
            row = piece.row
            # what an opening cost holds has its wood in it
            if row["opening_cost_cents"] is not None or piece.tag in replaced or not piece.blank or piece.start is None:
                continue
            name = self._wood_flow_of(row["lot"]) if row["lot"] else None
            name = name or (f"wood:{row['species']}" if row["species"] else None)
            if name is None:
                continue
            part = Part("piece", piece.tag, "wood", 1)
            self.flow(name).uses.append(
                Use(
                    piece.start,
                    row["row_id"],
                    piece.blank,
                    "wood",
                    [part],
                    row["lot"] if self._wood_flow_of(row["lot"]) else None,
                    assumed=not row["lot"],
                    estimated=piece.blank_estimated,
                )
            )

    def _pours(self) -> None:
        pours: dict[str, list[Row]] = defaultdict(list)
        for row in sorted(self.records["pours"], key=lambda r: r["row_id"]):
            pours[row["pour"]].append(row)
        self.back_at_bench = windows(self.records)
        self.mixes = {pour: self._mix(rows) for pour, rows in pours.items()}
        self.resins: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        for pour, rows in pours.items():
            self._pour(rows, self.mixes[pour] if self._weighed(rows) else self._usual_mix(rows))

    @staticmethod
    def _weighed(rows: list[Row]) -> bool:
        return any(r[part] is not None for r in rows for part in ("part_a", "part_b"))

    def _mix(self, rows: list[Row]) -> int:
        def one(field: str) -> Any:
            return next((r[field] for r in rows if r[field] is not None), None)

        resin = one("resin")
        parts = [self.measure(resin, one(f"part_{p}"), one(f"part_{p}_unit"), p) for p in "ab"] if resin else [0]
        return sum(parts)

    def _usual_mix(self, rows: list[Row]) -> int:
        """What a pour that nobody weighed takes: by its purpose, product and size; no less than is known of it."""
        resin = next((r["resin"] for r in rows if r["resin"]), None)
        if not resin:
            return 0
        product, purpose, size, units = self._poured_on(rows)
        tagged = {r["piece"] for r in rows if r["piece"] in self.pieces}
        rest = 0
        for name in ("left_in_cup", "spilled"):
            row = next((r for r in rows if r[name] is not None), None)
            rest += self.measure(resin, row[name], row[f"{name}_unit"]) if row else 0
        named = sum(
            self.measure(resin, r["deposited"], r["deposited_unit"]) for r in rows if r["deposited"] is not None
        )
        if tagged and named and all(any(r["piece"] == t and r["deposited"] is not None for r in rows) for t in tagged):
            return named + rest
        every, own = [], []
        for others in self._by_pour().values():
            mix = self.mixes[others[0]["pour"]]
            of, for_what, wide, number = self._poured_on(others)
            if not mix or for_what != purpose or not number:
                continue
            rate = (mix * 10**6 // wide if wide else None, mix * 10**6 // number)
            every.append(rate)
            if of == product and product:
                own.append(rate)
        if not units:
            return named + rest
        by_size, by_unit = (self._drawn([r[k] for r in own], [r[k] for r in every], len(own)) for k in (0, 1))
        if by_size is not None and size:
            return max(rounded(Fraction(by_size * size, 10**6)), named + rest)
        return max(rounded(Fraction((by_unit or 0) * units, 10**6)), named + rest)

    def _drawn(self, own: list[int | None], every: list[int | None], pours: int) -> int | None:
        narrow, wide = ([r for r in rates if r is not None] for rates in (own, every))
        middle = lower_median(narrow) if narrow else None
        return middle if pours >= 3 else drawn_to(middle, pours, lower_median(wide) if wide else None)

    def _by_pour(self) -> dict[str, list[Row]]:
        out: dict[str, list[Row]] = defaultdict(list)
        for row in self.records["pours"]:
            out[row["pour"]].append(row)
        return out

    def _poured_on(self, rows: list[Row]) -> tuple[str | None, str, int, int]:
        """The product of a pour's pieces if it is one, its purpose, their size (0 where one has none), their units."""
        purpose = next((r["purpose"] for r in rows if r["purpose"]), "")
        pieces = [self.pieces[t] for t in sorted({r["piece"] for r in rows if r["piece"] in self.pieces})]
        sizes = [p.volume if purpose == "casting" else p.area for p in pieces]
        products = {p.row["product"] for p in pieces}
        return (
            products.pop() if len(products) == 1 else None,
            purpose,
            sum(sizes) if sizes and all(p.area for p in pieces) else 0,
            sum(p.quantity for p in pieces),
        )

    def _pour(self, rows: list[Row], total: int) -> None:
        def one(field: str) -> Any:
            return next((r[field] for r in rows if r[field] is not None), None)

        resin, colour = one("resin"), one("colourant")
        tint = self.measure(colour, one("colourant_quantity"), one("colourant_quantity_unit")) if colour else 0
        tagged = sorted((r for r in rows if r["piece"] in self.pieces), key=lambda r: r["piece"])
        day, row_id = one("on_date"), rows[0]["row_id"]
        again = one("purpose") == "repour"
        parts = self._pour_parts(tagged, total, tint, resin, one)
        for row, weight in zip(tagged, self.pour_weights, strict=True):
            self._had(row["piece"], day, resin, one("purpose") or "", cut(total, weight, sum(self.pour_weights)), again)
        if resin and total:
            self.flow(resin).uses.append(Use(day, row_id, total, "resin", parts, one("lot"), resin, rework=again))
        if colour and tint:
            whole = [Part("piece", r["piece"], "colourant", w) for r, w in zip(tagged, self.pour_weights, strict=True)]
            whole = whole or [Part("waste", None, "colourant", 1)]
            self.flow(colour).uses.append(Use(day, row_id, tint, "colourant", whole, None, colour, rework=again))

    def _pour_parts(self, tagged: list[Row], total: int, tint: int, resin: str | None, one: Any) -> list[Part]:
        if not tagged or not resin:
            self.pour_weights: list[int] = []
            return [Part("waste", None, "resin waste", 1)]
        units = [self.pieces[r["piece"]].quantity for r in tagged]
        given = [self.measure(resin, r["deposited"], r["deposited_unit"]) for r in tagged]
        mix = total + tint
        if not any(r["deposited"] is not None for r in tagged):
            lost = self.measure(resin, one("left_in_cup"), one("left_in_cup_unit"))
            lost += self.measure(resin, one("spilled"), one("spilled_unit"))
            areas = [self.pieces[r["piece"]].area for r in tagged]
            wide = one("purpose") in ("flood", "seal", "repour") and all(areas)
            given = shares(max(0, mix - lost), areas if wide else units)
        self.pour_weights = given if any(given) else units
        trimmed = [
            min(g, self.measure(resin, r["trimmed"], r["trimmed_unit"])) for g, r in zip(given, tagged, strict=True)
        ]
        # what a piece was trimmed of is its own waste; what never reached a piece is shared by what did
        rest = shares(max(0, mix - sum(given)), self.pour_weights)
        parts = []
        for row, onto, off, lost in zip(tagged, given, trimmed, rest, strict=True):
            parts.append(Part("piece", row["piece"], "resin", onto - off))
            parts.append(Part("piece", row["piece"], "resin waste", off + lost))
        return parts

    def _had(self, tag: str, day: date, resin: str | None, purpose: str, mix: int, again: bool) -> None:
        if again or self._back(tag, day):
            return
        if resin:
            self.resins[self.pieces[tag].row["product"], purpose][resin] += 1
        if mix and not self.gone(tag, day):
            self.bench.usual.add(("resin", purpose, ""), tag, mix)

    def _back(self, tag: str, day: date) -> bool:
        return any(first <= day <= last for first, last in self.back_at_bench[tag])

    def _lacking(self) -> None:
        """What ought to be in a finished piece and nobody logged is drawn from the shelf all the same."""
        usual = self.bench.usual
        for (tag, (want, name, category)), amount in (usual.lacking("resin") | usual.lacking("item")).items():
            piece = self.pieces[tag]
            if piece.status != "finished" or piece.row["finished"] is None:
                continue
            some = self.resins.get((piece.row["product"], name), Counter())
            item = name if want == "item" else max(sorted(some), key=lambda resin: some[resin])
            layer = category if want == "item" else "resin"
            part = Part("piece", tag, layer, 1)
            self.flow(item).uses.append(
                Use(piece.row["finished"], piece.row["row_id"], amount, layer, [part], None, item, estimated=True)
            )

    def _usage(self) -> None:
        for row in sorted(self.records["usage"], key=lambda r: r["row_id"]):
            item = row["item"]
            category = self.category.get(item, "consumable")
            tags = sorted({t for t in row["pieces"] or [] if t in self.pieces})
            wood = category == "wood"
            quantity = row["quantity"] if wood else self.measure(item, row["quantity"], row["quantity_unit"])
            layer = category
            parts = [
                Part("piece", t, layer, w) for t, w in zip(tags, self._usage_weights(item, category, tags), strict=True)
            ]
            if not tags:
                parts = [Part("sold" if category == "packaging" else "period", None, layer, 1)]
            weights = self._usage_weights(item, category, tags)
            for tag, amount in zip(tags, shares(quantity, weights), strict=True):
                away = self.gone(tag, row["on_date"]) or self._back(tag, row["on_date"])
                if category not in ("wood", "packaging") and not away:
                    self.bench.usual.add(("item", item, category), tag, amount)
            name = (self._wood_flow_of(row["lot"]) or "wood:None") if wood else item
            self.flow(name).uses.append(Use(row["on_date"], row["row_id"], quantity, layer, parts, row["lot"], item))

    def _usage_weights(self, item: str, category: str, tags: list[str]) -> list[int]:
        pieces = [self.pieces[t] for t in tags]
        driver = self.items.get(item, {}).get("driver") or ("area" if category in ("finish", "abrasive") else "units")
        weights = {"area": [p.area for p in pieces], "volume": [p.blank for p in pieces]}.get(driver, [])
        return weights if any(weights) else [p.quantity for p in pieces]

    def _lot_sales(self) -> None:
        for row in sorted(self.records["sales"], key=lambda r: r["row_id"]):
            if not row["lot"] or row["piece"]:
                continue
            for name, flow in self.flows.items():
                slabs = [lot for lot in flow.lots if lot.tag == row["lot"]]
                if slabs:
                    source = next((p for p in self.records["purchases"] if p["row_id"] == slabs[0].row), {})
                    quantity = cut(slabs[0].quantity, row["quantity"], source.get("count") or 1)
                    layer = "wood" if name.startswith("wood:") else self.category[name]
                    part = Part("sold", None, layer, 1)
                    flow.uses.append(Use(row["on_date"], row["row_id"], quantity, layer, [part], row["lot"]))
                    break

    def _wood_volumes(self) -> None:
        for name, flow in self.flows.items():
            if not name.startswith("wood:"):
                continue
            seen = set()
            for lot in sorted(flow.lots, key=lambda x: (x.day, x.row)):
                if lot.tag and lot.tag not in seen:
                    seen.add(lot.tag)
                    lot.quantity = max(lot.quantity, sum(u.quantity for u in flow.uses if u.lot == lot.tag))

    # counts and what they settle

    def _counts(self) -> None:
        sums: dict[tuple[str, date], Count] = {}
        for row in sorted(self.records["counts"], key=lambda r: r["row_id"]):
            if row["worth_cents"] is not None:
                continue
            category = self.category.get(row["item"], "consumable")
            if category == "wood":
                (self.closings if row["quantity"] == 0 and row["cause"] == "count" else self.wood_losses).append(row)
                continue
            kits, odd = f"kits of {row['item']}", self._size_unknown(row["item"], row["quantity_unit"])
            # none is none of either
            of = {kits: row["quantity"]} if kits in self.flows and (odd or row["quantity"] == 0) else {}
            if not odd or row["quantity"] == 0:
                of[row["item"]] = self.measure(row["item"], row["quantity"], row["quantity_unit"])
            for name, quantity in of.items():
                key = (name, row["on_date"])
                if key in sums:
                    sums[key].quantity += quantity
                else:
                    sums[key] = Count(row["on_date"], row["row_id"], quantity, row["cause"] or "count", category)
                    self.flow(name).counts.append(sums[key])
        for item, flow in self.flows.items():
            flow.count(lambda count, missing, begin, item=item: self._settle(item, count, missing, begin))  # type: ignore[misc]

    def _settle(self, item: str, count: Count, missing: int, begin: date | None) -> list[Use]:
        odd = item.startswith("kits of ")
        if count.cause == "count" and count.category == "hardware" and not odd:
            return self._settle_fitting(item, count, missing, begin)
        if odd or count.cause != "count" or count.category not in USED_UP:
            place = "own use" if count.cause == "own use" else "waste"
            return [
                Use(
                    count.day,
                    count.row,
                    missing,
                    count.category,
                    [Part(place, None, count.category, 1)],
                    None,
                    item,
                    after=2,
                )
            ]
        first = begin + timedelta(days=1) if begin else self.shop["start"]
        spans = months(first, count.day)
        drivers = self._gone_over(item, count.category, spans, first, count.day)
        weights = [sum(d.values()) for d in drivers]
        if not any(weights):
            return [
                Use(
                    count.day,
                    count.row,
                    missing,
                    count.category,
                    [Part("waste", None, count.category, 1)],
                    None,
                    item,
                    after=2,
                )
            ]
        out = []
        for month, driver, quantity in zip(spans, drivers, shares(missing, weights), strict=True):
            if quantity:
                day = min(month_end(month), count.day)
                out.append(self._spent(item, count.category, count.row, day, driver, quantity))
        return out

    def _settle_fitting(self, item: str, count: Count, missing: int, begin: date | None) -> list[Use]:
        """To the pieces finished since the last count that ought to have it and did not log it, to each what it needs;
        the rest is lost. Half of a product's finished pieces must have it, of those too that have what else the piece
        has; what nearly all have was given before, and what was finished before any was on the shelf has none."""
        usual = self.bench.usual
        given = {tag for tag, (_, name, _) in usual.lacking("item") if name == item}
        fitted = {
            name: amounts for (want, name, part), amounts in usual.had.items() if (want, part) == ("item", "hardware")
        }
        mine = fitted.get(item, {})
        flow = self.flow(item)
        first = min([lot.day for lot in flow.lots] + [each.day for each in flow.counts]) - timedelta(days=flow.late)
        needs: dict[str, int] = {}
        for piece in usual.finished:
            alike = [p for p in usual.finished if p.row["product"] == piece.row["product"]]
            circles = [alike]
            for name, amounts in fitted.items():
                if name != item and amounts.get(piece.tag):
                    circles.append([p for p in alike if amounts.get(p.tag)])
            have = [p for p in alike if mine.get(p.tag)]
            done = piece.row["finished"]
            if piece.tag in mine or piece.tag in given or not have or not done or done < first:
                continue
            if any(2 * sum(bool(mine.get(p.tag)) for p in circle) < len(circle) for circle in circles):
                continue
            each = lower_median(mine[p.tag] * 10**12 // p.quantity for p in have)
            if (begin is None or begin < done) and done <= count.day:
                needs[piece.tag] = cut(each, piece.quantity, 10**12)
        used, out = min(missing, sum(needs.values())), []
        if used:
            parts = [Part("piece", tag, "hardware", need) for tag, need in sorted(needs.items()) if need]
            out.append(Use(count.day, count.row, used, "hardware", parts, None, item, after=1))
        if missing > used:
            waste = [Part("waste", None, "hardware", 1)]
            out.append(Use(count.day, count.row, missing - used, "hardware", waste, None, item, after=2))
        return out

    def _gone_over(self, item: str, category: str, spans: list[date], first: date, last: date) -> list[dict[str, int]]:
        """Month by month what a count's shortage goes over: "an item that is some pieces' finish goes to those pieces,
        first to those that did not log it"; with none of them at work, whatever was finished."""
        every = [self.driver(category, month, first, last) for month in spans]
        theirs = self._whose(item, category) or set()
        logged = {tag for row in self.records["usage"] if row["item"] == item for tag in row["pieces"] or []}
        for tags in (theirs - logged, theirs):
            narrowed = [{tag: weight for tag, weight in month.items() if tag in tags} for month in every]
            if any(narrowed):
                return narrowed
        return every

    def _surface(self, piece: Piece) -> int:
        """What of a piece finish covers; its number in a shop that writes down no sizes."""
        return piece.area if any(p.area for p in self.pieces.values()) else piece.quantity

    def _whose(self, item: str, category: str) -> set[str] | None:
        """The pieces that have an item for their finish: by its name, else as those that logged it. None: no item of
        which one could say so."""
        if category != "finish":
            return None
        of = {tag: piece.row["finish"] for tag, piece in self.pieces.items() if piece.row["finish"]}
        tagged = {tag for row in self.records["usage"] if row["item"] == item for tag in row["pieces"] or []}
        finishes = {item} if item in of.values() else {of[tag] for tag in tagged if tag in of}
        return {tag for tag, finish in of.items() if finish in finishes} if finishes else None

    def _of_the_shelf(self) -> set[str]:
        """The pieces whose finish is known to be an item's."""
        items = [item for item, category in self.category.items() if category == "finish"]
        return set().union(*(self._whose(item, "finish") or set() for item in items))

    def _spent(self, item: str, category: str, row: int, day: date, driver: dict[str, int], quantity: int) -> Use:
        if category == "packaging":
            parts = [Part("sold", None, category, 1)]
        else:
            parts = [Part("piece", tag, category, weight) for tag, weight in sorted(driver.items())]
        return Use(day, row, quantity, category, parts, None, item, estimated=True, after=1, patient=True)

    def driver(self, category: str, month: date, first: date = date.min, last: date = date.max) -> dict[str, int]:
        """What a month's use of a category goes over, within these days: weight by piece (by sale for packaging). What
        has a finish of the shelf's and no hour of finishing had it on the day that it was done, as had all pieces of a
        shop that logs no finishing."""
        out: dict[str, int] = defaultdict(int)
        first, last = max(first, month), min(last, month_end(month))
        if category == "packaging":
            for row in self.records["sales"]:
                if first <= row["on_date"] <= last and row["quantity"] > 0 and not row["lot"]:
                    out[str(row["row_id"])] += row["quantity"]
            return out
        at_it = [
            h
            for h in self.bench.hours
            if h.operation == "finishing" and h.piece and not h.estimated and not self.gone(h.piece, h.day)
        ]
        finishing = {h.piece for h in at_it if first <= h.day <= last}
        if category == "finish":
            theirs = self._of_the_shelf() if at_it else set(self.pieces)
            for tag in theirs - {h.piece for h in at_it}:
                done = self.pieces[tag].row["finished"]
                if done and first <= done <= last:
                    out[tag] = self._surface(self.pieces[tag])
        for hour in self.bench.hours:
            # mending a piece that is gone is no part of what the shelf was emptied for
            if hour.estimated or (hour.piece and self.gone(hour.piece, hour.day)):
                continue
            if not hour.piece or not first <= hour.day <= last or hour.kind != "bench":
                continue
            if category == "finish" and hour.piece in finishing:
                out[hour.piece] = self._surface(self.pieces[hour.piece])
            elif category == "abrasive" and hour.operation == "sanding":
                # a machine that runs alone wears its paper too
                out[hour.piece] += max(hour.seconds, hour.machine_seconds)
            elif category == "consumable":
                out[hour.piece] += hour.seconds
        return {k: v for k, v in out.items() if v}

    def _spread(self) -> None:
        """What no usage row and no count tells of is spread by day until the next purchase."""
        for item, flow in self.flows.items():
            category = self.category.get(item)
            if category not in USED_UP or not flow.lots:
                continue
            last = max((c.day for c in flow.counts), default=None)
            if any(u.day > last if last else True for u in flow.uses if not u.patient and not u.estimated):
                continue
            lots = [x for x in sorted(flow.lots, key=lambda x: x.place) if last is None or x.day > last]
            every = sorted({x.day for x in flow.lots if not x.found})
            gaps = [(b - a).days for a, b in pairwise(every)]
            usual = lower_median(gaps) if gaps else 90
            for lot in lots:
                later = [d for d in every if d > lot.day]
                until = later[0] if later else lot.day + timedelta(days=usual)
                self._spread_lot(flow, item, category, lot, until)

    def _spread_lot(self, flow: Flow, item: str, category: str, lot: Lot, until: date) -> None:
        days, run = (until - lot.day).days, 0
        for month in months(lot.day, until - timedelta(days=1)):
            end = min(month_end(month) + timedelta(days=1), until)
            upto = (end - lot.day).days
            quantity = cut(lot.quantity, upto, days) - cut(lot.quantity, run, days)
            start = cut(lot.quantity, run, days)
            run = upto
            driver, theirs = self.driver(category, month), self._whose(item, category)
            if theirs is not None:
                driver = {tag: weight for tag, weight in driver.items() if tag in theirs}
            if quantity and driver and month_end(month) <= month_end(self.horizon):
                use = self._spent(item, category, lot.row, month_end(month), driver, quantity)
                # a month's spread of an item is one use, of as many lots as it takes
                number = self.spread.setdefault((item, month), use.number)
                flow.uses.append(replace(use, own=(lot, start), number=number))
