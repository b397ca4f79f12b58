"""The money that hangs on a question: that of the rows it is about, however the file writes it."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline.asking.answer import answer
from pipeline.database import open_newest
from pipeline.shop import Shop
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


def open_cents(folder: Path) -> int:
    with open_newest(folder) as con:
        (cents,) = con.execute("select sum(first_cents)::bigint from intake.question_file").fetchall()[0]
    return int(cents)


def test_rows_of_several_questions_count_once_in_what_is_open(tmp_path: Path) -> None:
    words = "".join(f"2026-02-2{at},{place},tray,30\n" for at, place in enumerate(("Zibbel", "Zabbel", "Zubbel")))
    mine = shop(tmp_path, {"sales.csv": f"date,channel,product,price\n{words}"})
    open_ = asked(mine)
    assert [each["worth_cents"] for each in open_] == [3000] * 3
    assert open_cents(mine) == 9000


@pytest.mark.parametrize("fees", [("3", "-2"), ("-2", "3")])
def test_a_row_with_two_questions_and_a_table_with_one_of_all_count_once(tmp_path: Path, fees: tuple[str, ...]) -> None:
    rows = f"2026-02-23,Zibbel,tray,30,{fees[0]}\n2026-02-24,online,tray,20,{fees[1]}\n"
    mine = shop(tmp_path / "rows", {"sales.csv": f"date,channel,product,price,channel_fee\n{rows}"})
    assert len(asked(mine)) == 2
    assert open_cents(mine) == (5000 if fees[0] == "3" else 3000)
    head = "Date,Channel,Product,Price,Zwickel\n"
    mine = shop(
        tmp_path / "whole", {"s.csv": head + "2026-02-23,Zibbel,tray,30,1.25\n2026-02-24,online,tray,20,2.50\n"}
    )
    assert sorted(each["worth_cents"] for each in asked(mine)) == [3000, 5000]
    assert open_cents(mine) == 5000


def test_a_slip_counts_what_each_file_bought_under_it_once(tmp_path: Path) -> None:
    head, often = "date,receipt,item,category,quantity,unit,amount\n", "2026-01-0{0},R-{0},Clear Resin,resin,1,kg,10\n"
    files = {"a.csv": head + "".join(often.format(n) for n in range(1, 8))}
    for name, number in (("b", 8), ("c", 9)):
        files[f"{name}.csv"] = f"{head}2026-01-0{number},R-{number},Clear Rezin,resin,1,kg,40\n"
    mine = shop(tmp_path, files)
    (found,) = [each for each in asked(mine) if "rezin" in each["ask"]]
    assert (found["files"], found["rows"], found["worth_cents"]) == (2, 2, 8000)
    assert open_cents(mine) == 8000


YEARLESS = "Tag,Was,Betrag\n3. Mai,hinge,10.00\n5. Mai,screw,20.00\n"
PURCHASES = (
    'files = "*.csv"\nrecord = "purchases"\n[columns]\ndate = "Tag"\nitem = "Was"\namount = "Betrag"\n[constants]\n'
    'category = "hardware"\n'
)


@pytest.mark.parametrize("files", [("a",), ("a", "b")])
@pytest.mark.parametrize(("start", "oldest"), [(-2, -3), (0, -1), (2, 0)])
def test_the_year_can_be_this_one_whenever_the_records_begin(
    tmp_path: Path, files: tuple[str, ...], start: int, oldest: int
) -> None:
    now = datetime.now().astimezone().year
    mine = shop(
        tmp_path, {f"{name}.csv": YEARLESS for name in files}, SHOP.replace("2026-01-01", f"{now + start}-01-01")
    )
    (mine / "mappings").mkdir()
    (mine / "mappings" / "b.toml").write_text(PURCHASES, encoding="utf-8")
    found = the(asked(mine), "year")
    assert (found["rows"], found["worth_cents"]) == (2 * len(files), 3000 * len(files))
    assert [each["label"] for each in found["choices"]] == [str(year) for year in range(now, now + oldest - 1, -1)]
    answer(mine, found["question"], 1)
    assert asked(mine) == []


def test_next_year_is_offered_of_a_file_that_is_known_from_this_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = shop(tmp_path, {"a.csv": YEARLESS})
    (mine / "mappings").mkdir()
    (mine / "mappings" / "b.toml").write_text(PURCHASES, encoding="utf-8")
    this = int(the(asked(mine), "year")["choices"][0]["label"])
    monkeypatch.setattr(Shop, "now", lambda _: datetime(this + 1, 1, 2, tzinfo=UTC))
    assert the(asked(mine), "year")["choices"][0]["label"] == str(this + 1)


KIT, OTHER = "clear casting resin kit", "hinge"


def test_a_kit_of_unknown_size_counts_its_own_rows_alone(tmp_path: Path) -> None:
    """Where one row of a table waits for the size of its kit, and its category is asked as well, its money counts once,
    and that of the other rows not at all."""
    head = "date,receipt,item,category,quantity,unit,amount\n"
    rows = f"2026-01-03,R-1,{KIT},resin,1,kit,119.00\n2026-01-04,R-2,{OTHER},hardware,4,each,500.00\n"
    mine = shop(tmp_path, {"bought.csv": head + rows})
    found = the(asked(mine), "size")
    assert (found["rows"], found["worth_cents"]) == (1, 11900)
    assert open_cents(mine) == 11900


def test_a_category_that_the_supplier_tells_counts_its_own_rows_alone(tmp_path: Path) -> None:
    head = "date,supplier,item,category,quantity,unit,amount\n"
    often = "".join(f"2026-01-0{day},Hart & Co,Zwickel {day},resin,1,kg,100.00\n" for day in range(1, 8))
    mine = shop(tmp_path, {"bought.csv": f"{head}{often}2026-01-09,Hart & Co,Zwackel,,1,kit,30.00\n"})
    open_ = {each["kind"]: each for each in asked(mine)}
    assert (open_["category"]["rows"], open_["category"]["worth_cents"]) == (1, 3000)
    assert (open_["size"]["rows"], open_["size"]["worth_cents"]) == (1, 3000)
    assert open_cents(mine) == 3000
