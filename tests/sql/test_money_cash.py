"""Who owes what and when cash moves: the sales' accounts, the orders and the ledger, one model at a time."""

from collections import defaultdict
from datetime import date

import pytest

START = date(2026, 1, 1)
SHOP = {"row_id": 1, "start": START, "opening_cash_cents": 0, "opening_tax_owed_cents": 0, "opening_deposits_cents": 0}
SALE = {"row_id": 50, "on_date": date(2026, 2, 3), "channel": "fair", "quantity": 1, "price_cents": 1000}


def sale(model, sales=({},), **given):
    return [
        (row["revenue_cents"], row["tax_cents"], row["channel_tax_cents"], row["due_cents"])
        for row in model(
            "money._due", records__sales=[SALE | change for change in sales], settings__shop=[SHOP], **given
        )
    ]


def account(model, change, payments, **given):
    """How the money of a sale comes, and of which payments no twin was found."""
    sales = [SALE | change]
    due = model("money._due", records__sales=sales, records__payments=payments, settings__shop=[SHOP])
    rows = model("money._sale", records__sales=sales, money___due=due, records__payments=payments, **given)
    return [row["account"] for row in rows]


def test_tax_is_owed_and_never_revenue(model):
    assert sale(model, [{"sales_tax_cents": 80, "shipping_charged_cents": 50, "discount_cents": 20}]) == [
        (1030, 80, 0, 1110)
    ]


def test_tax_that_the_channel_pays_is_never_ours(model):
    channel = [{"name": "fair", "tax_by": "channel", "from_date": START}]
    assert sale(model, [{"sales_tax_cents": 80}], settings__channel=channel) == [(1000, 0, 80, 1000)]


def test_what_a_channel_keeps_never_reaches_us(model):
    fees = [
        {"row_id": 50, "from_place": "fee", "to_place": "sold", "operation": "channel fee", "cents": 100},
        {"row_id": 50, "from_place": "fee", "to_place": "sold", "operation": "postage", "cents": 70},
    ]
    assert sale(model, cost__movement=fees) == [(1000, 0, 0, 900)]


@pytest.mark.parametrize(
    ("change", "payment", "by"),
    [
        ({}, {"kind": "payout", "note": "Fair"}, "payout"),
        ({}, {"kind": "payout", "note": "another"}, "payout"),  # no channel keeps a fee: it may be of any
        ({"event": "SPRING"}, {"kind": "payout", "note": "another"}, "assumed"),
        ({"event": "SPRING"}, {"kind": "payout", "event": "SPRING"}, "payout"),
        ({"order_no": "O-1"}, {"kind": "deposit", "order_no": "O-1"}, "order"),
        ({"order_no": "O-2"}, {"kind": "deposit", "order_no": "O-1"}, "assumed"),
        ({"quantity": -1}, {"kind": "refund"}, "assumed"),  # none that is its twin
        ({}, {"kind": "drawing"}, "assumed"),
    ],
)
def test_payments_say_how_a_sale_is_paid(model, change, payment, by):
    assert account(model, change, [payment]) == [by]


def test_a_twin_says_how_a_sale_is_paid(model):
    refund = {"row_id": 60, "kind": "refund", "amount_cents": 1000}
    twin = {"payment_id": 60, "kind": "sale", "row_id": 50}
    assert account(model, {"quantity": -1}, [refund], money__twin=[twin]) == ["refund"]


def allowances(model, refund, due, **given):
    rows = [{"row_id": 60, "kind": "refund", "amount_cents": 100, "on_date": date(2026, 2, 9)} | refund]
    found = model("money.allowance", records__payments=rows + given.pop("payments", []), money___due=due, **given)
    return [(row["row_id"], row["cents"]) for row in found]


def test_money_given_back_without_goods_is_an_allowance(model):
    sold = {"row_id": 50, "order_no": "O-1", "due_cents": 1000}
    paid = {"kind": "balance", "order_no": "O-1", "amount_cents": 1060}
    assert allowances(model, {}, [sold]) == [(60, 100)]
    assert allowances(model, {}, [sold], money__twin=[{"payment_id": 60, "kind": "sale", "row_id": 50}]) == []
    order = {"order_no": "O-1"}
    assert allowances(model, order, [sold], payments=[paid]) == [(60, 40)]  # 60 had been paid too much
    assert allowances(model, order, [sold, sold | {"due_cents": -30}], payments=[paid]) == [(60, 10)]
    assert allowances(model, order, [], payments=[paid]) == []  # of an order not handed over


VOUCHER = {"row_id": 61, "kind": "voucher used", "amount_cents": 500, "on_date": date(2026, 2, 3)}


def test_a_voucher_pays_for_takings_of_the_nearest_day_as_far_as_they_go(model):
    def sale_of(day, due):
        return {"on_date": date(2026, 2, day), "due_cents": due, "account": "assumed"}

    def cash(*sales):
        rows = model("money._voucher", records__payments=[VOUCHER], money___sale=sales)
        return [(row["cash_on"], row["cash_cents"]) for row in rows]

    assert cash(sale_of(2, 900), sale_of(5, 900)) == [(date(2026, 2, 2), 500)]
    assert cash(sale_of(3, 300)) == [(date(2026, 2, 3), 300)]
    assert cash(sale_of(20, 900)) == [(None, 0)]


def order(model, payments, shop=SHOP, **given):
    rows = model("money._order", records__payments=payments, settings__shop=[shop], **given)
    return {
        row["order_no"]: (
            row["due_cents"],
            row["paid_cents"],
            row["drawn_cents"],
            row["kept_cents"],
            row["assumed_cents"],
        )
        for row in rows
    }


DUE = {"units": 1, "order_no": "O-1", "account": "order", "on_date": date(2026, 2, 3), "row_id": 50, "due_cents": 1000}
DEPOSIT = {"kind": "deposit", "order_no": "O-1", "amount_cents": 300, "on_date": date(2026, 1, 5)}


def test_a_deposit_of_a_cancelled_order_is_kept_as_far_as_it_is_not_given_back(model):
    cancelled = [{"order_no": "O-1", "row_id": 9, "on_date": START, "cancelled": date(2026, 2, 1)}]
    back = DEPOSIT | {"kind": "refund", "amount_cents": 100}
    assert order(model, [DEPOSIT, back], records__orders=cancelled) == {"O-1": (0, 200, 0, 200, 0)}


def test_where_nobody_writes_balances_down_the_rest_is_paid_at_the_handover(model):
    assert order(model, [DEPOSIT], money___sale=[DUE]) == {"O-1": (1000, 300, 0, 0, 700)}
    elsewhere = {"kind": "balance", "order_no": "O-7", "amount_cents": 5}
    assert order(model, [DEPOSIT, elsewhere], money___sale=[DUE])["O-1"] == (1000, 300, 0, 0, 0)


def test_orders_of_before_draw_on_the_deposits_held_then_until_they_are_used_up(model):
    placed = [{"order_no": f"O-{n}", "on_date": date(2025, 12, 1)} for n in (1, 2)]
    sales = [DUE, DUE | {"order_no": "O-2", "on_date": date(2026, 2, 9), "row_id": 51}]
    paid = [{"kind": "balance", "order_no": f"O-{n}", "amount_cents": 600} for n in (1, 2)]
    found = order(model, paid, SHOP | {"opening_deposits_cents": 500}, money___sale=sales, records__orders=placed)
    assert {name: row[2] for name, row in found.items()} == {"O-1": 400, "O-2": 100}


def ledger(model, **given):
    balances: dict[str, int] = defaultdict(int)
    rule = {"row_id": 2, "from_date": START, "tax_reclaimable": False, "tax_regime": "none", "flat_rate_ppm": 0}
    given = {"settings__shop": [SHOP], "settings__rule": [rule]} | given
    rows = model("money._ledger", **given)
    for row in rows:
        balances[row["account"]] += row["cents"]
    return dict(balances), rows


OURS = {
    "row_id": 50,
    "on_date": date(2026, 2, 3),
    "month": date(2026, 2, 1),
    "revenue_cents": 1000,
    "tax_cents": 80,
    "channel_tax_cents": 0,
    "due_cents": 1080,
    "account": "assumed",
}


def test_without_a_payment_cash_moves_on_the_day_and_says_so(model):
    balances, rows = ledger(model, money___sale=[OURS])
    assert balances == {"cash": 1080, "tax": -80, "customers": 0}
    assert [(row["on_date"], row["assumed"]) for row in rows if row["account"] == "cash"] == [(date(2026, 2, 3), True)]


def test_a_voucher_is_owed_until_it_pays_for_a_sale(model):
    sold = {"row_id": 60, "kind": "voucher sold", "amount_cents": 500, "on_date": date(2026, 1, 5)}
    assert ledger(model, records__payments=[sold])[0] == {"cash": 500, "vouchers": -500}
    used = {"row_id": 61, "cents": 500, "on_date": date(2026, 2, 3), "cash_on": date(2026, 2, 3), "cash_cents": 500}
    balances, _ = ledger(model, records__payments=[sold], money___sale=[OURS], money___voucher=[used])
    # 1,080 was due, of which 580 came in cash that day
    assert balances == {"cash": 1080, "vouchers": 0, "tax": -80, "customers": 0}


def test_an_order_paid_ahead_is_a_deposit_and_one_handed_over_unpaid_is_a_claim(model):
    paid = {"row_id": 60, "kind": "deposit", "amount_cents": 300, "on_date": date(2026, 1, 5), "order_no": "O-1"}
    assert ledger(model, records__payments=[paid])[0] == {"cash": 300, "deposits": -300}
    sold = OURS | {"account": "order", "order_no": "O-1", "tax_cents": 0, "due_cents": 1000}
    balances, _ = ledger(model, records__payments=[paid], money___sale=[sold])
    assert balances == {"cash": 300, "deposits": 0, "customers": 700}


def test_a_flat_rate_leaves_the_rest_of_the_tax_as_other_income(model):
    rule = [
        {"row_id": 2, "from_date": START, "tax_reclaimable": False, "tax_regime": "flat rate", "flat_rate_ppm": 60_000}
    ]
    balances, _ = ledger(model, money___sale=[OURS], settings__rule=rule)
    # 6 % of 1,080 is 65 cents short of 15 kept
    assert balances == {"cash": 1080, "customers": 0, "tax": -65, "other income": -15}


RECEIPT = {
    "row_id": 70,
    "from_place": "receipt",
    "to_place": "stock",
    "cents": 900,
    "on_date": date(2026, 1, 9),
    "origin": "wood",
}


@pytest.mark.parametrize(
    ("payments", "balances"),
    [
        ([], {"cash": -900}),
        ([{"receipt": "R-1"}], {"cash": -5, "suppliers": -895}),
        ([{"receipt": "R-2"}], {"cash": -905, "suppliers": 5}),  # only what a payment names is on account
        ([{"receipt": None}], {"cash": -5, "suppliers": -895}),  # one that names none may be for any
    ],
)
def test_a_receipt_is_owed_where_payments_to_suppliers_tell(model, payments, balances):
    rows = [{"row_id": 80, "kind": "supplier", "amount_cents": 5, "on_date": date(2026, 1, 20)} | p for p in payments]
    purchase = [{"row_id": 70, "receipt": "R-1", "on_date": date(2026, 1, 9)}]
    assert ledger(model, cost__movement=[RECEIPT], records__purchases=purchase, records__payments=rows)[0] == balances


def test_tax_on_purchases_that_comes_back_is_no_cost_but_a_claim(model):
    rule = [{"row_id": 2, "from_date": START, "tax_reclaimable": True, "tax_regime": "vat", "flat_rate_ppm": 0}]
    purchase = [{"row_id": 70, "receipt": "R-1", "on_date": date(2026, 1, 9), "tax_cents": 180}]
    balances, _ = ledger(model, cost__movement=[RECEIPT], records__purchases=purchase, settings__rule=rule)
    assert balances == {"cash": -1080, "tax": 180}


def test_pay_is_owed_once_any_pay_is_written_down_and_pay_to_an_unpaid_owner_is_a_drawing(model):
    worked = {
        "row_id": 90,
        "from_place": "labour",
        "to_place": "period",
        "cents": 500,
        "on_date": date(2026, 1, 9),
        "origin": "labour",
    }
    assert ledger(model, cost__movement=[worked])[0] == {"cash": -500}
    pay = [
        {"row_id": 91, "kind": "pay", "amount_cents": 200, "on_date": date(2026, 1, 30), "note": "Ben"},
        {"row_id": 92, "kind": "pay", "amount_cents": 70, "on_date": date(2026, 1, 30), "note": "ada"},
    ]
    owner = [{"name": "Ada", "role": "owner", "paid": False}]
    balances, _ = ledger(model, cost__movement=[worked], records__payments=pay, settings__person_rate=owner)
    assert balances == {"cash": -270, "wages": -300, "owner": 70}
