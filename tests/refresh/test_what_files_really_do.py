"""Layouts of real files through a whole refresh: each row is loaded, part of another, set aside, or passed over."""

from pathlib import Path

import pytest

from pipeline import database
from tests.refreshed import refreshed


@pytest.fixture
def shop_of(tiny_shop: Path):
    def of(mappings: dict[str, str] | None = None, **files: str):
        (tiny_shop / "mappings").mkdir(exist_ok=True)
        for name, text in (mappings or {}).items():
            (tiny_shop / "mappings" / f"{name}.toml").write_text(text, encoding="utf-8")
        for name, text in files.items():
            (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
        refreshed(tiny_shop)
        con = database.open_newest(tiny_shop)
        lost = "from intake.file where rows <> loaded + duplicate + set_aside + ignored"
        assert con.execute(lost).fetchall() == []
        return con

    return of


def test_a_receipt_with_sections_charges_and_subtotals(shop_of):
    con = shop_of(
        purchases="""date,receipt,supplier,item,category,quantity,amount
2026,,,,,,
Bought in March,,,,,,
05.03.,R1,Ost,white oak,,12 bf,120.00
05.03.,R1,Ost,casting epoxy,,2 gal,90.00
05.03.,R1,Ost,Freight,,,15.00
Subtotal,,,,,,225.00
31.03.,R2,Ost,screws,,100,20.00
Total,,,,,,245.00
"""
    )
    assert con.execute("select sum(amount_cents), sum(freight_cents) from records.purchases").fetchone() == (
        23000,
        1500,
    )
    assert con.execute("select distinct category from records.purchases order by all").fetchall() == [
        ("hardware",), ("resin",), ("wood",),
    ]  # fmt: skip
    reasons = con.execute("select row, reason from intake.ignored order by row").fetchall()
    assert reasons == [
        (1, "header"), (2, "section"), (3, "section"), (6, "freight of its receipt"), (7, "total"), (9, "total"),
    ]  # fmt: skip
    assert con.execute("select sum(cents) from cost.trace where from_place = 'receipt'").fetchone() == (24500,)


def test_a_deposit_among_sales_is_a_payment_and_no_sale(shop_of):
    con = shop_of(
        sales="""date,order_no,channel,product,quantity,price
2026-03-01,S1,market,Deposit,1,30.00
2026-03-05,S1,market,tray,1,80.00
2026-03-05,S1,market,Shipping,1,6.00
"""
    )
    assert con.execute("select price_cents, shipping_charged_cents from records.sales").fetchall() == [(8000, 600)]
    assert con.execute("select kind, amount_cents, order_no from records.payments").fetchall() == [
        ("deposit", 3000, "S1")
    ]


def test_a_bank_with_debit_and_credit(shop_of):
    con = shop_of(
        {
            "bank": 'files = "bank.csv"\nrecord = "payments"\n[columns]\ndate = "Tag"\nkind = "Art"\n'
            '[helpers]\nmoney_out = "Soll"\nmoney_in = "Haben"\n'
        },
        bank="Tag,Art,Soll,Haben\n05.03.2026,supplier,119.00,\n06.03.2026,payout,,200.00\n31.03.2026,drawing,50,\n",
    )
    assert con.execute("select kind, amount_cents from records.payments order by on_date").fetchall() == [
        ("supplier", 11900), ("payout", 20000), ("drawing", 5000),
    ]  # fmt: skip


def test_tags_in_any_case_lead_to_one_piece(shop_of):
    con = shop_of(
        pieces="piece,product,length,finished\nsb-002,board,30 x 20 x 2 cm,2026-03-05\n",
        hours='date,person,hours,operation\n2026-03-05,Ada,1.5,"Sanding Sb-002, dp-001"\n'
        "2026-03-05,Ada,1,sanding SB-002\n",
        sales="date,channel,piece,price\n2026-03-06,market,sb-002,80\n",
        inspections="date,piece,defect\n2026-03-06,sB-002,none\n",
    )
    assert con.execute("select piece, length_um, width_um, thickness_um from records.pieces").fetchall() == [
        ("SB-002", 300_000, 200_000, 20_000)
    ]
    assert con.execute("select distinct piece from records.hours_piece").fetchall() == [("SB-002",)]
    assert con.execute("select tag from intake.unlinked").fetchall() == [("DP-001",)]
    told = con.execute("select piece from records.sales union all select piece from records.inspections")
    assert told.fetchall() == [("SB-002",), ("SB-002",)]


def test_a_category_that_another_row_or_the_supplier_tells(shop_of):
    con = shop_of(
        mine="""date,receipt,supplier,item,category,amount
2026-03-01,R1,Ost,zwirbel,hardware,1
2026-03-02,R2,Nord,knorpel,finish,1
2026-03-03,R3,Nord,zopf,finish,1
2026-03-04,R4,Nord,kamm,finish,1
2026-03-05,R5,Ost,mal so,hardware,1
2026-03-06,R6,Ost,mal so,tool,1
""",
        other="""date,receipt,supplier,item,category,amount
2026-03-11,R11,West,Zwirbel,,1
2026-03-12,R12,Nord,stift,,1
2026-03-13,R13,West,mal so,,1
2026-03-14,R14,Ost,krabbe,,1
2026-03-15,R15,Nord,,,1
""",
    )
    loaded = con.execute("select item, category from records.purchases where on_date > '2026-03-10' order by on_date")
    assert loaded.fetchall() == [("zwirbel", "hardware"), ("stift", "finish")]
    assert con.execute("select row, field from intake.rejected order by row").fetchall() == [
        (4, "category"), (5, "category"), (6, "item"),
    ]  # fmt: skip
