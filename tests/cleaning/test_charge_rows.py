"""Freight, packing, discounts, tax, totals and deposits as rows of their own."""

from datetime import date
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
from pipeline.records import RECORDS

FIELDS = {record.name: {field.name for field in record} for record in RECORDS.values()}

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
        helpers = said.get("helpers", {}).values()
        own = {name: name for name in table.names if name not in helpers} | said.pop("columns", {})
        how = Mapping("m", record=record, columns={f: name for f, name in own.items() if f in FIELDS[record]}, **said)
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
    ("head", "said"),
    [
        ("date,order_no,channel,product,quantity,total", {"helpers": {"row_total": "total"}}),
        ("date,order_no,channel,product,quantity,gross", {"helpers": {"gross": "gross"}}),
        ("date,order_no,channel,product,quantity,price", {"price_for": "row"}),
        ("date,order_no,channel,product,quantity,Preis", {"columns": {"price": "Preis"}}),
    ],
)
def test_a_deposit_is_the_amount_that_its_row_came_to(cleaned, head, said):
    rows = "3/4/2026,S1,market,Deposit,1,30.00\n28/4/2026,S1,market,tray,2,80.00\n"
    found = cleaned("sales", f"{head}\n{rows}", **said)
    (paid,) = found.beside
    assert paid.frame.select("on_date", "kind", "amount_cents", "order_no").rows() == [
        (date(2026, 4, 3), "deposit", 3000, "S1")
    ]
    assert found.rejected.is_empty()


def test_a_deposit_takes_what_its_mapping_says_of_all_rows(cleaned):
    text = "order_no,channel,product\nS1,market,Deposit\n"
    said = {"date": "2026-01-05", "price": "20.00"}
    (paid,) = cleaned("sales", text, constants=said, supersedes=("order_no", "product")).beside
    assert paid.frame.select("on_date", "amount_cents", "sheet", "row").rows() == [(date(2026, 1, 5), 2000, "", 2)]
    assert paid.mapping.supersedes == ("order_no",)


def test_a_deposit_without_a_day_stays_where_it_is(cleaned):
    text = "date,order_no,channel,product,price\nsoon,S1,market,Deposit,30\n"
    found = cleaned("sales", text)
    assert (codes(found), found.beside) == ({2: "date"}, ())


def test_what_goes_back_bears_nothing_of_what_was_charged(cleaned):
    text = "date,receipt,item,category,quantity,amount\n2026-01-07,R3,oak,wood,2 bf,100\n"
    found = cleaned("purchases", f"{text}2026-01-07,R3,ash,wood,-1 bf,50\n2026-01-07,R3,freight,,,15.00\n")
    assert found.frame.select("amount_cents", "freight_cents").rows() == [(10000, 1500), (-5000, None)]
    found = cleaned("purchases", f"{text}2026-01-07,R3,credit,wood,,-50\n2026-01-07,R3,freight,,,15.00\n")
    assert found.frame.select("amount_cents", "freight_cents").rows() == [(10000, 1500), (-5000, None)]
    text = "date,order_no,channel,product,quantity,price\n2026-01-07,S1,market,tray,1,80\n"
    found = cleaned("sales", f"{text}2026-01-07,S1,market,Shipping,1,8\n2026-02-07,S1,market,tray,-1,80\n")
    assert found.frame.select("quantity", "shipping_charged_cents").rows() == [(1, 800), (-1, None)]


def test_a_minus_that_means_a_cost_in_a_column_turns_no_charge_round(cleaned):
    text = "date,receipt,item,category,amount,freight\n2026-01-07,R3,oak,wood,100,-4\n2026-01-07,R4,ash,wood,50,\n"
    found = cleaned("purchases", f"{text}2026-01-07,R4,Freight,,6,\n", signs={"freight": "cost"})
    assert found.frame["freight_cents"].to_list() == [400, 600]
    found = cleaned("purchases", f"{text}2026-01-07,R4,Freight,,6,\n")
    assert found.frame["freight_cents"].to_list() == [400, 600]
    assert found.questions.is_empty()  # no row of goods has a plus


def test_what_is_set_aside_by_its_row_takes_no_share_along(cleaned):
    text = "date,order_no,channel,product,quantity,price\n2026-01-07,S1,market,tray,1,100\n"
    text += "2026-01-07,S1,market,Refund,1,-100\n2026-01-07,S1,market,Shipping,1,8\n"
    found = cleaned("sales", f"{text}2026-01-07,S1,market,Discount,1,-5\n")
    assert found.frame.select("shipping_charged_cents", "discount_cents").rows() == [(800, 500)]
    assert codes(found) == {3: "range"}


def test_a_charge_in_another_currency_is_set_aside_and_not_shared(cleaned):
    text = "date,receipt,item,category,amount\n2026-01-07,R3,oak,wood,EUR 100\n2026-01-07,R3,freight,,USD 12.00\n"
    found = cleaned("purchases", text)
    assert found.frame.select("amount_cents", "freight_cents").rows() == [(10000, None)]
    assert codes(found) == {3: "money"}


def test_a_charge_is_turned_into_the_shops_currency_as_its_goods_are(cleaned):
    text = "date,receipt,item,category,amount,paid_currency,paid_rate\n2026-01-07,R3,oak,wood,100,USD,0.9\n"
    for own in ("USD,0.9", "USD,", ","):
        found = cleaned("purchases", f"{text}2026-01-07,R3,freight,,12,{own}\n")
        assert found.frame.select("amount_cents", "freight_cents").rows() == [(9000, 1080)]
    for other, code in (("GBP,1.2", "money"), ("EUR,", "money"), ("GBP,", "missing")):
        found = cleaned("purchases", f"{text}2026-01-07,R3,freight,,12,{other}\n")
        assert (found.frame["freight_cents"].to_list(), codes(found)) == ([None], {3: code})
    text = "date,receipt,item,category,amount,paid_currency\n2026-01-07,R3,oak,wood,100,EUR\n"
    found = cleaned("purchases", f"{text}2026-01-07,R3,freight,,12,\n")
    assert found.frame.select("amount_cents", "freight_cents").rows() == [(10000, 1200)]


def test_two_suppliers_may_give_one_number(cleaned):
    head = "date,receipt,supplier,item,category,amount\n2026-01-07,1001,Acme,oak,wood,100\n"
    found = cleaned("purchases", f"{head}2026-01-08,1001,Nord,glue,consumable,5\n2026-01-07,1001,ACME,freight,,9\n")
    assert found.frame["freight_cents"].to_list() == [900, None]
    found = cleaned("purchases", f"{head}2026-01-08,1001,Nord,glue,consumable,5\n2026-01-07,1001,,freight,,9\n")
    assert codes(found) == {4: "charge-alone"}
    found = cleaned("purchases", f"{head}2026-01-07,1001,,glue,consumable,100\n2026-01-07,1001,,freight,,9\n")
    assert found.frame["freight_cents"].to_list() == [450, 450]


def test_a_discount_and_what_takes_it_back(cleaned):
    text = "date,receipt,item,category,amount\n2026-01-07,R3,oak,wood,100\n"
    rows = [f"2026-01-07,R3,{what},,{amount}\n" for what, amount in (("Discount", "-10"), ("Rabatt", "4"))]
    assert cleaned("purchases", text + "".join(rows)).frame["discount_cents"].to_list() == [600]
    assert cleaned("purchases", text + rows[0]).frame["discount_cents"].to_list() == [1000]
    assert cleaned("purchases", text + rows[1]).frame["discount_cents"].to_list() == [400]
    undone = cleaned("purchases", f"{text}{rows[0]}2026-01-07,R3,Discount,,10\n")
    assert undone.frame["discount_cents"].to_list() == [0]
    fees = f"{text}2026-01-07,R3,Freight,,15\n2026-01-07,R3,Freight,,-15\n"
    assert cleaned("purchases", fees).frame["freight_cents"].to_list() == [0]


def test_a_charge_that_stays_says_why(cleaned):
    head = "date,receipt,item,category,quantity,amount\n"
    aside = f"{head}2026-01-07,R3,oak,wood,1 bf,free\n2026-01-07,R3,freight,,,9\n"
    back = f"{head}2026-01-07,R3,oak,wood,-1 bf,50\n2026-01-07,R3,freight,,,9\n2026-01-07,R3,Summe,,,41\n"
    below = f"{head}2026-01-07,R3,oak,wood,1 bf,50\n2026-01-07,R3,freight,,,-9\n"
    assert codes(cleaned("purchases", aside)) == {2: "money", 3: "charge-of-none"}
    assert codes(cleaned("purchases", below)) == {3: "charge-back"}
    found = cleaned("purchases", back)
    assert codes(found) == {3: "charge-back"}
    assert found.frame["total_cents"].to_list() == [-4100]
    undone = "date,order_no,channel,product,quantity,price\n2026-01-07,S1,market,tray,1,80\n"
    assert codes(cleaned("sales", f"{undone}2026-01-07,S1,market,Shipping,-1,8\n")) == {3: "charge-back"}


def test_tax_that_is_in_the_prices_is_taken_out_of_them_by_its_row(cleaned):
    text = "date,order_no,channel,product,quantity,price\n2026-01-07,S1,market,tray,2,60\n"
    found = cleaned("sales", f"{text}2026-01-07,S1,market,VAT,1,20\n", tax_included=True)
    assert found.frame.select("price_cents", "sales_tax_cents").rows() == [(5000, 2000)]


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
