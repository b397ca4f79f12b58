"""The oracle's pools: machines and overhead, what goes in, what is applied, what is left over."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING, Any

from books_hours import Hour, Row, in_force
from books_sums import cut, month_end, month_of, months, next_month

if TYPE_CHECKING:
    from books import Books


class Pools:
    def __init__(self, books: Books) -> None:
        self.b = books
        self.start = month_of(books.shop["start"])
        self.months = months(self.start, books.horizon)
        self.machines = {
            m["name"]: m for m in sorted(books.settings["machine"], key=lambda m: m["position"], reverse=True)
        }
        self.pools = {p["name"]: p for p in sorted(books.settings["pool"], key=lambda p: p["position"], reverse=True)}
        # what is a cost of a pool's month, by origin
        self.inflow: dict[tuple[str, str], dict[date, dict[str, int]]] = defaultdict(
            lambda: defaultdict(lambda: defaultdict(int))
        )
        self.named = {
            operation: pool["name"]
            for pool in books.settings["pool"]
            for operation in (pool["operations"] or "").split("; ")
        }

    def run(self) -> None:
        self._depreciation()
        self._bills()
        self._amounts()
        self._shop_hours()
        for name in self.machines:
            self._apply(("machine", name))
        for name in self.pools:
            if self.pools[name]["name"] not in self.machines:
                self._apply(("overhead", name))

    def put(self, key: tuple[str, str], day: date, row: int | None, source: str, cents: int) -> None:
        self.inflow[key][month_of(day)][key[0]] += cents
        self.b.move(day, row, source, "pool", key[0], cents, item=key[1])

    def _depreciation(self) -> None:
        for name, machine in self.machines.items():
            bought = [r for r in self.b.records["purchases"] if r["category"] == "equipment" and r["machine"] == name]
            if machine["cost_cents"]:
                day = max(machine["bought"] or self.b.shop["start"], self.b.shop["start"])
                self.b.move(day, machine["row_id"], "setting", "asset", "machine", machine["cost_cents"], item=name)
                self._wear(name, day, machine["cost_cents"] - (machine["salvage_cents"] or 0), machine)
            else:
                for row in bought:
                    cost = self.b.net[row["row_id"]]
                    self._wear(name, row["on_date"], cost - (machine["salvage_cents"] or 0), machine)

    def _wear(self, name: str, day: date, base: int, machine: Row) -> None:
        life = machine["months"]
        for k in range(1, life + 1):
            month = next_month(day, k - 1)
            if month > self.b.horizon:
                return
            cents = cut(base, k, life) - cut(base, k - 1, life)
            self.put(("machine", name), max(month, day), machine["row_id"], "asset", cents)

    def _bills(self) -> None:
        for row in sorted(self.b.records["purchases"], key=lambda r: r["row_id"]):
            cents, day, layer = self.b.net[row["row_id"]], row["on_date"], row["category"]
            if layer == "tool":
                if row["machine"] in self.machines:
                    self.put(("machine", row["machine"]), day, row["row_id"], "receipt", cents)
                elif "tools" in self.pools:
                    self.put(("overhead", "tools"), day, row["row_id"], "receipt", cents)
                else:
                    self.b.move(day, row["row_id"], "receipt", "period", "overhead", cents)
            elif layer == "overhead":
                self._bill(row, cents)
            elif layer == "selling" and not row["event"]:
                self.b.move(day, row["row_id"], "receipt", "period", "selling", cents)

    def _bill(self, row: Row, cents: int) -> None:
        machine, named = row["machine"], row["pool"]
        if machine is None and named is None:
            machine, named = self._called(row["item"], row["supplier"])
        day, pool = row["on_date"], self.pools.get(named)
        if machine in self.machines and pool is None:
            self.put(("machine", machine), day, row["row_id"], "receipt", cents)
            return
        if pool is None:
            self.b.move(day, row["row_id"], "receipt", "period", "overhead", cents)
            return
        if pool["source"] == "amount":
            self.b.move(day, row["row_id"], "receipt", "setting", "overhead", cents)
            return
        covers = row["covers"] or 1
        for k in range(covers):
            part = cut(cents, k + 1, covers) - cut(cents, k, covers)
            self.inflow["overhead", named][next_month(day, k)]["overhead"] += part
        # the pool holds the part of the bill whose months are still to come
        self.b.move(day, row["row_id"], "receipt", "pool", "overhead", cents, item=named)

    def _called(self, item: str, supplier: str | None) -> tuple[str | None, str | None]:
        """The machine or pool that a bill's item is called, else its supplier; else that has its words among theirs."""
        names = [*self.machines, *self.pools]
        tests = (lambda name, text: name == text, lambda name, text: f" {' '.join(name)} " in f" {' '.join(text)} ")
        for test in tests:
            for text in (item, supplier or ""):
                fit = [n for n in names if self._words(n) and test(self._words(n), self._words(text))]
                longest = max((len(" ".join(self._words(n))) for n in fit), default=0)
                best = [n for n in fit if len(" ".join(self._words(n))) == longest]
                if fit:
                    one = best[0] if len(best) == 1 else None
                    return (one, None) if one in self.machines else (None, one)
        return None, None

    @staticmethod
    def _words(text: str) -> list[str]:
        return "".join(c if c.isalnum() else " " for c in text.lower()).split()

    def _amounts(self) -> None:
        for name, pool in self.pools.items():
            if pool["source"] != "amount":
                continue
            for month in self.months:
                day = max(month, self.b.shop["start"])
                rule = in_force(self.b.settings["pool"], name, day)
                if rule and rule["from_date"] <= day and rule["amount_cents"]:
                    self.put(("overhead", name), day, rule["row_id"], "setting", rule["amount_cents"])

    def _shop_hours(self) -> None:
        for hour in self.b.bench.hours:
            pool = self.naming(hour)
            if pool:
                self.inflow["overhead", pool][month_of(hour.day)][hour.origin] += hour.cents

    def naming(self, hour: Hour) -> str | None:
        """The pool that names the shop work of an hour."""
        return self.named.get(hour.operation) if hour.piece is None and hour.kind == "shop" else None

    def _driver(self, key: tuple[str, str], hour: Hour) -> int:
        if key[0] == "machine":
            return hour.machine_seconds if hour.machine == key[1] else 0
        kind = self.pools[key[1]]["driver"]
        if kind == "machine hours":
            return hour.machine_seconds
        if hour.kind != "bench":
            return 0
        return hour.seconds if kind == "bench hours" else hour.cents

    def _span(self, month: date) -> set[date]:
        """The months that a month's normal rate is taken from: twelve before it, or those so far."""
        number = (month.year - self.start.year) * 12 + month.month - self.start.month + 1
        span = range(number) if number <= 3 else range(max(0, number - 13), number - 1)
        return {next_month(self.start, k) for k in span}

    def _cost(self, key: tuple[str, str], span: set[date]) -> dict[str, int]:
        """What the pool cost in these months, by origin."""
        cost: dict[str, int] = defaultdict(int)
        for month, some in self.inflow[key].items():
            for origin, cents in some.items():
                cost[origin] += cents if month in span else 0
        return cost

    def _parted(self, key: tuple[str, str], applied: int, cost: dict[str, int]) -> dict[str, int]:
        """So many cents applied, by origin: as the pool's cost is parted, pay from the rest, then own pay from pay."""
        pay, total = cost["labour"] + cost["own labour"], sum(cost.values())
        if pay <= 0 or total <= 0:
            return {key[0]: applied}
        paid = cut(applied, min(pay, total), total)
        own = cut(paid, cost["own labour"], pay)
        return {key[0]: applied - paid, "labour": paid - own, "own labour": own}

    def _rate(self, key: tuple[str, str], day: date) -> tuple[int, int, int] | None:
        """Cents for so much driver on a day, and the row of the rule."""
        rules = self.b.settings["machine" if key[0] == "machine" else "pool"]
        rule = in_force(rules, key[1], day)
        assert rule is not None
        budgeted = rule["rate_cents"] is not None if key[0] == "machine" else rule["basis"] == "budget"
        if budgeted:
            money = key[0] == "overhead" and rule["driver"] == "labour cost"
            return round(1000 * (rule["rate_cents"] or 0)), 1000 * (10**2 if money else 3600), rule["row_id"]
        span = self._span(month_of(day))
        cost = max(sum(self._cost(key, span).values()), 0)
        total = sum(self._driver(key, h) for h in self.b.bench.hours if month_of(h.day) in span)
        return (cost, total, rule["row_id"]) if total else None

    def _apply(self, key: tuple[str, str]) -> None:
        hours = sorted(self.b.bench.hours, key=lambda h: (h.day, h.row, h.piece or ""))
        for month in self.months:
            rate, run = None, 0
            upto: dict[str, int] = defaultdict(int)
            applied: dict[str, int] = defaultdict(int)
            made_of = self._cost(key, self._span(month))
            for hour in hours:
                amount = self._driver(key, hour) if month_of(hour.day) == month and hour.piece else 0
                if not amount:
                    continue
                today = self._rate(key, hour.day)
                if today != rate:
                    rate, run, upto = today, 0, defaultdict(int)
                if not rate or self.b.exits.gone(hour.piece or "", hour.day):
                    continue
                run += amount
                by_origin = self._parted(key, cut(rate[0], run, rate[1]), made_of)
                more: dict[str, Any] = {"rework": hour.rework, "assumed": hour.assumed, "estimated": hour.estimated}
                more |= {"piece": hour.piece, "item": key[1]}
                for origin, so_far in by_origin.items():
                    cents = so_far - upto[origin]
                    upto[origin] = so_far
                    applied[origin] += cents
                    self.b.move(hour.day, hour.row, "pool", "piece", key[0], cents, origin=origin, **more)
            for origin in {**self.inflow[key][month], **applied}:
                rest = self.inflow[key][month][origin] - applied[origin]
                self.b.move(month_end(month), None, "pool", "period", key[0], rest, origin=origin, item=key[1])
