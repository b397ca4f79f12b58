"""Freight, packing, discounts, tax, totals and deposits as rows of their own."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests_shop import SHOP

from pipeline.cleaning import clean
from pipeline.cleaning.charge_rows import charge_of
from pipeline.mapping import Mapping
from pipeline.readers import read
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of

RECEIPT = """date,receipt,supplier,item,category,quantity,amount
2026-01-05,R1,Ost,white oak,wood,12 bf,120.00
2026-01-05,R1,Ost,casting epoxy,resin,2 gal,90.00
2026-01-05,R1,Ost,Freight,,,15.00
2026-01-05,R1,Ost,Packing,,,3.00
2026-01-05,R1,Ost,Discount 5%,,,-10.50
2026-01-05,R1,Ost,VAT,,,20.00
2026-01-05,R1,Ost,Total,,,237.50
"""


@pytest.fixture
def cleaned(tmp_path: Path):
    def of(record: str, text: str, **said):
        path = tmp_path / "a.csv"
        path.write_text(text, encoding="utf-8")
        (table,) = read(path)
        how = Mapping("m", record=record, columns={name: name for name in table.names}, **said)
        found = clean(table, how, SHOP, "a.csv")
        rows = [part["row"].to_list() for part in (found.frame, found.rejected, found.passed)]
        rows += [each.frame["row"].to_list() for each in found.beside]
        assert sorted(row for part in rows for row in part) == table.frame["row"].to_list(), "each row once"
        return found

    return of


def codes(found) -> dict[int, str]:
    return dict(found.rejected.select("row", "code").rows())


def test_the_charges_of_a_receipt_are_cut_to_its_goods_to_the_cent(cleaned):
    found = cleaned("purchases", RECEIPT)
    columns = ("amount_cents", "freight_cents", "discount_cents", "tax_cents")
    assert found.frame.select(columns).sum().row(0) == (21000, 1800, 1050, 2000)
    assert found.frame["freight_cents"].to_list() == [1029, 771]  # 18.00 by 120 to 90
    assert found.frame["total_cents"].to_list() == [23750, None]
    assert found.passed.select("row", "reason").rows() == [
        (4, "freight of its receipt"), (5, "packing of its receipt"), (6, "discount of its receipt"),
        (7, "tax of its receipt"), (8, "total"),
    ]  # fmt: skip
    assert found.rejected.is_empty()


def test_without_a_number_the_goods_of_a_suppliers_day_share(cleaned):
    text = (
        "date,supplier,item,amount\n2026-01-07,Ost,screws,5\n2026-01-07,Ost,glue,10\n2026-01-07,Ost,Versandkosten,1\n"
    )
    found = cleaned("purchases", f"{text}2026-01-08,Ost,glue,3\n2026-01-07,,Versand,4\n")
    assert found.frame["freight_cents"].to_list() == [33, 67, None]


def test_a_charge_without_goods_is_asked_about_and_postage_alone_is_bought(cleaned):
    text = "date,receipt,supplier,item,amount\n2026-01-07,R3,Post,Porto,5\n2026-01-07,R4,Ost,Rabatt,5\n"
    found = cleaned("purchases", text)
    assert found.frame.select("item", "category").rows() == [("porto", "selling")]
    assert codes(found) == {3: "charge-alone"}


def test_goods_called_like_a_charge_stay_goods(cleaned):
    text = "date,receipt,item,category,amount\n2026-01-07,R3,oak,wood,5\n2026-01-07,R3,packing,packaging,4\n"
    text += "2026-01-07,R3,packing paper,packaging,4\n"
    found = cleaned("purchases", text)
    assert found.frame.height == 3
    assert found.frame["freight_cents"].null_count() == 3


def test_goods_that_are_set_aside_take_no_part(cleaned):
    text = "date,receipt,item,category,amount\n2026-01-07,R3,oak,wood,5\n2026-01-07,R3,ash,wood,free\n"
    found = cleaned("purchases", f"{text}2026-01-07,R3,freight,,4\n")
    assert found.frame["freight_cents"].to_list() == [400]
    assert codes(found) == {3: "money"}


def test_a_charge_that_is_no_amount_is_set_aside(cleaned):
    text = "date,receipt,item,category,amount\n2026-01-07,R3,oak,wood,5\n2026-01-07,R3,freight,,free\n"
    assert codes(cleaned("purchases", text)) == {3: "money"}


ORDERS = """date,order_no,channel,product,quantity,price
2026-01-05,S1,market,tealight,2,20.00
2026-01-05,S1,market,tray,1,33.33
2026-01-05,S1,market,Shipping,1,6.00
2026-01-05,S1,market,Discount,1,-5.00
2026-01-06,S3,market,Deposit,1,30.00
2026-01-06,S2,market,tray,1,80.00
2026-01-06,S2,market,Less deposit,1,-30.00
2026-01-06,,market,Discount,1,6.00
"""


def test_shipping_and_discount_of_an_order_and_a_deposit_that_came_in(cleaned):
    found = cleaned("sales", ORDERS)
    assert found.frame.select("discount_cents", "shipping_charged_cents").rows() == [
        (273, 327), (227, 273), (None, None),
    ]  # fmt: skip
    (paid,) = found.beside
    assert paid.record == "payments"
    assert paid.frame.select("kind", "amount_cents", "order_no").rows() == [("deposit", 3000, "S3")]
    assert codes(found) == {8: "deposit-row", 9: "charge-alone"}


def test_a_deposit_is_dated_as_the_rest_of_its_file_is(cleaned):
    text = "date,order_no,channel,product,price\n3/4/2026,S1,market,Deposit,30\n28/4/2026,S1,market,tray,80\n"
    (paid,) = cleaned("sales", text).beside
    assert str(paid.frame["on_date"][0]) == "2026-04-03"


@pytest.mark.parametrize(
    ("text", "charge"),
    [
        ("Freight", "freight"), ("Shipping cost", "freight"), ("Versandkosten", "freight"),
        ("frais de port", "freight"), ("Spese di spedizione", "freight"), ("Gastos de envío", "freight"),
        ("Verzendkosten", "freight"), ("Packing", "packing"), ("Discount 5 %", "discount"), ("10% Rabatt", "discount"),
        ("Remise", "discount"), ("Anzahlung", "deposit"), ("Acconto", "deposit"), ("MwSt 19 %", "tax"),
        ("Grand total", "total"), ("packing paper", ""), ("shipping boxes", ""), ("oak", ""), ("", ""), ("5", ""),
        ("tax stamp", ""), ("total loss lamp", ""),
    ],
)  # fmt: skip
def test_what_names_a_charge_and_nothing_else(text, charge):
    assert charge_of(text) == charge


CENTS = st.integers(0, 10**7)


@settings(max_examples=60, deadline=None)
@given(goods=st.lists(CENTS, min_size=1, max_size=6), freight=CENTS, discount=CENTS)
def test_no_cent_is_lost(goods, freight, discount):
    rows = [["2026-01-05", "R1", "oak", "wood", f"{c / 100:.2f}"] for c in goods]
    rows += [["2026-01-05", "R1", "Freight", None, f"{freight / 100:.2f}"]]
    rows += [["2026-01-05", "R1", "Discount", None, f"-{discount / 100:.2f}"]]
    names = ("date", "receipt", "item", "category", "amount")
    table = TextTable("", names, frame_of(rows, range(2, 2 + len(rows)), 5), ignored_of([]))
    found = clean(table, Mapping("m", record="purchases", columns={n: n for n in names}), SHOP, "a.csv")
    assert found.frame["amount_cents"].to_list() == goods
    assert (found.frame["freight_cents"].sum(), found.frame["discount_cents"].sum()) == (freight, discount)
