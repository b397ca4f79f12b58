"""The year-end workbook: what stands in it, that it adds up, and that it says it is no tax advice."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import fastexcel
import pytest

from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.reports.yearend import NO_ADVICE, build, write

Books = Callable[..., duckdb.DuckDBPyConnection]
Rows = dict[str, list[tuple[Any, ...]]]

PRESS = """name = "Press"
currency = "USD"
start = 2021-01-01
[[machines]]
name = "press"
salvage = 10000
months = 60
"""


def sheets(con: duckdb.DuckDBPyConnection, year: int) -> Rows:
    return {sheet.name: sheet.rows for sheet in build(con, year)}


@pytest.fixture(scope="module")
def year(demo: Path) -> Rows:
    with open_newest(demo) as con:
        return sheets(con, 2025)


def amounts(rows: list[tuple[Any, ...]]) -> dict[str, int]:
    return {row[0]: row[1] for row in rows}


def test_cost_of_goods_sold_is_what_the_stock_leaves(year: Rows) -> None:
    lines = amounts(year["Cost of goods sold"])
    sold = lines.pop("Cost of goods sold")
    assert sum(lines.values()) == sold > 0
    assert amounts(year["Result"])["cost of sales"] == -sold


@pytest.mark.parametrize(("line", "day"), [("Opening stock", "opening"), ("Closing stock", "closing")])
def test_the_stock_sheets_come_to_the_stock(year: Rows, demo: Path, line: str, day: str) -> None:
    materials = sum(row[3 if day == "opening" else 6] for row in year["Stock of materials"])
    pieces = sum(row[5] for row in year["Stock of pieces"] if row[0] == day)
    with open_newest(demo) as con:
        # scrap that waits in its pool is on neither sheet
        ((waiting,),) = con.execute(
            "select coalesce(sum(case when to_place = 'pool' then cents else -cents end), 0) from cost.trace"
            " where item = 'spoilage' and 'pool' in (from_place, to_place) and origin <> 'own labour' and on_date < ?",
            ["2025-01-01" if day == "opening" else "2026-01-01"],
        ).fetchall()
    assert abs(amounts(year["Cost of goods sold"])[line]) == materials + pieces + waiting


def test_the_result_is_that_of_the_months(year: Rows, demo: Path) -> None:
    lines = amounts(year["Result"])
    result = lines.pop("Result in the books")
    assert sum(lines.values()) == result == sum(row[4] for row in year["Months"])
    with open_newest(demo) as con:
        query = "select sum(books_result_cents) from money.month where year(month) = 2025"
        assert con.execute(query).fetchall() == [(result,)]


def test_the_way_to_cash_adds_up(year: Rows, demo: Path) -> None:
    lines = amounts(year["Cash"])
    cash = lines.pop("cash")
    with open_newest(demo) as con:
        ((before,),) = con.execute("select cash_end_cents from money.month where month = '2024-12-01'").fetchall()
    assert sum(lines.values()) == cash == year["Months"][-1][7] - before


def test_purchases_and_tax_are_those_of_the_records(year: Rows, demo: Path) -> None:
    with open_newest(demo) as con:
        bought = con.execute(
            "select category, count(*), sum(amount_cents + coalesce(freight_cents, 0) + coalesce(tax_cents, 0)"
            " - coalesce(discount_cents, 0))"
            " from records.purchases where year(on_date) = 2025 group by category order by category"
        ).fetchall()
        taxed = con.execute(
            "select sum(sales_tax_cents) filter (where channel in ('market', 'commission')),"
            " sum(sales_tax_cents) filter (where channel = 'online')"
            " from records.sales where year(on_date) = 2025"
        ).fetchall()
    assert [row[:2] for row in year["Purchases"]] == [row[:2] for row in bought]
    assert sum(row[2] for row in year["Purchases"]) == sum(row[2] for row in bought)
    assert [(sum(row[1] for row in year["Tax"]), sum(row[2] for row in year["Tax"]))] == taxed


def test_straight_line_depreciation_of_a_machine(books: Books) -> None:
    """Franklin, Graybeal, Cooper, "Principles of Accounting, Volume 1", OpenStax, 11.3 (a press, CC BY-NC-SA 4.0).

    54,000 with 1,500 of shipping and 2,500 of setup; 10,000 of salvage after five years: 9,600 a year, book value
    48,400 after the first and 38,800 after the second.
    """
    con = books(
        PRESS,
        purchases="date,receipt,item,category,machine,amount,freight\n2021-01-01,R-1,press,equipment,press,54000,1500\n"
        "2021-01-01,R-2,setting up,equipment,press,2500,\n",
        hours="date,operation,hours\n2026-06-30,office,1\n",
    )
    assets = {number: sheets(con, number)["Assets"][0][2:] for number in range(2021, 2027)}
    # cost, salvage, months, at the start, bought, depreciation, at the end
    assert assets[2021] == (5_800_000, 1_000_000, 60, 0, 5_800_000, 960_000, 4_840_000)
    assert assets[2022] == (5_800_000, 1_000_000, 60, 4_840_000, 0, 960_000, 3_880_000)
    assert sum(row[5] for row in assets.values()) == 4_800_000
    assert assets[2026][5:] == (0, 1_000_000)


def test_a_machine_bought_in_the_fourth_month_wears_nine_months_that_year(books: Books) -> None:
    """The same press, bought at the start of month 4: 7,200 in the first year and 2,400 in the sixth."""
    con = books(
        PRESS,
        purchases="date,item,category,machine,amount\n2021-04-01,press,equipment,press,58000\n",
        hours="date,operation,hours\n2026-06-30,office,1\n",
    )
    assert [sheets(con, number)["Assets"][0][7] for number in (2021, 2026)] == [720_000, 240_000]


def test_a_machine_that_went_back_was_not_bought_and_did_not_wear(books: Books) -> None:
    con = books(
        'name = "Bench"\nstart = 2025-11-01\n',
        purchases="date,item,category,machine,quantity,amount\n2025-11-03,sander,equipment,sander,1,500\n"
        "2025-11-20,sander,equipment,sander,-1,-500\n2025-11-05,router,equipment,router,1,600\n",
    )
    # at the start, bought, depreciation, at the end
    assert {row[0]: row[5:] for row in sheets(con, 2025)["Assets"]} == {
        "router": (0, 60_000, 0, 60_000),
        "sander": (0, 0, 0, 0),
    }


def test_a_receipt_that_is_written_up_after_new_year_is_on_the_sheet_of_its_own_day(books: Books) -> None:
    con = books(
        'name = "Bench"\nstart = 2025-11-01\n',
        purchases="date,item,category,quantity,unit,amount\n2026-01-03,oil,finish,1,l,50\n",
        pieces="piece,product,started,finished\nT-1,tray,2025-12-02,2025-12-31\n",
        usage="date,item,quantity,unit,pieces\n2025-12-30,oil,500,ml,T-1\n",
    )
    assert [sheets(con, year)["Purchases"] for year in (2025, 2026)] == [[], [("finish", 1, 5_000, 0)]]


def test_the_first_year_opens_with_the_pieces_that_were_there(books: Books) -> None:
    con = books(
        'name = "Bench"\nstart = 2025-11-01\n',
        pieces="piece,product,started,finished,opening_cost\nT-1,tray,2025-10-02,2025-10-05,40\n"
        "T-2,tray,2025-10-02,2025-11-05,30\n",
        sales="date,channel,piece,price\n2025-12-01,market,T-1,100\n",
    )
    year = sheets(con, 2025)
    assert [row[:6] for row in year["Stock of pieces"]] == [
        ("opening", "T-1", "tray", "finished", 1, 4_000),
        ("opening", "T-2", "tray", "in progress", 1, 3_000),
        ("closing", "T-2", "tray", "finished", 1, 3_000),
    ]
    assert amounts(year["Cost of goods sold"])["Opening stock"] == 7_000


def test_what_was_counted_in_two_places_on_a_day_is_one_count(books: Books) -> None:
    con = books(
        'name = "Bench"\nstart = 2025-11-01\n',
        purchases="date,item,category,quantity,unit,amount\n2025-11-03,oil,finish,1,l,50\n",
        counts="date,item,category,quantity,unit\n2025-12-20,oil,finish,300,ml\n2025-12-20,oil,finish,200,ml\n",
    )
    (oil,) = sheets(con, 2025)["Stock of materials"]
    # what the book says, then what was counted
    assert (oil[7], oil[8], oil[9]) == ("500000", "ul", "500000 ul")


def test_the_workbook_says_that_it_is_no_tax_advice_and_how_figures_were_made(demo: Path, tmp_path: Path) -> None:
    with open_newest(demo) as con:
        path = write(con, tmp_path, 2025)
        made = build(con, 2025)
    book = fastexcel.read_excel(path)
    assert book.sheet_names == [sheet.name for sheet in made]
    cover = book.load_sheet("Read me", header_row=None).to_polars()[:, 0].drop_nulls().to_list()
    assert NO_ADVICE in cover and "no tax advice" in NO_ADVICE
    for sheet in made[1:]:
        shown = book.load_sheet(sheet.name, header_row=None).to_polars()
        assert shown[1, 0] == sheet.says
        assert shown.height == 4 + len(sheet.rows) + sheet.total
    goods = book.load_sheet("Cost of goods sold", header_row=None).to_polars()
    assert float(goods[-1, 1]) == pytest.approx(made[1].rows[-1][1] / 100)
    assert all(goods[:, 2][4:])


def test_words_never_become_formulas(books: Books, tmp_path: Path) -> None:
    con = books(
        'name = "=cmd"\nstart = 2026-01-01\n',
        purchases='date,item,category,quantity,unit,amount\n2026-01-02,"=1+1",hardware,5,each,9\n',
    )
    book = fastexcel.read_excel(write(con, tmp_path, 2026))
    assert book.load_sheet("Stock of materials", header_row=None).to_polars()[:, 0][4] == "=1+1"


def test_a_year_without_a_record_is_told(demo: Path, tmp_path: Path) -> None:
    with open_newest(demo) as con, pytest.raises(UserError, match="2019 is not on record"):
        write(con, tmp_path, 2019)


def test_a_year_that_is_not_over_says_so(demo: Path) -> None:
    with open_newest(demo) as con:
        cover = [row[0] for row in build(con, 2026)[0].rows]
        whole = [row[0] for row in build(con, 2025)[0].rows]
    assert any("not over" in text for text in cover) and not any("not over" in text for text in whole)


def test_the_command_writes_the_workbook(books: Books, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    books('name = "Shop"\nstart = 2026-01-01\n', hours="date,operation,hours\n2026-06-30,office,1\n").close()
    assert main(["report", str(tmp_path / "books"), "--year", "2026"]) == 0
    assert NO_ADVICE in capsys.readouterr().out
    assert (tmp_path / "books" / "reports" / "year-2026.xlsx").is_file()
    assert main(["report", str(tmp_path / "books"), "--year", "2020"]) == 2
    assert "not on record" in capsys.readouterr().err
