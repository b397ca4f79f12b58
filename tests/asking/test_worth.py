"""The money that hangs on a question: that of the rows it is about, however the file writes it."""

from pathlib import Path
from typing import Any

import pytest

from tests.asking.test_answers import SHOP, asked, shop


def the(found: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    (one,) = (each for each in found if each["kind"] == kind)
    return one


def test_a_sign_s_worth_is_that_of_the_rows_with_the_minus(tmp_path: Path) -> None:
    rows = "2026-02-23,online,coaster,1000,3\n2026-02-24,online,tray,20,-2\n2026-02-25,online,tray,500,3\n"
    found = the(asked(shop(tmp_path, {"sales.csv": f"date,channel,product,price,channel_fee\n{rows}"})), "sign-cost")
    assert (found["rows"], found["worth_cents"]) == (1, 2000)


@pytest.mark.parametrize(("signs", "worth"), [(("-10", "-20", "5"), 500), (("10", "20", "-5"), 500)])
def test_a_bank_s_question_is_about_the_rarer_sign(tmp_path: Path, signs: tuple[str, ...], worth: int) -> None:
    rows = "".join(f"2026-02-2{day},supplier,{amount}.00\n" for day, amount in enumerate(signs))
    found = the(asked(shop(tmp_path, {"payments.csv": f"date,kind,amount\n{rows}"})), "sign-bank")
    assert (found["rows"], found["worth_cents"]) == (1, worth)


def test_a_row_s_total_is_asked_about_where_it_differs(tmp_path: Path) -> None:
    rows = "2026-02-23,online,2,500,1000\n2026-02-24,online,2,20,35\n"
    mine = shop(tmp_path, {"till.csv": f"date,channel,quantity,price,total\n{rows}"})
    (mine / "mappings").mkdir()
    (mine / "mappings" / "till.toml").write_text(
        'files = "till.csv"\nrecord = "sales"\n[columns]\ndate = "date"\nchannel = "channel"\nquantity = "quantity"\n'
        'price = "price"\n[helpers]\nrow_total = "total"\n',
        encoding="utf-8",
    )
    found = the(asked(mine), "row-total")
    assert (found["rows"], found["worth_cents"]) == (1, 4000)


COLUMNS = {
    "payments": ('money_out = "Abgang"\nmoney_in = "Zugang"', "Abgang,Zugang", "10.00,", ",250.00", 26000),
    "sales": ('row_total = "Summe"', "Stück,Summe", "4,60.00", "2,30.00", 9000),
    "purchases": ('gross = "Brutto"', "Was,Brutto", "hinge,10.00", "hinge,20.00", 3000),
}


@pytest.mark.parametrize("record", COLUMNS)
def test_helping_columns_count(tmp_path: Path, record: str) -> None:
    helpers, head, one, two, worth = COLUMNS[record]
    field = {"payments": "", "sales": 'quantity = "Stück"\n', "purchases": 'item = "Was"\n'}[record]
    every = {"sales": 'channel = "online"', "purchases": 'category = "hardware"', "payments": ""}[record]
    mine = shop(tmp_path, {"bank.csv": f"Tag,{head}\n3/4/2026,{one}\n5/6/2026,{two}\n"})
    (mine / "mappings").mkdir()
    (mine / "mappings" / "bank.toml").write_text(
        f'files = "bank.csv"\nrecord = "{record}"\n[columns]\ndate = "Tag"\n{field}[constants]\n{every}\n'
        f"[helpers]\n{helpers}\n",
        encoding="utf-8",
    )
    found = the(asked(mine), "dates")
    assert (found["rows"], found["worth_cents"]) == (2, worth)


def test_a_price_of_each_counts_as_often_as_there_are(tmp_path: Path) -> None:
    mine = shop(tmp_path, {"b.csv": "Tag,Was,Menge,Einzeln\n3/4/2026,hinge,10 each,2.50\n5/6/2026,hinge,4 each,5\n"})
    (mine / "mappings").mkdir()
    (mine / "mappings" / "b.toml").write_text(
        'files = "b.csv"\nrecord = "purchases"\nprice_for = "each"\n[columns]\ndate = "Tag"\nitem = "Was"\n'
        'quantity = "Menge"\namount = "Einzeln"\n[constants]\ncategory = "hardware"\n',
        encoding="utf-8",
    )
    assert the(asked(mine), "dates")["worth_cents"] == 4500


def test_hours_from_two_times_count_at_the_highest_pay(tmp_path: Path) -> None:
    rows = "3/4/2026,Ada,carving,9:00,11:30\n5/6/2026,Ada,carving,9:00,10:00\n"
    mine = shop(tmp_path, {"hours.csv": f"date,person,operation,started_at,ended_at\n{rows}"}, SHOP)
    assert the(asked(mine), "dates")["worth_cents"] == 10500
