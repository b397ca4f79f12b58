"""Months of random shops: each rolls forward and reconciles, whatever was owed, kept, returned, consigned or taxed.

To a drawn shop come orders with deposits, balances and cancellations, vouchers, returns after months, consigned pieces,
opening balances, a tax regime and every kind of payment. The checks of severity error hold the identities; what is
owed at the end is worked out again here, plainly, from the rows.
"""

import tempfile
from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shops import START, MadeShop, draw_shop, linked, run

from pipeline.database.run import run_checks
from tests.whole import WHOLE

few = settings(settings.get_profile("oracle"))

MAKING = (
    "freight",
    "tax",
    "runs",
    "shared hours",
    "usage",
    "sales",
    "returns",
    "ends",
    "pools",
    "machine",
    "fees",
    "booth",
)
MAKING += (
    "consumables",
    "opening",
    "short",
    "closings",
    "untagged sales",
    "lot sales",
    "average",
    "pieceless",
    "counts",
)
REGIMES = ("none", "sales tax", "vat", "flat rate")


def cents(text: str | None) -> int:
    return round(float(text or 0) * 100)


def month_of(text: str) -> date:
    return date.fromisoformat(text).replace(day=1)


class _Money:
    """Adds money to a drawn shop, and remembers what it put there."""

    def __init__(self, shop: MadeShop, random: Random, payments: bool, rates: bool = True) -> None:
        self.random, self.payments = random, payments
        self.rows = {name: [dict(row) for row in rows] for name, rows in shop.rows.items()}
        self.rows.pop("orders", None)
        for row in self.rows["pieces"]:
            row.pop("order_no", None)
        self.opening = {
            "cash": random.randint(0, 500_000),
            "tax_owed": random.randint(0, 9_000),
            "deposits": random.choice((0, 5_000)),
        }
        self.regime, self.flat_ppm = random.choice(REGIMES), random.choice((0, 60_000, 165_000))
        self.by_channel = random.random() < 0.5
        head = [f"opening_{name} = {amount / 100:.2f}" for name, amount in self.opening.items()]
        head += [f'tax_regime = "{self.regime}"', f"flat_rate = {self.flat_ppm / 1_000_000}"]
        self.holds = rates and random.random() < 0.5
        steps = (START, START + timedelta(days=40), START + timedelta(days=90)) if rates else ()
        self.rates = [(day, random.choice((50_000, 90_000, 210_000))) for day in steps[: random.randint(0, 3)]]
        gallery = '[[channels]]\nname = "gallery"'
        more = '\ntax_by = "channel"' * self.by_channel + "\nprices_hold_tax = true" * self.holds
        self.toml = "\n".join(head) + "\n" + shop.toml.replace(gallery, gallery + more)
        if self.rates and self.regime != "none":
            dated = ", ".join(f"{{ from = {day}, rate = {ppm / 1_000_000} }}" for day, ppm in self.rates)
            self.toml += f'\n[[tax_rates]]\nregime = "{self.regime}"\nrates = [{dated}]\n'
        self._sales()
        if payments:
            self._orders()
            self._vouchers()
            self._others()
        self._moves()

    def shop(self, made: MadeShop) -> MadeShop:
        return replace(made, toml=self.toml, rows=self.rows)

    def add(self, record: str, **cells: object) -> None:
        self.rows.setdefault(record, []).append({k: str(v) for k, v in cells.items() if v is not None})

    def day(self, first: int = 0, last: int = 150) -> date:
        return START + timedelta(days=self.random.randint(first, last))

    def _sales(self) -> None:
        late = []
        for row in self.rows.get("sales", []):
            if self.random.random() < 0.6:
                sign = -1 if int(row["quantity"]) < 0 else 1
                row["sales_tax"] = f"{sign * self.random.randint(1, 2000) / 100:.2f}"
            if row.get("piece") and int(row["quantity"]) > 0 and self.random.random() < 0.15:
                back = date.fromisoformat(row["date"]) + timedelta(days=self.random.randint(31, 100))
                late.append(
                    {k: row[k] for k in ("channel", "piece", "price")}
                    | {"date": str(back), "quantity": "-1", "returned_to": "stock"}
                )
        taken = {row.get("piece") for row in self.rows.get("sales", []) if int(row["quantity"]) < 0}
        single = {row["piece"] for row in self.rows["pieces"] if row.get("status") == "finished"}
        self.rows.setdefault("sales", []).extend(row for row in late if row["piece"] in single - taken)

    def _orders(self) -> None:
        r, number = self.random, 10
        for row in self.rows["sales"]:
            if int(row["quantity"]) < 0 or r.random() < 0.6:
                continue
            number += 1
            before = r.random() < 0.3
            row["order_no"], sold = f"O-{number}", date.fromisoformat(row["date"])
            placed = START - timedelta(days=9) if before else sold - timedelta(days=r.randint(0, 40))
            self.add("orders", order_no=row["order_no"], date=placed, channel=row["channel"], price=row["price"])
            for kind, odds, day in (
                ("deposit", 0.0 if before else 0.8, max(placed, START)),
                ("balance", 0.7, sold + timedelta(days=r.randint(0, 40))),
            ):
                if r.random() < odds:
                    self.add(
                        "payments",
                        date=day,
                        kind=kind,
                        amount=f"{r.randint(100, 9000) / 100:.2f}",
                        order_no=row["order_no"],
                    )
        for _ in range(r.randint(0, 3)):
            number += 1
            placed = self.day(0, 60)
            called_off = placed + timedelta(days=r.randint(0, 60)) if r.random() < 0.7 else None
            self.add("orders", order_no=f"O-{number}", date=placed, channel="fair", price="90.00", cancelled=called_off)
            self.add(
                "payments",
                date=placed,
                kind="deposit",
                amount=f"{r.randint(1000, 4000) / 100:.2f}",
                order_no=f"O-{number}",
            )
            if called_off and r.random() < 0.5:
                self.add(
                    "payments",
                    date=called_off + timedelta(days=r.randint(0, 40)),
                    kind="refund",
                    amount="5.00",
                    order_no=f"O-{number}",
                )

    def _vouchers(self) -> None:
        for _ in range(self.random.randint(0, 3)):
            self.add("payments", date=self.day(0, 60), kind="voucher sold", amount="25.00")
        for _ in range(self.random.randint(0, 2)):
            orders = [row["order_no"] for row in self.rows["sales"] if row.get("order_no")]
            order = self.random.choice([None, *orders])
            self.add(
                "payments",
                date=self.day(60, 140),
                kind="voucher used",
                amount=f"{self.random.randint(100, 2500) / 100:.2f}",
                order_no=order,
            )

    def _others(self) -> None:
        r = self.random
        kinds = [
            k
            for k in ("payout", "refund", "supplier", "pay", "drawing", "capital", "loan", "tax", "claim")
            if r.random() < 0.5
        ]
        receipts = [row["receipt"] for row in self.rows["purchases"] if row.get("receipt")]
        for kind in kinds:
            for _ in range(r.randint(1, 3)):
                note = {"payout": r.choice(("gallery", "fair", "till")), "pay": r.choice(("Ada", "Ben"))}.get(kind)
                receipt = r.choice(receipts) if kind == "supplier" and r.random() < 0.8 else None
                self.add(
                    "payments",
                    date=self.day(),
                    kind=kind,
                    amount=f"{r.randint(100, 90000) / 100:.2f}",
                    receipt=receipt,
                    note=note,
                )

    def _moves(self) -> None:
        for row in self.rows["pieces"]:
            day = date.fromisoformat(row["started"])
            for _ in range(self.random.choice((0, 0, 1, 3))):
                day += timedelta(days=self.random.randint(0, 40))
                self.add(
                    "moves",
                    date=day,
                    pieces=row["piece"],
                    place=self.random.choice(("Gallery North", "shop", "SPRING")),
                )


def made(seed: int, payments: bool) -> tuple[_Money, duckdb.DuckDBPyConnection]:
    random = Random(seed)
    drawn = draw_shop(random, frozenset(f for f in MAKING if random.random() < 0.8))
    money = _Money(drawn, random, payments)
    with tempfile.TemporaryDirectory() as folder:
        found = linked(money.shop(drawn), Path(folder))
    return money, run(found, whole=True)


def last_month(con: duckdb.DuckDBPyConnection) -> dict[str, Any]:
    result = con.execute("from money.month order by month desc limit 1")
    return dict(zip([c[0] for c in result.description], result.fetchall()[0], strict=True))


def assert_identities(con: duckdb.DuckDBPyConnection) -> None:
    found = run_checks(con)
    assert [c for c in found if c["severity"] == "error" and c["rows"]] == []
    follows = (
        "select count(*) from money.stock_month as now join money.stock_month as past on past.stage = now.stage"
        " and past.month + interval 1 month = now.month where past.closing_cents <> now.opening_cents"
    )
    assert con.execute(follows).fetchall() == [(0,)]


def ours(money: _Money, row: dict[str, str]) -> bool:
    return not (money.by_channel and row["channel"] == "gallery")


def half_up(amount: Fraction) -> int:
    """The nearest cent, a half away from nothing."""
    return int(abs(amount) + Fraction(1, 2)) * (1 if amount >= 0 else -1)


def rate_of(money: _Money, row: dict[str, str]) -> Fraction | None:
    """The rate in force on the day of the sale; of what came back on that of the sale that it gives back: of the same
    thing in the same channel, at the same price rather than another, the last one by then."""
    day = date.fromisoformat(row["date"])
    if int(row["quantity"]) < 0:
        same = [
            (cents(other["price"]) == cents(row["price"]), sold_on)
            for other in money.rows["sales"]
            if int(other["quantity"]) > 0
            and all(other.get(name) == row.get(name) for name in ("channel", "piece", "lot", "product"))
            and (sold_on := date.fromisoformat(other["date"])) <= day
        ]
        day = max(same, default=(True, day))[1]
    begun = [ppm for from_day, ppm in money.rates if from_day <= day] if money.regime != "none" else []
    return Fraction(begun[-1], 1_000_000) if begun else None


def parts(money: _Money, row: dict[str, str]) -> tuple[int, int]:
    """What a sale brings without its tax, and its tax: stated, in the price where the channel's prices hold it, else on
    top of ours."""
    asked = int(row["quantity"]) * cents(row["price"]) - cents(row.get("discount")) + cents(row.get("shipping_charged"))
    held, rate = money.holds and row["channel"] == "gallery", rate_of(money, row)
    if row.get("sales_tax"):
        tax = cents(row["sales_tax"])
    elif rate is None or not (held or ours(money, row)):
        return asked, 0
    else:
        tax = half_up(asked * (rate / (1 + rate) if held else rate))
    return asked - tax if held and abs(tax) <= abs(asked) else asked, tax


def tax_given_back(money: _Money, day: date, order: str | None, event: str | None, cents_back: int) -> int:
    """The tax in money given back: as much of it as in what was sold on its order, else at its event, else by then."""
    sold = [row for row in money.rows["sales"] if int(row["quantity"]) > 0]
    by_name = [
        [row for row in sold if name and row.get(of) == name] for of, name in (("order_no", order), ("event", event))
    ]
    then = [row for row in sold if date.fromisoformat(row["date"]) <= day]
    for rows in (*by_name, then):
        if rows:
            each = [(net, tax if ours(money, row) else 0) for row in rows for net, tax in [parts(money, row)]]
            tax, paid = sum(tax for _, tax in each), sum(net + tax for net, tax in each)
            return half_up(Fraction(cents_back * tax, paid)) if paid > 0 and 0 <= tax <= paid else 0
    return 0


def expected_tax(money: _Money, con: duckdb.DuckDBPyConnection) -> int:
    ((reclaimed,),) = con.execute(
        "select coalesce(sum(tax_cents), 0) from records.purchases cross join settings.rule where tax_reclaimable"
    ).fetchall()
    owed = money.opening["tax_owed"] - int(reclaimed)
    takings: dict[date, list[int]] = defaultdict(lambda: [0, 0])
    for row in money.rows["sales"]:
        net, tax = parts(money, row)
        if not ours(money, row) and tax:
            continue
        month = takings[month_of(row["date"])]
        month[0] += tax
        month[1] += net + tax
    allowances = "select on_date, order_no, event, -revenue_cents - tax_cents from money._sale where units = 0"
    for day, order, event, given_back in con.execute(allowances).fetchall():
        takings[day.replace(day=1)][0] -= tax_given_back(money, day, order, event, given_back)
        takings[day.replace(day=1)][1] -= given_back  # an allowance lessens what buyers paid
    for tax, gross in takings.values():
        # half up, symmetric in the sign
        flat = (2 * abs(gross) * money.flat_ppm + 1_000_000) // 2_000_000 * (1 if gross >= 0 else -1)
        owed += flat if money.regime == "flat rate" else tax
    return owed - sum(cents(row["amount"]) for row in money.rows.get("payments", []) if row["kind"] == "tax")


def expected_deposits(money: _Money, con: duckdb.DuckDBPyConnection) -> int:
    """Deposits of orders neither handed over, called off nor paid back, and what is left of those of before."""
    paid: dict[str, int] = defaultdict(int)
    for row in money.rows.get("payments", []):
        if row.get("order_no"):
            paid[row["order_no"]] += cents(row["amount"]) * (-1 if row["kind"] == "refund" else 1)
    due: dict[str, int] = defaultdict(int)
    first: dict[str, str] = {}
    for order, day, amount in con.execute(
        "select order_no, on_date, due_cents from money._sale where order_no is not null"
    ).fetchall():
        due[order] += amount
        first[order] = min(first.get(order, "9999"), str(day))
    left = money.opening["deposits"]
    owed = 0
    for row in sorted(
        money.rows.get("orders", []), key=lambda row: (first.get(row["order_no"], "9999"), row["order_no"])
    ):
        order = row["order_no"]
        ahead = paid[order] - due[order]
        if date.fromisoformat(row["date"]) < START and order in first and left:
            drawn = min(left, max(0, -ahead))
            left -= drawn
        if not row.get("cancelled"):
            owed += max(0, ahead)
    return owed + left


@few
@given(st.integers(0, 2**32 - 1))
def test_months_of_a_shop_that_writes_payments_down(seed: int) -> None:
    money, con = made(seed, payments=True)
    assert_identities(con)
    month = last_month(con)
    payments = money.rows.get("payments", [])
    vouchers = sum(cents(p["amount"]) * {"voucher sold": 1, "voucher used": -1}.get(p["kind"], 0) for p in payments)
    assert month["vouchers_owed_cents"] == vouchers
    assert month["tax_owed_cents"] == expected_tax(money, con)
    assert month["deposits_owed_cents"] == expected_deposits(money, con)
    ((kept,),) = con.execute(
        "select coalesce(sum(cents), 0) from money.line where line = 'other income' and operation = 'deposit kept'"
    ).fetchall()
    called_off = {row["order_no"] for row in money.rows.get("orders", []) if row.get("cancelled")}
    by_rows: dict[str, int] = defaultdict(int)
    for row in payments:
        if row.get("order_no") in called_off:
            by_rows[row["order_no"]] += cents(row["amount"]) * (-1 if row["kind"] == "refund" else 1)
    assert kept == sum(max(0, amount) for amount in by_rows.values())


@few
@given(st.integers(0, 2**32 - 1))
def test_months_of_a_shop_without_payments_take_cash_on_the_day(seed: int) -> None:
    money, con = made(seed, payments=False)
    assert_identities(con)
    month = last_month(con)
    assert (month["customers_owe_cents"], month["vouchers_owed_cents"]) == (0, 0)
    assert month["tax_owed_cents"] == expected_tax(money, con)
    assert month["deposits_owed_cents"] == money.opening["deposits"]
    recorded = con.execute("select count(*) from money.cash where not assumed").fetchall()
    assert recorded == [(0,)]
    # what was taken, plainly from the rows: prices, shipping and our tax, less what channels kept
    ((fees,),) = con.execute(
        "select coalesce(sum(case when from_place = 'fee' then cents else -cents end), 0) from cost.trace"
        " where 'fee' in (from_place, to_place) and operation <> 'postage'"
    ).fetchall()
    each = [(*parts(money, row), ours(money, row)) for row in money.rows["sales"]]
    taken = sum(net + tax * due_by_us for net, tax, due_by_us in each)
    ((cash,),) = con.execute("select coalesce(sum(cents), 0) from money.cash where kind = 'sales'").fetchall()
    assert cash == taken - fees


@pytest.mark.parametrize("seed", range(2 if WHOLE else 1))
def test_a_regime_of_tax_changes_no_revenue(seed: int) -> None:
    """The same shop under each regime: revenue and cost stay; what is owed, and what a flat rate leaves, move."""
    seen = set()
    for regime in REGIMES:
        random = Random(seed)
        drawn = draw_shop(random, frozenset(MAKING) - {"tax"})
        money = _Money(drawn, random, payments=False, rates=False)
        money.toml = money.toml.replace(f'tax_regime = "{money.regime}"', f'tax_regime = "{regime}"')
        money.regime = regime
        with tempfile.TemporaryDirectory() as folder:
            con = run(linked(money.shop(drawn), Path(folder)), whole=True)
        assert_identities(con)
        assert last_month(con)["tax_owed_cents"] == expected_tax(money, con)
        seen.add(
            con.execute(
                "select sum(revenue_cents + refund_cents), sum(cost_of_sales_cents),"
                " sum(result_cents - other_income_cents)"
                " from money.month"
            ).fetchall()[0]
        )
        con.close()
    assert len(seen) == 1
