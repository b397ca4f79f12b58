"""Columns that are no field but fill some: which way money went, what a price is for, the price with its tax."""

from dataclasses import replace
from pathlib import Path

import pytest
from tests_shop import SHOP

from pipeline import shop as shops
from pipeline.cleaning import clean
from pipeline.mapping import Mapping
from pipeline.readers import read


@pytest.fixture
def cleaned(tmp_path: Path, plain_shop):
    def of(record: str, text: str, shop=plain_shop, **said):
        path = tmp_path / "a.csv"
        path.write_text(text, encoding="utf-8")
        (table,) = read(path)
        helpers = said.get("helpers", {})
        columns = {name: name for name in table.names if name not in helpers.values()}
        return clean(table, Mapping("m", record=record, **{"columns": columns, **said}), shop, "a.csv")

    return of


def codes(found) -> dict[int, str]:
    return dict(found.rejected.select("row", "code").rows())


WAYS = [("out", "in"), ("DBIT", "CRDT"), ("af", "bij"), ("Soll", "Haben"), ("Débit", "Crédit"), ("uscita", "entrata")]


@pytest.mark.parametrize(("out", "come"), WAYS)
@pytest.mark.parametrize("minus", ["", "-"])
def test_a_direction_says_which_way_money_went(cleaned, out, come, minus):
    text = f"date,kind,way,amount\n2026-01-05,supplier,{out},{minus}119.00\n2026-01-06,payout,{come},200.00\n"
    found = cleaned("payments", text + f"2026-01-07,supplier,{come},20.00\n", helpers={"direction": "way"})
    assert found.frame["amount_cents"].to_list() == [11900, 20000, -2000]
    assert found.rejected.is_empty()
    assert found.questions.is_empty()


def test_a_direction_that_says_nothing_or_the_contrary_is_asked_about(cleaned):
    text = "date,kind,way,amount\n2026-01-05,supplier,,119\n2026-01-06,payout,in,-200\n2026-01-07,payout,perhaps,2\n"
    found = cleaned("payments", text, helpers={"direction": "way"})
    assert codes(found) == {2: "missing", 3: "range", 4: "choice"}


def test_a_rate_of_tax_that_the_shop_states_is_no_fault(cleaned, tmp_path):
    """30 % is more than any rate in Europe; the tax office of another place may well ask for it."""
    text = "date,item,category,amount,whole\n2026-01-05,hinge,hardware,100.00,130.00\n"
    gross = {"helpers": {"gross": "whole"}}
    assert codes(cleaned("purchases", text, **gross)) == {2: "tax-differs"}
    rate = '[[tax_rates]]\nfrom = 2026-01-01\nregime = "sales tax"\nrate = 0.30\n'
    (tmp_path / "shop.toml").write_text(f'start = 2026-01-01\ncurrency = "EUR"\n{rate}', encoding="utf-8")
    found = cleaned("purchases", text, shops.load(tmp_path), **gross)
    assert found.frame["tax_cents"].to_list() == [3000]


PAIR = {"helpers": {"money_out": "debit", "money_in": "credit"}}


@pytest.mark.parametrize("minus", ["", "-"])
@pytest.mark.parametrize("nothing", ["", "0.00"])
def test_money_in_and_money_out_in_two_columns(cleaned, minus, nothing):
    text = "date,kind,debit,credit\n" + "".join(
        (f"2026-01-05,supplier,{minus}119.00,{nothing}\n", f"2026-01-06,payout,{nothing},200.00\n")
    )
    found = cleaned("payments", text, **PAIR)
    assert found.frame["amount_cents"].to_list() == [11900, 20000]
    assert found.questions.is_empty()


def test_both_or_neither_of_the_two_columns_are_set_aside(cleaned):
    text = "date,kind,debit,credit\n2026-01-05,supplier,1,2\n2026-01-06,payout,,\n2026-01-06,payout,x,\n"
    assert codes(cleaned("payments", text, **PAIR)) == {2: "range", 3: "missing", 4: "money"}


@pytest.mark.parametrize("empty", ["n/a", "−", "NULL", "\u200b", "\ufeff-", " — "])
def test_what_is_no_amount_in_one_of_the_two_columns_is_empty(cleaned, empty):
    text = f"date,kind,debit,credit\n2026-01-05,supplier,119.00,{empty}\n2026-01-06,payout,{empty},200.00\n"
    found = cleaned("payments", f"{text}2026-01-07,supplier,\u200b１９.００,{empty}\n", **PAIR)
    assert found.frame["amount_cents"].to_list() == [11900, 20000, 1900]
    assert found.rejected.is_empty()


def test_a_cell_that_helps_and_cant_be_read_is_shown(cleaned):
    found = cleaned("payments", "date,kind,debit,credit\n2026-01-06,payout,some,\n", **PAIR)
    assert found.rejected.select("code", "text").rows() == [("money", "some")]
    text = "date,kind,way,amount\n2026-01-05,supplier,sideways,119\n"
    found = cleaned("payments", text, helpers={"direction": "way"})
    assert found.rejected.select("code", "field", "text").rows() == [("choice", "amount", "sideways")]


def test_in_a_book_of_ones_own_the_balance_shows_that_a_debit_comes_in(cleaned):
    text = "date,kind,debit,credit,balance\n2026-01-05,payout,100,,100\n2026-01-06,supplier,,30,70\n"
    text += "2026-01-07,payout,50,,120\n2026-01-08,supplier,,20,100\n"
    assert cleaned("payments", text, **PAIR).frame["amount_cents"].to_list() == [10000, 3000, 5000, 2000]


def test_a_price_for_the_row_is_parted_to_the_cent(cleaned):
    text = "date,channel,quantity,price\n2026-01-05,market,2,40\n2026-01-06,market,3,100\n2026-01-07,market,-3,-100\n"
    found = cleaned("sales", text, price_for="row").frame
    assert found.select("quantity", "price_cents", "discount_cents").rows() == [
        (2, 2000, None), (3, 3334, 2), (-3, 3334, -2),
    ]  # fmt: skip
    sums = found["quantity"] * found["price_cents"] - found["discount_cents"].fill_null(0)
    assert sums.to_list() == [4000, 10000, -10000]


def test_a_total_beside_the_price_proves_it_fills_it_and_is_asked_about(cleaned):
    text = "date,channel,quantity,price,total\n2026-01-05,market,2,20,40\n2026-01-06,market,3,,100\n"
    found = cleaned("sales", text, helpers={"row_total": "total"})
    assert found.frame.select("price_cents", "discount_cents").rows() == [(2000, None), (3334, 2)]
    assert found.questions.is_empty()
    found = cleaned("sales", text + "2026-01-07,market,2,20,35\n", helpers={"row_total": "total"})
    assert found.frame["price_cents"].to_list() == [2000, 3334, 2000]
    assert found.questions.select("field", "code", "row").rows() == [("price", "row-total", 4)]


def test_a_price_of_each_makes_the_line(cleaned):
    text = "date,item,category,quantity,amount\n2026-01-05,oak,wood,12 bf,10.00\n2026-01-05,screws,hardware,20,0.0335\n"
    text += "2026-01-05,glue,consumable,3 x 500 ml,9.50\n2026-01-05,dust bag,consumable,,9.55\n"
    found = cleaned("purchases", text, price_for="each")
    assert found.frame["amount_cents"].to_list() == [12000, 67, 955]
    assert codes(found) == {4: "quantity"}


def test_net_and_gross_side_by_side_give_the_tax_row_by_row(cleaned):
    text = "date,item,category,amount,gross\n2026-01-05,oak,wood,100.00,119.00\n2026-01-05,ash,wood,50.00,53.50\n"
    text += "2026-01-05,elm,wood,50.00,99.00\n2026-01-06,fir,wood,-10.00,-11.90\n"
    found = cleaned("purchases", text, helpers={"gross": "gross"})
    assert found.frame.select("amount_cents", "tax_cents").rows() == [(10000, 1900), (5000, 350), (-1000, -190)]
    assert codes(found) == {4: "tax-differs"}


def test_a_tax_column_must_agree_with_net_and_gross(cleaned):
    text = "date,item,category,amount,tax,gross\n2026-01-05,oak,wood,100,19,119\n2026-01-05,ash,wood,50,9,59.50\n"
    found = cleaned("purchases", text, helpers={"gross": "gross"})
    assert found.frame["tax_cents"].to_list() == [1900]
    assert codes(found) == {3: "tax-differs"}


def test_gross_and_tax_give_the_net(cleaned):
    text = "date,item,category,tax,gross\n2026-01-05,oak,wood,19,119\n2026-01-05,ash,wood,,59.50\n"
    found = cleaned("purchases", text, helpers={"gross": "gross"})
    # tax that never comes back is part of what things cost
    assert found.frame.select("amount_cents", "tax_cents").rows() == [(10000, 1900), (5950, None)]
    reclaims = replace(SHOP, tables=SHOP.tables | {"rule": [{"tax_reclaimable": True}]})
    found = cleaned("purchases", text, shop=reclaims, helpers={"gross": "gross"})
    assert found.frame.select("amount_cents", "tax_cents").rows() == [(10000, 1900)]
    assert found.rejected.select("row", "code", "field").rows() == [(3, "missing", "tax")]
    text = "date,channel,quantity,sales_tax,gross\n2026-01-05,market,2,7.60,23.80\n"
    found = cleaned("sales", text, helpers={"gross": "gross"})
    assert found.frame.select("price_cents", "sales_tax_cents").rows() == [(2000, 760)]


@pytest.mark.parametrize(("gross", "tax"), [(("23.80", "95.20"), (760, 4560)), (("47.60", "285.60"), (760, 4560))])
def test_a_gross_price_is_of_each_or_of_the_row_as_the_rows_prove(cleaned, gross, tax):
    text = f"date,channel,quantity,price,gross\n2026-01-05,market,2,20,{gross[0]}\n2026-01-05,market,3,80,{gross[1]}\n"
    found = cleaned("sales", text, helpers={"gross": "gross"})
    assert tuple(found.frame["sales_tax_cents"]) == tax
    assert found.frame["price_cents"].to_list() == [2000, 8000]


def test_another_currency_in_a_helping_column_is_set_aside(cleaned):
    text = "date,kind,debit,credit\n2026-01-05,supplier,$ 5.00,\n2026-01-06,payout,,€ 5.00\n"
    assert codes(cleaned("payments", text, **PAIR)) == {2: "money"}
